"""The letters of `scripts` inside a paper: fonts of its own, with a glyph for each letter as it stands there, its marks on it.

A code stands for one character (ToUnicode, ISO 32000-2, 9.10.3), so that whoever copies or searches the paper finds its
letters in reading order, however they are drawn: what joins them is drawn by the code of the first. Composite fonts of two bytes a code
(9.7), TrueType outlines (9.9), everything embedded and nothing that a reader must look for elsewhere.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from typing import Any

from reportlab.pdfbase import pdfdoc
from reportlab.pdfbase.ttfonts import TTFontMaker

from shopdocs.documents.press.scripts import UNITS, Cluster, Contour, outline

MOST = 0xFFFF
"""Glyphs of one font; a paper that shows more gets another."""
ASCENT, DESCENT, CAPITALS = 984, -273, 660
"""Of Source Sans Pro, which these letters stand beside, in thousandths of the size."""
ON, SHORT_X, SHORT_Y, SAME_X, SAME_Y = 1, 2, 4, 16, 32
"""Flags of a point (OpenType, glyf)."""
BLOCK = 100
"""Entries of one block of a character map, at the most (ISO 32000-2, 9.7.5)."""


class Embedded:
    """The clusters of one document, in the order in which they are first shown, as fonts that end up in it."""

    def __init__(self, document: Any) -> None:
        self._document = document
        self._codes: dict[Cluster, int] = {}
        self._fonts: list[_Font] = []

    def show(self, clusters: Sequence[Cluster]) -> list[tuple[str, str]]:
        """Pairs of a font's name and the operator that shows codes of it, in order."""
        out: list[tuple[str, str]] = []
        for cluster in clusters:
            number = self._codes.get(cluster)
            if number is None:
                number = self._codes[cluster] = len(self._codes)
                self._font(number // MOST).clusters.append(cluster)
            name, code = f"/{self._fonts[number // MOST].name}", f"{number % MOST + 1:04X}"
            if out and out[-1][0] == name:
                out[-1] = (name, out[-1][1] + code)
            else:
                out.append((name, code))
        return [(name, f"<{codes}> Tj") for name, codes in out]

    def _font(self, number: int) -> _Font:
        if number == len(self._fonts):
            self._fonts.append(_Font(number))
            self._document.delayedFonts.append(self._fonts[number])
        return self._fonts[number]


class _Font:
    """One font as ReportLab asks for it when the document is finished."""

    def __init__(self, number: int) -> None:
        self.name, self.clusters = f"X{number}", list[Cluster]()
        self.fontName = f"{'ABCDEFGHIJKLMNOPQRSTUVWXYZ'[number % 26] * 6}+ShopScripts{number or ''}"

    def addObjects(self, document: Any) -> None:
        """Put the font and all that it names into the document. The name is ReportLab's."""
        glyphs = [outline(cluster) for cluster in self.clusters]
        advances = [0, *(max(0, cluster.advance) for cluster in self.clusters)]
        box, file = font_file([[], *glyphs], advances)
        name = pdfdoc.PDFName(self.fontName)
        descriptor = pdfdoc.PDFDictionary(
            {
                "Type": "/FontDescriptor",
                "FontName": name,
                "Flags": 4,
                "FontBBox": pdfdoc.PDFArray(box),
                "ItalicAngle": 0,
                "Ascent": ASCENT,
                "Descent": DESCENT,
                "CapHeight": CAPITALS,
                "StemV": 80,
                "FontFile2": self._stream(document, "file", file, {"Length1": len(file)}),
                "CIDSet": self._stream(document, "set", _all_of(len(advances))),
            }
        )
        letters = pdfdoc.PDFDictionary(
            {
                "Type": "/Font",
                "Subtype": "/CIDFontType2",
                "BaseFont": name,
                "CIDSystemInfo": pdfdoc.PDFDictionary(
                    {"Registry": pdfdoc.PDFString("Adobe"), "Ordering": pdfdoc.PDFString("Identity"), "Supplement": 0}
                ),
                "FontDescriptor": document.Reference(descriptor, f"{self.name} descriptor"),
                "DW": 0,
                "W": pdfdoc.PDFArray([0, pdfdoc.PDFArray(advances)]),
                "CIDToGIDMap": "/Identity",
            }
        )
        whole = pdfdoc.PDFDictionary(
            {
                "Type": "/Font",
                "Subtype": "/Type0",
                "BaseFont": name,
                "Encoding": "/Identity-H",
                "DescendantFonts": pdfdoc.PDFArray([document.Reference(letters, f"{self.name} letters")]),
                "ToUnicode": self._stream(document, "map", _unicode_map(self.clusters)),
            }
        )
        document.idToObject["BasicFonts"].dict[self.name] = document.Reference(whole, f"{self.name} font")

    def _stream(self, document: Any, what: str, data: bytes, more: dict[str, Any] | None = None) -> Any:
        stream = pdfdoc.PDFStream(content=data, filters=[pdfdoc.PDFZCompress])
        for key, value in (more or {}).items():
            stream.dictionary[key] = value
        return document.Reference(stream, f"{self.name} {what}")


def _all_of(count: int) -> bytes:
    """A bit for each code, the first one highest: all of them are here (ISO 19005-1, 6.3.5)."""
    bits = (1 << count) - 1 << (-count % 8)
    return bits.to_bytes((count + 7) // 8, "big")


def _unicode_map(clusters: Sequence[Cluster]) -> bytes:
    rows = [
        f"<{at:04X}> <{cluster.text.encode('utf-16-be').hex().upper()}>" for at, cluster in enumerate(clusters, start=1)
    ]
    blocks = [rows[at : at + BLOCK] for at in range(0, len(rows), BLOCK)]
    told = "\n".join(line for block in blocks for line in (f"{len(block)} beginbfchar", *block, "endbfchar"))
    return (
        "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n"
        "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n"
        "/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n"
        f"1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n{told}\n"
        "endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend"
    ).encode("ascii")


def font_file(glyphs: Sequence[Sequence[Contour]], advances: Sequence[int]) -> tuple[list[int], bytes]:
    """A TrueType file of these outlines, without names or characters, and the box around them all. Glyph 0 is the missing one."""
    packed, boxes = zip(*map(_glyph, glyphs), strict=True)
    drawn = [box for box in boxes if box != (0, 0, 0, 0)] or [(0, 0, 0, 0)]
    least, lowest, most, highest = (pick(box[at] for box in drawn) for at, pick in enumerate((min, min, max, max)))
    points = max((sum(map(len, contours)) for contours in glyphs), default=0)
    starts = [0]
    for one in packed:
        starts.append(starts[-1] + len(one))
    widest = max(advances, default=0)
    right = min((wide - box[2] for wide, box in zip(advances, boxes, strict=True)), default=0)
    made = TTFontMaker()
    made.add("glyf", b"".join(packed) or b"\0\0\0\0")
    made.add("loca", struct.pack(f">{len(starts)}L", *starts))
    made.add("hmtx", b"".join(struct.pack(">Hh", wide, box[0]) for wide, box in zip(advances, boxes, strict=True)))
    made.add(
        "hhea",
        struct.pack(
            ">LhhhHhhhhhhhhhhhH",
            0x10000,
            ASCENT,
            DESCENT,
            0,
            widest,
            least,
            right,
            most,
            1,
            0,
            0,
            0,
            0,
            0,
            0,
            0,
            len(glyphs),
        ),
    )
    contours = max(map(len, glyphs), default=0)
    made.add("maxp", struct.pack(">LHHHHHHHHHHHHHH", 0x10000, len(glyphs), points, contours, 0, 0, 1, *[0] * 8))
    made.add(
        "head",
        struct.pack(
            ">LLLLHHqqhhhhHHhhh", 0x10000, 0x10000, 0, 0x5F0F3CF5, 0b1011, UNITS, 0, 0, least, lowest, most, highest, 0, 8, 2, 1, 0
        ),
    )  # fmt: skip
    return [least, lowest, most, highest], made.makeStream()


Box = tuple[int, int, int, int]


def _glyph(contours: Sequence[Contour]) -> tuple[bytes, Box]:
    """One simple glyph and its box; no bytes for an empty one."""
    points = [point for contour in contours for point in contour]
    if not points:
        return b"", (0, 0, 0, 0)
    across, upwards = [x for x, _, _ in points], [y for _, y, _ in points]
    box = (min(across), min(upwards), max(across), max(upwards))
    ends, count = [], -1
    for contour in contours:
        count += len(contour)
        ends.append(count)
    flags, xs, ys = bytearray(), bytearray(), bytearray()
    before_x = before_y = 0
    for x, y, on in points:
        flag = (ON if on else 0) | _step(x - before_x, SHORT_X, SAME_X, xs) | _step(y - before_y, SHORT_Y, SAME_Y, ys)
        flags.append(flag)
        before_x, before_y = x, y
    head = struct.pack(f">hhhhh{len(ends)}HH", len(contours), *box, *ends, 0)
    data = head + flags + xs + ys
    return data + b"\0" * (-len(data) % 4), box


def _step(by: int, short: int, same: int, out: bytearray) -> int:
    """Append a point's step in one direction; its flags."""
    if by == 0:
        return same
    if -256 < by < 256:
        out.append(abs(by))
        return short | (same if by > 0 else 0)
    out += struct.pack(">h", by)
    return 0
