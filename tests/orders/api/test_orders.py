"""Doors to repair orders: found, read with everything in them, corrected while open."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from orders.models import RepairOrder
from orders.services.findings import create_finding
from shopdocs.shops.models import Event, Staff

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


def numbers(client: Any, query: str) -> list[str]:
    answer = client.get(f"/api/v1/orders/?{query}")
    assert answer.status_code == 200, answer.json()
    return [row["number"] for row in answer.json()["results"]]


def test_found_by_state_customer_serial_and_number(client: Any, order: RepairOrder, strangers: dict[str, str]) -> None:
    for query in (
        "", "state=open", f"customer={order.customer_id}", f"unit={order.unit_id}", "serial=kx-100%207", "number=ro-1001"
    ):  # fmt: skip
        assert numbers(client, query) == [order.number], query
    for query in ("state=finished", f"customer={strangers['customer']}", "serial=STRANGER1", "number=RO-9"):
        assert numbers(client, query) == [], query


@pytest.mark.parametrize("query", ["state=lost", "customer=me", "unit=5", "number=%00"])
def test_a_question_that_is_none(client: Any, order: RepairOrder, query: str) -> None:
    answer = client.get(f"/api/v1/orders/?{query}")
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["field"] == query.partition("=")[0]


def test_everything_in_it_without_a_query_a_row(
    client: Any, order: RepairOrder, owner: Staff, django_assert_max_num_queries: Any
) -> None:
    address = f"/api/v1/orders/{order.pk}/"

    def queries() -> int:
        with django_assert_max_num_queries(40) as caught:
            body = client.get(address).json()
        assert len(body["findings"]) == RepairOrder.objects.get(pk=order.pk).findings.count()
        return len(caught)

    create_finding(shop=order.shop, by=owner, order_id=order.pk, facts={"component": "fuel_line", "condition": "leaks"})
    one = queries()
    for component in ("fuel_tank", "fuel_cap", "muffler", "saw_chain"):
        create_finding(
            shop=order.shop, by=owner, order_id=order.pk, facts={"component": component, "condition": "cracked"}
        )
    assert queries() == one


def test_the_order_tells_its_history_and_what_holds_it(client: Any, order: RepairOrder) -> None:
    body = {"component": "fuel_line", "condition": "leaks"}
    client.post(f"/api/v1/orders/{order.pk}/findings/", body, format="json")
    read = client.get(f"/api/v1/orders/{order.pk}/").json()
    assert [event["verb"] for event in read["history"]] == ["checked in", "finding recorded", "hold placed"]
    assert read["on_hold"] is True and read["holds"][0]["tag"] == read["findings"][0]["holds"][0]
    assert read["customer"]["name"] == "Imke Dorran" and read["taken_in_by"] == "Ottilie Vance"


class TestChange:
    def change(self, client: Any, order: RepairOrder, **fields: Any) -> Any:
        return client.patch(f"/api/v1/orders/{order.pk}/", {"version": order.version, **fields}, format="json")

    def test_promise_and_accessories(self, client: Any, order: RepairOrder) -> None:
        day = (order.received_on + 5 * DAY).isoformat()
        answer = self.change(client, order, promised_on=day, accessories=["bar cover", "tool"], owner_far=None)
        assert answer.status_code == 200, answer.json()
        assert answer.json()["promised_on"] == day and answer.json()["version"] == order.version + 1
        assert Event.objects.get(verb="changed").facts["before"]["promised_on"] == "None"

    def test_two_people(self, client: Any, order: RepairOrder) -> None:
        assert self.change(client, order, complaint="Will not start hot").status_code == 200
        stale = self.change(client, order, complaint="Will not start")
        assert stale.status_code == 409 and stale.json()["changed"] == {"complaint": "Will not start hot"}

    @pytest.mark.parametrize(
        ("fields", "field"),
        [
            ({"promised_on": "2001-01-01"}, "promised_on"),
            ({"promised_on": "soon"}, "promised_on"),
            ({"complaint": ""}, "complaint"),
            ({"complaint": 7}, "complaint"),
            ({"complaint": "x" * 2_000_000}, "complaint"),
            ({"state": "finished"}, "state"),
            ({"number": "RO-7"}, "number"),
            ({"received_on": "2001-01-01"}, "received_on"),
        ],
    )
    def test_wrong(self, client: Any, order: RepairOrder, fields: dict[str, Any], field: str) -> None:
        answer = self.change(client, order, **fields)
        assert answer.status_code == 400 and answer.json()["errors"][0]["field"] == field
        assert RepairOrder.objects.get(pk=order.pk).version == order.version

    def test_roles(self, api: Any, technician: Any, office: Any, writer: Any, order: RepairOrder) -> None:
        for staff in (technician, office):
            assert self.change(api(staff), order, owner_far=True).status_code == 403
        assert self.change(api(writer), order, owner_far=True).status_code == 200
        for staff in (technician, office):
            assert api(staff).get(f"/api/v1/orders/{order.pk}/").status_code == 200
