"""Check-in: one machine comes to the shop. All of it is recorded, or nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import Customer, HourReading, MachineModel, Maker, RepairOrder, Unit
from shopdocs.rest.refusals import Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import next_number, record_event

from .asked_estimates import asked_facts, put_on_record
from .catalogue import create_maker, create_model
from .dates import visit_date_problems
from .holds import hold_again
from .hours import record_hours
from .people import create_customer
from .records import given_in_address, given_in_body, refuse_all, taken
from .units import add_assembly, create_unit

Facts = Mapping[str, Any]


@dataclass(frozen=True, kw_only=True)
class Visit:
    """What is told at the counter. One of `customer`/`new_customer` and one of `unit`/`new_unit` is set.

    `new_unit` holds the unit's fields, `model` (id) or `new_model` (its fields, with `maker` id or `new_maker`),
    and `assemblies`. `hours`: hours, meter_changed, hours_before_change,
    no_hours_before_reason, note. Days are the shop's.
    """

    complaint: str
    customer: UUID | None = None
    new_customer: Facts | None = None
    unit: UUID | None = None
    new_unit: Facts | None = None
    hours: Facts | None = None
    accessories: Sequence[str] = ()
    received_on: dt.date | None = None
    promised_on: dt.date | None = None
    owner_far: bool | None = None
    estimate_asked: str = ""
    estimate_limit: Decimal | None = None
    brought_for_owner: bool = False


@transaction.atomic
def check_in(*, shop: Shop, by: Staff, visit: Visit) -> RepairOrder:
    """Opens a repair order, with customer and unit where they are new.

    Raises Conflict (with ids in `extra`) for a serial that is there already, a unit that is being worked on already,
    and a unit that belongs to somebody else. A unit whose work is finished and that is still here may be checked in again:
    what was finished stays as it was sent, and further work has an order of its own.
    """
    customer = _customer(shop, by, visit)
    received_on = visit.received_on or shop.today()
    unit = _unit(shop, by, visit, customer)
    refuse_all(
        visit_date_problems(received_on=received_on, promised_on=visit.promised_on, unit=unit, today=shop.today())
    )
    asked = _asked(shop, by, visit)
    reading: HourReading | None = None
    if visit.hours is not None:
        reading = record_hours(shop=shop, by=by, unit_id=unit.pk, read_on=received_on, at="hours.", **visit.hours)
    order: RepairOrder = RepairOrder.objects.create(
        shop=shop,
        number=next_number(shop=shop, series="order"),
        unit=unit,
        customer=customer,
        received_on=received_on,
        promised_on=visit.promised_on,
        complaint=visit.complaint,
        accessories=list(visit.accessories),
        reading=reading,
        owner_far=visit.owner_far,
        taken_in_by=by.user,
        **asked,
    )
    record_event(shop=shop, subject=order.subject, verb="checked in", words=order.number, by=by)
    if asked:
        put_on_record(order, by)
    hold_again(shop=shop, by=by, order=order)
    return order


def _asked(shop: Shop, by: Staff, visit: Visit) -> dict[str, Any]:
    """What the customer wants by way of an estimate, where it was asked at the counter."""
    if not visit.estimate_asked and visit.estimate_limit is None:
        return {}
    return asked_facts(shop=shop, by=by, asked=visit.estimate_asked, limit=visit.estimate_limit)


def _one_of(visit: Visit, known: str, new: str) -> None:
    given = [name for name in (known, new) if getattr(visit, name) is not None]
    if len(given) != 1:
        problem = "Both are given." if given else "Neither is given."
        raise Refused(known, problem, f"Send exactly one of '{known}' (an id) and '{new}' (its fields).")


def _customer(shop: Shop, by: Staff, visit: Visit) -> Customer:
    _one_of(visit, "customer", "new_customer")
    if visit.customer is not None:
        return given_in_body(Customer, shop=shop, pk=visit.customer, field="customer")
    return create_customer(shop=shop, by=by, facts=visit.new_customer or {})


def _unit(shop: Shop, by: Staff, visit: Visit, customer: Customer) -> Unit:
    _one_of(visit, "unit", "new_unit")
    if visit.unit is None:
        return _new_unit(shop, by, visit.new_unit or {}, customer)
    given_in_body(Unit, shop=shop, pk=visit.unit, field="unit")
    unit = given_in_address(Unit, shop=shop, pk=visit.unit, lock=True)
    here = RepairOrder.objects.for_shop(shop).filter(unit=unit, state=RepairOrder.State.OPEN).first()
    if here is not None:
        raise taken(
            "unit",
            f"This unit is in the shop already, on {here.number}.",
            "Record more on that order.",
            order=str(here.pk),
        )
    if unit.owner_id != customer.pk and not visit.brought_for_owner:
        raise taken(
            "unit",
            "This unit belongs to another customer.",
            "Transfer the unit first, or say that it is brought for its owner (brought_for_owner).",
            unit=str(unit.pk),
            owner=str(unit.owner_id),
            offer=["open", "transfer"],
        )
    return unit


def _new_unit(shop: Shop, by: Staff, given: Facts, customer: Customer) -> Unit:
    facts = dict(given)
    assemblies = facts.pop("assemblies", [])
    model = _model(shop, by, facts.pop("model", None), facts.pop("new_model", None))
    unit = create_unit(shop=shop, by=by, model=model, owner=customer, facts=facts, at="new_unit.")
    for place, assembly in enumerate(assemblies):
        add_assembly(shop=shop, by=by, unit_id=unit.pk, facts=assembly, at=f"new_unit.assemblies[{place}].")
    return unit


def _model(shop: Shop, by: Staff, known: UUID | None, new: Facts | None) -> MachineModel:
    if (known is None) == (new is None):
        raise Refused(
            "new_unit.model", "Give a model.", "Send exactly one of 'model' (an id) and 'new_model' (its fields)."
        )
    if known is not None:
        return given_in_body(MachineModel, shop=shop, pk=known, field="new_unit.model")
    facts = dict(new or {})
    maker, fresh = facts.pop("maker", None), facts.pop("new_maker", None)
    at = "new_unit.new_model."
    if (maker is None) == (fresh is None):
        raise Refused(
            f"{at}maker", "Give a maker.", "Send exactly one of 'maker' (an id) and 'new_maker' (its fields)."
        )
    if fresh is not None:
        made: Maker = create_maker(shop=shop, by=by, facts=fresh, at=f"{at}new_maker.")
        maker = made.pk
    return create_model(shop=shop, by=by, facts={**facts, "maker": maker}, at=at)
