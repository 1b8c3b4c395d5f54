"""Hebrew and Arabic: letters joined, lines turned, and read back as they were typed by another maker's PDF reader."""

from __future__ import annotations

import unicodedata
from dataclasses import replace

import pypdfium2
import pytest

from orders.papers import estimate
from shopdocs.documents.press.breaking import break_lines, shorten
from shopdocs.documents.press.fonts import FALLBACK, faces
from shopdocs.documents.press.rightward import LETTERS, joined
from shopdocs.documents.press.turning import runs_rightward, turned
from tests import papers_samples as samples
from tests.papers_reading import faults

MUHAMMAD = "محمد عبد الله"


def text_of(pdf: bytes) -> str:
    """As pdfium copies it; joined shapes count as their letters (Unicode's own compatibility mapping)."""
    pages = [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf)]
    return unicodedata.normalize("NFKC", " ".join(" ".join(pages).split()))


@pytest.mark.parametrize("name", [MUHAMMAD, "שלום עולם", "علي حسن", "לאה כהן"])
def test_a_name_is_read_back_as_it_was_typed(name: str) -> None:
    drawn = estimate.draw(samples.estimate(customer=replace(samples.CUSTOMER, name=name)), {})
    assert drawn.replaced == ()
    assert name in text_of(drawn.pdf)
    assert faults(drawn.pdf) == []


def test_letters_join_as_unicode_names_their_shapes() -> None:
    """The Unicode Standard, Arabic Presentation Forms-B: the shape at the start, in the middle and at the end of a word."""
    shapes = [unicodedata.name(one) for one in joined("محمد")]
    assert [name.rsplit(" ", 2)[1] for name in shapes] == ["INITIAL", "MEDIAL", "MEDIAL", "FINAL"]
    assert joined("دار") == "دار", "letters that join none stay plain"
    assert [unicodedata.name(one) for one in joined("لا")] == ["ARABIC LIGATURE LAM WITH ALEF ISOLATED FORM"]
    assert joined("saw 3") == "saw 3"


@pytest.mark.parametrize(
    ("typed", "seen"),
    [("אבג", "גבא"), ("אב 12 גד", "דג 12 בא"), ("saw אבג", "saw גבא"), ("(אב)", "(בא)"), ("plain", "plain")],
)
def test_a_line_is_turned_as_the_bidirectional_algorithm_says(typed: str, seen: str) -> None:
    """UAX #9: letters run to the left, numbers inside them to the right, brackets are mirrored."""
    assert turned([typed], typed) == [seen]
    assert runs_rightward(typed) is (typed != "plain")


def test_lines_of_a_paragraph_keep_its_direction() -> None:
    """English that mentions a Hebrew name stays English on the line that begins with the name; broken, then turned."""
    face = faces()[FALLBACK]
    text = "the saw of שרה לוי (שכנה), 12 years\nשלום Ana 12"
    lines = break_lines(text, face, 10, face.width("the saw of ab", 10))
    assert lines == ["the saw of", "יול הרש", "12 ,(הנכש)", "years", "Ana 12 םולש"]
    assert shorten("saw שרה לוי כהן", face, 10, face.width("saw שרה לוי…", 10)) == "saw ול הרש…"
    assert break_lines("  שרה   לוי ", face, 10, 500) == ["יול הרש"]


def test_every_letter_that_is_let_through_has_a_glyph_in_each_of_its_shapes() -> None:
    own = faces()[FALLBACK].own
    for letter in LETTERS & own:
        for word in (letter, f"{letter}ب", f"ب{letter}", f"ب{letter}ب"):
            assert set(joined(word)) <= own, (letter, [f"{ord(one):04x}" for one in joined(word)])


def test_a_long_text_is_broken_before_its_lines_are_turned() -> None:
    words = [f"كلمة{at}" for at in range(60)]
    drawn = estimate.draw(samples.estimate(request=" ".join(words)), {})
    assert faults(drawn.pdf) == []
    read = text_of(drawn.pdf)
    numbers = [read.find(str(at)) for at in (10, 30, 50)]
    assert numbers == sorted(numbers)
