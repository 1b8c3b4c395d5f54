"""Which promises end soon, over the whole shop."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import Job, Unit
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


def test_promises_on_an_earlier_repair_are_told_with_their_part(
    scene: Scene, finished_job: Job, api: Api, writer: Staff
) -> None:
    """The shop's own labour warranty and the part maker's run from the job that was done two days ago, over 40 and 50 days."""
    base = {"components": {"all": True}, "use_classes": [], "requires": {}, "start": {"from": "repair"}}
    own = base | {
        "id": "own-labour", "title": "Our labour", "giver": "shop", "giver_name": None, "period": {"days": 40},
        "start": {"from": "repair", "repair_by": ["this_shop"]}, "causes": ["assembly", "defect"],
    }  # fmt: skip
    part = base | {"id": "part-card", "title": "Part card", "giver": "part_maker", "period": {"days": 50}}
    for record in (own, part):
        record_term(shop=scene.shop, by=scene.owner, term=PROMISE | record)
    rows = {row["term"]: row for row in api(writer).get(ADDRESS, {"days": 60}).json()["results"]}
    for name, days, title in (("own-labour", 38, "Our labour: "), ("part-card", 48, "Part card: ")):
        row = rows[name]
        assert (row["days_left"], row["sure"], row["missing"]) == (days, True, [])
        assert row["last_day"] == (scene.today + days * DAY).isoformat()
        assert row["title"].startswith(title) and "ignition module" in row["title"].casefold()
        assert (row["unit"], row["owner"]) == (str(scene.unit.pk), "Wilma Orton")
    (told,) = [
        row
        for row in api(writer).get(ADDRESS, {"days": 47}).json()["results"]
        if row["term"] in rows and row["term"] in ("own-labour", "part-card")
    ]
    assert told["term"] == "own-labour"
