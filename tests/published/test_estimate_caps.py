"""Consumer estimate laws: when an estimate is owed, and how far a bill may exceed it.

Statutes as seen; orders/rules/data/estimate_laws.yaml holds address and edition of each, and the tests below repeat them.
Amounts are computed from the rules.
"""

from decimal import Decimal

import pytest

from orders.rules.authorisation import (
    Allowance,
    Asked,
    EstimateLaw,
    Goods,
    Sums,
    all_laws,
    estimate_owed,
    laws_for,
    may_charge,
)
from shopdocs.money import USD

D = Decimal
LAWS = {law.key: law for law in all_laws()}


def limit(law: EstimateLaw, estimate: str) -> Decimal:
    """The highest bill by the law's own allowance."""
    assert law.over is not None
    return law.over.limit(D(estimate), USD)


def allowed(key: str, estimate: str, bill: str) -> bool:
    """Whether the law lets the bill pass, both without tax."""
    agreed, asked = Sums(D(estimate), D(estimate)), Sums(D(bill), D(bill))
    return may_charge(agreed, asked, laws=[LAWS[key]], own=None, currency=USD).allowed


# Minn. Stat. 325F.58 subd. 6 (2001), https://revisor.mn.gov/statutes/?id=325F.58&year=2001 ; read: 110 % of the
# estimate. OAC 109:4-3-05 as the Attorney General summarises it,
# https://ohioattorneygeneral.gov/Business/Services-for-Business/Business-Guide/Repairs-and-Services ; read: plus 10
# %. Fla. Stat. 559.909(1)(b) (2024), https://lawserver.com/law/state/florida/statutes/florida_statutes_559-909 ;
# read: the greater of $10 and 10 %, never more than $50. 16 CCR 2722 (through Sept 20, 2024),
# https://regulations.justia.com/states/california/title-16/division-27/article-3/section-2722 ; read: nothing above
# the estimate without consent.
@pytest.mark.parametrize(
    ("estimate", "tenth", "florida", "california"),
    [
        ("60.00", "66.00", "70.00", "60.00"),
        ("100.00", "110.00", "110.00", "100.00"),
        ("250.00", "275.00", "275.00", "250.00"),
        ("500.00", "550.00", "550.00", "500.00"),
        ("600.00", "660.00", "650.00", "600.00"),
        ("0.99", "1.08", "10.99", "0.99"),
    ],
)
def test_cap_arithmetic(estimate: str, tenth: str, florida: str, california: str) -> None:
    assert limit(LAWS["minnesota"], estimate) == D(tenth)
    assert limit(LAWS["ohio_all_repairs"], estimate) == limit(LAWS["ohio_vehicles"], estimate) == D(tenth)
    assert limit(LAWS["florida_vehicles"], estimate) == D(florida)
    assert limit(LAWS["california_electronics"], estimate) == D(california)


def test_a_cent_above_the_cap_needs_a_new_consent() -> None:
    """66.00 passes on 60.00, 66.01 does not (Ohio, as above); California lets not even a cent pass."""
    assert allowed("ohio_all_repairs", "60.00", "66.00")
    assert not allowed("ohio_all_repairs", "60.00", "66.01")
    assert allowed("california_electronics", "60.00", "60.00")
    assert not allowed("california_electronics", "60.00", "60.01")


def test_what_is_compared_counts_tax_or_does_not() -> None:
    """16 CCR 2722: tax is not part of the estimate. Minn. Stat. 325F.56 subd. 8: the written estimate lists tax.
    Both read.
    """
    agreed, asked = Sums(D("200.00"), D("200.00")), Sums(D("200.00"), D("224.00"))
    assert may_charge(agreed, asked, laws=[LAWS["california_electronics"]], own=None, currency=USD).allowed
    assert not may_charge(agreed, asked, laws=[LAWS["minnesota"]], own=None, currency=USD).allowed


# Thresholds, each at its edge; sources as above, and for motor vehicles in Ohio OAC 109:4-3-13 (through Sept 16,
# 2024), https://regulations.justia.com/states/ohio/title-109-4/chapter-109-4-3/section-109-4-3-13 ; read; for
# Michigan the Secretary of State's page, https://www.michigan.gov/sos/0,4670,7-127-5647_12539_71073-37486--,00.html ;
# read; for Minnesota 325F.56 (2016), http://www.revisor.mn.gov/statutes/2016/cite/325F.56 ; read; for D.C. 16 DCMR
# 633 (through Dec 6, 2024); read.
@pytest.mark.parametrize(
    ("key", "price", "owed"),
    [
        ("ohio_all_repairs", "25.00", False),
        ("ohio_all_repairs", "25.01", True),
        ("ohio_vehicles", "50.00", False),
        ("ohio_vehicles", "50.01", True),
        ("minnesota", "100.00", False),
        ("minnesota", "100.01", True),
        ("minnesota", "7499.99", True),
        ("minnesota", "7500.00", False),
        ("michigan_vehicles", "19.99", False),
        ("michigan_vehicles", "20.00", True),
        ("district_of_columbia", "0.01", True),
        ("california_electronics", "0.01", True),
    ],
)
def test_threshold(key: str, price: str, owed: bool) -> None:
    assert estimate_owed(LAWS[key], D(price), asked=Asked.IN_WRITING).owed is owed


# What the customer said decides. Minn. Stat. 325F.58 subd. 1 (2001, as above): "upon the request of a customer for a written
# estimate"; Alaska Stat. 45.45.140 (http://laws9.com, undated mirror): on request. OAC 109:4-3-05 (summary as above): written,
# oral or none, as the consumer initials. 16 DCMR 633.1 (through Dec 6, 2024): always, unless waived. 16 CCR 2722
# (through Sept 20, 2024): always. All read.
@pytest.mark.parametrize(
    ("key", "in_writing", "orally", "waived", "not_asked", "not_recorded"),
    [
        ("minnesota", "written", "no", "no", "no", "ask"),
        ("alaska", "written", "owed", "no", "no", "ask"),
        ("ohio_all_repairs", "written", "owed", "no", "no", "ask"),
        ("district_of_columbia", "written", "written", "no", "written", "written"),
        ("california_electronics", "written", "written", "written", "written", "written"),
    ],
)
def test_what_the_customer_said_of_an_estimate_decides_whether_it_is_owed(
    key: str, in_writing: str, orally: str, waived: str, not_asked: str, not_recorded: str
) -> None:
    said = (in_writing, orally, waived, not_asked, not_recorded)
    kinds = (Asked.IN_WRITING, Asked.ORALLY, Asked.WAIVED, Asked.NOT_ASKED, Asked.NOT_RECORDED)
    for asked, expected in zip(kinds, said, strict=True):
        for price in (D("150.00"), None):  # what it will cost may not be known yet
            one = estimate_owed(LAWS[key], price, asked=asked)
            assert ("written" if one.written else "owed" if one.owed else "ask" if one.ask else "no") == expected, asked


def test_only_dc_was_seen_to_want_the_first_authorisation_in_writing() -> None:
    """16 DCMR 633.1 (through Dec 6, 2024; read): prior to any repair work the dealer is to "receive written authorization from
    the customer". OAC 109:4-3-05 (summary as above) and Minn. Stat. 325F.58 (2001, as above) speak of the estimate alone.
    """
    assert [law.key for law in all_laws() if law.signed] == ["district_of_columbia"]


def test_massachusetts_lets_ten_dollars_pass() -> None:
    """940 CMR 5.05(7), second-hand: ten dollars over."""
    assert limit(LAWS["massachusetts_vehicles"], "300.00") == D("310.00")


# Edges of the price range and of the allowance together; sources as above. Computed from the rules: Minnesota speaks of
# work for more than $100 and less than $7,500, before or after it grew (325F.56); 110 % of the estimate (325F.58 subd. 6).
@pytest.mark.parametrize(
    ("key", "estimate", "bill", "passes"),
    [
        ("minnesota", "100.00", "100.01", True),  # the bill is repairs now: 110.00 at most
        ("minnesota", "100.00", "110.00", True),
        ("minnesota", "100.00", "110.01", False),
        ("minnesota", "100.01", "110.01", True),  # 110.011, and a fraction of a cent is not charged
        ("minnesota", "100.01", "110.02", False),
        ("minnesota", "90.00", "90.01", False),  # outside the law: what was agreed is the limit
        ("minnesota", "90.00", "99.00", False),
        ("minnesota", "7499.99", "8249.98", True),
        ("minnesota", "7499.99", "8249.99", False),
        ("minnesota", "7500.00", "7500.01", False),  # outside the law again
        ("minnesota", "7500.00", "8250.00", False),
        ("ohio_all_repairs", "25.00", "25.01", True),
        ("ohio_all_repairs", "25.00", "27.51", False),
        ("ohio_all_repairs", "25.01", "27.51", True),  # 27.511
        ("ohio_all_repairs", "25.01", "27.52", False),
        ("district_of_columbia", "60.00", "60.00", True),
        ("district_of_columbia", "60.00", "60.01", False),
    ],
)
def test_bill_at_the_edge(key: str, estimate: str, bill: str, passes: bool) -> None:
    assert allowed(key, estimate, bill) is passes


@pytest.mark.parametrize(
    ("percent", "bill", "passes"),
    [("0", "60.00", True), ("0", "60.01", False), ("5", "63.00", True), ("5", "63.01", False)],
)
def test_a_stricter_rule_of_the_shop_binds_where_the_law_would_let_more_pass(
    percent: str, bill: str, passes: bool
) -> None:
    """Ohio lets 66.00 pass on 60.00; the shop's own 0 or 5 percent does not."""
    agreed, asked = Sums(D("60.00"), D("60.00")), Sums(D(bill), D(bill))
    verdict = may_charge(agreed, asked, laws=[LAWS["ohio_all_repairs"]], own=Allowance(D(percent)), currency=USD)
    assert verdict.allowed is passes
    assert verdict.decided_by == "the shop's own rule"


def test_a_looser_rule_of_the_shop_loosens_no_law() -> None:
    """D.C. lets nothing pass beyond the authorised estimate (16 DCMR 633), whatever the shop allows itself."""
    agreed, asked = Sums(D("60.00"), D("60.00")), Sums(D("60.01"), D("60.01"))
    own = Allowance(D("25"))
    assert not may_charge(agreed, asked, laws=[LAWS["district_of_columbia"]], own=own, currency=USD).allowed
    assert may_charge(agreed, asked, laws=[], own=own, currency=USD).allowed


@pytest.mark.parametrize(
    ("place", "household", "keys"),
    [
        ("US-OH", True, ["ohio_all_repairs"]),
        ("US-OH", False, []),
        ("US-MN", True, ["minnesota"]),
        ("US-MN", False, []),
        ("US-DC", True, ["district_of_columbia"]),
        ("US-DC", False, []),
        ("US-CA", True, []),
        ("US-FL", True, []),
        ("US-MI", True, []),
        ("US-AK", True, []),
        ("US-NY", True, []),
    ],
)
def test_which_laws_reach_outdoor_power_equipment(place: str, household: bool, keys: list[str]) -> None:
    """Ohio covers every consumer repair, Minnesota any mechanical device in household use, D.C. all consumer goods;
    the others as read speak of vehicles or electronics only and are not applied, nor is any to a crew's machine.
    """
    assert [law.key for law in laws_for(place, Goods.OUTDOOR, household=household)] == keys
