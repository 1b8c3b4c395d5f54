"""Money at the invented shop: deposits, payments, refunds, credit notes, write-offs and statements, each a call to the API."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from .floor import V1, Floor, Visit


def take_deposit(visit: Visit, amount: str, means: str) -> None:
    """Money before the work is billed."""
    visit.floor.writer.post(f"{V1}/orders/{visit.order['id']}/deposits/", amount=amount, means=means)


def pay(floor: Floor, invoice: dict[str, Any], amount: str, means: str, reference: str = "") -> None:
    """A part of an invoice is paid."""
    path = f"{V1}/invoices/{invoice['id']}/payments/"
    floor.writer.post(path, amount=amount, means=means, reference=reference)


def left(floor: Floor, invoice: dict[str, Any]) -> Decimal:
    """What is still open of it."""
    return Decimal(floor.office.get(f"{V1}/invoices/{invoice['id']}/")["balance"])


def take_back(visit: Visit, invoice: dict[str, Any], amount: str, reason: str, means: str) -> None:
    """A part of the first line is credited, the credit note goes out, and what was paid of it is given back."""
    office, path = visit.floor.office, f"{V1}/invoices/{invoice['id']}"
    line = office.get(f"{path}/lines/")[0]["line"]
    note = office.post(f"{path}/credit-notes/", reason=reason, lines=[{"line": line, "amount": amount}])
    sent = office.post(f"{V1}/credit-notes/{note['id']}/send/", {})
    visit.letter_sent(sent["letter"])
    over = -left(visit.floor, invoice)
    if over > 0:
        office.post(f"{path}/refunds/", amount=str(over), means=means, why=f"Credit note {note['number']}")


def write_off(floor: Floor, invoice: dict[str, Any], reason: str) -> None:
    """The office gives up what is still open."""
    floor.office.post(f"{V1}/invoices/{invoice['id']}/write-offs/", reason=reason)


def turn_over(floor: Floor, claim: dict[str, Any], reason: str) -> None:
    """What a distributor did not pay becomes the shop's goodwill, by a spoken act."""
    path = f"{V1}/claims/{claim['id']}"
    version = floor.office.get(f"{path}/")["version"]
    floor.office.post(f"{path}/turn-over/", version=version, to="goodwill", reason=reason)


def send_statement(visit: Visit, kind: str, payer: str) -> None:
    """The office sends a customer or distributor the account of the last thirty days."""
    since = visit.floor.today() - dt.timedelta(days=30)
    sent = visit.floor.office.post(f"{V1}/{kind}s/{payer}/statement/send/", since=str(since))
    visit.letter_sent(sent["id"])
