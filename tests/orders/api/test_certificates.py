"""A certificate of tax exemption that runs out is told in time: on the customer's record, and beside an estimate until it is answered."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from orders.models import Customer, Job, RepairOrder
from orders.services.invoices import issue_invoice
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import Shop, Staff
from tests.orders.api.test_answers import V1, post
from tests.orders.back_kit import done, season_service, set_rates

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


def exempt_until(shop: Shop, days: int | None) -> None:
    until = None if days is None else shop.today() + days * DAY
    Customer.objects.update(tax_exempt=True, tax_certificate="EX-77", tax_exempt_until=until)


def told_of_customer(client: Any, order: RepairOrder) -> str:
    said: str = client.get(f"{V1}/customers/{order.customer_id}/").json()["exemption_runs_out"]
    assert client.get(f"{V1}/orders/{order.pk}/").json()["customer"]["exemption_runs_out"] == said
    return said


@pytest.mark.parametrize(
    ("days", "said"), [(None, ""), (31, ""), (30, "runs out on"), (0, "runs out on"), (-1, "ran out on")]
)
def test_the_customers_record_tells_it_in_the_last_thirty_days(
    shop: Shop, order: RepairOrder, client: Any, days: int | None, said: str
) -> None:
    exempt_until(shop, days)
    told = told_of_customer(client, order)
    assert told.startswith(f"Certificate EX-77 {said}") if said else told == ""
    Customer.objects.update(tax_exempt=False)
    assert told_of_customer(client, order) == ""


def test_an_estimate_that_can_be_answered_longer_says_so_and_so_does_the_answer(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any
) -> None:
    Shop.objects.update(estimate_days=60)
    set_rates(shop)
    job = season_service(shop, owner, order)
    exempt_until(shop, 60)
    estimate = post(client, f"orders/{order.pk}/estimates/", {}, 201)
    assert (estimate["exemption_runs_out"], told_of_customer(client, order)) == ("", "")  # it holds on the last day
    exempt_until(shop, 59)
    assert told_of_customer(client, order) == ""
    answer = {
        "channel": "in_person", "said_by": "Imke Dorran", "words": "on paper, folder 3",
        "answers": [{"job": str(job.pk), "accepted": True}],
    }  # fmt: skip
    said = post(client, f"estimates/{estimate['id']}/answers/", answer)["exemption_runs_out"]
    assert "EX-77 runs out on" in said and "can be answered until" in said
    Shop.objects.update(language="es")
    said = client.get(f"{V1}/estimates/{estimate['id']}/").json()["exemption_runs_out"]
    assert said.startswith("El certificado EX-77 vence el") and "{" not in said
    rows = client.get(f"{V1}/estimates/").json()["results"]
    assert "exemption_runs_out" not in rows[0]

    exempt_until(shop, -1)  # and what is told comes true: the invoice of a later day charges tax that nobody agreed to
    done(shop, owner, Job.objects.get(pk=job.pk))
    RepairOrder.objects.filter(pk=order.pk).update(state="finished")
    with pytest.raises(Conflict):
        issue_invoice(shop=shop, by=owner, order_id=order.pk)
