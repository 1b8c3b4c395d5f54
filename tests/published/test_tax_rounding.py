"""Tax rounding against statutes: the Streamlined Agreement's third decimal, and one bracket state."""

from decimal import Decimal

import pytest

from orders.rules.tax_sums import compute_tax
from orders.rules.taxes import (
    Basis,
    BracketTable,
    Stacking,
    TaxedItem,
    TaxRate,
    TaxStack,
    tax_by_brackets,
    tax_by_third_decimal,
    third_decimal,
)
from shopdocs.money import USD

# Rule: Streamlined Sales and Use Tax Agreement s. 324 as enacted: carry to the third decimal, round up when it is
# greater than four; item or invoice basis; may be applied to state and local tax together. R.I. Gen. Laws 44-18.1-25,
# https://webserver.rilegislature.gov/Statutes/TITLE44/44-18.1/44-18.1-25.HTM; RCW 82.08.054,
# https://app.leg.wa.gov/RCW/default.aspx?cite=82.08.054 ; both read, undated. Half a cent goes up: the Project's
# issue paper of Jan 2002, https://studylib.net/doc/7979173/rounding-rule---streamlined-sales-tax ; read. Amounts
# computed from the rule.
THIRD_DECIMAL = [
    ("10.00", "7", "0.7000", "0.700", "0.70"),
    ("1.49", "7", "0.1043", "0.104", "0.10"),
    ("1.50", "7", "0.1050", "0.105", "0.11"),
    ("0.50", "5", "0.0250", "0.025", "0.03"),
    ("33.33", "8.25", "2.749725", "2.749", "2.75"),
    ("2.35", "7.25", "0.170375", "0.170", "0.17"),
]


@pytest.mark.parametrize(("price", "percent", "exact", "third", "tax"), THIRD_DECIMAL)
def test_third_decimal_rule(price: str, percent: str, exact: str, third: str, tax: str) -> None:
    assert third_decimal(Decimal(exact), USD) == Decimal(third)
    assert tax_by_third_decimal(Decimal(price), Decimal(percent), USD) == Decimal(tax)
    stack = TaxStack((TaxRate("Tax", Decimal(percent)),))
    result = compute_tax([TaxedItem(Decimal(price), frozenset({"Tax"}))], stack, USD)
    assert result.total == Decimal(tax)
    assert result.lines[0].exact == Decimal(exact)


def total(prices: list[str], percents: list[str], basis: Basis, stacking: Stacking) -> Decimal:
    """Tax of lines that all rates apply to."""
    rates = tuple(TaxRate(f"Tax {index}", Decimal(percent)) for index, percent in enumerate(percents))
    names = frozenset(rate.name for rate in rates)
    items = [TaxedItem(Decimal(price), names) for price in prices]
    return compute_tax(items, TaxStack(rates, basis, stacking), USD).total


# The same rule: both bases are the seller's choice, and they differ. Computed from the rule.
@pytest.mark.parametrize(
    ("price", "count", "by_item", "by_invoice"),
    [("1.07", 3, "0.21", "0.22"), ("0.79", 4, "0.24", "0.22")],
)
def test_item_and_invoice_basis_differ(price: str, count: int, by_item: str, by_invoice: str) -> None:
    assert total([price] * count, ["7"], Basis.ITEM, Stacking.AGGREGATED) == Decimal(by_item)
    assert total([price] * count, ["7"], Basis.INVOICE, Stacking.AGGREGATED) == Decimal(by_invoice)


def test_added_and_separate_rates_differ() -> None:
    """1.04 at 6.25 % and 1.75 %: 0.07 + 0.02 apart, 0.0832 together. Computed from the rule."""
    assert total(["1.04"], ["6.25", "1.75"], Basis.INVOICE, Stacking.SEPARATE) == Decimal("0.09")
    assert total(["1.04"], ["6.25", "1.75"], Basis.INVOICE, Stacking.AGGREGATED) == Decimal("0.08")


# Brackets: Maryland Tax-General 11-104(a), 6 % from Jan 3, 2008,
# http://statutes.laws-info.com/maryland/tax-general/title-11/subtitle-1/11-104 ; read. Below 20 c the statute names
# no tax.
BELOW = [
    ("0.19", "0"),
    ("0.20", "0.01"),
    ("0.33", "0.02"),
    ("0.50", "0.03"),
    ("0.66", "0.04"),
    ("0.83", "0.05"),
    ("0.99", "0.06"),
]
EXCESS = [
    ("0.00", "0"),
    ("0.16", "0.01"),
    ("0.33", "0.02"),
    ("0.50", "0.03"),
    ("0.66", "0.04"),
    ("0.83", "0.05"),
    ("0.99", "0.06"),
]


def table(per_whole: str, below: list[tuple[str, str]], excess: list[tuple[str, str]]) -> BracketTable:
    """A bracket table from text."""

    def rows(pairs: list[tuple[str, str]]) -> tuple[tuple[Decimal, Decimal], ...]:
        return tuple((Decimal(limit), Decimal(tax)) for limit, tax in pairs)

    return BracketTable(Decimal(per_whole), rows(below), rows(excess))


SIX_PERCENT = table("0.06", BELOW, EXCESS)

BRACKET_ROWS = [
    ("0.19", "0.00", "0.01"),
    ("0.20", "0.01", "0.01"),
    ("0.21", "0.02", "0.01"),
    ("0.33", "0.02", "0.02"),
    ("0.34", "0.03", "0.02"),
    ("0.99", "0.06", "0.06"),
    ("1.00", "0.06", "0.06"),
    ("1.01", "0.07", "0.06"),
    ("1.16", "0.07", "0.07"),
    ("1.17", "0.08", "0.07"),
    ("1.50", "0.09", "0.09"),
    ("1.51", "0.10", "0.09"),
    ("1.83", "0.11", "0.11"),
    ("1.84", "0.12", "0.11"),
    ("10.01", "0.61", "0.60"),
    ("42.17", "2.54", "2.53"),
    ("123.45", "7.41", "7.41"),
    ("999.99", "60.00", "60.00"),
]


@pytest.mark.parametrize(("price", "bracket", "plain"), BRACKET_ROWS)
def test_bracket_state(price: str, bracket: str, plain: str) -> None:
    assert tax_by_brackets(Decimal(price), SIX_PERCENT) == Decimal(bracket)
    assert tax_by_brackets(-Decimal(price), SIX_PERCENT) == -Decimal(bracket)
    assert tax_by_third_decimal(Decimal(price), Decimal(6), USD) == Decimal(plain)
    rates = (TaxRate("State", Decimal(6), SIX_PERCENT),)
    assert compute_tax([TaxedItem(Decimal(price), frozenset({"State"}))], TaxStack(rates), USD).total == Decimal(
        bracket
    )


# Brackets below one dollar, edge by edge, same statute.
@pytest.mark.parametrize(
    ("first", "last", "cents"), [(20, 20, 1), (21, 33, 2), (34, 50, 3), (51, 66, 4), (67, 83, 5), (84, 99, 6)]
)
def test_each_bracket_below_a_dollar(first: int, last: int, cents: int) -> None:
    for price in range(first, last + 1):
        assert tax_by_brackets(Decimal(price) / 100, SIX_PERCENT) == Decimal(cents) / 100


@pytest.mark.parametrize(
    ("first", "last", "cents"), [(1, 16, 1), (17, 33, 2), (34, 50, 3), (51, 66, 4), (67, 83, 5), (84, 99, 6)]
)
def test_each_bracket_above_a_dollar(first: int, last: int, cents: int) -> None:
    for rest in range(first, last + 1):
        assert tax_by_brackets(7 + Decimal(rest) / 100, SIX_PERCENT) == Decimal(42 + cents) / 100


# Before 2008 the same section took 5 c per dollar and 1 c per 20 c or part:
# https://law.justia.com/codes/maryland/2005/gtg/11-104.html (2005); read.
@pytest.mark.parametrize(("price", "tax"), [("1.01", "0.06"), ("1.20", "0.06"), ("1.21", "0.07")])
def test_bracket_state_before_2008(price: str, tax: str) -> None:
    fifths = [("0.00", "0"), ("0.20", "0.01"), ("0.40", "0.02"), ("0.60", "0.03"), ("0.80", "0.04"), ("0.99", "0.05")]
    assert tax_by_brackets(Decimal(price), table("0.05", fifths, fifths)) == Decimal(tax)
