"""The repair order: the shop's record of one visit of one machine, from the complaint to the last check."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from orders.papers.legal import LegalPaper, draw_legal
from shopdocs.documents.press import blocks
from shopdocs.documents.press import page as types
from shopdocs.documents.press.facts import Assembly, Party, Photo, Signed, Unit
from shopdocs.documents.press.flow import Flow
from shopdocs.documents.press.pictures import grid, signed
from shopdocs.documents.press.render import Drawn, render
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.tables import GUTTER, Column, Row, Table
from shopdocs.documents.press.values import Figures, apart

DONE, OPEN = "\u2611", "\u2610"
RESULT = 48.0
PHOTO_HEIGHT = 92.0


@dataclass(frozen=True, kw_only=True)
class Hold:
    """Why the unit must not run; who tagged it when; `released` is the signed note that ended the hold, or ''."""

    reason: str
    tagged_on: date
    tagged_by: str
    released: str


@dataclass(frozen=True, kw_only=True)
class CheckLine:
    """One inspection point. `stage` groups points ('Outside', 'Covers off'); an empty result is still open.

    `look` is the instruction, `precautions` what must be true before. `plain`: nothing was found, so that name and
    result say it all.
    """

    stage: str
    name: str
    look: str
    precautions: tuple[str, ...]
    result: str
    plain: bool
    note: str


@dataclass(frozen=True, kw_only=True)
class FindingLine:
    """What was seen at a component. `mark` names it ('F1'); `because_of` is the mark and words of its cause."""

    mark: str
    component: str
    condition: str
    cause: str
    measurement: str
    because_of: str
    note: str


@dataclass(frozen=True, kw_only=True)
class WorkLine:
    """A labour operation: guide time in tenths of an hour, minutes on the clock (None: not clocked), who did it."""

    code: str
    what: str
    tenths: int
    clocked_minutes: int | None
    technician: str


@dataclass(frozen=True, kw_only=True)
class FittedPart:
    """A part on the order. `state`: 'planned', 'fitted', 'returned' and the like."""

    number: str
    what: str
    condition: str
    quantity: Decimal
    state: str


@dataclass(frozen=True, kw_only=True)
class OrderJob:
    """One concern as complaint, cause, correction, with the work and parts it took.

    `safety`: the signed safety note; `safety_signed`: the signature below it, where it was drawn on a screen.
    """

    number: int
    complaint: str
    cause: str
    correction: str
    payer: str
    state: str
    work: tuple[WorkLine, ...]
    parts: tuple[FittedPart, ...]
    safety: str = ""
    safety_signed: Signed | None = None
    title: str = ""


@dataclass(frozen=True, kw_only=True)
class RepairOrderSheet(Sheet):
    """Everything a repair order prints. `signed`: the customer's drawn signature, on the signed copy only."""

    customer: Party
    received_on: date
    received_by: str
    promised_on: date | None
    unit: Unit
    assemblies: tuple[Assembly, ...]
    purchased_on: date | None
    purchase_proof: str
    complaint: str
    accessories: tuple[str, ...]
    holds: tuple[Hold, ...]
    checks: tuple[CheckLine, ...]
    findings: tuple[FindingLine, ...]
    jobs: tuple[OrderJob, ...]
    photos: tuple[Photo, ...]
    conditions: tuple[str, ...]
    cautions: tuple[str, ...]
    signed: Signed | None = None
    legal: tuple[LegalPaper, ...] = ()


def draw(sheet: RepairOrderSheet, pictures: Mapping[str, bytes]) -> Drawn:
    """The repair order as PDF. Raises PressError for a photo without picture or a sheet that cannot be printed."""
    flow, figures = blocks.start(sheet)
    say = flow.say
    blocks.holds(flow, figures, [(one.reason, one.tagged_on, one.tagged_by) for one in sheet.holds if not one.released])
    blocks.opening(
        flow,
        [("Customer", sheet.customer)],
        [
            ("Received", f"{figures.day(sheet.received_on)}, {sheet.received_by}"),
            ("Promised", figures.day(sheet.promised_on) if sheet.promised_on else say("no day promised")),
        ],
        [("Bought", f"{figures.day(sheet.purchased_on)} ({sheet.purchase_proof or say('no proof')})")],
    )
    flow.section(say("Complaint"), say("in the customer's words"))
    flow.paragraph(sheet.complaint, types.QUOTE)
    blocks.facts(
        flow, [("Left with it", "; ".join(map(apart, sheet.accessories)) or say("nothing"))], columns=1, after=0
    )
    blocks.unit(flow, figures, sheet.unit, sheet.assemblies)
    _released(flow, figures, sheet)
    draw_checks(flow, sheet.checks)
    for finding in sheet.findings:
        draw_finding(flow, finding)
    for job in sheet.jobs:
        _job(flow, figures, job, pictures)
    if sheet.photos:
        flow.section(say("Photos"), keep=150)
        grid(flow, sheet.photos, pictures, columns=5, height=PHOTO_HEIGHT, wide=True, name=say("Photos"))
    blocks.cautions(flow, sheet.cautions, last=False)
    draw_legal(flow, sheet.legal)
    if sheet.signed is None:
        blocks.signature(flow, say("Agreed"), [" ".join(sheet.conditions)], sheet.customer.name)
    else:
        flow.section(say("Agreed"), keep=150)
        flow.paragraph(" ".join(sheet.conditions), after=5)
        signed(flow, sheet.signed, pictures)
    return render(sheet, flow, pictures)


def _released(flow: Flow, figures: Figures, sheet: RepairOrderSheet) -> None:
    done = [hold for hold in sheet.holds if hold.released]
    if done:
        flow.section(flow.say("Holds released"))
        Table(flow, (Column("Reason", 0), Column("Tagged", 70), Column("Released", 150))).draw(
            [Row((hold.reason, figures.day(hold.tagged_on), hold.released), hold.tagged_by) for hold in done]
        )


def draw_checks(flow: Flow, checks: tuple[CheckLine, ...]) -> None:
    """Each stage: what to mind before, all points with their results, and in full what was not plainly good."""
    say = flow.say
    for stage in dict.fromkeys(check.stage for check in checks):
        here = [check for check in checks if check.stage == stage]
        flow.section(say("Inspection"), say(stage), keep=130)
        common = [one for one in here[0].precautions if all(one in check.precautions for check in here)]
        if common:
            flow.paragraph(f"{say('First, at every point')}: {' '.join(common)}", types.NOTE, after=0)
        for names, words in _precautions(here, common):
            flow.paragraph(f"{say('Also at')} {', '.join(names)}: {words}", types.NOTE, after=0)
        flow.y -= 4
        _list(flow, here)
        flow.y -= 3
        for check in here:
            if check.result and check.note:
                flow.paragraph(f"{check.name}, {check.result}: {check.note}", after=0)
            if check.result and not check.plain and check.look:
                flow.paragraph(f"{check.name}, {check.result} \u00b7 {check.look}", types.NOTE, after=1)


def _precautions(checks: list[CheckLine], common: list[str]) -> list[tuple[list[str], str]]:
    """What some points ask for beyond the common: each sentence once, with the names of its points."""
    named: dict[str, list[str]] = {}
    for check in checks:
        for one in check.precautions:
            if one not in common:
                named.setdefault(one, []).append(check.name)
    grouped: dict[tuple[str, ...], list[str]] = {}
    for words, names in named.items():
        grouped.setdefault(tuple(names), []).append(words)
    return [(list(names), " ".join(words)) for names, words in grouped.items()]


def _list(flow: Flow, checks: list[CheckLine]) -> None:
    """Name and result of each point, two points a row."""
    wide = (flow.page.main_width - 3 * GUTTER) / 2
    columns = (Column("Point", wide - RESULT), Column("Result", RESULT)) * 2
    rows = []
    for at in range(0, len(checks), 2):
        pair = checks[at : at + 2]
        cells = [text for one in pair for text in (f"{DONE if one.result else OPEN} {one.name}", one.result)]
        faint = tuple(2 * place + 1 for place, one in enumerate(pair) if one.plain)
        rows.append(Row((*cells, "", "")[:4], faint=faint))
    Table(flow, columns, tight=True).draw(rows)


def draw_finding(flow: Flow, finding: FindingLine) -> None:
    """Section: one finding with its facts and note."""
    flow.section(f"{flow.say('Finding')} {finding.mark}", finding.component, keep=40)
    blocks.facts(
        flow,
        [
            ("Condition", finding.condition),
            ("Cause", finding.cause),
            ("Measured", finding.measurement),
            ("Because of", finding.because_of),
        ],
        after=0,
    )
    if finding.note:
        flow.paragraph(finding.note)


def _job(flow: Flow, figures: Figures, job: OrderJob, pictures: Mapping[str, bytes]) -> None:
    say = flow.say
    flow.section(f"{say('Job')} {job.number}", f"{job.state}\n{say('paid by')} {job.payer}", keep=90)
    if job.title:
        flow.paragraph(job.title, types.LEAD, after=4)
    blocks.facts(flow, [("Complaint", job.complaint), ("Cause", job.cause)], columns=2, after=0)
    blocks.facts(flow, [("Correction", job.correction)], columns=1, after=0)
    blocks.facts(flow, [("Safety note", job.safety)], columns=1, after=0)
    if job.safety_signed is not None:
        signed(flow, job.safety_signed, pictures)
    Table(
        flow,
        (
            Column("Code", 58),
            Column("Labour", 0),
            Column("Guide hours", 42, "right"),
            Column("On the clock", 46, "right"),
        ),
    ).draw(
        [
            Row(
                (
                    line.code,
                    line.what,
                    figures.tenths(line.tenths),
                    figures.clock(line.clocked_minutes),
                ),
                line.technician,
            )
            for line in job.work
        ]
    )
    if job.work and job.parts:
        flow.y -= 6
    Table(
        flow, (Column("Part", 58), Column("Description", 0), Column("State", 64), Column("Quantity", 48, "decimal"))
    ).draw(
        [Row((line.number, line.what, line.state, figures.number(line.quantity)), line.condition) for line in job.parts]
    )
