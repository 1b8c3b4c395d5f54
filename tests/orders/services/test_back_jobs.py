"""Jobs and their lines: from findings or the request, the guide by model and family, and who pays."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

import pytest

from orders.models import Hold, Job, JobLabour, JobPart, LabourOperation, MachineModel, Part, RepairOrder
from orders.services.bench import fit_part, strike_job
from orders.services.estimates import issue_estimate
from orders.services.fees import add_fee, remove_fee
from orders.services.findings import update_finding
from orders.services.jobs import add_job, change_job, propose_again, set_payer_basis
from orders.services.lines import add_labour, add_part, change_labour, change_part, remove_part
from orders.services.order_sheet import repair_order_sheet
from orders.services.time import clock_in
from shopdocs.rest.refusals import Conflict, Missing, NotYours, Refused, Stale
from shopdocs.shops.models import Event, Shop, Staff
from tests.orders.back_kit import a_finding, agreed, another_order, answered, season_service, set_rates, sharpening

pytestmark = pytest.mark.django_db
D = Decimal


def operation(shop: Shop, hours: str, **where: Any) -> LabourOperation:
    return LabourOperation.objects.create(shop=shop, code="CARB-1", words="Clean carburettor", hours=D(hours), **where)


def test_a_job_takes_title_and_cause_from_its_findings(shop: Shop, technician: Staff, order: RepairOrder) -> None:
    found = a_finding(shop, technician, order)
    job = add_job(shop=shop, by=technician, order_id=order.pk, findings=[found.pk])
    assert job.title == "fuel line: cracked"
    assert job.cause
    assert list(job.findings.all()) == [found]
    assert (job.number, job.state, job.payer) == (1, "proposed", "customer")


def test_a_title_from_findings_is_in_the_shops_language_and_a_cause_is_left_to_each_paper(
    shop: Shop, technician: Staff, order: RepairOrder
) -> None:
    shop.language = "es-MX"
    found = a_finding(shop, technician, order, cause="wear")
    job = add_job(shop=shop, by=technician, order_id=order.pk, findings=[found.pk])
    assert (job.title, job.cause) == ("tubo de combustible: con grietas", "normal wear")
    for language, cause in (("es", "Desgaste normal"), ("en", "Normal wear")):
        assert [told.cause for told in repair_order_sheet(RepairOrder.objects.get(pk=order.pk), language).jobs] == [
            cause
        ]


def test_a_finding_of_another_order_is_refused_and_nothing_is_written(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    other = another_order(shop, owner, order)
    foreign = a_finding(shop, owner, other)
    with pytest.raises(Refused) as refusal:
        season_service(shop, owner, order, findings=[foreign.pk])
    assert refusal.value.problems[0].field == "findings[0]"
    assert "another order" in refusal.value.problems[0].problem
    with pytest.raises(Refused):
        season_service(shop, owner, order, findings=[uuid.uuid4()])
    assert not Job.objects.exists()
    assert not JobLabour.objects.exists()


def test_guide_time_is_the_models_then_the_familys_then_everybodys(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    job = sharpening(shop, owner, order)

    def hours() -> Decimal:
        return add_labour(shop=shop, by=owner, job_id=job.pk, code="CARB-1").hours

    with pytest.raises(Refused, match="no operation 'CARB-1'"):
        hours()
    operation(shop, "0.9")
    assert hours() == D("0.9")
    # The table holds one operation of a code without a model, so the family's takes the general one's place.
    LabourOperation.objects.update(family="saw", hours=D("0.7"))
    assert hours() == D("0.7")
    operation(shop, "0.6", model=order.unit.model)
    assert hours() == D("0.6")


def test_an_operation_of_another_model_or_family_is_refused(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    job = sharpening(shop, owner, order)
    mower = MachineModel.objects.create(
        shop=shop, maker=order.unit.model.maker, name="MW 1", family="mower", power_source="four_stroke"
    )
    for wrong in (operation(shop, "0.5", model=mower), operation(shop, "0.5", family="mower")):
        with pytest.raises(Refused, match="another machine"):
            add_labour(shop=shop, by=owner, job_id=job.pk, operation=wrong.pk)
    with pytest.raises(Refused, match="no operation"):
        add_labour(shop=shop, by=owner, job_id=job.pk, code="CARB-1")


@pytest.mark.parametrize(
    "hours", ["0", "-0.1", "25", "24.1", "NaN", "Infinity", "0.55", "1e400", "two", 0.5, True, None]
)
def test_hours_that_cannot_be_are_refused(shop: Shop, owner: Staff, order: RepairOrder, hours: Any) -> None:
    value = D(hours) if hours in ("NaN", "Infinity", "1e400") else hours
    with pytest.raises(Refused) as refusal:
        sharpening(shop, owner, order, labour=[{"words": "Sharpen", "hours": value}])
    assert refusal.value.problems[0].field == "labour[0].hours"
    assert not Job.objects.exists()


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("unit_price", D("6.123456789")), ("unit_price", D("-1")), ("unit_price", D("NaN")), ("unit_price", "cheap"),
        ("quantity", D(0)), ("quantity", D("-2")), ("quantity", D("0.0001")), ("quantity", D("Infinity")),
    ],
)  # fmt: skip
def test_parts_that_cannot_be_are_refused(shop: Shop, owner: Staff, order: RepairOrder, field: str, value: Any) -> None:
    part = {"words": "Spark plug", "unit_price": D("6.25"), field: value}
    with pytest.raises(Refused) as refusal:
        season_service(shop, owner, order, parts=[part])
    assert refusal.value.problems[0].field == f"parts[0].{field}"
    assert not Job.objects.exists()
    assert not JobPart.objects.exists()


def test_a_catalogue_part_brings_number_words_price_and_cost(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    part = Part.objects.create(shop=shop, number="P-7", words="Filter", list_price=D("14.95"), cost=D("8.10"))
    job = sharpening(shop, owner, order)
    line = add_part(shop=shop, by=owner, job_id=job.pk, part=part.pk, quantity=D("1.5"))
    assert (line.number, line.words, line.unit_price, line.unit_cost) == ("P-7", "Filter", D("14.95"), D("8.10"))


def test_another_shops_part_or_operation_does_not_exist_here(
    shop: Shop, other_shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    job = sharpening(shop, owner, order)
    part = Part.objects.create(shop=other_shop, number="P-7", words="Filter", list_price=D("14.95"))
    theirs = operation(other_shop, "0.5")
    with pytest.raises(Refused, match="No such record"):
        add_part(shop=shop, by=owner, job_id=job.pk, part=part.pk)
    with pytest.raises(Refused, match="No such record"):
        add_labour(shop=shop, by=owner, job_id=job.pk, operation=theirs.pk)
    with pytest.raises(Missing):
        add_part(shop=other_shop, by=owner, job_id=job.pk, words="Plug", unit_price=D(1))


def test_an_unknown_payer_and_an_empty_job_are_refused(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    with pytest.raises(Refused, match="not a payer"):
        season_service(shop, owner, order, payer="insurance")
    with pytest.raises(Refused, match="no title and no finding"):
        add_job(shop=shop, by=owner, order_id=order.pk)


def test_the_payer_is_the_counters_to_say(shop: Shop, writer: Staff, technician: Staff, order: RepairOrder) -> None:
    with pytest.raises(NotYours):
        season_service(shop, technician, order, payer="goodwill")
    job = season_service(shop, technician, order)
    with pytest.raises(NotYours):
        change_job(shop=shop, by=technician, job_id=job.pk, version=1, changes={"payer": "shop"})
    assert change_job(shop=shop, by=technician, job_id=job.pk, version=1, changes={"cause": "worn"}).cause == "worn"
    assert change_job(shop=shop, by=writer, job_id=job.pk, version=2, changes={"payer": "shop"}).payer == "shop"


def test_two_people_saving_one_job_the_second_is_told_what_changed(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    job = season_service(shop, owner, order)
    change_job(shop=shop, by=owner, job_id=job.pk, version=job.version, changes={"title": "Season service, saw"})
    with pytest.raises(Stale) as stale:
        change_job(shop=shop, by=owner, job_id=job.pk, version=job.version, changes={"title": "Mine"})
    assert stale.value.extra == {"current_version": 2, "changed": {"title": "Season service, saw"}}
    line = job.labour.get()
    change_labour(shop=shop, by=owner, labour_id=line.pk, version=1, hours=D("0.9"))
    with pytest.raises(Stale):
        change_labour(shop=shop, by=owner, labour_id=line.pk, version=1, hours=D("0.5"))
    assert job.labour.get().hours == D("0.9")


def test_warranty_sets_payer_and_basis_and_takes_it_back(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    job = season_service(shop, owner, order)
    covered = set_payer_basis(job=job, kind="decision", id="d-1", words="two-year promise", hash="ab" * 32, by=owner)
    assert (covered.payer, covered.basis_kind, covered.basis_id) == ("warranty", "decision", "d-1")
    assert (covered.basis_words, covered.basis_hash) == ("two-year promise", "ab" * 32)
    assert Event.objects.filter(subject=job.subject, verb="payer set", facts__id="d-1").count() == 1
    with pytest.raises(Refused) as refusal:
        set_payer_basis(job=job, kind="decision", id="d-1", words="x" * 501, hash="")
    assert refusal.value.problems[0].field == "words"
    back = set_payer_basis(job=job, kind="", id="", words="", hash="", payer="customer")
    assert (back.payer, back.basis_words, back.basis_hash) == ("customer", "", "")


def test_a_bill_that_moves_to_the_customer_needs_a_new_answer(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    job = season_service(shop, owner, order)
    ground = {"kind": "decision", "id": "d-1", "words": "two-year promise", "hash": "0" * 64}
    set_payer_basis(job=job, by=owner, **ground)
    agreed(shop, owner, order)
    assert Job.objects.get(pk=job.pk).state == "agreed"
    moved = change_job(
        shop=shop, by=owner, job_id=job.pk, version=Job.objects.get(pk=job.pk).version, changes={"payer": "customer"}
    )
    assert moved.state == "proposed"
    assert set_payer_basis(job=moved, by=owner, **ground).state == "agreed"


@pytest.mark.parametrize("door", ["new job", "change"])
def test_a_warranty_pays_only_on_a_ground(shop: Shop, owner: Staff, order: RepairOrder, door: str) -> None:
    set_rates(shop)
    job = season_service(shop, owner, order)
    with pytest.raises(Refused, match="only where a decision says so"):
        if door == "new job":
            season_service(shop, owner, order, payer="warranty")
        else:
            change_job(shop=shop, by=owner, job_id=job.pk, version=job.version, changes={"payer": "warranty"})
    assert [one.payer for one in Job.objects.for_shop(shop)] == ["customer"]


def test_more_than_agreed_is_a_new_proposal_and_less_is_not(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    job = season_service(shop, owner, order)
    agreed(shop, owner, order)
    plug = job.parts.get()

    def state() -> str:
        return str(Job.objects.get(pk=job.pk).state)

    extra = add_part(shop=shop, by=owner, job_id=job.pk, words="Filter", unit_price=D("3"))
    assert state() == "proposed"
    remove_part(shop=shop, by=owner, part_id=extra.pk)
    assert state() == "agreed"
    dearer = change_part(shop=shop, by=owner, part_id=plug.pk, version=1, changes={"unit_price": D("6.26")})
    assert state() == "proposed"
    change_part(shop=shop, by=owner, part_id=plug.pk, version=dearer.version, changes={"unit_price": D("5")})
    assert state() == "agreed"
    change_labour(shop=shop, by=owner, labour_id=job.labour.get().pk, version=1, hours=D("0.9"))
    assert state() == "proposed"


def test_a_finished_order_and_an_ended_job_are_not_changed(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    job = season_service(shop, owner, order)
    strike_job(shop=shop, by=owner, job_id=job.pk, reason="not wanted after all")
    with pytest.raises(Conflict, match="struck"):
        add_part(shop=shop, by=owner, job_id=job.pk, words="Filter", unit_price=D("3"))
    other = sharpening(shop, owner, order)
    RepairOrder.objects.filter(pk=order.pk).update(state="finished")
    for forbidden in (
        lambda: season_service(shop, owner, order),
        lambda: change_job(shop=shop, by=owner, job_id=other.pk, version=1, changes={"title": "x"}),
        lambda: add_labour(shop=shop, by=owner, job_id=other.pk, words="x", hours=D("0.1")),
        lambda: set_payer_basis(job=other, kind="k", id="1", words="w", hash="h"),
        lambda: strike_job(shop=shop, by=owner, job_id=other.pk, reason="x"),
    ):
        with pytest.raises(Conflict, match="closed"):
            forbidden()
    assert Job.objects.filter(order=order).count() == 2


def test_a_finding_named_twice_or_standing_in_another_job(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    found = a_finding(shop, owner, order)
    with pytest.raises(Refused) as doubled:
        sharpening(shop, owner, order, findings=[found.pk, found.pk])
    assert doubled.value.problems[0].field == "findings[1]" and "twice" in doubled.value.problems[0].problem
    first = sharpening(shop, owner, order, findings=[found.pk])
    with pytest.raises(Conflict) as again:
        sharpening(shop, owner, order, findings=[found.pk])
    assert "stands in job 1 already" in again.value.problems[0].problem
    assert Job.objects.count() == 1
    assert list(sharpening(shop, owner, order, findings=[found.pk], share_findings=True).findings.all()) == [found]
    for state in ("declined", "struck"):
        Job.objects.filter(pk__in=(first.pk, Job.objects.get(number=2).pk)).update(state=state)
        Job.objects.filter(number__gt=2).delete()
        assert sharpening(shop, owner, order, findings=[found.pk]).number == 3


@pytest.mark.parametrize("field", ["title", "complaint", "cause", "why_now", "if_not"])
def test_other_words_than_the_customer_agreed_to_ask_again(
    shop: Shop, owner: Staff, order: RepairOrder, field: str
) -> None:
    set_rates(shop)
    job = season_service(
        shop, owner, order, complaint="hard to start", cause="old plug", why_now="It floods.", if_not="No start."
    )
    agreed(shop, owner, order)
    before = str(getattr(job, field))
    changed = change_job(shop=shop, by=owner, job_id=job.pk, version=1, changes={field: "Replace the engine"})
    assert changed.state == "proposed"
    with pytest.raises(Conflict):
        fit_part(shop=shop, by=owner, part_id=job.parts.get().pk)
    assert change_job(shop=shop, by=owner, job_id=job.pk, version=2, changes={field: before}).state == "agreed"
    sharpening(shop, owner, order)
    second = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    change_job(shop=shop, by=owner, job_id=job.pk, version=3, changes={field: "Replace the engine"})
    with pytest.raises(Conflict, match="changed since"):
        answered(shop, owner, second, {job.pk: True})
    agreed(shop, owner, order)
    assert Job.objects.get(pk=job.pk).state == "agreed"


def test_what_was_left_empty_and_the_correction_are_the_benchs_to_write(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    set_rates(shop)
    job = season_service(shop, owner, order)
    agreed(shop, owner, order)
    said = {"cause": "old plug", "complaint": "none", "correction": "new plug"}
    assert change_job(shop=shop, by=owner, job_id=job.pk, version=1, changes=said).state == "agreed"


def test_words_are_not_within_the_shops_own_tolerance(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    shop.own_overrun_percent = D(50)
    shop.save()
    job = season_service(shop, owner, order)
    agreed(shop, owner, order)
    changed = change_job(shop=shop, by=owner, job_id=job.pk, version=1, changes={"title": "Replace the engine"})
    assert changed.state == "proposed"


def test_declining_stops_the_clocks_that_run_on_the_job(
    shop: Shop, owner: Staff, technician: Staff, order: RepairOrder
) -> None:
    set_rates(shop)
    job, other = season_service(shop, owner, order), sharpening(shop, owner, order)
    clock_in(shop=shop, by=technician, job_id=job.pk)
    clock_in(shop=shop, by=owner, job_id=other.pk)
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    answered(shop, owner, estimate, {job.pk: False, other.pk: True})
    stopped = job.time_entries.get()
    assert stopped.ended_at is not None and "declined" in stopped.note and stopped.version == 2
    assert other.time_entries.get().ended_at is None
    assert Event.objects.filter(subject=job.subject, verb="clock stopped").count() == 1
    assert clock_in(shop=shop, by=technician, job_id=other.pk).job_id == other.pk


@pytest.fixture
def agreed_on_a_finding(shop: Shop, owner: Staff, order: RepairOrder) -> Job:
    """A job that the customer agreed to: a finding, a discount, a fee, the customer pays."""
    set_rates(shop)
    found = a_finding(shop, owner, order, note="weeps at the clip", measured=D("1.9"), measured_unit="mm")
    job = sharpening(shop, owner, order, findings=[found.pk])
    add_fee(shop=shop, by=owner, job_id=job.pk, kind="disposal", words="Old fuel", amount=D("3"))
    charges = {"discount_percent": D("10"), "discount_words": "Crew"}
    change_job(shop=shop, by=owner, job_id=job.pk, version=1, changes=charges)
    agreed(shop, owner, order)
    return Job.objects.get(pk=job.pk)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("component", "fuel_tank"), ("condition", "leaks"), ("cause", "impact"), ("measured", D("0.2")),
        ("note", "all good"),
    ],
)  # fmt: skip
def test_another_diagnosis_than_the_customer_agreed_to_asks_again(
    shop: Shop, owner: Staff, agreed_on_a_finding: Job, field: str, value: Any
) -> None:
    job = agreed_on_a_finding
    finding = job.findings.get()
    before = getattr(finding, field)
    update_finding(shop=shop, by=owner, pk=finding.pk, version=1, changes={field: value})
    assert Job.objects.get(pk=job.pk).state == "proposed"
    told = Event.objects.get(subject=job.subject, verb="finding changed")
    assert told.words == "finding 1 (now proposed: needs a new version of the estimate)"
    update_finding(shop=shop, by=owner, pk=finding.pk, version=2, changes={field: before})
    assert Job.objects.get(pk=job.pk).state == "agreed"
    estimate = issue_estimate(shop=shop, by=owner, order_id=job.order_id)
    update_finding(shop=shop, by=owner, pk=finding.pk, version=3, changes={field: value})
    with pytest.raises(Conflict, match="changed since"):
        answered(shop, owner, estimate, {job.pk: True})


def test_what_the_customer_did_not_read_of_a_finding_asks_nobody(
    shop: Shop, owner: Staff, agreed_on_a_finding: Job
) -> None:
    job = agreed_on_a_finding
    changes = {"signs": ["smells of fuel"], "unsafe": True}
    update_finding(shop=shop, by=owner, pk=job.findings.get().pk, version=1, changes=changes)
    assert Job.objects.get(pk=job.pk).state == "agreed" and Hold.objects.count() == 1


def test_a_danger_that_is_none_any_more_asks_again_whether_to_mend_it(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    set_rates(shop)
    found = a_finding(shop, owner, order, component="saw_chain", condition="dull", unsafe=True)
    job = sharpening(shop, owner, order, findings=[found.pk])
    agreed(shop, owner, order)
    update_finding(shop=shop, by=owner, pk=found.pk, version=1, changes={"unsafe": False}, reason="a scratch")
    assert Job.objects.get(pk=job.pk).state == "proposed"


@pytest.mark.parametrize("state", ["declined", "done", "struck"])
def test_a_corrected_finding_wakes_no_job_that_has_ended(
    shop: Shop, owner: Staff, agreed_on_a_finding: Job, state: str
) -> None:
    job = agreed_on_a_finding
    Job.objects.filter(pk=job.pk).update(state=state)
    update_finding(shop=shop, by=owner, pk=job.findings.get().pk, version=1, changes={"note": "x"})
    assert Job.objects.get(pk=job.pk).state == state


@pytest.mark.parametrize(
    ("changes", "state"),
    [
        ({"discount_percent": D("5")}, "proposed"),
        ({"discount_percent": D("15")}, "agreed"),
        ({"discount_words": "Spring"}, "proposed"),
        ({"discount_percent": None, "discount_amount": D("1")}, "proposed"),
        ({"payer": "shop"}, "agreed"),
        ({"allowed_hours": D("0.2")}, "agreed"),
        ({"correction": "line replaced"}, "agreed"),
    ],
)
def test_charges_beside_those_that_the_customer_agreed_to(
    shop: Shop, owner: Staff, agreed_on_a_finding: Job, changes: dict[str, Any], state: str
) -> None:
    job = agreed_on_a_finding
    assert change_job(shop=shop, by=owner, job_id=job.pk, version=job.version, changes=changes).state == state


def test_fees_and_the_payer_beside_those_that_the_customer_agreed_to(
    shop: Shop, owner: Staff, agreed_on_a_finding: Job
) -> None:
    job = agreed_on_a_finding
    fee = add_fee(shop=shop, by=owner, job_id=job.pk, kind="freight", words="Parcel", amount=D("9"))
    assert Job.objects.get(pk=job.pk).state == "proposed"
    remove_fee(shop=shop, by=owner, fee_id=fee.pk)
    assert Job.objects.get(pk=job.pk).state == "agreed"
    remove_fee(shop=shop, by=owner, fee_id=job.fees.get().pk)
    assert Job.objects.get(pk=job.pk).state == "agreed", "less than was agreed is within it"


def test_a_bill_that_moves_to_the_customer_asks_again(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    job = sharpening(shop, owner, order, payer="shop")
    agreed(shop, owner, order)
    assert change_job(shop=shop, by=owner, job_id=job.pk, version=1, changes={"payer": "customer"}).state == "proposed"


@pytest.fixture
def replaced(shop: Shop, owner: Staff, order: RepairOrder) -> Job:
    """A declined job whose finding stands in another job by now."""
    set_rates(shop)
    found = a_finding(shop, owner, order)
    job = season_service(shop, owner, order, findings=[found.pk])
    answered(shop, owner, issue_estimate(shop=shop, by=owner, order_id=order.pk), {job.pk: False})
    sharpening(shop, owner, order, findings=[found.pk])
    return Job.objects.get(pk=job.pk)


def wake_by_a_part(shop: Shop, by: Staff, job: Job) -> None:
    add_part(shop=shop, by=by, job_id=job.pk, words="Filter", unit_price=D("4"))


def wake_by_a_fee(shop: Shop, by: Staff, job: Job) -> None:
    add_fee(shop=shop, by=by, job_id=job.pk, kind="fee", words="Parcel", amount=D("4"))


def wake_by_the_payer(shop: Shop, by: Staff, job: Job) -> None:
    change_job(shop=shop, by=by, job_id=job.pk, version=job.version, changes={"payer": "shop"})


def wake_on_purpose(shop: Shop, by: Staff, job: Job) -> None:
    propose_again(shop=shop, by=by, job_id=job.pk)


@pytest.mark.parametrize("wake", [wake_by_a_part, wake_by_a_fee, wake_by_the_payer, wake_on_purpose])
def test_a_declined_job_comes_back_beside_none_that_mends_the_same(
    shop: Shop, owner: Staff, replaced: Job, wake: Any
) -> None:
    with pytest.raises(Conflict) as refusal:
        wake(shop, owner, replaced)
    assert "stands in job 2 already" in refusal.value.problems[0].problem
    job = Job.objects.get(pk=replaced.pk)
    assert (job.state, job.payer, job.parts.count(), job.fees.count()) == ("declined", "customer", 1, 0)
    assert propose_again(shop=shop, by=owner, job_id=job.pk, share_findings=True).state == "proposed"
    assert Event.objects.get(verb="proposed again").facts == {"share_findings": True}


@pytest.mark.parametrize("wake", [wake_by_a_part, wake_on_purpose])
def test_a_declined_job_comes_back_when_nothing_else_mends_the_same(
    shop: Shop, owner: Staff, replaced: Job, wake: Any
) -> None:
    strike_job(shop=shop, by=owner, job_id=Job.objects.get(number=2).pk, reason="not needed")
    wake(shop, owner, replaced)
    assert Job.objects.get(pk=replaced.pk).state == "proposed"
