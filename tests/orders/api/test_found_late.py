"""A fault found after the work is finished: recorded, held, mended on an order of its own; the unit leaves once."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.utils import timezone

from orders.models import Check, Finding, Hold, RepairOrder
from orders.services.finishing import finish_order
from shopdocs.shops.models import Event, Shop, Staff
from tests.orders.api.test_inspection import at, find, mended, problem

pytestmark = pytest.mark.django_db


@pytest.fixture
def finished(shop: Shop, owner: Staff, order: RepairOrder) -> RepairOrder:
    return finish_order(shop=shop, by=owner, order_id=order.pk)


def check_in(client: Any, order: RepairOrder, status: int = 201) -> Any:
    visit = {"customer": str(order.customer_id), "unit": str(order.unit_id), "complaint": "leak found at pick-up"}
    answer = client.post("/api/v1/check-in/", visit, format="json")
    assert answer.status_code == status, answer.content[:400]
    return answer.json()


def give_back(client: Any, order: RepairOrder) -> Any:
    return client.post(at(order, "give-back"), {"given_to": "Imke Dorran"}, format="json")


def release(client: Any, hold: Hold) -> Any:
    body = {"note": "line replaced, dry", "made_safe": True}
    return client.post(f"/api/v1/holds/{hold.pk}/release/", body, format="json")


def test_what_is_unsafe_is_recorded_on_finished_work_and_holds_the_unit(
    api: Any, technician: Staff, client: Any, finished: RepairOrder
) -> None:
    found = find(api(technician), finished, "fuel_line", "leaks", point="fuel_lines")
    assert found.status_code == 201 and found.json()["holds"] == ["T-1001"] and found.json()["after_finish"] is True
    assert "fuel line, leaks, found after the work was finished" in Hold.objects.get().reason
    assert Event.objects.get(verb="finding recorded").words.endswith("found after the work was finished")
    assert not Check.objects.exists()  # what was looked at before it was finished stays
    shown = client.get(f"/api/v1/orders/{finished.pk}/").json()
    assert (shown["state"], shown["on_hold"], shown["findings"][0]["after_finish"]) == ("finished", True, True)
    assert "T-1001" in problem(give_back(client, finished), 409, "holds")["problem"]


def test_marked_unsafe_by_the_technician_it_is_taken_too(client: Any, finished: RepairOrder) -> None:
    refused = problem(find(client, finished, "saw_chain", "dull"), 409, "state")
    assert "unsafe" in refused["problem"] and "Check the unit in again" in refused["remedy"]
    assert find(client, finished, "saw_chain", "dull", unsafe=True).json()["holds"] == ["T-1001"]
    assert Finding.objects.count() == 1


def test_a_slip_of_such_a_finding_is_corrected_and_no_other_is(
    shop: Shop, owner: Staff, client: Any, order: RepairOrder
) -> None:
    early = find(client, order, "fuel_line", "leaks").json()
    finished = finish_order(shop=shop, by=owner, order_id=order.pk)
    late = find(client, finished, "fuel_cap", "loose").json()
    change = {"version": 1, "condition": "scuffed", "unsafe": False, "reason": "the cap is tight"}
    problem(client.patch(f"/api/v1/findings/{early['id']}/", change, format="json"), 409, "state")
    assert client.patch(f"/api/v1/findings/{late['id']}/", change, format="json").json()["unsafe"] is False
    assert release(client, Hold.objects.get(finding=late["id"])).status_code == 200
    remedy = problem(release(client, Hold.objects.get(finding=early["id"])), 409, "made_safe")["remedy"]
    assert "Check the unit in again" in remedy and "correct the finding" not in remedy


def test_it_is_mended_on_a_new_order_and_the_unit_leaves_once(client: Any, finished: RepairOrder) -> None:
    find(client, finished, "fuel_line", "leaks")
    again = RepairOrder.objects.get(pk=check_in(client, finished)["id"])
    assert again.number != finished.number
    told = check_in(client, finished, 409)["errors"][0]
    assert again.number in told["problem"]
    for closed in (find(client, finished), client.post(at(finished, "jobs"), {"title": "x"}, format="json")):
        assert again.number in closed.json()["errors"][0]["remedy"], closed.json()
    assert find(client, again, "fuel_line", "leaks").status_code == 201
    first, second = Hold.objects.order_by("created_at")
    problem(release(client, first), 409, "made_safe")
    mended(second)
    assert release(client, first).status_code == 200 and release(client, second).status_code == 200
    assert again.number in problem(give_back(client, finished), 409, "state")["remedy"]
    problem(give_back(client, again), 409, "state")  # its own work is not finished yet
    RepairOrder.objects.filter(pk=again.pk).update(state="finished", finished_at=timezone.now())
    gone = give_back(client, again)
    assert gone.status_code == 200 and gone.json()["state"] == "given_back"
    assert set(RepairOrder.objects.values_list("state", flat=True)) == {"given_back"}
    told_of = Event.objects.filter(verb="given back").values_list("subject", flat=True)
    assert set(told_of) == {again.subject, finished.subject} and len(told_of) == 2


def test_after_it_left_the_remedy_is_true(client: Any, finished: RepairOrder) -> None:
    assert give_back(client, finished).status_code == 200
    refused = problem(find(client, finished, "fuel_line", "leaks"), 409, "state")
    assert "Check the unit in again" in refused["remedy"] and not Hold.objects.exists()
    assert check_in(client, finished)["state"] == "open"


def test_a_unit_that_is_worked_on_again_does_not_wait_to_be_picked_up(client: Any, finished: RepairOrder) -> None:
    RepairOrder.objects.filter(pk=finished.pk).update(finished_at=timezone.now() - dt.timedelta(days=30))
    listed = "/api/v1/not-picked-up/"
    assert [row["order"] for row in client.get(listed).json()] == [str(finished.pk)]
    again = check_in(client, finished)
    assert client.get(listed).json() == []
    refused = client.post(at(finished, "pickup-reminder"), {}, format="json")
    assert again["number"] in problem(refused, 409, "state")["remedy"]
