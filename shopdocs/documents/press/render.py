"""From marks to bytes: the one place that writes PDF."""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from io import BytesIO
from types import SimpleNamespace

from reportlab import rl_config
from reportlab.lib.rl_accel import escapePDF
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas

from shopdocs.documents.press import page as types
from shopdocs.documents.press.codes import MODULE, qr
from shopdocs.documents.press.errors import PressError
from shopdocs.documents.press.flow import FILL, OUTLINE, PICTURE, TEXT, Flow, Mark
from shopdocs.documents.press.fonts import faces, runs
from shopdocs.documents.press.sheets import Sheet

rl_config.useA85 = 0  # binary streams: pictures and fonts a fifth smaller


@dataclass(frozen=True)
class Drawn:
    """A finished paper. `replaced` names the characters that could not be printed and became '?'."""

    pdf: bytes
    pages: int
    sha256: str
    replaced: tuple[str, ...]


def foot_height(code: str) -> float:
    """Height of the footer that holds the QR code of `code`."""
    return max(qr(code)[0] * MODULE, 40.0)


def render(sheet: Sheet, flow: Flow, pictures: Mapping[str, bytes]) -> Drawn:
    """Draw the pages of `flow` with the footer of `sheet`. Raises PressError for a missing or broken picture."""
    flow.close()
    page = flow.page
    for number in range(len(flow.pages)):
        _footer(sheet, flow, number)
    out = BytesIO()
    canvas = _canvas(out, sheet, page)
    code_side, code_path = qr(sheet.code)
    code_mark = (
        f"q {MODULE} 0 0 {MODULE} {page.left} {page.bottom - 12 - code_side * MODULE:.2f} cm 0 g\n{code_path}\nf Q"
    )
    pen = _Pen(canvas, pictures)
    for at, marks in enumerate(flow.pages):
        named_here = [label for on, label in flow.outline if on == at]
        if named_here:
            canvas.bookmarkPage(f"page{at + 1}")
        for label in named_here:
            canvas.addOutlineEntry(label, f"page{at + 1}")
        pen.draw(marks)
        canvas.addLiteral(code_mark)
        canvas.showPage()
    canvas.save()
    pdf = out.getvalue()
    return Drawn(pdf, len(flow.pages), hashlib.sha256(pdf).hexdigest(), tuple(flow.replaced))


def _canvas(out: BytesIO, sheet: Sheet, page: types.Page) -> Canvas:
    for face in faces().values():
        if face.font.fontName not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(face.font)
    canvas = Canvas(
        out, pagesize=(page.width, page.height), pageCompression=1, invariant=1, lang=sheet.language,
        initialFontName=faces()["R"].font.fontName,
    )
    canvas.setTitle(f"{sheet.title} {sheet.number}")
    canvas.setAuthor(sheet.shop.name)
    canvas.setSubject(sheet.title)
    canvas.setCreator("Shopdocs")
    canvas.setViewerPreference("DisplayDocTitle", "true")
    _freeze_date(canvas, sheet.issued_on)
    return canvas


def _freeze_date(canvas: Canvas, day: date) -> None:
    """The file says it was made at noon UTC of the day of issue: no clock is read, so the bytes stay the same."""
    canvas._doc._timeStamp = SimpleNamespace(YMDhms=(day.year, day.month, day.day, 12, 0, 0), dhh=0, dmm=0)


def _footer(sheet: Sheet, flow: Flow, at: int) -> None:
    page, shop, marks = flow.page, sheet.shop, flow.pages[at]
    style = types.NOTE
    top = page.bottom - 12
    count = f"{flow.say('page')} {at + 1} {flow.say('of')} {len(flow.pages)}"
    x = max(page.main, page.left + foot_height(sheet.code) + 14)
    wide = page.right - x
    head = " · ".join(part for part in (shop.name, shop.phone, shop.email) if part)
    rows = [(flow.short(head, style, wide - 80), count), (named(sheet, flow), ""), (flow.short(sheet.code, style, wide), "")]
    marks.append((FILL, x, top + 5, wide, 0.6, types.HAIR, None))
    for left, right in rows:
        left = flow.short(left, style, wide - 80 if right else wide)
        marks.append((TEXT, x, top - style.drop, 0, 0, left, style))
        if right:
            start = page.right - faces()[style.face].width(right, style.size)
            marks.append((TEXT, start, top - style.drop, 0, 0, right, style))
        top -= style.leading


def named(sheet: Sheet, flow: Flow) -> str:
    """'Estimate E-1042 · version 2'."""
    version = f" · {flow.say('version')} {sheet.version}" if sheet.version else ""
    return f"{sheet.title} {sheet.number}{version}"


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


class _Pen:
    """Writes the marks of one document onto its canvas."""

    def __init__(self, canvas: Canvas, pictures: Mapping[str, bytes]) -> None:
        self._canvas, self._pictures = canvas, pictures
        self._names: dict[tuple[str, int], str] = {}

    def draw(self, marks: list[Mark]) -> None:
        """One page. Text marks that follow each other share a text object and what is already set."""
        code: list[str] = []
        in_text, tf, colour = False, "", ""
        for kind, x, y, width, height, text, style in marks:
            if style is not None:
                if not in_text:
                    code.append("BT")
                    in_text = True
                if style.colour != colour:
                    colour = style.colour
                    code.append(f"{_colour(colour)} rg")
                code.append(f"1 0 0 1 {x:.2f} {y:.2f} Tm")
                tf = self._show(code, text, style, tf)
                continue
            if in_text:
                code.append("ET")
                in_text = False
            if kind == PICTURE:
                self._canvas.addLiteral("\n".join(code))
                code.clear()
                self._canvas.drawImage(_jpeg(text, self._pictures), x, y, width, height)
            elif kind == OUTLINE:
                code.append(f"q {_colour(text)} RG 0.6 w {x:.2f} {y:.2f} {width:.2f} {height:.2f} re S Q")
            elif kind == FILL:
                if text != colour:
                    colour = text
                    code.append(f"{_colour(colour)} rg")
                code.append(f"{x:.2f} {y:.2f} {width:.2f} {height:.2f} re f")
        if in_text:
            code.append("ET")
        self._canvas.addLiteral("\n".join(code))

    def _show(self, code: list[str], text: str, style: types.Style, tf: str) -> str:
        """Append the operators that show `text`; returns the font setting now in force."""
        for key, piece in runs(style.face, text):
            # With asciiReadable, ASCII is its own code in subset 0 of each font: nothing to look up.
            if piece.isascii():
                parts = [(0, _ascii_show(piece))]
            else:
                split = faces()[key].font.splitString(piece, self._canvas._doc)
                parts = [(subset, f"({escapePDF(chunk)}) Tj") for subset, chunk in split]
            for subset, show in parts:
                wanted = f"{self._subset(key, subset)} {style.size} Tf"
                if wanted != tf:
                    tf = wanted
                    code.append(tf)
                code.append(show)
        return tf

    def _subset(self, key: str, subset: int) -> str:
        name = self._names.get((key, subset))
        if name is None:
            font, doc = faces()[key].font, self._canvas._doc
            font.splitString(" ", doc)  # the first call gives the font its state in this document
            name = self._names[key, subset] = font.getSubsetInternalName(subset, doc)
        return name


def _jpeg(key: str, pictures: Mapping[str, bytes]) -> _Jpeg:
    return _Jpeg(key, pictures[key])
