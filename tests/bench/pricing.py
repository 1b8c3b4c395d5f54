"""Pricing an order of 200 lines over a bare Decimal loop that multiplies, rounds and sums the same figures.

The bare loop keeps an amount for each line and has sums for each job, payer and tax; it knows no discount, no split, no
reason and no currency but its own. Both are given the same figures as Decimals, and the run fails if a single amount
differs. Ours is asked for every line's amount as well, for figures are made when somebody asks; and, as a second result,
for every line as an object that can explain itself.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from orders.rules.pricing import (
    Basis,
    Job,
    Kind,
    LabourLine,
    PartLine,
    Payer,
    Priced,
    Taxes,
    TaxRule,
    price,
)
from shopdocs.money import USD
from tests.bench.registry import Result, benchmark

JOBS, LABOUR, PARTS, ROUNDS = 10, 8, 12, 400
DAY = date(2026, 11, 25)
CENT, HUNDRED, NOTHING = Decimal("0.01"), Decimal(100), Decimal("0.00")
STATE, COUNTY = Decimal("6.00"), Decimal("1.25")
GOODS = frozenset({Kind.PART, Kind.SUPPLIES})
PAYERS = (Payer.CUSTOMER, Payer.WARRANTY, Payer.CUSTOMER, Payer.SHOP, Payer.GOODWILL)

Bare = tuple[Payer, list[tuple[Decimal, Decimal]], list[tuple[Decimal, Decimal]]]
Sums = tuple[list[Decimal], list[Decimal], dict[Payer, Decimal], dict[Payer, Decimal], Decimal, Decimal]


def orders(seed: int) -> list[Job]:
    """Ten jobs of eight labour and twelve part lines, each with figures of its own."""
    return [
        Job(
            key=f"{seed}-{at}",
            title=f"Job {at}",
            labour=tuple(
                LabourLine(description=f"Work {line}", key=f"L{at}-{line}", rate=Decimal("95.50"),
                           hours=Decimal(1 + (seed + at * line) % 40) / 10)
                for line in range(LABOUR)
            ),
            parts=tuple(
                PartLine(number=f"P-{line}", description=f"Part {line}", key=f"P{at}-{line}",
                         quantity=Decimal(1 + (at + line) % 4), unit_price=Decimal(100 + (seed * 37 + at * 411 + line * 97) % 9000) / 100)
                for line in range(PARTS)
            ),
            payer=PAYERS[at % len(PAYERS)],
        )
        for at in range(JOBS)
    ]  # fmt: skip


def taxes(basis: Basis) -> Taxes:
    """Two taxes on the customer's goods."""
    return Taxes(
        rules=tuple(TaxRule(name=n, percent=p, kinds=GOODS) for n, p in (("State", STATE), ("County", COUNTY))),
        basis=basis,
    )


def bare_figures(jobs: Sequence[Job]) -> list[Bare]:
    """The same figures as tuples of Decimals."""
    return [
        (
            Payer(str(job.payer)),
            [(x.hours, x.rate) for x in job.labour],
            [(x.quantity, x.unit_price) for x in job.parts],
        )
        for job in jobs
    ]


def bare_loop(jobs: Sequence[Bare], by_item: bool) -> Sums:
    """Lines, jobs, payers before tax, payers' taxes, tax and total."""
    lines: list[Decimal] = []
    nets: list[Decimal] = []
    payers: dict[Payer, Decimal] = {}
    goods: dict[Payer, Decimal] = {}
    rate = STATE + COUNTY
    for payer, labour, parts in jobs:
        net = taxed = NOTHING
        for hours, price_an_hour in labour:
            amount = (hours * price_an_hour).quantize(CENT, ROUND_HALF_UP)
            lines.append(amount)
            net += amount
        for quantity, each in parts:
            amount = (quantity * each).quantize(CENT, ROUND_HALF_UP)
            lines.append(amount)
            net += amount
            taxed += (amount * rate / HUNDRED).quantize(CENT, ROUND_HALF_UP) if by_item else amount
        nets.append(net)
        payers[payer] = payers.get(payer, NOTHING) + net
        goods[payer] = goods.get(payer, NOTHING) + taxed
    customer = goods[Payer.CUSTOMER]
    tax = customer if by_item else (customer * rate / HUNDRED).quantize(CENT, ROUND_HALF_UP)
    owed = {payer: net + (tax if payer is Payer.CUSTOMER else NOTHING) for payer, net in payers.items()}
    return lines, nets, payers, owed, tax, sum(owed.values(), NOTHING)


def asked(found: Priced) -> Sums:
    """Every figure of the bare loop, out of our answer."""
    return (
        [amount for job in found.jobs for amount in job.nets],
        [job.net for job in found.jobs],
        {one.payer: one.net for one in found.payers},
        {one.payer: one.total for one in found.payers},
        found.tax,
        found.total,
    )


def asked_for_lines(found: Priced) -> list[Decimal]:
    """The lines themselves."""
    return [line.net for job in found.jobs for line in job.lines]


def took(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def over_the_bare_loop(basis: Basis) -> list[Result]:
    """The fastest round of each, taken in turns, every round with an order of its own."""
    rules, by_item = taxes(basis), basis is Basis.ITEM
    ours, plain, whole, lines = [], [], [], []
    for seed in range(ROUNDS):
        building = took(lambda seed=seed: orders(seed))  # type: ignore[misc]
        jobs = orders(seed)
        bare = bare_figures(jobs)
        if asked(price(jobs, currency=USD, on=DAY, taxes=rules)) != bare_loop(bare, by_item):
            raise AssertionError(f"the bare loop and the pricing differ on order {seed}")
        plain.append(took(lambda bare=bare: bare_loop(bare, by_item)))  # type: ignore[misc]
        ours.append(took(lambda jobs=jobs: asked(price(jobs, currency=USD, on=DAY, taxes=rules))))  # type: ignore[misc]
        found = price(jobs, currency=USD, on=DAY, taxes=rules)
        lines.append(took(lambda found=found: asked_for_lines(found)))  # type: ignore[misc]
        whole.append(building)
    sizes = (
        f"{JOBS * (LABOUR + PARTS)} lines, {min(ours) * 1e6:.0f} against {min(plain) * 1e6:.0f} us, {ROUNDS} orders; "
        f"checking the lines as they are made takes {min(whole) * 1e6:.0f} us more"
    )
    as_objects = (min(ours) + min(lines)) / min(plain)
    baseline = "a bare Decimal loop over the same lines"
    return [
        Result(f"pricing, tax by {basis}", min(ours) / min(plain), 3.0, baseline, sizes),
        Result(
            f"pricing, tax by {basis}, lines as objects too",
            as_objects,
            5.0,
            baseline,
            f"{min(lines) * 1e6:.0f} us more",
        ),
    ]


@benchmark("pricing")
def run() -> list[Result]:
    """Tax rounded on the whole, and line by line."""
    return [*over_the_bare_loop(Basis.INVOICE), *over_the_bare_loop(Basis.ITEM)]
