"""Which promises end soon, over the whole shop."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import Unit
from shopdocs.shops.models import Shop, Staff
from tests.warranty.scene import DAY, Scene
from tests.warranty.services.test_decide import PROMISE
from warranty.services.terms import record_term

pytestmark = pytest.mark.django_db
Api = Callable[[Staff | None], APIClient]
ADDRESS = "/api/v1/running-out/"


def ours(client: APIClient, **given: Any) -> list[dict[str, Any]]:
    rows = client.get(ADDRESS, given).json()["results"]
    return [row for row in rows if row["term"] == "korlind-days"]


@pytest.fixture
def promised(scene: Scene) -> dt.date:
    """A promise of 150 days on a saw bought 120 days ago: thirty are left."""
    term = PROMISE | {"id": "korlind-days", "period": {"days": 150}}
    record_term(shop=scene.shop, by=scene.owner, term=term, maker=scene.maker.pk)
    return scene.unit.purchased_on + 150 * DAY


def test_the_last_day_is_inside_the_days_asked_for(scene: Scene, promised: dt.date, api: Api, writer: Staff) -> None:
    client = api(writer)
    (row,) = ours(client)
    assert (row["last_day"], row["days_left"], row["sure"], row["call_in"]) == (promised.isoformat(), 30, True, True)
    assert (row["unit"], row["owner"]) == (str(scene.unit.pk), "Wilma Orton")
    assert ours(client, days=29) == []
    assert len(ours(client, days=30)) == 1
    assert len(ours(client, days=1, as_of=str(promised))) == 1
    assert ours(client, as_of=str(promised + DAY)) == []


@pytest.mark.parametrize(
    ("given", "field"),
    [({"days": "soon"}, "days"), ({"days": 0}, "days"), ({"days": 731}, "days"), ({"as_of": "x"}, "as_of")],
)
def test_bad_questions(scene: Scene, api: Api, writer: Staff, given: dict[str, Any], field: str) -> None:
    answer = api(writer).get(ADDRESS, given)
    assert (answer.status_code, answer.json()["errors"][0]["field"]) == (400, field)


def test_units_of_others_are_not_told(scene: Scene, promised: dt.date, api: Api, other_shop: Shop) -> None:
    assert api(Staff.objects.get(shop=other_shop)).get(ADDRESS).json()["count"] == 0


def test_many_units_take_a_fixed_number_of_queries(
    scene: Scene, promised: dt.date, api: Api, writer: Staff, django_assert_max_num_queries: Any
) -> None:
    for number in range(40):
        facts = {field.name: getattr(scene.unit, field.name) for field in Unit._meta.concrete_fields}
        facts |= {"id": None, "serial": f"KL20-1{number:04}"}
        del facts["id"]
        Unit.objects.create(**facts)
    client = api(writer)
    with django_assert_max_num_queries(20):
        rows = ours(client, page_size=200)
    assert len(rows) == 41
    assert [row["sure"] for row in rows].count(False) == 40  # no proof of purchase there


def test_a_fleet_of_a_thousand_units_is_one_call_with_whom_to_ring(
    scene: Scene, promised: dt.date, api: Api, writer: Staff, django_assert_max_num_queries: Any
) -> None:
    """Twelve hundred saws, of which every third has thirty days left: three runs of 500, each read in a fixed number of queries."""
    facts = {field.name: getattr(scene.unit, field.name) for field in Unit._meta.concrete_fields if field.name != "id"}
    late = scene.unit.purchased_on - 300 * DAY
    rows = [
        Unit(**(facts | {"serial": f"KL21-{number:05}", "serial_key": f"KL21{number:05}"} | ({} if number % 3 == 0 else {"purchased_on": late})))
        for number in range(1_200)
    ]  # fmt: skip
    Unit.objects.bulk_create(rows, batch_size=500)
    client = api(writer)
    with django_assert_max_num_queries(45):
        answer = client.get(ADDRESS, {"page_size": 200, "days": 60}).json()
    assert answer["count"] >= 401
    ringing = [row for row in answer["results"] if row["term"] == "korlind-days"]
    assert ringing and {(row["last_day"], row["owner"], row["call_in"]) for row in ringing} == {
        (promised.isoformat(), "Wilma Orton", True)
    }
