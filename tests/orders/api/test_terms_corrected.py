"""Pricing terms that were entered wrongly are mended by another record, which says why; nothing that was frozen changes."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from orders.models import Estimate, RepairOrder
from orders.models.catalogue import PricingTerms
from orders.services.estimates import issue_estimate
from shopdocs.shops.models import Event, Shop, Staff, TaxRate
from tests.orders.api.test_answers import V1, fields, post
from tests.orders.back_kit import invoiced, season_service, set_rates

pytestmark = pytest.mark.django_db
WRONG = {"starts_on": "2020-01-01", "supplies_percent": "50", "supplies_cap": "9.00", "class_discounts": {"crew": "5"}}


def test_another_record_takes_the_place_of_terms_and_nothing_issued_changes(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any
) -> None:
    set_rates(shop)
    season_service(shop, owner, order)
    wrong = post(client, "pricing-terms/", WRONG, 201)
    before = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert before.facts["customer_net"] == "91.25"
    door, mended = f"pricing-terms/{wrong['id']}/correct/", {"version": wrong["version"], "reason": "5 %, not 50 %"}
    right = post(client, door, {**mended, "supplies_percent": "5", "labour_rounding": "up"}, 201)
    assert (right["corrects"], right["starts_on"], right["corrected_at"]) == (wrong["id"], "2020-01-01", None)
    assert (right["supplies_percent"], right["supplies_cap"], right["class_discounts"]) == (
        "5.0000",
        "9.00",
        {"crew": "5"},
    )

    assert Estimate.objects.get(pk=before.pk).facts == before.facts
    now = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert now.facts["customer_net"] == "86.05"  # 5 % of 76.00
    bill = invoiced(shop, owner, order)
    assert bill.facts["net"] == "86.05"

    said = Event.objects.get(verb="pricing terms corrected")
    assert said.words == ("from 2020-01-01: labour_rounding up, not half_up, supplies_percent 5, not 50; 5 %, not 50 %")
    assert (said.by, said.facts["record"], said.facts["reason"]) == (owner.user, wrong["id"], "5 %, not 50 %")
    listed = client.get(f"{V1}/pricing-terms/").json()["results"]
    assert [row["id"] for row in listed] == [right["id"], wrong["id"]] and listed[1]["corrected_at"]

    # The record that was mended stays as it is; the one in its place can be mended again.
    assert fields(client, door, {**mended, "supplies_percent": "6"}, 409) == ["terms"]
    again = {"version": right["version"], "reason": "none at all", "supplies_percent": "0", "supplies_cap": None}
    assert post(client, f"pricing-terms/{right['id']}/correct/", again, 201)["supplies_cap"] is None
    assert fields(client, "pricing-terms/", WRONG, 409) == ["starts_on"]
    assert PricingTerms.objects.count() == 3


@pytest.mark.parametrize(
    ("change", "code", "field"),
    [
        ({"version": 7}, 409, "version"),
        ({"reason": " "}, 400, "reason"),
        ({"supplies_percent": None}, 400, "supplies_percent"),
        ({"supplies_percent": "NaN"}, 400, "supplies_percent"),
        ({"starts_on": "2021-01-01"}, 400, "starts_on"),
        ({"supplies_floor": "9.01"}, 400, "supplies_floor"),
        ({"supplies_cap": "8.999"}, 400, "supplies_cap"),
        ({"class_discounts": {"duke": "5"}}, 400, "class_discounts"),
        ({"labour_rounding": "down"}, 400, "labour_rounding"),
        ({"price_tiers": {"": [{"up_to": "10", "markup": "5"}]}}, 400, "price_tiers"),
        ({"tax_inclusive": True}, 400, "tax_inclusive"),
        ({"class_discounts": {"crew": "5.0"}, "supplies_cap": "9"}, 400, "body"),
        ({}, 400, "body"),
    ],
)
def test_what_mends_nothing_or_cannot_be_is_refused(
    shop: Shop, client: Any, change: dict[str, Any], code: int, field: str
) -> None:
    TaxRate.objects.create(
        shop=shop, name="Table", percent=5, on_kinds=["part"], on_payers=["customer"], starts_on=dt.date(2020, 1, 1),
        brackets={"whole": "1.00", "per_whole": "0.05", "below": [], "excess": []},
    )  # fmt: skip
    wrong = post(client, "pricing-terms/", WRONG, 201)
    given = {"version": wrong["version"], "reason": "a slip", **change}
    assert fields(client, f"pricing-terms/{wrong['id']}/correct/", given, code) == [field]
    assert PricingTerms.objects.count() == 1 and not Event.objects.filter(verb="pricing terms corrected").exists()


def test_terms_that_ended_and_those_of_another_shop_are_not_mended(
    shop: Shop, other_shop: Shop, client: Any, api: Any, technician: Staff
) -> None:
    wrong = post(client, "pricing-terms/", WRONG, 201)
    door, given = f"pricing-terms/{wrong['id']}/correct/", {"version": 1, "reason": "a slip", "supplies_percent": "5"}
    stranger = api(Staff.objects.get(shop=other_shop))
    assert stranger.post(f"{V1}/{door}", given, format="json").status_code == 404
    assert api(technician).post(f"{V1}/{door}", given, format="json").status_code == 403
    post(client, "pricing-terms/", {"starts_on": shop.today().isoformat()}, 201)
    assert fields(client, door, given, 409) == ["terms"]
