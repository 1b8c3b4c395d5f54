"""No emission control is removed or disabled, by whatever door it is written down; and a rebuilt engine leaves its record."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from orders.models import Assembly, Job, JobLabour, JobPart, LabourOperation, Part, Unit
from orders.services import house_rules
from shopdocs.shops.models import Shop, Staff
from tests.warranty.scene import Scene
from warranty.models import RebuildRecord

pytestmark = pytest.mark.django_db
Api = Callable[[Staff | None], APIClient]
V1 = "/api/v1"


def only_problem(answer: Any, status: int = 400) -> dict[str, str]:
    assert answer.status_code == status, answer.content
    (problem,) = answer.json()["errors"]
    assert problem["problem"] and problem["remedy"]
    return problem


REMOVED = {"words": "Catalyst element", "hours": "0.5", "action": "remove", "components": ["muffler_catalyst"]}


def labour(client: APIClient, scene: Scene, **line: Any) -> Any:
    return client.post(f"{V1}/jobs/{scene.job.pk}/labour/", line, format="json")


@pytest.mark.parametrize("action", ["remove", "leave_out", "disable", "bypass", "alter"])
def test_labour_that_takes_an_emission_control_out_is_refused_with_its_source(
    scene: Scene, api: Api, technician: Staff, action: str
) -> None:
    problem = only_problem(labour(api(technician), scene, **REMOVED | {"action": action}))
    assert problem["field"] == "action"
    assert "catalyst" in problem["problem"] and "40 CFR 1068.101(b)(1)" in problem["problem"]
    assert "refit" in problem["remedy"]
    assert not JobLabour.objects.for_shop(scene.shop).exists()


@pytest.mark.parametrize("action", ["refit", "replace", "repair", "clean"])
def test_taking_it_off_for_a_repair_and_putting_it_back_is_allowed(
    scene: Scene, api: Api, technician: Staff, action: str
) -> None:
    said = labour(api(technician), scene, **REMOVED | {"action": action})
    assert said.status_code == 201
    (line,) = said.json()["labour"]
    assert (line["action"], line["components"]) == (action, ["muffler_catalyst"])


def test_work_in_plain_words_is_read_at_every_door(scene: Scene, api: Api, owner: Staff) -> None:
    client, job = api(owner), f"{V1}/jobs/{scene.job.pk}/"
    words = "Removed the catalyst and left out the spark screen"
    doors: list[tuple[str, Any]] = [
        ("words", labour(client, scene, words=words, hours="0.5")),
        ("title", client.post(f"{V1}/orders/{scene.order.pk}/jobs/", {"title": words}, format="json")),
        ("labour[0].words", client.post(f"{V1}/orders/{scene.order.pk}/jobs/",
                                        {"title": "Muffler", "labour": [{"words": words, "hours": "0.5"}]}, format="json")),
        ("title", client.patch(job, {"version": scene.job.version, "title": words}, format="json")),
        ("correction", client.patch(job, {"version": scene.job.version, "correction": words}, format="json")),
        ("correction", client.post(f"{job}finish/", {"correction": words, "version": scene.job.version}, format="json")),
        ("words", client.post(f"{V1}/operations/", {"code": "X", "words": words, "hours": "0.5"}, format="json")),
    ]  # fmt: skip
    for field, answer in doors:
        problem = only_problem(answer)
        assert problem["field"] == field
        assert "1068.101(b)(1)" in problem["problem"]
    assert Job.objects.for_shop(scene.shop).count() == 1 and not LabourOperation.objects.for_shop(scene.shop).exists()
    fine = client.patch(job, {"version": scene.job.version, "correction": words + "; put back both"}, format="json")
    assert fine.status_code == 200


def test_the_customers_own_words_and_what_was_found_are_never_refused(scene: Scene, api: Api, owner: Staff) -> None:
    said = api(owner).post(
        f"{V1}/orders/{scene.order.pk}/jobs/",
        {"title": "No power", "complaint": "I removed the catalyst", "cause": "catalyst removed by the owner"},
        format="json",
    )
    assert said.status_code == 201


def test_the_catalogue_takes_no_such_operation_and_changes_none_into_one(scene: Scene, api: Api, owner: Staff) -> None:
    client = api(owner)
    told = {"code": "CAT", "words": "Catalyst", "hours": "0.5", "components": ["muffler_catalyst"]}
    assert (
        only_problem(client.post(f"{V1}/operations/", told | {"action": "remove"}, format="json"))["field"] == "action"
    )
    assert only_problem(client.post(f"{V1}/operations/", told, format="json"))["field"] == "action"
    made = client.post(f"{V1}/operations/", told | {"action": "replace"}, format="json").json()
    changed = client.patch(f"{V1}/operations/{made['id']}/", {"version": 1, "action": "bypass"}, format="json")
    assert "1068.101(b)(1)" in only_problem(changed)["problem"]
    assert labour(client, scene, code="CAT").json()["labour"][0]["action"] == "replace"


LABELS = [("part_1054", True, 400), ("", True, 400), ("none", False, 400), ("other", True, 400), ("none", True, 201)]


@pytest.mark.parametrize(("rule", "read", "status"), LABELS)
def test_only_a_label_that_was_read_and_shows_no_rule_frees_the_engine(
    scene: Scene, api: Api, technician: Staff, rule: str, read: bool, status: int
) -> None:
    Assembly.objects.filter(pk=scene.engine.pk).update(emission_rule=rule, label_read=read)
    assert labour(api(technician), scene, **REMOVED).status_code == status


def test_a_machine_without_an_engine_has_none(scene: Scene, api: Api, technician: Staff) -> None:
    Unit.objects.filter(pk=scene.unit.pk).update(power_source="battery")
    assert labour(api(technician), scene, **REMOVED).status_code == 201


def test_the_spark_screen_stays_whatever_the_label_says(scene: Scene, api: Api, technician: Staff) -> None:
    Assembly.objects.filter(pk=scene.engine.pk).update(emission_rule="none")
    said = labour(api(technician), scene, **REMOVED | {"action": "leave_out", "components": ["spark_screen"]})
    assert "36 CFR 261" in only_problem(said)["problem"]


@pytest.mark.parametrize(
    ("line", "field"),
    [
        ({"action": "polish", "components": ["piston"]}, "action"),
        ({"action": "remove", "components": ["soul"]}, "components"),
        ({"action": "remove"}, "components"),
        ({"components": ["piston"]}, "action"),
    ],
)
def test_words_that_are_not_known_are_refused(
    scene: Scene, api: Api, technician: Staff, line: dict[str, Any], field: str
) -> None:
    said = labour(api(technician), scene, words="Work", hours="0.5", **line)
    assert only_problem(said)["field"] == field


def test_one_name_stands_for_one_rule() -> None:
    with pytest.raises(ValueError, match="registered twice"):
        house_rules.register("emission controls", objection=lambda unit, works: [])


def overhauled(scene: Scene, size: str = "389", component: str = "piston") -> None:
    """A piston job on an engine of that size, agreed, with everything done but its end."""
    Unit.objects.filter(pk=scene.unit.pk).update(power_source="four_stroke")
    Assembly.objects.filter(pk=scene.engine.pk).update(displacement_cc=Decimal(size))
    part = Part.objects.create(
        shop=scene.shop, number="P-1", words="Piston", component=component, list_price=Decimal(80)
    )
    JobPart.objects.create(
        shop=scene.shop, job=scene.job, part=part, number="P-1", words="Piston", quantity=1, unit_price=80,
        fitted_at=timezone.now(),
    )  # fmt: skip


def finish(client: APIClient, scene: Scene) -> Any:
    said = client.post(f"{V1}/jobs/{scene.job.pk}/finish/", {"version": scene.job.version}, format="json")
    assert said.status_code == 200, said.content
    return said.json()


def test_a_rebuild_at_or_above_225_cc_owes_its_record_until_all_of_it_is_there(
    scene: Scene, api: Api, technician: Staff, office: Staff
) -> None:
    overhauled(scene, "225")
    client, address = api(technician), f"{V1}/jobs/{scene.job.pk}/rebuild-record/"
    (duty,) = finish(client, scene)["duties"]
    assert duty["at"] == address and "1068.120" in duty["source"] and len(duty["lacking"]) == 5
    standing = client.get(address).json()
    assert (standing["owed"], standing["record"]) == (True, None)
    assert len(standing["must_contain"]) == 4 and "at least 2 years" in standing["says"]
    assert standing["keep_until"] == scene.today.replace(year=scene.today.year + 2).isoformat()
    first = client.patch(
        address, {"version": 0, "hours": "410", "hours_estimated": True, "work": "Piston changed."}, format="json"
    )
    assert sorted(first.json()["lacking"]) == ["adjustments", "codes", "parts"]
    assert [row["owed"] for row in api(office).get(f"{V1}/orders/{scene.order.pk}/duties/").json()] == [True]
    rest = {"version": 1, "parts": "P-1", "adjustments": "idle 2800", "codes": "stores none"}
    whole = api(office).patch(address, rest, format="json").json()
    assert (whole["owed"], whole["lacking"], whole["record"]["hours"]) == (False, {}, "410.0")
    stale = client.patch(address, {"version": 1, "codes": ""}, format="json")
    assert (stale.status_code, stale.json()["current_version"]) == (409, 2)
    (listed,) = client.get(f"{V1}/rebuild-records/").json()["results"]
    assert (listed["job"], listed["work"], listed["lacking"]) == (str(scene.job.pk), "Piston changed.", {})
    assert client.delete(f"{V1}/rebuild-records/{listed['id']}/").status_code == 405


@pytest.mark.parametrize(
    ("size", "power", "count"), [("224.9", "four_stroke", 0), ("100", "diesel", 1), ("389", "battery", 0)]
)
def test_small_spark_engines_owe_none_and_diesels_of_any_size_do(
    scene: Scene, api: Api, technician: Staff, size: str, power: str, count: int
) -> None:
    overhauled(scene, size)
    Unit.objects.filter(pk=scene.unit.pk).update(power_source=power)
    assert len(finish(api(technician), scene)["duties"]) == count


def test_labour_of_the_guide_tells_of_a_rebuild_as_a_part_does(scene: Scene, api: Api, technician: Staff) -> None:
    overhauled(scene)
    scene.job.parts.all().delete()
    client = api(technician)
    assert finish_duties_of(client, scene) == []
    line = {"words": "Crank changed", "hours": "2.0", "action": "replace", "components": ["crankshaft"]}
    assert labour(client, scene, **line).status_code == 201
    assert len(finish_duties_of(client, scene)) == 1
    JobLabour.objects.for_shop(scene.shop).update(components=["piston_ring"])
    (maybe,) = finish_duties_of(client, scene)
    assert "yours to judge" in maybe["says"]


def finish_duties_of(client: APIClient, scene: Scene) -> Any:
    return client.get(f"{V1}/orders/{scene.order.pk}/duties/").json()


def test_a_record_may_be_kept_where_none_is_owed_but_not_of_a_job_that_was_not_done(
    scene: Scene, api: Api, technician: Staff
) -> None:
    client, address = api(technician), f"{V1}/jobs/{scene.job.pk}/rebuild-record/"
    kept = client.patch(address, {"version": 0, "work": "Piston of the saw changed."}, format="json").json()
    assert (kept["owed"], kept["says"]) == (False, "") and kept["record"]["work"]
    for body, field in [
        ({"version": 1}, "body"),
        ({"version": 1, "hours": "-1"}, "hours"),
        ({"version": 1, "colour": "red"}, "colour"),
    ]:
        assert only_problem(client.patch(address, body, format="json"))["field"] == field
    Job.objects.filter(pk=scene.job.pk).update(state="struck")
    assert only_problem(client.patch(address, {"version": 1, "work": "x"}, format="json"), 409)["field"] == "job"


def test_another_shop_sees_no_record(scene: Scene, api: Api, technician: Staff, other_shop: Shop) -> None:
    api(technician).patch(f"{V1}/jobs/{scene.job.pk}/rebuild-record/", {"version": 0, "work": "x"}, format="json")
    stranger = api(Staff.objects.get(shop=other_shop))
    assert stranger.get(f"{V1}/jobs/{scene.job.pk}/rebuild-record/").status_code == 404
    assert (
        stranger.patch(
            f"{V1}/jobs/{scene.job.pk}/rebuild-record/", {"version": 1, "work": "y"}, format="json"
        ).status_code
        == 404
    )
    assert stranger.get(f"{V1}/orders/{scene.order.pk}/duties/").status_code == 404
    assert stranger.get(f"{V1}/rebuild-records/").json()["results"] == []
    assert RebuildRecord.objects.for_shop(scene.shop).get().work == "x"
