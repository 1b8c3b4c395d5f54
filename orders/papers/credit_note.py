"""The credit note: which lines of an invoice are taken back, why, and what the customer gets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from orders.papers.electronic import Credited, Electronic, enclosure, invoice_xml
from orders.papers.lines import TaxLine, tax_rows
from shopdocs.documents.press import blocks
from shopdocs.documents.press import page as types
from shopdocs.documents.press.archive import Enclosure
from shopdocs.documents.press.facts import Party, Unit
from shopdocs.documents.press.render import Drawn, render
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.tables import Column, Row, Table

KEPT = 70.0
"""Points of what the note changes that stand on one page, at the least."""


@dataclass(frozen=True, kw_only=True)
class CreditLine:
    """What is taken back of one line: its words, the quantity or hours as printed on the invoice, the amount (positive).

    `quantity` None: only a part of the line's amount. An amount below zero takes a credit of the invoice back.
    """

    code: str
    what: str
    quantity: Decimal | None
    amount: Decimal


@dataclass(frozen=True, kw_only=True)
class CreditNoteSheet(Sheet):
    """Everything a credit note prints. Amounts are positive: the paper's name says that they go to the customer.

    `settled` says in words how the customer gets it (paid back, or set against what is open). `electronic`: the same note
    for programs, which is enclosed as XML; None where the shop does without.
    """

    customer: Party
    unit: Unit
    invoice: str
    invoice_on: date
    reason: str
    lines: tuple[CreditLine, ...]
    net: Decimal
    taxes: tuple[TaxLine, ...]
    total: Decimal
    settled: str
    invoice_total: Decimal
    left: Decimal
    electronic: Electronic | None = None


def draw(sheet: CreditNoteSheet, pictures: Mapping[str, bytes]) -> Drawn:
    """The credit note as PDF, without photos. Raises PressError for a sheet that cannot be printed."""
    flow, figures = blocks.start(sheet)
    say = flow.say
    blocks.opening(
        flow,
        [("Credit to", sheet.customer)],
        [("For invoice", f"{sheet.invoice}, {figures.day(sheet.invoice_on)}")],
        [("You get back", figures.money(sheet.total))],
    )
    blocks.unit(flow, figures, sheet.unit)
    flow.section(say("Reason"))
    flow.paragraph(sheet.reason)
    flow.section(say("Taken back"), keep=90)
    columns = (
        Column("Code", 58),
        Column("Description", 0),
        Column("Quantity", 44, "decimal"),
        Column("Amount", 60, "right"),
    )
    net = (say("Before tax"), figures.money(sheet.net), False)
    sums = [net, *tax_rows(flow, figures, sheet.taxes), (say("You get back"), figures.money(sheet.total), True)]
    changes = [
        (f"{say('Invoice')} {sheet.invoice}", figures.money(sheet.invoice_total), False),
        (say("after this and earlier credits"), figures.money(sheet.left), False),
    ]
    below = 4 + blocks.sums_height(flow, sums)
    # What this changes would else stand alone on a last page: its lines go with the sums and with the end of the table.
    ending = 31 + max(KEPT, blocks.sums_height(flow, changes) + 8 + flow.cell(sheet.settled, types.BODY).height())
    Table(flow, columns).draw(
        [
            Row(
                (
                    one.code,
                    one.what,
                    "" if one.quantity is None else figures.number(one.quantity),
                    figures.bare(one.amount),
                )
            )
            for one in sheet.lines
        ],
        tail=below + (ending if below + ending < flow.capacity / 3 else 0),
    )
    flow.y -= 4
    blocks.sums(flow, sums, after=4)
    flow.section(say("What this changes"), keep=KEPT)
    blocks.sums(flow, changes, after=2)
    flow.paragraph(sheet.settled)
    return render(sheet, flow, pictures, _enclosed(sheet))


def _enclosed(sheet: CreditNoteSheet) -> tuple[Enclosure, ...]:
    if sheet.electronic is None:
        return ()
    xml = invoice_xml(
        sheet.electronic,
        number=sheet.number,
        issued_on=sheet.issued_on,
        finished_on=None,
        due_on=None,
        seller=sheet.shop.name,
        buyer=sheet.customer.name,
        credited=Credited(number=sheet.invoice, issued_on=sheet.invoice_on, settled=sheet.settled),
    )
    return (enclosure(xml, "credit note"),)
