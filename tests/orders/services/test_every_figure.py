"""Every money figure of an estimate, an invoice and a statement is found at how/, and what it lists there is done again in fractions."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from orders.models import EstimateOption, RepairOrder
from orders.services.credits import issue_credit_note
from orders.services.estimates import issue_estimate
from orders.services.options import withdraw_option
from orders.services.payments import record_payment, record_refund
from shopdocs.money import Currency
from shopdocs.shops.models import Shop, Staff
from tests.orders.back_kit import invoiced, season_service, set_rates
from tests.orders.figures_kit import JPY, KWD, USD, Facts, every_figure, name_in_statement, rich_order
from tests.orders.services.test_credit_figures import figures_of
from tests.sums import done_again

pytestmark = pytest.mark.django_db
D = Decimal


CASES = [
    (USD, "invoice", {}),
    (USD, "invoice", {"tax_inclusive": True}),
    (JPY, "item", {"tax_stacking": "separate"}),
    (KWD, "item", {"tax_inclusive": True}),
    (KWD, "invoice", {"tax_stacking": "separate"}),
]


@pytest.mark.parametrize(("currency", "basis", "terms"), CASES)
def test_every_money_figure_is_told_and_done_again(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any, currency: Currency, basis: str, terms: Facts
) -> None:
    Shop.objects.filter(pk=shop.pk).update(tax_basis=basis)
    shop.refresh_from_db()
    rich_order(shop, owner, order, currency, **terms)
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    told = client.get(f"/api/v1/estimates/{estimate.pk}/how/").json()
    found = every_figure(estimate.facts, told, currency)
    assert {"hours:" + line["id"] for line in estimate.facts["jobs"][0]["labour"]} <= found.keys()
    assert found["total"] == estimate.customer_total

    for option in EstimateOption.objects.all():
        withdraw_option(shop=shop, by=owner, option_id=option.pk)
    invoice = invoiced(shop, owner, order)
    bill = client.get(f"/api/v1/invoices/{invoice.pk}/how/").json()
    found = every_figure(invoice.facts, bill, currency)
    assert (found["total"], found["balance"]) == (invoice.total, invoice.total - found["payment:1"])

    record_payment(shop=shop, by=owner, invoice_id=invoice.pk, amount=found["payment:1"], means="card")
    record_refund(shop=shop, by=owner, invoice_id=invoice.pk, amount=currency.quantum, means="cash", why="change")
    note = issue_credit_note(shop=shop, by=owner, invoice_id=invoice.pk, reason="x")
    figures_of(note, client)
    row = client.get(f"/api/v1/invoices/{invoice.pk}/").json()
    found = done_again(client.get(f"/api/v1/invoices/{invoice.pk}/how/").json(), currency.decimals)
    for name in ("paid", "credited", "written_off", "balance", "total"):
        assert found[name] == D(row[name]), name

    path = f"/api/v1/customers/{order.customer_id}/statement/"
    whole = client.get(path).json()
    found = every_figure(whole, client.get(f"{path}how/").json(), currency, name_in_statement, least=15)
    assert found["open"] == D(whole["open"]) and len(whole["entries"]) >= 5


def test_an_estimate_older_than_such_lists_is_told_as_far_as_it_comes_to_the_same(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any
) -> None:
    set_rates(shop)
    season_service(shop, owner, order)
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    estimate.figures = []
    del estimate.facts["labour_done"]
    estimate.save()
    told = client.get(f"/api/v1/estimates/{estimate.pk}/how/").json()
    assert done_again(told, 2)["total"] == estimate.customer_total
    estimate.facts["customer_net"] = "1.00"  # as if pricing had been another then
    estimate.save()
    assert client.get(f"/api/v1/estimates/{estimate.pk}/how/").json() == []
