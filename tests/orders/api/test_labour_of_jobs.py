"""Jobs of one order that share work: each payer is charged for it once, whatever the customer chooses, from what was frozen."""

from __future__ import annotations

from decimal import Decimal
from itertools import permutations
from typing import Any
from uuid import UUID

import pytest
from rest_framework.test import APIClient

from orders.models import Customer, Estimate, Invoice, Job, LabourOperation, RepairOrder
from orders.models.catalogue import WorkStep
from orders.rules.messages import IN_ENGLISH
from orders.services.authorised import compare
from orders.services.bench import strike_job
from orders.services.estimates import issue_estimate
from orders.services.finishing import finish_order
from orders.services.invoices import issue_invoice
from orders.services.jobs import set_payer_basis
from orders.services.labour_together import beside_words
from orders.services.sheets import estimate_sheet, invoice_sheet
from orders.services.turned_over import bill_turned_over
from shopdocs.shops.models import Shop, Staff
from tests.orders.api.test_labour_changes import operation, shop_guide, step
from tests.orders.api.test_pricing_doors import V1, estimate, job_with, post
from tests.orders.back_kit import agreed, another_order, answered, arrived_earlier, done
from tests.sums import done_again

pytestmark = pytest.mark.django_db
D = Decimal
SAVED = "0.5 h saved: cover done once, with job 1."


@pytest.fixture(autouse=True)
def guide(shop: Shop, order: RepairOrder) -> None:
    shop_guide(shop)
    arrived_earlier(order)


def jobs_of(client: APIClient, order: RepairOrder, *codes: str, **more: Any) -> list[str]:
    return [job_with(client, order, code, **more)["id"] for code in codes]


def chosen(shop: Shop, owner: Staff, order: RepairOrder, said: dict[str, bool]) -> None:
    """Answers the version that waits for an answer, or a new one."""
    waiting = Estimate.objects.filter(order=order, replaced_by=None, answers=None).first()
    version = waiting or issue_estimate(shop=shop, by=owner, order_id=order.pk)
    answered(shop, owner, version, {UUID(job): one for job, one in said.items()})


def billed(shop: Shop, owner: Staff, order: RepairOrder) -> Invoice:
    """Does what is agreed, and bills it."""
    for place, job in enumerate(Job.objects.filter(order=order, state="agreed").order_by("number")):
        done(shop, owner, job, ago=40 * place)
    finish_order(shop=shop, by=owner, order_id=order.pk)
    return issue_invoice(shop=shop, by=owner, order_id=order.pk)


def tenths(facts: dict[str, Any]) -> list[int]:
    return [sum(line["tenths"] for line in job["labour"]) for job in facts["jobs"]]


def beside(job: dict[str, Any]) -> str:
    return beside_words(job["labour_time"]["beside"], IN_ENGLISH)


@pytest.mark.parametrize("said", [(True, True, True), (True, False, True), (False, True, True), (False, False, True)])
def test_every_choice_is_billed_as_the_union_of_what_was_chosen(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, said: tuple[bool, ...]
) -> None:
    listed = jobs_of(client, order, "A", "B", "C")
    chosen(shop, owner, order, dict(zip(listed, said, strict=True)))
    WorkStep.objects.filter(key="cover").update(minutes=90)  # what was agreed stands
    sums = compare(order)
    facts = billed(shop, owner, order).facts
    # 30 minutes for the cover and 6 for each job, rounded once.
    assert tenths(facts) == [6, 1, 1][: sum(said)]
    assert facts["net"] == f"{sum(tenths(facts)) * D('9.50'):.2f}"
    assert sums.verdict.allowed and sums.estimate.total == sums.bill.total and f"{sums.bill.net}" == facts["net"]


def test_the_estimate_and_the_invoice_say_what_is_shared(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    jobs_of(client, order, "A", "B")
    facts = agreed(shop, owner, order).facts
    assert estimate_sheet(facts).jobs[1].labour[-1].note == SAVED
    assert invoice_sheet(billed(shop, owner, order).facts).jobs[1].labour[-1].note == SAVED


def test_the_estimate_says_beforehand_what_a_job_comes_to_alone(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    jobs_of(client, order, "A", "B")
    post(client, f"orders/{order.pk}/jobs/", {"title": "Wash", "labour": [{"words": "Wash", "hours": "0.3"}]})
    facts = estimate(client, order)
    first, second, third = facts["jobs"]
    assert (first["if_alone"], third["if_alone"]) == (None, None)
    assert second["if_alone"] == {"hours": "0.6", "net": "57.00", "customer_pays": "57.00", "with": []}
    assert second["at_most"] is None
    assert estimate_sheet(facts).jobs[1].if_alone == (
        "If only this job is agreed to: 0.6 h of labour, $57.00 before tax.",
    )
    assert "for $9.50 before tax, and not for more. Where a job that shares work" in second["agree"]["accept"]
    assert "I pay $57.00 before tax at most." in second["agree"]["accept"]
    assert "at most" not in first["agree"]["accept"]
    told = client.get(f"{V1}/estimates/{Estimate.objects.get().pk}/how/").json()
    hours = next(one for one in told if one["figure"] == f"hours:{second['labour'][0]['id']}")
    assert {one["figure"]: one["amount"] for one in told}["alone:2"] == "57.00"
    assert hours["amount"] == "0.1" and SAVED in hours["steps"][1]["text"]


def test_the_most_is_told_where_it_is_more_than_alone(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    for key, minutes in (("a", 3), ("b", 8), ("c", 7)):
        step(shop, f"only {key}", minutes)
        operation(shop, f"ONLY {key}", "0.1", f"only {key}")
    listed = jobs_of(client, order, "ONLY a", "ONLY b", "ONLY c")
    facts = estimate(client, order)
    third = facts["jobs"][2]
    # 3, 11 and 18 minutes are 1, 2 and 3 tenths; without the first 8 are one and 15 are three.
    assert [third[name] and third[name]["hours"] for name in ("if_alone", "at_most")] == [None, "0.2"]
    assert sum(job["labour"][0]["tenths"] for job in facts["jobs"]) == 3 and third["labour"][0]["tenths"] == 1
    assert estimate_sheet(facts).jobs[2].if_alone == (
        "Where some of the others are left: 0.2 h at most, $19.00 before tax.",
    )
    chosen(shop, owner, order, dict(zip(listed, (False, True, True), strict=True)))
    assert tenths(billed(shop, owner, order).facts) == [1, 2]


def test_the_most_is_told_beside_more_than_six_other_jobs(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    for code, minutes, hours in (*((f"E{n}", 11, "0.2") for n in range(7)), ("LAST", 8, "0.1")):
        step(shop, f"only {code}", minutes)
        operation(shop, code, hours, f"only {code}")
    listed = jobs_of(client, order, *(f"E{n}" for n in range(7)), "LAST")
    last = estimate(client, order)["jobs"][-1]
    assert (last["net"], last["at_most"]["net"]) == ("9.50", "19.00")
    assert "I pay $19.00 before tax at most." in last["agree"]["accept"]
    chosen(shop, owner, order, {job: at in (0, 1, 2, 3, 7) for at, job in enumerate(listed)})
    # 44 minutes are seven tenths, and 52 nine.
    assert tenths(billed(shop, owner, order).facts) == [2, 2, 2, 1, 2]


def test_an_overlap_between_jobs_that_nobody_recorded_is_said(client: APIClient, order: RepairOrder) -> None:
    post(client, "operations/", {"code": "BARE", "words": "Adjust", "hours": "0.5"})
    jobs_of(client, order, "A", "BARE")
    first, second = (job["labour_time"] for job in estimate(client, order)["jobs"])
    assert (first["overlap_not_known"], second["overlap_not_known"]) == ([], [["Adjust", "Change A"]])
    said = "Whether Adjust and Change A of job 1 share work is not recorded; both count in full."
    assert second["how"][-1] == {"text": said, "amount": None}


def test_a_job_that_was_done_before_another_was_found_carries_what_they_share(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    jobs_of(client, order, "A")
    agreed(shop, owner, order)
    done(shop, owner, Job.objects.get(order=order), ago=60)
    jobs_of(client, order, "B")
    facts = agreed(shop, owner, order).facts
    assert tenths(facts) == [1] and beside(facts["jobs"][0]) == SAVED
    assert tenths(billed(shop, owner, order).facts) == [6, 1]


@pytest.mark.parametrize("both", [True, False])
def test_a_guide_that_changed_since_makes_nothing_dearer_that_jobs_share(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, both: bool
) -> None:
    (first,) = jobs_of(client, order, "A")
    agreed(shop, owner, order)
    cover = WorkStep.objects.get(key="cover")
    longer = client.patch(f"{V1}/work-steps/{cover.pk}/", {"version": cover.version, "minutes": "45"}, format="json")
    assert longer.status_code == 200, longer.content
    (second,) = jobs_of(client, order, "B")
    facts = estimate(client, order)
    # 36 minutes as they were agreed to, and 6; by itself the second is 51 now.
    assert (tenths(facts), facts["net"], beside(facts["jobs"][1])) == (
        [6, 1],
        "66.50",
        "0.8 h saved: cover done once, with job 1.",
    )
    chosen(shop, owner, order, {first: True, second: True} if both else {second: True})
    assert billed(shop, owner, order).facts["net"] == "66.50"


def test_an_order_goes_on_where_the_guide_was_corrected_after_a_job_was_done(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    post(client, "operations/", {"code": "SMALL", "words": "Small", "hours": "0.5"})
    post(client, "operations/", {"code": "BIG", "words": "Big", "hours": "0.9", "includes": ["SMALL"]})
    jobs_of(client, order, "BIG")
    agreed(shop, owner, order)
    done(shop, owner, Job.objects.get(order=order), ago=60)
    for code, hours in (("BIG", "1.5"), ("SMALL", "1.2")):
        row = LabourOperation.objects.get(code=code)
        kept = client.patch(f"{V1}/operations/{row.pk}/", {"version": row.version, "hours": hours}, format="json")
        assert kept.status_code == 200, kept.content
    jobs_of(client, order, "SMALL")
    facts = agreed(shop, owner, order).facts
    # Longer by now than the work that included it: it counts, and that is said.
    assert tenths(facts) == [12] and facts["jobs"][0]["labour_time"]["overlap_not_known"] == [["Small", "Big"]]
    assert tenths(billed(shop, owner, order).facts) == [9, 12]


def test_the_time_of_an_operation_that_is_corrected_is_that_of_its_lines_which_nobody_agreed_to(
    client: APIClient, order: RepairOrder
) -> None:
    post(client, "operations/", {"code": "SMALL", "words": "Small", "hours": "0.5"})
    post(client, "operations/", {"code": "BIG", "words": "Big", "hours": "0.9", "includes": ["SMALL"]})
    jobs_of(client, order, "BIG", "SMALL")
    job_with(client, order, labour=[{"code": "SMALL", "hours": "0.2"}])
    row = LabourOperation.objects.get(code="SMALL")
    kept = client.patch(f"{V1}/operations/{row.pk}/", {"version": row.version, "hours": "0.6"}, format="json")
    assert kept.status_code == 200, kept.content
    facts = estimate(client, order)
    assert [job["labour"][0]["guide_tenths"] for job in facts["jobs"]] == [9, 6, 2]
    assert beside(facts["jobs"][1]) == "0.6 h saved: Small is part of Big, with job 1." and tenths(facts) == [9, 0, 2]


def test_a_job_that_is_agreed_to_later_carries_what_it_comes_first_with(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    first, second = jobs_of(client, order, "A", "B")
    chosen(shop, owner, order, {second: True})
    assert f"{compare(order).estimate.net}" == "57.00"
    post(client, f"jobs/{first}/labour/", {"code": "PLUG"})
    chosen(shop, owner, order, {first: True})
    # 30 + 6 + 15 minutes and 6: the plug came on the second version.
    assert tenths(billed(shop, owner, order).facts) == [9, 1]


def test_each_payer_bears_the_whole_of_their_own_jobs(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    jobs_of(client, order, "A")
    jobs_of(client, order, "B", "C", payer="goodwill")
    facts = agreed(shop, owner, order).facts
    assert tenths(facts) == [6, 6, 1]
    assert beside(facts["jobs"][2]) == SAVED.replace("job 1", "job 2")


def test_a_job_that_another_comes_to_pay_takes_its_step_along(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    first, _ = jobs_of(client, order, "A", "B")
    assert agreed(shop, owner, order).facts["net"] == "66.50"
    moved = client.patch(f"{V1}/jobs/{first}/", {"version": 1, "payer": "goodwill"}, format="json")
    assert moved.status_code == 200, moved.content
    facts = billed(shop, owner, order).facts
    assert (tenths(facts), facts["net"]) == ([6, 6], "57.00")


def test_the_customer_pays_no_more_in_all_because_another_comes_to_pay_a_job(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    first = job_with(client, order, labour=[{"code": "A", "rate": "10.00"}])
    job_with(client, order, labour=[{"code": "B", "rate": "100.00"}])
    assert agreed(shop, owner, order).facts["net"] == "16.00"
    moved = client.patch(f"{V1}/jobs/{first['id']}/", {"version": 1, "payer": "goodwill"}, format="json")
    assert moved.status_code == 200, moved.content
    assert compare(order).verdict.allowed
    facts = billed(shop, owner, order).facts
    # With the cover the second alone would come to 60.00.
    assert (facts["net"], facts["jobs"][1]["labour_time"]["hours"]) == ("10.00", "0.1")


def test_work_that_is_shared_is_charged_by_the_payer_of_the_labour(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    first, second = jobs_of(client, order, "A", "B")
    for job, body in (
        (first, {"payer_of": {"labour": "goodwill"}}),
        (second, {"shares": [{"payer": "customer", "percent": "50"}, {"payer": "goodwill"}]}),
    ):
        kept = client.post(f"{V1}/jobs/{job}/payers/", {"version": 1, **body}, format="json")
        assert kept.status_code == 200, kept.content
    assert tenths(estimate(client, order)) == [6, 6]


def test_a_job_that_was_struck_leaves_its_step_to_the_next(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    first, _ = jobs_of(client, order, "A", "B")
    agreed(shop, owner, order)
    strike_job(shop=shop, by=owner, job_id=first, reason="the part cannot be had")
    facts = billed(shop, owner, order).facts
    assert (tenths(facts), facts["jobs"][0]["labour_time"]["beside"]) == ([6], None)


def test_a_line_that_is_taken_off_leaves_its_step_to_the_next_job(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    job = job_with(client, order, "A", "PLUG")
    jobs_of(client, order, "B")
    assert tenths(agreed(shop, owner, order).facts) == [9, 1]
    gone = client.delete(f"{V1}/job-labour/{job['labour'][0]['id']}/", {"version": 1}, format="json")
    assert gone.status_code in (200, 204), gone.content
    # 15 minutes and 36: a tenth less than was agreed with the 6 minutes of A.
    assert tenths(billed(shop, owner, order).facts) == [3, 6]


def test_what_the_shops_rule_tolerates_is_billed_beside_the_others(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    shop.own_overrun_percent = D(200)
    shop.save()
    Customer.objects.update(kind="crew")
    first, _ = jobs_of(client, order, "PLUG", "B")
    agreed(shop, owner, order)
    post(client, f"jobs/{first}/labour/", {"code": "A"})
    found = compare(order)
    assert found.changed == ((1, "more labour: Change A"),)
    # 15 and 36 minutes agreed; now 15 + 36 in the first job, and 6 in the second.
    assert (f"{found.estimate.net}", f"{found.bill.net}") == ("85.50", "95.00")
    assert tenths(billed(shop, owner, order).facts) == [9, 1]


@pytest.mark.parametrize("billed_first", [True, False])
def test_a_job_that_is_turned_over_adds_what_the_customer_does_not_bear_already(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, billed_first: bool
) -> None:
    turned, _ = jobs_of(client, order, "A", "B")
    set_payer_basis(job=Job.objects.get(pk=turned), kind="decision", id="d-1", words="two-year promise", hash="0" * 64)
    assert tenths(agreed(shop, owner, order).facts) == [6, 6]
    for place, job in enumerate(Job.objects.filter(order=order)):
        done(shop, owner, job, ago=40 * place)
    finish_order(shop=shop, by=owner, order_id=order.pk)
    if billed_first:
        assert tenths(issue_invoice(shop=shop, by=owner, order_id=order.pk).facts) == [6, 6]  # the warranty's is shown
    more = {"by": owner, "most": D("500"), "paid": D(0), "ground": "refused as wear"}
    facts = bill_turned_over(job=Job.objects.get(pk=turned), **more).facts
    assert (tenths(facts), beside(facts["jobs"][0])) == ([1], "0.5 h saved: cover done once, with job 2.")
    if not billed_first:
        assert issue_invoice(shop=shop, by=owner, order_id=order.pk).facts["net"] == "57.00"


def test_a_job_that_is_turned_over_leaves_out_what_one_bears_that_is_not_done_yet(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    turned, _ = jobs_of(client, order, "A", "B")
    set_payer_basis(job=Job.objects.get(pk=turned), kind="decision", id="d-1", words="two-year promise", hash="0" * 64)
    agreed(shop, owner, order)
    done(shop, owner, Job.objects.get(pk=turned), ago=40)
    more = {"by": owner, "most": D("500"), "paid": D(0), "ground": "refused as wear"}
    assert tenths(bill_turned_over(job=Job.objects.get(pk=turned), **more).facts) == [1]
    assert billed(shop, owner, order).facts["net"] == "57.00"


def told_hours(client: APIClient, order: RepairOrder) -> dict[int, tuple[str, str, str]]:
    """Of each job of a new version: the hours of its work by itself, by which rounding, and whose rule it is."""
    version = estimate(client, order)
    newest = Estimate.objects.filter(order=order).latest("edition")
    listed = client.get(f"{V1}/estimates/{newest.pk}/how/").json()
    done_again(listed, 2)
    told = {one["figure"]: one for one in listed}
    found = {}
    for job in version["jobs"]:
        one = told[f"rounded:{job['number']}"]
        (line,) = one["steps"]
        found[job["number"]] = (one["amount"], line["rounding"], line["rule"])
        assert sum(row["tenths"] for row in job["labour"]) == D(one["amount"]) * 10
    return found


def test_the_shops_own_rules_round_what_the_customer_and_the_shop_pay_and_an_order_keeps_them(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    """7 minutes of work are 0.2 h for the customer, up to the next tenth; 3 minutes of the shop's own go to the even 0.0."""
    for key, minutes in (("seven", 7), ("three", 3)):
        step(shop, key, minutes)
        operation(shop, key.upper(), "0.1", key)
    rules = {"labour_rounding": "up", "own_labour_rounding": "half_even"}
    post(client, "pricing-terms/", {"starts_on": "2020-01-01", **rules})
    job_with(client, order, "SEVEN")
    job_with(client, order, "THREE", payer="shop")
    own = "the shop's pricing terms since 2020-01-01"
    assert told_hours(client, order) == {1: ("0.2", "up", own), 2: ("0.0", "half even", own)}
    shown_by_itself = [f"{V1}/jobs/{job.pk}/" for job in Job.objects.order_by("number")]
    assert [client.get(path).json()["times"]["guide"] for path in shown_by_itself] == ["0.2", "0.0"]

    post(client, "pricing-terms/", {"starts_on": shop.today().isoformat()})
    assert [client.get(path).json()["times"]["guide"] for path in shown_by_itself] == ["0.2", "0.0"]
    step(shop, "one", 1)
    operation(shop, "ONE", "0.1", "one")
    job_with(client, order, "ONE", payer="goodwill")
    assert told_hours(client, order)[3] == ("0.0", "half even", own)  # the order keeps the rules of its first version
    other = another_order(shop, owner, order)
    job_with(client, other, "THREE", payer="shop")
    assert told_hours(client, other) == {
        1: ("0.1", "half up", f"the shop's pricing terms since {shop.today()}"),
    }


def test_rules_of_rounding_that_there_are_not_are_refused(client: APIClient) -> None:
    answer = client.post(f"{V1}/pricing-terms/", {"starts_on": "2020-01-01", "labour_rounding": "down"}, format="json")
    assert answer.status_code == 400 and answer.json()["errors"][0]["field"] == "labour_rounding"


def test_steps_of_as_many_minutes_are_added_up(client: APIClient, shop: Shop, order: RepairOrder) -> None:
    """The first two steps take 5 minutes each, and the sum of the one is no sum of all."""
    for key in ("one", "two", "more"):
        step(shop, key, 5)
    operation(shop, "ALL", "0.3", "one", "two", "more")
    job_with(client, order, "ALL")
    assert told_hours(client, order)[1][0] == "0.3"


@pytest.mark.parametrize("carrier_first", [True, False])
def test_of_two_jobs_that_are_turned_over_the_customer_is_charged_once_for_what_they_share(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, carrier_first: bool
) -> None:
    first, second = (UUID(job) for job in jobs_of(client, order, "A", "B"))
    for pk in (first, second):
        set_payer_basis(job=Job.objects.get(pk=pk), kind="decision", id="d-1", words="two-year promise", hash="0" * 64)
    assert tenths(agreed(shop, owner, order).facts) == [6, 1]
    for place, job in enumerate(Job.objects.filter(order=order)):
        done(shop, owner, job, ago=40 * place)
    finish_order(shop=shop, by=owner, order_id=order.pk)

    def turned(pk: UUID, **more: Any) -> list[int]:
        terms = {"by": owner, "most": D("500"), "paid": D(0), "ground": "refused as wear"}
        return tenths(bill_turned_over(job=Job.objects.get(pk=pk), **terms, **more).facts)

    # The claim of the second left the cover to that of the first.
    if carrier_first:
        assert (turned(first, later=[second]), turned(second)) == ([6], [1])
    else:
        assert (turned(second, borne=[first]), turned(first, later=[second])) == ([1], [6])


@pytest.mark.parametrize("turned", list(permutations("ABC")))
def test_jobs_that_no_claim_asked_for_together_earn_what_they_share_once_in_whatever_order_they_are_turned_over(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, turned: tuple[str, ...]
) -> None:
    """Thirty minutes for the cover and six for each; a distributor that pays by the clock keeps no work of its claims."""
    jobs = dict(zip("ABC", map(UUID, jobs_of(client, order, "A", "B", "C")), strict=True))
    for pk in jobs.values():
        set_payer_basis(job=Job.objects.get(pk=pk), kind="decision", id="d-1", words="two-year promise", hash="0" * 64)
    assert tenths(agreed(shop, owner, order).facts) == [6, 1, 1]
    for place, job in enumerate(Job.objects.filter(order=order)):
        done(shop, owner, job, ago=40 * place)
    finish_order(shop=shop, by=owner, order_id=order.pk)
    terms = {"by": owner, "most": D("500"), "paid": D(0), "ground": "refused as wear"}
    billed = [tenths(bill_turned_over(job=Job.objects.get(pk=jobs[one]), **terms).facts) for one in turned]
    assert billed == [[6], [1], [1]]
