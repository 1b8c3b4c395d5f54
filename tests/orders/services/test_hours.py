"""The hour meter, tried with invented histories: whatever was taken in runs forward."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from orders.models import HourReading, RepairOrder
from orders.services.hours import correct_hours, record_hours
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff

pytestmark = pytest.mark.django_db

reading = st.fixed_dictionaries(
    {
        "days_ago": st.integers(0, 6),
        "hours": st.integers(0, 12).map(Decimal),
        "changed": st.booleans(),
        "before": st.none() | st.integers(0, 12).map(Decimal),
        "reason": st.sampled_from(["", "display dead"]),
    }
)


def runs_forward(rows: list[HourReading]) -> bool:
    """No meter shows less than it did, counted without the service's own rule."""
    for earlier, later in pairwise(rows):
        shown = later.hours_before_change if later.meter_changed else later.hours
        if shown is not None and shown < earlier.hours:
            return False
    return True


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(reading, min_size=1, max_size=7))
def test_what_is_taken_in_runs_forward(order: RepairOrder, owner: Staff, told: list[dict[str, Any]]) -> None:
    shop, today = order.shop, order.shop.today()
    with transaction.atomic():
        HourReading.objects.filter(unit=order.unit).exclude(pk=order.reading_id).delete()
        HourReading.objects.filter(pk=order.reading_id).update(read_on=today - dt.timedelta(days=9), hours=3)
        for one in told:
            before = HourReading.objects.count()
            try:
                record_hours(
                    shop=shop,
                    by=owner,
                    unit_id=order.unit_id,
                    hours=one["hours"],
                    read_on=today - dt.timedelta(days=one["days_ago"]),
                    meter_changed=one["changed"],
                    hours_before_change=one["before"] if one["changed"] else None,
                    no_hours_before_reason=one["reason"] if one["changed"] else "",
                )
            except Refused:
                assert HourReading.objects.count() == before
            rows = list(HourReading.objects.filter(unit=order.unit).order_by("read_on", "created_at", "id"))
            assert runs_forward(rows), [(row.read_on, row.hours, row.meter_changed) for row in rows]


def test_what_the_old_meter_showed_is_said_later(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    changed = record_hours(
        shop=shop,
        by=owner,
        unit_id=order.unit_id,
        hours=Decimal(2),
        meter_changed=True,
        no_hours_before_reason="the old one was thrown away",
    )
    saved = correct_hours(
        shop=shop,
        by=owner,
        pk=changed.pk,
        version=changed.version,
        hours_before_change=Decimal("44.0"),
        reason="receipt",
    )
    assert (saved.hours, saved.hours_before_change) == (Decimal(2), Decimal("44.0"))
    assert saved.no_hours_before_reason == ""
    given: dict[str, Any] = {"shop": shop, "by": owner, "pk": changed.pk, "version": saved.version, "reason": "?"}
    with pytest.raises(Conflict, match="less than"):
        correct_hours(**given, hours_before_change=Decimal("3.0"))
    with pytest.raises(Refused, match="no figure"):
        correct_hours(**given)
