"""The doors to decisions: asked, answered with words, served as stored, and set as the ground of a job's payer."""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import Job
from orders.rules import trade
from shopdocs.shops.models import Shop, Staff
from tests.warranty.scene import DAY, Scene
from tests.warranty.services.test_decide import PROMISE, second
from warranty.models import Claim, CoverageDecision, DecisionFacts
from warranty.services.terms import record_term

pytestmark = pytest.mark.django_db
Api = Callable[[Staff | None], APIClient]
V1 = "/api/v1"


def decide(client: APIClient, scene: Scene, **given: Any) -> Any:
    return client.post(f"{V1}/orders/{scene.order.pk}/decisions/", given, format="json")


def first(answer: Any) -> dict[str, Any]:
    problem: dict[str, Any] = answer.json()["errors"][0]
    assert set(problem) == {"field", "problem", "remedy"} and problem["problem"] and problem["remedy"]
    return problem


def test_the_answer_comes_with_words_and_the_frozen_record(scene: Scene, api: Api, technician: Staff) -> None:
    record_term(shop=scene.shop, by=scene.owner, term=PROMISE, maker=scene.maker.pk)
    answer = decide(api(technician), scene)
    assert answer.status_code == 201
    (row,) = answer.json()
    assert (row["answer"], row["payer"], row["finding_number"]) == ("covered", "warranty", 1)
    assert row["as_of"] == scene.today.isoformat()
    assert row["explanation"][0].startswith("Covered, by")
    assert "advice" in row["explanation"][-1]
    assert row["decision"]["advice"] == "advice_only"


def test_the_stored_bytes_are_served_as_they_are(scene: Scene, api: Api, writer: Staff) -> None:
    client = api(writer)
    (row,) = decide(client, scene).json()
    stored = CoverageDecision.objects.for_shop(scene.shop).get(pk=row["id"])
    served = client.get(f"{V1}/decisions/{row['id']}/")
    assert served.content == stored.decision.encode()
    assert hashlib.sha256(served.content).hexdigest() == row["sha256"]
    assert served["ETag"] == f'"{row["sha256"]}"'
    again = client.get(f"{V1}/decisions/{row['id']}/", headers={"If-None-Match": served["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert client.get(f"{V1}/decisions/{row['id']}/recomputed/").json() == {"same": True, "sha256": row["sha256"]}
    CoverageDecision.objects.for_shop(scene.shop).update(decision=stored.decision + " ")
    assert client.get(f"{V1}/decisions/{row['id']}/recomputed/").json()["same"] is False


def test_asked_again_nothing_old_changes(scene: Scene, api: Api, writer: Staff) -> None:
    client = api(writer)
    (old,) = decide(client, scene, as_of=str(scene.today - DAY)).json()
    scene.module.cause = "impact"
    scene.module.save()
    (new,) = decide(client, scene).json()
    listed = client.get(f"{V1}/orders/{scene.order.pk}/decisions/").json()
    assert [row["id"] for row in listed["results"]] == [new["id"], old["id"]]
    assert json.loads(client.get(f"{V1}/decisions/{old['id']}/").content) == old["decision"]
    words = client.get(f"{V1}/decisions/{old['id']}/words/").json()
    assert words["explanation"] == old["explanation"]


def test_the_list_takes_no_query_per_row(
    scene: Scene, api: Api, writer: Staff, django_assert_max_num_queries: Any
) -> None:
    client = api(writer)
    for _ in range(8):
        decide(client, scene)
    with django_assert_max_num_queries(8):
        client.get(f"{V1}/orders/{scene.order.pk}/decisions/")


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"as_of": "yesterday"}, "as_of"),
        ({"as_of": 20260101}, "as_of"),
        ({"as_of": "2026-02-30"}, "as_of"),
        ({"as_of": "2190-01-01"}, "as_of"),
        ({"on": "2026-01-01"}, "on"),
    ],
)
def test_bad_days_leave_no_row(scene: Scene, api: Api, writer: Staff, given: dict[str, Any], field: str) -> None:
    answer = decide(api(writer), scene, **given)
    assert answer.status_code == 400
    assert first(answer)["field"] == field
    assert not DecisionFacts.objects.for_shop(scene.shop).exists()


def test_another_shops_order_and_decision_are_not_there(
    scene: Scene, api: Api, other_shop: Shop, writer: Staff
) -> None:
    (row,) = decide(api(writer), scene).json()
    stranger = Staff.objects.get(shop=other_shop)
    client = api(stranger)
    assert decide(client, scene).status_code == 404
    for address in (
        f"orders/{scene.order.pk}/decisions/", f"decisions/{row['id']}/", f"decisions/{row['id']}/words/",
        f"decisions/{row['id']}/recomputed/", f"findings/{scene.module.pk}/evidence/",
    ):  # fmt: skip
        assert client.get(f"{V1}/{address}").status_code == 404, address
    assert client.get(f"{V1}/decisions/").json()["results"] == []
    assert api(None).get(f"{V1}/decisions/{row['id']}/").status_code == 401


def basis(client: APIClient, scene: Scene, decision: Any, **given: Any) -> Any:
    return client.post(f"{V1}/jobs/{scene.job.pk}/basis/", {"decision": str(decision), **given}, format="json")


def test_a_covered_answer_sets_the_payer(scene: Scene, api: Api, writer: Staff, technician: Staff) -> None:
    record_term(shop=scene.shop, by=scene.owner, term=PROMISE, maker=scene.maker.pk)
    (row,) = decide(api(writer), scene).json()
    assert basis(api(technician), scene, row["id"]).status_code == 403
    answer = basis(api(writer), scene, row["id"])
    assert answer.status_code == 200
    assert answer.json()["payer"] == "warranty"
    assert answer.json()["basis_hash"] == row["sha256"]


def test_the_payer_door_refuses(scene: Scene, api: Api, writer: Staff, office: Staff) -> None:
    scene.module.cause = "wear"
    scene.module.save()
    (row,) = decide(api(writer), scene).json()
    refused = basis(api(writer), scene, row["id"])
    assert (refused.status_code, first(refused)["field"]) == (409, "decision")
    strange = basis(api(writer), scene, uuid.uuid4())
    assert (strange.status_code, first(strange)["field"]) == (400, "decision")
    assert "address" not in first(strange)["remedy"]
    assert basis(api(writer), scene, "not-an-id").status_code == 400
    assert basis(api(office), scene, row["id"], note="x" * 401).status_code == 400
    assert Job.objects.for_shop(scene.shop).get(pk=scene.job.pk).basis_id == ""


def test_the_evidence_door(scene: Scene, api: Api, technician: Staff) -> None:
    address = f"{V1}/findings/{scene.module.pk}/evidence/"
    told = api(technician).get(address).json()
    assert told["rows"] and told["causes"] and told["signs"]
    assert {row["points_to"] for row in told["rows"]} == {one["cause"] for one in told["causes"]}
    assert all(row["precaution"] and row["source"] and row["signs_against"] for row in told["rows"])
    row = next(one for one in told["rows"] if one["points_to"] == "defect")
    against = row["signs_against"][0]
    scene.module.signs = [row["signs_for"][0]["code"], "smells of varnish"]
    scene.module.save()
    seen = api(technician).get(address).json()
    assert seen["asides"] == ["smells of varnish"]
    assert next(one for one in seen["causes"] if one["cause"] == "defect")["standing"] in ("supported", "contested")
    assert against["words"]


def asked(client: APIClient, scene: Scene, as_of: Any) -> Any:
    return client.get(f"{V1}/orders/{scene.order.pk}/decisions/asked/", {"as_of": str(as_of)})


def test_any_day_may_be_asked_and_nothing_is_kept(scene: Scene, api: Api, technician: Staff) -> None:
    record_term(shop=scene.shop, by=scene.owner, term=PROMISE, maker=scene.maker.pk)
    client = api(technician)
    answers = {}
    for day in ("1900-01-01", str(scene.today - 5 * DAY), str(scene.today + 3000 * DAY), "2199-12-31"):
        said = asked(client, scene, day)
        assert said.status_code == 200, said.content
        (row,) = said.json()
        assert not {"id", "sha256"} & set(row) and row["as_of"] == day
        answers[day] = row["answer"]
    assert list(answers.values()) == ["cannot_say_yet", "covered", "covered", "covered"]
    assert not CoverageDecision.objects.for_shop(scene.shop).exists()
    assert not DecisionFacts.objects.for_shop(scene.shop).exists()
    assert first(asked(client, scene, "yesterday"))["field"] == "as_of"


def test_what_is_kept_has_a_day_on_which_the_machine_was_here(scene: Scene, api: Api, technician: Staff) -> None:
    client, came = api(technician), scene.order.received_on
    for day in ("1900-01-01", str(came - DAY)):
        problem = first(decide(client, scene, as_of=day))
        assert problem["field"] == "as_of" and str(came) in problem["problem"]
        assert f"orders/{scene.order.pk}/decisions/asked/" in problem["remedy"]
    assert decide(client, scene, as_of=str(came)).status_code == 201


def test_an_order_given_back_takes_a_decision_only_for_the_sake_of_a_claim(
    scene: Scene, api: Api, technician: Staff
) -> None:
    client = api(technician)
    type(scene.order).objects.filter(pk=scene.order.pk).update(state="given_back")
    said = decide(client, scene)
    assert said.status_code == 409 and first(said)["field"] == "order"
    assert asked(client, scene, scene.today).status_code == 200
    Job.objects.filter(pk=scene.job.pk).update(state="done", payer="customer")
    assert decide(client, scene).status_code == 409
    Job.objects.filter(pk=scene.job.pk).update(payer="warranty")
    (row,) = decide(client, scene).json()
    claim = Claim.objects.create(
        shop=scene.shop, number="WC-1", job=scene.job, decision_id=row["id"], distributor=scene.distributor,
        repaired_on=scene.today, filed_on=scene.today, facts={}, by=scene.owner.user,
    )  # fmt: skip
    assert decide(client, scene).status_code == 409, "a claim is under way on the facts that it was filed on"
    Claim.objects.filter(pk=claim.pk).update(state="closed")
    assert decide(client, scene).status_code == 201


def test_findings_are_called_by_their_parts_and_not_by_their_ids(scene: Scene, api: Api, technician: Staff) -> None:
    second(scene, component="flywheel", condition="cracked", cause="impact")
    second(scene, number=3, component="flywheel", condition="loose", cause="unknown")
    ids = [str(pk) for pk in scene.order.findings.values_list("pk", flat=True)]
    for rows in (decide(api(technician), scene).json(), asked(api(technician), scene, scene.today).json()):
        said = "\n".join(rows[0]["explanation"])
        assert not [one for one in ids if one in said]
        assert "nothing else: " in said
        part = trade.component("flywheel").name
        assert f"{part} ({trade.condition('cracked').name}): " in said and f"{part} (loose): " in said
