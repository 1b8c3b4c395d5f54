"""Units of measurement: codes, refusals, and conversion against published factors."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from orders.rules import units
from orders.rules.strict import DataError
from orders.rules.trade import UnknownCode


def test_the_units_of_the_bench_are_there() -> None:
    wanted = [
        "mm",
        "in",
        "kPa",
        "psi",
        "ohm",
        "V",
        "A",
        "W",
        "Hz",
        "rpm",
        "C",
        "F",
        "N",
        "lbf",
        "N m",
        "lbf in",
        "h",
        "cc",
    ]
    assert [units.measurement_unit(code).code for code in wanted] == wanted


def test_an_unknown_unit_lists_near_ones_and_case_matters() -> None:
    with pytest.raises(UnknownCode, match="no unit of measurement 'kpa'"):
        units.measurement_unit("kpa")
    with pytest.raises(UnknownCode, match=r"near to it: .*ohm"):
        units.measurement_unit("ohms")


@pytest.mark.parametrize(
    ("value", "start", "end", "places", "expected"),
    [
        # exact: 25.4 mm to the inch; 0.030 in = 0.762 mm (published.md 9.3 notes a manual's slip of 0.8382)
        ("0.030", "in", "mm", 4, "0.7620"),
        ("0.028", "in", "mm", 4, "0.7112"),
        # torque rows computed in published.md 9.4
        ("20", "lbf ft", "N m", 1, "27.1"),
        ("120", "lbf in", "N m", 1, "13.6"),
        ("275", "lbf in", "N m", 1, "31.1"),
        ("300", "lbf in", "N m", 1, "33.9"),
        ("20", "N m", "lbf ft", 1, "14.8"),
        # navalfacilities.tpub.com/1004_6/1004_60046.htm (undated): psi to kPa 6.894757, lbf to N 4.448222
        ("100", "psi", "kPa", 4, "689.4757"),
        ("1", "lbf", "N", 6, "4.448222"),
        # definitions of the Celsius and Fahrenheit scales
        ("32", "F", "C", 3, "0.000"),
        ("212", "F", "C", 3, "100.000"),
        ("-40", "C", "F", 3, "-40.000"),
        ("37", "C", "F", 1, "98.6"),
    ],
)
def test_conversion_by_published_factors(value: str, start: str, end: str, places: int, expected: str) -> None:
    assert str(units.convert(Decimal(value), start, end, places)) == expected


def test_half_is_rounded_away_from_zero_on_both_sides() -> None:
    assert units.convert(Decimal("0.5"), "mm", "mm", 0) == Decimal(1)
    assert units.convert(Decimal("-0.5"), "C", "C", 0) == Decimal(-1)


def test_unlike_quantities_are_not_converted() -> None:
    with pytest.raises(units.BadMeasurement, match="volts measure voltage, ohms measure resistance"):
        units.convert(Decimal(1), "V", "ohm")


def test_a_measurement_is_read_exactly() -> None:
    assert units.measured("0.35", "mm") == Decimal("0.35")
    assert units.measured("-0.5", "kPa") == Decimal("-0.5")


@pytest.mark.parametrize("value", ["-0.1", "abc", "", "NaN", "Infinity", "1e400", "1234567890123", "0.1.2", "0,35"])
def test_what_cannot_be_a_gap_is_refused(value: str) -> None:
    with pytest.raises(units.BadMeasurement):
        units.measured(value, "mm")


def test_a_wrong_file_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "units.yaml"
    good = 'units:\n  - {code: mm, name: "millimetres", quantity: length, factor: 1, source: exact}\n'
    for row, problem in (
        ("{code: mm, name: n, quantity: length, factor: 1, source: exact}", "stands here twice"),
        ("{code: cm, name: n, quantity: length, factor: 0, source: exact}", "above zero"),
        ("{code: cm, name: n, quantity: length, factor: 1/0, source: exact}", "fraction"),
        ("{code: cm, name: n, quantity: length, source: exact}", "'factor' is missing"),
    ):
        path.write_text(f"{good}  - {row}\n", "utf-8")
        with pytest.raises(DataError, match=problem) as caught:
            units.load_units(path)
        assert caught.value.where == "units.yaml:3"
