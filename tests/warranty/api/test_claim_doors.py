"""The doors to claims, driven as the office does, and what they refuse."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import Distributor, Job
from shopdocs.documents.models import Document, Letter
from shopdocs.shops.models import Shop, Staff
from tests.sums import done_again
from tests.warranty.scene import DAY, Scene
from warranty.models import Claim, Credit, DistributorTerms, PartsHold
from warranty.services import claim_facts
from warranty.services.decision_words import TermPays
from warranty.services.papers import claim_sheet

pytestmark = pytest.mark.django_db
Api = Callable[[Staff | None], APIClient]
V1 = "/api/v1"


def post(client: APIClient, address: str, body: Any = None) -> Any:
    return client.post(f"{V1}/{address}", body or {}, format="json")


def problem(answer: Any) -> dict[str, str]:
    first: dict[str, str] = answer.json()["errors"][0]
    assert first["problem"] and first["remedy"]
    return first


@pytest.fixture
def desk(scene: Scene, finished_job: Job, api: Api, office: Staff) -> APIClient:
    """The office, with terms on file and the job ready to be claimed."""
    scene.terms()
    return api(office)


def file(client: APIClient, scene: Scene, **given: Any) -> Any:
    return post(client, f"jobs/{scene.job.pk}/claim/", given)


def test_from_preview_to_settled(desk: APIClient, scene: Scene) -> None:
    seen = desk.get(f"{V1}/jobs/{scene.job.pk}/claim/").json()
    assert seen["facts"]["expected"] == "157.74"
    assert [one["code"] for one in seen["missing"]] == ["serial_plate_photo", "before_photo"]
    assert desk.get(f"{V1}/jobs/{scene.job.pk}/claim/missing/").json() == seen["missing"]
    filed = file(desk, scene, approval="AP-9")
    assert filed.status_code == 201
    row = filed.json()
    assert (row["state"], row["expected"], row["owed"], row["approval"]) == ("filed", "157.74", None, "AP-9")
    assert row["facts"]["missing"] == seen["missing"]
    assert row["document"] and row["letter"]
    body = {"version": row["version"], "outcome": "in_part", "answered_on": str(scene.today),
            "labour_approved": "60.00", "parts_approved": "63.99", "reference": "H-12", "words": "guide says 1.0"}  # fmt: skip
    answered = post(desk, f"claims/{row['id']}/answer/", body).json()
    assert (answered["state"], answered["approved"], answered["owed"]) == ("answered", "123.99", "123.99")
    assert answered["answers"][0]["reference"] == "H-12"
    money = {"version": answered["version"], "amount": "123.99", "received_on": str(scene.today)}
    settled = post(desk, f"claims/{row['id']}/credits/", money).json()
    assert (settled["state"], settled["credited"], settled["owed"]) == ("settled", "123.99", "0.00")
    hold = desk.get(f"{V1}/parts-holds/?held=true").json()["results"][0]
    tag = post(desk, f"parts-holds/{hold['id']}/papers/", {})
    assert (tag.status_code, tag.json()["kind"], tag.json()["number"]) == (201, "part_tag", hold["tag"])
    released = post(desk, f"parts-holds/{hold['id']}/release/", {"version": hold["version"], "note": "sent back"})
    assert released.json()["released_on"] == str(scene.today)
    assert desk.get(f"{V1}/parts-holds/?held=true").json()["count"] == 0
    assert post(desk, f"parts-holds/{hold['id']}/papers/", {}).status_code == 409


def test_the_list_filters_by_state_and_overdue(desk: APIClient, scene: Scene) -> None:
    row = file(desk, scene).json()
    assert [one["id"] for one in desk.get(f"{V1}/claims/?state=filed").json()["results"]] == [row["id"]]
    assert desk.get(f"{V1}/claims/?state=settled").json()["results"] == []
    assert desk.get(f"{V1}/claims/?state=lost").status_code == 400
    assert desk.get(f"{V1}/claims/?overdue=true").json()["count"] == 0
    Claim.objects.for_shop(scene.shop).update(answer_due=scene.today - DAY)
    late = desk.get(f"{V1}/claims/?overdue=true").json()["results"]
    assert [(one["id"], one["overdue"]) for one in late] == [(row["id"], True)]
    assert desk.get(f"{V1}/claims/?overdue=false").json()["count"] == 0
    Claim.objects.for_shop(scene.shop).update(answer_due=None)
    assert desk.get(f"{V1}/claims/?overdue=true").json()["count"] == 0
    assert desk.get(f"{V1}/claims/?overdue=false").json()["count"] == 1
    assert "facts" not in late[0]


def test_the_list_takes_no_query_per_row(desk: APIClient, scene: Scene, django_assert_max_num_queries: Any) -> None:
    for _ in range(6):
        file(desk, scene)
        Claim.objects.for_shop(scene.shop).update(state="closed")
    with django_assert_max_num_queries(10):
        assert desk.get(f"{V1}/claims/").json()["count"] == 6


def test_a_parts_hold_that_is_due(desk: APIClient, scene: Scene) -> None:
    file(desk, scene)
    assert desk.get(f"{V1}/parts-holds/?due=true").json()["count"] == 0
    PartsHold.objects.for_shop(scene.shop).update(keep_until=scene.today - DAY)
    assert desk.get(f"{V1}/parts-holds/?due=true").json()["count"] == 1


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"state": "agreed"}, "not done"),
        ({"payer": "customer"}, "paid by customer"),
        ({"payer": "goodwill"}, "goodwill"),
    ],
)
def test_a_job_that_cannot_be_claimed(desk: APIClient, scene: Scene, change: dict[str, Any], said: str) -> None:
    Job.objects.for_shop(scene.shop).filter(pk=scene.job.pk).update(**change)
    for answer in (file(desk, scene), desk.get(f"{V1}/jobs/{scene.job.pk}/claim/")):
        assert (answer.status_code, problem(answer)["field"]) == (409, "job")
        assert said in problem(answer)["problem"]
    for model in (Claim, Document, Letter, PartsHold):
        assert not model.objects.for_shop(scene.shop).exists()  # type: ignore[attr-defined]


def test_a_second_claim_is_refused(desk: APIClient, scene: Scene) -> None:
    assert file(desk, scene).status_code == 201
    answer = file(desk, scene)
    assert (answer.status_code, "C-1001" in problem(answer)["problem"]) == (409, True)
    assert Document.objects.for_shop(scene.shop).count() == 1


@pytest.mark.parametrize(
    ("given", "status", "field"),
    [
        ({"filed_on": "soon"}, 400, "filed_on"),
        ({"filed_on": "2190-01-01"}, 409, "filed_on"),
        ({"filed_on": "2020-01-01"}, 409, "filed_on"),
        ({"approval": "x" * 101}, 400, "approval"),
        ({"approval": 5}, 400, "approval"),
        ({"distributor": "hadley"}, 400, "distributor"),
        ({"distributor": str(uuid.uuid4())}, 400, "distributor"),
        ({"amount": "5"}, 400, "amount"),
    ],
)
def test_bad_filings_leave_nothing(
    desk: APIClient, scene: Scene, given: dict[str, Any], status: int, field: str
) -> None:
    answer = file(desk, scene, **given)
    assert (answer.status_code, problem(answer)["field"]) == (status, field)
    for model in (Claim, Document, Letter, PartsHold):
        assert not model.objects.for_shop(scene.shop).exists()  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"outcome": "perhaps"}, "outcome"),
        ({"answered_on": None}, "answered_on"),
        ({"labour_approved": "sixty"}, "labour_approved"),
        ({"labour_approved": "-1"}, "labour_approved"),
        ({"labour_approved": "9999.00"}, "labour_approved"),
        ({"labour_approved": True}, "labour_approved"),
        ({"labour_approved": "1e400"}, "labour_approved"),
        ({"version": "new"}, "version"),
        ({"version": None}, "version"),
        ({"words": "x" * 2_000_000}, "words"),
        ({"labour": "5"}, "labour"),
    ],
)
def test_bad_answers_leave_no_row(desk: APIClient, scene: Scene, given: dict[str, Any], field: str) -> None:
    row = file(desk, scene).json()
    body = {"version": row["version"], "outcome": "in_part", "answered_on": str(scene.today),
            "labour_approved": "60", "parts_approved": "60"}  # fmt: skip
    answer = post(desk, f"claims/{row['id']}/answer/", body | given)
    assert (answer.status_code, problem(answer)["field"]) == (400, field)
    assert desk.get(f"{V1}/claims/{row['id']}/").json()["answers"] == []


def test_a_credit_over_what_was_approved_and_a_stale_one(desk: APIClient, scene: Scene) -> None:
    row = file(desk, scene).json()
    answer = {"version": row["version"], "outcome": "in_full", "answered_on": str(scene.today)}
    newer = post(desk, f"claims/{row['id']}/answer/", answer).json()
    money = {"version": newer["version"], "amount": "157.75", "received_on": str(scene.today)}
    over = post(desk, f"claims/{row['id']}/credits/", money)
    assert (over.status_code, problem(over)["field"]) == (400, "amount")
    stale = post(desk, f"claims/{row['id']}/credits/", money | {"version": row["version"], "amount": "5"})
    assert (stale.status_code, problem(stale)["field"]) == (409, "version")
    assert not Credit.objects.for_shop(scene.shop).exists()


def test_a_stale_answer_is_told_what_was_recorded_meanwhile(desk: APIClient, scene: Scene) -> None:
    row = file(desk, scene).json()
    answer = {"version": row["version"], "outcome": "in_part", "answered_on": str(scene.today),
              "labour_approved": "60.00", "parts_approved": "63.99"}  # fmt: skip
    now = post(desk, f"claims/{row['id']}/answer/", answer).json()
    for door, body in (
        ("answer", {**answer, "outcome": "refused", "labour_approved": None, "parts_approved": None}),
        ("credits", {"amount": "5", "received_on": str(scene.today)}),
        ("close", {"note": "x"}),
        ("turn-over", {"to": "goodwill", "reason": "x"}),
    ):
        stale = post(desk, f"claims/{row['id']}/{door}/", {**body, "version": row["version"]})
        assert (stale.status_code, problem(stale)["field"]) == (409, "version"), door
        assert stale.json()["current_version"] == now["version"]
        changed = stale.json()["changed"]
        assert (changed["state"], changed["outcome"], changed["answered_on"]) == (
            "answered",
            "in_part",
            str(scene.today),
        )
        assert [float(changed[name]) for name in ("approved", "credited", "owed")] == [123.99, 0, 123.99]
    assert desk.get(f"{V1}/claims/{row['id']}/").json()["version"] == now["version"]


def test_a_part_that_was_released_meanwhile_is_told_so(desk: APIClient, scene: Scene) -> None:
    hold = file(desk, scene).json()["parts_holds"][0]
    body = {"version": hold["version"], "note": "sent back"}
    assert post(desk, f"parts-holds/{hold['id']}/release/", body).status_code == 200
    stale = post(desk, f"parts-holds/{hold['id']}/release/", body)
    assert (stale.status_code, stale.json()["current_version"]) == (409, hold["version"] + 1)
    assert stale.json()["changed"] == {"released_on": str(scene.today), "released_note": "sent back"}
    assert f"released on {scene.today}" in problem(stale)["problem"]


def test_roles_and_shops(
    desk: APIClient, scene: Scene, api: Api, writer: Staff, technician: Staff, other_shop: Shop, distant: Distributor
) -> None:
    for person in (writer, technician):
        assert file(api(person), scene).status_code == 403
        assert api(person).get(f"{V1}/jobs/{scene.job.pk}/claim/").status_code == 200
    assert file(desk, scene, distributor=str(distant.pk)).status_code == 400
    row = file(desk, scene).json()
    hold = row["parts_holds"][0]
    stranger = api(Staff.objects.get(shop=other_shop))
    assert stranger.get(f"{V1}/claims/").json()["count"] == 0
    assert stranger.get(f"{V1}/parts-holds/").json()["count"] == 0
    for address in (f"claims/{row['id']}/", f"jobs/{scene.job.pk}/claim/", f"jobs/{scene.job.pk}/claim/missing/",
                    f"parts-holds/{hold['id']}/"):  # fmt: skip
        assert stranger.get(f"{V1}/{address}").status_code == 404, address
    body = {"version": 1, "outcome": "refused", "answered_on": str(scene.today)}
    for address, given in ((f"claims/{row['id']}/answer/", body), (f"jobs/{scene.job.pk}/claim/", {}),
                           (f"claims/{row['id']}/close/", {"version": 1, "note": "x"}),
                           (f"parts-holds/{hold['id']}/release/", {"version": 1, "note": "x"})):  # fmt: skip
        assert post(stranger, address, given).status_code == 404, address
    assert api(None).get(f"{V1}/claims/").status_code == 401
    assert post(api(technician), f"claims/{row['id']}/answer/", body).status_code == 403


@pytest.mark.parametrize("promise", [{}, {"labour_percent": "60"}, {"labour": False}, {"parts": False}])
def test_every_figure_of_a_claim_lists_how_it_came_about(
    desk: APIClient, scene: Scene, promise: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    pays = TermPays(**{name: Decimal(value) if isinstance(value, str) else value for name, value in promise.items()})
    monkeypatch.setattr(claim_facts, "term_pays", lambda decision: pays)
    row = file(desk, scene, approval="AP-9").json()
    told = desk.get(f"{V1}/claims/{row['id']}/how/").json()
    found = done_again(told, 2)
    sheet = claim_sheet(row["facts"], number="C-1", code="x")
    printed = [sheet.labour_amount, *(part.amount for part in sheet.parts), sheet.parts_amount, sheet.expected]
    parts = [name for name in found if name.startswith("part:")]
    assert [found[name] for name in ("labour", *parts, "parts", "expected")] == printed and len(printed) >= 4
    (step,) = next(one for one in told if one["figure"] == "labour")["steps"]
    working = f"{Decimal(row['facts']['labour']['tenths']) / 10:f} × 62.5"
    wanted = f"{working} × 60 ÷ 100" if "labour_percent" in promise else working
    assert step.get("working") == (None if "labour" in promise else wanted)


def test_a_figure_that_is_not_known_says_why(desk: APIClient, scene: Scene) -> None:
    DistributorTerms.objects.update(labour_rate=None)
    row = file(desk, scene, approval="AP-9").json()
    told = {one["figure"]: one for one in desk.get(f"{V1}/claims/{row['id']}/how/").json()}
    assert row["facts"]["expected"] is None
    for name in ("labour", "expected"):
        assert told[name]["amount"] is None
        assert [one["text"] for one in told[name]["steps"]] == ["the distributor's labour rate is not recorded"]
    assert told["parts"]["amount"] == row["facts"]["parts"]["amount"] is not None
