"""Pieces of an invoiced part that come back: their share of the line and of all that hung on it, as lines to take back."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from orders.models import Invoice
from orders.rules.credits import share_of_pieces
from orders.rules.pricing import Kind
from shopdocs.money import plain, round_money
from shopdocs.rest.refusals import Refused

from .amounts import currency_of
from .came_back import charged_in
from .invoice_lines import Line, all_lines, kinds_of

Facts = dict[str, Any]


def pieces_back(
    invoice: Invoice, key: str, pieces: Decimal, credited: Mapping[str, Decimal], field: str
) -> dict[str, Decimal]:
    """What each line gives back when `pieces` of the part line `key` come back: it, its charges, its share of supplies.

    `credited`: what was taken back of each line before. Refused for a line that is no part, and for more than are left.
    """
    job = next((job for job in invoice.facts["jobs"] if any(part["id"] == key for part in job["parts"])), None)
    if job is None:
        raise Refused(field, "Only a part comes back by the piece.", "Name a part line, or give an amount.")
    lines = {line.key: (kind, line) for (kind, _), line in zip(kinds_of(job), all_lines(job), strict=True)}
    _, part = lines[key]
    charged, cores = charged_in(part.frozen)
    before = pieces_before(invoice, key)
    if pieces > charged - before:
        problem = f"{plain(pieces)} come back, of {plain(charged - before)} that are still charged."
        raise Refused(field, problem, "Count them again.")
    currency = currency_of(invoice.shop)
    found: dict[str, Decimal] = {}
    for name, (kind, line) in lines.items():
        whole = cores if kind == Kind.CORE else charged
        if name == key or str(line.frozen.get("of", "")).startswith(f"{key}:"):
            found[name] = share_of_pieces(line.amount, min(before, whole), min(before + pieces, whole), whole, currency)
    for name, (kind, line) in lines.items():
        if kind == Kind.SUPPLIES and line.frozen.get("on"):
            gone = {one: credited.get(one, Decimal(0)) + found.get(one, Decimal(0)) for one in lines}
            found[name] = _supplies(line, lines, gone, currency) - credited.get(name, Decimal(0))
    return {name: amount for name, amount in found.items() if amount > 0}


def pieces_before(invoice: Invoice, key: str) -> Decimal:
    """How many pieces of a line came back with earlier credit notes."""
    return sum(
        (
            Decimal(line["pieces"])
            for note in invoice.credit_notes.all()
            for line in note.facts["lines"]
            if line["line"] == key and line.get("pieces")
        ),
        Decimal(0),
    )


def _supplies(
    supplies: Line, lines: Mapping[str, tuple[str, Line]], gone: Mapping[str, Decimal], currency: Any
) -> Decimal:
    """The share of the supplies that goes with what is gone of the lines that they were a percentage of."""
    base = sum((line.amount for kind, line in lines.values() if kind in supplies.frozen["on"]), Decimal(0))
    lost = sum((gone[name] for name, (kind, _) in lines.items() if kind in supplies.frozen["on"]), Decimal(0))
    return round_money(supplies.amount * lost / base, currency) if base else Decimal(0)
