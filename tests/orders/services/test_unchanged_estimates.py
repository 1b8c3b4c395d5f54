"""A new version of an estimate says something new, or comes after one that nobody can accept any more."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from orders.models import Customer, Estimate, Finding, Job, RepairOrder
from orders.services.estimates import issue_estimate
from orders.services.jobs import propose_again
from shopdocs.documents.models import Document
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import LabourRate, Shop, Staff
from tests.orders.back_kit import a_finding, answered, season_service, set_rates, sharpening

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(shop: Shop, owner: Staff, order: RepairOrder) -> Job:
    set_rates(shop)
    return season_service(shop, owner, order)


@pytest.fixture
def issue(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> Callable[[], Estimate]:
    return lambda: issue_estimate(shop=shop, by=owner, order_id=order.pk)


def refused(issue: Callable[[], Estimate], same: Estimate) -> tuple[str, str]:
    """Problem and remedy of the refusal, which names the version that stands; nothing was written."""
    before = (Estimate.objects.count(), Document.objects.count())
    with pytest.raises(Conflict) as said:
        issue()
    assert (Estimate.objects.count(), Document.objects.count()) == before
    assert said.value.extra == {"estimate": str(same.pk), "edition": same.edition}
    (one,) = said.value.problems
    assert one.field == "estimate" and f"Version {same.edition} of {same.number}" in one.problem
    return one.problem, one.remedy


def test_the_door_names_the_version_that_says_the_same(client: Any, order: RepairOrder, job: Job) -> None:
    door = f"/api/v1/orders/{order.pk}/estimates/"
    first = client.post(door).json()
    again = client.post(door)
    assert (again.status_code, again["Content-Type"]) == (409, "application/problem+json")
    body = again.json()
    assert (body["estimate"], body["edition"]) == (first["id"], 1)
    assert f"valid until {first['valid_until']}" in body["errors"][0]["problem"]
    assert f"estimates/{first['id']}/send/" in body["errors"][0]["remedy"]
    assert [one["edition"] for one in client.get(door).json()["results"]] == [1]


def test_another_day_alone_is_no_change(issue: Callable[[], Estimate], monkeypatch: pytest.MonkeyPatch) -> None:
    """The law's fields name the day of issue, and so do the words with which a job is accepted."""
    first = issue()
    assert any(one["answer"] == "issued_on" for law in first.facts["legal_fields"] for one in law["fields"])
    real = timezone.now
    monkeypatch.setattr(timezone, "now", lambda: real() + dt.timedelta(days=3))
    problem, _ = refused(issue, first)
    assert str(first.issued_on) in problem
    monkeypatch.setattr(timezone, "now", lambda: real() + dt.timedelta(days=31))
    assert issue().edition == 2  # it has run out, and is made valid anew


CHANGES: dict[str, Callable[[Shop, Staff, RepairOrder], Any]] = {
    "another job": lambda shop, by, order: sharpening(shop, by, order),
    "the customer's telephone": lambda shop, by, order: Customer.objects.update(phone="555-0178"),
    "the customer's language": lambda shop, by, order: Customer.objects.update(language="es"),
    "the shop's street": lambda shop, by, order: Shop.objects.update(street="15 Quarry Lane"),
    "how long it is valid": lambda shop, by, order: Shop.objects.update(estimate_days=10),
    "the labour rate": lambda shop, by, order: LabourRate.objects.update(per_hour=Decimal("99")),
    "the complaint": lambda shop, by, order: RepairOrder.objects.update(complaint="Leaks"),
    "what was found": lambda shop, by, order: Finding.objects.update(note="brittle all round"),
    "why now": lambda shop, by, order: Job.objects.update(why_now="It drips on the muffler."),
    "who is a consumer": lambda shop, by, order: Customer.objects.update(kind="crew"),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_whatever_is_printed_differently_makes_a_new_version(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job, change: Callable[..., Any]
) -> None:
    job.findings.add(a_finding(shop, owner, order))

    def issue() -> Estimate:
        there = type(owner).objects.select_related("shop", "user").get(pk=owner.pk)
        return issue_estimate(shop=there.shop, by=there, order_id=order.pk)

    first = issue()
    refused(issue, first)
    change(shop, owner, order)
    second = issue()
    assert (second.edition, second.number) == (2, first.number)
    refused(issue, second)


def test_what_was_accepted_whole_needs_no_new_version(
    shop: Shop, owner: Staff, job: Job, issue: Callable[[], Estimate]
) -> None:
    first = answered(shop, owner, issue(), {job.pk: True})
    problem, remedy = refused(issue, first)
    assert "accepted all of it" in problem and "Do the work" in remedy


def test_what_was_declined_or_left_open_can_be_asked_again(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job, issue: Callable[[], Estimate]
) -> None:
    other = sharpening(shop, owner, order)
    answered(shop, owner, issue(), {job.pk: True})
    assert issue().edition == 2  # the other job waits still
    answered(shop, owner, Estimate.objects.get(edition=2), {job.pk: True, other.pk: False})
    propose_again(shop=shop, by=owner, job_id=other.pk)
    third = issue()
    assert (third.edition, len(third.facts["jobs"])) == (3, 2)
    refused(issue, third)
