"""The repair summary: for the customer, without prices. What was wrong, what was done, before and after, what to watch."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from orders.papers.legal import LegalPaper, draw_legal
from shopdocs.documents.press import blocks
from shopdocs.documents.press import page as types
from shopdocs.documents.press.facts import Party, Photo, Unit
from shopdocs.documents.press.pictures import grid
from shopdocs.documents.press.render import Drawn, render
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.values import apart


@dataclass(frozen=True, kw_only=True)
class Mended:
    """One job in the customer's terms. `left`: why it was left as it is, or '' when it was done."""

    title: str
    found: tuple[str, ...]
    done: str
    parts: tuple[str, ...]
    left: str


@dataclass(frozen=True, kw_only=True)
class RepairSummarySheet(Sheet):
    """Everything a repair summary prints. `photos`: before first, then after; `watch`: what to keep an eye on."""

    customer: Party
    unit: Unit
    repair_order: str
    finished_on: date | None
    complaint: str
    jobs: tuple[Mended, ...]
    photos: tuple[Photo, ...]
    watch: tuple[str, ...]
    upkeep: tuple[str, ...]
    cautions: tuple[str, ...]
    legal: tuple[LegalPaper, ...] = ()


def draw(sheet: RepairSummarySheet, pictures: Mapping[str, bytes]) -> Drawn:
    """The summary as PDF. Raises PressError for a photo without picture or a sheet that cannot be printed."""
    flow, figures = blocks.start(sheet)
    say = flow.say
    blocks.opening(
        flow,
        [("For", sheet.customer)],
        [("Repair order", sheet.repair_order)],
        [("Finished", figures.day(sheet.finished_on) if sheet.finished_on else say("not yet"))],
    )
    blocks.unit(flow, figures, sheet.unit)
    if sheet.complaint:
        flow.section(say("You told us"))
        flow.paragraph(sheet.complaint, types.QUOTE)
    for job in sheet.jobs:
        flow.section(say("Left as it is") if job.left else say("Done"), keep=70)
        flow.paragraph(job.title, types.LEAD, after=2)
        blocks.facts(
            flow,
            [
                ("We found", "\n".join(job.found)),
                ("We did", job.done),
                ("Parts fitted", "; ".join(map(apart, job.parts))),
                ("Why it was left", job.left),
            ],
            columns=1,
            after=0,
        )
    for moment in ("before", "after"):
        shots = [photo for photo in sheet.photos if photo.moment == moment]
        if shots:
            flow.section(say("Before the repair" if moment == "before" else "After the repair"), keep=220)
            grid(flow, shots, pictures)
    _told(flow, say("Please watch"), sheet.watch)
    _told(flow, say("Until next season"), sheet.upkeep)
    draw_legal(flow, sheet.legal)
    blocks.cautions(flow, sheet.cautions)
    return render(sheet, flow, pictures)


def _told(flow: blocks.Flow, label: str, lines: tuple[str, ...]) -> None:
    if lines:
        flow.section(label)
        for line in lines:
            flow.paragraph(line, after=3)
