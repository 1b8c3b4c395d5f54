"""The faces of our papers, loaded once a process, and the characters that they can print.

Source Sans Pro carries the papers; FiraGO steps in for letters it lacks. A character that
neither can print rightly becomes '?' and is named in `Drawn.replaced`, never a silent box.
Hebrew and Arabic are shaped and turned by `rightward`. Two kinds are refused though a glyph exists: other scripts
that need shaping (ReportLab writes letters one by one), and characters beyond the basic plane (its character
map for copied text is wrong there).
"""

from __future__ import annotations

import functools
import unicodedata
from io import BytesIO
from pathlib import Path

import font_source_sans_pro
import pymupdf_fonts
from reportlab.pdfbase.ttfonts import TTFont

from shopdocs.documents.press.rightward import LETTERS

REGULAR, SEMIBOLD, ITALIC, FALLBACK = "R", "S", "I", "F"
FILES = {REGULAR: "Regular", SEMIBOLD: "Semibold", ITALIC: "It"}
STAND_IN = "?"
# Right-to-left and Brahmic blocks: correct print needs reordering or joined forms. What `rightward` can do is let through.
NEEDS_SHAPING = (
    (0x0590, 0x08FF),
    (0x0900, 0x0DFF),
    (0x0E80, 0x109F),
    (0x1780, 0x17FF),
    (0xFB1D, 0xFDFF),
    (0xFE70, 0xFEFE),
)


class Widths(dict[str, float]):
    """Advance of each character of one face in thousandths of the size, read on first use."""

    def __init__(self, chain: tuple[TTFont, ...]) -> None:
        super().__init__()
        self._chain = chain

    def __missing__(self, character: str) -> float:
        code = 0x20 if character == "\xa0" else ord(character)
        face = next((font.face for font in self._chain if code in font.face.charToGlyph), self._chain[0].face)
        width = float(face.charWidths.get(code, face.defaultWidth))
        self[character] = width
        return width


class Face:
    """One face: its ReportLab font, its widths, and which characters are its own."""

    def __init__(self, key: str, font: TTFont, others: tuple[TTFont, ...]) -> None:
        self.key, self.font = key, font
        self.own = frozenset(map(chr, font.face.charToGlyph)) | {"\xa0"}
        self.widths = Widths((font, *others))

    def width(self, text: str, size: float) -> float:
        """Printed width of `text` in points."""
        return sum(map(self.widths.__getitem__, text)) * size / 1000


@functools.cache
def faces() -> dict[str, Face]:
    """All faces by key. Reads the font files at the first call of a process."""
    home = Path(font_source_sans_pro.__file__).parent / "files"
    fonts = {
        key: TTFont(f"Shop{name}", str(home / f"SourceSansPro-{name}.ttf"), asciiReadable=True)
        for key, name in FILES.items()
    }
    fonts[FALLBACK] = TTFont("ShopFallback", BytesIO(pymupdf_fonts.myfont("figo")), asciiReadable=True)
    others = (fonts[FALLBACK], fonts[REGULAR])
    return {key: Face(key, font, others) for key, font in fonts.items()}


@functools.lru_cache(maxsize=65536)
def _printable(character: str) -> str:
    """The character itself, what may stand for it, '' if it is invisible, or '?'."""
    code = ord(character)
    if code & 0xFFFE == 0xFFFE:  # no character at all (Unicode 23.7), though a font may map it to its empty box
        return STAND_IN
    if character in "\t\v\f\x85\u2028\u2029" or unicodedata.category(character) == "Zs":
        return "\xa0" if character in "\xa0\u202f\u2007" else " "
    if unicodedata.category(character) == "Cf":
        return ""
    if character in LETTERS and character in faces()[FALLBACK].own:
        return character
    known = character in faces()[FALLBACK].own or character in faces()[REGULAR].own
    if not known or code > 0xFFFF or code < 0x20 or any(low <= code <= high for low, high in NEEDS_SHAPING):
        return STAND_IN
    return character


def clean(text: str) -> tuple[str, tuple[str, ...]]:
    """`text` as it can be printed, and the characters that had to be replaced, in order of appearance."""
    if text.isascii() and text.isprintable():
        return text, ()
    text = unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n"))
    missing: dict[str, None] = {}
    out = []
    for character in text:
        printed = character if character == "\n" else _printable(character)
        if printed == STAND_IN and character != STAND_IN:
            missing[character] = None
        out.append(printed)
    return "".join(out), tuple(missing)


def runs(key: str, text: str) -> list[tuple[str, str]]:
    """Clean `text` as (face key, piece) pairs: the asked face, else FiraGO, else the upright face."""
    own = faces()[key].own
    if text.isascii() or own.issuperset(text):
        return [(key, text)]
    out: list[tuple[str, str]] = []
    for character in text:
        chosen = key if character in own else FALLBACK if character in faces()[FALLBACK].own else REGULAR
        if out and out[-1][0] == chosen:
            out[-1] = (chosen, out[-1][1] + character)
        else:
            out.append((chosen, character))
    return out
