"""Labour that changes after it was agreed, and an operation named twice: always the union, and told as it is billed."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import Customer, Estimate, Invoice, Job, LabourOperation, RepairOrder
from orders.models.catalogue import WorkStep
from orders.rules.messages import IN_ENGLISH
from orders.services.finishing import finish_order
from orders.services.invoices import issue_invoice
from orders.services.labour_together import beside_words
from orders.services.sheets import invoice_sheet
from shopdocs.shops.models import Shop, Staff
from tests.orders.api.test_pricing_doors import V1, estimate, job_with, post
from tests.orders.back_kit import agreed, arrived_earlier, done, set_rates

pytestmark = pytest.mark.django_db
D = Decimal


def step(shop: Shop, key: str, minutes: int, *needs: str, repeats: bool = False) -> None:
    WorkStep.objects.create(
        shop=shop, key=key, words=f"{key} done", minutes=D(minutes), needs=list(needs), repeats=repeats
    )


def operation(shop: Shop, code: str, hours: str, *steps: str) -> None:
    LabourOperation.objects.create(shop=shop, code=code, words=f"Change {code}", hours=D(hours), steps=list(steps))


def shop_guide(shop: Shop) -> None:
    """A, B and C of 36 minutes each, 30 of them for the cover; PLUG and FILTER of 15 and 21, 9 of them for the hood."""
    set_rates(shop)
    step(shop, "cover", 30)
    for code in "ABC":
        step(shop, code.lower(), 6, "cover")
        operation(shop, code, "0.6", code.lower())
    step(shop, "hood", 9)
    step(shop, "plug", 6, "hood")
    step(shop, "filter", 12, "hood")
    operation(shop, "PLUG", "0.3", "plug")
    operation(shop, "FILTER", "0.4", "filter")


@pytest.fixture(autouse=True)
def guide(shop: Shop) -> None:
    shop_guide(shop)


def billed(shop: Shop, owner: Staff, order: RepairOrder) -> Invoice:
    done(shop, owner, Job.objects.get(order=order))
    finish_order(shop=shop, by=owner, order_id=order.pk)
    return issue_invoice(shop=shop, by=owner, order_id=order.pk)


def tenths(facts: dict[str, Any]) -> list[int]:
    return [line["tenths"] for line in facts["jobs"][0]["labour"]]


def test_what_the_shops_rule_tolerates_is_billed_as_the_union(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    shop.own_overrun_percent = D(100)
    shop.save()
    Customer.objects.update(kind="crew")
    arrived_earlier(order)
    job = job_with(client, order, "A", "B")
    assert tenths(agreed(shop, owner, order).facts) == [6, 1]
    post(client, f"jobs/{job['id']}/labour/", {"code": "C"})
    assert client.get(f"{V1}/jobs/{job['id']}/").json()["times"]["guide"] == "0.8"
    invoice = billed(shop, owner, order)
    time = invoice.facts["jobs"][0]["labour_time"]
    assert (sum(tenths(invoice.facts)), time["hours"], invoice.facts["net"]) == (8, "0.8", "76.00")
    assert time["saving"] == "1.0 h saved: cover done once."


def test_a_line_that_was_lengthened_is_billed_and_told_with_what_is_more(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    shop.own_overrun_percent = D(100)
    shop.save()
    Customer.objects.update(kind="crew")
    arrived_earlier(order)
    line = job_with(client, order, "PLUG", "FILTER")["labour"][1]
    assert tenths(agreed(shop, owner, order).facts) == [3, 2]
    longer = client.patch(f"{V1}/job-labour/{line['id']}/", {"version": 1, "hours": "0.6"}, format="json")
    assert longer.status_code == 200, longer.content
    facts = billed(shop, owner, order).facts
    assert (tenths(facts), facts["jobs"][0]["labour_time"]["hours"]) == ([3, 4], "0.7")


def test_a_step_goes_to_the_work_that_is_left(shop: Shop, owner: Staff, client: APIClient, order: RepairOrder) -> None:
    arrived_earlier(order)
    job = job_with(client, order, "PLUG", "FILTER")
    agreed(shop, owner, order)
    gone = client.delete(f"{V1}/job-labour/{job['labour'][0]['id']}/", {"version": 1}, format="json")
    assert gone.status_code in (200, 204), gone.content
    facts = billed(shop, owner, order).facts
    (billed_job,) = facts["jobs"]
    assert (tenths(facts), facts["net"]) == ([4], "38.00")
    assert (billed_job["labour_time"]["hours"], billed_job["labour_time"]["saving"]) == ("0.4", "")
    assert "saved" not in invoice_sheet(facts).jobs[0].labour[-1].note


def test_a_step_that_would_cost_more_than_was_agreed_stays_with_what_was(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    arrived_earlier(order)
    job = job_with(client, order, labour=[{"code": "PLUG", "rate": "10.00"}, {"code": "FILTER", "rate": "100.00"}])
    agreed(shop, owner, order)  # 3 + 20; the filter alone would be 40
    gone = client.delete(f"{V1}/job-labour/{job['labour'][0]['id']}/", {"version": 1}, format="json")
    assert gone.status_code in (200, 204), gone.content
    facts = billed(shop, owner, order).facts
    time = facts["jobs"][0]["labour_time"]
    assert (tenths(facts), facts["net"], time["hours"], time["saving"]) == ([2], "20.00", "0.2", "")


def test_an_operation_that_is_named_twice_counts_again_only_what_is_repeated(
    shop: Shop, client: APIClient, order: RepairOrder
) -> None:
    step(shop, "test", 6, "plug", repeats=True)
    operation(shop, "TRY", "0.4", "test")  # 9 + 6 + 6 minutes
    job_with(client, order, "PLUG", "PLUG")
    job_with(client, order, "TRY", "TRY")
    plain, tried = estimate(client, order)["jobs"]
    assert [line["tenths"] for line in plain["labour"]] == [3, 0]
    assert plain["labour_time"]["saving"] == "0.2 h saved: hood done once, plug done once."
    # 21 minutes and the test again: 27, half a tenth up; beside the first job only the two tests: 3 + 2 tenths.
    assert [line["tenths"] for line in tried["labour"]] == [1, 1]
    assert tried["labour_time"]["alone"] == "0.5"
    assert tried["labour_time"]["saving"] == "0.2 h saved: hood done once, plug done once."
    assert (
        beside_words(tried["labour_time"]["beside"], IN_ENGLISH)
        == "0.3 h saved: hood done once, plug done once, with job 1."
    )


def test_the_minutes_of_work_are_those_of_all_its_steps(client: APIClient, order: RepairOrder) -> None:
    for key in ("drain", "fill", "wipe"):
        step_of_six = {"key": key, "words": key, "minutes": "6"}
        post(client, "work-steps/", step_of_six)
    post(
        client,
        "operations/",
        {"code": "OIL", "words": "Change oil", "hours": "0.3", "steps": ["drain", "fill", "wipe"]},
    )
    job_with(client, order, "OIL")
    estimate(client, order)
    told = client.get(f"{V1}/estimates/{Estimate.objects.get().pk}/how/").json()
    (minutes,) = [one for one in told if one["figure"] == "minutes:1"]
    assert (minutes["amount"], [one["text"] for one in minutes["steps"]]) == ("18.00", ["drain", "fill", "wipe"])
