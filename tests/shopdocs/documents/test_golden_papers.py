"""Each paper in each language against the text and layout that somebody has looked at.

A golden file lists, page by page, where each run of words stands (left edge and top, in steps of three points), its size
in points, and the words; and each picture with its size. `UPDATE_GOLDEN=1` writes them anew: read the diff, and look at
the paper, before it is committed.
"""

from __future__ import annotations

import difflib
import os
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import pdfplumber
import pytest

from orders.papers import invoice
from tests import papers_samples as samples
from tests.papers_extremes import spoken

GOLDEN = Path(__file__).parent / "golden"
LANGUAGES = ("en", "es")
STEP = 3
BETWEEN = 5.0
"""Points between two runs of words that stand in one line."""


def layout(pdf: bytes) -> list[str]:
    """The lines of a golden file."""
    told = []
    with pdfplumber.open(BytesIO(pdf)) as document:
        for page in document.pages:
            told.append(f"page {page.page_number} of {len(document.pages)}, {page.width:.0f} x {page.height:.0f}")
            runs = page.extract_words(keep_blank_chars=True, extra_attrs=["size"], x_tolerance=BETWEEN)
            marks = [(run["top"], run["x0"], f"{run['size']:4.1f}  {run['text'].strip()}") for run in runs]
            marks += [
                (image["top"], image["x0"], f" pic  {_stepped(image['width'])} x {_stepped(image['height'])}")
                for image in page.images
            ]
            for top, left, words in sorted((_stepped(top), _stepped(left), words) for top, left, words in marks):
                told.append(f"{left:4} {top:4}  {words}")
    return told


def _stepped(points: float) -> int:
    return round(points / STEP) * STEP


def drawn(name: str, language: str) -> list[str]:
    module, make = samples.ALL_PAPERS[name]
    return layout(module.draw(spoken(make(), language), samples.PICTURES).pdf)


def compared(path: Path, now: list[str]) -> str:
    """A unified diff from the golden file to what is drawn now; '' when they are the same."""
    before = path.read_text("utf-8").splitlines() if path.exists() else []
    return "\n".join(difflib.unified_diff(before, now, f"{path.name} (golden)", "drawn now", lineterm="", n=2))


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", samples.ALL_PAPERS)
def test_a_paper_looks_as_it_was_approved(name: str, language: str) -> None:
    path = GOLDEN / f"{name.replace(' ', '_')}.{language}.txt"
    now = drawn(name, language)
    if os.environ.get("UPDATE_GOLDEN"):
        path.parent.mkdir(exist_ok=True)
        path.write_text("\n".join(now) + "\n", "utf-8")
    difference = compared(path, now)
    assert not difference, f"{difference}\n\nLook at the paper; UPDATE_GOLDEN=1 writes the file anew."


def test_every_golden_file_is_some_papers() -> None:
    wanted = {f"{name.replace(' ', '_')}.{language}.txt" for name in samples.ALL_PAPERS for language in LANGUAGES}
    assert {path.name for path in GOLDEN.iterdir()} == wanted


def test_a_change_is_told_line_by_line() -> None:
    path = GOLDEN / "invoice.en.txt"
    sheet: Any = spoken(samples.invoice(), "en")
    jobs = (replace(sheet.jobs[0], title="Fit ignition module"), *sheet.jobs[1:])
    changed = compared(path, layout(invoice.draw(replace(sheet, jobs=jobs), {}).pdf)).splitlines()
    moved = [line for line in changed if line[:1] in "+-" and not line.startswith(("+++", "---"))]
    assert [line[:1] for line in moved] == ["-", "+"]
    assert "11.0  Replace ignition module" in moved[0] and "11.0  Fit ignition module" in moved[1]
    longer = (replace(sheet.jobs[0], correction="word " * 60), *sheet.jobs[1:])
    assert len(compared(path, layout(invoice.draw(replace(sheet, jobs=longer), {}).pdf)).splitlines()) > 10
