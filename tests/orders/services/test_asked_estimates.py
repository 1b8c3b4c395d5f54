"""What the customer wants by way of an estimate: recorded at check-in or later, printed on the form, kept to before work."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from orders.models import Customer, Estimate, Job, RepairOrder
from orders.rules.authorisation import Asked
from orders.services.asked_estimates import record_asked
from orders.services.authorised import compare, shown
from orders.services.binding_laws import law_notes
from orders.services.estimates import issue_estimate
from orders.services.legal_fields import order_legal_fields
from orders.services.lines import add_labour, add_part
from orders.services.order_sheet import repair_order_sheet
from orders.services.time import clock_in, clock_out, enter_time
from shopdocs.documents.models import Letter
from shopdocs.rest.refusals import Conflict, Refused, Stale
from shopdocs.shops.models import Event, Shop, Staff
from tests.orders.back_kit import PHONED, add_job, arrived_earlier, season_service, set_rates, sharpening, span

pytestmark = pytest.mark.django_db
D = Decimal
V1 = "/api/v1"


def said(shop: Shop, by: Staff, order: RepairOrder, asked: str, limit: str | None = None) -> RepairOrder:
    version = RepairOrder.objects.get(pk=order.pk).version
    told = None if limit is None else D(limit)
    record_asked(shop=shop, by=by, order_id=order.pk, version=version, estimate_asked=asked, estimate_limit=told)
    return RepairOrder.objects.get(pk=order.pk)


def test_the_rules_know_every_word_that_can_be_recorded() -> None:
    assert {"", *RepairOrder.EstimateAsked.values} == set(Asked)


def test_it_is_recorded_with_who_and_when_and_the_history_keeps_what_was_before(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    assert (order.estimate_asked, order.estimate_asked_at) == ("", None)
    first = said(shop, owner, order, "waived", "150.00")
    assert (first.estimate_asked, first.estimate_limit, first.estimate_asked_by) == ("waived", D("150"), owner.user)
    assert first.estimate_asked_at is not None
    then = said(shop, owner, order, "in_writing")
    assert (then.estimate_asked, then.estimate_limit) == ("in_writing", None)
    events = list(Event.objects.filter(verb="estimate wanted").order_by("at", "id"))
    assert [one.words for one in events] == ["wants no estimate, 150.00 USD told", "wants an estimate in writing"]
    assert events[1].facts["before"]["asked"] == "waived"
    with pytest.raises(Stale):
        record_asked(shop=shop, by=owner, order_id=order.pk, version=first.version, estimate_asked="orally")


@pytest.mark.parametrize(
    ("asked", "limit", "field"),
    [
        ("maybe", None, "estimate_asked"),
        ("", None, "estimate_asked"),
        ("in_writing", "10", "estimate_limit"),
        ("not_asked", "10", "estimate_limit"),
        ("waived", "0", "estimate_limit"),
        ("orally", "1.005", "estimate_limit"),
    ],
)
def test_what_makes_no_sense_is_refused(
    shop: Shop, owner: Staff, order: RepairOrder, asked: str, limit: str | None, field: str
) -> None:
    with pytest.raises(Refused) as refused:
        said(shop, owner, order, asked, limit)
    assert refused.value.problems[0].field == field
    assert RepairOrder.objects.get(pk=order.pk).estimate_asked == ""


def test_the_door_takes_it_and_shows_it(
    shop: Shop, order: RepairOrder, client: Any, api: Any, technician: Staff, strangers: dict[str, str]
) -> None:
    path = f"{V1}/orders/{order.pk}/estimate-asked/"
    body = {"version": order.version, "estimate_asked": "orally", "estimate_limit": "120.00"}
    assert api(technician).post(path, body, format="json").status_code == 403
    for wrong in ({"estimate_asked": "x"}, {"estimate_limit": "NaN"}, {"version": None}, {"limit": "1"}):
        answer = client.post(path, {**body, **wrong}, format="json")
        assert (answer.status_code, answer.json()["errors"][0]["field"]) == (400, next(iter(wrong)))
    got = client.post(path, body, format="json").json()
    assert (got["estimate_asked"], got["estimate_limit"]) == ("orally", "120.00")
    assert got["estimate_asked_by"] and got["estimate_asked_at"]
    assert client.post(path, body, format="json").status_code == 409
    stranger = f"{V1}/orders/{strangers['order']}/estimate-asked/"
    assert client.post(stranger, body, format="json").status_code == 404
    RepairOrder.objects.update(state="finished")
    late = client.post(path, {**body, "version": got["version"]}, format="json")
    assert (late.status_code, late.json()["errors"][0]["field"]) == (409, "state")


def test_check_in_takes_it_along(shop: Shop, order: RepairOrder, client: Any) -> None:
    RepairOrder.objects.update(state="finished")
    body = {
        "customer": str(order.customer_id), "unit": str(order.unit_id), "complaint": "Bogs down", "estimate_asked": "waived",
        "estimate_limit": "80.00",
    }  # fmt: skip
    wrong = client.post(f"{V1}/check-in/", {**body, "estimate_asked": "in_writing"}, format="json")
    assert (wrong.status_code, wrong.json()["errors"][0]["field"]) == (400, "estimate_limit")
    made = client.post(f"{V1}/check-in/", body, format="json")
    assert made.status_code == 201, made.json()
    assert (made.json()["estimate_asked"], made.json()["estimate_limit"]) == ("waived", "80.00")
    assert "estimate wanted" in [one["verb"] for one in made.json()["history"]]


def test_ohios_form_shows_what_was_chosen_and_told(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    def choice(now: RepairOrder) -> str:
        (law,) = repair_order_sheet(now).legal
        return law.fields[-1].value

    assert choice(RepairOrder.objects.get(pk=order.pk)).count("\u2610") == 3
    assert choice(said(shop, owner, order, "not_asked")).count("\u2610") == 3
    assert choice(said(shop, owner, order, "in_writing")).startswith("\u2611 in writing   \u2610 oral   \u2610 none")
    waived = choice(said(shop, owner, order, "waived", "150.00"))
    assert "\u2611 none, at most $150.00" in waived
    assert "\u2611 oral: $99.50" in choice(said(shop, owner, order, "orally", "99.5"))
    Customer.objects.update(language="es")
    assert "\u2611 de palabra" in choice(said(shop, owner, order, "orally"))
    Shop.objects.update(region="MN")
    assert repair_order_sheet(RepairOrder.objects.get(pk=order.pk)).legal == ()  # no form of a choice there


@pytest.mark.parametrize(
    ("region", "asked", "stopped", "cited"),
    [
        ("OH", "in_writing", True, "OAC 109:4-3-05"),
        ("OH", "orally", True, "OAC 109:4-3-05"),
        ("OH", "waived", False, ""),
        ("OH", "", False, ""),  # asked about, not stopped
        ("MN", "in_writing", True, "325F.56"),
        ("MN", "not_asked", False, ""),
        ("DC", "", True, "16 DCMR 633"),
        ("DC", "orally", True, "16 DCMR 633"),
        ("DC", "waived", False, ""),
        ("VT", "in_writing", True, "A written estimate is wanted before the work, and"),
        ("VT", "", False, ""),
    ],
)
def test_chargeable_work_waits_for_the_estimate_that_is_wanted(
    shop: Shop, owner: Staff, order: RepairOrder, region: str, asked: str, stopped: bool, cited: str
) -> None:
    set_rates(shop)
    Shop.objects.update(region=region)
    arrived_earlier(order)
    looking = add_job(
        shop=shop, by=owner, order_id=order.pk, title="Find the fault",
        labour=[{"words": "Find the fault", "hours": D("0.3"), "diagnosis": True}],
    )  # fmt: skip
    job = season_service(shop, owner, order)
    RepairOrder.objects.update(estimate_asked=asked)
    clock_in(shop=shop, by=owner, job_id=looking.pk)  # without it there is no estimate
    clock_out(shop=shop, by=owner, job_id=looking.pk)
    if not stopped:
        enter_time(shop=shop, by=owner, job_id=job.pk, **span(5, 60))
        return
    for start in (clock_in, lambda **who: enter_time(**who, **span(5, 60))):
        with pytest.raises(Conflict) as conflict:
            start(shop=shop, by=owner, job_id=job.pk)
        assert cited in conflict.value.problems[0].problem
    Job.objects.filter(pk=job.pk).update(payer="warranty")
    enter_time(shop=shop, by=owner, job_id=job.pk, **span(5, 90))  # not the customer's to pay
    Job.objects.filter(pk=job.pk).update(payer="customer")
    issue_estimate(shop=shop, by=owner, order_id=order.pk)
    clock_in(shop=shop, by=owner, job_id=job.pk)


def test_a_sum_that_was_told_lets_work_begin_up_to_it(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    arrived_earlier(order)
    job = season_service(shop, owner, order)
    said(shop, owner, order, "orally", "82.70")
    enter_time(shop=shop, by=owner, job_id=job.pk, **span(5, 60))
    Shop.objects.update(region="DC")
    with pytest.raises(Conflict, match="A written estimate is wanted"):  # an oral one is not enough there
        enter_time(shop=shop, by=owner, job_id=job.pk, **span(5, 90))
    Shop.objects.update(region="OH")
    issue_estimate(shop=shop, by=owner, order_id=order.pk)  # 82.70: as it was told
    enter_time(shop=shop, by=owner, job_id=job.pk, **span(5, 70))
    add_part(shop=shop, by=owner, job_id=job.pk, words="Clip", unit_price=D("0.10"))
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    with pytest.raises(Conflict, match=r"comes to 82\.81, and the customer was told 82\.70"):
        enter_time(shop=shop, by=owner, job_id=job.pk, **span(5, 80))
    assert any("82.81 is more than the 82.70 that" in one for one in law_notes(estimate.order, estimate.customer_total))


def test_where_the_law_wants_it_in_writing_the_first_yes_is_not_taken_by_telephone(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any
) -> None:
    """16 DCMR 633.1: written authorisation before any repair work, unless the estimate is waived; 630.3 of later changes."""
    set_rates(shop)
    Shop.objects.update(region="DC")
    job, other = season_service(shop, owner, order), sharpening(shop, owner, order)

    def told(accepted: bool, code: int, which: Job = job, **how: Any) -> Any:
        made = client.get(f"{V1}/orders/{order.pk}/estimates/").json()["results"][0]
        how = how or {**PHONED, "called_at": timezone.now().isoformat()}
        body = {"said_by": "Imke Dorran", "answers": [{"job": str(which.pk), "accepted": accepted}], **how}
        answer = client.post(f"{V1}/estimates/{made['id']}/answers/", body, format="json")
        assert answer.status_code == code, answer.json()
        return answer.json()

    made = client.post(f"{V1}/orders/{order.pk}/estimates/").json()
    assert "by telephone" not in made["facts"]["answer_how"] and "or here in the shop" in made["facts"]["answer_how"]
    assert "authorises it in writing" in made["law_notes"][0]
    client.post(f"{V1}/estimates/{made['id']}/send/", {"email": "imke@example.com"}, format="json")
    letter = Letter.objects.get()
    assert "You can also come by." in letter.body and "call us" not in letter.body
    assert "works until the end of" in letter.body
    (problem,) = told(True, 400)["errors"]
    assert problem["field"] == "channel" and "16 DCMR 633" in problem["problem"]
    assert Job.objects.get(pk=job.pk).state == "proposed"
    told(False, 200, other)  # no is no, however it is said
    told(True, 200, channel="in_person", words="signed on paper, folder 3")
    add_part(shop=shop, by=owner, job_id=job.pk, words="Belt", unit_price=D(9))
    client.post(f"{V1}/orders/{order.pk}/estimates/")
    told(True, 200)  # what comes on top of authorised work
    assert Job.objects.get(pk=job.pk).state == "agreed"


@pytest.mark.parametrize(
    ("region", "kind", "asked"), [("DC", "crew", ""), ("DC", "household", "waived"), ("OH", "household", "in_writing")]
)
def test_elsewhere_a_yes_by_telephone_is_enough(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any, region: str, kind: str, asked: str
) -> None:
    set_rates(shop)
    Shop.objects.update(region=region)
    Customer.objects.update(kind=kind)
    RepairOrder.objects.update(estimate_asked=asked)
    job = season_service(shop, owner, order)
    made = client.post(f"{V1}/orders/{order.pk}/estimates/").json()
    assert "by telephone" in made["facts"]["answer_how"]
    body = {"said_by": "Imke Dorran", "answers": [{"job": str(job.pk), "accepted": True}], **PHONED}
    body["called_at"] = timezone.now().isoformat()
    assert client.post(f"{V1}/estimates/{made['id']}/answers/", body, format="json").status_code == 200


@pytest.mark.parametrize(("asked", "listed", "wish"), [
    ("", True, "applied as if they had"),
    ("in_writing", True, "the customer asked for a written estimate"),
    ("orally", False, "it limits the bill because one was given"),
    ("waived", False, "it limits the bill because one was given"),
])  # fmt: skip
def test_minnesota_wants_its_paper_when_asked_and_limits_the_bill_beside_any_written_estimate(
    shop: Shop, owner: Staff, order: RepairOrder, asked: str, listed: bool, wish: str
) -> None:
    set_rates(shop)
    Shop.objects.update(region="MN")
    RepairOrder.objects.update(estimate_asked=asked)
    shop.refresh_from_db()
    job = season_service(shop, owner, order)
    add_labour(shop=shop, by=owner, job_id=job.pk, words="More of it", hours=D("0.4"))
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert bool(estimate.facts["legal_fields"]) is listed
    told = shown(compare(RepairOrder.objects.get(pk=order.pk)))
    assert wish in told["laws"][0]["note"]
    assert order_legal_fields(RepairOrder.objects.get(pk=order.pk), "en") == []


@pytest.mark.parametrize(
    ("region", "kind", "asked", "told"),
    [
        ("OH", "household", "", "nobody has recorded what this one wants"),
        ("OH", "household", "orally", "An estimate is owed before the work"),
        ("OH", "household", "waived", None),
        ("MN", "household", "in_writing", "A written estimate is owed before the work"),
        ("DC", "household", "", "A written estimate is owed before the work"),
        ("VT", "household", "", "We know of no law on repair estimates in US-VT that reaches this machine"),
        ("OH", "crew", "", "in US-OH is for household machines, which this is not"),
        ("", "household", "", "The shop's region is not known"),
    ],
)
def test_the_staff_is_told_at_the_estimate_what_a_law_asks_for_or_that_none_is_known(
    shop: Shop,
    owner: Staff,
    order: RepairOrder,
    client: Any,
    api: Any,
    region: str,
    kind: str,
    asked: str,
    told: str | None,
) -> None:
    set_rates(shop)
    Shop.objects.update(region=region)
    Customer.objects.update(kind=kind)
    RepairOrder.objects.update(estimate_asked=asked)
    job = season_service(shop, owner, order)
    add_labour(shop=shop, by=owner, job_id=job.pk, words="More of it", hours=D("0.4"))
    made = client.post(f"{V1}/orders/{order.pk}/estimates/").json()
    notes = made["law_notes"]
    assert len(notes) == (0 if told is None else 1)
    assert told is None or told in notes[0]
    assert ("yours to confirm" in "".join(notes)) is bool(
        told and ("We know of" in told or "household machines" in told)
    )
    assert client.get(f"{V1}/orders/{order.pk}/authorisation/").json()["notes"] == notes or asked == "in_writing"
    frozen = Estimate.objects.get(pk=made["id"]).facts
    assert "We know of" not in str(frozen)  # for the staff, not for the customer
