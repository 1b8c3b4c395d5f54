"""From marks to bytes: the one place that writes PDF."""

from __future__ import annotations

import hashlib
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from io import BytesIO
from types import SimpleNamespace
from typing import Any

from reportlab import rl_config
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas

from shopdocs.documents.press import page as types
from shopdocs.documents.press.archive import Enclosure, archive
from shopdocs.documents.press.codes import MODULE, qr
from shopdocs.documents.press.flow import FILL, TEXT, Flow
from shopdocs.documents.press.fonts import REGULAR, faces
from shopdocs.documents.press.pen import Pen
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.structure import ARTIFACT
from shopdocs.documents.press.values import apart

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


def render(sheet: Sheet, flow: Flow, pictures: Mapping[str, bytes], enclosed: Sequence[Enclosure] = ()) -> Drawn:
    """The finished paper: drawn, then tagged and made ready for the archive, with the files `enclosed` in it."""
    pdf = archive(write(sheet, flow, pictures), sheet, flow.root, enclosed)
    return Drawn(pdf, len(flow.pages), hashlib.sha256(pdf).hexdigest(), tuple(flow.replaced))


def write(sheet: Sheet, flow: Flow, pictures: Mapping[str, bytes]) -> bytes:
    """Draw the pages of `flow` with the footer of `sheet`. Every picture named by a mark must be in `pictures`."""
    flow.close()
    page = flow.page
    if flow.code_at is None:
        for number in range(len(flow.pages)):
            _footer(sheet, flow, number)
    out = BytesIO()
    canvas = _canvas(out, sheet, flow)
    code_side, code_path = qr(sheet.code)
    left, low, module = flow.code_at or (page.left, page.bottom - 12 - code_side * MODULE, MODULE)
    code_mark = f"q {module} 0 0 {module} {left} {low:.2f} cm 0 g\n{code_path}\nf Q"
    pen = Pen(canvas, pictures)
    bookmarks = deque(enumerate(flow.outline))
    for at, marks in enumerate(flow.pages):
        while bookmarks and bookmarks[0][1][0] == at:
            number, (_, top, label) = bookmarks.popleft()
            canvas.bookmarkPage(f"s{number}", fit="XYZ", left=0, top=top + 6, zoom=0)
            canvas.addOutlineEntry(label, f"s{number}")
        pen.draw(at, marks, code_mark)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _canvas(out: BytesIO, sheet: Sheet, flow: Flow) -> Canvas:
    page = flow.page
    for face in faces().values():
        if face.font.fontName not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(face.font)
    name: Any = faces()[REGULAR].font.fontName  # the stubs take it for a number
    canvas = Canvas(
        out,
        pagesize=(page.width, page.height),
        pageCompression=1,
        invariant=1,
        lang=sheet.language,
        initialFontName=name,
    )
    canvas.setTitle(flow.clean(f"{sheet.title} {sheet.number}"))
    canvas.setAuthor(flow.clean(sheet.shop.name))
    canvas.setSubject(flow.clean(sheet.title))
    canvas.setCreator("Shopdocs")
    canvas.setViewerPreference("DisplayDocTitle", "true")
    _freeze(canvas, sheet)
    return canvas


def _freeze(canvas: Canvas, sheet: Sheet) -> None:
    """Tie the file's date and identity to the sheet: noon UTC of the day of issue, and a digest of what names it.

    ReportLab takes both from the clock or the environment, and then the same sheet gives other bytes.
    """
    inside: Any = canvas
    document, day = inside._doc, sheet.issued_on
    document._timeStamp = SimpleNamespace(YMDhms=(day.year, day.month, day.day, 12, 0, 0), dhh=0, dmm=0)
    named = "\n".join((sheet.title, sheet.number, str(sheet.version), sheet.code, day.isoformat()))
    document.signature = hashlib.md5(named.encode("utf-8", "replace"), usedforsecurity=False)


def _footer(sheet: Sheet, flow: Flow, at: int) -> None:
    page, shop, marks = flow.page, sheet.shop, flow.pages[at]
    style = types.NOTE
    top = page.bottom - 12
    count = f"{flow.say('page')} {at + 1} {flow.say('of')} {len(flow.pages)}"
    x = max(page.main, page.left + foot_height(sheet.code) + 14)
    wide = page.right - x
    head = " · ".join(part for part in (apart(shop.name), shop.phone, shop.email) if part)
    rows = ((head, count), (named(sheet, flow), ""), (sheet.code, ""))
    marks.append((FILL, x, top + 5, wide, 0.6, types.HAIR, None, ARTIFACT))
    for left, right in rows:
        left = flow.short(left, style, wide - 80 if right else wide)
        marks.append((TEXT, x, top - style.drop, 0, 0, left, style, ARTIFACT))
        if right:
            right = flow.short(right, style, 80)
            start = page.right - faces()[style.face].width(right, style.size)
            marks.append((TEXT, start, top - style.drop, 0, 0, right, style, ARTIFACT))
        top -= style.leading


def named(sheet: Sheet, flow: Flow) -> str:
    """'Estimate E-1042 · version 2'."""
    version = f" · {flow.say('version')} {sheet.version}" if sheet.version else ""
    return f"{sheet.title} {sheet.number}{version}"
