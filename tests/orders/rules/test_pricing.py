"""Pricing: the sums always agree, tax agrees with fractions, and each rule of the trade has its case."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.rules.pricing import (
    Basis,
    Discount,
    Exemption,
    FeeLine,
    Job,
    Kind,
    LabourLine,
    PartLine,
    Payer,
    Priced,
    Share,
    Split,
    Stacking,
    Supplies,
    Taxes,
    TaxRule,
    price,
)
from shopdocs.money import JPY, KWD, USD, Currency, from_units
from shopdocs.problems import BadInput

D = Decimal
DAY = date(2026, 11, 25)
GOODS = frozenset({Kind.PART, Kind.CORE, Kind.SUPPLIES})
SALES_TAX = Taxes(rules=(TaxRule(name="Sales tax", percent=D(6), kinds=GOODS),))


def labour(hours: str, rate: str = "80", **more: object) -> LabourLine:
    """A labour line."""
    return LabourLine(description="Work", hours=D(hours), rate=D(rate), **more)  # type: ignore[arg-type]


def part(price_each: str, quantity: str = "1", **more: object) -> PartLine:
    """A part line."""
    return PartLine(number="P-1", description="Part", quantity=D(quantity), unit_price=D(price_each), **more)  # type: ignore[arg-type]


def priced(*jobs: Job, taxes: Taxes = SALES_TAX, **more: object) -> Priced:
    """The jobs priced in dollars on a fixed day."""
    return price(jobs, currency=USD, on=DAY, taxes=taxes, **more)  # type: ignore[arg-type]


def test_a_plain_customer_job() -> None:
    found = priced(Job(key="1", title="Tune up", labour=(labour("1.2"),), parts=(part("12.40", "2"),)))
    work, plugs = found.jobs[0].lines
    assert (work.net, plugs.net) == (D("96.00"), D("24.80"))
    assert (found.net, found.tax, found.total, found.hours) == (D("120.80"), D("1.49"), D("122.29"), D("1.2"))
    assert found.payer(Payer.CUSTOMER).total == D("122.29")
    assert found.payer(Payer.WARRANTY).total == 0
    assert work.steps[0].text == "Work: 1.2 h at 80" and work.steps[0].amount == D("96.00")
    assert [step.text for step in found.payer(Payer.CUSTOMER).steps] == [
        "Lines for customer",
        "Sales tax is charged on",
        "Sales tax 6 %, rounded once on the whole; 1.488 before rounding",
        "customer pays in all",
    ]
    assert found.steps[-1].amount == found.total and len(found.steps) > len(found.order)


def test_each_payer_is_a_document_of_its_own() -> None:
    found = priced(
        Job(key="1", title="Sharpen", labour=(labour("0.5"),)),
        Job(key="2", title="Fuel line", labour=(labour("0.8"),), parts=(part("18.00"),), payer=Payer.WARRANTY),
        Job(key="3", title="Goodwill", parts=(part("5.00"),), payer=Payer.GOODWILL),
    )
    assert [(total.payer, total.total) for total in found.payers] == [
        (Payer.CUSTOMER, D("40.00")),
        (Payer.WARRANTY, D("82.00")),
        (Payer.GOODWILL, D("5.00")),
    ]
    assert found.total == D("127.00") and found.taxes == ()  # the rule taxes the customer only


def test_a_line_may_have_another_payer_than_its_job() -> None:
    worn = part("9.00", paid_by=Payer.CUSTOMER)
    found = priced(Job(key="1", title="Coil", labour=(labour("1.0"),), parts=(worn,), payer=Payer.WARRANTY))
    assert found.jobs[0].paid_by(Payer.WARRANTY) == D("80.00")
    assert found.payer(Payer.CUSTOMER).total == D("9.54")


def test_a_deductible_is_spread_over_the_lines_and_taxed_by_its_parts() -> None:
    split = Split((Share(payer=Payer.CUSTOMER, amount=D("25.00")), Share(payer=Payer.WARRANTY)))
    found = priced(Job(key="1", title="Claim", labour=(labour("0.5"),), parts=(part("60.00"),), payer=split))
    work, item = found.jobs[0].lines
    assert (work.paid_by(Payer.CUSTOMER), item.paid_by(Payer.CUSTOMER)) == (D("10.00"), D("15.00"))
    assert found.payer(Payer.CUSTOMER).taxes[0].base == D("15.00")
    assert found.jobs[0].how[0].text == "customer pays the first 25"
    assert [step.text for step in item.steps[1:]] == ["Of this customer pays", "Of this warranty pays"]


def test_a_deductible_above_the_job_leaves_the_other_payer_nothing() -> None:
    split = Split((Share(payer=Payer.CUSTOMER, amount=D("500")), Share(payer=Payer.WARRANTY)))
    found = priced(Job(key="1", title="Claim", labour=(labour("0.5"),), payer=split))
    assert found.payer(Payer.CUSTOMER).lines == D("40.00") and found.payer(Payer.WARRANTY).lines == 0


def test_percentages_come_after_amounts() -> None:
    shares = (
        Share(payer=Payer.WARRANTY, percent=D(50)),
        Share(payer=Payer.GOODWILL, percent=D("33.3")),
        Share(payer=Payer.CUSTOMER, amount=D(10)),
        Share(payer=Payer.SHOP),
    )
    found = priced(Job(key="1", title="Shared", labour=(labour("1.0", "100.01"),), payer=Split(shares)))
    paid = {payer: found.jobs[0].paid_by(payer) for payer in Payer}
    assert paid == {
        Payer.CUSTOMER: D("10.00"),
        Payer.WARRANTY: D("45.01"),
        Payer.GOODWILL: D("29.97"),
        Payer.SHOP: D("15.03"),
    }


def test_discounts_come_off_in_the_stated_order() -> None:
    own = Discount(words="Spring offer", percent=D(10))
    job_wide = Discount(words="Sorry for the wait", amount=D("8.00"))
    club = Discount(words="Club", percent=D(5), payers=frozenset({Payer.CUSTOMER}))
    jobs = (
        Job(key="1", title="One", labour=(labour("1.0"),), parts=(part("20.00", discount=own),), discounts=(job_wide,)),
        Job(key="2", title="Two", labour=(labour("1.0"),), payer=Payer.WARRANTY),
    )
    found = priced(*jobs, discounts=(club,))
    work, item = found.jobs[0].lines
    assert [(cut.words, cut.amount) for cut in item.reductions] == [
        ("Spring offer (10 %)", D("2.00")),
        ("Sorry for the wait", D("1.47")),
        ("Club (5 %)", D("0.83")),
    ]
    assert (work.net, item.net, found.jobs[0].discount) == (D("69.80"), D("15.70"), D("14.50"))
    assert found.jobs[1].net == D("80.00")
    assert item.steps[-1].amount == item.net


def test_credits_and_cores_are_not_discounted() -> None:
    credit = FeeLine(description="Core returned", amount=D("-15.00"), kind=Kind.CORE)
    half = Discount(words="Half off", percent=D(50))
    found = priced(
        Job(key="1", title="Starter", parts=(part("100", core=D(15), key="p7"),), fees=(credit,), discounts=(half,))
    )
    assert [line.net for line in found.jobs[0].lines] == [D("50.00"), D("15.00"), D("-15.00")]
    core = found.jobs[0].lines[1]
    assert (core.description, core.key, found.jobs[0].lines[0].key) == ("Core charge: Part", "p7:core", "p7")
    assert found.payer(Payer.CUSTOMER).taxes[0].base == D("50.00")


@pytest.mark.parametrize(("hours", "charged"), [("0.1", "3.00"), ("1.0", "4.00"), ("2.0", "8.00"), ("9.0", "20.00")])
def test_supplies_keep_their_floor_and_cap(hours: str, charged: str) -> None:
    supplies = Supplies(words="Shop supplies", percent=D(5), floor=D(3), cap=D(20))
    found = priced(Job(key="1", title="Work", labour=(labour(hours),)), supplies=supplies)
    line = found.jobs[0].lines[-1]
    assert (line.kind, line.net) == (Kind.SUPPLIES, D(charged))
    assert line.steps[0].text.startswith("Shop supplies: 5 % of ")
    assert found.tax == (D(charged) * D("0.06")).quantize(D("0.01"))


def test_supplies_fall_on_their_payers_only_and_are_shared_over_the_jobs() -> None:
    supplies = Supplies(words="Shop supplies", percent=D(10), cap=D(10))
    half = Split((Share(payer=Payer.CUSTOMER, percent=D(50)), Share(payer=Payer.WARRANTY)))
    found = priced(
        Job(key="1", title="One", labour=(labour("2.0"),)),
        Job(key="2", title="Two", labour=(labour("1.0"),), payer=half),
        Job(key="3", title="Three", labour=(labour("1.0"),), payer=Payer.WARRANTY),
        supplies=supplies,
    )
    charged = [line.net for job in found.jobs for line in job.lines if line.kind is Kind.SUPPLIES]
    assert charged == [D("8.00"), D("2.00")]
    assert found.payer(Payer.WARRANTY).lines == D("120.00")


def test_a_credit_of_a_kind_that_bears_supplies_takes_them_back_too() -> None:
    """10 % of 40.00 less 25.00 is 1.50; a credit of more than there was leaves none, and takes none off another job."""
    supplies = Supplies(words="Shop supplies", percent=D(10), of=frozenset({Kind.PART}))
    credits = [FeeLine(description="Taken back", amount=-D(amount), kind=Kind.PART) for amount in ("25", "45")]
    jobs = [Job(key=str(at), title="Work", parts=(part("40"),), fees=(one,)) for at, one in enumerate(credits)]
    found = priced(*jobs, supplies=supplies)
    assert [[line.net for line in job.lines if line.kind is Kind.SUPPLIES] for job in found.jobs] == [[D("1.50")], []]


def test_no_supplies_where_there_is_nothing_to_take_them_of() -> None:
    supplies = Supplies(words="Shop supplies", percent=D(10), floor=D(5))
    found = priced(Job(key="1", title="Parts only", parts=(part("10"),)), supplies=supplies)
    assert [line.kind for line in found.jobs[0].lines] == [Kind.PART]


def test_minimum_labour_is_charged_as_a_line() -> None:
    found = priced(Job(key="1", title="Look", labour=(labour("0.2"),), minimum_labour=D("35.00")))
    assert [line.net for line in found.jobs[0].lines] == [D("16.00"), D("19.00")]
    assert found.jobs[0].lines[1].steps[0].text == "Labour of the job is raised to the minimum of 35"
    assert priced(Job(key="1", title="None", parts=(part("1"),), minimum_labour=D(35))).net == D("1.00")


def test_a_line_by_the_foot() -> None:
    found = priced(Job(key="1", title="Line", parts=(part("0.7875", "2.5"),)))
    assert found.jobs[0].net == D("1.97")


def test_tax_rules_have_days() -> None:
    old = TaxRule(name="Sales tax", percent=D(6), kinds=GOODS, until=date(2026, 11, 24))
    new = TaxRule(name="Sales tax", percent=D(7), kinds=GOODS, since=date(2026, 11, 25))
    job = Job(key="1", title="Part", parts=(part("100"),))
    taxes = Taxes(rules=(old, new))
    assert price([job], currency=USD, on=date(2026, 11, 24), taxes=taxes).tax == D("6.00")
    assert price([job], currency=USD, on=DAY, taxes=taxes).tax == D("7.00")


def test_an_exempt_customer_pays_no_tax_until_the_certificate_expires() -> None:
    job = Job(key="1", title="Part", parts=(part("100"),))
    last_day = Exemption(certificate="EX-12", expires=DAY)
    found = priced(job, exemption=last_day)
    assert found.tax == 0
    assert any(step.text == "Exempt by certificate EX-12" for step in found.payer(Payer.CUSTOMER).steps)
    with pytest.raises(BadInput, match="expired"):
        priced(job, exemption=Exemption(certificate="EX-12", expires=date(2026, 11, 24)))


def test_an_exemption_may_name_some_taxes() -> None:
    rules = tuple(TaxRule(name=name, percent=D(5), kinds=GOODS) for name in ("State", "City"))
    job = Job(key="1", title="Part", parts=(part("100"),))
    spared = Exemption(certificate="EX-12", names=frozenset({"City"}))
    found = priced(job, taxes=Taxes(rules=rules), exemption=spared)
    assert [(line.name, line.amount) for line in found.taxes] == [("State", D("5.00"))]
    with pytest.raises(BadInput, match="no tax 'Moon'"):
        priced(job, exemption=Exemption(certificate="EX-12", names=frozenset({"Moon"})))


def test_prices_with_tax_inside() -> None:
    taxes = Taxes(rules=(TaxRule(name="Tax", percent=D(20), kinds=frozenset(Kind)),), inclusive=True)
    found = priced(
        Job(key="1", title="Work", labour=(labour("1.5"),)),
        Job(key="2", title="Claim", labour=(labour("1.0"),), payer=Payer.WARRANTY),
        taxes=taxes,
    )
    customer = found.payer(Payer.CUSTOMER)
    assert (customer.lines, customer.net, customer.tax, customer.total) == (
        D("120.00"),
        D("100.00"),
        D("20.00"),
        D("120.00"),
    )
    # Whoever bears no tax pays the price without it: 80.00 holds 13.33.
    warranty = found.payer(Payer.WARRANTY)
    assert (warranty.lines, warranty.net, warranty.tax, warranty.total) == (D("66.67"), D("66.67"), 0, D("66.67"))
    assert (found.net, found.tax, found.total) == (D("166.67"), D("20.00"), D("186.67"))


VAT = Taxes(rules=(TaxRule(name="VAT", percent=D(20), kinds=frozenset(Kind)),), inclusive=True)
NO_TAX = Exemption(certificate="EX-12")


@pytest.mark.parametrize(
    ("payer", "exemption", "net", "tax"),
    [
        (Payer.CUSTOMER, None, "100.00", "20.00"),
        (Payer.CUSTOMER, NO_TAX, "100.00", "0.00"),
        (Payer.WARRANTY, None, "100.00", "0.00"),
        (Payer.GOODWILL, NO_TAX, "100.00", "0.00"),
    ],
)
@pytest.mark.parametrize("basis", Basis)
def test_tax_inside_a_price_is_charged_to_nobody_who_bears_none(
    payer: Payer, exemption: Exemption | None, net: str, tax: str, basis: Basis
) -> None:
    job = Job(key="1", title="Part", parts=(part("120.00"),), payer=payer)
    found = priced(job, taxes=replace(VAT, basis=basis), exemption=exemption)
    total = found.payer(payer)
    assert (total.net, total.tax, total.total) == (D(net), D(tax), D(net) + D(tax))
    (line,) = found.jobs[0].lines
    assert (line.gross, line.net) == (D("120.00"), total.total)
    told = [(cut.words, cut.amount) for cut in line.reductions]
    assert told == ([] if D(tax) else [("tax inside the price", D("20.00"))])


def test_tax_inside_a_price_that_two_share_is_taken_out_of_the_part_of_the_one_who_bears_none() -> None:
    half = Split((Share(payer=Payer.CUSTOMER, percent=D(50)), Share(payer=Payer.WARRANTY)))
    found = priced(Job(key="1", title="Part", parts=(part("120.00"),), payer=half), taxes=VAT)
    (line,) = found.jobs[0].lines
    assert dict(line.shares) == {Payer.CUSTOMER: D("60.00"), Payer.WARRANTY: D("50.00")}
    assert (line.net, found.net, found.tax, found.total) == (D("110.00"), D("100.00"), D("10.00"), D("110.00"))


def test_of_two_taxes_inside_a_price_an_exemption_takes_out_the_one_it_names() -> None:
    rules = tuple(TaxRule(name=name, percent=D(10), kinds=GOODS) for name in ("State", "City"))
    spared = Exemption(certificate="EX-12", names=frozenset({"City"}))
    job = Job(key="1", title="Part", parts=(part("120.00"),))
    found = priced(job, taxes=Taxes(rules=rules, inclusive=True), exemption=spared)
    assert [(tax.name, tax.base, tax.amount) for tax in found.taxes] == [("State", D("100.00"), D("10.00"))]
    assert (found.net, found.total) == (D("100.00"), D("110.00"))


CURRENCIES = st.sampled_from([USD, JPY, KWD])
PERCENT = st.decimals(0, 99, places=3)


def money(most: int) -> st.SearchStrategy[Decimal]:
    """Amounts of zero or more with two decimals."""
    return st.integers(0, most * 100).map(lambda cents: D(cents) / 100)


@st.composite
def splits(draw: st.DrawFn) -> Payer | Split:
    payers = draw(st.permutations(list(Payer)))
    shape = draw(st.integers(0, 4))
    if shape == 0:
        return payers[0]
    shares = [Share(payer=payers[0])]
    if shape in (2, 4):
        shares.append(Share(payer=payers[1], amount=draw(money(200))))
    if shape >= 3:
        shares.append(Share(payer=payers[2], percent=draw(st.decimals(0, 100, places=2))))
    return Split(tuple(draw(st.permutations(shares))))


DISCOUNTS = st.builds(
    Discount, words=st.just("less"), percent=PERCENT, payers=st.frozensets(st.sampled_from(Payer), min_size=1)
)
MAYBE_DISCOUNT = st.none() | DISCOUNTS
MAYBE_PAYER = st.none() | st.sampled_from(Payer)
LABOUR = st.builds(
    LabourLine,
    description=st.just("work"),
    hours=st.integers(0, 80).map(lambda tenth: D(tenth) / 10),
    rate=money(150),
    discount=MAYBE_DISCOUNT,
    paid_by=MAYBE_PAYER,
)
PARTS = st.builds(
    PartLine,
    number=st.just("P"),
    description=st.just("part"),
    quantity=st.integers(0, 9000).map(lambda n: D(n) / 1000),
    unit_price=st.integers(0, 10**6).map(lambda n: D(n) / 10000),
    core=st.just(D(0)) | money(30),
    discount=MAYBE_DISCOUNT,
    paid_by=MAYBE_PAYER,
)
FEES = st.builds(
    FeeLine,
    description=st.just("fee"),
    amount=money(60) | money(20).map(lambda amount: -amount),
    kind=st.sampled_from(Kind),
    paid_by=MAYBE_PAYER,
)
FEW_DISCOUNTS = st.lists(DISCOUNTS, max_size=2).map(tuple)


@st.composite
def estimates(draw: st.DrawFn) -> tuple[Priced, Taxes]:
    """A random order, priced."""
    jobs = [
        Job(
            key=str(index),
            title=f"Job {index}",
            labour=tuple(draw(st.lists(LABOUR, max_size=3))),
            parts=tuple(draw(st.lists(PARTS, max_size=3))),
            fees=tuple(draw(st.lists(FEES, max_size=2))),
            payer=draw(splits()),
            discounts=draw(FEW_DISCOUNTS),
            minimum_labour=draw(st.just(D(0)) | money(50)),
        )
        for index in range(draw(st.integers(0, 4)))
    ]
    kinds, payers = st.frozensets(st.sampled_from(Kind)), st.frozensets(st.sampled_from(Payer))
    rules = [
        TaxRule(name=name, percent=draw(PERCENT), kinds=draw(kinds), payers=draw(payers), with_parts=draw(kinds))
        for name in ("State", "County", "City")[: draw(st.integers(0, 3))]
    ]
    taxes = Taxes(
        rules=tuple(rules),
        basis=draw(st.sampled_from(Basis)),
        stacking=draw(st.sampled_from(Stacking)),
        inclusive=draw(st.booleans()),
    )
    of = draw(kinds) - {Kind.SUPPLIES}
    supplies = Supplies(words="supplies", percent=draw(PERCENT), of=of, payers=draw(payers), floor=D(2), cap=D(30))
    found = price(
        jobs,
        currency=draw(CURRENCIES),
        on=DAY,
        taxes=taxes,
        discounts=draw(FEW_DISCOUNTS),
        supplies=draw(st.none() | st.just(supplies)),
    )
    return found, taxes


@given(estimates())
@settings(max_examples=150, deadline=None)
def test_lines_make_jobs_jobs_make_payers_and_payers_make_the_whole(drawn: tuple[Priced, Taxes]) -> None:
    found, taxes = drawn
    for job in found.jobs:
        for line in job.lines:
            assert line.gross - line.discount == line.net
            assert line.discount == sum(cut.amount for cut in line.reductions)
            assert line.discount >= 0 or line.gross < 0  # a credit holds tax too
            assert sum(amount for _, amount in line.shares) == line.net
        assert (job.gross, job.net) == (sum(x.gross for x in job.lines), sum(x.net for x in job.lines))
        assert sum(amount for _, amount in job.shares) == job.net
        for payer in Payer:
            assert job.paid_by(payer) == sum(line.paid_by(payer) for line in job.lines)
    for total in found.payers:
        assert total.lines == sum(job.paid_by(total.payer) for job in found.jobs)
        assert total.tax == sum(line.amount for line in total.taxes)
        assert total.net + total.tax == total.total
        assert total.lines == (total.total if taxes.inclusive else total.net)
    assert sum(total.lines for total in found.payers) == sum(job.net for job in found.jobs)
    for name in ("net", "tax", "total"):
        assert sum(getattr(total, name) for total in found.payers) == getattr(found, name)
    assert sum(line.amount for line in found.taxes) == found.tax


def half_up(amount: Fraction, currency: Currency) -> Decimal:
    """Independent rounding in fractions."""
    whole, rest = divmod(abs(amount) * 10**currency.decimals, 1)
    units = int(whole) + (1 if rest >= Fraction(1, 2) else 0)
    return from_units(units if amount >= 0 else -units, currency)


def independent_tax(found: Priced, taxes: Taxes, payer: Payer) -> Decimal:
    """The payer's tax worked out anew from the printed lines, in fractions."""
    tables: list[dict[str, Fraction]] = []
    for job in found.jobs:
        has_part = any(line.kind is Kind.PART and line.paid_by(payer) > 0 for line in job.lines)
        for line in job.lines:
            falling = [
                rule
                for rule in taxes.rules
                if payer in rule.payers
                and line.kind in rule.kinds
                and not (line.kind in rule.with_parts and not has_part)
            ]
            inside = sum((Fraction(rule.percent) for rule in falling), Fraction(0)) if taxes.inclusive else Fraction(0)
            share = Fraction(line.paid_by(payer))
            tables.append({rule.name: share * Fraction(rule.percent) / (100 + inside) for rule in falling})
    groups = [[table] for table in tables] if taxes.basis is Basis.ITEM else [tables]
    names = [rule.name for rule in taxes.rules]
    bundles = [[name] for name in names] if taxes.stacking is Stacking.SEPARATE else [names]
    exact = [
        sum((t.get(n, Fraction(0)) for t in group for n in names), Fraction(0)) for group in groups for names in bundles
    ]
    return sum((half_up(amount, found.currency) for amount in exact), Decimal(0))


@given(estimates())
@settings(max_examples=150, deadline=None)
def test_tax_agrees_with_an_independent_calculation_in_fractions(drawn: tuple[Priced, Taxes]) -> None:
    found, taxes = drawn
    for payer in Payer:
        assert found.payer(payer).tax == independent_tax(found, taxes, payer)


@given(estimates())
@settings(max_examples=50, deadline=None)
def test_every_figure_lists_its_steps(drawn: tuple[Priced, Taxes]) -> None:
    found, _ = drawn
    for job in found.jobs:
        for line in job.lines:
            assert line.steps[0].amount == line.gross
            cuts = sum(step.amount or 0 for step in line.steps if step.text.startswith("Less "))
            assert line.gross + cuts == line.net
        assert sum(step.amount or 0 for step in job.steps[: len(job.lines)]) == job.net
    for total in found.payers:
        assert total.steps[0].amount == total.lines and total.steps[-1].amount == total.total


def test_nothing_priced_costs_nothing() -> None:
    found = priced()
    assert (found.net, found.tax, found.total, found.payers) == (D("0.00"), D("0.00"), D("0.00"), ())


def test_refuses_what_cannot_be_priced() -> None:
    job = Job(key="1", title="Work", labour=(labour("1.0"),))
    wrong = [
        lambda: labour("-1"),
        lambda: labour("0.25"),
        lambda: labour("1.0", "-5"),
        lambda: labour("NaN"),
        lambda: part("0.123456789"),
        lambda: part("1e400"),
        lambda: part("NaN"),
        lambda: part("5", "-1"),
        lambda: part("5", "1.0001"),
        lambda: part("5", core=D(-1)),
        lambda: LabourLine(description="x", hours=1.5, rate=D(1)),  # type: ignore[arg-type]
        lambda: FeeLine(description="x", amount=D("Infinity")),
        lambda: Discount(words="x"),
        lambda: Discount(words="x", percent=D(5), amount=D(5)),
        lambda: Discount(words="x", percent=D(101)),
        lambda: Discount(words="x", amount=D(-1)),
        lambda: Share(payer=Payer.SHOP, percent=D(5), amount=D(5)),
        lambda: Split(()),
        lambda: Split((Share(payer=Payer.SHOP, percent=D(99)),)),
        lambda: Split((Share(payer=Payer.SHOP), Share(payer=Payer.CUSTOMER))),
        lambda: Split((Share(payer=Payer.SHOP), Share(payer=Payer.SHOP, percent=D(5)))),
        lambda: Supplies(words="x", percent=D(5), floor=D(9), cap=D(8)),
        lambda: Supplies(words="x", percent=D(5), of=frozenset({Kind.SUPPLIES})),
        lambda: Supplies(words="x", percent=D("NaN")),
        lambda: Exemption(certificate=" "),
        lambda: priced(job, taxes=Taxes(rules=(TaxRule(name="x", percent=D(100), kinds=GOODS),))),
        lambda: priced(job, discounts=(Discount(words="x", amount=D("80.01")),)),
        lambda: priced(job, job),
        lambda: priced(Job(key="1", title="x", labour=(labour("1.0", discount=Discount(words="x", amount=D(81))),))),
        lambda: priced(Job(key="1", title="x", parts=(part("999999999999", "9000"),))),
    ]
    for number, call in enumerate(wrong):
        with pytest.raises(BadInput) as refused:
            call()
            pytest.fail(f"case {number} was accepted")
        assert refused.value.field and refused.value.remedy


def test_a_discount_may_take_the_whole_price() -> None:
    job = Job(key="1", title="Work", labour=(labour("1.0"),))
    assert priced(job, discounts=(Discount(words="all", amount=D("80.00")),)).total == D("0.00")
