"""Each thing that a law wants on estimate and invoice is found on the drawn paper, wherever it stands there."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from orders.models import Customer, Estimate, Job, JobPart, RepairOrder
from orders.rules.legal_fields import WantedPaper, wanted_by
from orders.services.bench import fit_part
from orders.services.estimates import issue_estimate
from orders.services.fees import add_fee
from orders.services.finishing import finish_order
from orders.services.jobs import set_payer_basis
from orders.services.legal_fields import order_legal_fields
from orders.services.lines import add_labour, add_part, change_part
from orders.services.order_papers import repair_summary_sheet
from orders.services.order_sheet import repair_order_sheet
from orders.services.sheets import BLANK, estimate_sheet, invoice_sheet
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.press.values import day_words, sentence
from shopdocs.documents.press.words import Say, words
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import Shop, Staff, TaxRate
from tests.orders.back_kit import agreed, arrived_earlier, done, invoiced, season_service, set_rates
from tests.papers_reading import seen, words_of

pytestmark = pytest.mark.django_db
D = Decimal


def drawn_evidence(answer: str, facts: dict[str, Any], say: Say) -> list[str]:
    """What the paper must show for a thing that it says outside the list by law."""
    jobs = facts["jobs"]
    labour, parts = ([line for job in jobs for line in job[kind]] for kind in ("labour", "parts"))
    unit = facts["unit"]
    found = {
        "shop": [facts["shop"]["name"], *facts["shop"]["address"]],
        "dealer": [facts["shop"]["name"], *facts["shop"]["address"], facts["shop"]["phone"]],
        "customer": [facts["customer"]["name"], *facts["customer"]["lines"]],
        "unit": [unit["maker"], unit["model"]],
        "issued_on": [day_words(dt.date.fromisoformat(facts["issued_on"]), say)],
        "finished_on": [day_words(dt.date.fromisoformat(facts.get("finished_on") or "0001-01-01"), say)],
        "request": [facts.get("request", "")],
        "jobs": [
            text for job in jobs for text in (job["title"], job.get("correction"), job["net"]) if text is not None
        ],
        "labour": [text for line in labour for text in (line["words"], line["amount"])],
        "hours": [f"{line['words']} {line['tenths'] / 10:.1f}" for line in labour],
        "parts": [text for line in parts for text in (line["words"], line["amount"])],
        "conditions": [say(f"{line['condition']} part") for line in parts],
        "not_new": [say(f"{line['condition']} part") for line in parts if line["condition"] != "new"],
        "tax": [facts.get("customer_tax") or facts["tax"]],
        "total": [facts["total"]],
    }[answer]
    assert found and all(found), answer
    return found


def check(wanted: WantedPaper, facts: dict[str, Any], text: str) -> None:
    """Every wanted thing, by its name and value in the list by law, or where the paper says it anyway."""
    say = words(facts["shop"]["language"])
    (law,) = facts["legal_fields"]
    assert [one["name"] for one in law["fields"]] == [one.name for one in wanted.fields]
    for one in wanted.fields:
        if one.drawn:
            for told in drawn_evidence(one.answer, facts, say):
                assert told in text, (one.name, told)
        else:
            assert sentence(say(one.name)) in text, one.name
            (value,) = (field["value"] for field in law["fields"] if field["name"] == one.name)
            if one.answer == "choice":
                assert all(say(way) in text for way in ("in writing", "oral", "none")) and "\u2610" in text
            elif not one.answer.endswith("_on"):
                assert value in text if value else BLANK in text and one.answer in ("signature", "total"), one.name
            else:
                assert not value or day_words(dt.date.fromisoformat(value), say) in text, one.name
    assert law["source"] in text and say("The shop confirms what binds it.") in text


@pytest.mark.parametrize(
    ("region", "law", "language"), [("MN", "minnesota", "en"), ("DC", "district_of_columbia", "es")]
)
def test_each_thing_that_a_law_wants_is_on_the_drawn_estimate_and_invoice(
    shop: Shop, owner: Staff, order: RepairOrder, region: str, law: str, language: str
) -> None:
    set_rates(shop)
    Customer.objects.update(phone="555-0177", language=language)
    Shop.objects.update(region=region, storage_per_day=D("5.00"), storage_free_days=10)
    shop.refresh_from_db()
    job = season_service(shop, owner, order)
    add_part(shop=shop, by=owner, job_id=job.pk, words="Starter", unit_price=D("20.00"), condition="rebuilt")
    add_part(shop=shop, by=owner, job_id=job.pk, words="Bolt", unit_price=D("1.00"), original=True)
    add_labour(shop=shop, by=owner, job_id=job.pk, words="Find the fault", hours=D("0.3"), diagnosis=True)
    add_fee(shop=shop, by=owner, job_id=job.pk, kind="freight", words="Freight of the starter", amount=D("7.50"))
    add_fee(shop=shop, by=owner, job_id=job.pk, kind="disposal", words="Old oil", amount=D("2.25"))
    invoice = invoiced(shop, owner, RepairOrder.objects.get(pk=order.pk))
    estimate = Estimate.objects.get(order=order)
    for paper, facts, sheet in (
        ("estimate", estimate.facts, estimate_sheet(estimate.facts)),
        ("invoice", invoice.facts, invoice_sheet(invoice.facts)),
    ):
        wanted = wanted_by(law, paper)
        assert wanted is not None
        text = words_of(draw_sheet(shop, paper, to_json(sheet)).pdf)
        check(wanted, facts, text)
        say = words(language)
        assert say("rebuilt part") in text
        assert (f"{say('new part')}, {say('original equipment')}" in text) is (region == "MN")
        assert say("not known whether original equipment") in text or region == "DC"  # the spark plug
        values = {one["answer"]: one["value"] for one in facts["legal_fields"][0]["fields"]}
        assert values["delivery"] == "$7.50"
        assert values.get("other", "$2.25") == "$2.25"
        assert values.get("estimate_charge", "28.50").find("28.50") >= 0  # 0.3 h of finding the fault


@pytest.mark.parametrize("language", ["en", "es"])
def test_each_thing_that_ohios_rule_wants_is_on_the_form_and_the_estimate(
    shop: Shop, owner: Staff, order: RepairOrder, language: str
) -> None:
    set_rates(shop)
    Customer.objects.update(phone="555-0177", language=language)
    season_service(shop, owner, order)
    for paper in ("repair_order", "estimate", "repair_order"):  # the form at first contact, and with the cost on it
        wanted, now = wanted_by("ohio_all_repairs", paper), RepairOrder.objects.get(pk=order.pk)
        assert wanted is not None
        if paper == "estimate":
            facts = issue_estimate(shop=shop, by=owner, order_id=order.pk).facts
            sheet: Any = estimate_sheet(facts)
        else:
            sheet = repair_order_sheet(now)
            facts = {"legal_fields": order_legal_fields(now, language), "shop": {"language": language}}
        check(wanted, facts, words_of(draw_sheet(shop, paper, to_json(sheet)).pdf))


def test_an_invoice_that_no_law_speaks_of_has_no_list(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    season_service(shop, owner, order)
    facts = invoiced(shop, owner, order).facts
    assert facts["legal_fields"] == []  # of Ohio nothing was seen that an invoice must say
    assert facts["jobs"][0]["agreed"]["issued_on"] == Estimate.objects.get(order=order).issued_on.isoformat()
    assert invoice_sheet(facts).legal == ()


def test_a_part_is_new_unless_said_and_another_condition_asks_again(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    set_rates(shop)
    arrived_earlier(order)
    job = season_service(shop, owner, order)
    starter = add_part(shop=shop, by=owner, job_id=job.pk, words="Starter", unit_price=D("20.00"), condition="used")
    assert {line.words: line.condition for line in JobPart.objects.all()} == {"Spark plug": "new", "Starter": "used"}
    agreed(shop, owner, order)
    told = estimate_sheet(Estimate.objects.get(order=order).facts).jobs[0].parts
    assert [line.condition for line in told] == ["", "used part"]
    changed = change_part(
        shop=shop, by=owner, part_id=starter.pk, version=starter.version, changes={"condition": "rebuilt"}
    )
    assert changed.job.state == "proposed"
    with pytest.raises(Conflict):
        fit_part(shop=shop, by=owner, part_id=starter.pk)
    back = change_part(shop=shop, by=owner, part_id=starter.pk, version=changed.version, changes={"condition": "used"})
    assert back.job.state == "agreed"
    changed = change_part(shop=shop, by=owner, part_id=starter.pk, version=back.version, changes={"original": False})
    assert changed.job.state == "agreed"  # nothing had been said of it
    fresh = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert fresh.facts["jobs"][0]["parts"][1]["original"] is False


def test_the_door_takes_the_condition_of_a_part_and_refuses_what_is_none(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any
) -> None:
    set_rates(shop)
    job = season_service(shop, owner, order)
    path = f"/api/v1/jobs/{job.pk}/parts/"
    line = {"words": "Starter", "unit_price": "20.00"}
    made = client.post(path, {**line, "condition": "reconditioned", "original": True}, format="json")
    added = made.json()["parts"][-1]
    assert (made.status_code, added["condition"], added["original"]) == (201, "reconditioned", True)
    for wrong in ({"condition": "shiny"}, {"condition": ""}, {"condition": None}, {"original": "perhaps"}):
        answer = client.post(path, {**line, **wrong}, format="json")
        assert (answer.status_code, answer.json()["errors"][0]["field"]) == (400, next(iter(wrong)))


def test_the_repair_summary_calls_no_used_part_new(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    job = season_service(shop, owner, order)
    add_part(shop=shop, by=owner, job_id=job.pk, words="Starter", unit_price=D("20.00"), condition="used")
    invoiced(shop, owner, order)
    now = RepairOrder.objects.get(pk=order.pk)
    assert repair_summary_sheet(now).jobs[0].parts == ("Spark plug", "Starter (used part)")
    assert [part.condition for part in repair_order_sheet(now).jobs[0].parts] == ["", "used part"]


def finished_for(
    shop: Shop, owner: Staff, order: RepairOrder, region: str, payer: str = "warranty"
) -> tuple[Job, RepairOrder, str]:
    """A job that somebody else pays, done in a region: the job, its order, and the words of the repair summary."""
    set_rates(shop)
    Shop.objects.update(region=region)
    shop.refresh_from_db()
    arrived_earlier(order)
    job = season_service(shop, owner, order)
    set_payer_basis(job=job, kind="decision", id="d-1", words="two-year promise", hash="0" * 64, payer=payer)
    agreed(shop, owner, order)
    done(shop, owner, Job.objects.get(pk=job.pk))
    finish_order(shop=shop, by=owner, order_id=order.pk)
    now = RepairOrder.objects.get(pk=order.pk)
    return job, now, words_of(draw_sheet(shop, "repair_summary", to_json(repair_summary_sheet(now))).pdf)


def test_minnesotas_copy_of_a_repair_that_a_warranty_pays_alone_is_the_summary(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    job, now, text = finished_for(shop, owner, order, "MN")
    say, wanted = words("en"), wanted_by("minnesota", "repair_summary")
    assert wanted is not None and wanted.source in text
    for told in (
        shop.name, *shop.address_lines(), day_words(shop.local(now.finished_at).date(), say), job.title, now.complaint,
        "Done as agreed; three cold starts.", "Spark plug (new part, not known whether original equipment)",
        "Parts, labour, tax, delivery, storage and other charges to you", "none: the warranty pays",
    ):  # fmt: skip
        assert told in text, told
    half = [("warranty", "50"), ("customer", None)]
    shares = [{"payer": payer, "percent": percent, "amount": None} for payer, percent in half]
    Job.objects.filter(pk=job.pk).update(shares=shares)
    assert repair_summary_sheet(now).legal == ()  # then there is an invoice
    Job.objects.filter(pk=job.pk).update(shares=[])
    Shop.objects.update(region="OH")
    assert repair_summary_sheet(RepairOrder.objects.get(pk=order.pk)).legal == ()


@pytest.mark.parametrize(
    ("payer", "nothing"), [("warranty", "none: the warranty pays"), ("goodwill", "none: nothing of it")]
)
def test_dcs_final_bill_of_a_repair_that_the_customer_pays_nothing_of_is_the_summary(
    shop: Shop, owner: Staff, order: RepairOrder, payer: str, nothing: str
) -> None:
    """16 DCMR 637.1: "in each repair transaction"; 637.4(e): the time of each stage of labour."""
    job, now, text = finished_for(shop, owner, order, "DC", payer)
    say, wanted = words("en"), wanted_by("district_of_columbia", "repair_summary")
    assert wanted is not None and wanted.source in text
    for told in (
        shop.name, *shop.address_lines(), shop.phone, now.customer.name, now.unit.model.name, "Spark plug",
        "Done as agreed; three cold starts.", "Season service: 0.8 h", nothing, "Signature of the dealer",
        f"Date received {day_words(now.received_on, say)}", "Charge for supplying the estimate: none",
        f"Date the estimate was issued {day_words(Estimate.objects.get(order=order).issued_on, say)}",
    ):  # fmt: skip
        assert told in text, told
    assert "at most: this estimate" not in text  # nothing more is to come
    Job.objects.filter(pk=job.pk).update(shares=[{"payer": "customer", "percent": "50", "amount": None}])
    assert repair_summary_sheet(now).legal == ()  # then there is an invoice
    Job.objects.filter(pk=job.pk).update(shares=[])
    Customer.objects.update(kind="crew")
    assert repair_summary_sheet(RepairOrder.objects.get(pk=order.pk)).legal == ()


def test_names_that_run_from_right_to_left_turn_no_figure_in_what_a_law_wants(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    """The house number stays before its street, the hours behind their work, as the eye meets them on the page."""
    arabic = "ضريبة القيمة 21"
    set_rates(shop)
    TaxRate.objects.update(name=arabic)
    Customer.objects.update(name=arabic, street="8 Weir Street", phone="555-0177")
    Shop.objects.update(region="DC", name=arabic)
    job = season_service(shop, owner, order)
    add_labour(shop=shop, by=owner, job_id=job.pk, words=arabic, hours=D("0.3"))
    add_part(shop=shop, by=owner, job_id=job.pk, words=arabic, unit_price=D(20), discount_percent=D("12.5"))
    order = RepairOrder.objects.get(pk=order.pk)
    facts = invoiced(shop, owner, order).facts
    for paper, sheet in (
        ("estimate", estimate_sheet(Estimate.objects.get(order=order).facts)), ("invoice", invoice_sheet(facts)),
    ):  # fmt: skip
        lines = " ".join(seen(draw_sheet(shop, paper, to_json(sheet)).pdf))
        for told in ("8 Weir Street", "14 Quarry Lane", "7.25 %", "12.5 %", "555-0142"):
            assert told in lines, (paper, told)
