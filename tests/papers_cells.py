"""A paper read back by its structure: every paragraph and table row in reading order, its words from the page itself.

The tree comes from pikepdf, the words of each marked piece from PDFium, a reader that shares nothing with the press.
"""

from __future__ import annotations

import ctypes
import itertools
import json
from io import BytesIO
from typing import Any, NamedTuple

import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium

SAME_WORD = 0.6
"""Points between two pieces of one line that still belong to one word."""


class Told(NamedTuple):
    """A heading or paragraph (one text), or a row of a table (a text for each cell)."""

    tag: str
    texts: tuple[str, ...]


class Paper(NamedTuple):
    """What stands on a paper, and the facts that it carries."""

    told: list[Told]
    facts: dict[str, Any]

    def section(self, head: str) -> list[Told]:
        """What stands below the heading `head` and above the next of its level; nothing where there is none."""
        heads = [at for at, one in enumerate(self.told) if one.tag == "H2"] + [len(self.told)]
        found = next((at for at, place in enumerate(heads[:-1]) if self.told[place].texts == (head,)), None)
        return [] if found is None else self.told[heads[found] + 1 : heads[found + 1]]

    def text(self) -> str:
        return " ".join(text for one in self.told for text in one.texts)


def rows(told: list[Told], columns: int) -> list[tuple[str, ...]]:
    """The rows of tables of so many columns, without their heads."""
    return [one.texts for one in told if one.tag == "TR" and len(one.texts) == columns]


def sums(told: list[Told]) -> list[tuple[str, str]]:
    """What stands below the last table, two by two: a label and its amount."""
    last = max((at for at, one in enumerate(told) if one.tag == "TR"), default=-1)
    texts = [one.texts[0] for one in told[last + 1 :] if one.tag == "P"]
    return list(itertools.pairwise(texts))


def read_paper(pdf: bytes) -> Paper:
    """The paper by its structure tree, and its attached facts."""
    pieces = _pieces(pdf)
    with pikepdf.open(BytesIO(pdf)) as document:
        pages = {page.obj.objgen: at for at, page in enumerate(document.pages)}
        told: list[Told] = []
        _walk(document.Root.StructTreeRoot.K, pages, pieces, told)
        facts = json.loads(document.attachments["facts.json"].get_file().read_bytes())
    return Paper(told, facts)


def _walk(element: Any, pages: dict[Any, int], pieces: dict[tuple[int, int], str], told: list[Told]) -> None:
    tag = str(element.S)[1:]
    if tag == "TR":
        cells = list(element.K)
        if all(str(cell.S) == "/TD" for cell in cells):
            told.append(Told(tag, tuple(_text(cell, pages, pieces) for cell in cells)))
        return
    text = _text(element, pages, pieces)
    if text:
        told.append(Told(tag, (text,)))
    for kid in element.K:
        if isinstance(kid, pikepdf.Dictionary) and kid.get("/Type") == "/StructElem":
            _walk(kid, pages, pieces, told)


def _text(element: Any, pages: dict[Any, int], pieces: dict[tuple[int, int], str]) -> str:
    """The words of the pieces that an element owns itself."""
    found = []
    for kid in element.K:
        if isinstance(kid, int):
            found.append(pieces.get((pages[element.Pg.objgen], kid), ""))
        elif kid.get("/Type") == "/MCR":
            found.append(pieces.get((pages[kid.Pg.objgen], int(kid.MCID)), ""))
    return " ".join(text for text in found if text)


def _pieces(pdf: bytes) -> dict[tuple[int, int], str]:
    """Page and number of each marked piece -> its words, white space drawn together."""
    found: dict[tuple[int, int], list[str]] = {}
    edges: dict[tuple[int, int], tuple[float, float]] = {}
    document = pypdfium2.PdfDocument(pdf)
    try:
        for at, page in enumerate(document):
            words = page.get_textpage()
            for number in range(pdfium.FPDFPage_CountObjects(page.raw)):
                shape = pdfium.FPDFPage_GetObject(page.raw, number)
                if pdfium.FPDFPageObj_GetType(shape) != pdfium.FPDF_PAGEOBJ_TEXT:
                    continue
                piece = at, pdfium.FPDFPageObj_GetMarkedContentID(shape)
                left, low, right, high = _box(shape)
                edge, line = edges.get(piece, (left, low))
                near = abs(line - low) < high - low and left - edge < SAME_WORD
                found.setdefault(piece, []).append(("" if near else " ") + _words(shape, words.raw))
                edges[piece] = right, low
            words.close()
            page.close()
    finally:
        document.close()
    return {piece: " ".join("".join(texts).split()) for piece, texts in found.items()}


def _box(shape: Any) -> tuple[float, float, float, float]:
    edges = [ctypes.c_float() for _ in range(4)]
    pdfium.FPDFPageObj_GetBounds(shape, *edges)
    left, low, right, high = (edge.value for edge in edges)
    return left, low, right, high


def _words(shape: Any, page: Any) -> str:
    size = pdfium.FPDFTextObj_GetText(shape, page, None, 0)
    buffer = ctypes.create_string_buffer(size)
    pdfium.FPDFTextObj_GetText(shape, page, ctypes.cast(buffer, ctypes.POINTER(pdfium.FPDF_WCHAR)), size)
    return buffer.raw[: max(0, size - 2)].decode("utf-16-le")
