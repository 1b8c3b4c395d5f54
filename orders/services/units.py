"""Units: one plate is one unit; who owns it; what its assemblies are."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import Assembly, Customer, HourReading, Job, MachineModel, Ownership, RepairOrder, Unit
from orders.models.units import plain_serial
from orders.rules.regions import by_name, meant, region_code
from orders.rules.trade import trade
from shopdocs.rest.refusals import Conflict, Problem, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, refuse_no_change, save_changes

from .catalogue import check_power
from .dates import STOCK, UNIT_DAYS, assembly_date_problems, unit_date_problems
from .records import given_in_address, given_in_body, refuse_all, store, taken, with_records

PAPERS_REST_ON = ("serial", "model", "build_date", "purchased_on")
PAPERS_REST_ON_OF_ASSEMBLY = (
    "maker", "model_name", "serial", "build_date", "fitted_on", "label_read", "emission_rule", "emission_family",
    "label_hours", "evaporative_rule",
)  # fmt: skip
LABEL_FACTS = ("emission_rule", "emission_family", "label_hours")
DRIVES: dict[str, tuple[str, ...]] = {
    Assembly.Role.ENGINE: ("two_stroke", "four_stroke", "lpg", "diesel"),
    Assembly.Role.ELECTRIC_MOTOR: ("battery", "mains"),
    Assembly.Role.BATTERY_PACK: ("battery",),
    Assembly.Role.CHARGER: ("battery",),
}
"""The power sources of units that have such an assembly (common practice, no source); of other roles: any."""
Facts = Mapping[str, Any]
NO_SERIAL = "Send the serial number, or say in no_serial_reason why there is none (plate missing, unreadable)."


@transaction.atomic
def create_unit(*, shop: Shop, by: Staff, model: MachineModel, owner: Customer, facts: Facts, at: str = "") -> Unit:
    """Adds a unit with its first known owner. `at` is put before field names in refusals ('new_unit.').

    Raises Conflict with the unit's id where this maker and model have the serial already.
    """
    filled = dict(facts)
    filled.setdefault("power_source", model.power_source)
    if filled.get("hand_held") is None:
        filled["hand_held"] = model.hand_held
    refuse_all(
        [
            *_serial_problems(filled, at),
            *unit_date_problems(filled, today=shop.today(), at=at),
            *_region_problems(filled, shop, at),
        ]
    )
    _as_code(filled)
    check_power(model.family, filled["power_source"], at=at)
    unit = Unit(shop=shop, model=model, owner=owner, **filled)
    _refuse_twin(unit, at)
    store(unit, clash=lambda: _twin(unit, at) or Conflict(f"{at}serial", "This serial is taken.", "Open that unit."))
    Ownership.objects.create(shop=shop, unit=unit, customer=owner, **_owner_since(unit, shop.today()))
    record_event(shop=shop, subject=f"unit:{unit.pk}", verb="created", by=by)
    return unit


@transaction.atomic
def update_unit(*, shop: Shop, by: Staff, pk: UUID, version: int, changes: Facts) -> Unit:
    """Corrects what is known of a unit. The owner changes by `transfer_unit`, hours by `record_hours`.

    `reason` (in `changes`) says why serial, model, build or purchase date are corrected; it is asked for where work on the
    unit was finished already. Papers that were sent keep what they said: their sheets are frozen.
    """
    unit = given_in_address(Unit, shop=shop, pk=pk, lock=True)
    changed = dict(changes)
    reason: str = changed.pop("reason", "")
    if not changed:
        remedy = "Send the corrected fields beside the reason."
        refuse_no_change(unit, version=version, fields=PAPERS_REST_ON, remedy=remedy)
    if changed.get("serial") and "no_serial_reason" not in changed:
        changed["no_serial_reason"] = ""
    if "model" in changed:
        changed["model"] = given_in_body(MachineModel, shop=shop, pk=changed["model"], field="model")
    if not reason:
        _refuse_without_reason(unit, unit, PAPERS_REST_ON, changed)
    refuse_all(_region_problems(changed, shop, ""))
    _as_code(changed)
    before = {name: str(getattr(unit, name)) for name in changed}
    sale_kind_before = unit.sale_kind
    for name, value in changed.items():
        setattr(unit, name, value)
    after = {name: getattr(unit, name) for name in ("serial", "no_serial_reason", "sale_kind", *UNIT_DAYS)}
    refuse_all(
        [
            *_serial_problems(after, ""),
            *unit_date_problems(after, today=shop.today()),
            *_visits_before_purchase(unit, sale_kind_before, changed),
            *_visits_before_build(unit, changed),
            *_readings_beside(unit, changed),
            *_assemblies_beside(unit, changed),
        ]
    )
    check_power(unit.model.family, unit.power_source)
    unit.serial_key = changed["serial_key"] = plain_serial(unit.serial)
    _refuse_twin(unit, "")
    saved = save_changes(unit, version=version, changes=changed)
    after = {name: str(getattr(saved, name)) for name in before}
    told = {"before": before, "after": after}
    record_event(shop=shop, subject=f"unit:{pk}", verb="changed", words=reason, facts=told, by=by)
    return saved


@transaction.atomic
def transfer_unit(
    *,
    shop: Shop,
    by: Staff,
    pk: UUID,
    version: int,
    owner: UUID,
    since: dt.date,
    use_class: str = "",
    first_owner: bool | None = None,
    note: str = "",
) -> Unit:
    """Gives the unit to another customer from a day on.

    Use class and 'first owner' are facts about the owner, so they are not carried over: what is not said is not known,
    except that whoever takes over a unit that was somebody's already is not its first owner.
    """
    unit = given_in_address(Unit, shop=shop, pk=pk, lock=True)
    new = given_in_body(Customer, shop=shop, pk=owner, field="owner")
    if unit.owner_id == new.pk:
        raise Conflict("owner", "This customer owns the unit already.", "Name another customer.")
    last = Ownership.objects.for_shop(shop).filter(unit=unit).order_by("-since", "-created_at").first()
    if since > shop.today():
        raise Refused("since", f"{since} lies in the future.", "Record the transfer on the day it happens.")
    if last is not None and since < last.since:
        raise Refused("since", f"The present owner has it since {last.since}.", "Name that day or a later one.")
    if first_owner is None and unit.sale_kind != STOCK:
        first_owner = False
    old = str(unit.owner_id)
    changes = {"owner": new, "use_class": use_class, "first_owner": first_owner}
    saved = save_changes(unit, version=version, changes=changes)
    Ownership.objects.create(shop=shop, unit=saved, customer=new, since=since, note=note)
    record_event(
        shop=shop,
        subject=f"unit:{pk}",
        verb="transferred",
        facts={"from": old, "to": str(owner), "since": str(since)},
        by=by,
    )
    return saved


@transaction.atomic
def add_assembly(*, shop: Shop, by: Staff, unit_id: UUID, facts: Facts, at: str = "") -> Assembly:
    """Adds an assembly (engine, gearbox, battery pack ...): one of each role on a unit."""
    unit = given_in_address(Unit, shop=shop, pk=unit_id, lock=True)
    assembly = Assembly(shop=shop, unit=unit, **with_records(shop, facts, at))
    assembly.role_words = " ".join(assembly.role_words.split())
    refuse_all([*_role_problems(assembly, at), *_assembly_problems(assembly, shop.today(), at)])
    clash = Conflict(
        f"{at}role", f"The unit has a '{assembly.called}' already.", "Change that one, or name this role otherwise."
    )
    same = Assembly.objects.for_shop(shop).filter(unit=unit, role=assembly.role)
    if same.filter(role_words__iexact=assembly.role_words).exists():
        raise clash
    store(assembly, clash=lambda: clash)
    record_event(shop=shop, subject=f"unit:{unit.pk}", verb="assembly added", words=assembly.called, by=by)
    return assembly


@transaction.atomic
def update_assembly(*, shop: Shop, by: Staff, pk: UUID, version: int, changes: Facts) -> Assembly:
    """Corrects what is known of an assembly. `reason` (in `changes`): as `update_unit` asks for it."""
    assembly = given_in_address(Assembly, shop=shop, pk=pk)
    assembly.unit = given_in_address(Unit, shop=shop, pk=assembly.unit_id, lock=True)
    changed = with_records(shop, changes)
    reason: str = changed.pop("reason", "")
    if not changed:
        remedy = "Send the corrected fields beside the reason."
        refuse_no_change(assembly, version=version, fields=PAPERS_REST_ON_OF_ASSEMBLY, remedy=remedy)
    if not reason:
        _refuse_without_reason(assembly.unit, assembly, PAPERS_REST_ON_OF_ASSEMBLY, changed)
    before = {name: str(getattr(assembly, name)) for name in changed}
    for name, value in changed.items():
        setattr(assembly, name, value)
    refuse_all(_assembly_problems(assembly, shop.today(), ""))
    saved = save_changes(assembly, version=version, changes=changed)
    record_event(
        shop=shop,
        subject=f"unit:{assembly.unit_id}",
        verb="assembly changed",
        words=f"{saved.called}: {reason}" if reason else saved.called,
        facts={"before": before, "after": {name: str(getattr(saved, name)) for name in before}},
        by=by,
    )
    return saved


def _assembly_problems(assembly: Assembly, today: dt.date, at: str) -> Iterator[Problem]:
    yield from assembly_date_problems(assembly, today=today, at=at)
    if not assembly.label_read:
        for name in LABEL_FACTS:
            if getattr(assembly, name) not in (None, ""):
                yield Problem(
                    f"{at}{name}",
                    "This stands on the emission label, and label_read says that nobody has read it.",
                    f"Send label_read: true if it was read there; otherwise leave {name} out, or clear it.",
                )


def _role_problems(assembly: Assembly, at: str) -> Iterator[Problem]:
    """A role of the list, or 'other' with words that the list lacks; none that the unit's power source rules out."""
    words, other = assembly.role_words, assembly.role == Assembly.Role.OTHER
    if other and not words:
        yield Problem(f"{at}role_words", "The role 'other' says nothing by itself.", "Say in role_words what it is.")
    elif words and not other:
        yield Problem(
            f"{at}role_words", "Words are for the role 'other'.", "Send role 'other', or leave the words out."
        )
    elif words.lower().replace(" ", "_") in (*Assembly.Role.values, "unit"):
        yield Problem(f"{at}role_words", f"'{words}' is a role of its own.", "Send it as the role, without words.")
    power = trade().powers.get(assembly.unit.power_source)
    needs = DRIVES.get(assembly.role)
    if power is not None and needs is not None and power.code not in needs:
        yield Problem(
            f"{at}role",
            f"A unit driven by {power.name} has no {assembly.get_role_display()}.",
            "Correct the role, or the unit's power source.",
        )


def _serial_problems(facts: Facts, at: str) -> Iterator[Problem]:
    serial, reason = facts.get("serial") or "", facts.get("no_serial_reason") or ""
    if not serial and not reason:
        yield Problem(f"{at}serial", "A unit without a serial number needs a reason.", NO_SERIAL)
    elif serial and reason:
        yield Problem(
            f"{at}no_serial_reason",
            "There is a serial number, so there is no reason for its lack.",
            "Send one of the two.",
        )
    elif serial and not plain_serial(serial):
        yield Problem(f"{at}serial", f"'{serial}' holds no letter and no digit.", NO_SERIAL)
    elif len(plain_serial(serial)) > 60:
        yield Problem(f"{at}serial", "The serial number is too long.", "Send at most 60 letters and digits.")


def _region_problems(facts: Facts, shop: Shop, at: str) -> Iterator[Problem]:
    typed = facts.get("use_region") or ""
    if typed.strip() and region_code(typed, shop.country) is None:
        yield unknown_region(typed, f"{at}use_region")


def unknown_region(typed: str, field: str) -> Problem:
    """What is said of a region that cannot be read, wherever one is typed."""
    other = meant(typed)
    remedy = f"Send '{other}'." if other else "Send the code of the state or province, as 'OH', 'US-OH' or 'CA-ON'."
    return Problem(field, f"'{typed.strip()}' is no region that is known here.", remedy)


def _as_code(facts: dict[str, Any]) -> None:
    """A region typed by its full name is kept as its code; a code as it was typed, in capitals."""
    typed = " ".join((facts.get("use_region") or "").split())
    if typed:
        facts["use_region"] = by_name(typed) or typed.upper()


def _twin(unit: Unit, at: str) -> Conflict | None:
    key = plain_serial(unit.serial)
    rows = Unit.objects.for_shop(unit.shop).filter(model=unit.model, serial_key=key).exclude(pk=unit.pk)
    there: Unit | None = rows.select_related("owner").first() if key else None
    if there is None:
        return None
    return taken(
        f"{at}serial",
        f"{unit.model} with the serial {there.serial} is recorded already (owner: {there.owner}).",
        "Open or transfer this unit.",
        unit=str(there.pk),
        owner=str(there.owner_id),
        offer=["open", "transfer"],
    )


def _refuse_twin(unit: Unit, at: str) -> None:
    conflict = _twin(unit, at)
    if conflict is not None:
        raise conflict


def _refuse_without_reason(unit: Unit, record: Unit | Assembly, names: tuple[str, ...], changed: Facts) -> None:
    """Refuses to correct, without a word, what papers and claims of finished work on the unit may rest on.

    To record what was not known before is no correction; nor is to read a label that nobody had read.
    """
    known = {name: getattr(record, name) for name in names if name in changed}
    if known.get("label_read") is False:
        del known["label_read"]
    fields = [name for name, value in known.items() if value not in (None, "", changed[name])]
    if not fields:
        return
    finished = Job.objects.for_shop(unit.shop).filter(order__unit=unit, state=Job.State.DONE).select_related("order")
    closed = RepairOrder.objects.for_shop(unit.shop).filter(unit=unit).exclude(state=RepairOrder.State.OPEN)
    number = next((job.order.number for job in finished[:1]), "") or next((order.number for order in closed[:1]), "")
    if number:
        raise Refused(
            "reason",
            f"Work on this unit was finished on {number}, and its papers say otherwise: {', '.join(fields)}.",
            "Say in reason why this is corrected; papers that were sent stay as they are.",
        )


def _visits_before_purchase(unit: Unit, sale_kind_before: str, changed: Facts) -> Iterator[Problem]:
    """A purchase date that would lie after a repair, unless the unit is or was stock until now."""
    if unit.purchased_on is None or not {"purchased_on", "sale_kind"} & set(changed):
        return
    if STOCK in (unit.sale_kind, sale_kind_before):
        return
    first = RepairOrder.objects.for_shop(unit.shop).filter(unit=unit, received_on__lt=unit.purchased_on).first()
    if first is not None:
        yield Problem(
            "purchased_on",
            f"The unit was here for repair before that, on {first.received_on} ({first.number}).",
            "Correct the date, or record that the unit was floor stock then.",
        )


def _assemblies_beside(unit: Unit, changed: Facts) -> Iterator[Problem]:
    """The same rules as where an assembly is changed, told of the unit's day that is being changed."""
    day_of_unit = {"build_date": "purchased_on", "fitted_on": "build_date"}
    for assembly in Assembly.objects.for_shop(unit.shop).filter(unit=unit).order_by("role"):
        assembly.unit = unit
        for problem in assembly_date_problems(assembly, today=unit.shop.today()):
            if day_of_unit[problem.field] in changed:
                yield replace(problem, field=day_of_unit[problem.field])


def _visits_before_build(unit: Unit, changed: Facts) -> Iterator[Problem]:
    """A build date that would lie after a repair of the unit."""
    if unit.build_date is None or "build_date" not in changed:
        return
    first = RepairOrder.objects.for_shop(unit.shop).filter(unit=unit, received_on__lt=unit.build_date).first()
    if first is not None:
        yield Problem(
            "build_date",
            f"The unit was here for repair before that, on {first.received_on} ({first.number}).",
            "Correct the date.",
        )


def _readings_beside(unit: Unit, changed: Facts) -> Iterator[Problem]:
    """What hours that were read rule out: that the unit has no meter, and that it was built after they were."""
    rows = HourReading.objects.for_shop(unit.shop).filter(unit=unit).order_by("read_on", "created_at")
    if changed.get("has_hour_meter") is False and (last := rows.last()) is not None:
        yield Problem(
            "has_hour_meter",
            f"Its meter was read: {last.hours} h on {last.read_on}.",
            "Record a reading with meter_changed where it got another meter, or correct the reading.",
        )
    if changed.get("build_date") is not None and (first := rows.filter(read_on__lt=changed["build_date"]).first()):
        yield Problem(
            "build_date",
            f"Its hour meter was read before that, {first.hours} h on {first.read_on}.",
            "Correct the date.",
        )


def _owner_since(unit: Unit, today: dt.date) -> dict[str, Any]:
    """The first owner has it since the purchase; of anybody else we know only that it is theirs now."""
    if unit.first_owner and unit.purchased_on is not None and unit.sale_kind != STOCK:
        return {"since": unit.purchased_on}
    return {"since": today, "note": "known as owner since this day"}
