"""The repair order itself: who may still change it, and when the unit leaves."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from orders.models import Hold, RepairOrder, Unit
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, save_changes

from .dates import visit_date_problems
from .reach import further_work
from .records import given_in_address, refuse_all, taken
from .safety import refuse_unsigned


def order_to_change(*, shop: Shop, pk: UUID) -> RepairOrder:
    """The order, locked until the transaction ends. Raises Missing, or Conflict when it is no longer open."""
    order = given_in_address(RepairOrder, shop=shop, pk=pk, lock=True)
    if order.state != RepairOrder.State.OPEN:
        raise Conflict(
            "state",
            f"{order.number} is {order.get_state_display()}; it is not changed any more.",
            further_work(order),
        )
    return order


@transaction.atomic
def update_order(*, shop: Shop, by: Staff, pk: UUID, version: int, changes: Mapping[str, Any]) -> RepairOrder:
    """Changes promised day, complaint, accessories or the owner's distance of an open order."""
    order = order_to_change(shop=shop, pk=pk)
    before = {name: str(getattr(order, name)) for name in changes}
    promised = changes.get("promised_on", order.promised_on)
    refuse_all(
        visit_date_problems(received_on=order.received_on, promised_on=promised, unit=order.unit, today=shop.today())
    )
    saved = save_changes(order, version=version, changes=dict(changes))
    record_event(shop=shop, subject=order.subject, verb="changed", facts={"before": before}, by=by)
    return saved


@transaction.atomic
def give_back(*, shop: Shop, by: Staff, pk: UUID, given_to: str, note: str = "") -> RepairOrder:
    """Gives the unit back to the customer: only when the work is finished, nothing holds the unit, and safety notes are signed.

    A unit that was checked in again after finished work leaves once: each of its finished orders is given back with it.
    """
    peek = given_in_address(RepairOrder, shop=shop, pk=pk)
    given_in_address(Unit, shop=shop, pk=peek.unit_id, lock=True)  # nobody checks it in while it leaves
    order = given_in_address(RepairOrder, shop=shop, pk=pk, lock=True)
    if order.state == RepairOrder.State.GIVEN_BACK:
        raise Conflict("state", f"{order.number} was given back already.", "Nothing is left to do.")
    holds = list(Hold.objects.for_shop(shop).filter(unit=order.unit_id, released_at=None).order_by("created_at", "id"))
    if holds:
        tags = ", ".join(hold.tag for hold in holds)
        raise taken(
            "holds",
            f"The unit is held as unsafe to run ({tags}): {holds[0].reason}",
            "Release each hold with a signed note first.",
            holds=[str(hold.pk) for hold in holds],
        )
    if order.state != RepairOrder.State.FINISHED:
        raise Conflict("state", f"The work on {order.number} is not finished.", "Finish or strike its jobs first.")
    rows = RepairOrder.objects.for_shop(shop).filter(unit=order.unit_id).exclude(pk=order.pk)
    again = rows.filter(state=RepairOrder.State.OPEN).first()
    if again is not None:
        problem = f"The unit is being worked on again, on {again.number}."
        raise Conflict("state", problem, f"Finish {again.number} first, and give the unit back there.")
    earlier = rows.filter(state=RepairOrder.State.FINISHED).select_for_update().order_by("created_at", "id")
    leaving = [*earlier, order]
    for one in leaving:
        refuse_unsigned(one)
    changes = {"state": RepairOrder.State.GIVEN_BACK, "given_back_at": timezone.now()}
    for one in leaving:
        saved = save_changes(one, version=one.version, changes=changes)
        record_event(shop=shop, subject=one.subject, verb="given back", words=note, facts={"given_to": given_to}, by=by)
    return saved
