"""A rate or tax that was entered wrongly is corrected by another record: with its history, and nothing that was priced changes."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from orders.models import Estimate, RepairOrder
from orders.services.charges import set_terms
from orders.services.estimates import issue_estimate
from shopdocs.shops.models import Event, LabourRate, Shop, Staff, TaxRate
from shopdocs.shops.services import labour_rate, tax_rates
from tests.orders.back_kit import season_service, set_rates
from tests.orders.conftest import checked_in

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def order(shop: Shop, owner: Staff) -> RepairOrder:
    set_rates(shop)
    order = checked_in(shop, owner)
    season_service(shop, owner, order)
    return order


@pytest.fixture
def desk(api: Any, owner: Staff) -> Any:
    return api(owner)


def correct(desk: Any, kind: str, row: Any, status: int = 201, **given: Any) -> Any:
    facts = {"version": row.version, "reason": "a slip of the finger", **given}
    answer = desk.post(f"/api/v1/{kind}-rates/{row.pk}/correct/", facts, format="json")
    assert answer.status_code == status, answer.content
    return answer.json()


def test_a_corrected_labour_rate_prices_what_comes_and_nothing_that_was(
    shop: Shop, owner: Staff, order: RepairOrder, desk: Any
) -> None:
    first = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    frozen = first.facts
    row = LabourRate.objects.get(payer="customer")
    made = correct(desk, "labour", row, per_hour="59.00")
    assert (made["per_hour"], made["starts_on"], made["corrects"]) == ("59.0000", "2020-01-01", str(row.pk))
    row.refresh_from_db()
    assert row.per_hour == 95 and row.corrected_at is not None, "the wrong record stays, marked"
    assert labour_rate(shop=shop, payer="customer", day=shop.today()) == 59
    assert Estimate.objects.get(pk=first.pk).facts == frozen
    second = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert second.facts["jobs"][0]["labour"][0]["rate"] == "59.00"
    told = Event.objects.get(subject="labour-rates", verb="corrected")
    assert "59, not 95" in told.words and told.facts["reason"] == "a slip of the finger" and told.by == owner.user


def test_a_corrected_tax_prices_what_comes_and_nothing_that_was(
    shop: Shop, owner: Staff, order: RepairOrder, desk: Any
) -> None:
    first = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    row = TaxRate.objects.get()
    made = correct(desk, "tax", row, percent="2.75", on_kinds=["part", "labour"])
    assert (made["percent"], made["on_kinds"], made["on_payers"]) == ("2.7500", ["part", "labour"], ["customer"])
    assert [(one.name, one.percent) for one in tax_rates(shop=shop, day=shop.today())] == [("County tax", D("2.75"))]
    assert Estimate.objects.get(pk=first.pk).facts["tax"] == "0.45"
    second = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert second.facts["tax"] == "2.26"  # 2.75 % of 82.25
    told = Event.objects.get(subject="tax-rates", verb="corrected")
    assert told.facts["was"]["percent"] == "7.2500" and told.facts["now"]["percent"] == "2.7500"
    listed = desk.get("/api/v1/tax-rates/").json()["results"]
    assert [one["corrected_at"] is None for one in listed] == [True, False]


def test_only_one_that_is_in_force_or_to_come_is_corrected(shop: Shop, order: RepairOrder, desk: Any) -> None:
    old = LabourRate.objects.get(payer="customer")
    today = shop.today()
    start = {"payer": "customer", "per_hour": "99", "starts_on": str(today)}
    assert desk.post("/api/v1/labour-rates/", start, format="json").status_code == 201
    old.refresh_from_db()
    (problem,) = correct(desk, "labour", old, 409, per_hour="59")["errors"]
    assert "no longer in force" in problem["problem"] and "credit" in problem["remedy"]
    tax = TaxRate.objects.get()
    TaxRate.objects.update(ends_on=today - dt.timedelta(days=1))
    correct(desk, "tax", tax, 409, percent="1")
    coming = LabourRate.objects.create(shop=shop, payer="shop", per_hour=1, starts_on=today + dt.timedelta(days=9))
    newer = correct(desk, "labour", coming, per_hour="2")
    coming.refresh_from_db()
    (problem,) = correct(desk, "labour", coming, 409, per_hour="3")["errors"]
    assert "corrected already" in problem["problem"]
    correct(desk, "labour", LabourRate.objects.get(pk=newer["id"]), per_hour="3")
    assert LabourRate.objects.filter(corrected_at=None, payer="shop").count() == 1


def test_what_makes_no_sense_is_refused_and_nothing_is_half_written(shop: Shop, order: RepairOrder, desk: Any) -> None:
    rate, tax = LabourRate.objects.get(payer="customer"), TaxRate.objects.get()
    for kind, row, status, given in [
        ("labour", rate, 400, {"per_hour": "95"}),
        ("labour", rate, 400, {"per_hour": "NaN"}),
        ("labour", rate, 400, {"per_hour": "50", "reason": ""}),
        ("labour", rate, 400, {"per_hour": "50", "starts_on": "2020-02-01"}),
        ("labour", rate, 409, {"per_hour": "50", "version": 7}),
        ("tax", tax, 400, {}),
        ("tax", tax, 400, {"percent": "7.25"}),
        ("tax", tax, 400, {"percent": "100"}),
        ("tax", tax, 400, {"with_parts": ["labour"]}),
        ("tax", tax, 400, {"ends_on": "2019-12-31"}),
        ("tax", tax, 400, {"name": "Other"}),
    ]:  # fmt: skip
        correct(desk, kind, row, status, **given)
    assert not Event.objects.filter(verb="corrected").exists()
    assert LabourRate.objects.count() == 2 and TaxRate.objects.count() == 1
    assert not LabourRate.objects.exclude(corrected_at=None).exists()


def test_another_shops_rate_is_not_there(other_shop: Shop, desk: Any) -> None:
    theirs = LabourRate.objects.create(shop=other_shop, payer="", per_hour=1, starts_on=dt.date(2020, 1, 1))
    correct(desk, "labour", theirs, 404, per_hour="2")


def test_a_tax_that_ended_unnoticed_gets_its_last_day(shop: Shop, order: RepairOrder, desk: Any) -> None:
    yesterday = shop.today() - dt.timedelta(days=1)
    correct(desk, "tax", TaxRate.objects.get(), ends_on=str(yesterday))
    assert tax_rates(shop=shop, day=shop.today()) == []


def test_a_correction_into_a_bracket_table_passes_the_same_guards_as_a_new_tax(
    shop: Shop, owner: Staff, order: RepairOrder, desk: Any
) -> None:
    set_terms(shop=shop, by=owner, starts_on=shop.today(), tax_inclusive=True)
    rows = [{"up_to": "0.99", "tax": "0.05"}]
    table = {"per_whole": "0.06", "below": rows, "excess": rows}
    (problem,) = correct(desk, "tax", TaxRate.objects.get(), 400, brackets=table)["errors"]
    assert problem["field"] == "brackets" and "hold their tax" in problem["problem"]
    assert TaxRate.objects.get().corrected_at is None
