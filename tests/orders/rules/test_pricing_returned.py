"""What comes back of a line: its share after every discount, and all that hung on it, so that all of it together is nothing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.rules.pricing import (
    Basis,
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
from shopdocs.brackets import BracketTable
from shopdocs.money import JPY, KWD, USD, Currency
from shopdocs.problems import BadInput

D = Decimal
DAY = date(2026, 11, 25)
ALL = frozenset(Kind)
TEN_OFF = Discount(words="Regular", percent=D(10))


def back(*pieces: str) -> tuple[Returned, ...]:
    return tuple(Returned(f"return {at}", D(count)) for at, count in enumerate(pieces))


def belt(quantity: str = "1", each: str = "100", **more: Any) -> PartLine:
    return PartLine(number="B-1", description="Belt", quantity=D(quantity), unit_price=D(each), key="b", **more)


def priced(*parts: PartLine, taxes: Taxes | None = None, **more: Any) -> Priced:
    of_job = {name: more.pop(name) for name in ("discounts", "fees", "labour", "payer") if name in more}
    whole = {"discounts": more.pop("class_discounts", ())} | more
    return price(
        [Job(key="1", title="Belt", parts=parts, **of_job)], currency=USD, on=DAY, taxes=taxes or Taxes(), **whole
    )


def test_a_part_of_two_discounts_comes_back_at_what_was_charged() -> None:
    both = {"discounts": (TEN_OFF,), "class_discounts": (replace(TEN_OFF, words="Class"),)}
    assert priced(belt(), **both).net == D("81.00")
    found = priced(belt(returned=back("1")), **both)
    assert found.net == 0
    (line,) = found.jobs[0].lines
    assert [(cut.words, cut.amount) for cut in line.reductions] == [
        ("Regular (10 %)", D("10.00")), ("Class (10 %)", D("9.00")), ("return 0", D("81.00")),
    ]  # fmt: skip
    own = belt(quantity="2", each="50", discount=Discount(words="discount", percent=D(5)), returned=back("1"))
    assert priced(own, **both).net == D("38.47")  # 100.00 - 5.00 - 9.50 - 8.55 = 76.95, half of it comes back: 38.48


def test_a_third_and_a_third_and_a_third_are_the_whole() -> None:
    cuts = []
    for count in (1, 2, 3):
        line = priced(belt("3", "33.3333", returned=back(*["1"] * count))).jobs[0].lines[0]
        assert line.gross == D("100.00")
        cuts = [cut.amount for cut in line.reductions]
    assert cuts == [D("33.33"), D("33.34"), D("33.33")]


def test_feet_come_back_by_the_foot() -> None:
    line = priced(belt("2.5", "1.999", returned=back("0.333", "1.25", "0.917"))).jobs[0].lines[0]
    assert line.gross == D("5.00") and line.net == 0
    assert [cut.amount for cut in line.reductions] == [D("0.67"), D("2.50"), D("1.83")]


def test_supplies_tax_core_and_environment_charge_go_with_the_part() -> None:
    taxes = Taxes(rules=(TaxRule(name="Tax", percent=D("7.25"), kinds=ALL),))
    supplies = Supplies(words="Supplies", percent=D(5), of=frozenset({Kind.PART}))
    charged = belt("2", "40", core=D(15))
    fee = FeeLine(description="Environment charge", amount=D("5.00"), key="b:environment", pieces=D(2), passed_on=True)
    whole = priced(charged, fees=(fee,), taxes=taxes, supplies=supplies)
    assert (whole.net, whole.tax) == (D("119.00"), D("8.63"))
    half = priced(
        replace(charged, returned=back("1"), cores_returned=back("1")), fees=(replace(fee, returned=back("1")),),
        taxes=taxes, supplies=supplies,
    )  # fmt: skip
    assert (half.net, half.tax) == (D("59.50"), D("4.31"))
    core = priced(replace(charged, cores_returned=back("2")), fees=(fee,), taxes=taxes, supplies=supplies)
    assert core.net == D("89.00")


def test_no_discount_takes_anything_off_what_is_passed_on() -> None:
    fee = FeeLine(description="Environment charge", amount=D("5.00"), passed_on=True)
    haulage = FeeLine(description="Freight", amount=D("10.00"), kind=Kind.FREIGHT)
    found = priced(belt(), fees=(haulage, fee), discounts=(TEN_OFF,), class_discounts=(TEN_OFF,))
    assert [line.net for line in found.jobs[0].lines] == [D("81.00"), D("8.10"), D("5.00")]
    with pytest.raises(BadInput, match=r"110\.00"):
        priced(belt(), fees=(haulage, fee), discounts=(Discount(words="All", amount=D("110.01")),))


def test_a_fixed_discount_leaves_the_other_lines_their_share() -> None:
    work = LabourLine(description="Fit", hours=D("1.0"), rate=D(50))
    off = (Discount(words="Thirty", amount=D(30)),)
    assert priced(belt(each="50", returned=back("1")), labour=(work,), discounts=off).net == D("35.00")


def test_payers_share_what_did_not_come_back() -> None:
    split = Split((Share(payer=Payer.CUSTOMER, percent=D("33.3333")), Share(payer=Payer.GOODWILL)))
    found = priced(belt("3", "33.3333", returned=back("1", "1")), payer=split)
    assert [(one.payer, one.net) for one in found.payers] == [
        (Payer.CUSTOMER, D("11.11")), (Payer.GOODWILL, D("22.22")),
    ]  # fmt: skip


def test_more_than_was_charged_does_not_come_back() -> None:
    for change in ({"returned": back("1", "0.001")}, {"cores_returned": back("2")}):
        with pytest.raises(BadInput, match="More comes back"):
            belt(**change)
    with pytest.raises(BadInput, match="More comes back"):
        FeeLine(description="Fee", amount=D(1), returned=back("1.001"))


@st.composite
def terms(draw: st.DrawFn) -> dict[str, Any]:
    currency: Currency = draw(st.sampled_from((USD, JPY, KWD)))
    percent = st.integers(0, 1_000_000).map(lambda n: D(n).scaleb(-4))
    rules = [
        TaxRule(name=f"Tax {at}", percent=draw(percent) / 10, kinds=ALL, with_parts=draw(st.sampled_from((frozenset(), ALL))))
        for at in range(draw(st.integers(0, 3)))
    ]  # fmt: skip
    return {
        "currency": currency, "on": DAY,
        "taxes": Taxes(
            rules=tuple(rules), basis=draw(st.sampled_from(Basis)), stacking=draw(st.sampled_from(Stacking)),
            inclusive=draw(st.booleans()),
        ),
        "discounts": [Discount(words="Class", percent=draw(percent))] if draw(st.booleans()) else [],
        "supplies": Supplies(words="Supplies", percent=draw(percent), of=frozenset({Kind.PART}), floor=D(5))
        if draw(st.booleans()) else None,
    }  # fmt: skip


@st.composite
def stretches(draw: st.DrawFn, whole: int) -> tuple[Returned, ...]:
    """All of so many thousandths, in up to four returns."""
    edges = sorted({*draw(st.lists(st.integers(1, whole), max_size=3)), whole})
    return tuple(
        Returned(f"back {end}", D(end - start).scaleb(-3)) for start, end in zip([0, *edges], edges, strict=False)
    )


@st.composite
def jobs_of_parts(draw: st.DrawFn) -> tuple[Job, Job]:
    """A job of parts with all that may hang on them; and the same with everything returned, piece by piece."""
    parts, fees, gone, fees_gone = [], [], [], []
    for at in range(draw(st.integers(1, 3))):
        pieces = draw(st.integers(1, 20_000))
        own = Discount(words="own", percent=D(draw(st.integers(0, 100)))) if draw(st.booleans()) else None
        line = PartLine(
            number="P", description=f"Part {at}", quantity=D(pieces).scaleb(-3), key=str(at), discount=own,
            unit_price=D(draw(st.integers(0, 500_000))).scaleb(-3), core=D(draw(st.integers(0, 9_000))).scaleb(-3),
        )  # fmt: skip
        fee = FeeLine(
            description="Environment", amount=D(draw(st.integers(0, 900))), key=f"{at}:e", pieces=line.quantity, passed_on=True
        )  # fmt: skip
        came = draw(stretches(pieces))
        parts.append(line)
        fees.append(fee)
        gone.append(replace(line, returned=came, cores_returned=draw(stretches(pieces))))
        fees_gone.append(replace(fee, returned=came))
    payer = draw(
        st.sampled_from(
            (
                Payer.CUSTOMER,
                Split((Share(payer=Payer.CUSTOMER, percent=D("33.3333")), Share(payer=Payer.WARRANTY))),
                Split((Share(payer=Payer.CUSTOMER, amount=D(50)), Share(payer=Payer.GOODWILL))),
            )
        )
    )
    discounts = (Discount(words="Job", percent=D(draw(st.integers(0, 100)))),) if draw(st.booleans()) else ()
    job = Job(key="1", title="Parts", parts=tuple(parts), fees=tuple(fees), payer=payer, discounts=discounts)
    return job, replace(job, parts=tuple(gone), fees=tuple(fees_gone))


@settings(deadline=None, max_examples=60)
@given(jobs_of_parts(), terms())
def test_charged_and_all_returned_is_nothing_in_every_figure(jobs: tuple[Job, Job], how: dict[str, Any]) -> None:
    charged, gone = jobs
    before, after = price([charged], **how), price([gone], **how)
    assert all(line.net == 0 for line in after.jobs[0].lines)
    for one in after.payers:
        assert (one.lines, one.net, one.tax, one.total) == (0, 0, 0, 0)
    assert (after.net, after.tax, after.total, after.jobs[0].net) == (0, 0, 0, 0)
    assert [line.gross for line in after.jobs[0].lines] == [
        line.gross for line in before.jobs[0].lines if line.kind is not Kind.SUPPLIES
    ]


def test_a_bracket_table_taxes_what_did_not_come_back() -> None:
    rows = ((D("0.10"), D("0.00")), (D("0.60"), D("0.03")), (D("0.99"), D("0.06")))
    table = BracketTable(per_whole=D("0.06"), below=rows, excess=rows)
    for basis in Basis:
        taxes = Taxes(rules=(TaxRule(name="Tax", percent=D(6), kinds=ALL, brackets=table),), basis=basis)
        assert priced(belt("3", "33.333"), taxes=taxes).tax == D("6.00")
        assert priced(belt("3", "33.333", returned=back("1", "1")), taxes=taxes).tax == D("2.01")  # on 33.33
        assert priced(belt("3", "33.333", returned=back("1", "1", "1")), taxes=taxes).tax == 0
