"""What consumer laws want on estimate, repair order and invoice: for which prices, and that each thing is on the paper.

The statutes and their editions are those of orders/rules/data/estimate_papers.yaml and estimate_laws.yaml.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from orders.models import Customer, RepairOrder, Unit
from orders.rules.authorisation import all_laws
from orders.rules.legal_fields import PAPERS, all_papers, wanted_by
from orders.services.legal_fields import legal_fields
from shopdocs.shops.models import Shop

D = Decimal
AGREED = {"issued_on": "2026-11-03"}


def an_order(region: str, asked: str = "") -> RepairOrder:
    """A household's order at a shop of this state; nothing of it is stored. `asked`: as an order records it."""
    shop = Shop(name="Willow", region=region, country="US", storage_per_day=None)
    customer = Customer(shop=shop, name="Imke Dorran", kind="household")
    unit = Unit(shop=shop, use_class="residential")
    return RepairOrder(
        shop=shop,
        customer=customer,
        unit=unit,
        received_on=dt.date(2026, 11, 2),
        complaint="It does not start.",
        estimate_asked=asked,
    )


def frozen(price: str, payer: str = "customer") -> dict[str, Any]:
    """The facts of an estimate, or of an invoice, that come to this price; '' where nothing is priced yet."""
    return {
        "shop": {"name": "Willow", "address": ["14 Quarry Lane"], "phone": "555-0142", "language": "en"},
        "customer": {"name": "Imke Dorran", "lines": ["555-0177"]},
        "unit": {"maker": "Kestrelline", "model": "KL-462", "serial": "KL7-0049218"},
        "money": {"symbol": "$", "decimals": 2},
        "issued_on": "2026-11-03",
        "customer_total": price,
        "customer_tax": "0.00",
        "total": price,
        "tax": "0.00",
        "jobs": [{"title": "Service", "payer": payer, "labour": [], "parts": [], "paid": [], "agreed": AGREED}],
    }


# Minn. Stat. 325F.56 subd. 2 (2016; read): "a total price of more than $100 and less than $7,500". 325F.60 subd. 1 (2025;
# read): any value under a maker's warranty, else "a total value of more than $50". OAC 109:4-3-05 (summary; read): more than
# $25. 16 DCMR 633 and 637 (2024, 2017; read): every repair.
@pytest.mark.parametrize(
    ("region", "paper", "price", "payer", "wanted"),
    [
        ("MN", "estimate", "100.00", "customer", False),
        ("MN", "estimate", "100.01", "customer", True),
        ("MN", "estimate", "7499.99", "customer", True),
        ("MN", "estimate", "7500.00", "customer", False),
        ("MN", "invoice", "50.00", "customer", False),
        ("MN", "invoice", "50.01", "customer", True),
        ("MN", "invoice", "7500.00", "customer", True),
        ("MN", "invoice", "0.01", "warranty", True),
        ("OH", "estimate", "25.00", "customer", False),
        ("OH", "estimate", "25.01", "customer", True),
        ("OH", "repair_order", "25.00", "customer", False),
        ("OH", "repair_order", "", "customer", True),
        ("OH", "invoice", "90.00", "customer", False),
        ("DC", "estimate", "0.01", "customer", True),
        ("DC", "invoice", "0.01", "customer", True),
        ("CA", "estimate", "200.00", "customer", False),
    ],
)
def test_a_law_is_claimed_on_a_paper_only_for_the_prices_it_speaks_of(
    region: str, paper: str, price: str, payer: str, wanted: bool
) -> None:
    listed = legal_fields(an_order(region), frozen(price, payer), paper)
    assert bool(listed) is wanted
    for law in listed:
        assert bool(law["limit"]) is (paper != "invoice")  # an invoice is the bill: no limit is told on it
        assert law["edition"] and law["source"] and law["seen"].startswith("read")


@pytest.mark.parametrize(
    ("region", "paper", "asked", "wanted"),
    [
        ("MN", "estimate", "in_writing", True),
        ("MN", "estimate", "", True),  # nobody knows: as if asked
        ("MN", "estimate", "orally", False),
        ("MN", "estimate", "waived", False),
        ("MN", "invoice", "waived", True),  # an invoice is wanted whatever was asked
        ("OH", "repair_order", "waived", True),  # the form is where it is chosen
        ("DC", "estimate", "orally", True),
        ("DC", "estimate", "waived", False),
        ("DC", "invoice", "waived", True),
    ],
)
def test_what_the_customer_wants_decides_whether_an_estimates_list_is_claimed(
    region: str, paper: str, asked: str, wanted: bool
) -> None:
    """325F.58 subd. 1 (2001): on request for a written one; 16 DCMR 633.1 (2024): unless waived; OAC 109:4-3-05: a choice."""
    assert bool(legal_fields(an_order(region, asked), frozen("200.00"), paper)) is wanted


def test_a_bill_of_storage_alone_is_no_bill_of_a_repair() -> None:
    facts = frozen("90.00")
    assert legal_fields(an_order("DC"), facts, "invoice")
    del facts["jobs"][0]["agreed"]
    assert legal_fields(an_order("DC"), facts, "invoice") == []


def test_every_paper_that_a_law_wants_is_cited_with_its_edition_and_wants_each_thing_once() -> None:
    assert {law for paper in PAPERS for law in _laws_on(paper)} == {
        "ohio_all_repairs",
        "minnesota",
        "district_of_columbia",
    }
    assert _laws_on("invoice") == ["minnesota", "district_of_columbia"]
    for one in all_papers():
        assert one.address.startswith("http") and one.edition and one.source
        assert len({field.name for field in one.fields}) == len(one.fields)


def _laws_on(paper: str) -> list[str]:
    return [law.key for law in all_laws() if wanted_by(law.key, paper)]
