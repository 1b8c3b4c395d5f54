"""Lines from text: greedy, from the faces' own widths; a word too long for a line is cut."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TypeVar

from shopdocs.documents.press.fonts import Face
from shopdocs.documents.press.setting import STOP, SetLine, Unit, atoms

GOOD_CUTS = frozenset("/-_.,;:&?=@")
HELD = re.compile(r"(?<=\d) (?:h\b|%(?: \w{1,3} (?=\W{0,3}\d))?)")
"""The spaces of '125 h', and of '6 % of $74.66': a figure, its sign, and the short word that leads to what it is taken of, in
any language."""
Word = TypeVar("Word", str, list[Unit])


def break_lines(text: str, face: Face, size: float, width: float) -> list[str]:
    """Lines of clean `text` no wider than `width` points. A line feed starts a new paragraph.

    Lines beyond the plain letters of `face` are `SetLine`. Always ends: each line takes at least one character, with
    its marks. Empty text gives no line.
    """
    limit = max(width, 0.0) * 1000 / size
    plain = face.shows(text)
    if plain and "\n" not in text and sum(map(face.widths.__getitem__, text)) <= limit:
        return [text] if text else []
    lines: list[str] = []
    for paragraph in text.strip("\n").split("\n"):
        if plain or face.shows(paragraph):
            lines.extend(_paragraph(paragraph, face, limit))
        else:
            lines.extend(_shaped(paragraph, face, limit))
    return lines


def shorten(text: str, face: Face, size: float, width: float) -> str:
    """`text` on one line, ended with '…' where it is too long. Only for what stands in full elsewhere."""
    text = text.replace("\n", " ")
    if not face.shows(text):
        return _shorten_shaped(text, face, width * 1000 / size)
    if face.width(text, size) <= width:
        return text
    room = width - face.width(STOP, size)
    while text and face.width(text, size) > room:
        text = text[: max(0, min(len(text) - 1, int(len(text) * room / face.width(text, size)) + 1))]
    return text.rstrip() + STOP


def _shorten_shaped(text: str, face: Face, limit: float) -> str:
    units, base = face.units(text)
    used = sum(unit.advance for unit in units)
    if used > limit:
        stop = Unit(STOP, face.widths[STOP], base, None)
        while units and (used + stop.advance > limit or units[-1].text == " "):
            used -= units.pop().advance
        units.append(stop)
    return SetLine.of(units, base)


def _words(text: str) -> list[str]:
    """What a line may end after; hours, and a percentage and what it is of, stay together, with their spaces."""
    if " %" not in text and " h" not in text:
        return text.split(" ")
    held = HELD.sub(lambda found: found[0].replace(" ", "\0"), text)  # clean text holds no NUL
    return [word.replace("\0", " ") for word in held.split(" ")]


def _paragraph(text: str, face: Face, limit: float) -> list[str]:
    get = face.widths.__getitem__
    space = face.widths[" "]
    lines: list[str] = []
    line: list[str] = []
    used = 0.0
    for word in _words(text):
        if not word:
            continue
        wide = sum(map(get, word))
        if line and used + space + wide <= limit:
            line.append(word)
            used += space + wide
            continue
        if line:
            lines.append(" ".join(line))
        if wide > limit:
            *whole, word = _pieces(word, word, list(map(get, word)), limit)
            lines.extend(whole)
            wide = sum(map(get, word))
        line, used = [word], wide
    lines.append(" ".join(line))
    return lines


def _shaped(text: str, face: Face, limit: float) -> list[SetLine]:
    """As `_paragraph`, for units."""
    units, base = face.units(text)
    lines: list[list[Unit]] = []
    line: list[Unit] = []
    used = 0.0
    for gap, atom in atoms(units):
        wide = sum(unit.advance for unit in atom)
        space = gap.advance if gap else 0.0
        if line and used + space + wide <= limit:
            line += [gap, *atom] if gap else atom
            used += space + wide
            continue
        if line:
            lines.append(line)
        if wide > limit:
            *whole, atom = _pieces(atom, [unit.text for unit in atom], [unit.advance for unit in atom], limit)
            lines.extend(whole)
            wide = sum(unit.advance for unit in atom)
        line, used = list(atom), wide
    return [SetLine.of(line, base) for line in (*lines, line)]


def _pieces(word: Word, signs: Sequence[str], wides: Sequence[float], limit: float) -> list[Word]:
    """A word wider than a line as pieces that fit: cut after a sign in the later half of a line, else where it is full."""
    pieces: list[Word] = []
    start, used, good, kept = 0, 0.0, 0, 0.0
    for at, wide in enumerate(wides):
        # What a late cut leaves may still be too wide with this character: then it is cut again, before it.
        while used + wide > limit and at > start:
            late = good > (start + at) // 2
            cut = good if late else at
            pieces.append(word[start:cut])
            used -= kept if late else used
            start, good = cut, 0
        used += wide
        if signs[at] in GOOD_CUTS:
            good, kept = at + 1, used
    pieces.append(word[start:])
    return pieces
