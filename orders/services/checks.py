"""Inspection points looked at, one by one."""

from __future__ import annotations

from uuid import UUID

from django.db import transaction

from orders.models import Check, Unit
from orders.rules import points
from orders.rules.points import InspectionPoint
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, save_changes

from .catalogue import UNKNOWN_POWER
from .orders import order_to_change
from .records import known_code, taken


@transaction.atomic
def record_check(
    *, shop: Shop, by: Staff, order_id: UUID, point: str, result: str, note: str = "", version: int | None = None
) -> Check:
    """Records that a point was looked at. To change what is recorded already, `version` must be sent."""
    order = order_to_change(shop=shop, pk=order_id)
    known_point(order.unit, point)
    there: Check | None = Check.objects.for_shop(shop).filter(order=order, point=point).first()
    if there is None:
        made: Check = Check.objects.create(shop=shop, order=order, point=point, result=result, note=note, by=by.user)
        return made
    if version is None:
        raise taken(
            "point",
            f"This point was looked at already ({there.get_result_display()}).",
            "Send its version to change it.",
            check=str(there.pk),
            version=there.version,
        )
    before = {"result": there.result, "note": there.note, "by": there.by.shown_name}
    saved = save_changes(there, version=version, changes={"result": result, "note": note, "by": by.user})
    record_event(shop=shop, subject=order.subject, verb="check changed", words=point, facts={"before": before}, by=by)
    return saved


def inspection_points(unit: Unit) -> tuple[InspectionPoint, ...]:
    """The points of the unit's family and power source, in order. Raises Conflict when the power source is not known."""
    if unit.power_source == UNKNOWN_POWER:
        raise Conflict(
            "power_source",
            "The unit's power source is not known, so its inspection list is not either.",
            "Record it at the unit.",
        )
    return known_code(points.points_for, unit.model.family, unit.power_source, field="power_source")


def known_point(unit: Unit, code: str) -> InspectionPoint:
    """One inspection point of the unit; Refused with near matches when it has no such point."""
    inspection_points(unit)
    return known_code(points.point_for, unit.model.family, unit.power_source, code, field="point")
