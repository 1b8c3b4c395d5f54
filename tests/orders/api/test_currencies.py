"""A shop's own currency from the door to the paper: no decimals, two, three; and what has too many is refused."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import Job, RepairOrder
from orders.papers import estimate as estimate_paper
from orders.papers import invoice as invoice_paper
from orders.services.jobs import set_payer_basis
from orders.services.sheets import estimate_sheet, invoice_sheet
from shopdocs.shops.models import Shop, Staff
from tests.orders.api.test_pricing_doors import estimate, post, problems
from tests.orders.back_kit import invoiced, set_rates
from tests.papers_reading import words_of

pytestmark = pytest.mark.django_db
D = Decimal

# 0.7 h at 95 = 66.5; 3 x 1.335 = 4.005 of parts; 7.25 % on the parts.
CASES = [
    ("JPY", 0, "¥", "67", "4", "71", "0", "71", "¥71"),
    ("USD", 2, "$", "66.50", "4.01", "70.51", "0.29", "70.80", "$70.80"),
    ("KWD", 3, "", "66.500", "4.005", "70.505", "0.290", "70.795", "70.795"),
]


@pytest.fixture(params=CASES, ids=[case[0] for case in CASES])
def case(request: Any, shop: Shop) -> tuple[Any, ...]:
    code, decimals, symbol, *_ = request.param
    shop.currency, shop.currency_decimals, shop.currency_symbol = code, decimals, symbol
    shop.save()
    set_rates(shop)
    return tuple(request.param)


def test_estimate_and_invoice_in_the_shops_currency(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, case: tuple[Any, ...]
) -> None:
    _, decimals, _, labour, parts, net, tax, total, printed = case
    body = {
        "title": "Work",
        "labour": [{"words": "Work", "hours": "0.7"}],
        "parts": [{"words": "Line, by the foot", "quantity": "3", "unit_price": "1.335"}],
    }
    post(client, f"orders/{order.pk}/jobs/", body)
    facts = estimate(client, order)
    (job,) = facts["jobs"]
    assert (job["labour"][0]["amount"], job["parts"][0]["amount"], job["net"]) == (labour, parts, net)
    assert (facts["net"], facts["tax"], facts["customer_total"]) == (net, tax, total)
    text = words_of(estimate_paper.draw(estimate_sheet(facts), {}).pdf)
    assert printed in text
    bill = invoiced(shop, owner, order)
    assert (bill.facts["net"], bill.facts["tax"], bill.facts["total"]) == (net, tax, total)
    assert printed in words_of(invoice_paper.draw(invoice_sheet(bill.facts), {}).pdf)
    every = [
        job["net"],
        *(line["amount"] for line in (*job["labour"], *job["parts"])),
        *(one["total"] for one in facts["payers"]),
    ]
    assert all(len(amount.partition(".")[2]) == decimals for amount in every)


def test_shares_and_discounts_keep_to_the_currency(
    client: APIClient, order: RepairOrder, case: tuple[Any, ...]
) -> None:
    _, decimals, *_ = case
    made = post(client, f"orders/{order.pk}/jobs/", {"title": "Work", "labour": [{"words": "Work", "hours": "0.7"}]})
    set_payer_basis(job=Job.objects.get(), kind="decision", id="1", words="plan", hash="0" * 64)
    thirds = [
        {"payer": "customer", "percent": "33.3333"},
        {"payer": "shop", "percent": "33.3333"},
        {"payer": "warranty"},
    ]
    post(client, f"jobs/{made['id']}/payers/", {"version": Job.objects.get().version, "shares": thirds}, 200)
    (job,) = estimate(client, order)["jobs"]
    amounts = [one["amount"] for one in job["paid"]]
    assert sum(map(D, amounts)) == D(job["net"]) and len(amounts) == 3
    assert all(len(amount.partition(".")[2]) == decimals for amount in amounts)
    finer = D(1).scaleb(-decimals - 1)
    fee = {"kind": "freight", "words": "Freight", "amount": f"{finer:f}"}
    assert "amount" in problems(client, f"jobs/{made['id']}/fees/", fee)
    share = [{"payer": "customer", "amount": f"{finer:f}"}, {"payer": "warranty"}]
    body = {"version": Job.objects.get().version, "shares": share}
    assert any(name.startswith("shares") for name in problems(client, f"jobs/{made['id']}/payers/", body))
