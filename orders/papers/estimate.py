"""The estimate: what was found, what each job would cost, who would pay, and how to answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from orders.papers.lines import LabourLine, PartLine, TaxLine, job_tables, tax_rows
from shopdocs.documents.press import blocks
from shopdocs.documents.press import page as types
from shopdocs.documents.press.facts import Party, Unit
from shopdocs.documents.press.flow import Flow
from shopdocs.documents.press.render import Drawn, render
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.tables import Column, Row, Table
from shopdocs.documents.press.values import Figures

ADVICE = (
    "What a warranty covers is this shop's advice on the facts known today. The maker decides, and may decide otherwise; "
    "then nothing is done at your cost before you have agreed to it."
)


@dataclass(frozen=True, kw_only=True)
class EstimateJob:
    """One job: what was found, the work, and who pays on what basis."""

    number: int
    title: str
    found: str
    labour: tuple[LabourLine, ...]
    parts: tuple[PartLine, ...]
    payer: str
    basis: str
    subtotal: Decimal


@dataclass(frozen=True, kw_only=True)
class PayerTotal:
    """What one payer would pay: before tax, tax, and in all."""

    payer: str
    net: Decimal
    tax: Decimal
    total: Decimal


@dataclass(frozen=True, kw_only=True)
class EstimateSheet(Sheet):
    """Everything an estimate prints. `valid_until` None: no end is promised. `terms`: the shop's own conditions."""

    customer: Party
    unit: Unit
    repair_order: str
    valid_until: date | None
    request: str
    jobs: tuple[EstimateJob, ...]
    taxes: tuple[TaxLine, ...]
    payers: tuple[PayerTotal, ...]
    customer_total: Decimal
    answer_how: str
    answer_link: str
    terms: tuple[str, ...]
    cautions: tuple[str, ...]


def draw(sheet: EstimateSheet, pictures: Mapping[str, bytes]) -> Drawn:
    """The estimate as PDF. It carries no photos; `pictures` may be empty. Raises PressError for a sheet that cannot be."""
    flow, figures = blocks.start(sheet)
    blocks.opening(
        flow,
        [("For", sheet.customer)],
        [("Repair order", sheet.repair_order), ("Customer pays", figures.money(sheet.customer_total))],
        [("Valid until", figures.day(sheet.valid_until) if sheet.valid_until else "")],
    )
    blocks.unit(flow, figures, sheet.unit)
    if sheet.request:
        flow.section(flow.say("Asked for"))
        flow.paragraph(sheet.request, types.QUOTE)
    for job in sheet.jobs:
        _job(flow, figures, job)
    _totals(flow, figures, sheet)
    flow.section(flow.say("Your answer"), keep=70)
    flow.paragraph(sheet.answer_how)
    if sheet.answer_link:
        flow.paragraph(sheet.answer_link, types.STRONG)
    for term in sheet.terms:
        flow.paragraph(term, types.NOTE, after=4)
    flow.paragraph(flow.say(ADVICE), types.NOTE)
    blocks.cautions(flow, sheet.cautions)
    return render(sheet, flow, pictures)


def _job(flow: Flow, figures: Figures, job: EstimateJob) -> None:
    say = flow.say
    flow.section(f"{say('Job')} {job.number}", f"{say('paid by')} {job.payer}", keep=110)
    flow.paragraph(job.title, types.LEAD, after=2)
    if job.found:
        flow.paragraph(job.found, after=4)
    if job.basis:
        flow.paragraph(f"{job.payer}: {job.basis}", types.NOTE, after=4)
    job_tables(flow, figures, job.labour, job.parts, tail=22)
    blocks.sums(
        flow, [(f"{say('Job')} {job.number}, {say('before tax')}", figures.money(job.subtotal), False)], after=2
    )


def _totals(flow: Flow, figures: Figures, sheet: EstimateSheet) -> None:
    say = flow.say
    flow.section(say("Totals"), keep=90)
    columns = (
        Column("Who pays", 0),
        Column("Before tax", 74, "right"),
        Column("Tax", 66, "right"),
        Column("Total", 74, "right"),
    )
    Table(flow, columns).draw(
        [
            Row((one.payer, figures.bare(one.net), figures.bare(one.tax), figures.bare(one.total)))
            for one in sheet.payers
        ]
    )
    flow.y -= 4
    blocks.sums(flow, tax_rows(flow, figures, sheet.taxes), after=2)
    blocks.sums(flow, [(say("Customer pays"), figures.money(sheet.customer_total), True)])
