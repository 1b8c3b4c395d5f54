"""What somebody found out: merged, refused by path, handed to the engine, and frozen with the decision."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from orders.models import Job
from shopdocs.rest.refusals import Conflict, Refused, Stale
from shopdocs.shops.models import Event
from tests.warranty.scene import DAY, Scene
from tests.warranty.services.test_decide import PROMISE, second
from warranty.models import Circumstances
from warranty.services.circumstances import record_circumstances
from warranty.services.claims import file_claim
from warranty.services.decide import decide_order, frozen_inputs, stands
from warranty.services.facts import finding_facts, order_to_decide, unit_facts
from warranty.services.terms import record_term

pytestmark = pytest.mark.django_db


def record(scene: Scene, version: int = 0, **changes: Any) -> Circumstances:
    return record_circumstances(shop=scene.shop, by=scene.owner, order=scene.order, version=version, changes=changes)


def facts_now(scene: Scene) -> Any:
    return unit_facts(order=order_to_decide(scene.order), as_of=scene.today)


def finding_now(scene: Scene) -> Any:
    return finding_facts(order=order_to_decide(scene.order))[0]


UNIT_FACTS: list[tuple[str, Any, str, Any]] = [
    ("fuel", "stale", "fuel", "stale"),
    ("serviced_by", "independent", "serviced_by", "independent"),
    ("other_parts", False, "other_parts", False),
    ("manual_forbids_fuel", True, "manual_forbids_fuel", True),
    ("proper_fuel_at_hand", False, "proper_fuel_at_hand", False),
    ("emergency_repair", True, "emergency_repair", True),
    ("severe_service", True, "severe_service", True),
    ("hours_limit_invoked", False, "hours_limit_invoked", False),
    ("transfer_registered", True, "transfer_registered", True),
    ("registered", False, "registered", False),
    ("upkeep", {"air_filter": True, "storage": False}, "upkeep", {"air_filter": True, "storage": False}),
    ("plans", ["K-PLUS", "K-PLUS"], "plans", frozenset({"K-PLUS"})),
    ("campaigns_done", [], "campaigns_done", frozenset()),
    ("miles_to_centre", Decimal("120.5"), "miles_to_centre", Decimal("120.5")),
    (
        "replacement_schedule", {"spark_plug": {"hours": "100"}, "air_filter": {"months": 12}}, "replacement_schedule",
        {"spark_plug": (None, Decimal(100)), "air_filter": (12, None)},
    ),
]  # fmt: skip


@pytest.mark.parametrize(("field", "given", "fact", "told"), UNIT_FACTS, ids=[row[0] for row in UNIT_FACTS])
def test_each_fact_of_the_machine_reaches_the_engine_and_null_takes_it_back(
    scene: Scene, field: str, given: Any, fact: str, told: Any
) -> None:
    record_term(shop=scene.shop, by=scene.owner, term=PROMISE | {"requires": {"plan": "K-PLUS"}})
    before = getattr(facts_now(scene), fact)
    assert before != told
    row = record(scene, **{field: given})
    assert getattr(facts_now(scene), fact) == told
    record(scene, row.version, **{field: None})
    assert getattr(facts_now(scene), fact) == before


@pytest.mark.parametrize(
    ("name", "value"),
    [("done_by", "other_shop"), ("upkeep_item", "storage"), ("never_opened", False), ("never_opened", True)],
)
def test_each_fact_of_a_finding_reaches_the_engine(scene: Scene, name: str, value: Any) -> None:
    assert getattr(finding_now(scene), name) is None
    record(scene, findings={str(scene.module.pk): {name: value}})
    assert getattr(finding_now(scene), name) == value


def test_changes_are_merged_and_the_history_keeps_what_was_there(scene: Scene) -> None:
    key = str(scene.module.pk)
    record(scene, fuel="e10", upkeep={"air_filter": True}, findings={key: {"done_by": "owner", "never_opened": False}})
    row = record(scene, 1, upkeep={"storage": False, "air_filter": None}, findings={key: {"never_opened": None}})
    assert (row.version, row.unit) == (2, {"fuel": "e10", "upkeep": {"storage": False}})
    assert row.findings == {key: {"done_by": "owner"}}
    last = Event.objects.filter(subject=scene.order.subject, verb="circumstances recorded").order_by("at").last()
    assert last is not None and last.facts["before"]["unit"] == {"fuel": "e10", "upkeep": {"air_filter": True}}
    cleared = record(scene, 2, upkeep=None, fuel=None, findings={key: None})
    assert (cleared.unit, cleared.findings) == ({}, {})


BAD: list[tuple[dict[str, Any], str]] = [
    ({"fuel": "diesel"}, "fuel"),
    ({"fuel": 5}, "fuel"),
    ({"serviced_by": "them"}, "serviced_by"),
    ({"other_parts": "no"}, "other_parts"),
    ({"registered": 1}, "registered"),
    ({"colour": "red"}, "colour"),
    ({"upkeep": ["air_filter"]}, "upkeep"),
    ({"upkeep": {"polish": True}}, "upkeep.polish"),
    ({"upkeep": {"air_filter": "yes"}}, "upkeep.air_filter"),
    ({"plans": "K-PLUS"}, "plans"),
    ({"plans": ["ok", ""]}, "plans[1]"),
    ({"campaigns_done": ["a\nb"]}, "campaigns_done[0]"),
    ({"campaigns_done": ["R-7"]}, "campaigns_done[0]"),
    ({"plans": ["K-PLOS"]}, "plans[0]"),
    ({"miles_to_centre": -1}, "miles_to_centre"),
    ({"miles_to_centre": "1E-999999"}, "miles_to_centre"),
    ({"miles_to_centre": "NaN"}, "miles_to_centre"),
    ({"replacement_schedule": {"flux_coil": {"months": 3}}}, "replacement_schedule.flux_coil"),
    ({"replacement_schedule": {"spark_plug": {}}}, "replacement_schedule.spark_plug"),
    ({"replacement_schedule": {"spark_plug": {"months": 1.5}}}, "replacement_schedule.spark_plug.months"),
    ({"replacement_schedule": {"spark_plug": {"years": 2}}}, "replacement_schedule.spark_plug.years"),
    ({"first_sold_on": "2190-01-01"}, "first_sold_on"),
    ({"first_sold_on": "yesterday"}, "first_sold_on"),
    ({"first_sold_on": "1950-01-01"}, "first_sold_on"),
    ({"first_sold_on": timezone.now().date() - 200 * DAY, "first_sale_kind": "unsold"}, "first_sale_kind"),
    ({"repairs_elsewhere": [{"day": "2025-01-01"}]}, "repairs_elsewhere[0].components"),
    ({"repairs_elsewhere": [{"day": "2190-01-01", "components": ["piston"]}]}, "repairs_elsewhere[0].day"),
    ({"repairs_elsewhere": [{"day": "2025-01-01", "components": ["soul"]}]}, "repairs_elsewhere[0].components[0]"),
    (
        {"repairs_elsewhere": [{"day": "2025-01-01", "components": ["piston"], "done_by": "me"}]},
        "repairs_elsewhere[0].done_by",
    ),
    ({"findings": []}, "findings"),
    ({"findings": {"one": {"done_by": "owner"}}}, "findings.one"),
]


@pytest.mark.parametrize(("changes", "path"), BAD, ids=[f"{row[1]}-{at}" for at, row in enumerate(BAD)])
def test_bad_input_is_named_by_its_path_and_nothing_is_written(
    scene: Scene, changes: dict[str, Any], path: str
) -> None:
    with pytest.raises(Refused) as refusal:
        record(scene, **{"emergency_repair": True, **changes})
    assert [one.field for one in refusal.value.problems] == [path]
    assert all(one.problem and one.remedy for one in refusal.value.problems)
    assert not Circumstances.objects.for_shop(scene.shop).exists()


def test_every_wrong_path_of_a_change_is_named_at_once(scene: Scene) -> None:
    key = str(scene.module.pk)
    with pytest.raises(Refused) as refusal:
        record(scene, fuel="tar", findings={key: {"done_by": "ghost"}, str(uuid.uuid4()): {"done_by": "owner"}})
    assert refusal.value.problems[0].field == "fuel"
    assert refusal.value.problems[1].field == f"findings.{key}.done_by"
    assert len(refusal.value.problems) == 3


def test_a_finding_is_not_said_to_stand_alone_and_to_follow_another(scene: Scene) -> None:
    other = second(scene, caused_by=scene.module, assembly=scene.engine)
    with pytest.raises(Refused, match="another one caused it"):
        record(scene, findings={str(other.pk): {"stands_alone": True}})
    with pytest.raises(Refused, match="names an assembly"):
        record(scene, findings={str(other.pk): {"belongs_to": "unit"}})
    other.caused_by, other.assembly = None, None
    other.save()
    record(scene, findings={str(other.pk): {"stands_alone": True, "belongs_to": "unit"}})
    told = finding_facts(order=order_to_decide(scene.order))[1]
    assert (told.caused_by, told.assembly) == ("none", "unit")
    other.caused_by, other.assembly = scene.module, scene.engine
    other.save()
    told = finding_facts(order=order_to_decide(scene.order))[1]
    assert (told.caused_by, told.assembly) == (str(scene.module.pk), "engine"), "the finding's own record goes first"


def test_a_stale_save_is_refused_with_what_is_there(scene: Scene) -> None:
    with pytest.raises(Stale):
        record(scene, 3, fuel="e10")
    record(scene, fuel="e10")
    with pytest.raises(Stale) as stale:
        record(scene, 0, fuel="e15")
    assert stale.value.extra["current_version"] == 1
    assert Circumstances.objects.for_shop(scene.shop).get().unit == {"fuel": "e10"}


def test_a_finished_order_takes_them_until_its_claim_is_filed(scene: Scene, finished_job: Job) -> None:
    scene.order.state = "given_back"
    scene.order.save()
    scene.terms()
    record(scene, serviced_by="owner")
    claim = file_claim(shop=scene.shop, by=scene.owner, job=finished_job.pk)
    with pytest.raises(Conflict, match=claim.number):
        record(scene, 1, serviced_by="nobody")
    claim.state = "closed"
    claim.save()
    assert record(scene, 1, serviced_by="nobody").version == 2


def test_what_was_found_out_stays_once_the_machine_has_left_and_no_claim_is_to_come(scene: Scene) -> None:
    record(scene, fuel="e10")
    type(scene.order).objects.filter(pk=scene.order.pk).update(state="given_back")
    with pytest.raises(Conflict, match="stays as it is"):
        record(scene, 1, fuel="e15")
    assert Circumstances.objects.for_shop(scene.shop).get().unit == {"fuel": "e10"}


def test_the_first_sale_of_a_machine_bought_used(scene: Scene) -> None:
    type(scene.unit).objects.filter(pk=scene.unit.pk).update(sale_kind="used")
    assert (facts_now(scene).sold_on, facts_now(scene).sale_kind) == (None, None)
    sold = scene.unit.purchased_on
    row = record(scene, first_sold_on=sold, first_sale_kind="new")
    told = facts_now(scene)
    assert (told.sold_on, told.sale_kind, told.purchase_proof) == (sold, "new", "receipt")
    record(scene, row.version, first_sold_on=sold - DAY)
    assert facts_now(scene).purchase_proof is None, "the receipt shows another day"


def test_no_proof_to_be_had_gives_way_to_a_proof(scene: Scene) -> None:
    record(scene, no_proof_can_be_had=True)
    assert facts_now(scene).purchase_proof == "receipt"
    scene.unit.proofs.all().delete()
    assert facts_now(scene).purchase_proof == "none"


def test_a_day_of_registration_outweighs_a_no(scene: Scene) -> None:
    record(scene, registered=False)
    assert facts_now(scene).registered is False
    type(scene.unit).objects.filter(pk=scene.unit.pk).update(registered_on=scene.today - 100 * DAY)
    assert facts_now(scene).registered is True


def test_repairs_done_elsewhere_stand_beside_our_own(scene: Scene) -> None:
    earlier, later = scene.today - 40 * DAY, scene.today - 2 * DAY
    record(scene, repairs_elsewhere=[
        {"day": later.isoformat(), "components": ["fuel_line"], "done_by": "other_shop", "under": ""},
        {"day": earlier, "components": ["piston"], "done_by": "owner", "hours": "12.5", "new_part": True},
    ])  # fmt: skip
    told = facts_now(scene).repairs
    assert [(one.day, one.components, one.done_by) for one in told] == [
        (earlier, ("piston",), "owner"), (later, ("fuel_line",), "other_shop"),
    ]  # fmt: skip
    assert (told[0].hours, told[0].new_part, told[1].under) == (Decimal("12.5"), True, "")
    before = unit_facts(order=order_to_decide(scene.order), as_of=scene.today - 10 * DAY)
    assert [one.day for one in before.repairs or ()] == [earlier]


def test_a_decision_keeps_the_circumstances_it_was_made_on(scene: Scene) -> None:
    scene.module.cause = "fuel_oil"
    scene.module.save()
    open_row = decide_order(shop=scene.shop, by=scene.owner, order=scene.order)[0]
    assert open_row.answer == "cannot_say_yet"
    record(scene, fuel="stale", findings={str(scene.module.pk): {"done_by": "owner"}})
    settled = decide_order(shop=scene.shop, by=scene.owner, order=scene.order)[0]
    assert settled.answer == "not_covered"
    record(scene, 1, fuel="e10", manual_forbids_fuel=False)
    unit, _, _, _ = frozen_inputs(settled.facts)
    assert unit.fuel == "stale"
    assert stands(settled) and stands(open_row)


def test_dates_are_calendar_dates(scene: Scene) -> None:
    type(scene.unit).objects.filter(pk=scene.unit.pk).update(sale_kind="used", build_date=dt.date(2024, 2, 29))
    scene.order.refresh_from_db()
    with pytest.raises(Refused, match="before the unit's build date"):
        record(scene, first_sold_on="2024-02-28")
    record(scene, first_sold_on="2024-02-29")
    assert facts_now(scene).sold_on == dt.date(2024, 2, 29)


def test_what_an_own_order_does_not_tell_of_a_repair_is_told_by_its_job(scene: Scene, finished_job: Job) -> None:
    scene.order.state = "given_back"
    scene.order.save()
    visit = type(scene.order).objects.create(
        shop=scene.shop, number="RO-2", unit=scene.unit, customer=scene.customer, received_on=scene.today,
        complaint="The same again.", taken_in_by=scene.owner.user,
    )  # fmt: skip
    key = str(finished_job.pk)
    given: dict[str, Any] = {"shop": scene.shop, "by": scene.owner, "order": visit, "version": 0}
    record_circumstances(**given, changes={"own_repairs": {key: {"under": "korlind-2y", "hours": "12.5"}}})
    (told,) = unit_facts(order=order_to_decide(visit), as_of=scene.today).repairs or ()
    assert (told.under, told.hours, told.part_maker, told.new_part) == ("korlind-2y", Decimal("12.5"), "Korlind", True)
    with pytest.raises(Refused, match="no job that was done here") as refusal:
        record_circumstances(**given | {"version": 1}, changes={"own_repairs": {str(uuid.uuid4()): {"under": ""}}})
    assert refusal.value.problems[0].field.startswith("own_repairs.")
    with pytest.raises(Refused, match="not known here"):
        record_circumstances(**given | {"version": 1}, changes={"own_repairs": {key: {"colour": "red"}}})
