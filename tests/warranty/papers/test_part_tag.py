"""The tag of a failed part: one label, its facts, and a code that a scanner reads at 150 dots an inch."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from typing import Any

import pdfplumber
import pytest

from tests import papers_samples as samples
from tests.papers_reading import codes_of, words_of
from warranty.papers import part_tag

LONG: dict[str, Any] = {
    "part": "P" * 400,
    "distributor": "D" * 400,
    "unit": replace(samples.SAW, maker="M" * 400, serial="S" * 400),
    "number": "PH-" + "9" * 37,
    "shop": replace(samples.SHOP, name="Shop " * 80),
    "code": "https://desk.brindlehollow.example/api/v1/parts-holds/00000000-0000-0000-0000-000000000000/",
}


def test_a_tag_says_what_is_kept_for_which_claim_and_until_when() -> None:
    drawn = part_tag.draw(samples.part_tag(), {})
    assert drawn.pages == 1
    text = words_of(drawn.pdf)
    for fact in (
        "Brindle Hollow Power Equipment",
        "Failed part PH-0088",
        "Do not throw away, use or return it without a release.",
        "1 x failed Ignition module (KL-30-1182), failed first",
        "Kestrelline KL-462 · KL7-0049218",
        "Keep until: 24 Dec 2026",
        "Claim: W-0412",
        "Repair order: RO-2231",
        "Distributor: Northfell Distribution",
    ):
        assert fact in text, fact
    assert drawn == part_tag.draw(samples.part_tag(), {})
    assert "Keep until: not known" in words_of(part_tag.draw(samples.part_tag(keep_until=None), {}).pdf)


LONG_CODE = {**LONG, "part": "Module " * 57, "code": f"https://desk.brindlehollow.example/{'p/' * 82}q"}


@pytest.mark.parametrize("changes", [{}, LONG, LONG_CODE])
def test_a_tag_is_one_label_with_nothing_over_its_edge_or_on_its_code(changes: dict[str, Any]) -> None:
    sheet = samples.part_tag(**changes)
    drawn = part_tag.draw(sheet, {})
    assert drawn.pages == 1
    assert codes_of(drawn.pdf) == [[sheet.code]]
    with pdfplumber.open(BytesIO(drawn.pdf)) as document:
        (page,) = document.pages
        assert (page.width, page.height) == (288, 216)
        code = [box for box in page.rects if box["width"] < 90 and box["x0"] > 100]
        left, top = min(box["x0"] for box in code), min(box["top"] for box in code)
        quiet = 4 * part_tag.MODULE  # ISO/IEC 18004: four modules stay white on each side
        right, bottom = max(box["x1"] for box in code), max(box["bottom"] for box in code)
        assert page.width - right >= quiet and page.height - bottom >= quiet
        for word in page.extract_words():
            assert word["x0"] >= 10 and word["x1"] <= 278 and word["top"] >= 10 and word["bottom"] <= 206, word
            assert word["x1"] <= left - quiet or word["bottom"] <= top - quiet, word


def test_an_ordinary_part_is_told_to_its_last_word_in_spanish_too() -> None:
    part = "1 × Ignition module, backpack (KL-30-1640), averiada; falló primero"
    machine = replace(samples.part_tag().unit, model="KL-63 Gale, backpack blower", serial="K2519-000913-0042-2026")
    told = words_of(part_tag.draw(samples.part_tag(part=part, unit=machine), {}).pdf).replace("\n", " ")
    assert part in told and "K2519-000913-0042-2026" in told and "…" not in told
