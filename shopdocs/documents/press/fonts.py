"""The faces of our papers, loaded once a process, and the characters that they can print.

Source Sans Pro carries the papers; what it lacks is drawn from the files of `scripts`, shaped where that is needed.
What no file can draw becomes '?' and is named in `Drawn.replaced`, never a silent box.
"""

from __future__ import annotations

import functools
import re
import unicodedata

from reportlab.pdfbase.ttfonts import TTFont

from shopdocs.documents.press import scripts
from shopdocs.documents.press.scripts import FILES, ITALIC, REGULAR, SEMIBOLD
from shopdocs.documents.press.setting import MARKS, SetLine, Unit, units_of
from shopdocs.documents.press.turning import runs_rightward

__all__ = ["FILES", "ITALIC", "REGULAR", "SEMIBOLD", "STAND_IN", "Face", "clean", "faces"]

STAND_IN = "?"
MOST_MARKS = 4
"""Marks on one letter, at the most: languages that stack them do with fewer, and more run into the lines above."""


class Widths(dict[str, float]):
    """Advance of each character of one face in thousandths of the size, read on first use."""

    def __init__(self, key: str, font: TTFont) -> None:
        super().__init__()
        self._key, self._face = key, font.face

    def __missing__(self, character: str) -> float:
        code = 0x20 if character == "\xa0" else ord(character)
        own = code in self._face.charToGlyph
        width = float(self._face.charWidths[code]) if own else float(scripts.advance(character, self._key))
        self[character] = width
        return width


class Face:
    """One face: its ReportLab font, its widths, and which characters it shows by itself, one by one."""

    def __init__(self, key: str, font: TTFont) -> None:
        self.key, self.font = key, font
        shown = (chr(code) for code in font.face.charToGlyph if 0x20 <= code <= 0xFFFF)
        self.plain = frozenset(one for one in shown if _stands_alone(one)) | {"\xa0", "\n"}
        self.stretch = re.compile(f"[{''.join(map(re.escape, sorted(self.plain)))}]+")
        self.widths = Widths(key, font)

    def shows(self, text: str) -> bool:
        """Whether all of `text` is plain letters of this face."""
        return text.isascii() or self.plain.issuperset(text)

    def units(self, paragraph: str) -> tuple[list[Unit], int]:
        """A clean paragraph, shaped: its units in reading order, and its level."""
        return units_of(paragraph, self.key, self.stretch, self.widths)

    def width(self, text: str, size: float) -> float:
        """Printed width of `text` in points."""
        if type(text) is SetLine:
            return text.advance * size / 1000
        if self.shows(text):
            return sum(map(self.widths.__getitem__, text)) * size / 1000
        return sum(unit.advance for unit in self.units(text)[0]) * size / 1000


def _stands_alone(character: str) -> bool:
    """A letter that is drawn as it is, or the one space: what `clean` changes does not."""
    unseen = unicodedata.category(character) in ("Zs", "Cf") and character != " "
    return not (unseen or scripts.extends(character) or character in MARKS or runs_rightward(character))


@functools.cache
def faces() -> dict[str, Face]:
    """All faces by key. Reads the font files at the first call of a process."""
    return {
        key: Face(key, TTFont(f"Shop{name}", str(scripts.source_sans(key)), asciiReadable=True))
        for key, name in FILES.items()
    }


@functools.lru_cache(maxsize=65536)
def _printable(character: str) -> str:
    """The character itself, what may stand for it, '' if it is invisible, or '?'."""
    code = ord(character)
    if code & 0xFFFE == 0xFFFE or unicodedata.category(character) == "Cs":
        return STAND_IN  # no character at all (Unicode 23.7), though a font may map it to its empty box
    if character in "\t\v\f\x85\u2028\u2029" or unicodedata.category(character) == "Zs":
        return "\xa0" if character in "\xa0\u202f\u2007" else "\u3000" if character == "\u3000" else " "
    if unicodedata.category(character) == "Cf" and not scripts.extends(character):
        return character if character in MARKS else ""
    known = character in faces()[REGULAR].plain or scripts.face_of(character, REGULAR)
    return character if known and code >= 0x20 else STAND_IN


def clean(text: str) -> tuple[str, tuple[str, ...]]:
    """`text` as it can be printed, and the characters that had to be replaced, in order of appearance."""
    if text.isascii() and text.isprintable():
        return text, ()
    text = unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n"))
    if faces()[REGULAR].plain.issuperset(text) and text.isprintable():
        return text, ()
    missing: dict[str, None] = {}
    turned = runs_rightward(text)
    out = []
    for part, whole in scripts.parts(text, faces()[REGULAR].stretch):
        if whole or part == "\n":
            out.append(part)
            continue
        printed, lost = _drawn(part) if len(part) > 1 else _alone(part)
        missing.update(dict.fromkeys(lost))
        if turned or printed not in MARKS:
            out.append(printed)
    return "".join(out), tuple(missing)


@functools.lru_cache(maxsize=16384)
def _alone(character: str) -> tuple[str, tuple[str, ...]]:
    return _drawn(character)


def _drawn(grapheme: str) -> tuple[str, tuple[str, ...]]:
    """A letter with its marks as it can be drawn by one file, and what of it cannot."""
    first = _printable(grapheme[0])
    lost = [grapheme[0]] if first == STAND_IN != grapheme[0] else []
    kept, marks = first, 0
    stands = first not in ("", " ", "\xa0", STAND_IN) and not faces()[REGULAR].shows(first)
    for mark in grapheme[1:]:
        if scripts.invisible(mark):
            if stands:  # between plain letters it says nothing
                kept += mark
            continue
        marks += 1
        if kept and marks <= MOST_MARKS and scripts.face_of(kept + mark, REGULAR):
            kept += mark
        else:
            kept += STAND_IN
            lost.append(mark)
    return kept, tuple(lost)
