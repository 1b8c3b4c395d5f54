"""Labour sets and everything that is charged beside labour and parts, from the doors to the frozen facts and the invoice."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import Customer, Estimate, Job, JobPart, LabourOperation, Part, RepairOrder
from orders.models.catalogue import PricingTerms, WorkStep
from orders.models.jobs import JobFee
from orders.services.estimates import issue_estimate
from orders.services.jobs import set_payer_basis
from orders.services.sheets import estimate_sheet, invoice_sheet
from shopdocs.shops.models import Shop, Staff
from tests.orders.back_kit import agreed, arrived_earlier, invoiced, season_service, set_rates, span

pytestmark = pytest.mark.django_db
V1 = "/api/v1"
D = Decimal
STEPS = [
    {"key": "cover_off", "words": "cover off", "minutes": "9"},
    {"key": "plug", "words": "plug changed", "minutes": "6", "needs": ["cover_off"]},
    {"key": "filter", "words": "filter changed", "minutes": "12", "needs": ["cover_off"]},
]


def post(client: APIClient, path: str, data: Any = None, code: int = 201) -> Any:
    answer = client.post(f"{V1}/{path}", data or {}, format="json")
    assert answer.status_code == code, answer.content
    return answer.json()


def problems(client: APIClient, path: str, data: Any, code: int = 400) -> dict[str, str]:
    """The refusal's problems by field."""
    body = post(client, path, data, code)
    assert all(one["problem"] and one["remedy"] for one in body["errors"])
    return {one["field"]: one["problem"] for one in body["errors"]}


@pytest.fixture
def rated(shop: Shop) -> None:
    set_rates(shop)


@pytest.fixture
def guided(client: APIClient, rated: None) -> None:
    """Two operations that share 'cover off' (15 and 21 minutes), and a bare one."""
    for step in STEPS:
        post(client, "work-steps/", step)
    post(client, "operations/", {"code": "PLUG", "words": "Change plug", "hours": "0.3", "steps": ["plug"]})
    post(client, "operations/", {"code": "FILTER", "words": "Change filter", "hours": "0.4", "steps": ["filter"]})
    post(client, "operations/", {"code": "BARE", "words": "Adjust", "hours": "0.2"})


def job_with(client: APIClient, order: RepairOrder, *codes: str, **more: Any) -> Any:
    facts = {"title": "Service", "labour": [{"code": code} for code in codes], **more}
    return post(client, f"orders/{order.pk}/jobs/", facts)


def estimate(client: APIClient, order: RepairOrder) -> dict[str, Any]:
    facts: dict[str, Any] = post(client, f"orders/{order.pk}/estimates/")["facts"]
    return facts


def test_shared_steps_are_priced_once_and_the_saving_is_printed(
    client: APIClient, order: RepairOrder, guided: None
) -> None:
    job_with(client, order, "PLUG", "FILTER")
    facts = estimate(client, order)
    (job,) = facts["jobs"]
    # 9 + 6 + 12 = 27 minutes: 4.5 tenths, half a tenth up. Apart: 15 + 21 = 36 minutes.
    assert (job["labour_time"]["hours"], job["labour_time"]["separate"]) == ("0.5", "0.6")
    assert job["labour_time"]["saving"] == "0.1 h saved: cover off once."
    assert sum(line["tenths"] for line in job["labour"]) == 5
    assert [line["guide_tenths"] for line in job["labour"]] == [3, 4]
    assert job["net"] == "47.50"
    sheet = estimate_sheet(facts)
    assert sheet.jobs[0].labour[-1].note == "0.1 h saved: cover off once."


def test_an_overlap_that_nobody_knows_is_said(client: APIClient, order: RepairOrder, guided: None) -> None:
    job_with(client, order, "PLUG", "BARE")
    (job,) = estimate(client, order)["jobs"]
    assert job["labour_time"]["overlap_not_known"] == [["Change plug", "Adjust"]]
    assert job["labour_time"]["saving"] == "" and job["labour_time"]["hours"] == "0.5"


def test_hours_that_were_typed_are_left_as_they_are(client: APIClient, order: RepairOrder, guided: None) -> None:
    job_with(client, order, "PLUG", labour=[{"code": "PLUG", "hours": "1.5"}, {"code": "FILTER"}])
    (job,) = estimate(client, order)["jobs"]
    assert [line["tenths"] for line in job["labour"]] == [15, 4]


def test_jobs_of_one_order_are_charged_once_for_what_they_share(
    client: APIClient, order: RepairOrder, guided: None
) -> None:
    job_with(client, order, "PLUG")
    job_with(client, order, "FILTER")
    facts = estimate(client, order)
    first, second = facts["jobs"]
    assert [first["labour"][0]["tenths"], second["labour"][0]["tenths"]] == [3, 2]
    assert (second["labour_time"]["hours"], second["labour_time"]["alone"]) == ("0.2", "0.4")
    said = "0.2 h saved: cover off once, with job 1."
    assert estimate_sheet(facts).jobs[1].labour[-1].note == said
    assert facts["net"] == "47.50"


def test_a_distributor_rounds_by_its_own_rule(client: APIClient, order: RepairOrder, guided: None) -> None:
    distributor = post(client, "distributors/", {"name": "Ostermoor Supply", "labour_rounding": "half_even"})
    maker = order.unit.model.maker
    changed = client.patch(
        f"{V1}/makers/{maker.pk}/", {"version": maker.version, "distributor": distributor["id"]}, format="json"
    )
    assert changed.status_code == 200, changed.content
    job = Job.objects.get(pk=job_with(client, order, "PLUG", "FILTER")["id"])
    set_payer_basis(job=job, kind="decision", id="d-1", words="two-year promise", hash="0" * 64)
    assert estimate(client, order)["jobs"][0]["labour_time"]["hours"] == "0.4"


def test_the_invoice_bills_the_set_as_it_was_agreed(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, guided: None
) -> None:
    job_with(client, order, "PLUG", "FILTER")
    invoice = invoiced(shop, owner, order)
    assert invoice.facts["net"] == "47.50"
    assert invoice_sheet(invoice.facts).jobs[0].labour[-1].note == "0.1 h saved: cover off once."


def test_an_agreed_set_stays_agreed_when_nothing_changed(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, guided: None
) -> None:
    made = job_with(client, order, "PLUG", "FILTER")
    agreed(shop, owner, order)
    line = made["labour"][1]
    path = f"{V1}/job-labour/{line['id']}/"
    assert client.patch(path, {"version": line["version"], "hours": "0.4"}, format="json").status_code == 200
    assert Job.objects.get(pk=made["id"]).state == "agreed"
    longer = client.patch(path, {"version": line["version"] + 1, "hours": "0.5"}, format="json")
    assert longer.status_code == 200 and Job.objects.get(pk=made["id"]).state == "proposed"


def test_three_times_side_by_side(client: APIClient, order: RepairOrder, guided: None) -> None:
    arrived_earlier(order)
    job = job_with(client, order, "PLUG", "FILTER")
    changed = client.patch(
        f"{V1}/jobs/{job['id']}/", {"version": job["version"], "allowed_hours": "0.4"}, format="json"
    )
    assert changed.status_code == 200, changed.content
    times = span(42)
    post(client, f"jobs/{job['id']}/time/", {name: moment.isoformat() for name, moment in times.items()})
    found = client.get(f"{V1}/jobs/{job['id']}/").json()["times"]
    assert (found["guide"], found["allowed"], found["clocked"]) == ("0.5", "0.4", "0.7")
    assert found["remarks"] == [
        "The payer allows 0.1 h less than the guide.",
        "The work took 0.3 h more than the payer allows.",
        "The work took 0.2 h more than the guide.",
    ]
    assert found["saving"] == "0.1 h saved: cover off once."


def test_the_starting_catalogue_comes_in_once(client: APIClient, shop: Shop, order: RepairOrder, rated: None) -> None:
    added = post(client, "operations/starting-catalogue/")
    assert added["operations"] == LabourOperation.objects.for_shop(shop).count() > 40
    assert added["steps"] == WorkStep.objects.for_shop(shop).count()
    assert post(client, "operations/starting-catalogue/") == {"steps": 0, "operations": 0}
    assert not LabourOperation.objects.for_shop(shop).exclude(source__contains="no source").exists()
    job_with(client, order, "fuel_line_hand", "fuel_filter_hand")
    time = estimate(client, order)["jobs"][0]["labour_time"]
    assert D(time["saved"]) > 0 and "once" in time["saving"]


def test_steps_that_are_unknown_or_run_in_a_loop_are_refused(client: APIClient, guided: None) -> None:
    assert "nowhere" in str(
        problems(client, "work-steps/", {"key": "x", "words": "x", "minutes": "1", "needs": ["nowhere"]})
    )
    loose = {"code": "X", "words": "x", "hours": "0.1", "steps": ["nowhere"]}
    assert "steps" in problems(client, "operations/", loose)
    first = WorkStep.objects.get(key="cover_off")
    looped = client.patch(f"{V1}/work-steps/{first.pk}/", {"version": first.version, "needs": ["plug"]}, format="json")
    assert looped.status_code == 400 and "loop" in looped.json()["errors"][0]["remedy"]
    first.refresh_from_db()
    assert first.needs == []


TERMS = {
    "starts_on": "2020-01-01",
    "supplies_percent": "5",
    "supplies_floor": "2.00",
    "supplies_cap": "4.00",
    "class_discounts": {"crew": "10"},
}


def test_supplies_fees_and_discounts_in_their_stated_order(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, rated: None
) -> None:
    post(client, "pricing-terms/", TERMS)
    Customer.objects.filter(pk=order.customer_id).update(kind="crew")
    job = post(
        client,
        f"orders/{order.pk}/jobs/",
        {
            "title": "Repair",
            "labour": [{"words": "Repair", "hours": "1.0", "discount_percent": "20"}],
            "parts": [{"words": "Starter", "unit_price": "40.00", "core_charge": "15.00"}],
        },
    )
    post(client, f"jobs/{job['id']}/fees/", {"kind": "disposal", "words": "Old fuel", "amount": "3.50"})
    post(client, f"jobs/{job['id']}/fees/", {"kind": "core", "words": "Old starter back", "amount": "-15.00"})
    version = Job.objects.get(pk=job["id"]).version
    body = {"version": version, "discount_amount": "9.50", "discount_words": "Sorry for the wait"}
    assert client.patch(f"{V1}/jobs/{job['id']}/", body, format="json").status_code == 200
    facts = estimate(client, order)
    (priced,) = facts["jobs"]
    # 95.00 - 20 % = 76.00; the job's 9.50 over 76.00 + 40.00 + 3.50 = 119.50: 6.04, 3.18, 0.28; then 10 % of 110.00 = 11.00.
    assert [cut["words"] for cut in priced["labour"][0]["less"]] == [
        "discount (20 %)", "Sorry for the wait", "crew or company (10 %)",
    ]  # fmt: skip
    assert [cut["amount"] for cut in priced["labour"][0]["less"]] == ["19.00", "6.04", "7.00"]
    assert priced["labour"][0]["amount"] == "62.96"
    # 5 % of 62.96 is 3.15: between floor and cap. The core charge and its return are never discounted.
    assert [(one["kind"], one["amount"]) for one in priced["extras"]] == [("core", "15.00"), ("supplies", "3.15")]
    assert D(facts["net"]) == D("110.00") - D("11.00") + D("15.00") - D("15.00") + D("3.15")
    assert any("shop supplies" in step["text"].lower() for step in facts["how"])
    printed = [line.what for line in estimate_sheet(facts).jobs[0].parts]
    assert any("5 % of 62.96" in what for what in printed) and any(
        what.startswith("Old fuel · less") for what in printed
    )
    bill = invoiced(shop, owner, order)
    assert bill.facts["total"] == facts["customer_total"]


def test_a_fee_after_the_answer_needs_a_new_one(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, rated: None
) -> None:
    job = season_service(shop, owner, order)
    agreed(shop, owner, order)
    post(client, f"jobs/{job.pk}/fees/", {"kind": "freight", "words": "Freight", "amount": "8.00"})
    assert Job.objects.get(pk=job.pk).state == "proposed"
    assert client.delete(f"{V1}/job-fees/{JobFee.objects.get().pk}/").status_code == 204
    assert Job.objects.get(pk=job.pk).state == "agreed"


def test_an_old_number_brings_the_part_of_today_and_loops_are_refused(
    client: APIClient, order: RepairOrder, rated: None
) -> None:
    new = post(
        client, "parts/", {"number": "N-2", "words": "Coil, new kind", "list_price": "31.00", "core_charge": "4"}
    )
    old = post(client, "parts/", {"number": "N-1", "words": "Coil", "list_price": "28.00", "replaced_by": new["id"]})
    job = post(client, f"orders/{order.pk}/jobs/", {"title": "Coil", "parts": [{"part": old["id"]}]})
    assert (job["parts"][0]["number"], job["parts"][0]["core_charge"]) == ("N-2", "4.00")
    assert job["parts"][0]["price_how"] == "N-1 is replaced by N-2"
    today = post(client, f"orders/{order.pk}/jobs/", {"title": "Coil", "parts": [{"part": new["id"]}]})
    assert today["parts"][0]["price_how"] == ""
    back = client.patch(f"{V1}/parts/{new['id']}/", {"version": 1, "replaced_by": old["id"]}, format="json")
    assert back.status_code == 400 and back.json()["errors"][0]["field"] == "replaced_by"
    assert Part.objects.get(pk=new["id"]).replaced_by is None


def test_the_customers_own_part_costs_nothing(client: APIClient, order: RepairOrder, rated: None) -> None:
    own = {"words": "Chain brought along", "customers_own": True}
    post(client, f"orders/{order.pk}/jobs/", {"title": "Fit chain", "parts": [own]})
    facts = estimate(client, order)
    assert facts["total"] == "0.00" and facts["jobs"][0]["parts"][0]["customers_own"]
    assert estimate_sheet(facts).jobs[0].parts[0].condition == "customer's own"
    line = JobPart.objects.get()
    late = client.patch(f"{V1}/job-parts/{line.pk}/", {"version": line.version, "unit_price": "5.00"}, format="json")
    assert late.status_code == 400 and late.json()["errors"][0]["field"] == "unit_price"
    priced = {"title": "x", "parts": [{**own, "unit_price": "5.00"}]}
    assert "parts[0].unit_price" in problems(client, f"orders/{order.pk}/jobs/", priced)


def test_a_certificate_spares_tax_until_its_last_day(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, rated: None
) -> None:
    today = shop.today()
    customer = {"name": "Lumen Hall", "tax_exempt": True, "tax_certificate": "EX-77"}
    yesterday = (today - dt.timedelta(days=1)).isoformat()
    assert "tax_exempt_until" in problems(client, "customers/", {**customer, "tax_exempt_until": yesterday})
    for nothing in ({"tax_certificate": ""}, {"tax_certificate": "  "}):
        assert "tax_certificate" in problems(client, "customers/", {**customer, **nothing})
    row = post(client, "customers/", customer)
    gone = {"version": row["version"], "tax_certificate": ""}
    assert client.patch(f"{V1}/customers/{row['id']}/", gone, format="json").status_code == 400
    season_service(shop, owner, order)
    Customer.objects.filter(pk=order.customer_id).update(
        tax_exempt=True, tax_certificate="EX-77", tax_exempt_until=today
    )
    facts = estimate(client, order)
    assert facts["tax"] == "0.00" and facts["pricing"]["exemption"] == {
        "certificate": "EX-77",
        "expires": today.isoformat(),
    }
    assert [one["why"] for one in facts["payers"]] == ["Exempt by certificate EX-77"]
    Customer.objects.filter(pk=order.customer_id).update(tax_exempt_until=today - dt.timedelta(days=1))
    assert "expired" in problems(client, f"orders/{order.pk}/estimates/", {})["exemption.expires"]
    assert Estimate.objects.count() == 1


def test_prices_with_tax_inside(shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, rated: None) -> None:
    post(client, "pricing-terms/", {"starts_on": "2020-01-01", "tax_inclusive": True})
    season_service(shop, owner, order)
    facts = estimate(client, order)
    # 6.25 holds 7.25 %: 6.25 x 7.25 / 107.25 = 0.42.
    assert (facts["total"], facts["tax"], facts["net"]) == ("82.25", "0.42", "81.83")


def test_terms_hold_from_their_day(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, rated: None
) -> None:
    tomorrow = (shop.today() + dt.timedelta(days=1)).isoformat()
    post(client, "pricing-terms/", {"starts_on": tomorrow, "minimum_labour": "200.00"})
    season_service(shop, owner, order)
    assert estimate(client, order)["customer_net"] == "82.25"
    post(client, "pricing-terms/", {"starts_on": shop.today().isoformat(), "minimum_labour": "90.00"})
    facts = estimate(client, order)
    assert facts["customer_net"] == "96.25" and facts["jobs"][0]["extras"][0]["amount"] == "14.00"


BAD_LINES = [
    ({"labour": [{"words": "x", "hours": "-1"}]}, "labour"),
    ({"labour": [{"words": "x", "hours": "25"}]}, "labour"),
    ({"labour": [{"words": "x", "hours": "NaN"}]}, "labour"),
    ({"labour": [{"words": "x", "hours": "1e400"}]}, "labour"),
    ({"labour": [{"words": "x", "hours": "1", "discount_percent": "100.5"}]}, "labour"),
    ({"parts": [{"words": "x", "unit_price": "1", "discount_percent": "100.5"}]}, "parts"),
    ({"parts": [{"words": "x", "unit_price": "1.123456789"}]}, "parts"),
    ({"parts": [{"words": "x", "unit_price": "NaN"}]}, "parts"),
    ({"parts": [{"words": "x", "unit_price": "1e400"}]}, "parts"),
    ({"parts": [{"words": "x", "unit_price": "1", "core_charge": "-1"}]}, "parts"),
]


@pytest.mark.parametrize(("bad", "field"), BAD_LINES)
def test_impossible_figures_are_refused_and_nothing_is_written(
    client: APIClient, order: RepairOrder, rated: None, bad: dict[str, Any], field: str
) -> None:
    found = problems(client, f"orders/{order.pk}/jobs/", {"title": "x", **bad})
    assert any(name.startswith(field) for name in found)
    assert not Job.objects.exists()


def test_a_discount_above_the_price_is_refused_where_it_is_given(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, rated: None
) -> None:
    job = season_service(shop, owner, order)
    path = f"{V1}/jobs/{job.pk}/"
    over = client.patch(path, {"version": job.version, "discount_amount": "82.26"}, format="json")
    assert over.status_code == 400 and "takes off more than the 82.25" in over.json()["errors"][0]["problem"]
    assert Job.objects.get(pk=job.pk).discount_amount is None
    all_of_it = client.patch(path, {"version": job.version, "discount_amount": "82.25"}, format="json")
    assert all_of_it.status_code == 200, all_of_it.content
    both = client.patch(path, {"version": job.version + 1, "discount_percent": "5"}, format="json")
    assert both.status_code == 400 and Job.objects.get(pk=job.pk).discount_percent is None
    Job.objects.filter(pk=job.pk).update(discount_amount=D("82.26"))
    assert "takes off more than" in problems(client, f"orders/{order.pk}/estimates/", {})["discount.amount"]


def test_another_payers_rate_does_not_bring_the_price_below_a_discount(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, rated: None
) -> None:
    job = season_service(shop, owner, order)
    body = {"version": job.version, "discount_amount": "82.25"}
    assert client.patch(f"{V1}/jobs/{job.pk}/", body, format="json").status_code == 200
    for path, body in (
        (f"{V1}/jobs/{job.pk}/", {"payer": "goodwill"}),
        (f"{V1}/jobs/{job.pk}/payers/", {"payer_of": {"labour": "goodwill"}}),
    ):
        send = client.patch if "payer" in body else client.post
        refused = send(path, {"version": job.version + 1, **body}, format="json")
        assert refused.status_code == 400, refused.content
        assert refused.json()["errors"][0]["field"] == "discount_amount"
        assert "Give 70.25 at most" in refused.json()["errors"][0]["remedy"]  # 0.8 h at 80.00, and 6.25
    kept = Job.objects.get(pk=job.pk)
    assert (kept.payer, kept.payer_of) == ("customer", {})


def test_what_a_discount_was_given_on_cannot_be_taken_away_under_it(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, rated: None
) -> None:
    job = season_service(shop, owner, order)
    body = {"version": job.version, "discount_amount": "80.00"}
    assert client.patch(f"{V1}/jobs/{job.pk}/", body, format="json").status_code == 200
    plug = job.parts.get()
    refused = client.delete(f"{V1}/job-parts/{plug.pk}/")
    assert refused.status_code == 400 and "Give 76.00 at most" in refused.json()["errors"][0]["remedy"]
    assert job.parts.exists()
    less = {"version": job.version + 1, "discount_amount": "76.00"}
    assert client.patch(f"{V1}/jobs/{job.pk}/", less, format="json").status_code == 200
    assert client.delete(f"{V1}/job-parts/{plug.pk}/").status_code == 204
    post(client, f"jobs/{job.pk}/fees/", {"kind": "freight", "words": "Freight", "amount": "8.00"})
    fee = JobFee.objects.get()
    Job.objects.filter(pk=job.pk).update(discount_amount=D("80.00"))
    assert client.delete(f"{V1}/job-fees/{fee.pk}/").status_code == 400 and JobFee.objects.exists()


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"supplies_percent": "101"}, "supplies_percent"),
        ({"supplies_floor": "5.00"}, "supplies_floor"),
        ({"supplies_cap": "4.001"}, "supplies_cap"),
        ({"class_discounts": {"duke": "5"}}, "class_discounts"),
        ({"class_discounts": {"crew": "101"}}, "class_discounts.crew"),
        ({"supplies_of": ["supplies"]}, "supplies_of.0"),
    ],
)
def test_impossible_terms_are_refused(client: APIClient, change: dict[str, Any], field: str) -> None:
    found = problems(client, "pricing-terms/", {**TERMS, **change})
    assert any(name.startswith(field.partition(".")[0]) for name in found)
    assert not PricingTerms.objects.exists()


def test_only_a_credit_goes_below_zero(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, rated: None
) -> None:
    job = season_service(shop, owner, order)
    freight = {"kind": "freight", "words": "Freight", "amount": "-8.00"}
    assert "amount" in problems(client, f"jobs/{job.pk}/fees/", freight)
    assert not JobFee.objects.exists()
    returned = {"kind": "part", "words": "Plug returned unused", "amount": "-6.25"}
    post(client, f"jobs/{job.pk}/fees/", returned)
    facts = issue_estimate(shop=shop, by=owner, order_id=order.pk).facts
    assert (facts["customer_net"], facts["customer_tax"]) == ("76.00", "0.00")


def test_terms_and_steps_are_the_shops_own(client: APIClient, strangers: dict[str, str], other_shop: Shop) -> None:
    PricingTerms.objects.create(shop=other_shop, starts_on=dt.date(2020, 1, 1), supplies_percent=D(50))
    WorkStep.objects.create(shop=other_shop, key="theirs", words="theirs", minutes=D(1))
    assert client.get(f"{V1}/pricing-terms/").json()["results"] == []
    assert client.get(f"{V1}/work-steps/").json()["results"] == []
    assert "steps" in problems(client, "operations/", {"code": "X", "words": "x", "hours": "0.1", "steps": ["theirs"]})


TAX = {"name": "Core tax", "percent": "10", "on_kinds": ["core"], "on_payers": ["customer"], "starts_on": "2020-01-01"}


def test_a_tax_falls_on_the_kinds_that_it_names(client: APIClient, order: RepairOrder, rated: None) -> None:
    post(client, "tax-rates/", TAX)
    starter = {"words": "Starter", "unit_price": "40.00", "core_charge": "15.00"}
    post(client, f"orders/{order.pk}/jobs/", {"title": "Starter", "parts": [starter]})
    facts = estimate(client, order)
    # 7.25 % of 40.00 and 10 % of 15.00.
    assert [(tax["name"], tax["base"], tax["amount"]) for tax in facts["customer_taxes"]] == [
        ("Core tax", "15.00", "1.50"),
        ("County tax", "40.00", "2.90"),
    ]


def test_a_tax_of_a_hundred_percent_is_a_slip(client: APIClient, rated: None) -> None:
    assert "percent" in problems(client, "tax-rates/", {**TAX, "percent": "100"})


def test_a_shop_that_rounds_each_line(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, rated: None
) -> None:
    parts = [{"words": f"Screw {at}", "unit_price": "1.04"} for at in range(3)]
    post(client, f"orders/{order.pk}/jobs/", {"title": "Screws", "parts": parts})
    # 1.04 x 7.25 % = 0.0754: three times 0.08, or 0.2262 on the whole.
    assert estimate(client, order)["tax"] == "0.23"
    Shop.objects.filter(pk=shop.pk).update(tax_basis="item")
    assert estimate(client, order)["tax"] == "0.24"
