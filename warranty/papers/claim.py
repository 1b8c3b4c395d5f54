"""The warranty claim to a distributor: the part that failed first, the proof, the steps, the money, the declaration."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from shopdocs.documents.press import blocks
from shopdocs.documents.press import page as types
from shopdocs.documents.press.facts import Assembly, Party, Photo, Unit
from shopdocs.documents.press.flow import Flow
from shopdocs.documents.press.pictures import grid
from shopdocs.documents.press.render import Drawn, render
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.tables import Column, Row, Table
from shopdocs.documents.press.values import Figures, apart, sentence
from shopdocs.documents.press.words import Say

FIRST_SHOWN = ("serial plate", "hour meter", "emission label")
EVIDENCE_HEIGHT = 205.0
LABOUR_KEPT, LABOUR_LINE = 108.0, 19.0
"""Points for what labour is paid by with its sums, and for each of its first three lines: those are read together."""


@dataclass(frozen=True, kw_only=True)
class CausalPart:
    """The part whose failure caused the rest, and what was seen of it."""

    number: str
    what: str
    assembly: str
    condition: str
    cause: str
    measurement: str
    held_as: str


@dataclass(frozen=True, kw_only=True)
class DecisionStep:
    """One step of the coverage decision: the question, the answer, the facts it rests on, and the rule's source."""

    question: str
    answer: str
    because: str
    source: str


@dataclass(frozen=True, kw_only=True)
class ClaimLabour:
    """Labour asked for, in tenths of an hour; `basis` says how the time was come by, steps shared included."""

    code: str
    what: str
    tenths: int
    basis: str


@dataclass(frozen=True, kw_only=True)
class ClaimPart:
    """A part asked for: price each and the amount expected, each None where it is not known."""

    number: str
    what: str
    quantity: Decimal
    each: Decimal | None
    amount: Decimal | None


@dataclass(frozen=True, kw_only=True)
class ClaimPhoto(Photo):
    """A photo of a claim. No other paper can carry what this adds, and a claim does only where the shop says so.

    `place`: where the camera says that it was, in degrees of latitude and longitude; `camera`: its serial number; '' for
    what it did not write down, or is not to be told.
    """

    place: str = ""
    camera: str = ""

    def by_the_camera(self, say: Say) -> str:
        """'By the camera: at 41.40837, -93.10321 · serial number 4471', '' where nothing is told."""
        at = f"{say('at')} {self.place}" if self.place else ""
        serial = f"{say('serial number')} {self.camera}" if self.camera else ""
        told = " \u00b7 ".join(part for part in (at, serial) if part)
        return f"{say('By the camera')}: {told}" if told else ""


@dataclass(frozen=True, kw_only=True)
class ClaimSheet(Sheet):
    """Everything a claim prints. None in rates, percent, sums or deadline prints 'not known'.

    `term` carries the claim; `also` names other terms that hold as well. `found`: each finding of the job, as the
    technician told it, with its mark. `left_out`: the hours that another claim has asked for already, and of what.
    """

    distributor: Party
    account: str
    approval: str
    repair_order: str
    owner: Party
    unit: Unit
    assemblies: tuple[Assembly, ...]
    purchased_on: date | None
    purchase_proof: str
    failed_on: date | None
    repaired_on: date | None
    causal: CausalPart
    complaint: str
    cause: str
    correction: str
    found: tuple[str, ...] = ()
    answer: str
    term: str
    also: tuple[str, ...]
    steps: tuple[DecisionStep, ...]
    labour: tuple[ClaimLabour, ...]
    labour_tenths: int
    labour_rate: Decimal | None
    time_basis: str
    labour_amount: Decimal | None
    parts: tuple[ClaimPart, ...]
    parts_percent: Decimal | None
    parts_amount: Decimal | None
    expected: Decimal | None
    deadline: date | None
    deadline_basis: str
    photos: tuple[ClaimPhoto, ...]
    declaration: tuple[str, ...]
    declared_by: str
    cautions: tuple[str, ...]
    left_out: str = ""


def draw(sheet: ClaimSheet, pictures: Mapping[str, bytes]) -> Drawn:
    """The claim as PDF. Raises PressError for a photo without picture or a sheet that cannot be printed."""
    flow, figures = blocks.start(sheet)
    say = flow.say
    _opening(flow, figures, sheet)
    _causal(flow, sheet.causal)
    blocks.unit(flow, figures, sheet.unit, sheet.assemblies)
    blocks.opening(
        flow,
        [("Owner", sheet.owner)],
        [("Bought", f"{figures.day(sheet.purchased_on)} ({sheet.purchase_proof or say('no proof')})")],
        [("Failed", figures.day(sheet.failed_on)), ("Repaired", figures.day(sheet.repaired_on))],
    )
    flow.section(say("What happened"), keep=80)
    blocks.facts(
        flow,
        [
            ("Complaint", sheet.complaint),
            *(("Found", told) for told in sheet.found),
            ("Cause", sheet.cause),
            ("Correction", sheet.correction),
        ],
        columns=1,
    )
    _decision(flow, sheet)
    _labour(flow, figures, sheet)
    if sheet.parts:
        _parts(flow, figures, sheet)
    flow.section(say("Expected"), keep=40)
    blocks.sums(flow, [(say("Expected in all"), figures.money(sheet.expected), True)], after=0)
    blocks.signature(flow, say("Declaration"), sheet.declaration, sheet.declared_by)
    blocks.cautions(flow, sheet.cautions, last=not sheet.photos)
    if sheet.photos:
        _evidence(flow, sheet, pictures)
    return render(sheet, flow, pictures)


def _evidence(flow: Flow, sheet: ClaimSheet, pictures: Mapping[str, bytes]) -> None:
    """The photos, two by two over the whole width of the page, before and after of one finding in one row."""
    flow.section(flow.say("Evidence"), keep=EVIDENCE_HEIGHT + 80)
    photos, begin = side_by_side(_ordered(sheet.photos))
    name = flow.say("Evidence")
    grid(flow, photos, pictures, height=EVIDENCE_HEIGHT, wide=True, name=name, begin=begin)


def side_by_side(photos: Sequence[ClaimPhoto]) -> tuple[list[ClaimPhoto], frozenset[int]]:
    """The photos in rows of two, so that each pair of one finding is a row; and the numbers of those that must begin one.

    Where a row has a place left before them, a later photo of no finding, such as a view of the whole machine, goes there.
    """
    waiting: list[list[ClaimPhoto]] = []
    for photo in photos:
        if photo.finding and waiting and waiting[-1][-1].finding == photo.finding and not photo.shows:
            waiting[-1].append(photo)
        else:
            waiting.append([photo])
    placed: list[ClaimPhoto] = []
    begin, column = set(), 0
    while waiting:
        several = waiting.pop(0)
        if column and len(several) % 2 == 0:
            spare = next((one for one in waiting if len(one) == 1 and not one[0].finding), None)
            if spare is None:
                begin.add(several[0].number)
            else:
                waiting.remove(spare)
                placed += spare
            column = 0
        placed += several
        column = (column + len(several)) % 2
    return placed, frozenset(begin)


def _ordered(photos: tuple[ClaimPhoto, ...]) -> list[ClaimPhoto]:
    """Serial plate, hour meter and emission label first; the rest as the sheet has them, what failed before what is fine."""

    def place(photo: ClaimPhoto) -> int:
        return FIRST_SHOWN.index(photo.shows) if photo.shows in FIRST_SHOWN else len(FIRST_SHOWN)

    return sorted(photos, key=place)


def _opening(flow: Flow, figures: Figures, sheet: ClaimSheet) -> None:
    say = flow.say
    basis = f", {sheet.deadline_basis}" if sheet.deadline_basis else ""
    blocks.opening(
        flow,
        [("To", sheet.distributor)],
        [
            ("Our account", sheet.account or say("not known")),
            ("Approval before work", sheet.approval or say("none given")),
            ("Repair order", sheet.repair_order),
        ],
        [
            ("File before the end of", f"{figures.day(sheet.deadline)}{basis}"),
            ("Expected in all", figures.money(sheet.expected)),
        ],
    )


def _causal(flow: Flow, part: CausalPart) -> None:
    say = flow.say
    flow.section(say("Part that failed"), part.assembly, keep=80)
    flow.paragraph(f"{apart(part.what)} \u00b7 {part.number}" if part.number else part.what, types.LEAD, after=4)
    blocks.facts(
        flow,
        [
            ("Condition", part.condition),
            ("Cause", part.cause),
            ("Measured", part.measurement),
            ("Kept as", part.held_as),
        ],
        after=0,
    )


def _decision(flow: Flow, sheet: ClaimSheet) -> None:
    say = flow.say
    flow.section(say("Why it is covered"), say("our reading; the maker decides"), keep=100)
    flow.paragraph(sheet.answer, types.LEAD, after=2)
    if sheet.term:
        flow.paragraph(sheet.term, types.NOTE, after=2)
    for other in sheet.also:
        flow.paragraph(f"{say('Also covered by')}: {other}", types.NOTE, after=2)
    flow.y -= 4
    Table(flow, (Column("", 12, "right"), Column("Question", 0), Column("Answer", 54), Column("Source", 112))).draw(
        [
            Row((str(at), step.question, step.answer, step.source), step.because)
            for at, step in enumerate(sheet.steps, 1)
        ]
    )


def _labour(flow: Flow, figures: Figures, sheet: ClaimSheet) -> None:
    say = flow.say
    flow.section(say("Labour asked for"), keep=LABOUR_KEPT + LABOUR_LINE * min(3, len(sheet.labour)))
    bases = {line.basis for line in sheet.labour}
    shared = bases.pop() if len(bases) == 1 else ""
    blocks.facts(
        flow,
        [
            ("Paid by", sentence(sheet.time_basis) or say("not known")),
            ("Rate an hour", figures.price(sheet.labour_rate)),
            ("Basis of the hours", sentence(shared)),
            ("Shared with another claim", sentence(sheet.left_out)),
        ],
        after=2,
    )
    table: list[Any] = [Column("Code", 58), Column("Labour", 0), Column("Basis", 120), Column("Hours", 36, "right")]
    rows: list[list[Any]] = [[line.code, line.what, line.basis, figures.tenths(line.tenths)] for line in sheet.labour]
    if shared:
        for row in (table, *rows):
            del row[2]
    Table(flow, table).draw([Row(tuple(row)) for row in rows], tail=36)
    flow.y -= 2
    blocks.sums(
        flow,
        [
            (say("Hours in all"), figures.tenths(sheet.labour_tenths), False),
            (say("Labour expected"), figures.money(sheet.labour_amount), False),
        ],
        after=0,
    )


def _parts(flow: Flow, figures: Figures, sheet: ClaimSheet) -> None:
    say = flow.say
    flow.section(say("Parts asked for"), keep=80)
    percent = figures.percent(sheet.parts_percent)
    blocks.facts(flow, [("Distributor pays of the price", percent)], after=2)
    Table(
        flow,
        (
            Column("Part", 58),
            Column("Description", 0),
            Column("Quantity", 36, "decimal"),
            Column("Each", 40, "decimal"),
            Column("Expected", 50, "right"),
        ),
    ).draw(
        [
            Row(
                (
                    line.number,
                    line.what,
                    figures.number(line.quantity),
                    figures.rate(line.each),
                    figures.bare(line.amount),
                )
            )
            for line in sheet.parts
        ],
        tail=20,
    )
    flow.y -= 2
    blocks.sums(flow, [(say("Parts expected"), figures.money(sheet.parts_amount), False)], after=0)
