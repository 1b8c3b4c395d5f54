"""The invoice: what was done, what the customer pays, what others pay, what was paid, what is due."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from orders.papers.electronic import Electronic, enclosure, invoice_xml
from orders.papers.legal import LegalPaper, draw_legal
from orders.papers.lines import LabourLine, PartLine, TaxLine, job_tables, tax_rows
from shopdocs.documents.press import blocks
from shopdocs.documents.press import page as types
from shopdocs.documents.press.archive import Enclosure
from shopdocs.documents.press.facts import Party, Unit
from shopdocs.documents.press.flow import Flow
from shopdocs.documents.press.render import Drawn, render
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.tables import Column, Row, Table
from shopdocs.documents.press.values import Figures


@dataclass(frozen=True, kw_only=True)
class InvoiceJob:
    """One job as it was done. `payer` is who pays; amounts of others are shown, and not asked of the customer."""

    number: int
    title: str
    correction: str
    labour: tuple[LabourLine, ...]
    parts: tuple[PartLine, ...]
    payer: str
    basis: str
    subtotal: Decimal
    customer_pays: Decimal


@dataclass(frozen=True, kw_only=True)
class OtherPayer:
    """What somebody else pays, and why."""

    payer: str
    why: str
    amount: Decimal


@dataclass(frozen=True, kw_only=True)
class Payment:
    """Money received: day, means in words, amount. Below zero: a deposit that was given back."""

    on: date
    how: str
    amount: Decimal


@dataclass(frozen=True, kw_only=True)
class InvoiceSheet(Sheet):
    """Everything an invoice prints. Sums are frozen before they come here: nothing is added up on paper.

    `due` below zero: more was paid ahead than is asked, and the customer gets it back. `electronic`: the same invoice for
    programs, which is enclosed as XML; None where the shop does without.
    """

    customer: Party
    unit: Unit
    repair_order: str
    finished_on: date | None
    jobs: tuple[InvoiceJob, ...]
    others: tuple[OtherPayer, ...]
    net: Decimal
    taxes: tuple[TaxLine, ...]
    total: Decimal
    payments: tuple[Payment, ...]
    due: Decimal
    due_on: date | None
    pay_how: str
    upkeep: tuple[str, ...]
    terms: tuple[str, ...]
    cautions: tuple[str, ...]
    electronic: Electronic | None = None
    legal: tuple[LegalPaper, ...] = ()


def draw(sheet: InvoiceSheet, pictures: Mapping[str, bytes]) -> Drawn:
    """The invoice as PDF. It carries no photos. Raises PressError for a sheet that cannot be printed."""
    flow, figures = blocks.start(sheet)
    blocks.opening(
        flow,
        [("Invoice to", sheet.customer)],
        [
            ("Repair order", sheet.repair_order),
            ("Finished", figures.day(sheet.finished_on) if sheet.finished_on else ""),
        ],
        [_due(flow, figures, sheet)],
    )
    blocks.unit(flow, figures, sheet.unit)
    for job in sheet.jobs:
        _job(flow, figures, job)
    _totals(flow, figures, sheet)
    draw_legal(flow, sheet.legal)
    if sheet.upkeep:
        flow.section(flow.say("Until next season"))
        for line in sheet.upkeep:
            flow.paragraph(line, after=3)
    for at, term in enumerate(sheet.terms):
        if not at:
            flow.section(flow.say("Conditions"))
        flow.paragraph(term, types.NOTE, after=4)
    blocks.cautions(flow, sheet.cautions)
    return render(sheet, flow, pictures, _enclosed(sheet))


def _enclosed(sheet: InvoiceSheet) -> tuple[Enclosure, ...]:
    if sheet.electronic is None:
        return ()
    xml = invoice_xml(
        sheet.electronic,
        number=sheet.number,
        issued_on=sheet.issued_on,
        finished_on=sheet.finished_on,
        due_on=sheet.due_on,
        seller=sheet.shop.name,
        buyer=sheet.customer.name,
    )
    return (enclosure(xml),)


def _until(flow: Flow, figures: Figures, sheet: InvoiceSheet) -> str:
    return f" {flow.say('by')} {figures.day(sheet.due_on)}" if sheet.due_on and sheet.due > 0 else ""


def _due(flow: Flow, figures: Figures, sheet: InvoiceSheet) -> tuple[str, str]:
    if sheet.due < 0:
        return "You get back", figures.money(-sheet.due)
    return "Due", f"{figures.money(sheet.due)}{_until(flow, figures, sheet)}"


def _job(flow: Flow, figures: Figures, job: InvoiceJob) -> None:
    say = flow.say
    flow.section(f"{say('Job')} {job.number}", f"{say('paid by')} {job.payer}", keep=110)
    flow.paragraph(job.title, types.LEAD, after=2)
    if job.correction:
        flow.paragraph(job.correction, after=4)
    if job.basis:
        flow.paragraph(f"{job.payer}: {job.basis}", types.NOTE, after=4)
    job_tables(flow, figures, job.labour, job.parts, tail=40)
    rows = [(f"{say('Job')} {job.number}, {say('before tax')}", figures.money(job.subtotal), False)]
    if job.customer_pays != job.subtotal:
        rows.append((say("of which you pay"), figures.money(job.customer_pays), False))
    blocks.sums(flow, rows, after=2)


def _totals(flow: Flow, figures: Figures, sheet: InvoiceSheet) -> None:
    say = flow.say
    if sheet.others:
        flow.section(say("Paid by others"), say("not asked of you"), keep=60)
        Table(flow, (Column("Who pays", 0), Column("Amount", 74, "right"))).draw(
            [Row((one.payer, figures.bare(one.amount)), one.why) for one in sheet.others]
        )
    flow.section(say("You pay"), keep=100)
    net = (say("Before tax"), figures.money(sheet.net), False)
    total = (say("Total"), figures.money(sheet.total), True)
    paid = [
        (
            f"{say('Paid') if one.amount > 0 else say('Paid back')} {figures.day(one.on)}, {one.how}",
            figures.money(-one.amount),
            False,
        )
        for one in sheet.payments
    ]
    due = (f"{say('Due')}{_until(flow, figures, sheet)}", figures.money(sheet.due), True)
    if sheet.due < 0:
        due = (say("You get back"), figures.money(-sheet.due), True)
    blocks.sums(flow, [net, *tax_rows(flow, figures, sheet.taxes), total, *paid, due], after=4)
    if sheet.pay_how and sheet.due > 0:
        flow.paragraph(sheet.pay_how)
