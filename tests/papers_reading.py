"""How the tests read a paper back: its words, the boxes of its words and pictures, its code from a raster."""

from __future__ import annotations

import re
from io import BytesIO
from typing import Any

import pdfplumber
import pypdf
import pypdfium2
import zxingcpp

MARGIN = 36.0
Box = tuple[float, float, float, float, str]


def words_of(pdf: bytes) -> str:
    """All text in reading order, white space drawn together."""
    reader = pypdf.PdfReader(BytesIO(pdf))
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader.pages))


def page_words(pdf: bytes) -> list[str]:
    """The text of each page, white space drawn together."""
    reader = pypdf.PdfReader(BytesIO(pdf))
    return [re.sub(r"\s+", " ", page.extract_text()) for page in reader.pages]


def seen(pdf: bytes) -> list[str]:
    """The lines of text as the eye meets them, from left to right."""
    with pdfplumber.open(BytesIO(pdf)) as document:
        return [line["text"] for page in document.pages for line in page.extract_text_lines()]


def faults(pdf: bytes) -> list[str]:
    """What lies outside the margins, and which words or pictures lie on each other."""
    with pdfplumber.open(BytesIO(pdf)) as document:
        return [fault for page in document.pages for fault in page_faults(page)]


def page_faults(page: Any) -> list[str]:
    """The faults of one page of pdfplumber's."""
    found: list[str] = []
    boxes = _boxes(page)
    for x0, top, x1, bottom, told in boxes:
        if x0 < MARGIN or x1 > page.width - MARGIN or top < MARGIN - 6 or bottom > page.height - MARGIN + 6:
            found.append(f"page {page.page_number}: {told!r} is outside the margins")
    found += [f"page {page.page_number}: {one!r} on {two!r}" for one, two in _overlaps(boxes)]
    return found + [f"page {page.page_number}: {told!r} beside the page" for told in _lost(page)]


def _boxes(page: Any) -> list[Box]:
    words = page.extract_words(keep_blank_chars=False, use_text_flow=True)
    boxes = [(w["x0"], w["top"], w["x1"], w["bottom"], w["text"]) for w in words]
    boxes += [(i["x0"], i["top"], i["x1"], i["bottom"], "picture") for i in page.images]
    return boxes


def _overlaps(boxes: list[Box]) -> list[tuple[str, str]]:
    """Pairs that share more than a point each way. Sorted by their tops, so that few pairs are looked at."""
    out = []
    ordered = sorted(boxes, key=lambda box: box[1])
    for at, one in enumerate(ordered):
        for two in ordered[at + 1 :]:
            if two[1] >= one[3] - 1:
                break
            if min(one[2], two[2]) - max(one[0], two[0]) > 1 and min(one[3], two[3]) - two[1] > 1:
                out.append((one[4], two[4]))
    return out


def _lost(page: Any) -> list[str]:
    return [
        c["text"]
        for c in page.chars
        if c["x0"] < 0 or c["x1"] > page.width or c["top"] < 0 or c["bottom"] > page.height
    ]


def codes_of(pdf: bytes, dpi: int = 150) -> list[list[str]]:
    """What a scanner reads from each page, rastered at `dpi`."""
    out = []
    for page in pypdfium2.PdfDocument(pdf):
        raster = page.render(scale=dpi / 72, grayscale=True).to_pil()
        found = zxingcpp.read_barcodes(raster, formats=zxingcpp.BarcodeFormat.QRCode)
        out.append([code.text for code in found])
    return out
