"""Lines of text beyond the plain letters of a face: shaped, broken between clusters, and turned.

A paragraph becomes units in reading order: plain characters of the face itself, and clusters of `scripts`. Lines are broken
between units, at spaces and beside ideographs; then each is put into the order in which the eye meets it (`turning`), by
the levels of the whole paragraph. Letters keep the shapes that they have in the whole word where it must be cut.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import NamedTuple
from unicodedata import combining

from shopdocs.documents.press import scripts
from shopdocs.documents.press.scripts import JOINERS, VIRAMA, Cluster
from shopdocs.documents.press.turning import MIRRORED, base_level, levels, runs_rightward, seen_order

IDEOGRAPHS = re.compile(
    "[\u2e80-\u2fff\u3005-\u3007\u3021-\u302f\u3040-\u33ff\u3400-\u9fff\uf900-\ufaff\uff66-\uff9f\U00020000-\U0003ffff]"
)
"""Signs beside which a line may be broken without a space (UAX #14, ID; Korean is broken at its spaces)."""
NO_START = frozenset(
    "、。，．・：；？！）」』】〕〗〙〛｝］》〉…‥ー々〻ぁぃぅぇぉっゃゅょゎァィゥェォッャュョヮヵヶゝゞヽヾ゠–％°”’,.:;!?)]}%"
)
NO_END = frozenset("（「『【〔〖〘〚｛［《〈“‘([{$＄￥")
MARKS = "\u061c\u200e\u200f"
"""What only gives a direction: it counts when a line is turned, and is not drawn."""
STOP = "…"
LEADING = frozenset("เแโใไເແໂໃໄ")
FOLLOWING = frozenset("ะาๅๆฯະາໆຯ")
"""Vowels and signs of Thai and Lao that are letters of their own, yet belong to the consonant after or before them."""
MOST_BOUND = 12
"""Characters that are kept together, at the most: more is no syllable, and might be wider than a page."""


class Unit(NamedTuple):
    """A plain character of the face, or a cluster: never parted. Advance in thousandths of the size; its level (UAX #9)."""

    text: str
    advance: float
    level: int
    cluster: Cluster | None


class SetLine(str):
    """A printed line. As a string it reads as it was typed; `pieces` is what is drawn, from left to right.

    A piece is plain text of the line's own face, or clusters. `advance`: thousandths of the size. `base`: the level of its
    paragraph (UAX #9, P2 and P3), 1 where it runs to the left and so begins at the right.
    """

    __slots__ = ("advance", "base", "pieces")
    pieces: tuple[str | tuple[Cluster, ...], ...]
    advance: float
    base: int

    @classmethod
    def of(cls, units: Sequence[Unit], base: int) -> SetLine:
        """The line of these units, which stand in reading order in a paragraph of the level `base`."""
        line = cls("".join(unit.text for unit in units))
        line.advance, line.base = sum(unit.advance for unit in units), base
        order: Sequence[int] = range(len(units))
        if base or any(unit.level for unit in units):
            order = seen_order("".join(unit.text[0] for unit in units), [unit.level for unit in units], base)
        drawn: list[str | Cluster] = []
        for at in order:
            text, _, level, cluster = units[at]
            if cluster:
                drawn += _spelled(cluster, rightward=not level % 2)
            elif text not in MARKS:
                drawn.append(text)
        line.pieces = tuple(
            "".join(group) if kind is str else tuple(group)  # type: ignore[arg-type]
            for kind, group in groupby(drawn, type)
        )
        return line


def units_of(paragraph: str, key: str, plain: re.Pattern[str], widths: dict[str, float]) -> tuple[list[Unit], int]:
    """A clean paragraph as units in reading order, and its level. `plain`: stretches that the face `key` shows by itself, `widths` wide."""
    base, own = 0, [0] * len(paragraph)
    if runs_rightward(paragraph):
        base = base_level(paragraph)
        own = levels(paragraph, base)
    out: list[Unit] = []
    waiting, face, level = "", "", 0  # letters that are shaped together: those of one file and one level
    at = 0
    for part, alone in scripts.parts(paragraph, plain):
        name = "" if alone or part in MARKS else scripts.face_of(part, key) or ""
        if waiting and (name, own[at]) != (face, level):
            out += _shaped(waiting, face, key, level)
            waiting = ""
        if name:
            waiting, face, level = waiting + part, name, own[at]
        else:
            for place, one in enumerate(part, at):
                if alone and (own[place] % 2 or (one == " " and _follows_cluster(out, own[place]))):
                    out.append(_along(one, key, own[place]))
                else:
                    out.append(Unit(one, 0.0 if one in MARKS else widths[one], own[place], None))
        at += len(part)
    if waiting:
        out += _shaped(waiting, face, key, level)
    return out, base


def _follows_cluster(units: Sequence[Unit], level: int) -> bool:
    return bool(units and units[-1].cluster and units[-1].level == level)


def _along(character: str, key: str, level: int) -> Unit:
    """A plain character of the face among shaped letters: shown in one string with them, so that readers part and turn it rightly."""
    seen = MIRRORED.get(character, character) if level % 2 else character
    cluster = scripts.shape(" " if seen == "\xa0" else seen, f"source{key}", key, False)[0]
    return Unit(character, cluster.advance, level, cluster)


def _spelled(cluster: Cluster, *, rightward: bool) -> list[Cluster]:
    """A code for each character of a cluster, from left to right: all of it is drawn by that of the first, the others are bare.

    Readers turn codes back into reading order where text runs to the left, and some also the characters behind a code: each
    is one character, so that nothing is turned twice.
    """
    codes = [cluster._replace(text=cluster.text[0]), *(Cluster(one, 0, "", 0, ()) for one in cluster.text[1:])]
    return codes if rightward else codes[::-1]


def _shaped(text: str, name: str, key: str, level: int) -> Iterator[Unit]:
    """The clusters of `text` as units: those of a syllable that is never parted are one."""
    found: list[Cluster] = []
    for cluster in scripts.shape(text, name, key, bool(level % 2)):
        if found and _bound(found[-1].text, cluster.text):
            first, second = (cluster, found[-1]) if level % 2 else (found[-1], cluster)
            moved = tuple((glyph, first.advance + right, up) for glyph, right, up in second.glyphs)
            both = (found[-1].text + cluster.text, first.advance + second.advance)
            found[-1] = Cluster(*both, name, cluster.weight, first.glyphs + moved)
        else:
            found.append(cluster)
    return (Unit(cluster.text, cluster.advance, level, cluster) for cluster in found)


def _bound(before: str, after: str) -> bool:
    """Whether two clusters stay together: by a joiner, a sign that binds consonants, or a vowel beside its consonant."""
    if after[0] in JOINERS:
        return True
    together = combining(before[-1]) == VIRAMA or before[-1] in LEADING or after[0] in FOLLOWING
    return together and len(before) + len(after) <= MOST_BOUND


def atoms(units: Sequence[Unit]) -> Iterator[tuple[Unit | None, list[Unit]]]:
    """What stands on one line if it fits there, each with the space before it; several spaces count as one."""
    gap: Unit | None = None
    atom: list[Unit] = []
    for unit in units:
        if unit.text == " ":
            if atom:
                yield gap, atom
                gap, atom = None, []
            gap = unit
        elif atom and _may_break(atom[-1], unit):
            yield gap, atom
            gap, atom = None, [unit]
        else:
            atom.append(unit)
    if atom:
        yield gap, atom


def _may_break(before: Unit, after: Unit) -> bool:
    if before.text in NO_END or after.text in NO_START:
        return False
    return bool(IDEOGRAPHS.match(before.text) or IDEOGRAPHS.match(after.text))
