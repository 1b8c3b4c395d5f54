"""Sheets go into JSON and come back the same, and nothing that is not exactly a sheet gets through."""

from __future__ import annotations

import dataclasses
import json
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import pytest

from orders.papers import estimate, invoice, repair_order
from shopdocs.documents.press.errors import PressError
from shopdocs.documents.press.sheets import from_json, to_json
from tests import papers_samples as samples
from warranty.papers import claim

PAPERS: dict[str, tuple[Any, Any]] = {
    "estimate": (estimate, samples.estimate()),
    "invoice": (invoice, samples.invoice()),
    "repair order": (repair_order, samples.repair_order()),
    "claim": (claim, samples.claim()),
}


@pytest.mark.parametrize("name", PAPERS)
def test_a_sheet_redrawn_from_the_database_gives_the_same_bytes(name: str) -> None:
    module, sheet = PAPERS[name]
    stored = json.dumps(to_json(sheet))
    again = from_json(type(sheet), json.loads(stored))
    assert again == sheet
    assert json.dumps(to_json(again)) == stored
    assert module.draw(again, samples.PICTURES).sha256 == module.draw(sheet, samples.PICTURES).sha256


def test_keys_stand_in_the_order_of_the_fields() -> None:
    sheet = samples.estimate()
    assert list(to_json(sheet)) == [field.name for field in dataclasses.fields(sheet)]


def test_decimals_keep_their_zeros_and_dates_are_calendar_dates() -> None:
    data = to_json(samples.estimate())
    assert data["customer_total"] == "301.39"
    assert data["taxes"][0]["percent"] == "6.00"
    assert data["valid_until"] == "2026-12-09"


@pytest.mark.parametrize(
    "spoil, told",
    [
        (lambda data: data.pop("number"), "missing number"),
        (lambda data: data.update(extra=1), "unknown extra"),
        (lambda data: data["shop"].pop("phone"), "EstimateSheet.shop: missing phone"),
        (lambda data: data.update(version="2"), "EstimateSheet.version: expected int, got str"),
        (lambda data: data.update(version=True), "EstimateSheet.version: expected int, got bool"),
        (lambda data: data.update(customer_total=301.39), "EstimateSheet.customer_total"),
        (lambda data: data.update(customer_total="NaN"), "EstimateSheet.customer_total"),
        (lambda data: data.update(customer_total="3e2"), "EstimateSheet.customer_total"),
        (lambda data: data.update(issued_on="2026-02-30"), "EstimateSheet.issued_on"),
        (lambda data: data.update(issued_on="20261109"), "EstimateSheet.issued_on"),
        (lambda data: data.update(terms="one"), "EstimateSheet.terms: expected a list"),
        (lambda data: data["jobs"][1]["parts"][0].update(what=None), r"EstimateSheet.jobs\[1\].parts\[0\].what"),
        (lambda data: data.update(shop=None), "EstimateSheet.shop: expected an object"),
    ],
)
def test_stored_data_that_is_not_exactly_a_sheet_is_refused(spoil: Any, told: str) -> None:
    data = to_json(samples.estimate())
    spoil(data)
    with pytest.raises(PressError, match=told):
        from_json(estimate.EstimateSheet, data)


@pytest.mark.parametrize(
    "field, value",
    [
        ("customer_total", 301.39),
        ("customer_total", Decimal("Infinity")),
        ("issued_on", datetime(2026, 11, 9, 8, 0)),
        ("terms", ["a list"]),
        ("version", True),
        ("number", 7),
        ("customer", None),
    ],
)
def test_a_sheet_with_a_value_of_another_type_is_not_stored(field: str, value: object) -> None:
    with pytest.raises(PressError, match=f"EstimateSheet.{field}"):
        to_json(samples.estimate(**{field: value}))


def test_only_what_may_be_unknown_may_be_null() -> None:
    sheet = samples.estimate(valid_until=None)
    assert to_json(sheet)["valid_until"] is None
    assert from_json(estimate.EstimateSheet, to_json(sheet)).valid_until is None
    assert sheet.issued_on == date(2026, 11, 9)
