"""Marks of a page as PDF operators: text, boxes, pictures."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from io import BytesIO
from typing import Any

from reportlab.lib.rl_accel import escapePDF
from reportlab.pdfgen.canvas import Canvas

from shopdocs.documents.press.embedding import Embedded
from shopdocs.documents.press.flow import FILL, OUTLINE, PICTURE, STROKES, TEXT, Mark
from shopdocs.documents.press.fonts import faces
from shopdocs.documents.press.page import Style
from shopdocs.documents.press.setting import SetLine
from shopdocs.documents.press.structure import ARTIFACT, Node


@functools.cache
def _colour(hex_colour: str) -> str:
    red, green, blue = (int(hex_colour[at : at + 2], 16) / 255 for at in (1, 3, 5))
    return f"{red:.4g} {green:.4g} {blue:.4g}"


@functools.lru_cache(maxsize=16384)
def _ascii_show(text: str) -> str:
    return f"({escapePDF(text)}) Tj"


class _Jpeg:
    """A JPEG as ReportLab takes a picture without decoding it: named by its key, read as it is."""

    def __init__(self, key: str, data: bytes) -> None:
        self._key, self._data = key, data

    def __str__(self) -> str:
        return self._key

    def jpeg_fh(self) -> BytesIO:
        """The file's bytes, for ReportLab's own reader of JPEG headers."""
        return BytesIO(self._data)


class Pen:
    """Writes the marks of one document onto its canvas."""

    def __init__(self, canvas: Canvas, pictures: Mapping[str, bytes]) -> None:
        self._canvas, self._pictures = canvas, pictures
        inside: Any = canvas
        self._doc = inside._doc
        self._code: list[str] = []
        self._names: dict[tuple[str, int], str] = {}
        self._embedded = Embedded(self._doc)

    def draw(self, page: int, marks: list[Mark], artifact: str) -> None:
        """One page; `artifact`: operators that end it, outside its structure (the code).

        Text marks that follow each other share a text object and what is already set. Each change of
        node ends one marked piece and begins the next; the node remembers (page, piece).
        """
        self._code = code = []
        tf, colour, pieces = "", "", 0
        in_text, owner = False, None
        for kind, x, y, width, height, text, style, node in marks:
            is_text = style is not None
            if node is not owner or is_text != in_text:
                self._end(owner is not None, in_text)
                if is_text:
                    code.append("BT")
                pieces = self._begin(node, page, pieces)
                owner, in_text = node, is_text
            shade = text if style is None else style.colour
            if shade != colour and kind in (TEXT, FILL):
                colour = shade
                code.append(f"{_colour(colour)} rg")
            if style is not None:
                code.append(f"1 0 0 1 {x:.2f} {y:.2f} Tm")
                tf = self._show(text, style, tf)
            elif kind == PICTURE:
                self._flush()
                self._canvas.drawImage(_Jpeg(text, self._pictures[text]), x, y, width, height)
            elif kind == STROKES:
                code.append(f"q {x:.2f} {y:.2f} {width:.2f} {height:.2f} re W n 1 j 1 J\n{text}\nQ")
            elif kind == OUTLINE:
                code.append(f"q {_colour(text)} RG 0.6 w {x:.2f} {y:.2f} {width:.2f} {height:.2f} re S Q")
            else:
                code.append(f"{x:.2f} {y:.2f} {width:.2f} {height:.2f} re f")
        self._end(owner is not None, in_text)
        code.append(f"/Artifact BMC\n{artifact}\nEMC")
        self._flush()

    def _begin(self, node: Node, page: int, pieces: int) -> int:
        if node is ARTIFACT:
            self._code.append("/Artifact BMC")
            return pieces
        node.kids.append((page, pieces))
        self._code.append(f"/{node.tag} <</MCID {pieces}>> BDC")
        return pieces + 1

    def _end(self, begun: bool, in_text: bool) -> None:
        if begun:
            self._code.append("EMC\nET" if in_text else "EMC")

    def _flush(self) -> None:
        self._canvas.addLiteral("\n".join(self._code))
        self._code.clear()

    def _show(self, text: str, style: Style, tf: str) -> str:
        """Append the operators that show `text`; returns the font setting now in force."""
        for piece in text.pieces if type(text) is SetLine else (text,):
            for name, show in self._plain(piece, style.face) if isinstance(piece, str) else self._embedded.show(piece):
                wanted = f"{name} {style.size} Tf"
                if wanted != tf:
                    tf = wanted
                    self._code.append(tf)
                self._code.append(show)
        return tf

    def _plain(self, text: str, key: str) -> list[tuple[str, str]]:
        """Pairs of a font's name and the operator that shows letters of it, for plain letters of the face `key`."""
        # With asciiReadable, ASCII is its own code in subset 0 of each font: nothing to look up.
        if text.isascii():
            return [(self._subset(key, 0), _ascii_show(text))]
        split = faces()[key].font.splitString(text, self._doc)
        return [(self._subset(key, subset), f"({escapePDF(chunk)}) Tj") for subset, chunk in split]

    def _subset(self, key: str, subset: int) -> str:
        name = self._names.get((key, subset))
        if name is None:
            font, doc = faces()[key].font, self._doc
            font.splitString(" ", doc)  # the first call gives the font its state in this document
            name = self._names[key, subset] = font.getSubsetInternalName(subset, doc)
        return name
