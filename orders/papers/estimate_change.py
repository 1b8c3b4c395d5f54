"""The change to an estimate: what the new version adds, drops and alters against the one it replaces."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from shopdocs.documents.press import blocks
from shopdocs.documents.press import page as types
from shopdocs.documents.press.facts import Party, Unit
from shopdocs.documents.press.flow import Flow
from shopdocs.documents.press.render import Drawn, render
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.tables import Column, Row, Table
from shopdocs.documents.press.values import Figures


@dataclass(frozen=True, kw_only=True)
class ChangedLine:
    """One line that is not as it was: before and now, each None where there is no such line."""

    code: str
    what: str
    before: Decimal | None
    now: Decimal | None


@dataclass(frozen=True, kw_only=True)
class ChangedJob:
    """A job that is new, dropped or altered. `state`: 'new', 'dropped' or 'changed'. Sums before tax."""

    number: int
    title: str
    state: str
    why: str
    payer_before: str
    payer_now: str
    lines: tuple[ChangedLine, ...]
    before: Decimal | None
    now: Decimal | None


@dataclass(frozen=True, kw_only=True)
class EstimateChangeSheet(Sheet):
    """Everything a change prints: `version` is the new one, `replaces` the old. Sums are what the customer pays, with tax."""

    customer: Party
    unit: Unit
    repair_order: str
    replaces: int
    replaced_on: date
    jobs: tuple[ChangedJob, ...]
    unchanged: tuple[str, ...]
    before: Decimal
    now: Decimal
    difference: Decimal
    answer_how: str
    cautions: tuple[str, ...]


def draw(sheet: EstimateChangeSheet, pictures: Mapping[str, bytes]) -> Drawn:
    """The change as PDF, without photos. Raises PressError for a sheet that cannot be printed."""
    flow, figures = blocks.start(sheet)
    say = flow.say
    blocks.opening(
        flow,
        [("For", sheet.customer)],
        [
            ("Repair order", sheet.repair_order),
            ("Replaces", f"{say('version')} {sheet.replaces}, {figures.day(sheet.replaced_on)}"),
        ],
        [("Customer pays", figures.money(sheet.now)), ("Difference", _signed(figures, sheet.difference))],
    )
    blocks.unit(flow, figures, sheet.unit)
    for job in sheet.jobs:
        _job(flow, figures, job)
    if sheet.unchanged:
        flow.section(say("Unchanged"))
        for title in sheet.unchanged:
            flow.paragraph(title, after=2)
    flow.section(say("Customer pays"), say("with tax"), keep=90)
    rows = [
        (f"{say('Before, version')} {sheet.replaces}", figures.money(sheet.before), False),
        (say("Difference"), _signed(figures, sheet.difference), False),
    ]
    blocks.sums(flow, rows, after=2)
    blocks.sums(flow, [(f"{say('Now, version')} {sheet.version}", figures.money(sheet.now), True)])
    flow.section(say("Your answer"), keep=60)
    flow.paragraph(sheet.answer_how)
    blocks.cautions(flow, sheet.cautions)
    return render(sheet, flow, pictures)


def _signed(figures: Figures, amount: Decimal) -> str:
    """'+$4.00', '-$3.00', '$0.00': a difference says its direction."""
    return f"+{figures.money(amount)}" if amount > 0 else figures.money(amount)


def _job(flow: Flow, figures: Figures, job: ChangedJob) -> None:
    say = flow.say
    flow.section(f"{say('Job')} {job.number}", say(job.state), keep=90)
    flow.paragraph(job.title, types.LEAD, after=2)
    if job.why:
        flow.paragraph(job.why, after=4)
    if job.payer_before and job.payer_before != job.payer_now and job.payer_now:
        flow.paragraph(
            f"{say('paid by')} {job.payer_now}, {say('before by')} {job.payer_before}", types.STRONG, after=4
        )

    def amount(value: Decimal | None) -> str:
        return say("none") if value is None else figures.bare(value)

    columns = (Column("Code", 58), Column("Line", 0), Column("Before", 56, "right"), Column("Now", 56, "right"))
    rows = [Row((one.code, one.what, amount(one.before), amount(one.now))) for one in job.lines]
    rows.append(Row(("", say("before tax"), amount(job.before), amount(job.now)), strong=True))
    Table(flow, columns).draw(rows)
