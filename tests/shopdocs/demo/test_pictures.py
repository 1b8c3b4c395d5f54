"""The painted photos: usable at our own door, sharp enough for our own eye, the same each time."""

import io
from datetime import UTC, datetime, timedelta, timezone
from functools import cache

import pytest
from PIL import Image
from pypdf import PdfReader

from shopdocs.demo.pictures import SUBJECTS, picture, receipt_pdf
from shopdocs.documents.photos.examine import examine
from shopdocs.documents.photos.limits import Limits
from shopdocs.documents.photos.look import alike, distance, fingerprint, look
from shopdocs.documents.photos.proof import examine_pdf
from shopdocs.documents.photos.sizes import for_print, upright

PRINT = (709, 591)
NOON = datetime(2026, 4, 17, 12, 5, 9)
WORDS = {
    "maker": "Tarnholt",
    "model": "TH 52",
    "serial": "TH52-2438-01877",
    "built": "2024-09",
    "hours": "187.4",
    "shop": "Brook Lane Machines",
    "number": "R-20418",
    "total": "$ 448.33",
}
ASKED_FOR = {
    *("serial_plate", "hour_meter", "emission_label", "cracked_fuel_line", "fuel_line_new", "burnt_engine_cover"),
    *("missing_deflector", "scored_piston", "broken_recoil_housing", "worn_clutch", "dirty_air_filter"),
    *("rusty_carburettor", "ignition_module", "bent_blade", "oil_leak", "receipt", "muffler", "new_part"),
    *(f"whole_unit_{name}" for name in ("saw", "trimmer", "blower", "pump", "generator", "mower")),
    "cracked_tank",
}


@cache
def painted(subject):
    """Painted once for all tests that only look."""
    return picture(subject, seed=1, taken_at=NOON, text=WORDS)


def test_every_subject_of_the_scenario_can_be_painted():
    assert set(SUBJECTS) >= ASKED_FOR
    with pytest.raises(KeyError):
        picture("a unicorn", seed=1, taken_at=NOON)


@pytest.mark.parametrize("subject", SUBJECTS)
def test_a_painted_photo_passes_the_door_and_the_look(subject):
    data = painted(subject)
    seen = examine(data, limits=Limits())
    assert (seen.kind, seen.width, seen.height) == ("jpeg", 1600, 1200)
    assert (seen.taken_at, seen.taken_offset, seen.has_gps, seen.orientation) == (NOON, None, False, 1)
    assert look(upright(data, within=PRINT)) == ()
    assert 60_000 < len(data) < 400_000
    assert len(for_print(data, width_mm=85)) < 90_000


@pytest.mark.parametrize("subject", SUBJECTS)
def test_the_same_arguments_give_the_same_bytes_and_another_seed_another_photo(subject):
    assert picture(subject, seed=1, taken_at=NOON, text=WORDS) == painted(subject)
    assert picture(subject, seed=2, taken_at=NOON, text=WORDS) != painted(subject)


def test_no_two_subjects_are_taken_for_the_same_photo():
    prints = {subject: fingerprint(upright(painted(subject), within=PRINT)) for subject in SUBJECTS}
    doubles = [(a, b) for a in SUBJECTS for b in SUBJECTS if a < b and alike(prints[a], prints[b])]
    assert doubles == []


def test_the_same_photo_stored_on_its_side_is_the_same_photo():
    plain = picture("worn_clutch", seed=3, taken_at=NOON)
    lying = picture("worn_clutch", seed=3, taken_at=NOON, turned=True)
    assert Image.open(io.BytesIO(lying)).size == (1200, 1600)
    seen = examine(lying, limits=Limits())
    assert (seen.orientation, seen.width, seen.height) == (6, 1600, 1200)
    one, other = (fingerprint(upright(data, within=PRINT)) for data in (plain, lying))
    assert distance(one, other) <= 2


def test_the_camera_notes_place_and_offset_when_asked():
    taken = datetime(2026, 4, 17, 12, 5, 9, tzinfo=timezone(timedelta(hours=-5)))
    seen = examine(picture("muffler", seed=1, taken_at=taken, gps=True), limits=Limits())
    assert seen.has_gps
    assert seen.taken_at == NOON
    assert seen.taken_moment == datetime(2026, 4, 17, 17, 5, 9, tzinfo=UTC)
    assert b"GPS" not in for_print(picture("muffler", seed=1, taken_at=taken, gps=True), width_mm=60)


@pytest.mark.parametrize(
    ("subject", "key", "other"),
    [
        ("serial_plate", "serial", "TH52-2501-00004"),
        ("serial_plate", "model", "TH 38"),
        ("hour_meter", "hours", "12.0"),
        ("emission_label", "family", "RTHXS.0521CA"),
        ("emission_label", "displacement", "50.1 cc"),
        ("emission_label", "hours", "300"),
        ("receipt", "total", "$ 12.00"),
        ("new_part", "number", "FL-4471"),
        ("whole_unit_mower", "model", "MW 19"),
    ],
)
def test_what_is_written_shows_in_the_photo(subject, key, other):
    assert picture(subject, seed=1, taken_at=NOON, text={**WORDS, key: other}) != painted(subject)


def test_long_and_odd_words_do_not_trip_the_painter():
    odd = dict.fromkeys(WORDS, "A<b>&\n" + "W" * 300)
    for subject in SUBJECTS:
        assert picture(subject, seed=1, taken_at=NOON, text=odd)


def test_a_maker_has_one_colour_in_all_its_photos():
    def middle(seed):
        data = picture("whole_unit_generator", seed=seed, taken_at=NOON, text={"maker": "Tarnholt"})
        return Image.open(io.BytesIO(data)).resize((1, 1), box=(380, 340, 480, 480)).getpixel((0, 0))

    colours = [middle(seed) for seed in range(4)]
    for channel in range(3):
        assert max(c[channel] for c in colours) - min(c[channel] for c in colours) < 40


def test_the_receipt_as_pdf_is_a_quiet_proof_that_can_be_read():
    data = receipt_pdf(WORDS)
    assert data == receipt_pdf(WORDS)
    assert examine_pdf(data, limits=Limits()).pages == 1
    shown = PdfReader(io.BytesIO(data)).pages[0].extract_text()
    for words in ("Brook Lane Machines", "R-20418", "TH52-2438-01877", "$ 448.33", "proof of purchase"):
        assert words in shown
    assert "Paid" not in shown
