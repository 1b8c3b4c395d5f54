"""The statement: what one customer or distributor was asked, paid and got back over a time, and what is still open."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from shopdocs.documents.press import blocks
from shopdocs.documents.press.facts import Party
from shopdocs.documents.press.render import Drawn, render
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.tables import Column, Row, Table
from shopdocs.documents.press.values import Figures


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One movement. `asked` and `received`: one of them, the other None. `balance` is what is open after it."""

    on: date
    what: str
    note: str
    asked: Decimal | None
    received: Decimal | None
    balance: Decimal


@dataclass(frozen=True, kw_only=True)
class OpenItem:
    """An invoice or claim that is not settled: what is open of it, and since how many days it is due (0: not yet).

    `open` below zero: more was paid than is asked.
    """

    number: str
    due_on: date
    days_over: int
    open: Decimal


@dataclass(frozen=True, kw_only=True)
class StatementSheet(Sheet):
    """Everything a statement prints. Sums are made before they come here: nothing is added up on paper.

    `open` below zero is money of the customer's; `held`, zero or below, is what is theirs beside all that is owed.
    `not_known` tells in words what cannot be counted yet, or ''.
    """

    customer: Party
    since: date
    until: date
    carried: Decimal
    entries: tuple[Entry, ...]
    asked: Decimal
    received: Decimal
    items: tuple[OpenItem, ...]
    open: Decimal
    overdue: Decimal
    pay_how: str
    not_known: str = ""
    held: Decimal = Decimal(0)


def draw(sheet: StatementSheet, pictures: Mapping[str, bytes]) -> Drawn:
    """The statement as PDF, without photos. Raises PressError for a sheet that cannot be printed."""
    flow, figures = blocks.start(sheet)
    say = flow.say
    blocks.opening(
        flow,
        [("For", sheet.customer)],
        [("From", figures.day(sheet.since)), ("Until", figures.day(sheet.until))],
        _stand(figures, sheet),
    )
    flow.section(say("What happened"), keep=90)
    columns = (
        Column("Day", 62),
        Column("", 0),
        Column("Asked", 56, "right"),
        Column("Settled", 56, "right"),
        Column("Open", 60, "right"),
    )
    blank = ("", "")
    rows = [Row((figures.day(sheet.since), say("Carried over"), *blank, figures.bare(sheet.carried)), strong=True)]
    rows += [
        Row(
            (
                figures.day(one.on),
                one.what,
                "" if one.asked is None else figures.bare(one.asked),
                "" if one.received is None else figures.bare(one.received),
                figures.bare(one.balance),
            ),
            one.note,
        )
        for one in sheet.entries
    ]
    sums = (figures.bare(sheet.asked), figures.bare(sheet.received), figures.bare(sheet.open))
    rows.append(Row((figures.day(sheet.until), say("Sums"), *sums), strong=True))
    label, left = _left(figures, sheet)
    open_sum = [(say(label), left, True)]
    tall = blocks.sums_height(flow, open_sum)
    Table(flow, columns).draw(rows, tail=0 if sheet.items else tall)
    if sheet.items:
        flow.section(say("Still open"), keep=80)
        due = (
            Column("Number", 0),
            Column("Due on", 80),
            Column("Days overdue", 70, "right"),
            Column("Open", 60, "right"),
        )
        Table(flow, due).draw(
            [
                Row((one.number, figures.day(one.due_on), str(one.days_over or ""), figures.bare(one.open)))
                for one in sheet.items
            ],
            tail=tall,
        )
    blocks.sums(flow, open_sum, after=4)
    if sheet.not_known:
        flow.paragraph(sheet.not_known)
    if sheet.open > 0:
        flow.paragraph(sheet.pay_how)
    return render(sheet, flow, pictures)


def _stand(figures: Figures, sheet: StatementSheet) -> list[tuple[str, str]]:
    """What is open and how much of it overdue; what is held is told apart, for the overdue sum does not count it."""
    left = _left(figures, sheet)
    if not sheet.held:
        return [left, ("of which overdue", figures.money(sheet.overdue))]
    return [left, ("Overdue", figures.money(sheet.overdue)), ("Your credit with us", figures.money(-sheet.held))]


def _left(figures: Figures, sheet: StatementSheet) -> tuple[str, str]:
    if sheet.open < 0:
        return "You get back", figures.money(-sheet.open)
    return "Still open", figures.money(sheet.open)
