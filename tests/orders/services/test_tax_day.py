"""Whether the customer is exempt is a question of the invoice's day: what the certificate no longer spares is said and asked anew."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from orders.models import Customer, Invoice, Job, RepairOrder
from orders.services.finishing import finish_order
from orders.services.invoices import issue_invoice
from orders.services.sheets import invoice_sheet
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import Event, NumberSeries, Shop, Staff
from tests.orders.back_kit import agreed, arrived_earlier, done, season_service, set_rates

pytestmark = pytest.mark.django_db
D = Decimal
CONSENT = {"said_by": "Imke Dorran", "channel": "phone", "words": "told on the telephone that tax is due"}


def finished(shop: Shop, by: Staff, order: RepairOrder, **customer: Any) -> None:
    """A season service of 82.25 before 0.45 tax, agreed to and done, for a customer with a certificate unless said otherwise."""
    set_rates(shop)
    facts = {"tax_exempt": True, "tax_certificate": "EX-7", "tax_exempt_until": shop.today(), **customer}
    Customer.objects.filter(pk=order.customer_id).update(**facts)
    season_service(shop, by, order)
    arrived_earlier(order)
    estimate = agreed(shop, by, RepairOrder.objects.get(pk=order.pk))
    assert estimate.customer_total == (D("82.25") if facts["tax_exempt"] else D("82.70"))
    done(shop, by, Job.objects.get(order=order))
    finish_order(shop=shop, by=by, order_id=order.pk)


def expire(shop: Shop, order: RepairOrder) -> str:
    day = shop.today() - dt.timedelta(days=1)
    Customer.objects.filter(pk=order.customer_id).update(tax_exempt_until=day)
    return day.isoformat()


def test_tax_that_a_certificate_no_longer_spares_is_asked_anew(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any
) -> None:
    finished(shop, owner, order)
    expire(shop, order)
    path = f"/api/v1/orders/{order.pk}/invoices/"
    refused = client.post(path, {}, format="json")
    assert refused.status_code == 409, refused.content
    (problem,) = refused.json()["errors"]
    assert problem["field"] == "tax_consent" and "EX-7 expired on" in problem["problem"]
    assert "82.25" in problem["problem"] and "82.70" in problem["problem"]
    assert "certificate" in problem["remedy"] and "tax_consent" in problem["remedy"]
    assert refused.json()["authorisation"]["now"]["total"] == "82.70"
    assert not Invoice.objects.exists() and not NumberSeries.objects.filter(name="invoice").exists()
    bad = client.post(path, {"tax_consent": {**CONSENT, "channel": "link"}}, format="json")
    assert bad.status_code == 400
    answer = client.post(path, {"tax_consent": CONSENT}, format="json")
    assert answer.status_code == 201 and answer.json()["total"] == "82.70"
    facts = Invoice.objects.get().facts
    assert facts["tax_consent"] == CONSENT and facts["exempt_by"] == ""
    (tax,) = invoice_sheet(facts).taxes
    assert tax.name.startswith("County tax (certificate EX-7 expired on ") and tax.name.endswith("by Imke Dorran)")
    told = next(one for one in facts["figures"] if one["figure"].startswith("tax:"))
    assert "EX-7 expired" in told["words"]
    assert Event.objects.get(verb="tax agreed").facts == CONSENT


def test_what_the_shops_own_rule_allows_is_charged_and_said(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    finished(shop, owner, order)
    expire(shop, order)
    Shop.objects.update(own_overrun_percent=D("1"))
    bill = issue_invoice(shop=Shop.objects.get(pk=shop.pk), by=owner, order_id=order.pk)
    assert bill.total == D("82.70") and "EX-7 expired" in bill.facts["taxes"][0]["why"]
    assert invoice_sheet(bill.facts).taxes[0].name.endswith(")")


def test_a_certificate_that_was_taken_back_spares_nothing(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    finished(shop, owner, order)
    Customer.objects.filter(pk=order.customer_id).update(tax_exempt=False)
    with pytest.raises(Conflict, match="EX-7 is not valid any more"):
        issue_invoice(shop=shop, by=owner, order_id=order.pk)


def test_a_renewed_certificate_spares_and_stands_on_the_invoice(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    finished(shop, owner, order)
    later = shop.today() + dt.timedelta(days=300)
    Customer.objects.filter(pk=order.customer_id).update(tax_certificate="EX-8", tax_exempt_until=later)
    bill = issue_invoice(shop=shop, by=owner, order_id=order.pk)
    assert (bill.total, bill.facts["exempt_by"], bill.facts["tax_why"]) == (D("82.25"), "EX-8", "")


def test_one_that_came_since_the_estimate_spares_too(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    finished(shop, owner, order, tax_exempt=False, tax_exempt_until=None)
    Customer.objects.filter(pk=order.customer_id).update(tax_exempt=True)
    bill = issue_invoice(shop=shop, by=owner, order_id=order.pk)
    assert (bill.total, bill.facts["exempt_by"]) == (D("82.25"), "EX-7")


def test_a_consent_that_nothing_asks_for_is_refused(shop: Shop, owner: Staff, order: RepairOrder, client: Any) -> None:
    finished(shop, owner, order)
    answer = client.post(f"/api/v1/orders/{order.pk}/invoices/", {"tax_consent": CONSENT}, format="json")
    assert answer.status_code == 400 and answer.json()["errors"][0]["field"] == "tax_consent"
    assert not Invoice.objects.exists()
