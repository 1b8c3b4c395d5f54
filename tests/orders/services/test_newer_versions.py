"""A job that was agreed to and stands cheaper on a newer version of the estimate is billed by that version."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import Estimate, Job, RepairOrder
from orders.services.authorised import compare
from orders.services.estimates import issue_estimate
from orders.services.finishing import finish_order
from orders.services.invoices import issue_invoice
from orders.services.jobs import add_job
from shopdocs.shops.models import Shop, Staff
from tests.orders.api.test_pricing_doors import post
from tests.orders.back_kit import answered, arrived_earlier, done, set_rates

pytestmark = pytest.mark.django_db
D = Decimal
TERMS = {"starts_on": "2020-01-01", "supplies_percent": "10", "supplies_of": ["labour"], "supplies_cap": "12.00"}


@pytest.fixture(autouse=True)
def rated(shop: Shop, order: RepairOrder) -> None:
    set_rates(shop)
    arrived_earlier(order)


def two_hours(shop: Shop, owner: Staff, order: RepairOrder) -> Job:
    """190.00 before supplies."""
    return add_job(
        shop=shop, by=owner, order_id=order.pk, title="Work", labour=[{"words": "Work", "hours": D(2)}], parts=[]
    )


@pytest.fixture
def both(shop: Shop, owner: Staff, order: RepairOrder, client: APIClient, then: dict[str, Any]) -> Estimate:
    """The first job agreed to, the terms corrected, a second job on version 2."""
    terms = post(client, "pricing-terms/", TERMS)
    first = two_hours(shop, owner, order)
    answered(shop, owner, issue_estimate(shop=shop, by=owner, order_id=order.pk), {first.pk: True})
    body = {"version": terms["version"], "reason": "entered wrongly", **then}
    post(client, f"pricing-terms/{terms['id']}/correct/", body)
    two_hours(shop, owner, order)
    return issue_estimate(shop=shop, by=owner, order_id=order.pk)


def billed(shop: Shop, owner: Staff, order: RepairOrder) -> dict[str, Any]:
    for place, job in enumerate(Job.objects.filter(order=order, state="agreed").order_by("number")):
        done(shop, owner, job, ago=130 * place)
    finish_order(shop=shop, by=owner, order_id=order.pk)
    return issue_invoice(shop=shop, by=owner, order_id=order.pk).facts


LESS = [{"class_discounts": {"household": "10"}}, {"supplies_percent": "1"}, {"supplies_cap": "2.00"}]


@pytest.mark.parametrize("then", LESS)
@pytest.mark.parametrize("accepted", [True, False])
def test_the_newest_version_is_not_exceeded(
    shop: Shop, owner: Staff, order: RepairOrder, both: Estimate, accepted: bool
) -> None:
    second = Job.objects.get(order=order, number=2)
    answered(shop, owner, both, {second.pk: accepted})
    pays = [D(job["customer_pays"]) for job in both.facts["jobs"]][: 2 if accepted else 1]
    assert compare(order).estimate.net == compare(order).bill.net == sum(pays)
    facts = billed(shop, owner, order)
    assert [D(job["customer_pays"]) for job in facts["jobs"]] == pays
    assert facts["jobs"][0]["agreed"]["edition"] == 1  # that is what was answered


@pytest.mark.parametrize("then", [{"supplies_percent": "20", "supplies_cap": "40"}])
def test_a_dearer_newest_version_changes_nothing_of_what_was_agreed(
    shop: Shop, owner: Staff, order: RepairOrder, both: Estimate
) -> None:
    second = Job.objects.get(order=order, number=2)
    assert both.facts["jobs"][0]["customer_pays"] == "210.00"
    answered(shop, owner, both, {second.pk: False})
    assert [job["customer_pays"] for job in billed(shop, owner, order)["jobs"]] == ["202.00"]
