"""Dates that cannot be. Each check gives problems; the caller raises all of them at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import Any

from orders.models import Assembly, Unit
from shopdocs.rest.refusals import Problem

UNIT_DAYS = {
    "build_date": "The build date",
    "purchased_on": "The purchase",
    "delivered_on": "The delivery",
    "registered_on": "The registration",
    "first_service_on": "The first service",
}
STOCK = Unit.SaleKind.FLOOR_STOCK
MAY_PRECEDE = {
    # The day it came to the dealer, or to an earlier owner, may stand there.
    "delivered_on": (STOCK, Unit.SaleKind.DEMONSTRATOR, Unit.SaleKind.EX_RENTAL, Unit.SaleKind.USED),
    # An earlier owner's registration. Nobody registers a machine as bought before it is.
    "registered_on": (Unit.SaleKind.EX_RENTAL, Unit.SaleKind.USED),
}
"""Days that may lie before the present owner's purchase, by the kind of sale (common practice, no source)."""


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
    yield from _before_purchase(facts, at)


def _before_purchase(facts: Mapping[str, Any], at: str) -> Iterator[Problem]:
    bought, kind = facts.get("purchased_on"), facts.get("sale_kind") or Unit.SaleKind.UNKNOWN
    for field, kinds in MAY_PRECEDE.items():
        day = facts.get(field)
        if bought is None or day is None or day >= bought or kind in kinds:
            continue
        named = " or ".join(f"'{one}'" for one in kinds)
        yield Problem(
            at + field,
            f"{UNIT_DAYS[field]} ({day}) is before the purchase ({bought}).",
            f"Correct one of the two dates, or the kind of sale: this is possible where sale_kind is {named}.",
        )


def assembly_date_problems(assembly: Assembly, *, today: dt.date, at: str = "") -> Iterator[Problem]:
    """What is impossible in an assembly's days, alone and beside its unit's.

    An assembly younger than the purchase has replaced another one: `fitted_on` says when.
    """
    built, fitted, bought = assembly.build_date, assembly.fitted_on, assembly.unit.purchased_on
    for name, day in (("build_date", built), ("fitted_on", fitted)):
        if day is not None and day > today:
            yield Problem(at + name, f"{day} lies in the future; today is {today}.", "Correct the date.")
    made = assembly.unit.build_date
    if fitted is not None and built is not None and fitted < built:
        yield Problem(
            f"{at}fitted_on", f"{fitted} is before its build date ({built}).", "Correct one of the two dates."
        )
    elif fitted is not None and made is not None and fitted < made:
        yield Problem(
            f"{at}fitted_on", f"{fitted} is before the unit's build date ({made}).", "Correct one of the two dates."
        )
    if built is not None and bought is not None and fitted is None and built > bought:
        yield Problem(
            f"{at}build_date",
            f"The {assembly.called.replace('_', ' ')} was built on {built}, after the unit's purchase ({bought}).",
            "Correct one of the two dates, or say in the assembly's fitted_on when it replaced the first one.",
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
