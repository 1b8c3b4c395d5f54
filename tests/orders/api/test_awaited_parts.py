"""What an order waits for, and since when; a part that is fitted has arrived."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from orders.models import Job, JobPart, RepairOrder
from orders.services.bench import fit_part
from shopdocs.shops.models import Event, Shop, Staff
from tests.orders.back_kit import agreed, season_service, set_rates

pytestmark = pytest.mark.django_db
PARTS: list[dict[str, Any]] = [
    {"words": "Coil", "unit_price": "60"}, {"words": "Belt", "unit_price": "20"}, {"words": "Plug", "unit_price": "6"},
]  # fmt: skip


def move(client: Any, words: str, **changes: Any) -> Any:
    line = JobPart.objects.get(words=words)
    path = f"/api/v1/job-parts/{line.pk}/"
    answer = client.patch(path, {"version": line.version, **changes}, format="json")
    assert answer.status_code == 200, answer.content
    return answer.json()


def test_an_order_sums_up_what_it_waits_for_and_since_when(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any
) -> None:
    today = shop.today()
    path = f"/api/v1/orders/{order.pk}/awaited-parts/"
    set_rates(shop)
    season_service(shop, owner, order, parts=PARTS)
    assert client.get(path).json() == {"since": None, "expected_on": None, "parts": []}
    assert move(client, "Belt", state="ordered")["awaited_since"] == str(today)
    JobPart.objects.filter(words="Belt").update(awaited_since=today - dt.timedelta(days=12))
    soon = today + dt.timedelta(days=4)
    late = move(client, "Belt", state="back_ordered", expected_on=str(soon))
    assert late["awaited_since"] == str(today - dt.timedelta(days=12)), "a back-order goes on with the order"
    move(client, "Coil", state="ordered", expected_on=str(today))
    told = client.get(path).json()
    assert (told["since"], told["expected_on"]) == (str(today - dt.timedelta(days=12)), str(soon))
    assert [(one["words"], one["state"], one["days"], one["job_number"]) for one in told["parts"]] == [
        ("Belt", "back_ordered", 12, 1), ("Coil", "ordered", 0, 1),
    ]  # fmt: skip
    JobPart.objects.filter(words="Coil").update(expected_on=today - dt.timedelta(days=1))
    RepairOrder.objects.filter(pk=order.pk).update(promised_on=today)
    assert [(one["late"], one["after_promised"]) for one in client.get(path).json()["parts"]] == [
        (False, True), (True, False),
    ]  # fmt: skip
    move(client, "Coil", expected_on=None)
    assert client.get(path).json()["expected_on"] is None, "the day of one is not known"
    move(client, "Belt", state="arrived")
    assert [one["words"] for one in client.get(path).json()["parts"]] == ["Coil"]
    assert move(client, "Coil", state="")["awaited_since"] is None
    assert client.get(path).json()["parts"] == []
    Job.objects.update(state="struck")
    JobPart.objects.update(state="ordered")
    assert client.get(path).json()["parts"] == [], "nobody waits for the parts of a struck job"


def test_fitting_a_part_that_was_awaited_marks_it_arrived(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any
) -> None:
    set_rates(shop)
    job = season_service(shop, owner, order, parts=PARTS)
    agreed(shop, owner, order)
    move(client, "Coil", state="back_ordered", expected_on=str(shop.today()))
    for words in ("Coil", "Belt"):
        fit_part(shop=shop, by=owner, part_id=JobPart.objects.get(words=words).pk)
    coil, belt = (JobPart.objects.get(words=words) for words in ("Coil", "Belt"))
    assert (coil.state, coil.expected_on, coil.fitted_at is not None) == ("arrived", None, True)
    assert belt.state == "", "one from the shelf never was on its way"
    assert client.get(f"/api/v1/orders/{order.pk}/awaited-parts/").json()["parts"] == []
    told = Event.objects.filter(subject=job.subject, verb="part arrived")
    assert [one.words for one in told] == ["1.000 x Coil, as it was fitted"]


def test_another_shops_order_is_not_told(client: Any, strangers: dict[str, str]) -> None:
    assert client.get(f"/api/v1/orders/{strangers['order']}/awaited-parts/").status_code == 404
