"""Fuel and oil against printed charts, and the rows that follow from the same division."""

from decimal import Decimal

import pytest

from orders.rules.fuel_mix import Volume, oil_for
from shopdocs.problems import BadInput

D = Decimal

# Charts: https://www.reference.com/vehicles/many-ounces-oil-should-one-use-50-1-oil-gas-ratio-c4b1df918024ef75 and
# http://www.anycalculator.com/gasandoilmixcalculator.html ; undated pages, read for 50, 40, 32 and 25; other rows
# computed (US gallon = 128 fl oz). Columns: fl oz to 1, 2 and 5 US gallons, and mL to a litre.
CHART = [
    (100, "1.28", "2.56", "6.40", "10.00"),
    (50, "2.56", "5.12", "12.80", "20.00"),
    (40, "3.20", "6.40", "16.00", "25.00"),
    (32, "4.00", "8.00", "20.00", "31.25"),
    (25, "5.12", "10.24", "25.60", "40.00"),
    (24, "5.33", "10.67", "26.67", "41.67"),
    (16, "8.00", "16.00", "40.00", "62.50"),
]


@pytest.mark.parametrize(("ratio", "one", "two", "five", "per_litre"), CHART)
def test_oil_to_fuel(ratio: int, one: str, two: str, five: str, per_litre: str) -> None:
    for gallons, ounces in ((1, one), (2, two), (5, five)):
        assert str(oil_for(D(gallons), D(ratio)).rounded(2)) == ounces
    assert str(oil_for(D(1), D(ratio), Volume.LITRE).rounded(2)) == per_litre


# The same pages' printed 50:1 chart in tenths of an ounce.
@pytest.mark.parametrize(
    ("gallons", "printed"), [(1, "2.6"), (2, "5.1"), (3, "7.7"), (4, "10.2"), (5, "12.8"), (6, "15.4"), (12, "30.7")]
)
def test_the_printed_chart_of_fifty_to_one(gallons: int, printed: str) -> None:
    assert str(oil_for(D(gallons), D(50)).rounded()) == printed


@pytest.mark.parametrize(("ratio", "printed"), [(100, "1.3"), (50, "2.6"), (40, "3.2"), (32, "4.0")])
def test_one_gallon_as_printed(ratio: int, printed: str) -> None:
    assert str(oil_for(D(1), D(ratio)).rounded()) == printed


def test_rounding_once_at_the_end() -> None:
    """Twice a printed 2.6 is 5.2, as some charts have it; two gallons take 5.12, printed 5.1 (same pages)."""
    assert 2 * oil_for(D(1), D(50)).rounded() == D("5.2")
    assert oil_for(D(2), D(50)).rounded() == D("5.1")
    assert oil_for(D(2), D(50)).words == "5.1 fl oz of oil to 2 US gal of fuel (50:1)"


# Imperial gallon = 160 imperial fluid ounces; computed.
@pytest.mark.parametrize(("ratio", "ounces"), [(32, "5.0"), (40, "4.0"), (50, "3.2")])
def test_imperial_gallon(ratio: int, ounces: str) -> None:
    assert str(oil_for(D(1), D(ratio), Volume.IMPERIAL_GALLON).rounded()) == ounces


def test_the_steps_lead_to_the_figure() -> None:
    steps = oil_for(D("2.5"), D(50)).steps
    assert [step.amount for step in steps] == [D("320.0"), D("6.40")]
    assert steps[0].text == "2.5 US gal is 320 fl oz"


@pytest.mark.parametrize(
    ("fuel", "ratio"), [("0", "50"), ("-1", "50"), ("1", "0"), ("1", "5"), ("NaN", "50"), ("1", "NaN")]
)
def test_refuses_what_nobody_mixes(fuel: str, ratio: str) -> None:
    with pytest.raises(BadInput) as refused:
        oil_for(D(fuel), D(ratio))
    assert refused.value.field in ("fuel", "ratio") and refused.value.remedy
