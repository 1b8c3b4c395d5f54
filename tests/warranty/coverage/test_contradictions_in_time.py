"""Wear on a machine that is new by its delivery alone, and meters that were changed."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from tests.warranty.coverage.kit import finding, unit
from warranty.coverage.contradictions import contradictions
from warranty.coverage.facts import MeterChange

DELIVERED = date(2025, 6, 1)
WEEK = timedelta(days=7)


def said(cause: str = "wear", found_on: date = DELIVERED + WEEK, **known: Any) -> tuple[str, ...]:
    return contradictions(unit(**known), [finding(cause=cause, found_on=found_on)], found_on)


@pytest.mark.parametrize(
    ("known", "caught"),
    [
        ({}, True), ({"owner": "later"}, False), ({"sale_kind": "ex_rental"}, False),
        ({"sold_on": date(2024, 6, 1)}, False),  # the sale goes before the delivery
        ({"delivered_on": None}, False),
    ],
)  # fmt: skip
def test_wear_a_week_after_the_delivery_is_caught_without_the_day_of_sale(known: dict[str, Any], caught: bool) -> None:
    plain = {"sold_on": None, "delivered_on": DELIVERED, "hours": None, "registered_on": None, "first_service_on": None}
    assert ("worn_though_new" in said(**(plain | known))) is caught


def change(day: int, removed: str | None, fitted: str) -> MeterChange:
    return MeterChange(date(2024, 6, day), None if removed is None else Decimal(removed), Decimal(fitted))


@pytest.mark.parametrize(
    ("changes", "hours", "backwards"),
    [
        ((change(1, "40", "300"),), "310", False),  # a used meter with more on it than the old one
        ((change(1, "40", "300"),), "299.9", True),
        ((change(1, "40", "0"), change(9, "30", "0")), "5", False),  # the second is another meter
        ((change(1, "40", "100"), change(9, "99.9", "0")), "5", True),
        ((change(1, None, "100"),), "100", False),
    ],
)
def test_a_meter_ran_backwards_only_against_its_own_figures(
    changes: tuple[MeterChange, ...], hours: str, backwards: bool
) -> None:
    assert ("meter_ran_backwards" in said("defect", hours=Decimal(hours), meter_changes=changes)) is backwards
    turned = tuple(reversed(changes))
    assert ("meter_ran_backwards" in said("defect", hours=Decimal(hours), meter_changes=turned)) is backwards
