"""The claim read back: the part that failed first, the proof in order, the money, the declaration."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

import pypdf
import pytest

from tests import papers_samples as samples
from tests.papers_reading import codes_of, faults, words_of
from warranty.papers import claim


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_a_claim_is_neat_scans_and_comes_out_the_same_twice(paper: str) -> None:
    drawn = claim.draw(samples.claim(paper), samples.PICTURES)
    assert faults(drawn.pdf) == []
    assert codes_of(drawn.pdf) == [["https://desk.brindlehollow.example/r/w-0412"]] * drawn.pages
    assert drawn == claim.draw(samples.claim(paper), samples.PICTURES)


def test_a_claim_holds_every_fact_in_the_order_a_clerk_reads() -> None:
    text = words_of(claim.draw(samples.claim(), samples.PICTURES).pdf)
    facts = (
        "To Northfell Distribution",
        "Our account BH-0093",
        "Approval before work none given",
        "File before the end of 9 Dec 2026, 30 days after repair",
        "Expected in all $151.96",
        "Part that failed",
        "Ignition module · KL-30-1182",
        "1.9 MΩ, service data 2 to 5 kΩ",
        "tag PH-0088, shelf 3",
        "Machine",
        "Kestrelline KL-462",
        "KL7-0049218",
        "Vardø Motor Model VM-61",
        "What happened",
        "Quit while cutting",
        "Why it is covered",
        "our reading; the maker decides",
        "Also covered by: Federal emission warranty, exhaust side",
        "1 Is the part one the promise names?",
        "40 CFR 1068.115(a)",
        "Labour asked for",
        "Guide hours, diagnosis as clocked",
        "$72.00",
        "IG-110 Take off top cover and fan housing distributor's guide 0.3",
        "Hours in all 1.2",
        "Labour expected $86.40",
        "Distributor pays of the price 110 %",
        "KL-30-1182 Ignition module 1 58.20 64.02",
        "Parts expected $65.56",
        "Expected in all $151.96",
        "Declaration",
        "kept until you release it",
        "Signature · Imke Sorrow, office",
        "Evidence",
        "Photo 2: Serial plate, legible Serial plate check-in · 4 Nov 2026, 10:12 · Ruben Hallorsen",
        "Photo 3: Hour meter",
        "Photo 1",
        "Photo 4",
        "Shows finding F1",
        "Photo 6",
        "after ·",
    )
    at = 0
    for fact in facts:
        found = text.find(fact, at)
        assert found >= 0, fact
        at = found


def test_what_the_distributor_has_not_told_is_not_known() -> None:
    sheet = samples.claim(
        labour_rate=None,
        time_basis="",
        labour_amount=None,
        parts_percent=None,
        parts_amount=None,
        expected=None,
        deadline=None,
        deadline_basis="",
        account="",
        parts=tuple(replace(part, amount=None) for part in samples.claim().parts),
    )
    text = words_of(claim.draw(sheet, samples.PICTURES).pdf)
    for fact in (
        "File before the end of not known",
        "Our account not known",
        "Paid by not known Rate an hour not known",
        "Labour expected not known",
        "Distributor pays of the price not known",
        "58.20 not known",
        "Expected in all not known",
    ):
        assert fact in text, fact


def test_each_photo_is_there_once_serial_plate_and_meter_first() -> None:
    shots = [
        samples.photo(at, f"View {at}", shows={11: "hour meter", 12: "serial plate"}.get(at, "")) for at in range(1, 13)
    ]
    sheet = samples.claim(photos=tuple(shot for shot, _ in shots))
    drawn = claim.draw(sheet, {shot.sha256: data for shot, data in shots})
    text = words_of(drawn.pdf)
    places = [text.index(f"Photo {at}: View {at} ") for at in (12, 11, *range(1, 11))]
    assert places == sorted(places)
    reader = pypdf.PdfReader(BytesIO(drawn.pdf))
    assert sum(len(page.images) for page in reader.pages) == 12
    assert faults(drawn.pdf) == []


def test_long_words_and_long_captions_are_drawn_whole() -> None:
    photo = replace(samples.PHOTOS[0], caption=" ".join(f"c{at}" for at in range(1800)), who="W" * 400)
    sheet = samples.claim(
        photos=(photo, *samples.PHOTOS[1:]),
        complaint="long " * 2000,
        cause="<img src=x>" * 300,
        causal=replace(samples.claim().causal, assembly="A" * 400, held_as="tag " * 300),
        declaration=("I declare " * 900,),
    )
    drawn = claim.draw(sheet, samples.PICTURES)
    text = words_of(drawn.pdf)
    assert "c1799" in text
    assert text.count("<img src=x>") + text.count("<img") >= 300
    assert text.replace(" ", "").count("W" * 400) == 1
    assert faults(drawn.pdf) == []


def test_what_failed_is_shown_before_the_rest_whatever_numbers_the_photos_have() -> None:
    shown = [photo for photo in samples.claim().photos if not photo.shows][:3]
    later = tuple(replace(photo, number=number) for photo, number in zip(shown, (9, 1, 5), strict=True))
    text = words_of(claim.draw(samples.claim(photos=later), samples.PICTURES).pdf)
    assert text.index("Photo 9") < text.index("Photo 1:") < text.index("Photo 5")


@pytest.mark.parametrize(
    ("shown", "rows"),
    [
        ("P1 F1 F1 -", ["P1 -", "F1 F1"]),  # a view of the whole machine takes the place beside the plate
        ("P1 F1 F1", ["P1", "F1 F1"]),
        ("P1 P2 F1 F1 F2 F2", ["P1 P2", "F1 F1", "F2 F2"]),
        ("P1 F1 F2 F2 F2 F3 F3", ["P1 F1", "F2 F2", "F2", "F3 F3"]),
        ("P1 F1 F1 F1 F2 F2", ["P1 F1", "F1 F1", "F2 F2"]),
        ("F1 F2 - -", ["F1 F2", "- -"]),
    ],
)
def test_a_pair_of_one_finding_begins_a_row(shown: str, rows: list[str]) -> None:
    """P: a plate, F: a finding, -: the machine as a whole."""
    photos = []
    for at, mark in enumerate(shown.split(), 1):
        plate, finding = ("serial plate" if mark[0] == "P" else "", mark if mark[0] == "F" else "")
        photos.append(samples.photo(at, mark, "before", plate, finding)[0])
    placed, begin = claim.side_by_side(photos)
    found: list[list[str]] = [[]]
    for photo in placed:
        if len(found[-1]) == 2 or photo.number in begin:
            found.append([])
        found[-1].append(photo.caption)
    assert [" ".join(row) for row in found] == rows
