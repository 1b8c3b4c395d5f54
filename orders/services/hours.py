"""The hour meter: read on a day, never running backwards unless the meter was changed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import HourReading, Unit
from shopdocs.rest.refusals import Conflict, Problem, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, save_changes

from .records import given_in_address, refuse_all

OLD_METER = "Correct the hours, or say that the meter was changed (meter_changed, hours_before_change)."
OLD_FIGURE = "Send what the old meter showed last (hours_before_change), or say in no_hours_before_reason why it could not be read."


@transaction.atomic
def record_hours(
    *,
    shop: Shop,
    by: Staff,
    unit_id: UUID,
    hours: Decimal,
    read_on: dt.date | None = None,
    meter_changed: bool = False,
    hours_before_change: Decimal | None = None,
    no_hours_before_reason: str = "",
    note: str = "",
    at: str = "",
) -> HourReading:
    """Records a reading. With `meter_changed`, `hours` are the new meter's and `hours_before_change` the old one's last.

    Where the old one could not be read, `no_hours_before_reason` says why: the hours run until then are not known.
    """
    unit = given_in_address(Unit, shop=shop, pk=unit_id, lock=True)
    if unit.has_hour_meter is False:
        raise Refused(
            f"{at}hours",
            "This unit is recorded as having no hour meter.",
            "Correct the unit first, or leave the hours out.",
        )
    reading = HourReading(
        shop=shop,
        unit=unit,
        read_on=read_on or shop.today(),
        hours=hours,
        meter_changed=meter_changed,
        hours_before_change=hours_before_change,
        no_hours_before_reason=no_hours_before_reason,
        note=note,
    )
    refuse_all(_change_problems(reading, at))
    _check(reading, shop.today(), at)
    reading.save(force_insert=True)
    if unit.has_hour_meter is None:
        save_changes(unit, version=unit.version, changes={"has_hour_meter": True})
    record_event(
        shop=shop, subject=f"unit:{unit.pk}", verb="hours read", words=f"{hours} h on {reading.read_on}", by=by
    )
    return reading


@transaction.atomic
def correct_hours(
    *,
    shop: Shop,
    by: Staff,
    pk: UUID,
    version: int,
    reason: str,
    hours: Decimal | None = None,
    hours_before_change: Decimal | None = None,
) -> HourReading:
    """Corrects a misread or mistyped reading, or says what the old meter showed last; the history keeps what was there."""
    reading = given_in_address(HourReading, shop=shop, pk=pk)
    given_in_address(Unit, shop=shop, pk=reading.unit_id, lock=True)
    given = {"hours": hours, "hours_before_change": hours_before_change}
    changes = {name: figure for name, figure in given.items() if figure is not None}
    if not changes:
        raise Refused("hours", "There is no figure to correct.", "Send hours, hours_before_change, or both.")
    before = {name: getattr(reading, name) for name in changes}
    for name, figure in changes.items():
        setattr(reading, name, figure)
    written: dict[str, Any] = dict(changes)
    if hours_before_change is not None:  # a figure that is there now ends the reason for its lack
        reading.no_hours_before_reason = written["no_hours_before_reason"] = ""
        refuse_all(_change_problems(reading, ""))
    _check(reading, shop.today(), "")
    saved = save_changes(reading, version=version, changes=written)
    record_event(
        shop=shop,
        subject=f"unit:{reading.unit_id}",
        verb="hours corrected",
        words=reason,
        facts={
            "before": ", ".join(str(figure) for figure in before.values()),
            "after": ", ".join(str(figure) for figure in changes.values()),
            "read_on": str(reading.read_on),
        },
        by=by,
    )
    return saved


def _change_problems(reading: HourReading, at: str) -> Iterator[Problem]:
    """What a reading says of the old meter: its last figure or the reason for its lack, where it was changed; else nothing."""
    figure, reason = reading.hours_before_change, reading.no_hours_before_reason
    if not reading.meter_changed:
        for name, told in (("hours_before_change", figure is not None), ("no_hours_before_reason", bool(reason))):
            if told:
                yield Problem(
                    f"{at}{name}", "This belongs to a changed meter.", "Send meter_changed too, or leave it out."
                )
    elif figure is None and not reason:
        yield Problem(
            f"{at}hours_before_change", "A changed meter hides how long the machine has run until then.", OLD_FIGURE
        )
    elif figure is not None and reason:
        yield Problem(
            f"{at}no_hours_before_reason",
            "The old meter's last figure is there, so it could be read.",
            "Send one of the two.",
        )


def _check(reading: HourReading, today: dt.date, at: str) -> None:
    """Refuses a reading that does not fit between its neighbours in time."""
    if reading.read_on > today:
        raise Refused(f"{at}read_on", f"{reading.read_on} lies in the future; today is {today}.", "Correct the date.")
    built = reading.unit.build_date
    if built is not None and reading.read_on < built:
        raise Refused(f"{at}read_on", f"{reading.read_on} is before the build date ({built}).", "Correct the date.")
    earlier, later = _neighbours(reading)
    # What the meter that hung there until this day showed last: the old meter's, where it was changed on this day.
    last_shown = reading.hours_before_change if reading.meter_changed else reading.hours
    if earlier is not None and last_shown is not None and last_shown < earlier.hours:
        field = "hours_before_change" if reading.meter_changed else "hours"
        raise Conflict(
            f"{at}{field}", f"{last_shown} h is less than the {earlier.hours} h read on {earlier.read_on}.", OLD_METER
        )
    if later is None:
        return
    next_shown = later.hours_before_change if later.meter_changed else later.hours
    if next_shown is not None and reading.hours > next_shown:
        raise Conflict(
            f"{at}hours", f"{reading.hours} h is more than the {next_shown} h read on {later.read_on}.", OLD_METER
        )


def _neighbours(reading: HourReading) -> tuple[HourReading | None, HourReading | None]:
    """The readings before and after this one, by day and then by the order in which they were written down."""
    rows = list(
        HourReading.objects.for_shop(reading.shop).filter(unit=reading.unit).order_by("read_on", "created_at", "id")
    )
    own = next((place for place, row in enumerate(rows) if row.pk == reading.pk), None)
    if own is not None:
        return rows[own - 1] if own else None, rows[own + 1] if own + 1 < len(rows) else None
    before = [row for row in rows if row.read_on <= reading.read_on]
    after = [row for row in rows if row.read_on > reading.read_on]
    return before[-1] if before else None, after[0] if after else None
