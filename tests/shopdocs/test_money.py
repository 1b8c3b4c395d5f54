"""Exact money: rounding, allocation, typed amounts, printed amounts."""

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopdocs.money import (
    JPY,
    KWD,
    USD,
    Currency,
    allocate,
    allocate_units,
    decimals_of,
    divide_half_up,
    format_money,
    from_units,
    largest_remainder,
    parse_amount,
    plain,
    round_money,
    to_units,
)
from shopdocs.problems import BadInput

CURRENCIES = st.sampled_from([USD, JPY, KWD])
CENTS = st.integers(-(10**11), 10**11)


@pytest.mark.parametrize(
    ("amount", "currency", "expected"),
    [
        ("0.005", USD, "0.01"),
        ("0.0049999", USD, "0.00"),
        ("-0.005", USD, "-0.01"),
        ("2.5", JPY, "3"),
        ("1.2345", KWD, "1.235"),
        ("1.015", USD, "1.02"),  # binary floats give 1.01
    ],
)
def test_rounds_half_up_to_the_currency(amount: str, currency: Currency, expected: str) -> None:
    assert str(round_money(Decimal(amount), currency)) == expected


@given(st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**9), max_value=10**9, places=7), CURRENCIES)
def test_rounding_is_the_nearest_amount_and_mirrors(amount: Decimal, currency: Currency) -> None:
    rounded = round_money(amount, currency)
    assert abs(rounded - amount) * 2 <= currency.quantum
    assert round_money(-amount, currency) == -rounded
    assert rounded == amount.quantize(currency.quantum, ROUND_HALF_UP)


@given(st.integers(-(10**12), 10**12), st.integers(1, 10**9))
def test_division_goes_to_the_nearest_whole_halves_away_from_zero(numerator: int, denominator: int) -> None:
    nearest = divide_half_up(numerator, denominator)
    assert abs(Fraction(numerator, denominator) - nearest) <= Fraction(1, 2)
    assert divide_half_up(2 * numerator + (1 if numerator >= 0 else -1), 2) == numerator + (1 if numerator >= 0 else -1)


@given(CENTS, st.lists(st.integers(0, 10**6), min_size=1, max_size=30).filter(any), CURRENCIES)
def test_parts_add_up_and_stay_within_a_cent(cents: int, weights: list[int], currency: Currency) -> None:
    amount = from_units(cents, currency)
    parts = allocate(amount, weights, currency)
    assert sum(parts) == amount
    for part, weight in zip(parts, weights, strict=True):
        share = Fraction(cents) * weight / sum(weights)
        assert abs(Fraction(to_units(part, currency)) - share) < 1
        assert weight or not part


@given(CENTS, st.lists(st.integers(0, 1000), min_size=1, max_size=12).filter(any))
def test_a_credit_splits_like_its_charge(cents: int, weights: list[int]) -> None:
    assert allocate_units(-cents, weights) == [-part for part in allocate_units(cents, weights)]


def test_equal_remainders_go_to_the_earlier_part() -> None:
    assert allocate(Decimal("100.00"), [1, 1, 1], USD) == (Decimal("33.34"), Decimal("33.33"), Decimal("33.33"))
    assert allocate(Decimal("0.02"), [1, 1, 1], USD) == (Decimal("0.01"), Decimal("0.01"), Decimal("0.00"))
    assert allocate(Decimal("5"), [Decimal("0.5"), Decimal("0.25")], JPY) == (Decimal("3"), Decimal("2"))


def test_weights_may_have_either_sign_inside_one_document() -> None:
    assert allocate_units(100, [150, -50]) == [150, -50]
    assert allocate_units(-7, [-3, -4]) == [-3, -4]


def test_zero_splits_into_zeros_whatever_the_weights() -> None:
    assert allocate(Decimal("0.00"), [0, 0], USD) == (Decimal("0.00"), Decimal("0.00"))


@pytest.mark.parametrize("weights", [[], [0, 0], [1, -1]])
def test_refuses_weights_that_cannot_carry_the_amount(weights: list[int]) -> None:
    with pytest.raises(BadInput) as refused:
        allocate(Decimal("1.00"), weights, USD)
    assert refused.value.field == "weights"


def test_refuses_a_whole_that_is_not_near_its_shares() -> None:
    with pytest.raises(ValueError, match="not near"):
        largest_remainder([10, 10], 10, 7)


@pytest.mark.parametrize(
    ("typed", "currency", "expected"),
    [
        ("$1,234.50", USD, "1234.50"),
        ("1234.5", USD, "1234.50"),
        (" 12 ", USD, "12.00"),
        ("12.50 USD", USD, "12.50"),
        (12, USD, "12.00"),
        (Decimal("12.500"), USD, "12.50"),
        ("¥500", JPY, "500"),
        ("1.234", KWD, "1.234"),
        ("0", USD, "0.00"),
    ],
)
def test_reads_what_people_type(typed: object, currency: Currency, expected: str) -> None:
    assert str(parse_amount(typed, currency)) == expected


def test_a_price_may_have_more_decimals_where_the_caller_says_so() -> None:
    assert str(parse_amount("0.1234", USD, decimals=4)) == "0.1234"
    assert str(parse_amount("2", USD, decimals=4)) == "2.00"
    assert str(parse_amount("-3.5", USD, negative=True)) == "-3.50"


@pytest.mark.parametrize(
    "typed",
    [
        *("NaN", "Infinity", "1e400", "1E5", "12.345", "0.123456789", "1,23", "12,34.50", "1.234,50"),
        *("", "-", "$", "$$5", "٣", "-1", "5 EUR", "1 2", "1" * 50, "9" * 13),
        *(1.5, True, None, Decimal("NaN"), Decimal("1e400"), Decimal("1e-9"), []),
    ],
)
def test_refuses_anything_else_naming_field_problem_and_remedy(typed: object) -> None:
    with pytest.raises(BadInput) as refused:
        parse_amount(typed, USD, field="unit_price")
    assert refused.value.field == "unit_price"
    assert refused.value.problem and refused.value.remedy


@pytest.mark.parametrize(
    ("amount", "currency", "expected"),
    [
        ("1234.5", USD, "$1,234.50"),
        ("-5", USD, "-$5.00"),
        ("0", USD, "$0.00"),
        ("1234567", JPY, "¥1,234,567"),
        ("1234.5", KWD, "1,234.500 KWD"),
        ("-0.5", KWD, "-0.500 KWD"),
    ],
)
def test_prints_amounts(amount: str, currency: Currency, expected: str) -> None:
    assert format_money(Decimal(amount), currency) == expected


@given(CENTS, CURRENCIES)
def test_what_is_printed_reads_back(cents: int, currency: Currency) -> None:
    amount = from_units(cents, currency)
    assert parse_amount(format_money(amount, currency), currency, negative=True) == amount


def test_never_prints_an_amount_that_it_would_have_to_shorten() -> None:
    with pytest.raises(BadInput):
        format_money(Decimal("1.005"), USD)


@pytest.mark.parametrize(("code", "decimals"), [("usd", 2), ("US", 2), ("USD", 1), ("USD", 4), ("USD", -1)])
def test_refuses_a_currency_that_is_none(code: str, decimals: int) -> None:
    with pytest.raises(BadInput):
        Currency(code, decimals)


def test_numbers_in_words_carry_no_trailing_zeros() -> None:
    assert [plain(Decimal(n)) for n in ("8.250", "100", "0.5", "1E+2", "0.00")] == ["8.25", "100", "0.5", "100", "0"]
    assert [decimals_of(Decimal(n)) for n in ("1.50", "100", "0.000", "1E-9")] == [1, 0, 0, 9]
