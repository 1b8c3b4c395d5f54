"""The shop's own taxes from the door to the paper: brackets, what is taxed beside parts, days, places stacked, certificates."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import Customer, RepairOrder
from orders.services.sheets import estimate_sheet, invoice_sheet
from shopdocs.shops.models import LabourRate, Shop, Staff, TaxRate
from tests.orders.api.test_pricing_doors import estimate, post, problems
from tests.orders.back_kit import invoiced
from tests.published.test_tax_rounding import BELOW, BRACKET_ROWS, EXCESS

pytestmark = pytest.mark.django_db
D = Decimal


def rows(pairs: list[tuple[str, str]]) -> list[dict[str, str]]:
    return [{"up_to": limit, "tax": tax} for limit, tax in pairs]


TABLE: dict[str, Any] = {"per_whole": "0.06", "below": rows(BELOW), "excess": rows(EXCESS)}
STATE: dict[str, Any] = {
    "name": "State tax",
    "percent": "6",
    "on_kinds": ["part"],
    "on_payers": ["customer"],
    "starts_on": "2020-01-01",
}


@pytest.fixture(autouse=True)
def rate(shop: Shop) -> None:
    LabourRate.objects.create(shop=shop, payer="", per_hour=D("80"), starts_on=dt.date(2020, 1, 1))


def parts(client: APIClient, order: RepairOrder, *prices: str, **more: Any) -> Any:
    listed = [{"words": f"Part {at}", "unit_price": price} for at, price in enumerate(prices)]
    return post(client, f"orders/{order.pk}/jobs/", {"title": "Repair", "parts": listed, **more})


@pytest.mark.parametrize(("price", "bracket", "plain"), BRACKET_ROWS)
def test_each_row_of_a_bracket_table_at_the_doors(
    client: APIClient, order: RepairOrder, price: str, bracket: str, plain: str
) -> None:
    made = post(client, "tax-rates/", {**STATE, "brackets": TABLE})
    assert made["brackets"]["below"][1] == {"up_to": "0.20", "tax": "0.01"}
    parts(client, order, price)
    facts = estimate(client, order)
    assert facts["tax"] == f"{D(bracket):.2f}"
    if bracket != plain:
        assert D(facts["tax"]) != D(plain)


def test_a_bracket_table_is_named_on_estimate_and_invoice(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    post(client, "tax-rates/", {**STATE, "brackets": TABLE})
    parts(client, order, "42.17")
    bill = invoiced(shop, owner, order)
    assert bill.facts["tax"] == "2.54"
    (tax,) = invoice_sheet(bill.facts).taxes
    assert (tax.name, tax.base, tax.amount) == ("State tax (by the bracket table)", D("42.17"), D("2.54"))


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"below": rows(BELOW[:-1])}, "brackets.below"),  # nothing from 0.84 to 0.99
        ({"excess": rows([*EXCESS[:-1], ("0.98", "0.06")])}, "brackets.excess"),
        ({"below": rows([*BELOW[:-1], ("1.00", "0.06")])}, "brackets.below"),  # a whole dollar is no excess
        ({"below": rows([BELOW[1], BELOW[0], *BELOW[2:]])}, "brackets.below"),
        ({"below": rows([("0.50", "0.03"), ("0.99", "0.02")])}, "brackets.below"),  # the tax falls
        ({"below": rows([("0.02", "0.03"), ("0.99", "0.06")])}, "brackets.below"),  # more tax than price
        ({"below": rows([("0.505", "0.03"), ("0.99", "0.06")])}, "brackets.below"),
        ({"per_whole": "1.00"}, "brackets.per_whole"),
        ({"per_whole": "0.065"}, "brackets.per_whole"),
        ({"per_whole": "-0.06"}, "brackets.per_whole"),
        ({"per_whole": "NaN"}, "brackets.per_whole"),
        ({"whole": "0"}, "brackets.per_whole"),
        ({"below": []}, "brackets.below"),
    ],
)
def test_a_bracket_table_with_a_hole_or_a_slip_is_refused(client: APIClient, change: Any, field: str) -> None:
    found = problems(client, "tax-rates/", {**STATE, "brackets": {**TABLE, **change}})
    assert any(name.startswith(field) for name in found), found
    assert not TaxRate.objects.exists()


def test_a_table_cannot_be_taken_out_of_prices_with_tax_inside(client: APIClient, order: RepairOrder) -> None:
    post(client, "tax-rates/", {**STATE, "brackets": TABLE})
    inside = {"starts_on": "2021-01-01", "tax_inclusive": True}
    assert "State tax" in problems(client, "pricing-terms/", inside)["tax_inclusive"]
    # Terms that begin before the table, and a table that only begins later, come to the same.
    assert "State tax" in problems(client, "pricing-terms/", {**inside, "starts_on": "2019-01-01"})["tax_inclusive"]
    later = {**STATE, "name": "City tax", "starts_on": "2100-01-01", "brackets": TABLE}
    post(client, "tax-rates/", {**STATE, "starts_on": "2020-06-01"})  # a percentage in the table's place
    post(client, "tax-rates/", later)
    assert "City tax" in problems(client, "pricing-terms/", inside)["tax_inclusive"]
    post(client, "pricing-terms/", {"starts_on": "2090-01-01"})
    post(client, "pricing-terms/", inside)  # over by the time that the city's table begins
    parts(client, order, "106.00")
    issued = estimate(client, order)
    assert (issued["total"], issued["tax"]) == ("106.00", "6.00")


@pytest.mark.parametrize(
    ("starts_on", "ends_on", "refused"),
    [
        ("2020-01-01", None, True),  # prices hold their tax from the middle of it on
        ("2021-06-01", None, True),
        ("2020-01-01", "2020-12-31", False),
        ("2020-01-01", "2021-01-01", True),  # on its last day
        ("2021-12-31", None, True),  # on the last day of those terms
        ("2022-01-01", None, False),
    ],
)
def test_a_table_is_not_taken_where_prices_hold_their_tax(
    client: APIClient, order: RepairOrder, starts_on: str, ends_on: str | None, refused: bool
) -> None:
    post(client, "pricing-terms/", {"starts_on": "2021-01-01", "tax_inclusive": True})
    post(client, "pricing-terms/", {"starts_on": "2022-01-01"})
    old = post(client, "tax-rates/", {**STATE, "starts_on": "2019-01-01"})
    table = {**STATE, "starts_on": starts_on, "ends_on": ends_on, "brackets": TABLE}
    if not refused:
        assert post(client, "tax-rates/", table)["brackets"]
        return
    assert "2021-01-01" in problems(client, "tax-rates/", table)["brackets"]
    (kept,) = TaxRate.objects.all()
    assert (str(kept.pk), kept.ends_on) == (old["id"], None)  # nothing half-written
    parts(client, order, "10.00")
    estimate(client, order)


def test_labour_may_be_taxed_only_beside_a_part(client: APIClient, order: RepairOrder) -> None:
    """As in one state: labour alone is not taxed; with any part in the job, parts and labour both are."""
    beside = {**STATE, "on_kinds": ["part", "labour"], "with_parts": ["labour"]}
    post(client, "tax-rates/", beside)
    work = [{"words": "Work", "hours": "0.5"}]
    post(client, f"orders/{order.pk}/jobs/", {"title": "Adjust", "labour": work})
    assert estimate(client, order)["tax"] == "0.00"
    parts(client, order, "25.00", labour=work)
    assert estimate(client, order)["customer_taxes"][0]["base"] == "65.00"
    alone = {**STATE, "name": "Other", "with_parts": ["labour"]}
    assert "labour" in problems(client, "tax-rates/", alone)["with_parts"]


def test_state_county_and_city_are_added_before_they_are_rounded_or_rounded_apart(
    client: APIClient, order: RepairOrder
) -> None:
    for name, percent in (("State", "6.25"), ("County", "1.25"), ("City", "0.5")):
        post(client, "tax-rates/", {**STATE, "name": name, "percent": percent})
    parts(client, order, "1.04")
    facts = estimate(client, order)
    # 8 % of 1.04 is 0.0832: 0.08, of which 0.065 is the state's, 0.013 the county's, 0.0052 the city's.
    assert facts["tax"] == "0.08"
    assert sum(D(tax["amount"]) for tax in facts["customer_taxes"]) == D("0.08")
    post(client, "pricing-terms/", {"starts_on": "2020-01-01", "tax_stacking": "separate"})
    facts = estimate(client, order)
    assert [tax["amount"] for tax in facts["customer_taxes"]] == ["0.01", "0.01", "0.07"]
    assert facts["tax"] == "0.09"


def test_a_rate_holds_from_its_day_to_its_last(shop: Shop, client: APIClient, order: RepairOrder) -> None:
    today = shop.today()
    yesterday, tomorrow = (str(today + dt.timedelta(days=days)) for days in (-1, 1))
    post(client, "tax-rates/", {**STATE, "name": "Old", "ends_on": yesterday})
    post(client, "tax-rates/", {**STATE, "name": "Last day", "percent": "1", "ends_on": str(today)})
    post(client, "tax-rates/", {**STATE, "name": "Coming", "starts_on": tomorrow})
    post(client, "tax-rates/", STATE)
    post(client, "tax-rates/", {**STATE, "percent": "7", "starts_on": str(today)})
    parts(client, order, "100.00")
    facts = estimate(client, order)
    assert [(tax["name"], tax["amount"]) for tax in facts["customer_taxes"]] == [
        ("Last day", "1.00"),
        ("State tax", "7.00"),
    ]
    backwards = {**STATE, "name": "X", "starts_on": str(today), "ends_on": yesterday}
    assert "ends_on" in problems(client, "tax-rates/", backwards)


def test_a_certificate_stands_on_estimate_and_invoice(
    shop: Shop, owner: Staff, client: APIClient, order: RepairOrder
) -> None:
    post(client, "tax-rates/", STATE)
    Customer.objects.filter(pk=order.customer_id).update(tax_exempt=True, tax_certificate="EX-77")
    parts(client, order, "25.00")
    facts = estimate(client, order)
    (spared,) = estimate_sheet(facts).taxes
    assert (spared.name, spared.base, spared.amount) == ("Exempt by certificate EX-77", D("25.00"), 0)
    bill = invoiced(shop, owner, order)
    assert bill.facts["total"] == "25.00"
    assert [tax.name for tax in invoice_sheet(bill.facts).taxes] == ["Exempt by certificate EX-77"]


@pytest.mark.parametrize("percent", ["100", "100.0001", "-1", "NaN", "1e400", "Infinity", "7.123456"])
def test_a_rate_that_cannot_be_is_refused(client: APIClient, percent: str) -> None:
    assert "percent" in problems(client, "tax-rates/", {**STATE, "percent": percent})
    assert not TaxRate.objects.exists()


def test_taxes_that_come_to_all_of_the_price_together_are_refused(client: APIClient) -> None:
    first = post(client, "tax-rates/", {**STATE, "percent": "60"})
    town = {**STATE, "name": "Town tax"}
    assert (
        "60 % the taxes on 'part' would come to 100 %"
        in problems(client, "tax-rates/", {**town, "percent": "40"})["percent"]
    )
    assert "percent" in problems(client, "tax-rates/", {**town, "percent": "99.9999"})
    second = post(client, "tax-rates/", {**town, "percent": "39.9999"})
    post(client, "tax-rates/", {**STATE, "name": "On labour", "percent": "90", "on_kinds": ["labour"]})
    body = {"version": second["version"], "reason": "typed wrongly", "percent": "40"}
    assert "percent" in problems(client, f"tax-rates/{second['id']}/correct/", body)
    assert TaxRate.objects.count() == 3 and first["percent"] == "60.0000"


def test_the_basis_is_said_on_the_paper(shop: Shop, client: APIClient, order: RepairOrder) -> None:
    post(client, "tax-rates/", {**STATE, "percent": "7"})
    Shop.objects.filter(pk=shop.pk).update(tax_basis="item")
    parts(client, order, "1.07", "1.07", "1.07")
    facts = estimate(client, order)
    assert facts["tax"] == "0.21"  # the sum, rounded once, would be 0.22
    assert estimate_sheet(facts).taxes[0].name == "State tax (rounded on each line)"


def test_a_percentage_is_not_corrected_into_a_table_where_prices_hold_their_tax(client: APIClient) -> None:
    post(client, "pricing-terms/", {"starts_on": "2020-01-01", "tax_inclusive": True})
    rate = post(client, "tax-rates/", STATE)
    correction = {"version": rate["version"], "reason": "it is a table", "brackets": TABLE}
    assert "2020-01-01" in problems(client, f"tax-rates/{rate['id']}/correct/", correction)["brackets"]
    (kept,) = TaxRate.objects.all()
    assert (kept.brackets, kept.corrected_at) == (None, None)
