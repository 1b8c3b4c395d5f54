"""Whatever jobs a customer chooses of an estimate, the invoice is that choice to the cent, by a second working in fractions.

The second working knows the jobs as they are told here, the minutes of the work steps, and the shop's terms; it shares no code
with the first and reads nothing that was frozen.
"""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal
from fractions import Fraction
from itertools import combinations
from math import ceil
from typing import Any

import pytest
from django.db import transaction

from orders.models import Job, LabourOperation, RepairOrder
from orders.models.catalogue import WorkStep
from orders.services.authorised import compare
from orders.services.charges import set_terms
from orders.services.estimates import issue_estimate
from orders.services.finishing import finish_order
from orders.services.invoices import issue_invoice
from orders.services.jobs import add_job
from orders.services.splits import set_split
from shopdocs.shops.models import LabourRate, Shop, Staff, TaxRate
from tests.orders.back_kit import answered, arrived_earlier, done
from tests.orders.rules.test_pricing_anew import dealt, nearest, nearly

pytestmark = pytest.mark.django_db
D = Decimal
F = Fraction
MINUTES = {"cover": F("9.5"), "seal": F(13), "reed": F(8), "tank": F("16.25")}
STEPS = {1: ("cover", "seal"), 2: ("cover", "reed"), 5: ("tank", "cover")}
"""What the operation of each job needs; the cover comes off once for all that one payer bears."""
PARTS = {1: F("6.25"), 2: F("2.5") * F("1.333"), 4: F("18.99")}
TYPED = {3: F("1.1"), 4: F("0.7")}
CUSTOMER, OTHERS = F("95.33"), F("80")
COUNTY, STATE, CITY = F("7.25"), F("5.75"), F("0.625")


@pytest.fixture
def jobs(shop: Shop, owner: Staff, order: RepairOrder) -> dict[int, Job]:
    """Three jobs that share a step, one that three payers share, one whose labour the shop bears."""
    arrived_earlier(order)
    day = shop.today()
    for payer, rate in (("", OTHERS), ("customer", CUSTOMER)):
        LabourRate.objects.create(shop=shop, payer=payer, per_hour=D(float(rate)).quantize(D("0.01")), starts_on=day)
    for name, percent, kinds in (
        ("County tax", COUNTY, ["part"]),
        ("State tax", STATE, ["part", "labour", "supplies"]),
        ("City tax", CITY, ["labour"]),
    ):
        TaxRate.objects.create(
            shop=shop, name=name, percent=D(float(percent)), on_kinds=kinds, on_payers=["customer"], starts_on=day
        )
    for key, minutes in MINUTES.items():
        WorkStep.objects.create(shop=shop, key=key, words=key, minutes=D(float(minutes)))
    found = {}
    for number in range(1, 6):
        labour: dict[str, Any] = {"words": "Work", "hours": D(float(TYPED.get(number, F(0)))).quantize(D("0.1"))}
        if number in STEPS:
            row = LabourOperation.objects.create(
                shop=shop, code=f"O{number}", words="Work", hours=D("9.9"), steps=list(STEPS[number])
            )
            labour = {"operation": row.pk}
        part: dict[str, Any] = {"words": "Part", "unit_price": D("6.25") if number == 1 else D("18.99")}
        if number == 2:
            part = {"words": "Line by the foot", "quantity": D("2.5"), "unit_price": D("1.333")}
        found[number] = add_job(
            shop=shop, by=owner, order_id=order.pk, title=f"Job {number}", labour=[labour],
            parts=[part] if number in PARTS else [],
        )  # fmt: skip
    shares = [
        {"payer": "customer", "amount": D("20.01")}, {"payer": "goodwill", "percent": D("33.3")}, {"payer": "shop"},
    ]  # fmt: skip
    set_split(shop=shop, by=owner, job_id=found[3].pk, version=found[3].version, shares=shares)
    set_split(shop=shop, by=owner, job_id=found[4].pk, version=found[4].version, payer_of={"labour": "shop"})
    return {number: Job.objects.get(pk=job.pk) for number, job in found.items()}


def hours_of(chosen: Collection[int]) -> dict[int, Fraction]:
    """Each job's hours: what it adds to the minutes of those before it, together rounded once up to the next tenth."""
    found, seen, before = dict(TYPED), set[str](), F(0)
    for number in sorted(set(chosen) & STEPS.keys()):
        seen |= set(STEPS[number])
        hours = F(ceil(sum((MINUTES[key] for key in seen), F(0)) / 6), 10)
        found[number], before = hours - before, hours
    return found


def lines_of(chosen: Collection[int]) -> dict[tuple[int, str], tuple[int, int]]:
    """Labour and parts in cents by job and payer."""
    hours, found = hours_of(chosen), {}
    for number in sorted(chosen):
        rate = OTHERS if number == 4 else CUSTOMER
        labour, part = nearest(hours[number] * rate * 100), nearest(PARTS.get(number, F(0)) * 100)
        if number == 3:
            first = min(2001, labour)
            left = [(labour - first) * F("33.3") / 100, (labour - first) * F("66.7") / 100]
            goodwill, shop = nearly(labour - first, left)
            found |= {(3, "customer"): (first, 0), (3, "goodwill"): (goodwill, 0), (3, "shop"): (shop, 0)}
        elif number == 4:
            found |= {(4, "shop"): (labour, 0), (4, "customer"): (0, part)}
        else:
            found[number, "customer"] = (labour, part)
    return found


def supplies_of(chosen: Collection[int], cap: Decimal | None) -> dict[int, int]:
    """The customer's supplies by job: 5 % of what labour and parts they bear, no more than the cap in all."""
    bases = {number: sum(both) for (number, payer), both in lines_of(chosen).items() if payer == "customer"}
    total = nearest(F(sum(bases.values()) * 5, 100))
    if cap is not None:
        total = min(total, nearest(F(cap) * 100))
    return dict(zip(bases, dealt(total, list(bases.values())), strict=True))


def comes_to(chosen: Collection[int], cap: Decimal | None, stacking: str) -> tuple[Decimal, Decimal]:
    """What the customer pays of the chosen jobs, before tax and with it."""
    lines = {number: both for (number, payer), both in lines_of(chosen).items() if payer == "customer"}
    told, alone = supplies_of(range(1, 6), cap), supplies_of(chosen, cap)
    supplies = sum(min(told[number], alone[number]) for number in lines)
    labour, parts = (sum(both[at] for both in lines.values()) for at in (0, 1))
    exact = [parts * COUNTY / 100, (labour + parts + supplies) * STATE / 100, labour * CITY / 100]
    taxes = [nearest(one) for one in exact]
    if stacking == "aggregated":
        taxes = nearly(nearest(sum(exact)), exact)
    net = labour + parts + supplies
    return D(net) / 100, D(net + sum(taxes)) / 100


CHOICES = [some for many in range(1, 6) for some in combinations(range(1, 6), many)]


@pytest.mark.parametrize(("cap", "stacking"), [(D("4.00"), "aggregated"), (None, "separate")])
def test_any_choice_of_jobs_is_billed_as_it_was_agreed_to_the_cent(
    shop: Shop, owner: Staff, order: RepairOrder, jobs: dict[int, Job], cap: Decimal | None, stacking: str
) -> None:
    set_terms(
        shop=shop, by=owner, starts_on=shop.today(), supplies_percent=D(5), supplies_of=["labour", "part"],
        supplies_cap=cap, tax_stacking=stacking, labour_rounding="up",
    )  # fmt: skip
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert (estimate.facts["customer_net"], estimate.facts["customer_total"]) == tuple(
        f"{one:.2f}" for one in comes_to(range(1, 6), cap, stacking)
    )
    sums = set()
    for chosen in CHOICES[:: 1 if cap else 6]:
        with transaction.atomic():
            answered(shop, owner, estimate, {job.pk: number in chosen for number, job in jobs.items()})
            both = compare(order)
            for place, number in enumerate(chosen):
                done(shop, owner, Job.objects.get(pk=jobs[number].pk), ago=40 * place)
            finish_order(shop=shop, by=owner, order_id=order.pk)
            bill = issue_invoice(shop=shop, by=owner, order_id=order.pk).facts
            transaction.set_rollback(True)
        net, total = comes_to(chosen, cap, stacking)
        assert (bill["net"], bill["total"]) == (f"{net:.2f}", f"{total:.2f}"), chosen
        assert both.estimate.net == both.bill.net == net, chosen
        others = {
            (int(one["why"].split(" · ")[0].removeprefix("Job ")), one["payer"]): one["amount"]
            for one in bill["others"]
        }
        wanted = {key: sum(lines) for key, lines in lines_of(chosen).items() if key[1] != "customer"}
        assert others == {key: f"{D(cents) / 100:.2f}" for key, cents in wanted.items()}, chosen
        sums.add(bill["total"])
    assert len(sums) > 4
