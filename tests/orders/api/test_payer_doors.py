"""Several payers of one job, from the door to estimate, answer and invoice: the parts always make the whole."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rest_framework.test import APIClient

from orders.models import Job, RepairOrder
from orders.rules.splits import read_shares
from orders.services.jobs import set_payer_basis
from orders.services.priced import price
from orders.services.sheets import estimate_sheet, invoice_sheet
from shopdocs.problems import BadInput
from shopdocs.shops.models import Shop, Staff
from tests.orders.api.test_pricing_doors import V1, estimate, post, problems
from tests.orders.back_kit import agreed, invoiced, set_rates

pytestmark = pytest.mark.django_db
D = Decimal
REST = {"payer": "warranty"}
TWENTY = [{"payer": "customer", "percent": "20"}, REST]
DEDUCTIBLE = [{"payer": "customer", "amount": "25.00"}, REST]


@pytest.fixture
def covered(shop: Shop, client: APIClient, order: RepairOrder) -> Job:
    """0.5 h (40.00 at the warranty's rate) and a part of 60.00, paid by warranty on its ground."""
    set_rates(shop)
    work = {
        "labour": [{"words": "Replace module", "hours": "0.5"}],
        "parts": [{"words": "Module", "unit_price": "60.00"}],
    }
    job = Job.objects.get(pk=post(client, f"orders/{order.pk}/jobs/", {"title": "Module", **work})["id"])
    return set_payer_basis(job=job, kind="decision", id="d-1", words="plan", hash="0" * 64)


def share(client: APIClient, job: Job, code: int = 200, **split: Any) -> Any:
    job.refresh_from_db()
    return post(client, f"jobs/{job.pk}/payers/", {"version": job.version, **split}, code)


def paid(facts: dict[str, Any]) -> dict[str, str]:
    return {one["payer"]: one["amount"] for one in facts["jobs"][0]["paid"]}


def test_warranty_pays_the_parts_and_the_customer_the_labour(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, covered: Job
) -> None:
    made = share(client, covered, payer_of={"labour": "customer"})
    assert made["payer_of"] == {"labour": "customer"} and made["payer"] == "warranty"
    facts = estimate(client, order)
    # An hour costs the customer 95.00, and the warranty 80.00.
    assert paid(facts) == {"customer": "47.50", "warranty": "60.00"}
    # The tax falls on the customer's parts, of which there are none.
    assert (facts["customer_total"], facts["tax"]) == ("47.50", "0.00")
    job = estimate_sheet(facts).jobs[0]
    assert (job.payer, job.customer_pays) == ("Warranty; labour: customer", D("47.50"))
    assert "beyond my own share" in facts["jobs"][0]["if_refused"]["none"]
    assert "Of its $107.50 before tax I pay $47.50" in facts["jobs"][0]["agree"]["accept"]
    bill = invoiced(shop, owner, order)
    assert (bill.facts["total"], bill.facts["jobs"][0]["customer_pays"]) == ("47.50", "47.50")
    assert [(one.payer, one.amount) for one in invoice_sheet(bill.facts).others] == [("Warranty", D("60.00"))]


def test_eighty_and_twenty_percent(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, covered: Job
) -> None:
    share(client, covered, shares=TWENTY)
    facts = estimate(client, order)
    assert paid(facts) == {"customer": "20.00", "warranty": "80.00"}
    # 20 % of the part is the customer's and taxed: 7.25 % of 12.00.
    assert (facts["customer_tax"], facts["customer_total"]) == ("0.87", "20.87")
    assert facts["jobs"][0]["payer_words"] == "Customer 20 %, warranty the rest"
    assert facts["jobs"][0]["paid_how"][0]["text"] == "customer pays 20 % of what is left"
    assert invoiced(shop, owner, order).facts["total"] == "20.87"


def test_a_deductible_is_paid_first_and_taxed_by_its_part_of_the_parts(
    client: APIClient, order: RepairOrder, covered: Job
) -> None:
    """Deductible 25.00, parts 60.00, labour 40.00: 15.00 of it is for parts (annotation 490.0510; see tests/published)."""
    share(client, covered, shares=DEDUCTIBLE)
    facts = estimate(client, order)
    assert paid(facts) == {"customer": "25.00", "warranty": "75.00"}
    assert facts["customer_taxes"][0]["base"] == "15.00" and facts["customer_tax"] == "1.09"
    assert facts["jobs"][0]["payer_words"] == "Customer the first 25.00, warranty the rest"


def test_a_share_that_grows_after_the_answer_asks_again(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, covered: Job
) -> None:
    share(client, covered, shares=DEDUCTIBLE)
    agreed(shop, owner, order)
    share(client, covered, shares=[{"payer": "customer", "amount": "26.00"}, REST])
    assert Job.objects.get(pk=covered.pk).state == "proposed"
    share(client, covered, shares=DEDUCTIBLE)
    assert Job.objects.get(pk=covered.pk).state == "agreed"
    share(client, covered)  # the warranty pays it all: less than was agreed
    assert Job.objects.get(pk=covered.pk).state == "agreed"
    share(client, covered, payer_of={"labour": "customer"})
    assert Job.objects.get(pk=covered.pk).state == "proposed"


def test_a_bill_of_which_a_part_moves_to_the_customer_asks_again(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder, covered: Job
) -> None:
    agreed(shop, owner, order)
    share(client, covered, shares=TWENTY)
    assert Job.objects.get(pk=covered.pk).state == "proposed"


def test_goodwill_may_take_a_part_of_what_the_customer_agreed_to(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    set_rates(shop)
    post(client, f"orders/{order.pk}/jobs/", {"title": "Work", "labour": [{"words": "Work", "hours": "1.0"}]})
    agreed(shop, owner, order)
    job = Job.objects.get()
    share(client, job, shares=[{"payer": "goodwill", "percent": "50"}, {"payer": "customer"}])
    assert Job.objects.get().state == "agreed"
    assert invoiced(shop, owner, order).facts["total"] == "47.50"


def test_another_payer_ends_the_split(client: APIClient, order: RepairOrder, covered: Job) -> None:
    share(client, covered, shares=TWENTY, payer_of={"freight": "shop"})
    covered.refresh_from_db()
    body = {"version": covered.version, "payer": "customer"}
    assert client.patch(f"{V1}/jobs/{covered.pk}/", body, format="json").status_code == 200
    covered.refresh_from_db()
    assert (covered.shares, covered.payer_of) == ([], {})


@pytest.mark.parametrize(
    ("split", "field"),
    [
        ({"shares": [{"payer": "customer", "percent": "120"}, REST]}, "shares"),
        ({"shares": [{"payer": "customer", "percent": "-1"}, REST]}, "shares"),
        ({"shares": [{"payer": "customer", "percent": "NaN"}, REST]}, "shares"),
        ({"shares": [{"payer": "customer", "amount": "1e400"}, REST]}, "shares"),
        ({"shares": [{"payer": "customer", "amount": "1.001"}, REST]}, "shares.amount"),
        ({"shares": [{"payer": "customer", "amount": "1", "percent": "1"}, REST]}, "share"),
        ({"shares": [{"payer": "customer", "percent": "20"}, {"payer": "warranty", "percent": "70"}]}, "payer"),
        ({"shares": [{"payer": "customer", "percent": "50"}, {"payer": "shop"}]}, "shares"),
        ({"shares": [{"payer": "customer"}, {"payer": "customer"}]}, "payer"),
        ({"shares": [REST]}, "shares"),
        ({"payer_of": {"core": "customer"}}, "payer_of"),
        ({"payer_of": {"labour": "uncle"}}, "payer_of"),
    ],
)
def test_shares_that_make_no_whole_are_refused(client: APIClient, covered: Job, split: Any, field: str) -> None:
    covered.refresh_from_db()
    found = problems(client, f"jobs/{covered.pk}/payers/", {"version": covered.version, **split})
    assert any(name.startswith(field) for name in found), found
    assert Job.objects.get().shares == [] and Job.objects.get().payer_of == {}


def test_a_warranty_shares_only_on_its_ground(shop: Shop, client: APIClient, order: RepairOrder) -> None:
    set_rates(shop)
    made = post(client, f"orders/{order.pk}/jobs/", {"title": "Work", "labour": [{"words": "Work", "hours": "1.0"}]})
    body = {"version": 1, "shares": [{"payer": "warranty", "percent": "80"}, {"payer": "customer"}]}
    assert "ground" in problems(client, f"jobs/{made['id']}/payers/", body)["shares"]


SHARE = st.one_of(
    st.integers(0, 10**6).map(lambda cents: {"amount": f"{D(cents) / 100:.2f}", "percent": None}),
    st.integers(0, 10**4).map(lambda part: {"amount": None, "percent": f"{D(part) / 100}"}),
)


@given(
    st.lists(SHARE, min_size=1, max_size=3),
    st.dictionaries(st.sampled_from(["labour", "part", "fee"]), st.sampled_from(["customer", "shop"]), max_size=3),
    st.lists(st.integers(1, 99_999), min_size=1, max_size=6),
    st.integers(1, 240),
    st.sampled_from([0, 2, 3]),
)
@settings(deadline=None, max_examples=150)
def test_whatever_the_split_the_parts_make_the_whole(
    others: list[Any], kinds: dict[str, str], prices: list[int], tenths: int, decimals: int
) -> None:
    payers = ["customer", "shop", "goodwill"]
    shares = [{"payer": who, **one} for who, one in zip(payers, others, strict=False)] + [
        REST | {"amount": None, "percent": None}
    ]
    job: dict[str, Any] = {
        "id": "1", "title": "t", "payer": "warranty", "shares": shares, "payer_of": kinds,
        "labour": [{"id": "l", "words": "w", "tenths": tenths, "rate": "81.37"}],
        "parts": [
            {"id": f"p{at}", "number": "", "words": "p", "quantity": "1.5", "unit_price": f"{D(cents) / 100}", "core_charge": "3"}
            for at, cents in enumerate(prices)
        ],
        "fees": [{"id": "f", "kind": "fee", "words": "f", "price": "5"}, {"id": "c", "kind": "core", "words": "c", "price": "-3"}],
    }  # fmt: skip
    money = {"code": "XTS", "decimals": decimals, "symbol": "", "tax_basis": "invoice"}
    rates = [{"name": "T", "percent": "7.25", "on_kinds": ["part", "labour"], "on_payers": ["customer", "shop"]}]
    try:
        assert read_shares("warranty", shares, kinds).whole
    except BadInput:
        return  # the percentages exceed the whole: refused at the door
    found = price([job], rates, money, exempt=False, on=dt.date(2026, 1, 1))
    assert sum(D(one["amount"]) for one in job["paid"]) == D(job["net"])
    assert sum(D(one["net"]) for one in found["payers"]) == D(found["net"])
    assert sum(D(one["total"]) for one in found["payers"]) == D(found["total"]) == D(found["net"]) + D(found["tax"])
    lines = [*job["labour"], *job["parts"], *job["fees"], *job["extras"]]
    assert sum(D(line["amount"]) for line in lines) == D(job["net"])
