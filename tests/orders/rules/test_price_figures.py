"""Every figure of priced jobs lists how it came about, and each is done again in fractions: random orders of every kind."""

from __future__ import annotations

from dataclasses import replace
from decimal import ROUND_DOWN, Decimal
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from orders.rules.price_figures import JobNames, price_figures
from orders.rules.pricing import Exemption, Payer, Priced, Returned, price
from shopdocs.money import plain
from shopdocs.problems import BadInput
from tests.orders.rules.test_pricing import DAY, money
from tests.orders.rules.test_pricing_anew import orders
from tests.sums import done_again

D = Decimal


def figures_of(found: Priced) -> dict[str, Decimal]:
    """The figures of a priced order by name, done again; the key of a line is 'JOB-PLACE'."""
    names = [
        JobNames(number, [f"{number}-{at}" for at in range(len(job.lines))]) for number, job in enumerate(found.jobs, 1)
    ]
    return done_again(price_figures(found, names), found.currency.decimals)


def told(found: Priced) -> dict[str, Decimal]:
    """Every amount of a priced order under the name of its figure."""
    amounts = {"all:net": found.net, "all:tax": found.tax, "all:total": found.total}
    for number, job in enumerate(found.jobs, 1):
        amounts[f"job:{number}"] = job.net
        amounts |= {f"share:{number}:{payer}": amount for payer, amount in job.shares}
        amounts.setdefault(f"share:{number}:{Payer.CUSTOMER}", D(0))
        for at, line in enumerate(job.lines):
            amounts[f"line:{number}-{at}"] = line.net
            if len(line.shares) > 1:
                amounts |= {f"part:{number}-{at}:{payer}": amount for payer, amount in line.shares}
            if dict(line.shares).keys() != {Payer.CUSTOMER}:
                amounts[f"part:{number}-{at}:{Payer.CUSTOMER}"] = line.paid_by(Payer.CUSTOMER)
    for total in found.payers:
        name = f"payer:{total.payer}"
        amounts |= {f"{name}:{what}": getattr(total, what) for what in ("lines", "net", "tax", "total")}
        for tax in total.taxes:
            amounts[f"{name}:tax:{tax.name}:{plain(tax.percent)}"] = tax.amount
            amounts[f"{name}:base:{tax.name}:{plain(tax.percent)}"] = tax.base
    return amounts


def thirds(quantity: Decimal, times: int) -> tuple[Returned, ...]:
    third = (quantity / 3).quantize(D("0.001"), rounding=ROUND_DOWN)
    return tuple(Returned("came back", third) for _ in range(times if third else 0))


@settings(max_examples=120, deadline=None)
@given(orders(), st.booleans(), st.none() | money(20), st.integers(0, 3))
def test_every_amount_of_a_priced_order_is_done_again(
    order: dict[str, Any], exempt: bool, most: Decimal | None, back: int
) -> None:
    """A certificate, a bound of the supplies, and pieces that came back one after the other are thrown in."""
    jobs = []
    for job in order.pop("jobs"):
        parts = [
            replace(part, returned=thirds(part.quantity, back), cores_returned=thirds(part.quantity, back // 2))
            for part in job.parts
        ]
        jobs.append(replace(job, parts=tuple(parts), supplies_most=most))
    try:
        found = price(jobs, on=DAY, exemption=Exemption(certificate="EX-7") if exempt else None, **order)
    except BadInput as bad:
        assert bad.field == "discount.amount"
        return
    figures = figures_of(found)
    for name, amount in told(found).items():
        assert figures[name] == amount, name
