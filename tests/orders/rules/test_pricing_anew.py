"""Pricing against a second working of the same order in fractions, from the input alone: lines, discounts, payers, supplies, tax.

The second working shares no code with the first: it knows the stated order of working (`pricing.ORDER`), rounding half away
from zero, and shares by largest remainder, the earlier first. It draws several payers, deductibles and bracket tables.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from hypothesis import event, given, settings
from hypothesis import strategies as st

from orders.rules.pricing import (
    Basis,
    Discount,
    Job,
    Kind,
    LabourLine,
    Payer,
    Split,
    Stacking,
    Supplies,
    Taxes,
    TaxRule,
    price,
)
from shopdocs.brackets import BracketTable, tax_by_brackets
from shopdocs.money import JPY, Currency
from shopdocs.problems import BadInput
from tests.orders.rules.test_pricing import (
    CURRENCIES,
    DAY,
    DISCOUNTS,
    FEES,
    FEW_DISCOUNTS,
    LABOUR,
    PARTS,
    PERCENT,
    money,
    splits,
)

D = Decimal
Cents = dict[Payer, int]


class TooMuch(Exception):
    """A discount takes off more than it applies to."""


def nearest(amount: Fraction) -> int:
    whole = int(abs(amount) + Fraction(1, 2))
    return whole if amount >= 0 else -whole


def dealt(whole: int, weights: Sequence[int]) -> list[int]:
    """`whole` in proportion to the weights: rounded down, what is missing to the largest remainders, the earlier first."""
    if not whole:
        return [0] * len(weights)
    exact = [Fraction(abs(whole) * weight, sum(weights)) for weight in weights]
    parts = [share.numerator // share.denominator for share in exact]
    order = sorted(range(len(parts)), key=lambda at: (-(exact[at] - parts[at]), at))
    for at in order[: abs(whole) - sum(parts)]:
        parts[at] += 1
    return parts if whole > 0 else [-part for part in parts]


def nearly(whole: int, exact: Sequence[Fraction]) -> list[int]:
    """Whole numbers near the exact shares: rounded down, what is missing to the largest remainders; below zero it is mirrored."""
    if whole < 0:
        return [-part for part in nearly(-whole, [-share for share in exact])]
    parts = [share.numerator // share.denominator for share in exact]
    order = sorted(range(len(parts)), key=lambda at: (-(exact[at] - parts[at]), at))
    for at in order[: whole - sum(parts)]:
        parts[at] += 1
    return parts


class Row:
    """A line of the second working: its kind, what it costs in cents, who pays if not the job's payer, who pays what."""

    def __init__(self, kind: Kind, cents: int, owner: Payer | None, discount: Discount | None = None) -> None:
        self.kind, self.cents, self.owner, self.discount = kind, cents, owner, discount
        self.paid: Cents = {}
        self.had: Cents = {}


class Anew:
    """The second working of one order."""

    def __init__(
        self,
        jobs: list[Job],
        currency: Currency,
        taxes: Taxes,
        discounts: Sequence[Discount],
        supplies: Supplies | None,
    ) -> None:
        self.unit, self.taxes = 10**currency.decimals, taxes
        self.rows = [self.lines_of(job) for job in jobs]
        for job, rows in zip(jobs, self.rows, strict=True):
            for discount in job.discounts:
                self.take_off([(job, row) for row in rows], discount)
        for discount in discounts:
            by_job = [[(job, row) for row in rows] for job, rows in zip(jobs, self.rows, strict=True)]
            whole = [pair for pairs in by_job for pair in pairs]
            for pairs in by_job if discount.amount is None else [whole]:
                self.take_off(pairs, discount)
        for job, rows in zip(jobs, self.rows, strict=True):
            self.share(job, rows)
        if supplies is not None:
            self.supply(supplies)
        if taxes.inclusive:
            for payer in Payer:
                self.take_out(payer)

    def take_out(self, payer: Payer) -> None:
        """Of prices with tax inside, the tax that this payer does not bear; one rounding a document, shared by what was exact."""
        price_holds = [rule for rule in self.taxes.rules if {payer, Payer.CUSTOMER} & rule.payers]
        bears = [rule for rule in price_holds if payer in rule.payers]
        if bears == price_holds:
            return
        whole = self.parts_of_tax(payer, price_holds, inside=True)
        for row, tax in whole:
            row.paid[payer] -= tax
        borne = self.parts_of_tax(payer, bears, inside=False)
        for (row, tax), (_, own) in zip(whole, borne, strict=True):
            row.paid[payer] += own
            row.cents -= tax - own

    def parts_of_tax(self, payer: Payer, rules: list[TaxRule], *, inside: bool) -> list[tuple[Row, int]]:
        """Each of the payer's lines with its part of these taxes."""
        found: list[tuple[Row, dict[str, Fraction]]] = []
        for rows in self.rows:
            beside = any(row.kind is Kind.PART and self.were(row, payer) > 0 for row in rows)
            for row in (row for row in rows if self.were(row, payer)):
                falling = [
                    rule for rule in rules if row.kind in rule.kinds and (beside or row.kind not in rule.with_parts)
                ]
                part = 100 + (sum(Fraction(rule.percent) for rule in falling) if inside else 0)
                exact = {rule.name: row.paid[payer] * Fraction(rule.percent) / part for rule in falling}
                found.append((row, exact))
        documents = [[one] for one in found] if self.taxes.basis is Basis.ITEM else [found]
        return [pair for document in documents for pair in self.shared_tax(document)]

    def were(self, row: Row, payer: Payer) -> int:
        """What the payer had of the line before any tax was taken out of it."""
        return row.had.setdefault(payer, row.paid.get(payer, 0))

    def shared_tax(self, document: list[tuple[Row, dict[str, Fraction]]]) -> list[tuple[Row, int]]:
        exact = [[taxes.get(rule.name, Fraction(0)) for _, taxes in document] for rule in self.taxes.rules]
        sums = [sum(one, Fraction(0)) for one in exact]
        if self.taxes.stacking is Stacking.SEPARATE:
            rounded = [nearest(one) for one in sums]
        else:
            rounded = nearly(nearest(sum(sums, Fraction(0))), sums)
        shares = [nearly(cents, one) for cents, one in zip(rounded, exact, strict=True)]
        return [(row, sum(share[at] for share in shares)) for at, (row, _) in enumerate(document)]

    def cents(self, amount: Decimal | Fraction) -> int:
        return nearest(Fraction(amount) * self.unit)

    def lines_of(self, job: Job) -> list[Row]:
        rows = [
            Row(Kind.LABOUR, self.cents(Fraction(x.hours) * Fraction(x.rate)), x.paid_by, x.discount)
            for x in job.labour
        ]
        for part in job.parts:
            each = [(Kind.PART, part.unit_price)] + ([(Kind.CORE, part.core)] if part.core else [])
            rows += [
                Row(kind, self.cents(Fraction(part.quantity) * Fraction(one)), part.paid_by, part.discount)
                for kind, one in each
            ]
        rows += [Row(fee.kind, self.cents(fee.amount), fee.paid_by, fee.discount) for fee in job.fees]
        charged = sum(row.cents for row in rows if row.kind is Kind.LABOUR)
        for row in rows:
            if row.discount is not None and row.kind is not Kind.CORE:
                self.take_off([(job, row)], row.discount, every_kind=True)
        short = self.cents(job.minimum_labour) - charged
        if job.labour and job.minimum_labour and short > 0:
            rows.append(Row(Kind.LABOUR, short, job.labour[0].paid_by))
        return rows

    def take_off(self, rows: list[tuple[Job, Row]], discount: Discount, *, every_kind: bool = False) -> None:
        meant = []
        for job, row in rows:
            common = {share.payer for share in job.payer.shares} if isinstance(job.payer, Split) else {job.payer}
            payers = common if row.owner is None else {row.owner}
            fits = every_kind or discount.of_all or row.kind in discount.kinds
            if row.cents > 0 and fits and payers <= discount.payers:
                meant.append(row)
        base = sum(row.cents for row in meant)
        if discount.percent is not None:
            off = nearest(base * Fraction(discount.percent) / 100)
        else:
            off = self.cents(discount.amount or 0)
        if off > base:
            raise TooMuch
        for row, part in zip(meant, dealt(off, [row.cents for row in meant]), strict=True):
            row.cents -= part

    def share(self, job: Job, rows: list[Row]) -> None:
        for row in rows:
            if row.owner is not None or isinstance(job.payer, Payer):
                row.paid = {row.owner or job.payer: row.cents}  # type: ignore[dict-item]
        common = [row for row in rows if not row.paid]
        if isinstance(job.payer, Payer):
            return
        left = sum(row.cents for row in common)
        due: Cents = {}
        for share in job.payer.shares:
            if share.amount is not None:
                due[share.payer] = max(0, min(self.cents(share.amount), left))
                left -= due[share.payer]
        percents = [share for share in job.payer.shares if share.percent is not None]
        weights = [int(Fraction(share.percent or 0) * 10**6) for share in percents]
        *parts, rest = dealt(left, [*weights, 10**8 - sum(weights)])
        due |= {share.payer: part for share, part in zip(percents, parts, strict=True)}
        due |= {share.payer: rest for share in job.payer.shares if share.percent is None and share.amount is None}
        open_cents = [row.cents for row in common]
        *first, last = due
        for payer in first:
            parts = dealt(due[payer], open_cents)
            open_cents = [cents - part for cents, part in zip(open_cents, parts, strict=True)]
            for row, part in zip(common, parts, strict=True):
                row.paid[payer] = part
        for row, cents in zip(common, open_cents, strict=True):
            row.paid[last] = cents

    def supply(self, supplies: Supplies) -> None:
        bases: Counter[tuple[int, Payer]] = Counter()
        for at, rows in enumerate(self.rows):
            for row in rows:
                for payer, cents in row.paid.items():
                    if row.kind in supplies.of and payer in supplies.payers and cents:
                        bases[at, payer] += cents
        bases = +bases
        base = sum(bases.values())
        if not base:
            return
        total = nearest(base * Fraction(supplies.percent) / 100)
        total = max(total, self.cents(supplies.floor or 0))
        total = total if supplies.cap is None else min(total, self.cents(supplies.cap))
        for (at, payer), part in zip(bases, dealt(total, list(bases.values())), strict=True):
            row = Row(Kind.SUPPLIES, part, payer)
            row.paid = {payer: part}
            self.rows[at] += [row] if part else []

    def tax(self, payer: Payer) -> int:
        """The payer's tax in cents."""
        tables: list[dict[str, tuple[int, Fraction]]] = []
        for rows in self.rows:
            beside = any(row.kind is Kind.PART and row.paid.get(payer, 0) > 0 for row in rows)
            for row in (row for row in rows if payer in row.paid):
                falling = [
                    rule
                    for rule in self.taxes.rules
                    if payer in rule.payers and row.kind in rule.kinds and (beside or row.kind not in rule.with_parts)
                ]
                inside = sum(Fraction(rule.percent) for rule in falling) if self.taxes.inclusive else 0
                cents = row.paid[payer]
                tables.append({rule.name: (cents, cents * Fraction(rule.percent) / (100 + inside)) for rule in falling})
        documents = [[table] for table in tables] if self.taxes.basis is Basis.ITEM else [tables]
        return sum(self.tax_of(document) for document in documents)

    def tax_of(self, document: list[dict[str, tuple[int, Fraction]]]) -> int:
        total, together = 0, Fraction(0)
        for rule in self.taxes.rules:
            fallen = [table[rule.name] for table in document if rule.name in table]
            if rule.brackets is not None:
                total += self.by_table(sum(cents for cents, _ in fallen), rule.brackets)
            elif self.taxes.stacking is Stacking.SEPARATE:
                total += nearest(sum((exact for _, exact in fallen), Fraction(0)))
            else:
                together += sum((exact for _, exact in fallen), Fraction(0))
        return total + nearest(together)

    def by_table(self, cents: int, table: BracketTable) -> int:
        """Counted up bracket by bracket; nothing bears nothing."""
        whole = self.cents(table.whole)
        tax, left = 0, abs(cents)
        while left >= whole:
            tax, left = tax + self.cents(table.per_whole), left - whole
        rows = table.excess if abs(cents) >= whole else table.below
        tax += next(self.cents(one) for limit, one in rows if left <= self.cents(limit)) if cents else 0
        return tax if cents > 0 else -tax


@st.composite
def tables(draw: st.DrawFn, currency: Currency) -> BracketTable:
    """Any table of rising brackets; its first bracket may bear tax. The whole is a hundred of the smallest amount."""
    whole = 100

    def rows() -> tuple[tuple[Decimal, Decimal], ...]:
        limits = sorted({*draw(st.lists(st.integers(0, whole - 2), max_size=5)), whole - 1})
        taxes = sorted(draw(st.lists(st.integers(0, 9), min_size=len(limits), max_size=len(limits))))
        return tuple(
            (limit * currency.quantum, tax * currency.quantum) for limit, tax in zip(limits, taxes, strict=True)
        )

    per_whole = draw(st.integers(0, 9)) * currency.quantum
    return BracketTable(per_whole, rows(), rows(), whole * currency.quantum)


AMOUNTS_OFF = st.builds(Discount, words=st.just("off"), amount=money(40), of_all=st.booleans())


@st.composite
def orders(draw: st.DrawFn) -> dict[str, Any]:
    """A random order, unpriced."""
    currency = draw(CURRENCIES)
    jobs = [
        Job(
            key=str(at),
            title=f"Job {at}",
            labour=tuple(draw(st.lists(LABOUR, max_size=3))),
            parts=tuple(draw(st.lists(PARTS, max_size=3))),
            fees=tuple(draw(st.lists(FEES, max_size=2))),
            payer=draw(splits()),
            discounts=tuple(draw(st.lists(DISCOUNTS | AMOUNTS_OFF, max_size=2))),
            minimum_labour=draw(st.just(D(0)) | money(50)),
        )
        for at in range(draw(st.integers(1, 3)))
    ]
    kinds, payers = st.frozensets(st.sampled_from(Kind)), st.frozensets(st.sampled_from(Payer))
    inclusive = draw(st.integers(0, 3)) == 0
    rules = [
        TaxRule(
            name=name, percent=draw(PERCENT), kinds=draw(kinds), payers=draw(payers), with_parts=draw(kinds),
            brackets=None if inclusive else draw(st.none() | tables(currency)),
        )
        for name in ("State", "County", "City")[: draw(st.integers(0, 3))]
    ]  # fmt: skip
    taxes = Taxes(
        rules=tuple(rules),
        basis=draw(st.sampled_from(Basis)),
        stacking=draw(st.sampled_from(Stacking)),
        inclusive=inclusive,
    )
    of = draw(kinds) - {Kind.SUPPLIES}
    supplies = Supplies(words="supplies", percent=draw(PERCENT), of=of, payers=draw(payers), floor=D(2), cap=D(30))
    return {
        "jobs": jobs, "currency": currency, "taxes": taxes, "discounts": draw(FEW_DISCOUNTS),
        "supplies": draw(st.none() | st.just(supplies)),
    }  # fmt: skip


@given(orders())
@settings(max_examples=300, deadline=None)
def test_pricing_agrees_with_a_second_working_in_fractions(order: dict[str, Any]) -> None:
    try:
        anew = Anew(**order)
    except TooMuch:
        event("a discount over the price")
        try:
            price(order["jobs"], on=DAY, **{name: order[name] for name in order if name != "jobs"})
        except BadInput as bad:
            assert bad.field == "discount.amount"
            return
        raise AssertionError("a discount over the price was taken") from None
    found = price(order["jobs"], on=DAY, **{name: order[name] for name in order if name != "jobs"})
    event("several payers" if any(isinstance(job.payer, Split) for job in order["jobs"]) else "one payer a job")
    event("a bracket table" if any(rule.brackets for rule in order["taxes"].rules) else "percentages alone")
    unit = anew.unit
    for job, rows in zip(found.jobs, anew.rows, strict=True):
        assert [(line.kind, line.net * unit) for line in job.lines] == [(row.kind, row.cents) for row in rows]
        for line, row in zip(job.lines, rows, strict=True):
            for payer in Payer:
                assert line.paid_by(payer) * unit == row.paid.get(payer, 0), (line.description, payer)
    for payer in Payer:
        total = found.payer(payer)
        lines = sum(row.paid.get(payer, 0) for rows in anew.rows for row in rows)
        tax = anew.tax(payer)
        assert total.tax * unit == tax
        assert total.total * unit == (lines if order["taxes"].inclusive else lines + tax)


def test_nothing_bears_no_tax_by_a_table_whose_first_bracket_bears_some() -> None:
    rows = ((D(9), D(1)), (D(99), D(5)))
    table = BracketTable(D(6), rows, rows, D(100))
    assert tax_by_brackets(D(0), table) == 0
    assert tax_by_brackets(D(1), table) == 1 and tax_by_brackets(D(-1), table) == -1
    goods = TaxRule(name="Table", percent=D(5), kinds=frozenset({Kind.PART}), brackets=table)
    work = TaxRule(name="Work", percent=D(10), kinds=frozenset({Kind.LABOUR}))
    job = Job(key="1", title="Work", labour=(_hour(),))
    for basis in Basis:
        taxes = Taxes(rules=(goods, work), basis=basis, stacking=Stacking.SEPARATE)
        assert price([job], currency=JPY, on=DAY, taxes=taxes).tax == 10


def _hour() -> LabourLine:
    return LabourLine(description="work", hours=D(1), rate=D(100))
