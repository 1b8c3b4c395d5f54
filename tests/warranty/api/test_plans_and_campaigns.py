"""Plans and campaigns of a unit: recorded once, for every visit of it, under codes that terms of the shop ask for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import RepairOrder
from shopdocs.shops.models import Shop, Staff
from tests.warranty.scene import DAY, Scene
from tests.warranty.services.test_decide import PROMISE
from warranty.models import CampaignMark, PlanHeld
from warranty.services.terms import record_term

pytestmark = pytest.mark.django_db
Api = Callable[[Staff | None], APIClient]
V1 = "/api/v1"


@pytest.fixture
def terms(scene: Scene) -> Scene:
    """A plan and a campaign beside a promise that ran out; a bare label, so that no law steps in."""
    scene.engine.emission_rule = "none"
    scene.engine.save()
    for name, giver, asked in (("plus", "plan", {"plan": "K-PLUS"}), ("recall", "campaign", {"campaign": "R-7"})):
        term = {key: value for key, value in PROMISE.items() if key not in ("giver_name", "use_classes")}
        record_term(
            shop=scene.shop, by=scene.owner, term=term | {"id": name, "title": name, "giver": giver, "requires": asked}
        )
    return scene


def answer(client: APIClient, order: RepairOrder) -> tuple[str, list[str]]:
    (row,) = client.post(f"{V1}/orders/{order.pk}/decisions/", {}, format="json").json()
    return row["answer"], sorted(one["fact"] for one in row["settled_by"])


def add(client: APIClient, scene: Scene, what: str, **given: Any) -> Any:
    return client.post(f"{V1}/units/{scene.unit.pk}/{what}/", given, format="json")


def test_each_is_asked_for_until_somebody_has_looked(terms: Scene, api: Api, technician: Staff, writer: Staff) -> None:
    client = api(technician)
    assert answer(client, terms.order) == ("cannot_say_yet", ["unit.campaigns_done", "unit.plans"])
    made = add(client, terms, "campaigns", code="R-7", done=True, done_on=str(terms.today - DAY), number="B-12")
    assert made.status_code == 201 and made.json()["done"] is True
    assert answer(client, terms.order) == ("cannot_say_yet", ["unit.plans"])
    assert add(api(writer), terms, "plans", code="K-PLUS", held=False).status_code == 201
    assert answer(client, terms.order) == ("not_covered", [])
    (plan,) = client.get(f"{V1}/units/{terms.unit.pk}/plans/").json()["results"]
    changed = client.patch(
        f"{V1}/plans-held/{plan['id']}/", {"version": 1, "held": True, "number": "C 4711"}, format="json"
    )
    assert (changed.status_code, changed.json()["number"]) == (200, "C 4711")
    assert answer(client, terms.order) == ("covered", [])
    (mark,) = client.get(f"{V1}/units/{terms.unit.pk}/campaigns/").json()["results"]
    undone = client.patch(
        f"{V1}/campaign-marks/{mark['id']}/", {"version": 1, "done": False, "done_on": None}, format="json"
    )
    assert undone.status_code == 200
    row = client.post(f"{V1}/orders/{terms.order.pk}/decisions/", {}, format="json").json()[0]
    assert row["decision"]["by"] == ["plus", "recall"]


def test_they_stay_with_the_machine_from_visit_to_visit(terms: Scene, api: Api, technician: Staff) -> None:
    client = api(technician)
    add(client, terms, "plans", code="K-PLUS", held=True)
    RepairOrder.objects.filter(pk=terms.order.pk).update(state="given_back")
    again = RepairOrder.objects.create(
        shop=terms.shop, number="RO-2", unit=terms.unit, customer=terms.customer, received_on=terms.today,
        complaint="Again.", taken_in_by=terms.owner.user,
    )  # fmt: skip
    terms.module.pk, terms.module.order = None, again
    terms.module.save(force_insert=True)
    assert answer(client, again)[0] == "covered"


@pytest.mark.parametrize(("days_ago", "said"), [(6, "covered"), (5, "not_covered")])
def test_a_plan_bought_when_the_machine_was_here_already_pays_for_nothing_that_brought_it_here(
    terms: Scene, api: Api, technician: Staff, days_ago: int, said: str
) -> None:
    client = api(technician)
    add(client, terms, "campaigns", code="R-7", done=True)
    add(client, terms, "plans", code="K-PLUS", held=True, bought_on=str(terms.today - days_ago * DAY))
    assert answer(client, terms.order)[0] == said


BAD = [
    ("plans", {"code": "K-PLOS", "held": True}, "code"),
    ("plans", {"code": "R-7", "held": True}, "code"),
    ("plans", {"code": "K-PLUS"}, "held"),
    ("plans", {"code": "K-PLUS", "held": "yes"}, "held"),
    ("plans", {"code": "K-PLUS", "held": False, "bought_on": "2026-01-01"}, "bought_on"),
    ("plans", {"code": "K-PLUS", "held": True, "bought_on": "2190-01-01"}, "bought_on"),
    ("plans", {"code": "K-PLUS", "held": True, "bought_on": "1950-01-01"}, "bought_on"),
    ("campaigns", {"code": "K-PLUS", "done": True}, "code"),
    ("campaigns", {"code": "R-7", "held": True}, "held"),
]


@pytest.mark.parametrize(("what", "given", "field"), BAD)
def test_bad_input_names_its_field_and_leaves_no_row(
    terms: Scene, api: Api, technician: Staff, what: str, given: dict[str, Any], field: str
) -> None:
    said = add(api(technician), terms, what, **given)
    assert said.status_code == 400
    assert field in {one["field"] for one in said.json()["errors"]}
    assert all(one["problem"] and one["remedy"] for one in said.json()["errors"])
    assert not PlanHeld.objects.for_shop(terms.shop).exists() and not CampaignMark.objects.for_shop(terms.shop).exists()


def test_said_twice_is_a_conflict_that_names_the_record_and_a_stale_change_is_refused(
    terms: Scene, api: Api, technician: Staff
) -> None:
    client = api(technician)
    made = add(client, terms, "plans", code="K-PLUS", held=True).json()
    twice = add(client, terms, "plans", code="K-PLUS", held=False)
    assert (twice.status_code, twice.json()["record"]) == (409, made["id"])
    client.patch(f"{V1}/plans-held/{made['id']}/", {"version": 1, "note": "seen the paper"}, format="json")
    stale = client.patch(f"{V1}/plans-held/{made['id']}/", {"version": 1, "held": False}, format="json")
    assert stale.status_code == 409 and PlanHeld.objects.for_shop(terms.shop).get().held is True


def test_another_shop_sees_none_of_it(terms: Scene, api: Api, technician: Staff, other_shop: Shop) -> None:
    made = add(api(technician), terms, "plans", code="K-PLUS", held=True).json()
    stranger = api(Staff.objects.get(shop=other_shop))
    assert stranger.get(f"{V1}/units/{terms.unit.pk}/plans/").status_code == 404
    assert add(stranger, terms, "campaigns", code="R-7", done=True).status_code == 404
    assert (
        stranger.patch(f"{V1}/plans-held/{made['id']}/", {"version": 1, "held": False}, format="json").status_code
        == 404
    )
