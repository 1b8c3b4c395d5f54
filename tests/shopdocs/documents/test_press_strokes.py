"""Marks over pictures land where they were set, on the page, inside the picture, and in the words for who cannot see it."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from typing import Any

import pdfplumber
import pikepdf
import pytest

from shopdocs.documents.press.facts import PhotoMark
from shopdocs.documents.press.sheets import from_json, to_json
from shopdocs.documents.press.strokes import strokes
from tests import papers_samples as samples
from tests.papers_reading import faults, words_of
from warranty.papers import claim

MARKS = (
    PhotoMark(kind="arrow", x1=1000, y1=1000, x2=5000, y2=5000),
    PhotoMark(kind="circle", x1=5000, y1=5000, x2=7500, y2=5000),
    PhotoMark(kind="scale", x1=1000, y1=9000, x2=5000, y2=9000, length="12 mm"),
)


def marked(marks: tuple[PhotoMark, ...] = MARKS) -> Any:
    photos = tuple(replace(one, marks=marks if one.number == 4 else ()) for one in samples.PHOTOS)
    return claim.draw(samples.claim(photos=photos), samples.PICTURES)


def test_nothing_marked_draws_nothing() -> None:
    assert strokes((), (0, 0, 100, 100)) == ""


@pytest.mark.parametrize(
    ("mark", "start"),
    [
        (PhotoMark(kind="arrow", x1=0, y1=0, x2=10_000, y2=10_000), "10.00 220.00 m 110.00 20.00 l"),
        (PhotoMark(kind="circle", x1=5000, y1=5000, x2=7500, y2=5000), "85.00 120.00 m"),
        (PhotoMark(kind="scale", x1=0, y1=5000, x2=5000, y2=5000, length="1 cm"), "10.00 120.00 m 60.00 120.00 l"),
    ],
)
def test_picture_coordinates_become_points_of_the_page(mark: PhotoMark, start: str) -> None:
    told = strokes((mark,), (10, 20, 100, 200)).splitlines()
    assert told[0] == "1 G 3.4 w" and told[2] == "0 G 1.4 w"
    assert told[1] == told[3] and told[1].startswith(start) and told[1].endswith(" S")


def test_the_strokes_lie_on_their_picture() -> None:
    with pdfplumber.open(BytesIO(marked().pdf)) as document:
        found = [(page, curve) for page in document.pages for curve in page.curves]
        assert found, "the circle is there"
        for page, curve in found:
            assert any(
                i["x0"] - 1 <= curve["x0"]
                and curve["x1"] <= i["x1"] + 1
                and i["top"] - 1 <= curve["top"] <= i["bottom"]
                for i in page.images
            )
    assert faults(marked().pdf) == []


def test_words_say_what_is_drawn_and_the_picture_itself_is_untouched() -> None:
    drawn = marked()
    assert "Scale bar: 12 mm" in words_of(drawn.pdf)
    with pikepdf.open(BytesIO(drawn.pdf)) as document:
        told = [str(one.Alt) for one in document.objects if isinstance(one, pikepdf.Dictionary) and "/Alt" in one]
        assert sum("Scale bar: 12 mm; arrow; circle" in one for one in told) == 1
        inside = {bytes(i.read_raw_bytes()) for p in document.pages for i in p.get_images().values()}
    assert samples.PICTURES[samples.PHOTOS[3].sha256] in inside


def test_a_sheet_that_was_kept_before_there_were_marks_is_still_drawn() -> None:
    old = to_json(samples.claim())
    for photo in old["photos"]:
        del photo["marks"]
    assert from_json(claim.ClaimSheet, old) == samples.claim()
