"""The tag of a failed part that is kept for a claim: label size, black on white, with the code of its parts hold."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from shopdocs.documents.press import page as types
from shopdocs.documents.press.codes import qr
from shopdocs.documents.press.facts import Unit
from shopdocs.documents.press.flow import Flow
from shopdocs.documents.press.page import label_page
from shopdocs.documents.press.render import Drawn, render
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.structure import Node
from shopdocs.documents.press.values import Figures, apart
from shopdocs.documents.press.words import words

# A module of 2 points is over four dots at 150 dots an inch: a tag is read in the storeroom, by a telephone.
MODULE = 2.0
QUIET = 4 * MODULE
"""What stays white on each side of the code: four modules (ISO/IEC 18004, 'quiet zone')."""


@dataclass(frozen=True, kw_only=True)
class PartTagSheet(Sheet):
    """Everything a tag prints; `number` is the tag's own. `keep_until` None: the distributor's time is not recorded.

    What is too long for a label is shortened here; it stands in full in the claim and behind the code.
    """

    part: str
    claim: str
    repair_order: str
    distributor: str
    unit: Unit
    repaired_on: date | None
    keep_until: date | None


def draw(sheet: PartTagSheet, pictures: Mapping[str, bytes]) -> Drawn:
    """The tag as PDF of one page, 4 by 3 inches. Raises PressError for a sheet that cannot be printed."""
    say = words(sheet.language)
    page = label_page(sheet.shop.accent)
    flow, figures = Flow(page, say, ("", "")), Figures(sheet.currency, say)
    side = qr(sheet.code)[0] * MODULE
    flow.code_at = (page.right - side, page.bottom, MODULE)
    _line(flow, sheet.shop.name, types.NOTE, side)
    flow.fill(page.left, flow.y - 2, page.right - page.left, 2, types.INK)
    flow.y -= 7
    _line(flow, f"{say('Failed part')} {sheet.number}", types.LABEL_HEAD, side, "H1")
    _line(flow, say("Do not throw away, use or return it without a release."), types.STRONG, side)
    flow.y -= 4
    _two_lines(flow, sheet.part, types.BODY, side)
    unit = sheet.unit
    _two_lines(
        flow, f"{apart(unit.maker)} {apart(unit.model)} · {unit.serial or say('no serial number')}", types.BODY, side
    )
    flow.y -= 4
    for label, value in _facts(sheet, figures):
        _line(flow, f"{say(label)}: {value}", types.NOTE_INK, side)
    return render(sheet, flow, pictures)


def _room(flow: Flow, style: types.Style, side: float) -> float:
    """How wide the next line may be: the whole label above the code, and what its quiet zone leaves beside it."""
    page = flow.page
    beside = flow.y - style.leading < page.bottom + side + QUIET
    return page.right - page.left - (side + QUIET if beside else 0)


def _facts(sheet: PartTagSheet, figures: Figures) -> list[tuple[str, str]]:
    return [
        ("Keep until", figures.day(sheet.keep_until)),
        ("Claim", sheet.claim),
        ("Repair order", sheet.repair_order),
        ("Distributor", sheet.distributor),
        ("Repaired", figures.day(sheet.repaired_on)),
    ]


def _two_lines(flow: Flow, text: str, style: types.Style, side: float) -> None:
    """What a clerk tells the part by: no paper says it in full beside the part, so that only more than two lines are cut."""
    lines = [line for line, _ in flow.lines(text, style, _room(flow, style, side))]
    _line(flow, lines[0] if lines else "", style, side)
    if lines[1:]:
        _line(flow, " ".join(lines[1:]), style, side)


def _line(flow: Flow, text: str, style: types.Style, side: float, tag: str = "P") -> None:
    text = flow.short(text, style, _room(flow, style, side))
    flow.text(flow.page.left, flow.y, text, style, Node(tag, flow.root))
    flow.y -= style.leading
