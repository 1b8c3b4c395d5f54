"""Our papers against the rules of ISO 19005-3 (PDF/A-3b) that a test can see.

Source of each clause: https://github.com/veraPDF/veraPDF-validation-profiles, PDF_A/PDFA-3B.xml, state of 21 Aug 2025.
Only the clauses tested here are claimed.
"""

from __future__ import annotations

import functools
import hashlib
import json
import re
from collections.abc import Iterator
from io import BytesIO
from typing import Any

import pikepdf
import pytest
import uharfbuzz

from orders.papers import credit_note, invoice
from shopdocs.documents.press.fonts import clean
from tests import papers_samples as samples

ODD = "½ ⅜ ⅑ Ж ქართული Łódź 😀 ☑ مُحَمَّد 王 क्ष"
FILES = {"facts.json": ("/application/json", "/Source"), "factur-x.xml": ("/text/xml", "/Alternative")}
CHANGES = {"estimate": {"request": ODD}, "repair order": {"complaint": ODD}, "claim": {"paper": "a4"}}


ELECTRONIC = {
    "electronic invoice": (invoice, samples.electronic_invoice),
    "electronic credit note": (credit_note, samples.electronic_credit_note),
}
PAPERS = {**samples.ALL_PAPERS, **ELECTRONIC}
"""Every paper, and those that enclose a second file."""


def _made(name: str) -> bytes:
    module, make = PAPERS[name]
    return bytes(module.draw(make(**CHANGES.get(name, {})), samples.PICTURES).pdf)


@functools.cache
def drawn(name: str) -> bytes:
    return _made(name)


@pytest.fixture(params=PAPERS)
def paper(request: pytest.FixtureRequest) -> bytes:
    return drawn(request.param)


def objects(document: pikepdf.Pdf) -> Iterator[Any]:
    """Every object of the file, and what lies directly inside it."""
    stack = list(document.objects)
    while stack:
        one = stack.pop()
        yield one
        if isinstance(one, (pikepdf.Dictionary, pikepdf.Stream)):
            stack += [
                value for _, value in one.items() if not (isinstance(value, pikepdf.Object) and value.is_indirect)
            ]
        elif isinstance(one, pikepdf.Array):
            stack += [value for value in one if not (isinstance(value, pikepdf.Object) and value.is_indirect)]


def fonts(document: pikepdf.Pdf) -> list[Any]:
    """All that hold letters: a composite font holds another one that does."""
    found = [one for one in document.objects if isinstance(one, pikepdf.Dictionary) and one.get("/Type") == "/Font"]
    return [one for one in found if one.Subtype != "/Type0"]


def test_qpdf_finds_nothing_to_complain_of(paper: bytes) -> None:
    """qpdf's own check, through the library: a fresh machine has no such program."""
    with pikepdf.open(BytesIO(paper)) as document:
        assert document.check_pdf_syntax() == []


def test_6_1_2_header(paper: bytes) -> None:
    first, second = re.split(rb"\r\n|\r|\n", paper, maxsplit=2)[:2]
    assert re.fullmatch(rb"%PDF-1\.[0-7]", first)
    assert second.startswith(b"%") and sum(byte > 127 for byte in second) >= 4


def test_6_1_3_trailer(paper: bytes) -> None:
    with pikepdf.open(BytesIO(paper)) as document:
        assert len(document.trailer.ID) == 2
        assert "/Encrypt" not in document.trailer
    assert re.search(rb"%%EOF(\r\n|\r|\n)?\Z", paper)


def test_6_1_7_streams(paper: bytes) -> None:
    with pikepdf.open(BytesIO(paper)) as document:
        streams = [one for one in document.objects if isinstance(one, pikepdf.Stream)]
        assert len(streams) >= 4
        for stream in streams:
            assert not {"/F", "/FFilter", "/FDecodeParms"} & set(stream.keys())
            assert "LZWDecode" not in str(stream.get("/Filter", ""))
            assert int(stream.Length) == len(stream.read_raw_bytes())


def test_6_1_13_limits(paper: bytes) -> None:
    with pikepdf.open(BytesIO(paper)) as document:
        assert len(document.objects) < 8_388_607
        for one in objects(document):
            if isinstance(one, int):
                assert -2_147_483_648 <= one <= 2_147_483_647
            if isinstance(one, pikepdf.String):
                assert len(bytes(one)) <= 32_767
            if isinstance(one, pikepdf.Name):
                assert len(str(one).encode()) <= 128
        for page in document.pages:
            depth = deepest = 0
            for _, operator in pikepdf.parse_content_stream(page):
                depth += {"q": 1, "Q": -1}.get(str(operator), 0)
                deepest = max(deepest, depth)
            assert depth == 0 and deepest <= 28


def test_6_2_5_and_6_2_8_graphics_state_and_images(paper: bytes) -> None:
    with pikepdf.open(BytesIO(paper)) as document:
        for one in objects(document):
            if isinstance(one, pikepdf.Dictionary) and one.get("/Type") == "/ExtGState":
                assert not {"/TR", "/TR2", "/HTP"} & set(one.keys())
            if isinstance(one, pikepdf.Stream) and one.get("/Subtype") == "/Image":
                assert not {"/Alternates", "/OPI", "/SMask"} & set(one.keys())
                assert one.get("/Interpolate", False) is False
                assert one.BitsPerComponent in (1, 2, 4, 8, 16)
                assert one.ColorSpace in ("/DeviceRGB", "/DeviceGray")


def test_6_2_11_4_1_every_font_is_embedded(paper: bytes) -> None:
    with pikepdf.open(BytesIO(paper)) as document:
        assert fonts(document)
        for font in fonts(document):
            assert font.Subtype in ("/TrueType", "/CIDFontType2")
            assert len(font.FontDescriptor.FontFile2.read_bytes()) > 1000
            assert "+" in str(font.BaseFont)


def shown(document: pikepdf.Pdf) -> Iterator[tuple[Any, int]]:
    """(font, code) of every character that the pages show."""
    for page in document.pages:
        font: Any = None
        for operands, operator in pikepdf.parse_content_stream(page):
            if str(operator) == "Tf":
                font = page.Resources.Font[str(operands[0])]
            if str(operator) == "Tj":
                codes = bytes(operands[0])
                wide = 2 if font.Subtype == "/Type0" else 1
                yield from ((font, int.from_bytes(codes[at : at + wide], "big")) for at in range(0, len(codes), wide))


def test_6_2_11_5_widths_and_6_2_11_8_no_missing_glyph(paper: bytes) -> None:
    from reportlab.pdfbase.ttfonts import TTFontFile

    seen: dict[tuple[int, int], set[int]] = {}
    with pikepdf.open(BytesIO(paper)) as document:
        by_id = {}
        for font, code in shown(document):
            by_id[font.objgen] = font
            seen.setdefault(font.objgen, set()).add(code)
        assert seen
        for key, codes in seen.items():
            font = by_id[key]
            unicode_of = _to_unicode(font.ToUnicode.read_bytes())
            for code in codes:
                assert unicode_of[code] not in (0, 0xFEFF, 0xFFFE), code
            if font.Subtype == "/Type0":
                _composite(font, codes)
                continue
            for code in codes:
                assert int(font.FirstChar) <= code <= int(font.LastChar)
            face = TTFontFile(BytesIO(font.FontDescriptor.FontFile2.read_bytes()), charInfo=0)
            glyphs = _glyph_widths(face)
            scale = 1000 / _units(face)
            for code in codes:
                glyph = _cmap(face)[code]
                assert glyph != 0, f"code {code} of {font.BaseFont} has no glyph"
                assert abs(float(font.Widths[code - int(font.FirstChar)]) - glyphs[glyph] * scale) <= 1


def _composite(font: Any, codes: set[int]) -> None:
    """6.2.11.3: the Identity-H map, codes that are glyphs; 6.2.11.4.2: a CIDSet, if there is one, names them all."""
    (letters,) = font.DescendantFonts
    assert (font.Encoding, letters.CIDToGIDMap) == ("/Identity-H", "/Identity")
    file = uharfbuzz.Face(letters.FontDescriptor.FontFile2.read_bytes())
    metrics, widths = uharfbuzz.Font(file), [int(width) for width in letters.W[1]]
    assert file.upem == 1000 and int(letters.W[0]) == 0
    assert [metrics.get_glyph_h_advance(glyph) for glyph in range(file.glyph_count)] == widths
    assert 0 not in codes and max(codes) < file.glyph_count
    named = letters.FontDescriptor.CIDSet.read_bytes()
    assert "".join(f"{byte:08b}" for byte in named).rstrip("0") == "1" * file.glyph_count


def _units(face: Any) -> int:
    return int.from_bytes(face.get_table("head")[18:20], "big")


def _glyph_widths(face: Any) -> list[int]:
    count = int.from_bytes(face.get_table("hhea")[34:36], "big")
    table = face.get_table("hmtx")
    widths = [int.from_bytes(table[at * 4 : at * 4 + 2], "big") for at in range(count)]
    return widths + [widths[-1]] * 300


def _cmap(face: Any) -> list[int]:
    """The (1, 0) map of a subset, which ReportLab writes in format 6."""
    table = face.get_table("cmap")
    at = int.from_bytes(table[8:12], "big")
    assert int.from_bytes(table[at : at + 2], "big") == 6
    first, count = (int.from_bytes(table[at + to : at + to + 2], "big") for to in (6, 8))
    body = [int.from_bytes(table[at + 10 + 2 * n : at + 12 + 2 * n], "big") for n in range(count)]
    return [0] * first + body + [0] * (256 - first - count)


def _to_unicode(cmap: bytes) -> dict[int, int]:
    return {int(code, 16): int(value, 16) for code, value in re.findall(rb"<([0-9A-F]{2,4})> <([0-9A-F]{4,8})>", cmap)}


def test_6_4_and_6_5_no_forms_and_no_actions(paper: bytes) -> None:
    with pikepdf.open(BytesIO(paper)) as document:
        assert "/AcroForm" not in document.Root and "/AA" not in document.Root and "/OpenAction" not in document.Root
        for one in objects(document):
            if isinstance(one, pikepdf.Dictionary):
                assert "/AA" not in one and "/JS" not in one
                assert one.get("/S") not in ("/JavaScript", "/Launch", "/ImportData", "/URI", "/SubmitForm")


def test_6_3_no_annotations(paper: bytes) -> None:
    with pikepdf.open(BytesIO(paper)) as document:
        assert all("/Annots" not in page for page in document.pages)


def test_6_9_to_6_11_no_layers_or_presentations(paper: bytes) -> None:
    with pikepdf.open(BytesIO(paper)) as document:
        assert "/OCProperties" not in document.Root and "/Requirements" not in document.Root
        assert all("/PresSteps" not in page for page in document.pages)
        assert not any("AlternatePresentations" in str(key) for key in document.Root.get("/Names", {}))


def test_7_2_of_iso_14289_1_the_language_is_set(paper: bytes) -> None:
    """PDF/UA-1 clause 7.2; the same repository, PDF_UA/PDFUA-1.xml, state of 21 Aug 2025."""
    with pikepdf.open(BytesIO(paper)) as document:
        assert str(document.Root.Lang) == "en"
        assert document.Root.ViewerPreferences.DisplayDocTitle
        assert str(document.docinfo["/Title"])


def test_the_odd_letters_really_stand_in_what_was_tested() -> None:
    assert clean(ODD) == (ODD, ())
    with pikepdf.open(BytesIO(drawn("estimate"))) as document:
        assert len(fonts(document)) >= 4
        assert "/CIDFontType2" in {str(font.Subtype) for font in fonts(document)}


def test_6_2_3_and_6_2_4_3_the_colours_are_srgb(paper: bytes) -> None:
    with pikepdf.open(BytesIO(paper)) as document:
        (intent,) = document.Root.OutputIntents
        assert intent.S == "/GTS_PDFA1"
        profile = intent.DestOutputProfile.read_bytes()
        assert intent.DestOutputProfile.N == 3
        assert profile[12:16] in (b"mntr", b"prtr")
        assert profile[16:20] == b"RGB "
        assert profile[8] < 5
        assert profile[36:40] == b"acsp"
        assert int.from_bytes(profile[:4], "big") == len(profile)
        operators = {str(operator) for page in document.pages for _, operator in pikepdf.parse_content_stream(page)}
        assert not operators & {"k", "K", "cs", "CS", "sc", "scn", "sh", "gs", "BI"}


def test_6_6_2_1_and_6_6_4_metadata_and_what_it_claims(paper: bytes) -> None:
    with pikepdf.open(BytesIO(paper)) as document:
        raw = document.Root.Metadata.read_bytes()
        assert document.Root.Metadata.Type == "/Metadata" and document.Root.Metadata.Subtype == "/XML"
        raw.decode("utf-8")
        assert b"pikepdf" not in raw
        with document.open_metadata() as xmp:
            assert xmp["pdfaid:part"] == "3"
            assert xmp["pdfaid:conformance"] == "B"
            assert xmp["dc:title"] == str(document.docinfo["/Title"])
            assert xmp["dc:creator"] == [str(document.docinfo["/Author"])]
            assert xmp["xmp:CreateDate"].startswith("2026-11-09T12:00:00")
            assert xmp["pdf:Producer"] == str(document.docinfo["/Producer"])


def test_6_8_an_attachment_says_what_it_is_to_the_paper(paper: bytes) -> None:
    """6.8: file name twice, MIME type, relation, and the catalogue's list; 6.1.7.1 of ISO 32000: the day and the digest."""
    with pikepdf.open(BytesIO(paper)) as document:
        names = document.Root.Names.EmbeddedFiles.Names
        by_name = {str(names[at]): names[at + 1] for at in range(0, len(names), 2)}
        assert list(by_name) == sorted(by_name) == sorted(document.attachments) and len(document.Root.AF) == len(
            by_name
        )
        for listed in document.Root.AF:
            kind, relation = FILES[str(listed.F)]
            assert str(listed.F) == str(listed.UF) and listed.objgen == by_name[str(listed.F)].objgen
            assert listed.Type == "/Filespec" and listed.AFRelationship == relation and str(listed.Desc)
            stream = listed.EF.F
            assert stream.objgen == listed.EF.UF.objgen
            assert stream.Type == "/EmbeddedFile" and stream.Subtype == kind
            data = stream.read_bytes()
            assert int(stream.Params.Size) == len(data)
            assert bytes(stream.Params.CheckSum) == hashlib.md5(data).digest()
            assert str(stream.Params.ModDate) == str(document.docinfo["/ModDate"])
        json.loads(by_name["facts.json"].EF.F.read_bytes())
