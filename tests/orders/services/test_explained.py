"""Every figure of an invoice lists how it came about, and the steps of each add up to it."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import pytest

from orders.models import Customer, Invoice, RepairOrder
from orders.services.charges import set_terms
from orders.services.credits import issue_credit_note
from orders.services.estimates import issue_estimate
from orders.services.explained import balance_explained
from orders.services.fees import add_fee
from orders.services.options import add_option
from orders.services.payments import record_deposit, record_payment, record_refund
from orders.services.splits import set_split
from orders.services.write_offs import write_off
from shopdocs.shops.models import Shop, Staff, TaxRate
from tests.orders.back_kit import invoiced, season_service, set_rates, sharpening

pytestmark = pytest.mark.django_db
D = Decimal


def a_rich_invoice(shop: Shop, owner: Staff, order: RepairOrder, **terms: Any) -> Invoice:
    """Two taxes, discounts of every kind, supplies, a core, fees, a split job, a goodwill job, a deposit."""
    set_rates(shop)
    TaxRate.objects.create(
        shop=shop, name="State tax", percent=D("5.75"), on_payers=["customer"], starts_on=shop.today().replace(day=1),
        on_kinds=["part", "labour", "supplies", "core", "freight"],
    )  # fmt: skip
    set_terms(
        shop=shop, by=owner, starts_on=shop.today(),
        **{"supplies_percent": D("3.5"), "class_discounts": {"household": D("2.5")}, **terms},
    )  # fmt: skip
    coil = {"words": "Coil", "unit_price": D("61.37"), "core_charge": D("9"), "discount_percent": D("5")}
    job = season_service(shop, owner, order, parts=[coil])
    add_fee(shop=shop, by=owner, job_id=job.pk, kind="freight", words="Freight", amount=D("7.31"))
    add_fee(shop=shop, by=owner, job_id=job.pk, kind="core", words="Core returned", amount=D("-9"))
    split = season_service(shop, owner, order, title="Shared")
    set_split(
        shop=shop,
        by=owner,
        job_id=split.pk,
        version=split.version,
        shares=[{"payer": "goodwill", "percent": D("33.3")}, {"payer": "customer"}],
    )
    sharpening(shop, owner, order, payer="goodwill")
    record_deposit(shop=shop, by=owner, order_id=order.pk, amount=D("25"), means="cash")
    return invoiced(shop, owner, order)


def adds_up(figures: list[dict[str, Any]]) -> None:
    names = [one["figure"] for one in figures]
    assert len(set(names)) == len(names)
    for one in figures:
        assert one["steps"] and all(step["text"] for step in one["steps"]), one
        assert sum(D(step["amount"]) for step in one["steps"]) == D(one["amount"]), one


@pytest.mark.parametrize(
    "terms", [{}, {"tax_inclusive": True}, {"tax_stacking": "separate", "minimum_labour": D("120")}]
)
def test_the_steps_of_every_figure_add_up_to_it(
    shop: Shop, owner: Staff, order: RepairOrder, terms: dict[str, Any]
) -> None:
    facts = a_rich_invoice(shop, owner, order, **terms).facts
    figures = facts["figures"]
    adds_up(figures)
    by_name = {one["figure"]: one for one in figures}
    assert D(by_name["net"]["amount"]) == D(facts["net"])
    assert D(by_name["total"]["amount"]) == D(facts["total"])
    assert D(by_name["due"]["amount"]) == D(facts["due"]) == D(facts["total"]) - 25
    assert {f"tax:{tax['name']}:{tax['percent']}" for tax in facts["taxes"]} <= set(by_name)
    assert {"job:1", "job:2", "job:3", "share:2:customer", "payer:goodwill:net"} <= set(by_name)
    lines = [one for name, one in by_name.items() if name.startswith("line:")]
    assert sum(D(one["amount"]) for one in lines) == sum(D(job["net"]) for job in facts["jobs"])
    (coil,) = [one for one in lines if one["words"] == "Coil"]
    (gross,) = by_name[coil["steps"][0]["of"]]["steps"]
    assert gross["text"] == "1 at 61.37" and gross["working"] == "1 × 61.37" and len(coil["steps"]) == 3


def test_an_exempt_customer_and_a_basis_of_items(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    Customer.objects.update(tax_exempt=True, tax_certificate="EX-7", tax_exempt_until=shop.today())
    Shop.objects.update(tax_basis="item")
    shop.refresh_from_db()
    facts = a_rich_invoice(shop, owner, order).facts
    adds_up(facts["figures"])
    assert facts["taxes"] == [] and not [one for one in facts["figures"] if one["figure"].startswith("tax:")]


def test_what_is_open_is_explained_by_what_moved(shop: Shop, owner: Staff, order: RepairOrder, client: Any) -> None:
    invoice = a_rich_invoice(shop, owner, order)
    line = next(one["figure"][5:] for one in invoice.facts["figures"] if one["words"] == "Coil")
    record_payment(shop=shop, by=owner, invoice_id=invoice.pk, amount=D("30"), means="cash")
    record_refund(shop=shop, by=owner, invoice_id=invoice.pk, amount=D("5"), means="cash", why="change")
    note = issue_credit_note(
        shop=shop, by=owner, invoice_id=invoice.pk, reason="x", lines=[{"line": line, "amount": D("10")}]
    )
    assert sum(D(step["amount"]) for step in note.facts["how"]) == note.total
    write_off(shop=shop, by=owner, invoice_id=invoice.pk, reason="x", amount=D("1.50"))
    told = client.get(f"/api/v1/invoices/{invoice.pk}/how/").json()
    adds_up(told)
    fresh = Invoice.objects.get(pk=invoice.pk)
    open_now = invoice.total - 25 - 30 + 5 - note.total - D("1.50")
    assert (told[-1]["figure"], told[-1]["amount"]) == ("balance", f"{open_now:f}")
    assert [step.get("of") for step in told[-1]["steps"]] == ["total", "paid", "credited", "written_off"]
    assert told == [*fresh.facts["figures"], *balance_explained(fresh)]


def test_the_ways_to_choose_from_list_how_they_came_about(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any
) -> None:
    set_rates(shop)
    jobs = [season_service(shop, owner, order, title=title) for title in ("Repair", "Wear items")]
    for name, some in (("Repair", jobs[:1]), ("Repair with the wear items", jobs), ("Nothing", [])):
        add_option(shop=shop, by=owner, order_id=order.pk, group="how", name=name, jobs=[job.pk for job in some])
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    told = client.get(f"/api/v1/estimates/{estimate.pk}/how/").json()
    adds_up(told)
    ways = {one["words"]: one["amount"] for one in told if one["figure"].count(":") == 1 and "option:" in one["figure"]}
    assert ways == {"Repair": "82.70", "Repair with the wear items": "165.41", "Nothing": "0.00"}
    first = next(one for one in told if one["words"] == "Repair" and re.fullmatch("option:[^:]+", one["figure"]))
    mine = {one["figure"]: one for one in told}[first["steps"][0]["of"]]
    assert [step["amount"] for step in mine["steps"]] == ["82.25", "0.45"]
