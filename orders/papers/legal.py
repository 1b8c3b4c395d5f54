"""What a consumer law wants on a paper: a section of estimate and repair order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopdocs.documents.press import blocks
from shopdocs.documents.press import page as types
from shopdocs.documents.press.flow import Flow
from shopdocs.documents.press.values import sentence


@dataclass(frozen=True, kw_only=True)
class LegalField:
    """One thing that has to be said, in the law's own order, with what is said to it."""

    name: str
    value: str


@dataclass(frozen=True, kw_only=True)
class LegalPaper:
    """What one law wants: whom it binds, where it stands, how far the bill may go beyond the estimate ('': not said)."""

    binds: str
    source: str
    limit: str
    fields: tuple[LegalField, ...]


def draw_legal(flow: Flow, papers: Sequence[LegalPaper]) -> None:
    """Section: the fields of each law that binds here, in full, whatever else the paper says."""
    say = flow.say
    for paper in papers:
        flow.section(say("By law"), paper.binds, keep=90)
        blocks.facts(flow, [(sentence(one.name), one.value) for one in paper.fields], columns=2, after=0)
        if paper.limit:
            flow.paragraph(
                f"{say('Without a new consent of yours the bill comes to at most')}: {paper.limit}.",
                types.NOTE,
                after=2,
            )
        flow.paragraph(
            f"{say('Source')}: {paper.source}. {say('The shop confirms what binds it.')}", types.NOTE, after=4
        )
