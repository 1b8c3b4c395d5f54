"""What is read: queries only, nothing is written here."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from uuid import UUID

from django.db.models import BooleanField, ExpressionWrapper, Q, QuerySet, Value

from orders.models import Check, Finding, HourReading, RepairOrder, Unit
from orders.rules.contradictions import Contradiction, Machine, Seen, contradictions
from orders.rules.picture_doubts import PictureDoubt, Shown, missing
from orders.rules.points import InspectionPoint
from shopdocs.documents.models import Photo
from shopdocs.shops.models import Event, Shop

from .checks import inspection_points
from .house_rules import doubts_of


@dataclass(frozen=True)
class PointLooked:
    """An inspection point of an order with what was recorded there; `check` None: still open."""

    point: InspectionPoint
    check: Check | None
    findings: tuple[Finding, ...]


def points_of(order: RepairOrder) -> list[PointLooked]:
    """The order's inspection list, outside first, with results and findings at each point."""
    listed = inspection_points(order.unit)
    checks = {check.point: check for check in Check.objects.for_shop(order.shop).filter(order=order)}
    at: dict[str, list[Finding]] = {}
    for finding in Finding.objects.for_shop(order.shop).filter(order=order).order_by("number"):
        at.setdefault(finding.point, []).append(finding)
    return [PointLooked(point, checks.get(point.code), tuple(at.get(point.code, ()))) for point in listed]


def warnings_in(order: RepairOrder) -> dict[UUID, list[Contradiction]]:
    """By finding: what does not fit, alone, beside the order's others, beside the check of its point, and by the rules of other rooms."""
    findings = list(
        Finding.objects.for_shop(order.shop).filter(order=order).select_related("caused_by").order_by("number")
    )
    good = set(
        Check.objects.for_shop(order.shop).filter(order=order, result=Check.Result.GOOD).values_list("point", flat=True)
    )
    machine = _machine(order) if findings else None
    seen: dict[str, tuple[Seen, ...]] = {}
    for finding in findings:
        seen[finding.component] = (*seen.get(finding.component, ()), _seen(finding))
    further = doubts_of(order) if findings else {}
    found: dict[UUID, list[Contradiction]] = {}
    for finding in findings:
        assert machine is not None
        alone = _seen(finding, deep=True)
        listed = list(contradictions(alone, machine=machine, found_on=finding.found_on, others=seen[finding.component]))
        if finding.point in good:
            listed.append(
                Contradiction(
                    "point", "The check of this point says 'nothing found'.", "Correct the check or the finding."
                )
            )
        found[finding.pk] = [*listed, *further.get(finding.pk, ())]
    return found


def photos_missing(order: RepairOrder) -> tuple[PictureDoubt, ...]:
    """Pictures that a claim will want and the order does not have; () once the unit has left."""
    if order.state == RepairOrder.State.GIVEN_BACK:
        return ()
    photos = list(photos_of(order))
    about = {photo.about for photo in photos}
    findings = (Shown(row.number, row.subject in about) for row in order.findings.all() if row.cause != "normal")
    unit = order.unit
    return missing(
        (photo.moment for photo in photos), has_serial=bool(unit.serial), has_hour_meter=unit.has_hour_meter, findings=findings
    )  # fmt: skip


def _machine(order: RepairOrder) -> Machine:
    readings = list(
        HourReading.objects.for_shop(order.shop).filter(unit=order.unit_id).order_by("read_on", "created_at", "id")
    )
    # After a change of the meter its figure says little about how long the unit has run.
    known = bool(readings) and not any(reading.meter_changed for reading in readings)
    return Machine(
        family=order.unit.model.family,
        power_source=order.unit.power_source,
        hours=readings[-1].hours if known else None,
        bought_on=order.unit.purchased_on or _delivered_new(order.unit),
    )


def _delivered_new(unit: Unit) -> dt.date | None:
    """The day of delivery, where it was to the first owner as far as is known."""
    used = unit.first_owner is False or unit.sale_kind == Unit.SaleKind.USED
    return None if used else unit.delivered_on


def _seen(finding: Finding, *, deep: bool = False) -> Seen:
    return Seen(
        number=finding.number,
        component=finding.component,
        condition=finding.condition,
        cause=finding.cause,
        point=finding.point,
        unit=finding.measured_unit,
        unsafe=finding.unsafe,
        because=_seen(finding.caused_by) if deep and finding.caused_by is not None else None,
    )


def photos_of(order: RepairOrder) -> QuerySet[Photo]:
    """The order's photos, in the order in which they came; `after_finish`: it came when the work was finished already."""
    late = Q(created_at__gt=order.finished_at) if order.finished_at else Value(False)
    rows: QuerySet[Photo] = Photo.objects.for_shop(order.shop).filter(subject=order.subject)
    return rows.annotate(after_finish=ExpressionWrapper(late, BooleanField())).order_by("created_at", "id")


def events_of(shop: Shop, subject: str) -> QuerySet[Event]:
    """Who did what to the record, when; `subject` as the record names itself."""
    return Event.objects.filter(shop=shop, subject=subject).order_by("at", "id")


def history_of(order: RepairOrder) -> QuerySet[Event]:
    """Who did what to the order, when."""
    return events_of(order.shop, order.subject)
