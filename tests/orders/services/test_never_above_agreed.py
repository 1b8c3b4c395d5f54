"""An invoice against the estimates it rests on: never above what was agreed, and lower by whatever came off since."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import Invoice, Job, JobPart, RepairOrder
from orders.models.jobs import JobFee
from orders.services.authorised import compare
from orders.services.bench import finish_job, fit_part, strike_job
from orders.services.charges import set_terms
from orders.services.estimates import issue_estimate
from orders.services.finishing import finish_order
from orders.services.invoices import issue_invoice
from orders.services.jobs import add_job
from orders.services.options import add_option
from orders.services.sheets import invoice_sheet
from orders.services.splits import set_split
from orders.services.time import enter_time
from shopdocs.rest.refusals import Refused
from shopdocs.shops.models import LabourRate, Shop, Staff, TaxRate
from tests.orders.api.test_pricing_doors import V1, post, problems
from tests.orders.back_kit import agreed, answered, arrived_earlier, done, set_rates, span

pytestmark = pytest.mark.django_db
D = Decimal
CAP, FLOOR = {"supplies_cap": D("4.00")}, {"supplies_floor": D("20.00")}


@pytest.fixture(autouse=True)
def rated(shop: Shop, order: RepairOrder) -> None:
    set_rates(shop)
    arrived_earlier(order)


def supplied(shop: Shop, owner: Staff, bound: dict[str, Any]) -> None:
    set_terms(shop=shop, by=owner, starts_on=shop.today(), supplies_percent=D(5), **bound)


def an_hour(shop: Shop, owner: Staff, order: RepairOrder, title: str) -> Job:
    """1.0 h at 95.00 before supplies."""
    return add_job(
        shop=shop, by=owner, order_id=order.pk, title=title, labour=[{"words": title, "hours": D("1.0")}], parts=[]
    )


def billed(shop: Shop, owner: Staff, order: RepairOrder) -> Invoice:
    for place, job in enumerate(Job.objects.filter(order=order, state="agreed").order_by("number")):
        done(shop, owner, job, ago=40 * place)
    finish_order(shop=shop, by=owner, order_id=order.pk)
    return issue_invoice(shop=shop, by=owner, order_id=order.pk)


def steps_of(invoice: Invoice) -> str:
    return "; ".join(step["text"] for figure in invoice.facts["figures"] for step in figure["steps"])


@pytest.mark.parametrize(("bound", "share"), [(CAP, "97.00"), (FLOOR, "105.00")])
def test_a_job_that_is_taken_alone_bears_only_its_agreed_share_of_supplies(
    shop: Shop, owner: Staff, order: RepairOrder, bound: dict[str, Any], share: str
) -> None:
    supplied(shop, owner, bound)
    one, two = an_hour(shop, owner, order, "A"), an_hour(shop, owner, order, "B")
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert f"for ${share} before tax, and not for more" in str(estimate.facts)
    answered(shop, owner, estimate, {one.pk: True, two.pk: False})
    assert compare(order).bill.net == D(share)
    invoice = billed(shop, owner, order)
    assert invoice.facts["net"] == share
    assert f"No more than {D(share) - 95}, the share agreed to for this job" in steps_of(invoice)


@pytest.mark.parametrize(("bound", "share"), [(CAP, "97.00"), (FLOOR, "105.00")])
def test_a_struck_job_leaves_its_share_of_supplies_to_nobody(
    shop: Shop, owner: Staff, order: RepairOrder, bound: dict[str, Any], share: str
) -> None:
    supplied(shop, owner, bound)
    an_hour(shop, owner, order, "A")
    two = an_hour(shop, owner, order, "B")
    agreed(shop, owner, order)
    strike_job(shop=shop, by=owner, job_id=two.pk, reason="the customer took the deck home")
    assert (compare(order).estimate.net, compare(order).bill.net) == (D(share), D(share))
    assert billed(shop, owner, order).facts["net"] == share


def test_a_cap_is_one_cap_over_jobs_that_were_agreed_under_other_taxes(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    supplied(shop, owner, CAP)
    one = an_hour(shop, owner, order, "A")
    agreed(shop, owner, order)
    TaxRate.objects.create(
        shop=shop, name="State tax", percent=D(1), on_kinds=["part"], on_payers=["customer"], starts_on=shop.today()
    )
    two = an_hour(shop, owner, order, "B")
    second = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert second.facts["customer_net"] == "194.00"
    answered(shop, owner, second, {two.pk: True})
    assert one.answers.count() == 1
    assert compare(order).bill.net == D("194.00")
    invoice = billed(shop, owner, order)
    assert invoice.facts["net"] == "194.00"
    assert [job["net"] for job in invoice.facts["jobs"]] == ["97.00", "97.00"]


def test_a_job_that_was_agreed_alone_keeps_the_whole_cap(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    supplied(shop, owner, CAP)
    an_hour(shop, owner, order, "A")
    agreed(shop, owner, order)
    invoice = billed(shop, owner, order)
    assert invoice.facts["net"] == "99.00" and "no more than the share" not in steps_of(invoice)


def test_a_class_discount_moves_no_cent_between_jobs(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    """10 % of 10.04 is 1.00, and that of both is 2.01: the odd cent would be the first job's as long as both are done."""
    set_terms(shop=shop, by=owner, starts_on=shop.today(), class_discounts={"household": D(10)})
    jobs = [
        add_job(
            shop=shop, by=owner, order_id=order.pk, title=title, labour=[],
            parts=[{"words": "Cover", "unit_price": D("10.04"), "quantity": 1}],
        )
        for title in "AB"
    ]  # fmt: skip
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert [job["net"] for job in estimate.facts["jobs"]] == ["9.04", "9.04"]
    answered(shop, owner, estimate, {jobs[0].pk: True, jobs[1].pk: False})
    assert compare(order).bill.net == D("9.04")
    assert billed(shop, owner, order).facts["net"] == "9.04"


def test_a_way_to_choose_costs_no_more_than_its_jobs_beside_the_others(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    supplied(shop, owner, CAP)
    one, two = an_hour(shop, owner, order, "A"), an_hour(shop, owner, order, "B")
    for name, jobs in (("Repair", [one]), ("All of it", [one, two])):
        add_option(shop=shop, by=owner, order_id=order.pk, group="What to do", name=name, jobs=[job.pk for job in jobs])
    facts = issue_estimate(shop=shop, by=owner, order_id=order.pk).facts
    (group,) = facts["options"]
    assert [one["customer_total"] for one in group["options"]] == ["97.00", "194.00"]
    assert [job["net"] for job in facts["jobs"]] == ["97.00", "97.00"]
    assert "supplies_most" not in str(facts)


def a_starter(shop: Shop, owner: Staff, order: RepairOrder) -> Job:
    """1.0 h, a starter at 40.00 with a core charge of 15.00, and two belts at 5.00: 160.00 before tax."""
    parts = [
        {"words": "Starter", "unit_price": D(40), "core_charge": D(15)},
        {"words": "Belt", "unit_price": D(5), "quantity": D(2)},
    ]
    labour = [{"words": "Starter", "hours": D("1.0")}]
    return add_job(shop=shop, by=owner, order_id=order.pk, title="Starter", labour=labour, parts=parts)


def line_of(job: Job, words: str) -> JobPart:
    return job.parts.get(words=words)


# The discount: 12.5 % of all but the core charge, 145.00 x 0.125 = 18.125, half a cent up.
LESS = {
    "core returned": ("145.00", "Less 1 of 1 old cores back"),
    "part returned": ("155.00", "Less 1 of 2 returned unused"),
    "a credit": ("150.00", "Sorry for the wait"),
    "a discount": ("141.87", "Less Old friend"),
}


@pytest.mark.parametrize("how", LESS)
def test_what_comes_off_after_the_agreement_is_on_the_invoice(
    shop: Shop, owner: Staff, order: RepairOrder, client: APIClient, how: str
) -> None:
    job = a_starter(shop, owner, order)
    estimate = agreed(shop, owner, order)
    assert estimate.facts["customer_net"] == "160.00"
    if how == "core returned":
        post(client, f"job-parts/{line_of(job, 'Starter').pk}/return/", {"what": "core"})
    elif how == "part returned":
        post(client, f"job-parts/{line_of(job, 'Belt').pk}/return/", {"what": "part", "quantity": "1"})
    elif how == "a credit":
        post(client, f"jobs/{job.pk}/fees/", {"kind": "fee", "words": "Sorry for the wait", "amount": "-10.00"})
    else:
        body = {"version": Job.objects.get(pk=job.pk).version, "discount_percent": "12.5"}
        body |= {"discount_words": "Old friend"}
        assert client.patch(f"{V1}/jobs/{job.pk}/", body, format="json").status_code == 200
    assert Job.objects.get(pk=job.pk).state == "agreed"
    net, words = LESS[how]
    assert compare(order).bill.net == D(net)
    invoice = billed(shop, owner, order)
    assert invoice.facts["net"] == net
    assert words in steps_of(invoice)
    assert words.removeprefix("Less ") in str(invoice_sheet(invoice.facts))


def test_a_dearer_line_still_asks_anew_beside_a_credit(
    shop: Shop, owner: Staff, order: RepairOrder, client: APIClient
) -> None:
    job = a_starter(shop, owner, order)
    agreed(shop, owner, order)
    post(client, f"jobs/{job.pk}/fees/", {"kind": "fee", "words": "Sorry for the wait", "amount": "-10.00"})
    post(client, f"jobs/{job.pk}/fees/", {"kind": "fee", "words": "Bolt out", "amount": "9.00"})
    assert Job.objects.get(pk=job.pk).state == "proposed"


def test_an_old_core_is_credited_until_the_invoice_is_issued(
    shop: Shop, owner: Staff, order: RepairOrder, client: APIClient
) -> None:
    job = a_starter(shop, owner, order)
    agreed(shop, owner, order)
    starter, belt = line_of(job, "Starter"), line_of(job, "Belt")
    done(shop, owner, job)
    fee = post(client, f"job-parts/{starter.pk}/return/", {"what": "core"})
    assert client.delete(f"{V1}/job-fees/{fee['id']}/").status_code in (200, 204)
    assert Job.objects.get(pk=job.pk).state == "done"
    assert "job" in problems(client, f"job-parts/{belt.pk}/return/", {"what": "part"}, 409)
    finish_order(shop=shop, by=owner, order_id=order.pk)
    post(client, f"job-parts/{starter.pk}/return/", {"what": "core"})
    assert Job.objects.get(pk=job.pk).state == "done"
    invoice = issue_invoice(shop=shop, by=owner, order_id=order.pk)
    assert invoice.facts["net"] == "145.00" and "Less 1 of 1 old cores back" in steps_of(invoice)
    late = problems(client, f"job-parts/{starter.pk}/return/", {"what": "core"}, 409)
    assert invoice.number in late["job"]
    assert JobFee.objects.count() == 1


def test_a_part_that_came_back_keeps_its_quantity_and_price(
    shop: Shop, owner: Staff, order: RepairOrder, client: APIClient
) -> None:
    belt = line_of(a_starter(shop, owner, order), "Belt")
    agreed(shop, owner, order)
    post(client, f"job-parts/{belt.pk}/return/", {"what": "part", "quantity": "2"})
    path, version = f"{V1}/job-parts/{belt.pk}/", JobPart.objects.get(pk=belt.pk).version
    for change in ({"quantity": "1"}, {"unit_price": "1.00"}):
        assert client.patch(path, {"version": version, **change}, format="json").status_code == 409
    assert client.patch(path, {"version": version, "causal": True}, format="json").status_code == 200
    job = Job.objects.get()
    fit_part(shop=shop, by=owner, part_id=line_of(job, "Starter").pk)
    enter_time(shop=shop, by=owner, job_id=job.pk, **span(30))
    assert finish_job(shop=shop, by=owner, job_id=job.pk, correction="Starts.").state == "done"


@pytest.mark.parametrize("answered_first", [False, True])
def test_a_credit_beyond_the_job_is_refused_with_its_limit(
    shop: Shop, owner: Staff, order: RepairOrder, client: APIClient, answered_first: bool
) -> None:
    job = an_hour(shop, owner, order, "A")
    an_hour(shop, owner, order, "B")
    if answered_first:
        agreed(shop, owner, order)
        LabourRate.objects.update(per_hour=D(200))  # dearer since: the agreed 95.00 is what can be credited
    body = {"kind": "fee", "words": "Trade-in", "amount": "-500.00"}
    assert "it bears 95.00" in problems(client, f"jobs/{job.pk}/fees/", body)["amount"]
    assert "it bears 95.00" in problems(client, f"jobs/{job.pk}/fees/", {**body, "amount": "-95.01"})["amount"]
    assert not JobFee.objects.exists()
    post(client, f"jobs/{job.pk}/fees/", {**body, "amount": "-95.00"})
    line = job.labour.get()
    smaller = client.patch(f"{V1}/job-labour/{line.pk}/", {"version": line.version, "hours": "0.9"}, format="json")
    assert smaller.status_code == 400 and smaller.json()["errors"][0]["field"] == "fees"
    line.refresh_from_db()
    assert line.hours == D("1.0")


def test_a_credit_that_alone_is_taxed_is_measured_with_its_tax(
    shop: Shop, owner: Staff, order: RepairOrder, client: APIClient
) -> None:
    job = an_hour(shop, owner, order, "A")  # labour is not taxed, a part returned is: 95.00 - 90.00 - 6.53
    body = {"kind": "part", "words": "Returned", "amount": "-90.00"}
    assert "less than nothing" in problems(client, f"jobs/{job.pk}/fees/", body)["amount"]
    post(client, f"jobs/{job.pk}/fees/", {**body, "amount": "-88.00"})
    agreed(shop, owner, order)
    assert billed(shop, owner, order).facts["total"] == "0.62"


def test_a_credit_beyond_one_payers_part_is_refused(
    shop: Shop, owner: Staff, order: RepairOrder, client: APIClient
) -> None:
    job = an_hour(shop, owner, order, "A")
    post(client, f"jobs/{job.pk}/fees/", {"kind": "fee", "words": "Sorry", "amount": "-10.00"})
    with pytest.raises(Refused, match="less than nothing"):
        set_split(
            shop=shop, by=owner, job_id=job.pk, version=Job.objects.get(pk=job.pk).version,
            payer_of={"labour": "goodwill"},
        )  # fmt: skip


def test_new_terms_that_leave_a_job_below_nothing_are_seen_on_the_next_version(
    shop: Shop, owner: Staff, order: RepairOrder, client: APIClient
) -> None:
    job = an_hour(shop, owner, order, "A")
    post(client, f"jobs/{job.pk}/fees/", {"kind": "fee", "words": "Sorry", "amount": "-95.00"})
    set_terms(shop=shop, by=owner, starts_on=shop.today(), class_discounts={"household": D(10)})
    assert "-9.50" in problems(client, f"orders/{order.pk}/estimates/", {}, 409)["jobs"]
