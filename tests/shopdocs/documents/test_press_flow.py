"""Pages: they turn where they should, repeat their heads, end, and lose nothing."""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import replace
from decimal import Decimal
from io import BytesIO
from pathlib import Path

import pypdf
import pytest

from orders.papers import estimate, repair_order
from shopdocs.documents.press.breaking import break_lines
from shopdocs.documents.press.cautions import CAUTIONS, DEFER, caution
from shopdocs.documents.press.errors import PressError
from shopdocs.documents.press.flow import TEXT, Flow
from shopdocs.documents.press.fonts import faces
from shopdocs.documents.press.page import BODY, page_for
from shopdocs.documents.press.render import foot_height
from shopdocs.documents.press.words import words
from tests import papers_samples as samples
from tests.papers_reading import codes_of, faults, page_words, words_of
from warranty.papers import claim

HERE = Path(samples.__file__).parents[1]
HOSTILE = "<img src='file:///etc/passwd'/> &amp; <b>not bold</b> </para> %s {0} \\) Tj ET Q (("


def long_job(lines: int) -> estimate.EstimateJob:
    return replace(
        samples.CUSTOMER_JOBS[0],
        labour=tuple(samples.labour(f"C-{at:04}", f"Step {at}", at % 70) for at in range(lines)),
        parts=tuple(samples.part(f"P-{at:04}", f"Piece {at}", "1", "1.00") for at in range(10)),
    )


def test_three_hundred_lines_all_stand_on_numbered_pages_with_their_heads() -> None:
    drawn = estimate.draw(samples.estimate(jobs=(long_job(300),)), {})
    pages = page_words(drawn.pdf)
    assert [re.findall(r"page (\d+) of (\d+)", page) for page in pages] == [
        [(str(at), str(drawn.pages))] for at in range(1, drawn.pages + 1)
    ]
    whole = " ".join(pages)
    assert re.findall(r"C-(\d{4})", whole) == [f"{at:04}" for at in range(300)]
    for page in pages:
        if "C-0" in page:
            assert "Code Labour Hours Rate Amount" in page
            assert "Job 2 continued" in page or "Job 2 paid by Customer" in page
    assert faults(drawn.pdf) == []


def test_the_sum_of_a_job_stands_on_the_page_of_its_last_row() -> None:
    for lines in range(18, 60):
        pages = page_words(estimate.draw(samples.estimate(jobs=(long_job(lines),)), {}).pdf)
        for page in pages:
            if "Job 2, before tax" in page:
                assert "P-0009" in page, lines


def test_absurd_lengths_are_drawn_whole_and_in_short_time() -> None:
    name, note = "Bartholomewina " * 27, " ".join(f"w{at}" for at in range(1700))
    job = replace(samples.CUSTOMER_JOBS[0], title=name, found=note, payer=name, basis=note)
    drawn = estimate.draw(
        samples.estimate(
            jobs=(job, job),
            request=note,
            customer=replace(samples.CUSTOMER, name="N" * 400, lines=(note,)),
            terms=(note,),
            shop=replace(samples.SHOP, name=name, address=(name,) * 3, phone=name, email="e" * 400),
            title=name[:120],
            unit=replace(samples.SAW, family=name, maker=name, serial="S" * 400),
            number="N" * 300,
        ),
        {},
    )
    text = words_of(drawn.pdf)
    assert text.count("w1699") == 7
    assert drawn.pages < 120
    assert faults(drawn.pdf) == []


@pytest.mark.parametrize("length", [0, 1, 60, 61, 119, 1500])
def test_every_length_of_a_note_ends(length: int) -> None:
    drawn = estimate.draw(samples.estimate(request="line\n" * length), {})
    assert faults(drawn.pdf) == []
    assert words_of(drawn.pdf).count("line") >= length


def test_typed_text_is_never_markup() -> None:
    order = samples.repair_order(complaint=HOSTILE, accessories=(HOSTILE,), conditions=(HOSTILE,))
    drawn = repair_order.draw(order, samples.PICTURES)
    assert words_of(drawn.pdf).count(HOSTILE) == 3
    assert drawn.replaced == ()


def test_characters_that_cannot_be_printed_are_named_once_each() -> None:
    drawn = repair_order.draw(samples.repair_order(complaint="ᚠ ⵣᠮ ᚠ ⅜ Ñ"), samples.PICTURES)
    assert drawn.replaced == ("ᚠ", "ⵣ", "ᠮ")
    assert "⅜ Ñ" in words_of(drawn.pdf)


@pytest.mark.parametrize("nothing", ["\uffff", "\ufffe", "\U0001fffe"])
def test_what_is_no_character_is_reported_and_never_a_box(nothing: str) -> None:
    drawn = repair_order.draw(samples.repair_order(complaint=f"stalls{nothing}hot"), samples.PICTURES)
    assert drawn.replaced == (nothing,)
    assert "stalls?hot" in words_of(drawn.pdf)


def test_money_of_any_size_stays_on_one_line_and_its_decimals_meet() -> None:
    parts = tuple(
        samples.part(f"P-{at}", "Gold", "1", price) for at, price in enumerate(("0.05", "1234567.89", "98765432.10"))
    )
    job = replace(samples.CUSTOMER_JOBS[0], parts=parts, subtotal=Decimal("99999999999.99"))
    drawn = estimate.draw(samples.estimate(jobs=(job,), customer_total=Decimal("99999999999.99")), {})
    text = words_of(drawn.pdf)
    assert "98,765,432.10 98,765,432.10" in text
    assert text.count("$99,999,999,999.99") == 3
    assert faults(drawn.pdf) == []


def test_the_same_sheet_gives_the_same_bytes_in_another_process() -> None:
    told = (
        "from tests import papers_samples as s; from warranty.papers import claim;"
        "print(claim.draw(s.claim(), s.PICTURES).sha256)"
    )
    run = subprocess.run(
        [sys.executable, "-c", told],
        capture_output=True,
        text=True,
        check=True,
        cwd=HERE,
        env={"PYTHONHASHSEED": "77", "SOURCE_DATE_EPOCH": "1", "TZ": "Asia/Tokyo"},
    )
    assert run.stdout.strip() == claim.draw(samples.claim(), samples.PICTURES).sha256


def test_the_press_loads_no_django() -> None:
    told = (
        "import sys, orders.papers.estimate, orders.papers.invoice, orders.papers.repair_order, warranty.papers.claim;"
        "print([name for name in sys.modules if name.split('.')[0] in ('django', 'celery', 'requests', 'rest_framework')])"
    )
    run = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=True, cwd=HERE)
    assert run.stdout.strip() == "[]"


@pytest.mark.parametrize(
    "changes, told",
    [
        ({"paper": "a5"}, "paper"),
        ({"language": "xx"}, "language"),
        ({"code": ""}, "code"),
        ({"shop": replace(samples.SHOP, accent="green")}, "shop.accent"),
        ({"cautions": ("sharks",)}, "cautions"),
        ({"customer_total": Decimal("1.001")}, "amount"),
    ],
)
def test_a_sheet_that_cannot_be_printed_is_refused_by_name(changes: dict[str, object], told: str) -> None:
    with pytest.raises(PressError, match=told):
        estimate.draw(samples.estimate(**changes), {})


def test_every_caution_prints_whole_and_defers() -> None:
    drawn = estimate.draw(samples.estimate(cautions=tuple(CAUTIONS)), {})
    text = words_of(drawn.pdf)
    for code in CAUTIONS:
        head, words = caution(code)
        assert head in text
        assert set(words.split()) <= set(text.split())
    assert DEFER in text
    assert faults(drawn.pdf) == []


@pytest.mark.parametrize("code", ["https://a.example/r/" + "k" * 180, "X"])
def test_codes_of_every_length_scan_and_leave_room(code: str) -> None:
    drawn = estimate.draw(samples.estimate(code=code), {})
    assert faults(drawn.pdf) == []
    assert codes_of(drawn.pdf) == [[code]] * drawn.pages


def test_no_section_is_named_at_the_foot_of_a_page_with_nothing_beside_it() -> None:
    job = replace(
        samples.CUSTOMER_JOBS[1],
        title="",
        found="",
        basis="",
        labour=(replace(samples.labour("C-1", "word " * 60, 3), note="note " * 40),),
    )
    starts = set()
    for lines in range(1, 30):
        drawn = estimate.draw(samples.estimate(request="line\n" * lines, jobs=(job,)), {})
        pages = page_words(drawn.pdf)
        at = next(at for at, page in enumerate(pages) if "Job 3 paid by Customer" in page)
        assert "Job 3 paid by Customer Code Labour Hours Rate Amount C-1 word word" in pages[at], lines
        reader = pypdf.PdfReader(BytesIO(drawn.pdf))
        named = [entry for entry in reader.outline if not isinstance(entry, list) and entry.title == "Job 3"]
        assert [reader.get_destination_page_number(entry) for entry in named] == [at]
        starts.add(at)
    assert starts == {0, 1}


def test_every_section_is_bookmarked_at_its_place() -> None:
    drawn = claim.draw(samples.claim(), samples.PICTURES)
    reader = pypdf.PdfReader(BytesIO(drawn.pdf))
    entries = [entry for entry in reader.outline if not isinstance(entry, list)]
    assert [entry.title for entry in entries] == [
        "Part that failed",
        "Machine",
        "What happened",
        "Why it is covered",
        "Labour asked for",
        "Parts asked for",
        "Expected",
        "Declaration",
        "Evidence",
    ]
    pages = page_words(drawn.pdf)
    for entry in entries:
        assert str(entry.title) in pages[reader.get_destination_page_number(entry) or 0]
    places = [(reader.get_destination_page_number(entry), -float(entry.top or 0)) for entry in entries]
    assert places == sorted(places)


def test_a_long_name_in_the_side_column_stays_above_the_code() -> None:
    sheet = samples.estimate()
    page = page_for("letter", "#1f6f54", foot_height(sheet.code))
    for filled in range(0, 700, 7):
        flow = Flow(page, words("en"), ("", ""))
        flow.text(page.main, flow.y, "before", BODY)
        flow.y -= filled
        flow.section("Name " * 12, "note " * 90, keep=10)
        flow.close()
        side = [mark for marks in flow.pages for mark in marks if mark[0] == TEXT and mark[1] < page.main]
        assert len(side) == 7
        assert all(mark[2] > page.bottom for mark in side), filled
        assert " ".join(mark[5] for marks in flow.pages for mark in marks if mark[1] == page.main).count("note") == 90


@pytest.mark.parametrize(
    "said",
    [
        "Shop supplies: 6 % of $74.66",
        "Material de taller: 6 % de $74.66",
        "of it 7.25 %",
        "Approved by telephone on the tester for 125 h",
    ],
)
def test_a_percentage_stays_on_a_line_with_what_it_is_of(said: str) -> None:
    face = faces()[BODY.face]
    held = said[re.search(r"\d", said).start() :]  # type: ignore[union-attr]
    for width in range(80, 260, 3):
        lines = break_lines(f"{said}, limited to the most charged, 5.00", face, 10, width)
        assert any(held in line for line in lines), (width, lines)
    assert " ".join(break_lines(said, face, 10, 90)) == said


def test_a_paragraph_that_runs_to_the_left_begins_at_the_right() -> None:
    flow = Flow(page_for("letter", "#1f5fa8", 20), words("en"), ("", ""))
    arabic, hebrew, mixed = "تتسرب البنزين من الخزان", "דליפת דלק מהמכל", "KX 100: تسرب"
    for text in (arabic, f"{hebrew}\nplain beside it", mixed):
        flow.paragraph(text)
    placed = {mark[5]: mark[1] for mark in flow.pages[-1] if mark[0] == TEXT}
    ends = {text: x + flow.width(text, BODY) for text, x in placed.items()}
    for text in (arabic, hebrew):
        assert ends[text] == pytest.approx(flow.page.right) and placed[text] > flow.page.main + 50
    assert placed["plain beside it"] == placed[mixed] == flow.page.main
