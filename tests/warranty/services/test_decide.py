"""Deciding an order: the engine's answer from the shop's records, frozen, and the same again from the frozen facts."""

from __future__ import annotations

import datetime as dt
import json
from decimal import Decimal
from typing import Any

import pytest

from orders.models import Finding, Job, RepairOrder
from shopdocs.rest.refusals import Conflict, NotYours, Refused
from shopdocs.shops.models import Staff
from tests.warranty.scene import DAY, Scene, reading
from warranty.models import CoverageDecision, TermCopy
from warranty.services.basis import set_job_payer_from_decision
from warranty.services.circumstances import record_circumstances
from warranty.services.decide import decide_order, frozen_inputs, recompute, stands
from warranty.services.decision_words import explanation, frozen_record
from warranty.services.facts import finding_facts, order_to_decide, unit_facts
from warranty.services.terms import record_term, statutory_terms

pytestmark = pytest.mark.django_db

PROMISE: dict[str, Any] = {
    "id": "korlind-house", "version": 1, "title": "Korlind household promise", "giver": "maker", "giver_name": "Korlind",
    "source": {"cite": "Korlind card", "edition": "2026", "address": "in the box", "confidence": "invented"},
    "components": {"all": True}, "period": {"months": 24}, "use_classes": ["residential"],
    "requires": {"proof": ["receipt", "registration"]},
}  # fmt: skip


def decided(scene: Scene, **given: Any) -> CoverageDecision:
    return decide_order(shop=scene.shop, by=scene.owner, order=scene.order, **given)[0]


def test_a_defect_inside_the_makers_promise_is_covered(scene: Scene) -> None:
    record_term(shop=scene.shop, by=scene.owner, term=PROMISE, maker=scene.maker.pk)
    row = decided(scene)
    record = json.loads(row.decision)
    assert row.answer == "covered"
    assert "korlind-house" in record["by"]
    tried = next(one for one in record["tried"] if one["term"] == "korlind-house")
    bought = scene.unit.purchased_on
    assert (tried["starts_on"], tried["anniversary_inside"]) == (bought.isoformat(), True)
    assert tried["last_day"] == bought.replace(year=bought.year + 2).isoformat()
    assert any("advice" in line for line in explanation(row))


def test_the_stored_answer_recomputes_from_the_stored_facts(scene: Scene) -> None:
    term = record_term(shop=scene.shop, by=scene.owner, term=PROMISE, maker=scene.maker.pk)
    row = decided(scene)
    assert stands(row)
    scene.module.cause = "impact"
    scene.module.save()
    scene.maker.name = "Renamed"
    scene.maker.save()
    type(scene.unit).objects.filter(pk=scene.unit.pk).update(purchased_on=dt.date(2001, 1, 1), use_class="rental")
    term.delete()
    again = CoverageDecision.objects.for_shop(scene.shop).get(pk=row.pk)
    assert recompute(again) == row.decision
    assert stands(again)
    again.decision = again.decision.replace("korlind", "korlund")
    assert not stands(again)
    again.decision, again.sha256 = row.decision, "0" * 64
    assert not stands(again)


def test_frozen_facts_are_the_facts(scene: Scene) -> None:
    reading(scene, "41.5")
    type(scene.unit).objects.filter(pk=scene.unit.pk).update(has_hour_meter=True)
    row = decided(scene)
    unit, findings, terms, defects = frozen_inputs(row.facts)
    order = order_to_decide(scene.order)
    assert unit == unit_facts(order=order, as_of=scene.today)
    assert findings == finding_facts(order=order)
    assert set(terms) == set(statutory_terms())
    assert defects == []
    assert unit.hours == Decimal("41.5")


def test_hours_that_were_read_count_whatever_is_said_of_the_meter(scene: Scene) -> None:
    reading(scene, "900")
    type(scene.unit).objects.filter(pk=scene.unit.pk).update(has_hour_meter=False)
    told = unit_facts(order=order_to_decide(scene.order), as_of=scene.today)
    assert (told.hours, told.hour_meter, told.meter_changes) == (Decimal(900), True, ())


def test_terms_are_kept_once(scene: Scene) -> None:
    decided(scene)
    count = TermCopy.objects.for_shop(scene.shop).count()
    assert count == len(statutory_terms())
    decided(scene)
    assert TermCopy.objects.for_shop(scene.shop).count() == count


def test_an_order_without_findings_has_nothing_to_decide(scene: Scene) -> None:
    scene.job.findings.clear()
    scene.module.delete()
    with pytest.raises(Conflict, match="no finding yet"):
        decided(scene)
    with_finding = CoverageDecision.objects.for_shop(scene.shop)
    assert not with_finding.exists()


def test_unknown_facts_stay_unknown(scene: Scene) -> None:
    unit = scene.unit
    unit.use_class, unit.first_owner, unit.modified, unit.use_region, unit.sale_kind = "", None, None, "", "unknown"
    unit.purchased_on = None
    unit.save()
    unit.proofs.all().delete()
    facts = unit_facts(order=order_to_decide(scene.order), as_of=scene.today)
    for name in (
        "use_class",
        "owner",
        "modified",
        "region",
        "sale_kind",
        "sold_on",
        "purchase_proof",
        "miles_to_centre",
    ):
        assert getattr(facts, name) is None, name


@pytest.mark.parametrize(
    ("typed", "region"),
    [("California", "US-CA"), ("Ontario", "CA-ON"), ("CA", "US-CA"), ("Calif.", None), ("ON", None)],
)
def test_a_region_that_is_no_known_code_is_not_known(scene: Scene, typed: str, region: str | None) -> None:
    type(scene.unit).objects.filter(pk=scene.unit.pk).update(use_region=typed)
    assert unit_facts(order=order_to_decide(scene.order), as_of=scene.today).region == region


def test_a_proof_of_another_day_proves_nothing(scene: Scene) -> None:
    scene.unit.proofs.update(shows_date=scene.unit.purchased_on + DAY)
    facts = unit_facts(order=order_to_decide(scene.order), as_of=scene.today)
    assert (facts.sold_on, facts.purchase_proof) == (scene.unit.purchased_on, None)


def test_a_changed_meter_and_the_reading_of_the_day(scene: Scene) -> None:
    reading(scene, "120.0", read_on=scene.today - 90 * DAY)
    reading(scene, "2.0", read_on=scene.today - 40 * DAY, meter_changed=True, hours_before_change=Decimal("150.0"))
    last = reading(scene, "9.5", read_on=scene.today - 6 * DAY)
    type(scene.unit).objects.filter(pk=scene.unit.pk).update(has_hour_meter=True)
    scene.order.reading = last
    scene.order.save()
    order = order_to_decide(scene.order)
    now = unit_facts(order=order, as_of=scene.today)
    assert now.hours == Decimal("9.5")
    assert [(c.removed_at, c.fitted_at) for c in now.meter_changes or ()] == [(Decimal("150.0"), Decimal("2.0"))]
    before = unit_facts(order=order, as_of=scene.today - 60 * DAY)
    assert (before.hours, before.meter_changes) == (Decimal("120.0"), ())


def second(scene: Scene, **given: Any) -> Finding:
    facts: dict[str, Any] = {
        "number": 2, "component": "engine_cover", "condition": "cracked", "cause": "impact", "by": scene.owner.user,
        "found_on": scene.today - 5 * DAY,
    }  # fmt: skip
    return Finding.objects.create(shop=scene.shop, order=scene.order, **(facts | given))


def test_a_link_is_told_and_that_there_is_none_only_when_it_was_signed_off(scene: Scene) -> None:
    other = second(scene, caused_by=scene.module)
    unsure = second(scene, number=3, cause="unknown")

    def facts() -> dict[str, Any]:
        return {one.id: one for one in finding_facts(order=order_to_decide(scene.order))}

    assert facts()[str(scene.module.pk)].caused_by is None, "an empty link is not known, whatever the cause"
    assert facts()[str(other.pk)].caused_by == str(scene.module.pk)
    assert (facts()[str(unsure.pk)].cause, facts()[str(unsure.pk)].caused_by) == (None, None)
    signed = {"findings": {str(scene.module.pk): {"stands_alone": True}}}
    record_circumstances(shop=scene.shop, by=scene.owner, order=scene.order, version=0, changes=signed)
    assert facts()[str(scene.module.pk)].caused_by == "none"


def test_covered_sets_warranty_with_its_ground(scene: Scene) -> None:
    record_term(shop=scene.shop, by=scene.owner, term=PROMISE, maker=scene.maker.pk)
    row = decided(scene)
    job = set_job_payer_from_decision(shop=scene.shop, by=scene.owner, job=scene.job, decision=row)
    assert (job.payer, job.basis_kind, job.basis_id, job.basis_hash) == (
        "warranty",
        "coverage_decision",
        str(row.pk),
        row.sha256,
    )
    assert job.basis_words.startswith("Federal emission warranty, exhaust side (our advice, as of ")
    assert str(scene.today.year) in job.basis_words and scene.today.isoformat() not in job.basis_words


def test_the_ground_names_a_law_in_the_customers_language(scene: Scene) -> None:
    scene.order.customer.language = "es"
    scene.order.customer.save()
    job = set_job_payer_from_decision(shop=scene.shop, by=scene.owner, job=scene.job, decision=decided(scene))
    assert job.basis_words.startswith("Garantía federal de emisiones, parte de escape (nuestra opinión, a fecha de ")


def test_not_covered_is_never_set_to_warranty(scene: Scene) -> None:
    scene.module.cause = "wear"
    scene.module.save()
    row = decided(scene)
    assert row.answer == "not_covered"
    with pytest.raises(Conflict, match="'not covered'"):
        set_job_payer_from_decision(shop=scene.shop, by=scene.owner, job=scene.job, decision=row, note="please")
    assert Job.objects.for_shop(scene.shop).get(pk=scene.job.pk).payer == "customer"


def test_doubt_needs_a_note_of_the_office(scene: Scene, writer: Staff, office: Staff) -> None:
    scene.module.cause = "unknown"
    scene.module.save()
    row = decided(scene)
    assert row.answer == "cannot_say_yet"
    with pytest.raises(Conflict, match="cannot be said yet"):
        set_job_payer_from_decision(shop=scene.shop, by=office, job=scene.job, decision=row)
    with pytest.raises(NotYours):
        set_job_payer_from_decision(shop=scene.shop, by=writer, job=scene.job, decision=row, note="trust me")
    job = set_job_payer_from_decision(
        shop=scene.shop, by=office, job=scene.job, decision=row, note="Korlind said yes by phone"
    )
    assert job.payer == "warranty"
    assert job.basis_words.endswith("Korlind said yes by phone")


@pytest.mark.parametrize(("work_by", "payer"), [("shop", "shop"), ("maker", "open")])
def test_covered_by_one_of_two_promises_is_the_shops_only_when_both_are(
    scene: Scene, office: Staff, work_by: str, payer: str
) -> None:
    """Which of them it is depends on the use, which nobody told."""
    for giver, uses in (("shop", ["residential"]), (work_by, ["commercial", "rental"])):
        term = {
            **PROMISE,
            "id": f"rope-{uses[0]}",
            "giver": giver,
            "use_classes": uses,
            "components": {"codes": ["starter_rope"]},
        }
        if giver == "shop":
            del term["giver_name"]
        record_term(shop=scene.shop, by=scene.owner, term=term, maker=scene.maker.pk if giver == "maker" else None)
    type(scene.module).objects.filter(pk=scene.module.pk).update(component="starter_rope")
    type(scene.unit).objects.filter(pk=scene.unit.pk).update(use_class="")
    row = decided(scene)
    assert (row.answer, frozen_record(row)["payer"]) == ("covered", payer)
    if payer == "open":
        with pytest.raises(Conflict, match="not known yet"):
            set_job_payer_from_decision(shop=scene.shop, by=office, job=scene.job, decision=row)
        said = set_job_payer_from_decision(
            shop=scene.shop, by=office, job=scene.job, decision=row, note="Rented out, by phone"
        )
        assert said.payer == "warranty"
    else:
        assert set_job_payer_from_decision(shop=scene.shop, by=office, job=scene.job, decision=row).payer == "shop"


def test_only_the_newest_decision_of_a_finding_of_the_job(scene: Scene) -> None:
    record_term(shop=scene.shop, by=scene.owner, term=PROMISE, maker=scene.maker.pk)
    old, new = decided(scene), decided(scene)
    with pytest.raises(Conflict, match="decided again"):
        set_job_payer_from_decision(shop=scene.shop, by=scene.owner, job=scene.job, decision=old)
    scene.job.findings.clear()
    with pytest.raises(Refused, match="no finding of this job"):
        set_job_payer_from_decision(shop=scene.shop, by=scene.owner, job=scene.job, decision=new)


def test_a_job_with_one_uncovered_finding_is_not_warranty(scene: Scene) -> None:
    record_term(shop=scene.shop, by=scene.owner, term=PROMISE, maker=scene.maker.pk)
    other = second(scene)
    scene.job.findings.add(other)
    signed = {"findings": {str(one.pk): {"stands_alone": True} for one in (scene.module, other)}}
    record_circumstances(shop=scene.shop, by=scene.owner, order=scene.order, version=0, changes=signed)
    rows = decide_order(shop=scene.shop, by=scene.owner, order=scene.order)
    with pytest.raises(Conflict, match="Finding 2"):
        set_job_payer_from_decision(shop=scene.shop, by=scene.owner, job=scene.job, decision=rows[0])


def test_a_renamed_maker_keeps_its_promises(scene: Scene) -> None:
    named = PROMISE | {"machines": {"makers": ["Korlind"]}}
    record_term(shop=scene.shop, by=scene.owner, term=named, maker=scene.maker.pk)
    scene.maker.name = "Korlind Works"
    scene.maker.save()
    row = decided(scene)
    assert "korlind-house" in json.loads(row.decision)["by"]
    assert stands(row)


def test_earlier_repairs_of_this_shop_are_told(scene: Scene, finished_job: Job) -> None:
    new = RepairOrder.objects.create(
        shop=scene.shop, number="RO-2", unit=scene.unit, customer=scene.customer, received_on=scene.today,
        complaint="Again.", taken_in_by=scene.owner.user,
    )  # fmt: skip
    (repair,) = unit_facts(order=order_to_decide(new), as_of=scene.today).repairs or ()
    assert (repair.day, repair.components, repair.done_by) == (scene.today - 2 * DAY, ("ignition_module",), "this_shop")
    assert (repair.under, repair.part_maker, repair.new_part) == ("korlind-2y", "Korlind", True)
    assert unit_facts(order=order_to_decide(new), as_of=scene.today - 3 * DAY).repairs == ()
    assert unit_facts(order=order_to_decide(scene.order), as_of=scene.today).repairs == ()
    Job.objects.for_shop(scene.shop).filter(pk=finished_job.pk).update(payer="customer")
    (paid,) = unit_facts(order=order_to_decide(new), as_of=scene.today).repairs or ()
    assert paid.under == ""


def test_many_findings_take_a_fixed_number_of_queries(scene: Scene, django_assert_max_num_queries: Any) -> None:
    for number in range(2, 40):
        second(scene, number=number)
    with django_assert_max_num_queries(40):
        assert len(decide_order(shop=scene.shop, by=scene.owner, order=scene.order)) == 39
