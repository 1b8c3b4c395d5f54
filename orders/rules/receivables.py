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
HELD = len(BOUNDS) + 1  # the column after those of the bounds
COLUMNS = ("not_due", "to_30", "to_60", "to_90", "over_90", "held")


class Entry(StrEnum):
    """What can happen to an open item. A refund gives paid money back; the others lower what is owed."""

    PAYMENT = "payment"
    REFUND = "refund"
    CREDIT = "credit"
    WRITE_OFF = "write_off"
    WRITTEN_BACK = "written_back"


@dataclass(frozen=True, slots=True)
class Posted:
    """One entry, above zero, on its day. A statement prints `title` (what it is) and `words` (how, or why)."""

    what: Entry
    amount: Decimal
    on: date
    title: str = ""
    words: str = ""

    def __post_init__(self) -> None:
        if exact(self.amount, "amount") <= 0:
            raise BadInput("amount", f"{self.amount} is no entry.", "Give an amount above zero.")

    @property
    def moved(self) -> Decimal:
        """What it changes of what is open: below zero but for what was given back or written back."""
        return self.amount if self.what in (Entry.REFUND, Entry.WRITTEN_BACK) else -self.amount


@dataclass(frozen=True, slots=True)
class Item:
    """What was asked of one payer by one document, due on a day, and what was posted on it since.

    A statement prints `title` (what the document is, with its number) and `words` (what it is for).
    """

    number: str
    payer: str
    asked: Decimal
    issued: date
    due: date
    posted: tuple[Posted, ...] = ()
    title: str = ""
    words: str = ""

    def asked_on(self, day: date) -> Decimal:
        """What is asked by the end of `day`: nothing before the item is issued."""
        return self.asked if day >= self.issued else self.asked * 0

    def open_on(self, day: date) -> Decimal:
        """What is still owed at the end of `day`; negative when more was paid than is asked, as with a deposit."""
        return self.asked_on(day) + sum((entry.moved for entry in self.posted if entry.on <= day), Decimal(0))


def can_be_refunded(posted: Iterable[Posted], day: date) -> Decimal:
    """The most that can be given back on `day`, so that neither then nor later more was given back than had come."""
    moved: dict[date, Decimal] = {day: Decimal(0)}
    for entry in posted:
        sign = {Entry.PAYMENT: 1, Entry.REFUND: -1}.get(entry.what, 0)
        moved[entry.on] = moved.get(entry.on, Decimal(0)) + sign * entry.amount
    held, least = Decimal(0), []
    for on in sorted(moved):
        held += moved[on]
        least += [held] if on >= day else []
    return max(min(least), Decimal(0))


@dataclass(frozen=True, slots=True)
class Ageing:
    """One payer's open items on a day: not yet due, then overdue by up to 30, 60, 90 days, and longer.

    `held` is money of theirs that the shop holds (deposits, what was paid too much): zero or below. No column is
    lessened by it.
    """

    payer: str
    not_due: Decimal
    to_30: Decimal
    to_60: Decimal
    to_90: Decimal
    over_90: Decimal
    held: Decimal = Decimal(0)

    @property
    def overdue(self) -> Decimal:
        """All that should have come by now."""
        return self.to_30 + self.to_60 + self.to_90 + self.over_90

    @property
    def total(self) -> Decimal:
        """All that is open, less what is held."""
        return self.not_due + self.overdue + self.held


def column_of(item: Item, day: date) -> int:
    """In which of `COLUMNS` an open item stands on a day."""
    return sum((day - item.due).days > bound for bound in BOUNDS) if item.open_on(day) > 0 else HELD


def ageing(items: Iterable[Item], day: date) -> tuple[Ageing, ...]:
    """Open amounts by payer, in order of payer; an item on its due day is not overdue. Settled payers are left out."""
    found: dict[str, list[Decimal]] = {}
    for item in items:
        open_amount = item.open_on(day)
        if open_amount:
            found.setdefault(item.payer, [Decimal(0)] * (HELD + 1))[column_of(item, day)] += open_amount
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
    mine = [item for item in items if item.payer == payer]
    sums = dict.fromkeys(Entry, Decimal(0))
    for entry in (entry for item in mine for entry in item.posted if entry.on <= day):
        sums[entry.what] += entry.amount
    return Reconciled(
        payer,
        sum((item.asked_on(day) for item in mine), Decimal(0)),
        sums[Entry.PAYMENT] - sums[Entry.REFUND],
        sums[Entry.CREDIT],
        sums[Entry.WRITE_OFF] - sums[Entry.WRITTEN_BACK],
        sum((item.open_on(day) for item in mine), Decimal(0)),
    )


@dataclass(frozen=True, slots=True)
class Line:
    """One movement of a statement: what was asked or received on a day (the other None), and what is open after it."""

    on: date
    title: str
    words: str
    asked: Decimal | None
    received: Decimal | None
    balance: Decimal


@dataclass(frozen=True, slots=True)
class Account:
    """One payer's statement over a period: carried + asked - received = open at its end."""

    since: date
    until: date
    carried: Decimal
    lines: tuple[Line, ...]
    asked: Decimal
    received: Decimal
    open: Decimal
    overdue: Decimal
    items: tuple[Item, ...]

    @property
    def held(self) -> Decimal:
        """Money of theirs that the shop holds at the end, as in `Ageing`: zero or below."""
        return sum((min(item.open_on(self.until), Decimal(0)) for item in self.items), Decimal(0))

    @property
    def steps(self) -> tuple[Step, ...]:
        """How what is open came about."""
        return (
            Step("Carried over", self.carried),
            Step("Asked", self.asked),
            Step("Less received, credited and written off", -self.received),
            Step("Open", self.open),
        )


def account(items: Sequence[Item], since: date, until: date) -> Account:
    """The statement of one payer, from `since` to the end of `until`. What was given back is received below zero."""
    if until < since:
        raise BadInput("since", f"{since} lies after {until}.", "Give a first day that is not after the last one.")
    zero = sum((item.asked * 0 for item in items), Decimal(0))
    eve = [item.open_on(date.fromordinal(since.toordinal() - 1)) for item in items]
    balance = carried = sum(eve, zero)
    moves: list[tuple[date, int, str, str, Decimal | None, Decimal | None]] = []
    for item in items:
        if since <= item.issued <= until and item.asked:
            moves.append((item.issued, 0, item.title or item.number, item.words, item.asked, None))
        for entry in item.posted:
            if since <= entry.on <= until:
                said = " · ".join(part for part in (item.number, entry.words) if part)
                moves.append((entry.on, 1, entry.title or str(entry.what), said, None, -entry.moved))
    lines = []
    for on, _, title, said, asked, received in sorted(moves, key=lambda move: move[:2]):
        balance += (asked or zero) - (received or zero)
        lines.append(Line(on, title, said, asked, received, balance))
    still = [item for item in items if item.open_on(until)]
    return Account(
        since, until, carried, tuple(lines),
        sum((line.asked for line in lines if line.asked is not None), zero),
        sum((line.received for line in lines if line.received is not None), zero),
        sum((item.open_on(until) for item in items), zero),
        sum((item.open_on(until) for item in still if item.due < until and item.open_on(until) > 0), zero),
        tuple(sorted(still, key=lambda item: (item.due, item.number))),
    )  # fmt: skip
