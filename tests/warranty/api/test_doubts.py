"""Facts that do not go together are said in three places: when a finding is recorded, with its evidence, with its decision."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import Finding, Unit
from shopdocs.shops.models import Staff
from tests.warranty.scene import DAY, Scene, picture

pytestmark = pytest.mark.django_db
Api = Callable[[Staff | None], APIClient]
V1 = "/api/v1"


@pytest.fixture
def client(scene: Scene, api: Api, owner: Staff) -> APIClient:
    return api(owner)


def record(client: APIClient, scene: Scene, component: str, condition: str, **more: Any) -> dict[str, Any]:
    answer = client.post(
        f"{V1}/orders/{scene.order.pk}/findings/",
        {"component": component, "condition": condition, **more},
        format="json",
    )
    assert answer.status_code == 201, answer.content
    told: dict[str, Any] = answer.json()
    return told


def change(client: APIClient, finding: dict[str, Any], **more: Any) -> dict[str, Any]:
    address = f"{V1}/findings/{finding['id']}/"
    version = client.get(address).json()["version"]
    answer = client.patch(address, {"version": version, **more}, format="json")
    assert answer.status_code == 200, answer.content
    told: dict[str, Any] = answer.json()
    return told


def found_out(client: APIClient, scene: Scene, **facts: Any) -> None:
    address = f"{V1}/orders/{scene.order.pk}/circumstances/"
    version = client.get(address).json()["version"]
    answer = client.patch(address, {"version": version, **facts}, format="json")
    assert answer.status_code == 200, answer.content


def at_the_evidence(client: APIClient, finding: dict[str, Any]) -> dict[str, dict[str, Any]]:
    rows = client.get(f"{V1}/findings/{finding['id']}/evidence/").json()["doubts"]
    for row in rows:
        assert set(row) == {"code", "kind", "field", "words", "remedy"}
        assert row["kind"] in ("contradiction", "ask") and row["words"].endswith(".") and row["remedy"].endswith(".")
    return {row["code"]: row for row in rows}


def with_the_decision(client: APIClient, scene: Scene, finding: dict[str, Any]) -> dict[str, dict[str, Any]]:
    rows = client.post(f"{V1}/orders/{scene.order.pk}/decisions/", {}, format="json").json()
    (row,) = [one for one in rows if one["finding"] == finding["id"]]
    listed = client.get(f"{V1}/orders/{scene.order.pk}/decisions/").json()["results"]
    assert [one["doubts"] for one in listed if one["id"] == row["id"]] == [row["doubts"]]
    return {one["code"]: one for one in row["doubts"]}


def said_everywhere(client: APIClient, scene: Scene, finding: dict[str, Any], code: str) -> None:
    """The doubt stands with the evidence, the decision, and among the finding's own warnings."""
    told = at_the_evidence(client, finding)[code]
    assert with_the_decision(client, scene, finding)[code] == told
    warning = {"field": told["field"], "problem": told["words"], "remedy": told["remedy"]}
    assert warning in client.get(f"{V1}/findings/{finding['id']}/").json()["warnings"]
    listed = client.get(f"{V1}/orders/{scene.order.pk}/findings/").json()
    assert [warning in one["warnings"] for one in listed if one["id"] == finding["id"]] == [True]


def nowhere(client: APIClient, scene: Scene, finding: dict[str, Any], code: str) -> None:
    assert code not in at_the_evidence(client, finding)
    assert code not in with_the_decision(client, scene, finding)


@pytest.mark.parametrize(("known", "other"), [("purchased_on", "delivered_on"), ("delivered_on", "purchased_on")])
def test_wear_on_a_unit_one_week_old(scene: Scene, client: APIClient, known: str, other: str) -> None:
    Unit.objects.filter(pk=scene.unit.pk).update(**{known: scene.today - 7 * DAY, other: None})
    scene.unit.proofs.all().delete()
    finding = record(client, scene, "guide_bar", "worn", cause="wear")
    assert any("less than thirty days ago" in one["problem"] for one in finding["warnings"])
    said_everywhere(client, scene, finding, "worn_on_a_new_machine")
    Unit.objects.filter(pk=scene.unit.pk).update(sale_kind="ex_rental")  # it has run for years elsewhere
    nowhere(client, scene, finding, "worn_on_a_new_machine")


def test_never_opened_and_wrong_assembly(scene: Scene, client: APIClient) -> None:
    finding = record(client, scene, "air_filter", "misfitted", cause="assembly")
    assert "never_opened_wrong_assembly" not in at_the_evidence(client, finding)
    found_out(client, scene, findings={finding["id"]: {"never_opened": True}})
    said_everywhere(client, scene, finding, "never_opened_wrong_assembly")
    found_out(client, scene, findings={finding["id"]: {"never_opened": False}})
    nowhere(client, scene, finding, "never_opened_wrong_assembly")


def test_a_part_of_the_dealers_set_up_is_put_together_though_never_opened(scene: Scene, client: APIClient) -> None:
    finding = record(client, scene, "handle", "loose", cause="assembly")
    found_out(client, scene, findings={finding["id"]: {"never_opened": True}})
    nowhere(client, scene, finding, "never_opened_wrong_assembly")


def test_impact_without_a_mark(scene: Scene, client: APIClient) -> None:
    finding = record(client, scene, "handle", "broken", cause="impact")
    said_everywhere(client, scene, finding, "impact_without_a_mark")
    answer = client.post(
        f"{V1}/orders/{scene.order.pk}/photos/",
        {"file": io.BytesIO(picture("red")), "moment": "before", "finding": finding["id"]},
        format="multipart",
    )
    assert answer.status_code == 201, answer.content
    nowhere(client, scene, finding, "impact_without_a_mark")


def test_a_cause_that_the_signs_rule_out_and_one_they_do_not_speak_for(scene: Scene, client: APIClient) -> None:
    finding = record(client, scene, "muffler_catalyst", "loose", cause="defect", signs=["muffler_dented"])
    said_everywhere(client, scene, finding, "cause_ruled_out_by_signs")
    change(client, finding, cause="fuel_oil")
    said_everywhere(client, scene, finding, "signs_speak_for_another")
    change(client, finding, cause="impact")
    assert not {"cause_ruled_out_by_signs", "signs_speak_for_another"} & set(at_the_evidence(client, finding))


def test_a_modification_of_a_machine_that_is_said_not_to_be_modified(scene: Scene, client: APIClient) -> None:
    finding = record(client, scene, "spark_screen", "missing", cause="modification")
    said_everywhere(client, scene, finding, "modified_though_said_not_to_be")


def test_what_the_bench_says_itself_is_not_said_there_twice(scene: Scene, client: APIClient) -> None:
    finding = record(client, scene, "piston", "ok", cause="defect")
    assert [one["field"] for one in finding["warnings"]] == ["cause"]
    assert "in_order_with_a_cause" in at_the_evidence(client, finding)


def test_what_is_about_the_machine_stands_with_evidence_and_decision_only(scene: Scene, client: APIClient) -> None:
    Unit.objects.filter(pk=scene.unit.pk).update(build_date=scene.today)
    finding = record(client, scene, "handle", "scuffed", cause="normal")
    assert "built_after_it_was_sold" in at_the_evidence(client, finding)
    assert "built_after_it_was_sold" in with_the_decision(client, scene, finding)
    assert finding["warnings"] == []


def test_the_doubts_of_a_decision_stay_as_they_were(scene: Scene, client: APIClient) -> None:
    finding = record(client, scene, "handle", "broken", cause="impact")
    (old,) = [one for one in client.post(f"{V1}/orders/{scene.order.pk}/decisions/", {}, format="json").json()
              if one["finding"] == finding["id"]]  # fmt: skip
    change(client, finding, cause="wear")
    words = client.get(f"{V1}/decisions/{old['id']}/words/").json()
    assert words["doubts"] == old["doubts"] and old["doubts"]
    assert client.get(f"{V1}/decisions/{old['id']}/recomputed/").json()["same"] is True


def test_the_evidence_says_everything_a_claim_is_argued_with(scene: Scene, client: APIClient) -> None:
    finding = record(client, scene, "muffler_catalyst", "loose", cause="defect")
    told = client.get(f"{V1}/findings/{finding['id']}/evidence/").json()
    assert {one["cause"] for one in told["causes"]} >= {"defect", "impact"}
    for row in told["rows"]:
        assert row["signs_for"] and row["signs_against"] and row["apart_from"]
        assert row["prove"] and row["settled"] and row["precaution"]
        assert row["source"] == "common practice, no source" or "read)" in row["source"]


def test_recording_a_finding_takes_a_fixed_number_of_queries(
    scene: Scene, client: APIClient, django_assert_max_num_queries: Any
) -> None:
    Finding.objects.bulk_create(
        Finding(shop=scene.shop, order=scene.order, number=number, component="handle", condition="broken",
                cause="impact", by=scene.owner.user, found_on=scene.today)
        for number in range(2, 202)
    )  # fmt: skip
    with django_assert_max_num_queries(45):
        record(client, scene, "handle", "scuffed", cause="normal")
