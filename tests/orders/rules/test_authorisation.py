"""Authorisation: which law binds whom, the shop's own rule, the words, and the data's own strictness."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.rules.authorisation import (
    Allowance,
    Asked,
    Goods,
    Sums,
    all_laws,
    consent_needed,
    describe,
    estimate_owed,
    laws_for,
    may_charge,
    parse_laws,
)
from orders.rules.strict import DataError, parse
from shopdocs.money import JPY, USD
from shopdocs.problems import BadInput

D = Decimal


def sums(net: str, total: str | None = None) -> Sums:
    """An amount before and with tax; the same without tax."""
    return Sums(D(net), D(total or net))


def test_a_law_that_does_not_cover_the_goods_or_the_customer_is_not_applied() -> None:
    assert [law.key for law in laws_for("US-OH", Goods.OUTDOOR, household=True)] == ["ohio_all_repairs"]
    assert laws_for("US-OH", Goods.OUTDOOR, household=False) == ()
    assert [law.key for law in laws_for("US-MN", Goods.OUTDOOR, household=True)] == ["minnesota"]
    assert [law.key for law in laws_for("US-DC", Goods.OUTDOOR, household=True)] == ["district_of_columbia"]
    for place in ("US-CA", "US-FL", "US-MI", "US-MA", "US-AK", "US-NY"):
        assert laws_for(place, Goods.OUTDOOR, household=True) == ()
    assert [law.key for law in laws_for("US-FL", Goods.VEHICLE, household=False)] == ["florida_vehicles"]


def test_every_law_says_where_it_stands() -> None:
    for law in all_laws():
        assert law.citation and law.edition and law.confidence
        assert law.citation in law.source and law.confidence in law.source


def test_the_shops_own_stricter_rule_decides() -> None:
    laws = laws_for("US-OH", Goods.OUTDOOR, household=True)
    own = Allowance(percent=D(5))
    within = may_charge(sums("100"), sums("105"), laws=laws, own=own, currency=USD)
    beyond = may_charge(sums("100"), sums("105.01"), laws=laws, own=own, currency=USD)
    assert within.allowed and not beyond.allowed
    assert within.decided_by == beyond.decided_by == "the shop's own rule"
    looser = may_charge(sums("100"), sums("105"), laws=laws, own=Allowance(percent=D(20)), currency=USD)
    assert looser.decided_by == laws[0].source
    assert [step.amount for step in beyond.steps] == [D("110.00"), D("105.00")]
    assert consent_needed(beyond) == "Ask the customer for a new authorisation first: the shop's own rule."
    assert consent_needed(within) == ""


def test_without_law_or_own_rule_the_authorised_amount_is_the_limit() -> None:
    assert may_charge(sums("100"), sums("100"), laws=(), own=None, currency=USD).allowed
    assert not may_charge(sums("100"), sums("100.01"), laws=(), own=None, currency=USD).allowed


def test_a_law_counts_once_the_bill_reaches_it() -> None:
    """Below its threshold Ohio's limit does not speak, so only the authorised amount is left; above it, ten percent."""
    laws = laws_for("US-OH", Goods.OUTDOOR, household=True)
    assert not may_charge(sums("20"), sums("21"), laws=laws, own=None, currency=USD).allowed
    verdict = may_charge(sums("24"), sums("26.40"), laws=laws, own=None, currency=USD)
    assert verdict.allowed and "OAC 109:4-3-05" in verdict.steps[0].text


def test_an_estimate_is_owed_on_request_where_the_law_says_so() -> None:
    (law,) = laws_for("US-MN", Goods.OUTDOOR, household=True)
    assert estimate_owed(law, D("200"), asked=Asked.IN_WRITING).owed
    unasked = estimate_owed(law, D("200"), asked=Asked.NOT_ASKED)
    assert not unasked.owed and "wants one" in unasked.words and "325F.56" in unasked.source


@given(st.decimals(0, 10**6, places=2), st.decimals(0, 50, places=1), st.decimals(0, 100, places=2))
def test_a_limit_never_lies_below_the_estimate_nor_above_its_most(
    estimate: Decimal, percent: Decimal, most: Decimal
) -> None:
    limit = Allowance(percent=percent, at_most=most).limit(estimate, USD)
    assert estimate <= limit <= estimate + most
    assert limit <= estimate * (1 + percent / 100)
    assert Allowance(percent=percent, at_least=most).limit(estimate, USD) >= estimate + most


def test_a_fraction_of_the_smallest_coin_is_not_charged() -> None:
    assert Allowance(percent=D(10)).limit(D("999"), JPY) == D("1098")


def test_an_allowance_in_words() -> None:
    assert describe(Allowance(D(10), D(10), D(50))) == "10 % over the estimate, at least 10, at most 50"
    assert describe(Allowance(D("7.50"))) == "7.5 % over the estimate"


def test_refuses_a_negative_allowance() -> None:
    with pytest.raises(BadInput):
        Allowance(percent=D(-1))
    with pytest.raises(BadInput):
        Allowance(at_most=D("NaN"))


LAW = """laws:
  - key: one
    place: US-XX
    binds: nobody
    goods: [outdoor]
    household: true
    request: false
    tax: counted
    citation: none
    address: none
    edition: none
    confidence: invented for this test
"""


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        (("goods: [outdoor]", "goods: [boat]"), "boat"),
        (("request: false", "request: maybe"), "true or false"),
        (("tax: counted", "tax: counted\n    limit: 5"), "unknown key"),
        (("tax: counted", "tax: counted\n    above: ten"), "number"),
        (("tax: counted", "tax: counted\n    above: -1"), "zero or more"),
        (("tax: counted", "tax: counted\n    over: {at_most: 5}"), "missing"),
        (("    citation: none\n", ""), "missing"),
        (("laws:\n", "laws:\n" + LAW.removeprefix("laws:\n")), "twice"),
    ],
)
def test_wrong_data_is_refused_with_its_line(change: tuple[str, str], problem: str) -> None:
    assert parse_laws(parse(LAW, "laws.yaml"))[0].key == "one"
    with pytest.raises(DataError, match=problem) as refused:
        parse_laws(parse(LAW.replace(*change, 1), "laws.yaml"))
    assert refused.value.where.startswith("laws.yaml:")
