"""The condition report of a used machine: what was looked at, what was found, what it would cost to put right."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from orders.papers.repair_order import CheckLine, FindingLine, draw_checks, draw_finding
from shopdocs.documents.press import blocks
from shopdocs.documents.press.facts import Assembly, Party, Photo, Unit
from shopdocs.documents.press.pictures import grid
from shopdocs.documents.press.render import Drawn, render
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.tables import Column, Row, Table

LIMITS = (
    "This report tells what could be seen and measured on that day, without taking apart more than is named here. It is no promise "
    "about what cannot be seen, and no warranty."
)


@dataclass(frozen=True, kw_only=True)
class Remedy:
    """What one finding needs. `must`: the machine is not safe to run without it. `amount` None: not known yet."""

    mark: str
    what: str
    must: bool
    amount: Decimal | None


@dataclass(frozen=True, kw_only=True)
class ConditionReportSheet(Sheet):
    """Everything a condition report prints. Costs are before tax; `cost` None: some of them are not known."""

    customer: Party
    unit: Unit
    assemblies: tuple[Assembly, ...]
    safe_to_run: bool
    summary: str
    checks: tuple[CheckLine, ...]
    findings: tuple[FindingLine, ...]
    remedies: tuple[Remedy, ...]
    must_cost: Decimal | None
    cost: Decimal | None
    photos: tuple[Photo, ...]
    looked_at_by: str
    cautions: tuple[str, ...]


def draw(sheet: ConditionReportSheet, pictures: Mapping[str, bytes]) -> Drawn:
    """The report as PDF. Raises PressError for a photo without picture or a sheet that cannot be printed."""
    flow, figures = blocks.start(sheet)
    say = flow.say
    if not sheet.safe_to_run:
        blocks.banner(flow, say("NOT SAFE TO RUN"), [say("Do not start it before what is marked 'must' is put right.")])
    blocks.opening(
        flow,
        [("For", sheet.customer)],
        [("Looked at by", sheet.looked_at_by)],
        [("To put all right", figures.money(sheet.cost)), ("of which must be done", figures.money(sheet.must_cost))],
    )
    blocks.unit(flow, figures, sheet.unit, sheet.assemblies)
    if sheet.summary:
        flow.section(say("In short"))
        flow.paragraph(sheet.summary)
    draw_checks(flow, sheet.checks)
    for one in sheet.findings:
        draw_finding(flow, one)
    if sheet.remedies:
        flow.section(say("To put right"), say("before tax"), keep=90)
        columns = (Column("Finding", 44), Column("Work and parts", 0), Column("", 60), Column("Cost", 60, "right"))
        Table(flow, columns).draw(
            [
                Row((one.mark, one.what, say("must") if one.must else say("advised"), figures.bare(one.amount)))
                for one in sheet.remedies
            ],
            tail=40,
        )
        flow.y -= 4
        blocks.sums(flow, [(say("of which must be done"), figures.money(sheet.must_cost), False)], after=2)
        blocks.sums(flow, [(say("To put all right"), figures.money(sheet.cost), True)])
    if sheet.photos:
        flow.section(say("Photos"), keep=220)
        grid(flow, sheet.photos, pictures, wide=True, height=200, name=flow.say("Photos"))
    blocks.cautions(flow, sheet.cautions, last=False)
    blocks.signature(flow, say("Looked at"), [say(LIMITS)], sheet.looked_at_by)
    return render(sheet, flow, pictures)
