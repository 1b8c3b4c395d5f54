"""Tax of whole documents against an independent calculation in fractions, and the edges of the shapes."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.rules.tax_sums import compute_tax
from orders.rules.taxes import Basis, BracketTable, Stacking, TaxedItem, TaxRate, TaxStack, tax_by_third_decimal
from shopdocs.money import JPY, KWD, USD, Currency, from_units
from shopdocs.problems import BadInput

PERCENTS = st.decimals(0, "99.9999", places=4, allow_nan=False)
NAMES = ("State", "County", "City")
FLAT = BracketTable(Decimal("0.06"), ((Decimal("0.99"), Decimal("0.00")),), ((Decimal("0.99"), Decimal("0.03")),))


def half_up(amount: Fraction, currency: Currency) -> Decimal:
    """Independent rounding: by the remainder of whole division, on the absolute value."""
    cents = abs(amount) * 10**currency.decimals
    whole, rest = divmod(cents, 1)
    units = int(whole) + (1 if rest >= Fraction(1, 2) else 0)
    return from_units(units if amount >= 0 else -units, currency)


@st.composite
def documents(draw: st.DrawFn) -> tuple[list[TaxedItem], TaxStack, Currency]:
    currency = draw(st.sampled_from([USD, JPY, KWD]))
    rates = tuple(TaxRate(name, draw(PERCENTS)) for name in draw(st.lists(st.sampled_from(NAMES), unique=True)))
    names = [rate.name for rate in rates]
    subset = st.frozensets(st.sampled_from(names)) if names else st.just(frozenset())
    amounts = st.integers(-(10**7), 10**8).map(lambda cents: from_units(cents, currency))
    items = draw(st.lists(st.builds(TaxedItem, amounts, subset), max_size=12))
    stack = TaxStack(rates, draw(st.sampled_from(Basis)), draw(st.sampled_from(Stacking)), draw(st.booleans()))
    return items, stack, currency


def independent_total(items: list[TaxedItem], stack: TaxStack, currency: Currency) -> Decimal:
    percents = {rate.name: Fraction(rate.percent) for rate in stack.rates}

    def tax(item: TaxedItem, name: str) -> Fraction:
        if name not in item.rates:
            return Fraction(0)
        inside = sum(percents[other] for other in item.rates) if stack.inclusive else 0
        return Fraction(item.amount) * percents[name] / (100 + inside)

    groups = [[item] for item in items] if stack.basis is Basis.ITEM else [items]
    bundles = [[name] for name in percents] if stack.stacking is Stacking.SEPARATE else [list(percents)]
    roundings = [
        sum((tax(item, name) for item in group for name in names), Fraction(0)) for group in groups for names in bundles
    ]
    return sum((half_up(amount, currency) for amount in roundings), Decimal(0))


@given(documents())
def test_agrees_with_an_independent_calculation_in_fractions(
    document: tuple[list[TaxedItem], TaxStack, Currency],
) -> None:
    items, stack, currency = document
    result = compute_tax(items, stack, currency)
    assert result.total == independent_total(items, stack, currency)
    assert sum(line.amount for line in result.lines) == result.total
    assert sum(result.per_item) == result.total
    for item, share in zip(items, result.per_item, strict=True):
        assert item.rates or not share


@given(documents())
def test_a_credit_of_the_whole_document_mirrors_its_tax(document: tuple[list[TaxedItem], TaxStack, Currency]) -> None:
    items, stack, currency = document
    credit = [TaxedItem(-item.amount, item.rates) for item in items]
    assert compute_tax(credit, stack, currency).total == -compute_tax(items, stack, currency).total


@given(documents())
def test_each_line_says_what_it_is_charged_on(document: tuple[list[TaxedItem], TaxStack, Currency]) -> None:
    items, stack, currency = document
    result = compute_tax(items, stack, currency)
    for line in result.lines:
        taxed = [
            (item.amount, share) for item, share in zip(items, result.per_item, strict=True) if line.name in item.rates
        ]
        assert line.base == sum(amount - (share if stack.inclusive else 0) for amount, share in taxed)
        assert line.steps[-1].amount == line.amount and line.name in line.steps[0].text


@given(st.integers(0, 10**9), PERCENTS, st.sampled_from([USD, JPY, KWD]))
def test_the_third_decimal_rule_is_half_up(cents: int, percent: Decimal, currency: Currency) -> None:
    base = from_units(cents, currency)
    assert tax_by_third_decimal(base, percent, currency) == half_up(Fraction(base) * Fraction(percent) / 100, currency)


def test_tax_inside_the_price_is_taken_out_of_it() -> None:
    stack = TaxStack((TaxRate("Tax", Decimal(20)),), inclusive=True)
    result = compute_tax([TaxedItem(Decimal("120.00"), frozenset({"Tax"})), TaxedItem(Decimal("50.00"))], stack, USD)
    assert result.total == Decimal("20.00")
    assert result.lines[0].base == Decimal("100.00")
    assert result.per_item == (Decimal("20.00"), Decimal("0.00"))


def test_a_bracket_table_counts_beside_a_percentage() -> None:
    stack = TaxStack((TaxRate("Table", Decimal(6), FLAT), TaxRate("City", Decimal(1))))
    both = frozenset({"Table", "City"})
    result = compute_tax([TaxedItem(Decimal("1.25"), both), TaxedItem(Decimal("1.25"), both)], stack, USD)
    assert [line.amount for line in result.lines] == [Decimal("0.15"), Decimal("0.03")]
    assert result.lines[0].how == "by the bracket table"
    assert result.per_item == (Decimal("0.10"), Decimal("0.08"))


@pytest.mark.parametrize(
    ("basis", "stacking", "inclusive", "names", "how"),
    [
        (Basis.ITEM, Stacking.SEPARATE, False, ("State", "City"), "rounded per line"),
        (Basis.INVOICE, Stacking.AGGREGATED, False, ("State",), "rounded once on the whole"),
        (Basis.INVOICE, Stacking.AGGREGATED, False, ("State", "City"), "rounded once on the whole, all rates together"),
        (Basis.INVOICE, Stacking.SEPARATE, True, ("State",), "rounded once on the whole, tax inside the prices"),
    ],
)
def test_each_line_says_how_it_was_rounded(
    basis: Basis, stacking: Stacking, inclusive: bool, names: tuple[str, ...], how: str
) -> None:
    stack = TaxStack(tuple(TaxRate(name, Decimal(5)) for name in names), basis, stacking, inclusive)
    result = compute_tax([TaxedItem(Decimal("10.00"), frozenset(names))], stack, USD)
    assert {line.how for line in result.lines} == {how}


def test_a_rate_may_have_six_decimals() -> None:
    assert TaxRate("Tax", Decimal("8.123456")).percent == Decimal("8.123456")


def test_no_line_for_a_rate_that_applies_to_nothing() -> None:
    stack = TaxStack((TaxRate("State", Decimal(5)), TaxRate("City", Decimal(1))))
    result = compute_tax([TaxedItem(Decimal("10.00"), frozenset({"State"}))], stack, USD)
    assert [line.name for line in result.lines] == ["State"]


def test_refuses_what_is_no_tax() -> None:
    below = ((Decimal("0.50"), Decimal("0.01")),)
    wrong = [
        lambda: TaxRate("Tax", Decimal(100)),
        lambda: TaxRate("Tax", Decimal("-1")),
        lambda: TaxRate("Tax", Decimal("NaN")),
        lambda: TaxRate("Tax", Decimal("1.1234567")),
        lambda: TaxRate(" ", Decimal(5)),
        lambda: TaxStack((TaxRate("Tax", Decimal(5)), TaxRate("Tax", Decimal(6)))),
        lambda: TaxStack((TaxRate("Tax", Decimal(6), FLAT),), inclusive=True),
        lambda: BracketTable(Decimal("0.06"), below, ()),
        lambda: BracketTable(Decimal("0.06"), below, (*below, *below)),
        lambda: BracketTable(Decimal("0.06"), below, ((Decimal("1.00"), Decimal("0.06")),)),
        lambda: compute_tax([TaxedItem(Decimal(1), frozenset({"Moon"}))], TaxStack(), USD),
        lambda: compute_tax([TaxedItem(Decimal("1.001"))], TaxStack(), USD),
    ]
    for call in wrong:
        with pytest.raises(BadInput) as refused:
            call()
        assert refused.value.field and refused.value.remedy


def test_says_when_no_bracket_holds_the_amount() -> None:
    short = BracketTable(Decimal("0.06"), ((Decimal("0.50"), Decimal("0.01")),), ((Decimal("0.99"), Decimal("0.06")),))
    stack = TaxStack((TaxRate("Table", Decimal(6), short),))
    with pytest.raises(BadInput, match="No bracket"):
        compute_tax([TaxedItem(Decimal("0.51"), frozenset({"Table"}))], stack, USD)
