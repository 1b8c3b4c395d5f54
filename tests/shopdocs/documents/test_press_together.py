"""What stands together: no word and no row alone at the foot or head of a page, no heading without what it is a heading of.

Read from the boxes of the finished papers, for each length from one line to eighty.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from decimal import Decimal
from io import BytesIO
from typing import Any

import pdfplumber
import pytest

from orders.papers import credit_note, estimate, invoice, repair_summary
from shopdocs.documents.press import blocks
from shopdocs.documents.press.flow import PICTURE, Flow
from shopdocs.documents.press.page import BODY, LEAD, NOTE, SIDE, page_for
from shopdocs.documents.press.pictures import grid
from shopdocs.documents.press.tables import Column, Row, Table
from shopdocs.documents.press.words import words
from tests import papers_samples as samples
from tests.papers_extremes import spoken
from tests.papers_reading import page_words
from warranty.papers import claim

MAIN = 140.0
"""Left of this is the side column."""
Word = tuple[str, float, float]  # text, left edge, upper edge


def pages_of(pdf: bytes) -> list[list[Word]]:
    """The words of each page's main column above the footer, from top to bottom."""
    found = []
    with pdfplumber.open(BytesIO(pdf)) as document:
        for page in document.pages:
            kept = [(w["text"], w["x0"], w["top"]) for w in page.extract_words() if w["x0"] > MAIN]
            foot = min(top for text, _, top in kept if text.startswith("https://"))
            found.append([word for word in kept if word[2] < foot - 30])
    return found


def lines_with(page: list[Word], pattern: str) -> int:
    """How many lines of the page hold a word of this form."""
    return len({round(top) for text, _, top in page if re.fullmatch(pattern, text)})


def parted(pages: list[list[Word]], pattern: str) -> list[int]:
    """The number of such lines on each page that has any."""
    return [count for page in pages if (count := lines_with(page, pattern))]


def paper(count: int) -> bytes:
    """An estimate whose job has a note, labour and parts of `count` lines each."""
    job = replace(
        samples.CUSTOMER_JOBS[0],
        title="Heading of the job",
        found="\n".join(f"w{at}" for at in range(count)),
        labour=tuple(samples.labour(f"C-{at:04}", f"Step {at}", at % 70) for at in range(count)),
        parts=tuple(samples.part(f"P-{at:04}", f"Piece {at}", "1", "1.00") for at in range(count)),
        basis="",
    )
    return estimate.draw(samples.estimate(jobs=(job,), cautions=()), {}).pdf


@pytest.mark.parametrize("count", range(1, 81))
def test_no_line_and_no_row_stands_alone_on_a_page(count: int) -> None:
    pages = pages_of(paper(count))
    for pattern in (r"w\d+", r"C-\d{4}", r"P-\d{4}"):
        counts = parted(pages, pattern)
        assert sum(counts) == count, pattern
        assert len(counts) == 1 or min(counts) >= 2, f"{pattern}: {counts} of {count}"
    for page in pages:
        heading = [top for text, _, top in page if text == "Heading"]
        assert not heading or any(top > heading[0] + 12 for _, _, top in page), "a heading alone at the foot"
        for head, row in (("Labour", r"C-\d{4}"), ("Description", r"P-\d{4}")):
            if any(text == head for text, _, _ in page):
                assert lines_with(page, row) >= min(2, count), f"the head '{head}' with less than two rows"


def drawn_at(room: float, title: str, body: str, rows: int) -> Flow:
    """A flow with `room` points left on its first page, in which a heading and a body or a table are then placed."""
    flow = Flow(page_for("letter", "#112233", 50), words("en"), ("Shop", "Paper"))
    flow.section("Part")
    flow.paragraph("before")
    flow.y = flow.page.bottom + room
    flow.paragraph(title, LEAD)
    if body:
        flow.paragraph(body)
    if rows:
        Table(flow, (Column("Code", 40), Column("What", 0))).draw(
            [Row((f"r{at}", "x"), tail_note(at)) for at in range(rows)]
        )
    return flow


def tail_note(at: int) -> str:
    return "a note on the row" if at % 3 == 1 else ""


@pytest.mark.parametrize(
    ("body", "rows"), [("one line", 0), ("one\ntwo\nthree", 0), ("", 1), ("", 2), ("", 3), ("", 9)]
)
def test_a_heading_goes_along_with_what_it_heads(body: str, rows: int) -> None:
    for room in range(10, 160, 3):
        headed(room, body, rows)


def headed(room: int, body: str, rows: int) -> None:
    """Fails where a heading set `room` points above the foot loses what it heads."""
    flow = drawn_at(room, "Title", body, rows)
    told = [[text for kind, *_, text, style, _ in page if style is not None] for page in flow.pages]
    everything = Counter(text for page in told for text in page)
    assert everything["Title"] == 1
    where = next(at for at, page in enumerate(told) if "Title" in page)
    below = told[where][told[where].index("Title") + 1 :]
    assert below, "a heading with nothing below it"
    assert all(everything[word] == 1 for word in body.split("\n") if body)
    counts = [len([text for text in page if re.fullmatch(r"r\d", text)]) for page in told]
    assert sum(counts) == rows
    assert rows == 0 or min(count for count in counts if count) >= min(2, rows)
    if rows:
        assert re.search(r"r\d", " ".join(below)), "the heading stands over its table"


@pytest.mark.parametrize("payments", [0, 1, 2, 5, 9])
def test_the_sums_of_an_invoice_stand_on_one_page(payments: int) -> None:
    one = invoice.Payment(on=samples.invoice().issued_on, how="card", amount=Decimal("1.00"))
    for count in range(1, 44):
        job = replace(
            samples.invoice().jobs[0],
            labour=tuple(samples.labour(f"C-{at:04}", f"Step {at}", at % 70) for at in range(count)),
        )
        sheet = samples.invoice(jobs=(job,), payments=(one,) * payments, cautions=(), upkeep=(), terms=())
        flows = flow_of_sums(sheet)
        assert len(flows) == 1, f"{count} rows, {payments} payments: sums on {len(flows)} pages"


ENDS = {
    "invoice": (invoice, lambda n: samples.invoice(jobs=(_rows(samples.invoice().jobs[0], n),))),
    "estimate": (estimate, lambda n: samples.estimate(jobs=(_rows(samples.CUSTOMER_JOBS[0], n),), options=())),
    "repair summary": (
        repair_summary,
        lambda n: samples.repair_summary(watch=tuple(f"Thing {at}" for at in range(n)), photos=()),
    ),
    "credit note": (credit_note, lambda n: samples.credit_note(lines=samples.credit_note().lines[:1] * n)),
}


def _rows(job: Any, count: int) -> Any:
    return replace(job, labour=tuple(samples.labour(f"C-{at:04}", f"Step {at}", at % 70) for at in range(count)))


@pytest.mark.parametrize("name", ENDS)
@pytest.mark.parametrize("language", ["en", "es"])
def test_the_last_page_holds_more_than_a_paper_s_ending(name: str, language: str) -> None:
    module, made = ENDS[name]
    turned = 0
    for count in range(1, 31):
        pages = page_words(module.draw(spoken(made(count), language), {}).pdf)
        turned += len(pages) > 1
        say = words(language)
        heads = [
            head
            for head in map(
                say, ("Taken back", "Conditions", "Until next season", "Your answer", "Done", "Please watch")
            )
            if head in pages[-1]
        ]
        assert heads or len(pages) == 1, f"{count} lines: {pages[-1]}"
    assert turned


def flow_of_sums(sheet: invoice.InvoiceSheet) -> set[int]:
    """The pages on which 'Before tax', 'Total' and 'Due' stand."""
    kept: list[Flow] = []
    before = invoice.render
    invoice.render = lambda made, flow, *_: kept.append(flow)  # type: ignore[attr-defined, assignment, return-value]
    try:
        invoice.draw(sheet, {})
    finally:
        invoice.render = before  # type: ignore[attr-defined]
    return {
        at
        for at, page in enumerate(kept[0].pages)
        for *_, text, style, _ in page
        if style is not None and (text in ("Before tax", "Total") or text.startswith("Due "))
    }


def test_the_declaration_and_the_line_to_sign_share_a_page() -> None:
    for room in range(60, 260, 7):
        flow = Flow(page_for("letter", "#112233", 50), words("en"), ("Shop", "Paper"))
        flow.paragraph("before")
        flow.y = flow.page.bottom + room
        blocks.signature(flow, "Agreed", ["first " * 60, "last " * 60], "Pat")
        sign = next(at for at, page in enumerate(flow.pages) if any(m[5].startswith("Signature") for m in page if m[6]))
        lines = sum("last last" in m[5] for m in flow.pages[sign] if m[6])
        assert lines >= 2, f"room {room}: the line to sign stands without what is signed"


def test_a_note_is_split_in_two_lines_at_least() -> None:
    for style in (BODY, NOTE):
        for count in range(1, 12):
            for room in range(5, 120, 4):
                flow = Flow(page_for("letter", "#112233", 50), words("en"), ("Shop", "Paper"))
                flow.paragraph("before")
                flow.y = flow.page.bottom + room
                flow.paragraph("\n".join(f"w{at}" for at in range(count)), style)
                counts = [sum(bool(re.fullmatch(r"w\d+", m[5])) for m in page if m[6]) for page in flow.pages]
                assert sum(counts) == count
                assert [n for n in counts if n] == [count] or min(n for n in counts if n) >= 2, (count, room, counts)


def test_what_labour_is_paid_by_stands_over_its_lines_on_one_page() -> None:
    step = samples.claim().steps[0]
    for count in range(1, 26):
        lines = 1 + count % 3
        labour = samples.claim().labour[:1] * lines
        pages = page_words(claim.draw(samples.claim(steps=(step,) * count, labour=labour), samples.PICTURES).pdf)
        (where,) = (page for page in pages if "Rate an hour" in page)
        assert where.count(labour[0].code) == lines and "Labour expected" in where, f"{count} steps"


def test_photos_of_a_further_page_say_what_they_belong_to() -> None:
    for count in range(6, 10):
        shots = tuple(replace(samples.PHOTOS[0], number=at) for at in range(1, count + 1))
        pages = page_words(claim.draw(samples.claim(photos=shots), samples.PICTURES).pdf)
        shown = [page for page in pages if "Photo " in page]
        assert len(shown) > 1
        assert ["Evidence, continued" in page for page in shown] == [False] + [True] * (len(shown) - 1)


@pytest.mark.parametrize(("shots", "caption"), [(1, 5), (2, 5), (3, 5), (3, 400), (7, 60)])
def test_the_name_of_photos_stands_on_their_page(shots: int, caption: int) -> None:
    told = [replace(shot, caption="view " * (caption // 5)) for shot, _ in samples.SHOTS[:1] * shots]
    for room in range(40, 420, 9):
        flow = Flow(page_for("a4", "#112233", 50), words("en"), ("Shop", "Paper"))
        flow.paragraph("before")
        flow.y = flow.page.bottom + room
        flow.section("Photos")
        grid(flow, told, samples.PICTURES, wide=True, height=200, name="Photos")
        named = next(at for at, page in enumerate(flow.pages) if any(m[5] == "Photos" for m in page if m[6] is SIDE))
        shown = next(at for at, page in enumerate(flow.pages) if any(m[0] == PICTURE for m in page))
        assert named == shown == flow.outline[-1][0], f"room {room}: the name stands alone at the foot"
