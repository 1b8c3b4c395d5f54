"""Signatures drawn on a screen: what is one, and what is not."""

from __future__ import annotations

from io import BytesIO

import pytest
from PIL import Image, ImageDraw

from shopdocs.documents.photos.refusal import PictureRefused
from shopdocs.documents.photos.signature import LIMITS, MOST_POINTS, drawn, examine_signature

LINE = [(20, 60), (90, 20), (160, 70), (280, 40)]


def png(image: Image.Image) -> bytes:
    out = BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def test_strokes_become_the_same_picture_every_time() -> None:
    made = drawn([LINE, [(300, 50), (340, 90)]], width=400, height=120)
    assert made == drawn([LINE, [(300, 50), (340, 90)]], width=400, height=120)
    seen = examine_signature(made)
    assert (seen.kind, seen.width, seen.height) == ("png", 400, 120)
    with Image.open(BytesIO(made)) as image:
        assert image.getpixel((20, 60)) == 0
        assert image.getpixel((390, 10)) == 255


def test_ink_on_a_clear_sheet_counts() -> None:
    clear = Image.new("RGBA", (300, 100), (255, 255, 255, 0))
    ImageDraw.Draw(clear).line(LINE, fill=(0, 0, 80, 255), width=3)
    assert examine_signature(png(clear)).kind == "png"


def with_ink(*box: int) -> bytes:
    """A white sheet with black from (left, top) to (right, bottom), both drawn."""
    sheet = Image.new("L", (300, 100), 255)
    ImageDraw.Draw(sheet).rectangle(box, fill=0)
    return png(sheet)


def test_a_short_stroke_is_one_and_a_speck_is_none() -> None:
    assert examine_signature(with_ink(10, 50, 17, 50)).kind == "png"
    assert examine_signature(with_ink(10, 50, 10, 57)).kind == "png"
    for box in ((10, 50, 10, 50), (10, 50, 16, 56)):
        with pytest.raises(PictureRefused, match="speck"):
            examine_signature(with_ink(*box))


@pytest.mark.parametrize(
    "data, problem",
    [
        (b"", "is empty"),
        (png(Image.new("L", (300, 100), 255)), "nothing is drawn"),
        (png(Image.new("RGBA", (300, 100), (0, 0, 0, 0))), "nothing is drawn"),
        (png(Image.new("L", (2001, 2000), 255)), "million are taken"),
        (drawn([LINE], width=400, height=120)[:-20], "cut off"),
        (b"\xff\xd8\xff\xe0" + b"0" * 100, "is no PNG"),
        (b"<svg xmlns='x'/>", "is no PNG"),
        (b"\x89PNG\r\n\x1a\n" + b"0" * 50_000_000, "50.1 MB; at most 1 MB"),
    ],
    ids=["empty", "white", "clear", "huge", "cut", "jpeg", "svg", "50 MB"],
)
def test_what_is_no_signature_is_refused_with_words(data: bytes, problem: str) -> None:
    with pytest.raises(PictureRefused, match=problem) as refused:
        examine_signature(data, declared_name="sign.png")
    assert refused.value.remedy
    assert LIMITS.max_bytes == 1_000_000


@pytest.mark.parametrize(
    "strokes, size, field",
    [
        ([], (400, 120), "strokes"),
        ([[(5, 5)], [(9, 9), (9, 9)]], (400, 120), "strokes"),
        ([[(5, 5), (401, 9)]], (400, 120), "strokes"),
        ([[(5, -1), (40, 9)]], (400, 120), "strokes"),
        ([[(x % 400, 5) for x in range(MOST_POINTS + 1)]], (400, 120), "strokes"),
        ([LINE], (400, 39), "width"),
        ([LINE], (2001, 120), "width"),
    ],
)
def test_strokes_that_are_none(strokes: list[list[tuple[int, int]]], size: tuple[int, int], field: str) -> None:
    with pytest.raises(PictureRefused) as refused:
        drawn(strokes, width=size[0], height=size[1])
    assert refused.value.field == field
