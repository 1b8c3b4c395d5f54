"""What is still owed: ageing of open items, and whether asked = paid + credited + open on a given day. Pure.

An item is one document to one payer; entries on it are payments, refunds, credits and write-offs, each with its day.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from shopdocs.money import Step, exact
from shopdocs.problems import BadInput

BOUNDS = (0, 30, 60, 90)


class Entry(StrEnum):
    """What can happen to an open item. A refund gives paid money back; the others lower what is owed."""

    PAYMENT = "payment"
    REFUND = "refund"
    CREDIT = "credit"
    WRITE_OFF = "write_off"


@dataclass(frozen=True, slots=True)
class Posted:
    """One entry, above zero, on its day."""

    what: Entry
    amount: Decimal
    on: date

    def __post_init__(self) -> None:
        if exact(self.amount, "amount") <= 0:
            raise BadInput("amount", f"{self.amount} is no entry.", "Give an amount above zero.")


@dataclass(frozen=True, slots=True)
class Item:
    """What was asked of one payer by one document, due on a day, and what was posted on it since."""

    number: str
    payer: str
    asked: Decimal
    issued: date
    due: date
    posted: tuple[Posted, ...] = ()

    def open_on(self, day: date) -> Decimal:
        """What is still owed at the end of `day`; negative when too much was paid, zero before the item is issued."""
        if day < self.issued:
            return self.asked * 0
        signs = {Entry.REFUND: 1}
        return self.asked + sum(
            (entry.amount * signs.get(entry.what, -1) for entry in self.posted if entry.on <= day), Decimal(0)
        )


@dataclass(frozen=True, slots=True)
class Ageing:
    """One payer's open items on a day: not yet due, then overdue by up to 30, 60, 90 days, and longer."""

    payer: str
    not_due: Decimal
    to_30: Decimal
    to_60: Decimal
    to_90: Decimal
    over_90: Decimal

    @property
    def total(self) -> Decimal:
        """All that is open."""
        return self.not_due + self.to_30 + self.to_60 + self.to_90 + self.over_90


def ageing(items: Iterable[Item], day: date) -> tuple[Ageing, ...]:
    """Open amounts by payer, in order of payer; an item on its due day is not overdue. Settled payers are left out."""
    found: dict[str, list[Decimal]] = {}
    for item in items:
        open_amount = item.open_on(day)
        if open_amount:
            late = (day - item.due).days
            column = sum(late > bound for bound in BOUNDS)
            found.setdefault(item.payer, [Decimal(0)] * 5)[column] += open_amount
    return tuple(Ageing(payer, *columns) for payer, columns in sorted(found.items()))


@dataclass(frozen=True, slots=True)
class Reconciled:
    """Everything asked of a payer up to a day, and where it went: asked = paid + credited + written off + open."""

    payer: str
    asked: Decimal
    paid: Decimal
    credited: Decimal
    written_off: Decimal
    open: Decimal

    @property
    def steps(self) -> tuple[Step, ...]:
        """The equation, line by line."""
        return (
            Step("Asked", self.asked),
            Step("Less paid, refunds taken out", -self.paid),
            Step("Less credited", -self.credited),
            Step("Less written off", -self.written_off),
            Step("Open", self.open),
        )


def reconcile(items: Sequence[Item], payer: str, day: date) -> Reconciled:
    """One payer's account at the end of `day`, from the entries themselves; `open` is added up item by item."""
    mine = [item for item in items if item.payer == payer and item.issued <= day]
    sums = dict.fromkeys(Entry, Decimal(0))
    for entry in (entry for item in mine for entry in item.posted if entry.on <= day):
        sums[entry.what] += entry.amount
    return Reconciled(
        payer,
        sum((item.asked for item in mine), Decimal(0)),
        sums[Entry.PAYMENT] - sums[Entry.REFUND],
        sums[Entry.CREDIT],
        sums[Entry.WRITE_OFF],
        sum((item.open_on(day) for item in mine), Decimal(0)),
    )
