"""Tax is owed at the rates of the day of the invoice: what changed since the estimate is said, and is no overrun of the shop's."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from orders.models import Customer, Invoice, Job, RepairOrder
from orders.services.authorised import compare, shown
from orders.services.charges import set_terms
from orders.services.finishing import finish_order
from orders.services.invoices import issue_invoice
from orders.services.lines import add_part
from orders.services.rate_changes import taxed_anew
from orders.services.sheets import invoice_sheet
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import LabourRate, Shop, Staff, TaxRate
from shopdocs.shops.rates import correct_tax_rate, set_tax_rate
from tests.orders.back_kit import agreed, arrived_earlier, done, season_service, sharpening

pytestmark = pytest.mark.django_db
D = Decimal
LAST_YEAR = dt.date(2020, 1, 1)
PARTS = {"on_kinds": ["part"], "on_payers": ["customer"]}


@pytest.fixture(autouse=True)
def rated(shop: Shop, order: RepairOrder) -> None:
    """95.00 an hour; 7 % on parts."""
    LabourRate.objects.create(shop=shop, payer="", per_hour=D(95), starts_on=LAST_YEAR)
    TaxRate.objects.create(shop=shop, name="County tax", percent=D(7), starts_on=LAST_YEAR, **PARTS)
    arrived_earlier(order)


def yesterday(shop: Shop) -> dt.date:
    return shop.today() - dt.timedelta(days=1)


def estimated(shop: Shop, by: Staff, order: RepairOrder, **job: Any) -> Job:
    """A season service and a deck for 100.00, agreed to some days ago: 176.00 + 7.00 tax, unless said otherwise."""
    made = season_service(shop, by, order, **{"parts": [{"words": "Deck", "unit_price": D(100)}], **job})
    estimate = agreed(shop, by, order)
    issued = shop.today() - dt.timedelta(days=3)
    estimate.facts["issued_on"] = issued.isoformat()
    estimate.issued_on = issued
    estimate.save()
    return made


def rate_rises(shop: Shop, by: Staff, percent: str = "7.25", **changes: Any) -> None:
    facts: dict[str, Any] = {"name": "County tax", "starts_on": yesterday(shop), **PARTS, **changes}
    set_tax_rate(by=by, percent=D(percent), **facts)


def billed(shop: Shop, by: Staff, order: RepairOrder) -> Invoice:
    for place, job in enumerate(Job.objects.filter(order=order, state="agreed").order_by("number")):
        done(shop, by, job, ago=40 * place)
    finish_order(shop=shop, by=by, order_id=order.pk)
    return issue_invoice(shop=shop, by=by, order_id=order.pk)


def day_in_words(day: dt.date) -> str:
    return f"{day.day} {day:%b %Y}"


def test_the_rate_of_the_day_is_charged_and_said(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    estimated(shop, owner, order)
    rate_rises(shop, owner)
    invoice = billed(shop, owner, order)
    facts = invoice.facts
    assert (facts["net"], facts["tax"], facts["total"]) == ("176.00", "7.25", "183.25")
    said = f"rate since {day_in_words(yesterday(shop))}: 7.25 %; the estimate said 7 %"
    (tax,) = invoice_sheet(facts).taxes
    assert tax.name == f"County tax ({said})"
    assert any(step["text"] == f"County tax: {said}" for step in facts["how"])
    told = next(one for one in facts["figures"] if one["figure"].startswith("tax:"))
    assert said in told["words"] and told["amount"] == "7.25"


def test_the_difference_is_no_overrun_by_the_shops_own_rule_or_a_law_that_does_not_count_tax(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    """Ohio's summary does not say whether tax counts; neither it nor the shop's rule of 0 % asks for a consent."""
    estimated(shop, owner, order)
    rate_rises(shop, owner, "9")
    compared = compare(RepairOrder.objects.get(pk=order.pk))
    assert [law.key for law in compared.laws] == ["ohio_all_repairs"]
    assert (compared.estimate.total, compared.estimate.taxed_anew, compared.bill.total) == (D(183), D(185), D(185))
    assert compared.verdict.allowed
    told = shown(compared)
    assert told["authorised"]["total"] == "183.00" and told["now"]["total"] == "185.00"
    assert all("both at the rates of the bill's day" in step["text"] for step in told["steps"])
    assert billed(shop, owner, order).total == D(185)


def test_a_rate_that_fell_leaves_no_room_for_more_work(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    job = estimated(shop, owner, order)
    rate_rises(shop, owner, "0")
    add_part(shop=shop, by=owner, job_id=job.pk, words="Belt", unit_price=D(5))
    assert Job.objects.get(pk=job.pk).state == "proposed"
    compared = compare(RepairOrder.objects.get(pk=order.pk))
    assert compared.bill.total == D(181) < compared.estimate.total and not compared.verdict.allowed


def test_where_the_law_counts_tax_the_difference_is_asked(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any
) -> None:
    """D.C.'s written estimate lists tax, and nothing may go beyond it (16 DCMR 633)."""
    Shop.objects.filter(pk=shop.pk).update(region="DC")
    shop.refresh_from_db()
    order = RepairOrder.objects.get(pk=order.pk)
    estimated(shop, owner, order)
    rate_rises(shop, owner)
    with pytest.raises(Conflict, match="Tax is due: County tax: rate since") as refused:
        billed(shop, owner, order)
    assert "16 DCMR 633" in refused.value.problems[0].remedy
    consent = {"said_by": "Imke Dorran", "channel": "phone", "words": "told of the new rate"}
    answer = client.post(f"/api/v1/orders/{order.pk}/invoices/", {"tax_consent": consent}, format="json")
    assert answer.status_code == 201 and answer.json()["total"] == "183.25"
    assert invoice_sheet(Invoice.objects.get().facts).taxes[0].name.endswith("; agreed to by Imke Dorran)")


def test_a_tax_that_came_or_ended_is_said(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    estimated(shop, owner, order)
    TaxRate.objects.update(ends_on=shop.today() - dt.timedelta(days=2))
    rate_rises(shop, owner, "1", name="City tax")
    facts = billed(shop, owner, order).facts
    assert (facts["tax"], facts["total"]) == ("1.00", "177.00")
    came, gone = invoice_sheet(facts).taxes
    assert came.name == f"City tax (since {day_in_words(yesterday(shop))}; it is not on the estimate)"
    assert gone.name == "County tax (not charged any more; the estimate said 7 %)" and gone.amount == 0
    assert next(one for one in facts["figures"] if one["figure"] == "ended:County tax")["amount"] == "0.00"


def test_a_tax_that_reaches_other_lines_now_is_said_to_have_changed(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    estimated(shop, owner, order)
    rate_rises(shop, owner, "7", on_kinds=["part", "labour"])
    facts = billed(shop, owner, order).facts
    assert facts["tax"] == "12.32"
    assert facts["taxes"][0]["why"] == f"changed on {day_in_words(yesterday(shop))}, since the estimate"


def test_a_corrected_rate_is_said_to_be_corrected(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    estimated(shop, owner, order)
    row = TaxRate.objects.get()
    correct_tax_rate(by=owner, rate=row.pk, version=row.version, reason="misread", changes={"percent": D("7.25")})
    facts = billed(shop, owner, order).facts
    assert facts["taxes"][0]["why"] == "corrected since the estimate: 7.25 %; the estimate said 7 %"


def test_nothing_is_said_where_nothing_changed(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    estimated(shop, owner, order)
    rate_rises(shop, owner, "7")
    facts = billed(shop, owner, order).facts
    assert facts["tax"] == "7.00" and facts["tax_why"] == "" and facts["taxes_ended"] == []
    assert invoice_sheet(facts).taxes[0].name == "County tax"


def test_jobs_of_two_estimates_are_taxed_at_the_one_rate_of_the_day(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    estimated(shop, owner, order)
    rate_rises(shop, owner)
    sharpening(shop, owner, order, parts=[{"words": "File", "unit_price": D(10)}])
    agreed(shop, owner, order)
    facts = billed(shop, owner, order).facts
    (tax,) = facts["taxes"]
    assert (tax["percent"], tax["base"], tax["amount"]) == ("7.25", "110.00", "7.98")


def test_prices_that_hold_their_tax_stay_as_agreed(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    """114.00 for 1.2 h at 95 and a part of 107.00: the whole stays, and another tax is in it."""
    set_terms(shop=shop, by=owner, starts_on=shop.today(), tax_inclusive=True)
    estimated(shop, owner, order, parts=[{"words": "Deck", "unit_price": D(107)}])
    rate_rises(shop, owner, "10")
    facts = billed(shop, owner, order).facts
    assert (facts["net"], facts["tax"], facts["total"]) == ("173.27", "9.73", "183.00")
    assert "rate since" in facts["taxes"][0]["why"]


def test_a_customer_without_tax_pays_no_more_because_a_rate_fell(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    """The tax that is taken out of an inclusive price is the estimate's: 107.00 less 7 % is 100.00, and stays it."""
    set_terms(shop=shop, by=owner, starts_on=shop.today(), tax_inclusive=True)
    Customer.objects.filter(pk=order.customer_id).update(tax_exempt=True, tax_certificate="EX-7")
    order = RepairOrder.objects.get(pk=order.pk)
    estimated(shop, owner, order, parts=[{"words": "Deck", "unit_price": D(107)}])
    rate_rises(shop, owner, "3")
    facts = billed(shop, owner, order).facts
    assert facts["total"] == "176.00" and facts["tax_why"] == "" and facts["taxes"] == []


@pytest.mark.parametrize("inclusive", [True, False])
def test_a_bracket_table_that_came_since_is_not_taken_out_of_a_price_that_holds_its_tax(inclusive: bool) -> None:
    terms = {"rates": ["as agreed"], "pricing": {"inclusive": inclusive}, "customer": {"tax_exempt": False}}
    table, percent = {"brackets": {"whole": "1.00"}}, {"brackets": None}
    kept = ["as agreed"] if inclusive else [percent, table]
    assert taxed_anew(terms, [percent, table])["rates"] == kept
    assert taxed_anew(terms, [percent])["rates"] == [percent]
