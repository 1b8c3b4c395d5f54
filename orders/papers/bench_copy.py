"""The bench copy of a repair order: every point with what to look for, what must be safe before, and room to write."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from orders.papers.repair_order import DONE, OPEN, CheckLine, FindingLine, Hold
from shopdocs.documents.press import blocks
from shopdocs.documents.press import page as types
from shopdocs.documents.press.facts import Assembly, Unit
from shopdocs.documents.press.flow import Flow
from shopdocs.documents.press.render import Drawn, render
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.tables import Column, Row, Table
from shopdocs.documents.press.values import apart

LINE, SHORT = "_" * 22, 11
LEAST_LINES, LINE_STEP = 5, 24.0
"""Lines to write on at the end, at the least, and points from one to the next."""


@dataclass(frozen=True, kw_only=True)
class BenchPoint:
    """A point with the units in which something may be measured there."""

    check: CheckLine
    units: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class BenchJob:
    """What was agreed to be done; `agreed` False: not yet, so nothing of it may be begun."""

    number: int
    title: str
    agreed: bool
    work: tuple[str, ...]
    parts: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class BenchCopySheet(Sheet):
    """Everything a bench copy prints. It names no customer: the paper lies about in the workshop."""

    received_on: date
    promised_on: date | None
    unit: Unit
    assemblies: tuple[Assembly, ...]
    complaint: str
    accessories: tuple[str, ...]
    holds: tuple[Hold, ...]
    points: tuple[BenchPoint, ...]
    findings: tuple[FindingLine, ...]
    jobs: tuple[BenchJob, ...]
    cautions: tuple[str, ...]


def draw(sheet: BenchCopySheet, pictures: Mapping[str, bytes]) -> Drawn:
    """The bench copy as PDF, without photos. Raises PressError for a sheet that cannot be printed."""
    flow, figures = blocks.start(sheet)
    say = flow.say
    blocks.holds(flow, figures, [(one.reason, one.tagged_on, one.tagged_by) for one in sheet.holds if not one.released])
    blocks.opening(
        flow,
        [],
        [("Received", figures.day(sheet.received_on))],
        [("Promised", figures.day(sheet.promised_on) if sheet.promised_on else say("no day promised"))],
        [("Left with it", "; ".join(map(apart, sheet.accessories)) or say("nothing"))],
    )
    flow.section(say("Complaint"), say("in the customer's words"))
    flow.paragraph(sheet.complaint, types.QUOTE)
    blocks.unit(flow, figures, sheet.unit, sheet.assemblies)
    blocks.cautions(flow, sheet.cautions, last=False)
    _points(flow, sheet.points)
    for one in sheet.findings:
        flow.section(f"{say('Finding')} {one.mark}", one.component, keep=40)
        told = [("Condition", one.condition), ("Cause", one.cause), ("Measured", one.measurement)]
        blocks.facts(flow, told, after=0)
    for job in sheet.jobs:
        _job(flow, job)
    _room(flow)
    return render(sheet, flow, pictures)


def _points(flow: Flow, points: tuple[BenchPoint, ...]) -> None:
    """Each point with boxes for what was found, its precaution before its instruction."""
    say = flow.say
    boxes = f"{OPEN} {say('good')}   {OPEN} {say('finding')}   {OPEN} {say('no access')}"
    for stage in dict.fromkeys(one.check.stage for one in points):
        here = [one for one in points if one.check.stage == stage]
        flow.section(say("Inspection"), say(stage), keep=110)
        common = [word for word in here[0].check.precautions if all(word in other.check.precautions for other in here)]
        if common:
            flow.paragraph(f"{say('First, at every point')}: {' '.join(common)}", types.STRONG, after=5)
        rows = []
        for one in here:
            check = one.check
            more = " ".join(word for word in check.precautions if word not in common)
            look = f"{say('First')}: {more}\n{check.look}" if more else check.look
            result = f"{DONE} {check.result}" if check.result else boxes
            line = LINE[: SHORT if len(one.units) > 2 else None]
            measured = f"\n{line} {' / '.join(one.units)}" if one.units else f"\n{line}"
            rows.append(Row((check.name, result + ("" if check.result else measured)), f"\n{look}"))
        Table(flow, (Column("Point", 0), Column("Result", 150))).draw(rows)


def _job(flow: Flow, job: BenchJob) -> None:
    say = flow.say
    flow.section(
        f"{say('Job')} {job.number}", say("agreed") if job.agreed else say("not agreed: do not begin"), keep=50
    )
    flow.paragraph(job.title, types.LEAD, after=2)
    for line in (*job.work, *job.parts):
        flow.paragraph(f"{OPEN} {line}" if job.agreed else line, after=1)


def _room(flow: Flow) -> None:
    """Lines to write on, to the foot of the page: what is left of it is of no other use at the bench."""
    flow.section(flow.say("Notes"), keep=LEAST_LINES * LINE_STEP + 30)
    for _ in range(max(LEAST_LINES, int((flow.room - LINE_STEP / 2) // LINE_STEP))):
        flow.y -= LINE_STEP
        flow.fill(flow.page.main, flow.y, flow.page.main_width, 0.4, types.GREY)
