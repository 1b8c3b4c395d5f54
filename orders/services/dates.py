"""Dates that cannot be. Each check gives problems; the caller raises all of them at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import Any

from orders.models import Unit
from shopdocs.rest.refusals import Problem

UNIT_DAYS = {
    "build_date": "The build date",
    "purchased_on": "The purchase",
    "delivered_on": "The delivery",
    "registered_on": "The registration",
    "first_service_on": "The first service",
}
STOCK = Unit.SaleKind.FLOOR_STOCK


def unit_date_problems(facts: Mapping[str, Any], *, today: dt.date, at: str = "") -> Iterator[Problem]:
    """What is impossible in a unit's own dates; `at` is put before field names ('new_unit.')."""
    built: dt.date | None = facts.get("build_date")
    for field, name in UNIT_DAYS.items():
        day: dt.date | None = facts.get(field)
        if day is None:
            continue
        if day > today:
            yield Problem(at + field, f"{name} ({day}) lies in the future; today is {today}.", "Correct the date.")
        if built is not None and day < built:
            yield Problem(
                at + field, f"{name} ({day}) is before the build date ({built}).", "Correct one of the two dates."
            )


def visit_date_problems(
    *, received_on: dt.date, promised_on: dt.date | None, unit: Unit, today: dt.date
) -> Iterator[Problem]:
    """What is impossible in the dates of a visit. Stock of the shop may be repaired before it is sold."""
    if received_on > today:
        yield Problem("received_on", f"{received_on} lies in the future; today is {today}.", "Correct the date.")
    if unit.build_date is not None and received_on < unit.build_date:
        yield Problem(
            "received_on",
            f"{received_on} is before the unit's build date ({unit.build_date}).",
            "Correct one of the two.",
        )
    if unit.purchased_on is not None and received_on < unit.purchased_on and unit.sale_kind != STOCK:
        yield Problem(
            "received_on",
            f"{received_on} is before the unit's purchase ({unit.purchased_on}).",
            "Correct one of the two dates, or record that the unit was floor stock then.",
        )
    if promised_on is not None and promised_on < received_on:
        yield Problem(
            "promised_on", f"{promised_on} is before the day of receipt ({received_on}).", "Promise a later day."
        )
