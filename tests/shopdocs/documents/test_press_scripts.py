"""Names in every script: shaped, kept whole where lines are broken, and read back as they were typed by readers that are not ours."""

from __future__ import annotations

import unicodedata
from dataclasses import replace
from io import BytesIO

import pdfplumber
import pikepdf
import pypdfium2
import pytest
import uharfbuzz
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.papers import estimate, repair_order
from shopdocs.documents.press import scripts
from shopdocs.documents.press.breaking import break_lines, shorten
from shopdocs.documents.press.embedding import _all_of, font_file
from shopdocs.documents.press.fonts import REGULAR, SEMIBOLD, clean, faces
from shopdocs.documents.press.setting import MOST_BOUND, SetLine
from shopdocs.documents.press.turning import runs_rightward
from tests import papers_samples as samples
from tests.papers_reading import faults, words_of
from warranty.papers import claim, part_tag

FACE = faces()[REGULAR]
NAMES = {
    "Arabic": "محمد عبد الله", "Arabic with vowels": "مُحَمَّد", "Arabic drawn long": "محـــمد", "Persian": "ژاله چگینی پاک", "Persian, parted": "می‌خواهم",
    "Urdu": "گاڑی ٹھیک ہے ڈوں", "Hebrew": "לאה כהן", "Hebrew with points": "שָׁלוֹם", "Thai": "น้ำผึ้ง ศรีสุข", "Vietnamese": "Nguyễn Thị Ánh Tuyết",
    "Greek": "Γιώργος", "Cyrillic": "Жанна Ёлкина", "Armenian": "Հայկ Սարգսյան", "Georgian": "ქეთევან", "Chinese": "王小明", "Japanese": "田中さくら",
    "Korean": "김민수", "Devanagari": "क्षत्रिय श्री", "Bengali": "সুস্মিতা", "Tamil": "கோகிலா", "Khmer": "សុភា", "Lao": "ຄຳ", "Myanmar": "အောင်",
    "Ethiopic": "ሰላም", "marks": "q\u0303 x\u0323\u0302 м\u0301", "rare Latin": "ꭓƎꞫ", "emoji": "👩‍🔧 😀",
}  # fmt: skip


@pytest.fixture(scope="module")
def paper() -> bytes:
    """One estimate to somebody with all of these names, a line each."""
    drawn = estimate.draw(samples.estimate(customer=replace(samples.CUSTOMER, lines=tuple(NAMES.values()))), {})
    assert drawn.replaced == ()
    return drawn.pdf


def test_names_are_read_back_as_they_were_typed(paper: bytes) -> None:
    """By pypdf and by pdfium, which both turn letters that run to the left back into reading order by themselves."""
    plain = unicodedata.normalize("NFC", words_of(paper))
    told = pypdfium2.PdfDocument(paper)[0].get_textpage().get_text_range()
    squeezed = unicodedata.normalize("NFC", "".join(told.split()))
    lost = {name for name, typed in NAMES.items() if unicodedata.normalize("NFC", typed) not in plain}
    lost |= {
        name for name, typed in NAMES.items() if "".join(unicodedata.normalize("NFC", typed).split()) not in squeezed
    }
    assert lost == set()


def test_names_stand_in_their_places_and_every_glyph_is_drawn(paper: bytes) -> None:
    assert faults(paper) == []
    with pikepdf.open(BytesIO(paper)) as document:
        assert document.check_pdf_syntax() == []
        fonts = [
            one for one in document.objects if isinstance(one, pikepdf.Dictionary) and one.get("/Subtype") == "/Type0"
        ]
        assert len(fonts) == 1
        letters = fonts[0].DescendantFonts[0]
        own = uharfbuzz.Face(letters.FontDescriptor.FontFile2.read_bytes())
        advances = [int(width) for width in letters.W[1]]
        measured = uharfbuzz.Font(own)
        assert [measured.get_glyph_h_advance(at) for at in range(own.glyph_count)] == advances
        assert b"<D83DDE00>" in fonts[0].ToUnicode.read_bytes(), "beyond the basic plane in two halves (UTF-16)"


@pytest.mark.parametrize(
    ("text", "kept"),
    [("น้ำผึ้งน้ำผึ้ง", ["น้ำ", "ผึ้", "ง"]), ("เกาะไม้มา", ["เกาะ", "ไม้", "มา"]), ("ແມ່ນ", ["ແມ່", "ນ"]), ("x\u0323\u0302x\u0323\u0302y", ["x\u0323\u0302", "y"]), ("क्षत्रिय" * 2, ["क्ष", "त्रि", "य"]), ("हिन्दी", ["हि", "न्दी"]), ("👩‍🔧👩‍🔧", ["👩‍🔧"]), ("می‌خو", ["ی\u200c"])],
)  # fmt: skip
def test_no_line_ends_inside_a_letter_with_its_marks(text: str, kept: list[str]) -> None:
    lines = break_lines(clean(text)[0], FACE, 10, 1)
    assert "".join(lines) == unicodedata.normalize("NFC", text)
    assert set(kept) <= set(lines)


@pytest.mark.parametrize("endless", ["क्", "👩\u200d", "เ", "กา", "x\u0323", "ب\u200c"])
def test_what_never_ends_is_cut_all_the_same(endless: str) -> None:
    lines = break_lines(clean(endless * 600)[0], FACE, 10, 120)
    assert len(lines) > 5
    assert all(FACE.width(line, 10) <= 120 for line in lines)


def test_marks_stand_over_their_letters_and_take_no_room() -> None:
    """GPOS of the face: the mark is moved onto the letter; the advance stays the letter's."""
    (marked,) = scripts.shape("q\u0303", "sourceR", REGULAR, False)
    (letter,) = scripts.shape("q", "sourceR", REGULAR, False)
    assert marked.advance == letter.advance == FACE.width("q\u0303", 1000)
    (_, first, _), (_, second, _) = marked.glyphs
    assert first == 0 < second < letter.advance
    # Source Sans Pro has both letters but does not say where a second mark of 'ẹ' goes; Noto Sans does; none has a place on '1'.
    assert scripts.face_of("ẹ\u0304", REGULAR) == "Latin"
    assert clean("ẹ\u0304 1\u0304") == ("ẹ\u0304 1?", ("\u0304",))


def test_letters_join_through_marks_and_a_drawn_out_line_but_not_through_a_parting() -> None:
    def glyphs(text: str) -> list[int]:
        return [
            cluster.glyphs[-1][0] for cluster in scripts.shape(text, "Arabic", REGULAR, True) if cluster.text[0] in "بی"
        ]

    alone, start, end = glyphs("ب")[0], *glyphs("بب")
    assert len({alone, start, end}) == 3
    assert glyphs("ب\u064eب") == glyphs("بـب") == [start, end]
    assert glyphs("ب\u200cب") == [alone, alone]
    assert glyphs("یب")[0] != glyphs("ی")[0]


def test_lines_of_a_paragraph_keep_its_direction() -> None:
    """English that mentions a Hebrew name stays English on the line that begins with the name; broken, then turned."""
    text = "the saw of שרה לוי now (שכנה), 12 years\nשלום Ana 12"
    lines = break_lines(text, FACE, 10, FACE.width("the saw of xyz", 10))
    assert lines == ["the saw of", "שרה לוי now", "(שכנה), 12", "years", "שלום Ana 12"]
    assert [seen(line) for line in lines] == ["the saw of", "יול הרש now", "(הנכש), 12", "years", "Ana 12 םולש"]
    short = shorten("saw שרה לוי כהן", FACE, 10, FACE.width("saw שרה לוי…", 10))
    assert seen(short) == "saw יול הרש…"
    assert [seen(line) for line in break_lines("  שרה   לוי ", FACE, 10, 500)] == ["יול הרש"]


def seen(line: str) -> str:
    """A line as the eye meets it."""
    if not isinstance(line, SetLine):
        return line
    return "".join(piece if isinstance(piece, str) else "".join(one.text for one in piece) for piece in line.pieces)


def test_a_line_ends_beside_an_ideograph_but_not_before_a_full_stop() -> None:
    """UAX #14: ideographs part anywhere; closing signs stay on the line (LB13), opening ones go along (LB14)."""
    five = FACE.width("私の機械は", 10)
    assert break_lines("私の機械は動かない。", FACE, 10, five) == ["私の機械は", "動かない。"]
    assert break_lines("私の機械。動かない", FACE, 10, FACE.width("私の機械", 10)) == ["私の機", "械。動か", "ない"]
    assert break_lines("機械「動かない」", FACE, 10, FACE.width("機械「", 10)) == ["機械", "「動か", "ない」"]


def test_a_file_without_weights_is_drawn_bolder_beside_the_semibold_face() -> None:
    for name, text in (("han", "中"), ("Arabic", "ب")):
        usual, strong = (scripts.outline(scripts.shape(text, name, key, False)[0]) for key in (REGULAR, SEMIBOLD))
        assert abs(area(strong)) > abs(area(usual)) * 1.1, name


def area(contours: list[scripts.Contour]) -> float:
    """What the corners of contours enclose; inner contours run the other way and count against it."""
    return sum(
        (x * other_y - other_x * y) / 2
        for contour in contours
        for (x, y, _), (other_x, other_y, _) in zip(contour, contour[1:] + contour[:1], strict=True)
    )


def test_every_character_of_every_file_is_shaped_into_glyphs_that_it_has() -> None:
    """Never the missing glyph: 'covered' means drawn. One in seven of the many thousand, another seventh each for each file."""
    missing = []
    for turn, name in enumerate(scripts._files()):
        for code in list(scripts._covered(name))[turn % 7 :: 7]:
            if code >= 0x20 and unicodedata.category(chr(code)) not in ("Cs", "Cn", "Cf"):
                text = chr(code)
                shaped = scripts.shape(text, name, REGULAR, runs_rightward(text))
                missing += [
                    (name, hex(code)) for cluster in shaped if any(glyph == 0 for glyph, _, _ in cluster.glyphs)
                ]
    assert missing == []


ODD = "aé \u0301\u0302\u0e01\u0e33\u0e49क्षिبلا\u064e\u0640\u200c\u200dאבָ(1،٣)中。ー「🇩🇪👩🔧\U0001f3fd\ufe0f?/-\n\xa0…\u200e\u200fǅ"


@settings(max_examples=250)
@given(st.text(alphabet=ODD, max_size=60), st.floats(min_value=0, max_value=120))
def test_any_mixture_keeps_every_letter_and_stays_inside(text: str, width: float) -> None:
    text = clean(text)[0]
    lines = break_lines(text, FACE, 10, width)
    assert "".join("".join(lines).split()) == "".join(text.split())
    for line in lines:
        assert FACE.width(line, 10) <= width + 1e-6 or len(line) <= MOST_BOUND
        if isinstance(line, SetLine):
            drawn = [
                one
                for piece in line.pieces
                for one in (piece if isinstance(piece, str) else "".join(c.text for c in piece))
            ]
            typed = [one for one in line if one not in "\u200e\u200f\u061c"]
            facing = str.maketrans(")」", "(「")
            assert sorted("".join(drawn).replace("\xa0", " ").translate(facing)) == sorted(
                "".join(typed).replace("\xa0", " ").translate(facing)
            )
    assert FACE.width(shorten(text, FACE, 10, width + 10), 10) <= width + 10 + 1e-6


def test_a_font_file_of_no_ink_and_of_one_box_are_sound() -> None:
    box, empty = font_file([[], []], [0, 300])
    assert box == [0, 0, 0, 0] and uharfbuzz.Face(empty).glyph_count == 2
    square = [(0, 0, True), (0, 700, True), (300, 700, True), (300, -10, True)]
    box, file = font_file([[], [square]], [0, 300])
    assert box == [0, -10, 300, 700]
    extents = uharfbuzz.Font(uharfbuzz.Face(file)).get_glyph_extents(1)
    assert (extents.x_bearing, extents.y_bearing, extents.width, extents.height) == (0, 700, 300, -710)
    assert _all_of(9) == b"\xff\x80" and _all_of(8) == b"\xff"


@pytest.mark.parametrize("name", ["ورشة الوادي", "סדנת העמק"])
def test_a_name_that_runs_leftward_turns_no_number_beside_it(name: str) -> None:
    """By the places of the letters, as the eye meets them: the telephone, days, part and serial numbers stay whole."""
    shop = replace(samples.SHOP, name=name)
    order = samples.repair_order(shop=shop)
    holds = tuple(replace(one, reason=name, tagged_by=name) for one in order.holds)
    drawn = {
        "order": repair_order.draw(replace(order, holds=holds), samples.PICTURES),
        "claim": claim.draw(
            samples.claim(shop=shop, causal=replace(samples.claim().causal, what=name)), samples.PICTURES
        ),
        "tag": part_tag.draw(samples.part_tag(unit=replace(samples.part_tag().unit, maker=name, model=name)), {}),
    }
    answered = samples.estimate_answered()
    given = tuple(
        replace(one, who=name, signed=one.signed and replace(one.signed, name=name)) for one in answered.given
    )
    drawn["answer"] = estimate.draw(replace(answered, given=given), samples.PICTURES)
    seen = {}
    for paper, made in drawn.items():
        with pdfplumber.open(BytesIO(made.pdf)) as document:
            seen[paper] = [" ".join(page.extract_text().split()) for page in document.pages]
    assert all(f"{shop.phone} · {shop.email}" in page for page in (*seen["order"], *seen["claim"]))
    assert f"({holds[0].tagged_on.day} Nov 2026, " in seen["order"][0]
    assert f"· {samples.claim().causal.number}" in seen["claim"][0]
    assert f"· {samples.part_tag().unit.serial}" in seen["tag"][0]
    told = " ".join(seen["answer"])
    for one in answered.given:
        assert told.count(f", {one.when}") >= 1 + bool(one.signed), one.when
