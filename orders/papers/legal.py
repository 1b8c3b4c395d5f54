"""What a consumer law wants on a paper: a section of estimate, repair order and invoice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopdocs.documents.press import blocks
from shopdocs.documents.press import page as types
from shopdocs.documents.press.flow import Flow
from shopdocs.documents.press.values import sentence

LONGEST_BESIDE = 40  # letters of an answer that stands beside its bold name


@dataclass(frozen=True, kw_only=True)
class LegalField:
    """One thing that has to be said, in the law's own order, with what is said to it. `bold`: the law wants it so."""

    name: str
    value: str
    bold: bool = False


@dataclass(frozen=True, kw_only=True)
class LegalPaper:
    """What one law wants: whom it binds, where it stands, how far the bill may go beyond the estimate ('': not said).

    `more`: what else it wants stands in its place on the paper.
    """

    binds: str
    source: str
    limit: str
    fields: tuple[LegalField, ...]
    more: bool = False


def draw_legal(flow: Flow, papers: Sequence[LegalPaper]) -> None:
    """Section: what each law that binds here wants said and the paper does not say anyway."""
    say = flow.say
    for paper in papers:
        told = [(sentence(one.name), one.value) for one in paper.fields if not one.bold]
        bold = [one for one in paper.fields if one.bold]
        height = blocks.facts_height(flow, told, 2) + 60 + 30 * len(bold)
        # What a law wants is read in one go: on one page, unless it is longer than most of one.
        flow.section(say("By law"), paper.binds, keep=min(height, flow.capacity * 0.7))
        blocks.facts(flow, told, columns=2, after=0)
        for one in bold:
            apart = len(one.value) > LONGEST_BESIDE
            flow.paragraph(f"{sentence(one.name)}:{'' if apart else f' {one.value}'}", types.STRONG, after=3)
            if apart:
                flow.paragraph(one.value, after=4)
        if paper.limit:
            flow.paragraph(
                f"{say('Without a new consent of yours the bill comes to at most')}: {paper.limit}.",
                types.NOTE,
                after=2,
            )
        more = f" {say('What else it wants stands in its place above.')}" if paper.more else ""
        flow.paragraph(
            f"{say('Source')}: {paper.source}. {say('The shop confirms what binds it.')}{more}", types.NOTE, after=4
        )
