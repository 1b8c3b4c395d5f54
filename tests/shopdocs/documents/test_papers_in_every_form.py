"""Every paper, short, long and absurd, in both languages and on both sizes, read back from the boxes of its words and pictures.

Nothing lies on anything else or outside the margins, no row is torn, and nothing stands alone at the head of a page.
"""

from __future__ import annotations

import re
from io import BytesIO
from typing import Any

import pdfplumber
import pytest
from reportlab.pdfgen.canvas import Canvas

from tests import papers_extremes as extremes
from tests import papers_samples as samples
from tests.papers_reading import faults, page_faults, words_of

LANGUAGES, SIZES = ("en", "es"), ("letter", "a4")
PAGED = [name for name in samples.ALL_PAPERS if name != "part tag"]
"""The tag is a label, with a test of its own."""
ABSURD = (("en", "letter"), ("es", "a4"))
"""These papers have a hundred pages and are slow to read: every second paper in one language and size, the rest in the other."""
ALONE = 3
"""Lines that a page must have at least, where what comes before had to turn it."""


def drawn(paper: str, form: str, language: str, size: str) -> tuple[Any, Any]:
    module, sheet = extremes.made(paper, form, language, size)
    return sheet, module.draw(sheet, extremes.pictures(sheet))


Body = tuple[list[dict[str, Any]], int]
"""The words of a page between its head and its foot, and how many pictures it has."""


def read(pdf: bytes) -> tuple[list[str], list[Body]]:
    """The faults of the paper, and the body of each page."""
    found: list[str] = []
    pages: list[Body] = []
    with pdfplumber.open(BytesIO(pdf)) as document:
        for page in document.pages:
            found += page_faults(page)
            told = page.extract_words()
            foot = max(word["top"] for word in told if word["text"].startswith("https://")) - 30
            head = 60 if page.page_number > 1 else 0
            pages.append(([word for word in told if head < word["top"] < foot], len(page.images)))
    return found, pages


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("form", ["short", "long"])
@pytest.mark.parametrize("paper", PAGED)
def test_a_paper_is_neat_short_and_long(paper: str, form: str, language: str, size: str) -> None:
    _, made = drawn(paper, form, language, size)
    found, pages = read(made.pdf)
    assert found == [] and made.replaced == ()
    for number, (told, pictures) in enumerate(pages, 1):
        lines = {round(word["top"]) for word in told if word["x0"] > 140}
        to_write_on = paper == "bench copy" and number == len(pages)
        assert pictures or to_write_on or len(lines) >= ALONE, f"page {number} of {len(pages)} is all but empty"
    torn(pages, at_least=2 if form == "long" else 1)


def torn(pages: list[Body], at_least: int) -> None:
    """Fails where a row's code and the end of its words stand on two pages, or a page has fewer rows than `at_least`."""
    codes = [[word["text"] for word in told if re.fullmatch(r"R\d{3}", word["text"])] for told, _ in pages]
    ends = [[word["text"][3:] for word in told if re.fullmatch(r"end\d{3}", word["text"])] for told, _ in pages]
    for here, ended in zip(codes, ends, strict=True):
        assert len(here) != 1 or at_least == 1 or here[0] == "R000", f"row {here} alone"
        both = {code[1:] for code in here} if here else set(ended)
        assert set(ended) <= both, f"torn: {sorted(set(ended) - both)}"


@pytest.mark.parametrize(
    ("paper", "language", "size"), [(paper, *ABSURD[at % len(ABSURD)]) for at, paper in enumerate(PAGED)]
)
def test_a_paper_stays_inside_and_legible_when_it_is_absurd(paper: str, language: str, size: str) -> None:
    sheet, made = drawn(paper, "absurd", language, size)
    assert faults(made.pdf) == []
    assert set(made.replaced) == {"ᚠ"}  # reported, not boxed
    assert made.pages > 15
    text = words_of(made.pdf).replace(" ", "")
    assert "<imgsrc='file:///etc/passwd'>" in text and "кириллица" in text
    shown = getattr(sheet, "photos", ())
    said = "Foto" if language == "es" else "Photo"
    assert all(f"{said}{photo.number}:View{photo.number}" in text for photo in shown)
    assert len(shown) in (0, 80)


@pytest.mark.parametrize("paper", ["claim", "condition report", "repair order", "repair summary"])
@pytest.mark.parametrize("size", SIZES)
def test_no_photo_stands_alone_on_a_page_if_another_can_stand_beside_it(paper: str, size: str) -> None:
    module, make = samples.ALL_PAPERS[paper]
    shots = [samples.photo(at, f"View {at}", "after", tall=at % 3 == 0) for at in range(1, 14)]
    given = {photo.sha256: data for photo, data in shots} | samples.PICTURES
    for count in range(1, 14):
        sheet = make(size, photos=tuple(photo for photo, _ in shots[:count]))
        with pdfplumber.open(BytesIO(module.draw(sheet, given).pdf)) as document:
            held = [len(page.images) for page in document.pages if page.images]
            left = [sorted(round(image["bottom"]) for image in page.images) for page in document.pages]
        assert sum(held) == count
        assert count == 1 or 1 not in held, f"{count} photos stand {held}"
        # Those of a row stand on one line, over their words.
        assert all(len({at for at in row if abs(at - row[0]) < 40}) == 1 for row in left if row), left


def test_what_is_wrong_with_a_page_is_seen() -> None:
    out = BytesIO()
    canvas = Canvas(out, pagesize=(612, 792))
    canvas.setFont("Helvetica", 10)
    for x, y, text in (
        (100, 500, "under"),
        (104, 503, "over"),
        (20, 400, "outside"),
        (300, 10, "low"),
        (300, 300, "good"),
    ):
        canvas.drawString(x, y, text)
    canvas.save()
    found = "; ".join(faults(out.getvalue()))
    for told in ("'outside' is outside", "'low' is outside", "'over' on 'under'"):
        assert told in found, found
    assert "good" not in found
    torn_row = [
        ([{"text": "R007"}, {"text": "R008"}], 0),
        ([{"text": "R009"}, {"text": "R010"}, {"text": "end007"}], 0),
    ]
    with pytest.raises(AssertionError, match="torn"):
        torn(torn_row, at_least=2)
    with pytest.raises(AssertionError, match="alone"):
        torn([([{"text": "R007"}], 0)], at_least=2)
