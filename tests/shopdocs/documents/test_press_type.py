"""Type: which characters print, how wide they are, where lines break."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from reportlab.pdfbase import pdfmetrics

from shopdocs.documents.press.breaking import break_lines, shorten
from shopdocs.documents.press.errors import PressError
from shopdocs.documents.press.fonts import ITALIC, MOST_MARKS, REGULAR, SEMIBOLD, clean, faces
from shopdocs.documents.press.setting import SetLine
from shopdocs.documents.press.sheets import Currency
from shopdocs.documents.press.values import Figures
from shopdocs.documents.press.words import words

FACES = faces()
FIGURES = Figures(Currency(symbol="$", decimals=2), words("en"))


@pytest.mark.parametrize("key", [REGULAR, SEMIBOLD, ITALIC])
def test_figures_are_tabular(key: str) -> None:
    assert len({FACES[key].widths[digit] for digit in "0123456789"}) == 1


@given(st.text(alphabet=st.characters(min_codepoint=32, max_codepoint=126)))
def test_widths_are_those_that_reportlab_prints_with(text: str) -> None:
    font = FACES[REGULAR].font
    pdfmetrics.registerFont(font)
    assert FACES[REGULAR].width(text, 9.5) == pytest.approx(pdfmetrics.stringWidth(text, font.fontName, 9.5), abs=1e-6)


@pytest.mark.parametrize(
    "text",
    [
        "½ ⅜ ¼",
        "☐ ☑ ✓",
        "Łódź, Ñandú, Ærø",
        "10 MΩ ≤ 5 °C × 2 → 3 ″",
        "ქართული",
        "Жук",
        "محمد عبد الله",
        "שלום",
        "中文",
        "हिन्दी",
        "فارسی",
        "مُحمد",
        "😀",
        "👩‍🔧",
        "می‌خواهم",
        "q\u0303",
    ],
)
def test_what_the_faces_hold_is_printed_as_it_is(text: str) -> None:
    assert clean(text) == (text, ())


@pytest.mark.parametrize(
    "text, missing",
    [
        ("fine ᚠ day", ("ᚠ",)),
        ("ⵣⵣ ᠮ", ("ⵣ", "ᠮ")),
        ("a\x00b", ("\x00",)),
        ("𝟛", ("𝟛",)),
        ("\ud800", ("\ud800",)),
        ("\ue000", ("\ue000",)),
        ("中\u0e34", ("\u0e34",)),
        ("x" + "\u0323" * 7, ("\u0323",)),
    ],
)
def test_what_cannot_be_printed_rightly_is_named(text: str, missing: tuple[str, ...]) -> None:
    printed, told = clean(text)
    assert told == missing
    assert printed.count("?") == sum(text.count(one) for one in missing) - (MOST_MARKS if "x" in text else 0)


def test_a_question_mark_of_the_writer_is_not_reported() -> None:
    assert clean("why? né?") == ("why? né?", ())


def test_invisible_marks_are_dropped_and_decomposed_letters_joined() -> None:
    assert clean("a\u202eb\u200bc\ufeff") == ("abc", ())
    assert clean("a\u200c\u200d\ufe0fb\u200f \u200dc") == ("ab c", ())
    assert clean("א\u200f!") == ("א\u200f!", ()), "a sign for the direction counts where text runs to the left"
    assert clean("e\u0301te\u0301") == ("été", ())
    assert clean("é soft\u00adly\u2009thin") == ("é softly thin", ())
    assert clean("one\r\ntwo\rthree\tfour") == ("one\ntwo\nthree four", ())


def test_letters_that_a_face_lacks_come_from_another() -> None:
    (line,) = break_lines("Abc ქა ⅑", FACES[ITALIC], 10, 500)
    assert isinstance(line, SetLine)
    first, more = line.pieces
    assert first == "Abc "
    assert [(one.text, one.face) for one in more] == [
        ("ქ", "Georgian"),
        ("ა", "Georgian"),
        (" ", "sourceI"),
        ("⅑", "sourceR"),
    ]


@settings(max_examples=200)
@example("//1W", 12.0)
@given(st.text(alphabet="abW i-/.\n 1,", max_size=300), st.floats(min_value=0, max_value=200))
def test_lines_keep_every_letter_and_stay_inside(text: str, width: float) -> None:
    face = FACES[REGULAR]
    lines = break_lines(text, face, 10, width)
    assert re.sub(r"\s", "", "".join(lines)) == re.sub(r"\s", "", text)
    assert all(face.width(line, 10) <= width + 1e-6 or len(line) == 1 for line in lines)


def test_a_long_note_is_broken_in_time_that_grows_with_its_length() -> None:
    assert len(break_lines("y" * 100_000, FACES[REGULAR], 9.5, 100)) > 4000


def test_words_too_long_for_a_line_break_after_a_sign() -> None:
    lines = break_lines("https://desk.example/a/" + "k" * 30, FACES[REGULAR], 10, 120)
    assert lines[0].endswith("/")


def test_shortened_words_end_with_an_ellipsis_and_fit() -> None:
    face = FACES[SEMIBOLD]
    short = shorten("The Very Long Name of a Shop at the River", face, 10, 90)
    assert short.endswith("…") and face.width(short, 10) <= 90
    assert shorten("Shop", face, 10, 90) == "Shop"


@pytest.mark.parametrize(
    "written, expected",
    [
        (FIGURES.money(Decimal("1234.5")), "$1,234.50"),
        (FIGURES.money(Decimal("-3")), "-$3.00"),
        (FIGURES.money(Decimal("-0.00")), "$0.00"),
        (FIGURES.money(None), "not known"),
        (FIGURES.rate(Decimal("0.0125")), "0.0125"),
        (FIGURES.rate(Decimal("95")), "95.00"),
        (FIGURES.tenths(7), "0.7"),
        (FIGURES.tenths(123), "12.3"),
        (FIGURES.tenths(None), "not known"),
        (FIGURES.clock(95), "1:35"),
        (FIGURES.clock(None), ""),
        (FIGURES.number(Decimal("2.50")), "2.5"),
        (FIGURES.number(Decimal("100")), "100"),
        (FIGURES.percent(Decimal("7.250")), "7.25 %"),
        (FIGURES.day(date(2026, 3, 9)), "9 Mar 2026"),
        (FIGURES.day(None), "not known"),
    ],
)
def test_figures_are_written_one_way(written: str, expected: str) -> None:
    assert written == expected


@pytest.mark.parametrize("amount", [Decimal("1.005"), Decimal("NaN"), Decimal("Infinity"), Decimal("1e30")])
def test_an_amount_that_would_have_to_be_rounded_or_guessed_is_refused(amount: Decimal) -> None:
    with pytest.raises(PressError, match="amount"):
        FIGURES.money(amount)


def test_a_language_without_words_is_refused() -> None:
    with pytest.raises(PressError, match="language"):
        words("tlh")
