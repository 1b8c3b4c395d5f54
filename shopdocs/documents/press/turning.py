"""The order in which the eye meets text that runs from right to left: the bidirectional algorithm, UAX #9 of Unicode.

A paragraph's direction is found once and its characters get their levels in reading order; only then is it broken, and
each line turned by the levels that its characters already have (UAX #9, 3: a line never finds a direction of its own).
Characters that embed, override or isolate a direction never come here: `fonts.clean` drops them, so that no typed text
can show itself in another order than it is stored in. Rules X1 to X8 therefore have nothing to do.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from unicodedata import bidirectional

RIGHTWARD = re.compile(
    "[\u0590-\u061b\u061d-\u08ff\ufb1d-\ufdff\ufe70-\ufeff\U00010800-\U00010fff\U0001e800-\U0001efff]"
)
PAIRS = "()[]{}༺༻༼༽᚛᚜⁅⁆⁽⁾₍₎⌈⌉⌊⌋❨❩❪❫❬❭❮❯❰❱❲❳❴❵⟅⟆⟦⟧⟨⟩⟪⟫⟬⟭⟮⟯⦃⦄⦅⦆⦇⦈⦉⦊⦋⦌⦑⦒⦓⦔⦗⦘⧘⧙⧚⧛⧼⧽⸢⸣⸤⸥⸦⸧⸨⸩〈〉《》「」『』【】〔〕〖〗〘〙〚〛（）［］｛｝｟｠｢｣"
"""Brackets that pair (Unicode's BidiBrackets), opening and closing in turn."""
CLOSING = dict(zip(PAIRS[::2], PAIRS[1::2], strict=True))
OPENING = {close: opening for opening, close in CLOSING.items()}
_FACING = PAIRS + "<>«»‹›≤≥≪≫⊂⊃⊆⊇∈∋"
MIRRORED = dict(zip(_FACING, (_FACING[at ^ 1] for at in range(len(_FACING))), strict=True))
"""What a sign becomes where its text runs to the left (rule L4)."""
STACK = 63
RISE = ({"L": 0, "R": 1, "AN": 2, "EN": 2}, {"L": 1, "R": 0, "AN": 1, "EN": 1})
"""How far a type lies above the paragraph's level, 0 or 1."""
NEUTRAL = ("B", "S", "WS", "ON")
DROPPED = ("BN", "LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI")


def runs_rightward(text: str) -> bool:
    """Whether any letter of `text` runs from right to left."""
    return not text.isascii() and RIGHTWARD.search(text) is not None


def base_level(text: str) -> int:
    """0 for a paragraph that runs to the right, 1 for one that runs to the left: as its first letter does (P2, P3)."""
    for character in text:
        kind = bidirectional(character)
        if kind in ("L", "R", "AL"):
            return int(kind != "L")
    return 0


def levels(text: str, base: int) -> list[int]:
    """The level of each character of one paragraph; odd levels run to the left."""
    kinds = [bidirectional(character) or "L" for character in text]
    kept = [at for at, kind in enumerate(kinds) if kind not in DROPPED]  # X9
    own = "R" if base else "L"
    types = _weak([kinds[at] for at in kept], own)
    _brackets([text[at] for at in kept], [kinds[at] for at in kept], types, own)
    _neutral(types, own)
    found: list[int] = []
    place, level = 0, base
    for at in range(len(text)):
        if place < len(kept) and kept[place] == at:
            level = base + RISE[base][types[place]]  # I1, I2
            place += 1
        found.append(level)  # what X9 leaves out goes with what stands before it
    return found


def _weak(types: list[str], own: str) -> list[str]:
    """W1 to W7: marks, numbers and the signs beside them."""
    before = own
    for at, kind in enumerate(types):  # W1
        if kind == "NSM":
            types[at] = before
        before = types[at]
    strong = own
    for at, kind in enumerate(types):  # W2, W3
        if kind in ("L", "R", "AL"):
            strong = kind
            types[at] = "R" if kind == "AL" else kind
        elif kind == "EN" and strong == "AL":
            types[at] = "AN"
    for at in range(1, len(types) - 1):  # W4
        left, kind, right = types[at - 1 : at + 2]
        if left == right and ((kind == "CS" and left in ("EN", "AN")) or (kind == "ES" and left == "EN")):
            types[at] = left
    for start, end in _stretches(types, ("ET",)):  # W5
        if "EN" in (types[start - 1 : start] + types[end : end + 1]):
            types[start:end] = ["EN"] * (end - start)
    strong = own
    for at, kind in enumerate(types):  # W6, W7
        if kind in ("ES", "ET", "CS"):
            types[at] = "ON"
        elif kind in ("L", "R"):
            strong = kind
        elif kind == "EN" and strong == "L":
            types[at] = "L"
    return types


def _brackets(text: list[str], kinds: list[str], types: list[str], own: str) -> None:
    """N0: both brackets of a pair run as what they hold does."""
    for start, end in _pairs(text, types):
        inside = {_side(kind) for kind in types[start + 1 : end]} - {""}
        if not inside:
            continue
        chosen = own
        if own not in inside:
            before = next((side for kind in reversed(types[:start]) if (side := _side(kind))), own)
            chosen = before if before != own else own
        for at in (start, end):
            types[at] = chosen
            for mark in range(at + 1, len(types)):
                if kinds[mark] != "NSM":
                    break
                types[mark] = chosen


def _pairs(text: list[str], types: list[str]) -> list[tuple[int, int]]:
    """Brackets that belong together (BD16), by the place of the opening one."""
    waiting: list[tuple[str, int]] = []
    found = []
    for at, character in enumerate(text):
        if types[at] != "ON":
            continue
        if character in CLOSING:
            if len(waiting) == STACK:
                return []
            waiting.append((CLOSING[character], at))
        elif character in OPENING:
            for depth in range(len(waiting) - 1, -1, -1):
                if waiting[depth][0] == character:
                    found.append((waiting[depth][1], at))
                    del waiting[depth:]
                    break
    return sorted(found)


def _neutral(types: list[str], own: str) -> None:
    """N1 and N2: what has no direction takes that of both its sides, or the paragraph's."""
    for start, end in _stretches(types, NEUTRAL):
        left = _side(types[start - 1]) if start else own
        right = _side(types[end]) if end < len(types) else own
        types[start:end] = [left if left == right else own] * (end - start)


def _side(kind: str) -> str:
    """The direction that a type counts for beside others: numbers count as running to the left."""
    return "R" if kind in ("R", "EN", "AN") else "L" if kind == "L" else ""


def _stretches(types: Sequence[str], wanted: tuple[str, ...]) -> Iterator[tuple[int, int]]:
    """Where the types of `wanted` follow each other: start and end of each stretch."""
    at = 0
    while at < len(types):
        if types[at] not in wanted:
            at += 1
            continue
        start = at
        while at < len(types) and types[at] in wanted:
            at += 1
        yield start, at


def seen_order(line: str, found: Sequence[int], base: int) -> list[int]:
    """The places of a line's characters from left to right, by the levels that the paragraph gave them (L1, L2)."""
    own = list(found)
    blank = True
    for at in range(len(line) - 1, -1, -1):  # L1
        kind = bidirectional(line[at])
        if kind in ("B", "S"):
            blank = True
        elif kind != "WS" and kind not in DROPPED:
            blank = False
        if blank:
            own[at] = base
    order = list(range(len(line)))
    for level in range(max(own, default=0), 0, -1):  # L2
        at = 0
        while at < len(order):
            if own[order[at]] < level:
                at += 1
                continue
            start = at
            while at < len(order) and own[order[at]] >= level:
                at += 1
            order[start:at] = reversed(order[start:at])
    return order
