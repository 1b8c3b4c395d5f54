"""Writing off what the shop no longer expects of an invoice: an act of a person, with the reason."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import Invoice, Payment, WriteOff
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event

from . import amounts
from .balances import standing, told
from .card_numbers import refuse_card_numbers
from .records import given_in_address, taken


@transaction.atomic
def write_off(
    *, shop: Shop, by: Staff, invoice_id: UUID, reason: str, amount: Any = None, again: bool = False
) -> WriteOff:
    """Writes off what is open today, or `amount` of it. Conflict when nothing is open, it is less, or it was just done.

    The invoice stays as it is; who wrote off what, when and why is a record of its own.
    """
    invoice = given_in_address(Invoice, shop=shop, pk=invoice_id, lock=True)
    reason = reason.strip()
    if not reason:
        raise Refused("reason", "The reason is missing.", "Say in a line why this money is no longer expected.")
    refuse_card_numbers(reason=reason)
    left = standing(invoice).open
    money = left
    if amount is not None:
        money = amounts.figure(amount, "amount", decimals=shop.currency_decimals, above=Decimal(0))
        _refuse_twice(invoice, money, again)
    if left <= 0:
        raise Conflict("amount", f"Nothing is open on {invoice.number}.", "There is nothing to write off.")
    if money > left:
        problem = f"{invoice.number} has {told(shop, left)} open, less than {told(shop, money)}."
        raise Conflict("amount", problem, f"Write off {told(shop, left)} at most.")
    row: WriteOff = WriteOff.objects.create(
        shop=shop, invoice=invoice, amount=money, written_on=shop.today(), reason=reason[:400], by=by.user
    )
    words = f"{told(shop, money)}: {row.reason}"
    record_event(shop=shop, subject=invoice.subject, verb="written off", words=words, by=by)
    return row


def take_back_for(payment: Payment, beyond: Decimal, by: Staff) -> None:
    """Takes back as much of the invoice's write-offs as came `beyond` what was open: records of their own, with one event.

    The caller has locked the invoice and seen that so much is written off. What was written off before the money came is
    taken back on the payment's day, what was written off later on the day of that, so that no day has less than nothing open.
    """
    shop, invoice = payment.shop, payment.invoice
    assert invoice is not None
    reason = f"Money came after all: {told(shop, payment.amount)} on {payment.received_on}"
    for day, amount in _parts_of(invoice, payment.received_on, beyond).items():
        WriteOff.objects.create(
            shop=shop, invoice=invoice, amount=-amount, written_on=day, reason=reason, by=by.user
        )  # fmt: skip
    words = f"{told(shop, beyond)}: {reason}"
    record_event(shop=shop, subject=invoice.subject, verb="write-off taken back", words=words, by=by)


def _parts_of(invoice: Invoice, came: dt.date, beyond: Decimal) -> dict[dt.date, Decimal]:
    """`beyond` out of what is left of the write-offs, the oldest first, by the day from which it is taken back."""
    rows = list(invoice.write_offs.order_by("written_on", "created_at", "id"))
    before = -sum((row.amount for row in rows if row.amount < 0), Decimal(0))
    found: dict[dt.date, Decimal] = {}
    for row in rows:
        if row.amount > 0:
            gone = min(before, row.amount)
            part = min(beyond, row.amount - gone)
            before, beyond = before - gone, beyond - part
            if part:
                day = max(row.written_on, came)
                found[day] = found.get(day, Decimal(0)) + part
    return found


def _refuse_twice(invoice: Invoice, money: Decimal, again: bool) -> None:
    rows = WriteOff.objects.for_shop(invoice.shop).filter(
        invoice=invoice, amount=money, written_on=invoice.shop.today()
    )
    twin = None if again else rows.first()
    if twin is not None:
        raise taken(
            "again",
            f"{told(invoice.shop, money)} of {invoice.number} was written off today already.",
            "If as much is to be written off once more, send again: true.",
            recorded=str(twin.pk),
        )
