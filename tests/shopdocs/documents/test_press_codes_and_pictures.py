"""Codes are the library's modules, drawn; pictures are real, whole JPEGs or refused."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

import pypdf
import pytest
import zxingcpp
from PIL import Image, ImageDraw

from orders.papers import repair_order
from shopdocs.documents.press.codes import LONGEST, qr
from shopdocs.documents.press.errors import PressError
from tests import papers_samples as samples


@pytest.mark.parametrize("text", ["x", "https://desk.brindlehollow.example/r/e-1042", "k" * LONGEST])
def test_the_rectangles_of_a_code_read_back(text: str) -> None:
    side, path = qr(text)
    image = Image.new("L", ((side + 8) * 4, (side + 8) * 4), 255)
    pen = ImageDraw.Draw(image)
    for line in path.splitlines():
        x, y, w, h = (int(part) for part in line.split()[:4])
        top = side - y - h
        pen.rectangle(((x + 4) * 4, (top + 4) * 4, (x + w + 4) * 4 - 1, (top + h + 4) * 4 - 1), fill=0)
    assert [code.text for code in zxingcpp.read_barcodes(image)] == [text]


@pytest.mark.parametrize("text", ["", "k" * (LONGEST + 1), "Größe", "two\nlines"])
def test_a_code_that_no_scanner_would_read_is_refused(text: str) -> None:
    with pytest.raises(PressError, match="code"):
        qr(text)


def jpeg(mode: str) -> bytes:
    out = BytesIO()
    Image.new(mode, (40, 30)).save(out, "JPEG")
    return out.getvalue()


def png() -> bytes:
    out = BytesIO()
    Image.new("RGB", (40, 30)).save(out, "PNG")
    return out.getvalue()


GOOD = samples.PICTURES[samples.PHOTOS[0].sha256]


@pytest.mark.parametrize(
    "data, told",
    [
        (None, "no picture was given"),
        (b"", "not a readable JPEG"),
        (png(), "not a readable JPEG"),
        (GOOD[: len(GOOD) // 2], "cut off"),
        (jpeg("CMYK"), "colour mode CMYK"),
        (b"%!PS-Adobe-3.0", "not a readable JPEG"),
    ],
)
def test_a_picture_that_would_not_be_seen_is_refused(data: bytes | None, told: str) -> None:
    key = samples.PHOTOS[0].sha256
    given = {other: value for other, value in samples.PICTURES.items() if other != key}
    if data is not None:
        given[key] = data
    with pytest.raises(PressError, match=f"photo 1: .*{told}"):
        repair_order.draw(samples.repair_order(), given)


def test_a_picture_goes_into_the_paper_byte_for_byte_and_once() -> None:
    twice = replace(samples.PHOTOS[0], number=9, caption="The same again")
    drawn = repair_order.draw(samples.repair_order(photos=(samples.PHOTOS[0], twice)), samples.PICTURES)
    assert drawn.pdf.count(GOOD) == 1
    shown = [image for page in pypdf.PdfReader(BytesIO(drawn.pdf)).pages for image in page.images]
    assert {image.image.size for image in shown if image.image} == {(1000, 750)}


def test_grey_pictures_print() -> None:
    key = samples.PHOTOS[0].sha256
    drawn = repair_order.draw(samples.repair_order(photos=samples.PHOTOS[:1]), {key: jpeg("L")})
    assert drawn.pages >= 3
