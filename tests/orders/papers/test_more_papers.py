"""Credit note, statement, repair summary, bench copy, change to an estimate, condition report, read back."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from io import BytesIO
from itertools import pairwise
from typing import Any

import pdfplumber
import pytest

from orders.papers import bench_copy, condition_report, credit_note, estimate_change, repair_summary, statement
from shopdocs.documents.press.sheets import from_json, to_json
from tests import papers_samples as samples
from tests.papers_reading import codes_of, faults, words_of

PAPERS: list[tuple[Any, Any]] = [
    (credit_note, samples.credit_note),
    (statement, samples.statement),
    (repair_summary, samples.repair_summary),
    (bench_copy, samples.bench_copy),
    (estimate_change, samples.estimate_change),
    (condition_report, samples.condition_report),
]
FACTS: list[tuple[Any, Any, tuple[str, ...]]] = [
    (
        credit_note,
        samples.credit_note,
        (
            "Credit note CN-0031 · 9 Nov 2026",
            "For invoice I-3017, 9 Nov 2026",
            "You get back $35.19",
            "charged and not fitted",
            "FU-015 Drain stale fuel, hours 0.3 28.50",
            "Before tax $34.75 State sales tax, 6 % of $6.25 $0.38",
            "Invoice I-3017 $301.39 after this and earlier credits $266.20",
            "Set against what is open",
        ),
    ),
    (
        statement,
        samples.statement,
        (
            "From 1 Oct 2026",
            "Until 31 Dec 2026",
            "Still open $166.20 of which overdue $166.20",
            "1 Oct 2026 Carried over 40.00",
            "9 Nov 2026 Invoice I-3017 RO-2231 301.39 301.39",
            "12 Nov 2026 Credit note CN-0031 for I-3017 35.19 166.20",
            "31 Dec 2026 Sums 301.39 175.19 166.20",
            "I-3017 23 Nov 2026 38 166.20",
            "By card or cash",
        ),
    ),
    (
        repair_summary,
        samples.repair_summary,
        (
            "You told us It quit while",
            "We found Ignition module: coil open.",
            "We did Replaced the module",
            "Parts fitted Ignition module KL-30-1182",
            "Left as it is Replace rear handle mount",
            "Why it was left You declined it on 6 Nov 2026",
            "Before the repair",
            "After the repair",
            "Please watch The handle mount is still torn",
            "Until next season Fresh fuel",
        ),
    ),
    (
        bench_copy,
        samples.bench_copy,
        (
            "UNSAFE TO RUN — tagged Chain brake does not stop the chain",
            "First, at every point: Engine stopped and cold, plug lead off.",
            "Chain brake First: Cut-proof gloves. Chain brake: whole",
            "☐ good ☐ finding ☐ no access",
            "mm / in",
            "☑ good",
            "Job 1 agreed Replace ignition module ☐ IG-240, 0.4 h ☐ 1 x KL-30-1182",
            "Job 2 not agreed: do not begin Season service SV-020",
            "Ignition voltage",
        ),
    ),
    (
        estimate_change,
        samples.estimate_change,
        (
            "Change to an estimate E-1042 · version 2",
            "Replaces version 1, 5 Nov 2026",
            "Difference -$66.50",
            "Job 4 new Replace clutch springs Found with the covers off",
            "CL-210 Replace clutch springs none 38.00",
            "Job 3 dropped",
            "CH-330 Replace rear handle mount 57.00 none",
            "paid by Warranty, before by Customer",
            "Unchanged Job 2, Season service",
            "Before, version 1 $301.39 Difference -$66.50 Now, version 2 $234.89",
        ),
    ),
    (
        condition_report,
        samples.condition_report,
        (
            "NOT SAFE TO RUN",
            "Looked at by Ruben Hallorsen",
            "To put all right not known of which must be done $112.35",
            "In short A sound engine",
            "☑ Chain brake see F2",
            "F2 Replace rear handle mount, check chain brake must 112.35",
            "F3 Dress bar advised not known",
            "no promise about what cannot be seen",
            "Photo 6: New module",
        ),
    ),
]


@pytest.mark.parametrize("module, make", PAPERS)
@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_each_is_neat_scans_and_comes_out_the_same_twice(module: Any, make: Any, paper: str) -> None:
    drawn = module.draw(make(paper), samples.PICTURES)
    assert faults(drawn.pdf) == []
    assert drawn.replaced == ()
    assert codes_of(drawn.pdf) == [[make(paper).code]] * drawn.pages
    sheet = make(paper)
    assert module.draw(from_json(type(sheet), to_json(sheet)), samples.PICTURES) == drawn


@pytest.mark.parametrize("module, make, facts", FACTS)
def test_each_says_what_it_is_for(module: Any, make: Any, facts: tuple[str, ...]) -> None:
    text = words_of(module.draw(make(), samples.PICTURES).pdf)
    for fact in facts:
        assert fact in text, fact


@pytest.mark.parametrize("module, make", PAPERS)
def test_long_words_stay_inside_and_are_drawn_whole(module: Any, make: Any) -> None:
    unit = (
        replace(samples.SAW, maker="M" * 400, serial="S" * 300, hours_note="note " * 400)
        if module is not statement
        else None
    )
    changes: dict[str, Any] = {"unit": unit} if unit else {}
    if module is not bench_copy:
        changes["customer"] = replace(samples.CUSTOMER, name="N" * 400, lines=("<img src=x>",) * 40)
    drawn = module.draw(make(**changes), samples.PICTURES)
    assert faults(drawn.pdf) == []
    text = words_of(drawn.pdf).replace(" ", "")
    if unit:
        assert text.count("S") >= 300
    if module is not bench_copy:
        assert text.count("<imgsrc=x>") == 40


def test_a_bench_copy_names_no_customer() -> None:
    text = words_of(bench_copy.draw(samples.bench_copy(), {}).pdf)
    assert samples.CUSTOMER.name not in text and samples.CUSTOMER.lines[0] not in text


def test_a_statement_with_nothing_open_asks_for_nothing() -> None:
    zero = Decimal("0.00")
    text = words_of(statement.draw(samples.statement(items=(), open=zero, overdue=zero), {}).pdf)
    assert "By card or cash" not in text and "Days overdue" not in text


def test_a_difference_says_its_direction() -> None:
    more = samples.estimate_change(difference=Decimal("12.00"), now=Decimal("313.39"))
    assert "Difference +$12.00" in words_of(estimate_change.draw(more, {}).pdf)
    same = samples.estimate_change(difference=Decimal("0.00"), now=Decimal("301.39"))
    assert "Difference $0.00" in words_of(estimate_change.draw(same, {}).pdf)


@pytest.mark.parametrize("size", ["letter", "a4"])
def test_the_bench_has_lines_to_write_on_to_the_foot_of_the_page(size: str) -> None:
    with pdfplumber.open(BytesIO(bench_copy.draw(samples.bench_copy(size), {}).pdf)) as document:
        page = document.pages[-1]
        foot = next(word["top"] for word in page.extract_words() if word["text"].startswith("https://")) - 36
        lines = sorted(box["top"] for box in page.rects if box["width"] > 300 and box["height"] < 0.5)
    assert len(lines) >= 5 and foot - 40 <= lines[-1] < foot - 8, (lines, foot)
    assert {round(under - over) for over, under in pairwise(lines)} == {24}
