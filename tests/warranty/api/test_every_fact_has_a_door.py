"""No fact is a dead end: each that the engine asks for is recorded at the door it names, and then is asked no more.

Units of which almost nothing is known are walked over the API: at each step every door of every fact that is asked for is
tried with every value worth trying, and taken back; then one value stays, until the answer is settled.
"""

from __future__ import annotations

import os
import random
from collections.abc import Callable, Iterator
from typing import Any
from uuid import UUID

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from rest_framework.test import APIClient

from orders.models import Assembly, Finding, HourReading, Job, JobPart, Maker, RepairOrder, Unit
from shopdocs.shops.models import Staff
from tests.warranty.scene import DAY, Scene, picture
from warranty.coverage.domains import FLAGS, GETTING
from warranty.services.circumstances import record_circumstances
from warranty.services.recording import PLACES
from warranty.services.terms import record_term

pytestmark = pytest.mark.django_db
Api = Callable[[Staff | None], APIClient]
V1 = "/api/v1"
SOURCE = {"cite": "Korlind card", "edition": "2026", "address": "in the box", "confidence": "invented"}
WALKS = 30
PROBES = 1 if os.environ.get("ONLY_SERVICES") == "1" else 2
"""How often a fact is tried at all its doors, each time on another machine; once again on PostgreSQL, which decides nothing."""
NEVER_OPEN = {
    "unit.maker", "unit.model", "unit.family", "finding.component", "finding.condition", "finding.found_on",
    "term.consumer_product", "term.full",
}  # fmt: skip
"""What a record of the shop always says; the engine asks for these only where facts come from elsewhere."""


def promise(name: str, **more: Any) -> dict[str, Any]:
    """A promise of the maker of the scene's saw, that asks for something."""
    whole = {
        "id": name, "version": 1, "title": name, "giver": "maker", "giver_name": "Korlind", "source": SOURCE,
        "components": {"all": True}, "period": {"months": 24}, "causes": ["defect", "wear"],
    }  # fmt: skip
    return whole | more


def part_maker(name: str, **more: Any) -> dict[str, Any]:
    return promise(name, giver="part_maker", giver_name="Sparrow", start={"from": "repair"}, **more)


PROGRAMMES: list[list[dict[str, Any]]] = [
    [],
    [
        promise("house", use_classes=["residential"], to="first_owner", requires={"proof": ["receipt"]}, period={"days": 200}),
        promise("engine", giver="engine_maker", giver_name="Sparrow", assemblies=["engine"], machines={"displacement": {"below": 46}}),
        promise("card", consumer_product=False, requires={"registered_within_days": 30}, start={"from": "registration"}),
    ],
    [
        promise("trade", consumer_product=False, use_classes=["commercial"], to="transferred_owner", hours={"limit": 60, "without_meter": "fails"},
                excludes=[{"ground": "service_elsewhere", "when": {"serviced_by": ["independent", "owner"]}}]),
        promise("log", consumer_product=False, requires={"maintenance_records": True},
                excludes=[{"ground": "other_parts", "when": {"other_parts": True}}, {"ground": "modification", "when": {"modified": True}},
                          {"ground": "improper_fuel_or_oil", "when": {"fuel": ["e15"], "manual_forbids_fuel": True, "proper_fuel_at_hand": True}},
                          {"ground": "emergency_repair", "when": {"emergency_repair": True}}]),
    ],
    [
        promise("delivered", start={"from": "delivery"}, giver="plan", giver_name=None, requires={"plan": "K-PLUS"}),
        promise("recall", start={"from": "build"}, giver="campaign", giver_name=None, requires={"campaign": "R-7"}),
        promise("used", start={"from": "first_service"}, machines={"built": {"from": "2020-01-01"}}),
    ],
    [part_maker("spare"), promise("counted", hours={"limit": 60, "without_meter": "years_only"}),
     promise("shopwork", giver="shop", giver_name=None, start={"from": "repair", "repair_by": ["this_shop"]})],
    [promise("carried", machines={"hand_held": True}),
     promise("dusty", severe_service={"period": {"days": 30}, "hours": {"limit": 20, "without_meter": "years_only"}, "uses": ["rental"]})],
]  # fmt: skip


@pytest.fixture
def bare(scene: Scene) -> Scene:
    """The scene with almost nothing known: no dates, no owner, no meter, no engine, no cause."""
    scene.module.delete()
    Assembly.objects.filter(unit=scene.unit).delete()
    scene.unit.proofs.all().delete()
    Unit.objects.filter(pk=scene.unit.pk).update(
        build_date=None, has_hour_meter=None, use_class="", power_source="unknown", hand_held=None, sale_kind="unknown",
        purchased_on=None, delivered_on=None, use_region="", first_owner=None, modified=None, maintenance_record=None,
    )  # fmt: skip
    type(scene.model).objects.filter(pk=scene.model.pk).update(hand_held=None, displacement_cc=None)
    for number, component in enumerate(("ignition_module", "piston"), start=1):
        Finding.objects.create(
            id=UUID(int=number), shop=scene.shop, order=scene.order, number=number, component=component, condition="broken",
            cause="unknown", by=scene.owner.user, found_on=scene.today - 5 * DAY,
        )  # fmt: skip
    return scene


Rows = dict[tuple[str, str], dict[str, Any]]
Answer = tuple[str, Rows]


class Counter:
    """Somebody at the counter, who decides and records over the API."""

    def __init__(self, client: APIClient, scene: Scene) -> None:
        self.client, self.scene = client, scene

    def decide(self) -> dict[str, Answer]:
        """By finding: the answer, and what would settle it, with its values and doors, by fact and what it is of."""
        said = self.client.post(f"{V1}/orders/{self.scene.order.pk}/decisions/", {}, format="json")
        assert said.status_code == 201, said.content
        found = {}
        for row in said.json():
            values = {(one["fact"], one["of"]): one["values"] for one in row["decision"]["settling"]}
            asked = {
                (one["fact"], one["of"]): one | {"values": values[one["fact"], one["of"]]} for one in row["settled_by"]
            }
            found[row["finding"]] = (row["answer"], asked)
        return found

    def send(self, place: dict[str, str], value: Any) -> Any:
        """Sends one value to the door; the versions are read first, as a front end does."""
        head, *rest = place["field"].split(".")
        body: dict[str, Any] = {head: {rest[0]: {rest[1]: value}} if rest else value}
        if place["door"].endswith(("/plans/", "/campaigns/")):
            body = value
        if place["door"].endswith("/proofs/"):
            return self.client.post(place["door"], value, format="multipart")
        if place["note"].startswith("adds the assembly"):
            body["role"] = place["note"].split("'")[1]
        if head in ("emission_rule", "label_hours"):
            body["label_read"] = True
        if place["method"] == "PATCH":
            body["version"] = (
                self.client.get(place["door"]).json()["version"] if "hour-readings" not in place["door"] else 1
            )
        if "hour-readings" in place["door"]:
            body["reason"] = "the customer remembers"
        return getattr(self.client, place["method"].lower())(place["door"], body, format="json")


def sent(fact: str, place: dict[str, str], values: list[list[Any]], scene: Scene) -> Iterator[tuple[Any, Any]]:
    """Pairs of the engine's value and what a person sends for it at this door."""
    told = [value for value, _ in values]
    field = place["field"].rpartition(".")[2]
    if field == "kind":
        unit = Unit.objects.get(pk=scene.unit.pk)
        sold = unit.purchased_on or scene.today - 30 * DAY
        yield (
            "receipt",
            {"kind": "receipt", "shows_date": sold.isoformat(), "file": SimpleUploadedFile("r.jpg", picture())},
        )
    elif field == "no_proof_can_be_had":
        yield "none", True
    elif field == "sale_kind":
        yield from ((value, value) for value in told if value != "unsold")
    elif field == "first_owner":
        yield from ((value, value == "first") for value in told)
    elif field == "use_region":
        yield from ((value, value.removeprefix("US-")) for value in ("US-CA", "US-OH"))
    elif field == "emission_rule":
        yield from ((value, "part_1054" if value else "none") for value in told)
    elif field == "label_hours":
        yield from ((None, int(value.split(".")[0])) for value in told)
    elif field == "maker":
        for name in ("Sparrow", "Another"):
            yield None, str(Maker.objects.get_or_create(shop=scene.shop, name=name)[0].pk)
    elif field == "assembly":
        yield from ((one.role, str(one.pk)) for one in scene.unit.assemblies.all())
    elif field == "belongs_to":
        yield "unit", "unit"
    elif field == "stands_alone":
        yield "none", True
    elif field == "caused_by":
        yield from ((value, value) for value in told if value != "none")
    elif field == "replacement_schedule":
        yield "not scheduled", {}
        yield "scheduled", {one.component: {"months": 1, "hours": "0"} for one in scene.order.findings.all()}
    elif field == "code":
        code, flag = ("K-PLUS", "held") if fact == "unit.plans" else ("R-7", "done")
        yield from (("none", {"code": code, flag: False}), ("held", {"code": code, flag: True}))
    elif field == "plans":
        yield from (("none", []), ("held", ["K-PLUS"]))
    elif field == "campaigns_done":
        yield from (("none", []), ("held", ["R-7"]))
    elif field == "own_repairs":
        yield from ((None, {str(job.pk): {"part_maker": "Sparrow", "hours": "5"}}) for job in earlier(scene))
    elif field == "repairs_elsewhere":
        return  # only what somebody else did is missing here, and then its row is
    elif field == "hours_before_change":
        yield None, "70"
    else:
        yield from ((value, value) for value in told)


def earlier(scene: Scene) -> list[Job]:
    return list(Job.objects.for_shop(scene.shop).filter(order__unit=scene.unit).exclude(order=scene.order))


MAY_REFUSE = {"unit.power": "power_source", "unit.sold_on": "purchased_on", "unit.build_date": "build_date"}
"""A saw is driven by no diesel, and was neither sold nor built after it came here for repair: the only values that a door may
refuse."""


def probe(
    counter: Counter, key: tuple[str, str], row: dict[str, Any]
) -> tuple[set[str], list[tuple[dict[str, str], Any]]]:
    """Tries every value at every door of a fact and takes it back; gives the doors that took one, with what they took."""
    took: list[tuple[dict[str, str], Any]] = []
    fact = key[0]
    answers = {str(value): answer for value, answer in row["values"]}
    for place in row["record"]:
        for meant, value in list(sent(fact, place, row["values"], counter.scene)):
            with transaction.atomic():
                said = counter.send(place, value)
                if said.status_code == 400 and fact in MAY_REFUSE:
                    assert {one["field"] for one in said.json()["errors"]} == {MAY_REFUSE[fact]}
                    continue
                assert said.status_code in (200, 201), (key, place, value, said.content)
                after = counter.decide()
                for finding, (answer, asked) in after.items():
                    assert key not in asked, (key, place, value, finding, answer)
                if answers.get(str(meant)) in ("covered", "not_covered") and row["finding"] in after:
                    assert after[row["finding"]][0] == answers[str(meant)], (key, place, value)
                took.append((place, value))
                transaction.set_rollback(True)
    return {f"{place['method']} {place['door'].rsplit('/', 2)[0]} {place['field']}" for place, _ in took}, took


def walk(counter: Counter, seed: int, probed: dict[str, int]) -> set[str]:
    """From almost nothing known to a settled answer; gives the facts that were asked for on the way."""
    chance, seen = random.Random(seed), set()
    for _ in range(40):
        asked: Rows = {}
        for finding, (_, rows) in counter.decide().items():
            for key, row in rows.items():
                asked.setdefault(key, row | {"finding": finding})
        if not asked:
            return seen
        seen |= {fact for fact, _ in asked}
        keys = sorted(asked)
        for key in keys:
            if probed.get(key[0], 0) < PROBES:
                probed[key[0]] = probed.get(key[0], 0) + 1
                _, took = probe(counter, key, asked[key])
                assert took, f"{key} is a dead end: no door took any value of it ({asked[key]['record']})"
        key = chance.choice(keys)
        choices = [
            (place, value) for place in asked[key]["record"]
            for _, value in sent(key[0], place, asked[key]["values"], counter.scene)
        ]  # fmt: skip
        chance.shuffle(choices)
        assert any(counter.send(place, value).status_code in (200, 201) for place, value in choices), (key, choices)
    return seen


def test_every_fact_that_is_asked_for_is_recorded_at_its_door_and_asked_no_more(
    bare: Scene, api: Api, owner: Staff
) -> None:
    probed: dict[str, int] = {}
    seen: set[str] = set()
    for seed in range(WALKS):
        with transaction.atomic():
            for term in PROGRAMMES[seed % len(PROGRAMMES)]:
                record_term(shop=bare.shop, by=owner, term={k: v for k, v in term.items() if v is not None})
            prepare(bare, seed)
            seen |= walk(Counter(api(owner), bare), seed, probed)
            transaction.set_rollback(True)
    assert seen == set(PLACES) - NEVER_OPEN


STORIES: list[tuple[str, str, dict[str, Any], dict[str, Any]]] = [
    ("fuel_line", "upkeep", {}, {}),
    ("fuel_line", "fuel_oil", {"fuel": "e15"}, {}),
    ("fuel_line", "fuel_oil", {"fuel": "e15", "manual_forbids_fuel": True}, {"use_region": "OH", "power_source": "two_stroke"}),
    ("spark_plug", "defect", {}, {"use_region": "CA", "power_source": "two_stroke"}),
    ("ignition_module", "unknown", {}, {}),
    ("carburettor", "assembly", {}, {"use_region": "OH", "power_source": "two_stroke"}),
    ("gearbox", "defect", {}, {}),
]  # fmt: skip
"""What was found on the machine of a walk, by which cause, and what is known already of the fault and of the machine."""


def prepare(scene: Scene, seed: int) -> None:
    """What each machine has behind it: what was found, its fuel, an earlier repair here, a changed meter, a sale before this one."""
    component, cause, found_out, known = STORIES[seed % len(STORIES)]
    Finding.objects.filter(pk=UUID(int=1)).update(component=component, cause=cause)
    if found_out:
        record_circumstances(shop=scene.shop, by=scene.owner, order=scene.order, version=0, changes=found_out)
    if known:
        Unit.objects.filter(pk=scene.unit.pk).update(**known)
    if seed % len(PROGRAMMES) == 4:
        _repaired_before(scene, component)
    if seed % 4 == 3:
        Unit.objects.filter(pk=scene.unit.pk).update(sale_kind="used")


def _repaired_before(scene: Scene, component: str) -> None:
    Unit.objects.filter(pk=scene.unit.pk).update(build_date=scene.today - 300 * DAY)
    old = HourReading(shop=scene.shop, unit=scene.unit, read_on=scene.today - 40 * DAY, hours=3, meter_changed=True)
    old.save()
    HourReading.objects.create(shop=scene.shop, unit=scene.unit, read_on=scene.today - 6 * DAY, hours=20)
    before = RepairOrder.objects.create(
        shop=scene.shop, number="RO-0", unit=scene.unit, customer=scene.customer, received_on=scene.today - 60 * DAY,
        complaint="No spark.", taken_in_by=scene.owner.user, state="given_back",
    )  # fmt: skip
    job = Job.objects.create(
        shop=scene.shop, order=before, number=1, title="Part changed", state="done", payer="warranty",
        finished_at=before.created_at - 59 * DAY,
    )  # fmt: skip
    job.findings.add(
        Finding.objects.create(
            shop=scene.shop,
            order=before,
            number=1,
            component=component,
            condition="dead",
            cause="defect",
            by=scene.owner.user,
            found_on=scene.today - 60 * DAY,
        )
    )
    JobPart.objects.create(
        shop=scene.shop, job=job, words="a new one", quantity=1, unit_price=1, fitted_at=job.finished_at
    )


def test_the_list_of_doors_is_the_list_of_facts_and_no_more() -> None:
    labels = {f"assembly.{name}" for name in ("part_1054", "useful_life_hours", "displacement_cc", "maker")}
    assert set(PLACES) == set(GETTING) | labels | {"finding.component"}
    assert {fact for fact in FLAGS if fact not in PLACES} == set()
