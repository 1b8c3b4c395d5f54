"""Doubts about a picture's day, at their edges; pictures that are still to be taken."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from orders.rules.picture_doubts import Shown, doubts, missing

ZONE = ZoneInfo("America/New_York")
RECEIVED, BOUGHT = dt.date(2026, 11, 9), dt.date(2026, 3, 14)
DONE = dt.datetime(2026, 11, 10, 15, 0, tzinfo=ZONE)
NOW = dt.datetime(2026, 11, 10, 17, 0, tzinfo=ZONE)


def codes(taken: str, moment: str = "before", repaired: bool = False, bought: dt.date | None = BOUGHT) -> list[str]:
    found = doubts(
        moment=moment, taken_at=dt.datetime.fromisoformat(taken).replace(tzinfo=ZONE), now=NOW, zone=ZONE,
        received_on=RECEIVED, bought_on=bought, repaired_at=DONE if repaired else None,
    )  # fmt: skip
    assert all(one.words.endswith(".") for one in found)
    return [one.code for one in found]


@pytest.mark.parametrize(
    ("taken", "expected"),
    [
        ("2026-03-13T23:59", ["taken_before_purchase"]),
        ("2026-03-14T00:00", ["taken_before_visit"]),
        ("2026-11-08T23:59", ["taken_before_visit"]),
        ("2026-11-09T00:00", []),
        ("2026-11-10T18:00", []),
        ("2026-11-10T18:01", ["camera_clock_ahead"]),
    ],
)
def test_the_day_of_a_picture(taken: str, expected: list[str]) -> None:
    assert codes(taken) == expected


def test_days_are_those_of_the_shop() -> None:
    late = dt.datetime(2026, 11, 9, 4, 30, tzinfo=dt.UTC)  # still the 8th at the shop
    found = doubts(moment="before", taken_at=late, now=NOW, zone=ZONE, received_on=RECEIVED)
    assert [one.code for one in found] == ["taken_before_visit"]


@pytest.mark.parametrize(
    ("moment", "taken", "expected"),
    [
        ("before", "2026-11-10T15:00", []),
        ("before", "2026-11-10T15:01", ["taken_after_repair"]),
        ("check_in", "2026-11-10T15:01", ["taken_after_repair"]),
        ("after", "2026-11-10T15:01", []),
        ("serial_plate", "2026-11-10T15:01", []),
    ],
)
def test_a_picture_from_before_that_was_taken_after(moment: str, taken: str, expected: list[str]) -> None:
    assert codes(taken, moment, repaired=True) == expected
    assert codes(taken, moment) == []


def test_without_a_clock_or_a_day_of_purchase_nothing_is_guessed() -> None:
    assert doubts(moment="before", taken_at=None, now=NOW, zone=ZONE, received_on=RECEIVED, bought_on=BOUGHT) == ()
    assert codes("2020-01-01T12:00", bought=None) == ["taken_before_visit"]


@pytest.mark.parametrize(
    ("moments", "serial", "meter", "expected"),
    [
        ([], True, True, ["no_serial_plate", "no_hour_meter"]),
        ([], False, False, []),
        (["serial_plate"], True, None, ["no_hour_meter"]),
        (["serial_plate", "hour_meter"], True, True, []),
    ],
)
def test_what_is_still_to_be_photographed(
    moments: list[str], serial: bool, meter: bool | None, expected: list[str]
) -> None:
    assert [one.code for one in missing(moments, has_serial=serial, has_hour_meter=meter)] == expected


def test_a_finding_without_its_photo() -> None:
    found = missing(["serial_plate"], has_serial=True, has_hour_meter=False, findings=[Shown(1, True), Shown(2, False)])
    assert [(one.code, "Finding 2" in one.words) for one in found] == [("no_photo_of_finding", True)]
