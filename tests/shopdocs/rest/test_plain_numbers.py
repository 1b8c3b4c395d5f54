"""A figure is written in plain digits at every door: what only Python would read as a number is refused."""

from __future__ import annotations

from typing import Any

import pytest
from rest_framework.serializers import DecimalField, DictField, IntegerField, ListField

from orders.models import JobLabour
from shopdocs.rest.serializers import WRITTEN_OTHERWISE, Strict
from shopdocs.shops.models import Shop, Staff
from tests.orders.conftest import checked_in
from tests.shopdocs.rest.test_no_card_numbers import LEAVES

FIGURES = [row for row in LEAVES if isinstance(row[2], (DecimalField, IntegerField)) and not row[2].read_only]
ODD = ("1_0", "\u0661\u0660", "+1", " +1", "\uff11", "1\u00a0", "1e2", "1E0", "1.e-2")


def sent(field: Any, text: str) -> Any:
    if isinstance(field, ListField):
        return [sent(field.child, text)]
    return {"x": sent(field.child, text)} if isinstance(field, DictField) else text


def test_every_kind_of_door_has_figures() -> None:
    names = {f"{cls.__name__}.{name}" for cls, name, _ in FIGURES}
    assert len(names) > 100
    assert {"JobLabourIn.hours", "PaymentIn.amount", "TaxRateIn.percent", "ShopIn.estimate_days"} <= names


@pytest.mark.parametrize(
    ("cls", "name"), [row[:2] for row in FIGURES], ids=[f"{cls.__name__}.{name}" for cls, name, _ in FIGURES]
)
def test_a_figure_in_other_digits_is_refused(cls: type[Strict], name: str) -> None:
    only = type("Only", (cls,), {})
    only._declared_fields = {name: cls._declared_fields[name]}
    for text in (*ODD, "1", "10", "-1", " 1 "):
        made = only(data={name: sent(cls._declared_fields[name], text)})
        made.is_valid()
        assert (WRITTEN_OTHERWISE in str(made.errors)) is (text in ODD), text


@pytest.mark.django_db
@pytest.mark.parametrize("hours", ODD)
def test_over_http_nothing_is_written(api: Any, shop: Shop, owner: Staff, hours: str) -> None:
    order = checked_in(shop, owner)
    job = {"title": "Repair", "labour": [{"words": "Work", "hours": hours}]}
    answer = api(owner).post(f"/api/v1/orders/{order.pk}/jobs/", job, format="json")
    assert answer.status_code == 400
    (problem,) = answer.json()["errors"]
    assert problem["field"].endswith("hours") and problem["problem"] == WRITTEN_OTHERWISE
    assert problem["remedy"] == "Write it as 10 or 10.5."
    assert not JobLabour.objects.exists()
