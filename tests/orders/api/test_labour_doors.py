"""Labour at the doors: rates by skill and day, diagnosis with its limit, bare times that include and shorten one another."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import Job, JobLabour, LabourOperation, RepairOrder
from orders.models.catalogue import WorkStep
from orders.services.sheets import estimate_sheet
from shopdocs.shops.models import LabourRate, Shop, Staff
from tests.orders.api.test_pricing_doors import V1, estimate, post, problems
from tests.orders.back_kit import agreed, invoiced, set_rates

pytestmark = pytest.mark.django_db
D = Decimal
TEARDOWN = {"code": "TEAR", "words": "Take down the engine", "hours": "2.5"}
RINGS = {"code": "RINGS", "words": "Change rings", "hours": "1.3"}


@pytest.fixture(autouse=True)
def rated(shop: Shop) -> None:
    set_rates(shop)


def job(client: APIClient, order: RepairOrder, *labour: dict[str, Any]) -> Any:
    return post(client, f"orders/{order.pk}/jobs/", {"title": "Work", "labour": list(labour)})


def test_a_helper_has_a_rate_of_their_own_by_payer_and_day(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    today = shop.today()
    helper = {"payer": "customer", "skill": "Helper"}
    post(client, "labour-rates/", {**helper, "per_hour": "55", "starts_on": "2020-01-01"})
    post(client, "labour-rates/", {**helper, "per_hour": "60", "starts_on": str(today)})
    post(client, "labour-rates/", {**helper, "per_hour": "99", "starts_on": str(today + dt.timedelta(days=1))})
    job(client, order, {"words": "Rebuild", "hours": "1.0"}, {"words": "Wash parts", "hours": "1.0", "skill": "helper"})
    facts = estimate(client, order)
    assert [line["amount"] for line in facts["jobs"][0]["labour"]] == ["95.00", "60.00"]
    assert estimate_sheet(facts).jobs[0].labour[1].what == "Wash parts (helper)"
    assert invoiced(shop, owner, order).facts["net"] == "155.00"


def test_the_usual_rate_is_never_taken_for_another_skill(client: APIClient, order: RepairOrder) -> None:
    job(client, order, {"words": "Weld", "hours": "1.0", "skill": "welder"})
    assert "welder" in problems(client, f"orders/{order.pk}/estimates/", {})["labour_rate"]
    post(client, "labour-rates/", {"skill": "welder", "per_hour": "130", "starts_on": "2020-01-01"})
    assert estimate(client, order)["net"] == "130.00"
    # The rates without a skill are still there and hold.
    assert LabourRate.objects.filter(skill="", ends_on=None).count() == 2


def test_diagnosis_is_charged_up_to_the_shops_limit_and_says_so(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    post(client, "operations/", {"code": "DG", "words": "Find the fault", "hours": "0.4", "diagnosis": True})
    post(client, "pricing-terms/", {"starts_on": "2020-01-01", "diagnosis_limit": "0.5"})
    made = job(
        client,
        order,
        {"code": "DG"},
        {"words": "Look again", "hours": "0.4", "diagnosis": True},
        {"words": "Mend", "hours": "1.0"},
    )
    facts = estimate(client, order)
    lines = facts["jobs"][0]["labour"]
    assert [(line["tenths"], line["guide_tenths"]) for line in lines] == [(4, 4), (1, 4), (10, 10)]
    assert facts["net"] == "142.50"
    assert "of which 0.1 h is the most" in estimate_sheet(facts).jobs[0].labour[1].note
    assert made["labour"][0]["diagnosis"] is True
    agreed(shop, owner, order)
    assert Job.objects.get().state == "agreed"
    assert invoiced(shop, owner, order).facts["net"] == "142.50"


def test_the_limit_holds_for_what_the_customer_pays(client: APIClient, order: RepairOrder) -> None:
    post(client, "pricing-terms/", {"starts_on": "2020-01-01", "diagnosis_limit": "0.5"})
    body = {"title": "Look", "payer": "goodwill", "labour": [{"words": "Look", "hours": "0.8", "diagnosis": True}]}
    post(client, f"orders/{order.pk}/jobs/", body)
    assert estimate(client, order)["net"] == "64.00"


def test_bare_times_that_include_or_shorten_one_another(client: APIClient, order: RepairOrder) -> None:
    post(client, "operations/", {"code": "GASKET", "words": "Change gasket", "hours": "0.3"})
    post(client, "operations/", {**RINGS, "includes": ["GASKET"]})
    post(client, "operations/", {**TEARDOWN, "includes": ["RINGS"]})
    post(
        client,
        "operations/",
        {"code": "CLEAN", "words": "Clean", "hours": "0.5", "less_with": [{"operation": "TEAR", "hours": "0.2"}]},
    )
    # The gasket is inside the rings, which are inside the engine, though the rings were not asked for.
    job(client, order, {"code": "TEAR"}, {"code": "GASKET"}, {"code": "CLEAN"})
    time = estimate(client, order)["jobs"][0]["labour_time"]
    assert (time["hours"], time["separate"], time["saved"]) == ("2.8", "3.3", "0.5")
    assert "Change gasket is part of Take down the engine" in time["saving"]
    assert "Clean shorter beside Take down the engine" in time["saving"]
    assert time["overlap_not_known"] == []


def test_an_overlap_of_nothing_is_known_too(client: APIClient, order: RepairOrder) -> None:
    post(client, "operations/", TEARDOWN)
    post(client, "operations/", {**RINGS, "less_with": [{"operation": "TEAR", "hours": "0"}]})
    job(client, order, {"code": "TEAR"}, {"code": "RINGS"})
    time = estimate(client, order)["jobs"][0]["labour_time"]
    assert (time["hours"], time["overlap_not_known"]) == ("3.8", [])


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"includes": ["NOWHERE"]}, "includes"),
        ({"includes": ["RINGS"]}, "includes"),
        ({"less_with": [{"operation": "NOWHERE", "hours": "0.1"}]}, "less_with"),
        ({"less_with": [{"operation": "TEAR", "hours": "0.1"}, {"operation": "TEAR", "hours": "0.2"}]}, "less_with"),
        ({"includes": ["TEAR"], "less_with": [{"operation": "TEAR", "hours": "0.1"}]}, "less_with"),
        ({"less_with": [{"operation": "TEAR", "hours": "1.4"}]}, "less_with"),
        ({"less_with": [{"operation": "TEAR", "hours": "-0.1"}]}, "less_with"),
        ({"less_with": [{"operation": "TEAR", "hours": "NaN"}]}, "less_with"),
    ],
)
def test_overlaps_that_cannot_be_are_refused(client: APIClient, change: Any, field: str) -> None:
    post(client, "operations/", TEARDOWN)
    found = problems(client, "operations/", {**RINGS, **change})
    assert any(name.startswith(field) for name in found), found
    assert LabourOperation.objects.count() == 1


def test_an_operation_cannot_come_to_be_inside_itself(client: APIClient) -> None:
    post(client, "operations/", RINGS)
    whole = post(client, "operations/", {**TEARDOWN, "includes": ["RINGS"]})
    rings = LabourOperation.objects.get(code="RINGS")
    path = f"{V1}/operations/{rings.pk}/"
    looped = client.patch(path, {"version": rings.version, "includes": ["TEAR"]}, format="json")
    assert looped.status_code == 400 and "part of itself" in looped.json()["errors"][0]["problem"]
    assert LabourOperation.objects.get(pk=whole["id"]).includes == ["RINGS"]
    rings.refresh_from_db()
    assert rings.includes == []


def test_hours_of_an_operation_are_those_of_its_steps(client: APIClient, order: RepairOrder) -> None:
    for key, minutes, needs in (("off", "9", []), ("plug", "6", ["off"])):
        post(client, "work-steps/", {"key": key, "words": key, "minutes": minutes, "needs": needs})
    plug = {"code": "PLUG", "words": "Spark plug", "steps": ["plug"]}  # 15 minutes: 0.3 h, or 0.2 h rounded down
    for hours in ("0.1", "0.4", "2.0"):
        assert "come to 0.3 h" in problems(client, "operations/", {**plug, "hours": hours})["hours"]
    post(client, "operations/", {**plug, "code": "DOWN", "hours": "0.2"})
    row = post(client, "operations/", {**plug, "hours": "0.3"})
    wrong = client.patch(f"{V1}/operations/{row['id']}/", {"version": 1, "hours": "0.5"}, format="json")
    assert wrong.status_code == 400 and wrong.json()["errors"][0]["field"] == "hours"
    line = job(client, order, {"operation": row["id"]})["labour"][0]
    step = WorkStep.objects.get(key="off")
    path = f"{V1}/work-steps/{step.pk}/"
    assert client.patch(path, {"version": step.version, "minutes": "12"}, format="json").status_code == 200
    assert LabourOperation.objects.get(code="PLUG").hours == D("0.3")  # 18 minutes
    assert client.patch(path, {"version": step.version + 1, "minutes": "40"}, format="json").status_code == 200
    assert LabourOperation.objects.get(code="PLUG").hours == D("0.8")
    assert JobLabour.objects.get(pk=line["id"]).hours == D("0.8")


def test_steps_say_what_is_shared_and_take_no_pairs(client: APIClient) -> None:
    post(client, "work-steps/", {"key": "off", "words": "cover off", "minutes": "9"})
    post(client, "operations/", TEARDOWN)
    both = {**RINGS, "steps": ["off"], "less_with": [{"operation": "TEAR", "hours": "0.1"}]}
    assert (
        "steps" in problems(client, "operations/", both)["less_with"]
        or "bare" in problems(client, "operations/", both)["less_with"]
    )


@pytest.mark.parametrize("hours", ["-0.1", "24.1", "25", "0", "0.05", "NaN", "1e400"])
def test_hours_that_cannot_be_on_one_line(client: APIClient, order: RepairOrder, hours: str) -> None:
    found = problems(client, f"orders/{order.pk}/jobs/", {"title": "x", "labour": [{"words": "x", "hours": hours}]})
    assert any(name.startswith("labour") for name in found) and not Job.objects.exists()


def test_one_code_for_a_model_its_family_and_every_machine(client: APIClient, order: RepairOrder) -> None:
    model = order.unit.model
    facts = {"maker": str(model.maker_id), "name": "OTHER", "family": model.family, "power_source": model.power_source}
    other = post(client, "models/", facts)["id"]
    for machine, hours in (({}, "1.0"), ({"family": model.family}, "0.8"), ({"model": other}, "0.3")):
        post(client, "operations/", {**RINGS, **machine, "hours": hours})
    family = "trimmer" if model.family != "trimmer" else "hedge_trimmer"
    post(client, "operations/", {**RINGS, "family": family, "hours": "0.2"})
    assert [line["hours"] for line in job(client, order, {"code": "RINGS"})["labour"]] == ["0.8"]
    own = post(client, "operations/", {**RINGS, "model": str(model.pk), "hours": "0.6"})
    assert [line["hours"] for line in job(client, order, {"code": "RINGS"})["labour"]] == ["0.6"]
    # Each stands once: for the model whatever is said of its family.
    for machine in (
        {},
        {"family": model.family},
        {"model": str(model.pk)},
        {"model": str(model.pk), "family": model.family},
    ):
        doubled = client.post(f"{V1}/operations/", {**RINGS, **machine}, format="json")
        assert (doubled.status_code, doubled.json()["errors"][0]["field"]) == (409, "code"), machine
    moved = client.patch(f"{V1}/operations/{own['id']}/", {"version": 1, "model": None}, format="json")
    assert moved.status_code == 409


def test_what_is_included_is_as_it_stands_for_the_machine(client: APIClient, order: RepairOrder) -> None:
    post(client, "operations/", {"code": "GASKET", "words": "Change gasket", "hours": "0.3"})
    post(client, "operations/", {**RINGS, "includes": ["GASKET"]})
    post(client, "operations/", {**RINGS, "family": order.unit.model.family})  # of this family the gasket is apart
    post(client, "operations/", {**TEARDOWN, "includes": ["RINGS"]})
    job(client, order, {"code": "TEAR"}, {"code": "GASKET"})
    assert estimate(client, order)["jobs"][0]["labour_time"]["hours"] == "2.8"
