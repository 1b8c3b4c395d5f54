"""From the shop's records to the engine's facts, as of a day. What is not recorded stays None and is never guessed."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from typing import Any

from orders.models import Assembly, Finding, HourReading, PurchaseProof, RepairOrder, Unit
from orders.rules.regions import region_code
from orders.rules.trade import trade
from warranty.coverage.facts import AssemblyFacts, FindingFacts, MeterChange, RepairFacts, UnitFacts
from warranty.coverage.vocabulary import NO_LINK

from .circumstances import circumstances_of, with_circumstances
from .plans import campaigns_known, plans_known
from .repairs import earlier_repairs

NOT_FAR, FAR = Decimal(100), Decimal("100.1")
"""An order says only whether the owner lives over 100 miles from an authorised centre, so the engine is told either side of it."""

PROOF_LADDER = (
    (PurchaseProof.Kind.RECEIPT, "receipt"),
    (PurchaseProof.Kind.DEALER_RECORD, "registration"),  # ranked with the registration: common practice, no source
    (PurchaseProof.Kind.REGISTRATION, "registration"),
    (PurchaseProof.Kind.STATEMENT, "statement"),
)


def order_to_decide(order: RepairOrder) -> RepairOrder:
    """The order again, with all that the facts are built from in a fixed number of queries."""
    found: RepairOrder = (
        RepairOrder.objects.for_shop(order.shop)
        .select_related("shop", "customer", "reading", "unit__model__maker", "unit__shop")
        .prefetch_related(
            "findings__assembly",
            "unit__assemblies__maker",
            "unit__hour_readings",
            "unit__proofs",
            "unit__ownerships",
            "unit__plans_held",
            "unit__campaign_marks",
        )
        .get(pk=order.pk)
    )
    return found


def unit_facts(*, order: RepairOrder, as_of: dt.date) -> UnitFacts:
    """The order's unit as it was known for `as_of`; the hour meter as read for this order, else last before that day."""
    found_out = circumstances_of(order)
    told_of = found_out.unit.get("own_repairs", {}) if found_out else {}
    before = earlier_repairs(shop=order.shop, units=[order.unit], as_of=as_of, but=order, told=told_of)
    # A plan bought while the machine was here already pays for nothing that brought it here.
    came_in = min(as_of, order.received_on)
    facts = facts_of_unit(
        unit=order.unit, as_of=as_of, plans_on=came_in, reading=order.reading, repairs=before.get(order.unit_id, ())
    )
    facts = replace(facts, miles_to_centre=None if order.owner_far is None else FAR if order.owner_far else NOT_FAR)
    if found_out is None:
        return facts
    told = with_circumstances(facts, found_out.unit, as_of)
    if facts.sold_on is None and told.sold_on is not None and told.purchase_proof is None:
        return replace(told, purchase_proof=_proof(order.unit, told.sold_on)[1])
    return told


def facts_of_unit(
    *,
    unit: Unit,
    as_of: dt.date,
    reading: HourReading | None,
    repairs: tuple[RepairFacts, ...],
    plans_on: dt.date | None = None,
) -> UnitFacts:
    """One unit by its records. `reading` is the one to go by; without it the last before that day.

    `plans_on`: the day on which a plan has to be held, `as_of` unless said.
    """
    model = unit.model
    assemblies = sorted(unit.assemblies.all(), key=lambda one: one.called)
    sold_on, proof = _sale(unit)
    hours, changes = _meter(unit, reading, as_of)
    makers = {model.maker, *(one.maker for one in assemblies if one.maker is not None)}
    return UnitFacts(
        ref=str(unit.pk), maker=model.maker.name, model=model.name, family=model.family, serial=unit.serial or None,
        build_date=unit.build_date, sold_on=sold_on, purchase_proof=proof, delivered_on=unit.delivered_on,
        registered=True if unit.registered_on else None, registered_on=unit.registered_on,
        first_service_on=unit.first_service_on, sale_kind=_sale_kind(unit), use_class=unit.use_class or None,
        region=_region(unit), power=None if unit.power_source == "unknown" else unit.power_source,
        hand_held=model.hand_held if unit.hand_held is None else unit.hand_held, evaporative=_evaporative(assemblies),
        hour_meter=unit.has_hour_meter if hours is None else True, hours=hours, meter_changes=changes, owner=_owner(unit, as_of),
        assemblies=_assemblies(unit, assemblies), modified=unit.modified, maintenance_records=unit.maintenance_record,
        repairs=repairs, plans_known=plans_known(unit, plans_on or as_of), campaigns_known=campaigns_known(unit, as_of),
        authorised={maker.name: maker.authorised for maker in makers if maker.authorised is not None},
        approval_needed={m.name: m.approval_before_work for m in makers if m.approval_before_work is not None},
    )  # fmt: skip


def _sale(unit: Unit) -> tuple[dt.date | None, str | None]:
    """The first sale and the best proof of it. A machine bought used: the first sale is not what its owner paid for."""
    if unit.sale_kind == Unit.SaleKind.USED:
        return None, None
    return _proof(unit, unit.purchased_on)


def _proof(unit: Unit, sold_on: dt.date | None) -> tuple[dt.date | None, str | None]:
    """The best proof that shows this day, or any day while none is known."""
    proofs = list(unit.proofs.all())
    for kind, word in PROOF_LADDER:
        for proof in (one for one in proofs if one.kind == kind and one.shows_date is not None):
            if sold_on in (None, proof.shows_date):
                return proof.shows_date, word
    return sold_on, None


def _sale_kind(unit: Unit) -> str | None:
    known = ("new", "floor_stock", "demonstrator", "ex_rental")
    return unit.sale_kind if unit.sale_kind in known else None


def _region(unit: Unit) -> str | None:
    """ISO 3166-2, a bare state being of the shop's country; what is no known code is not known."""
    return region_code(unit.use_region, unit.shop.country) if unit.use_region.strip() else None


def _evaporative(assemblies: list[Assembly]) -> bool | None:
    """As read at the engine; where nothing is said there, as the other assemblies say with one voice."""
    known = {one.evaporative_rule for one in assemblies if one.evaporative_rule is not None}
    own = next((one.evaporative_rule for one in assemblies if one.role == "engine"), None)
    return own if own is not None else known.pop() if len(known) == 1 else None


def _meter(
    unit: Unit, reading: HourReading | None, as_of: dt.date
) -> tuple[Decimal | None, tuple[MeterChange, ...] | None]:
    """Hours, and the meter changes. Hours that were read count, whatever is said of the meter later. A reading says that the meter was not changed unless it says that it was."""
    rows: list[HourReading] = sorted(
        (row for row in unit.hour_readings.all() if row.read_on <= as_of), key=lambda row: (row.read_on, row.created_at)
    )
    if not rows:
        return None, None
    chosen = reading if reading is not None and reading.read_on <= as_of else rows[-1]
    until = next((at for at, row in enumerate(rows) if row.pk == chosen.pk), len(rows) - 1)
    changes = tuple(
        MeterChange(row.read_on, row.hours_before_change, row.hours) for row in rows[: until + 1] if row.meter_changed
    )
    return chosen.hours, changes


def _owner(unit: Unit, as_of: dt.date) -> str | None:
    if unit.first_owner is not None:
        return "first" if unit.first_owner else "later"
    transfers = len([one for one in unit.ownerships.all() if one.since <= as_of])
    return "later" if transfers > 1 or unit.sale_kind == Unit.SaleKind.USED else None


def _assemblies(unit: Unit, rows: list[Assembly]) -> tuple[AssemblyFacts, ...]:
    found = [_assembly(unit, row) for row in rows]
    engine = trade().powers.get(unit.power_source)
    if (
        engine is not None
        and engine.engine
        and unit.model.displacement_cc is not None
        and all(r.role != "engine" for r in rows)
    ):
        found.append(AssemblyFacts(role="engine", displacement_cc=unit.model.displacement_cc))
    return tuple(found)


def _assembly(unit: Unit, row: Assembly) -> AssemblyFacts:
    size = row.displacement_cc
    if size is None and row.role == "engine":
        size = unit.model.displacement_cc
    shown = {"part_1054": True, "none": False, "other": False}.get(row.emission_rule) if row.label_read else None
    return AssemblyFacts(
        role=row.called, maker=row.maker.name if row.maker else None, model=row.model_name or None,
        serial=row.serial or None, build_date=row.build_date, label_read=row.label_read, part_1054=shown,
        emission_family=row.emission_family or None,
        useful_life_hours=Decimal(row.label_hours) if row.label_hours is not None else None, displacement_cc=size,
    )  # fmt: skip


def finding_facts(*, order: RepairOrder) -> tuple[FindingFacts, ...]:
    """The order's findings, in their order, with what was found out about each."""
    rows = sorted(order.findings.all(), key=lambda one: one.number)
    found_out = circumstances_of(order)
    return tuple(_finding(row, order, found_out.findings.get(str(row.pk), {}) if found_out else {}) for row in rows)


def _finding(row: Finding, order: RepairOrder, found_out: dict[str, Any]) -> FindingFacts:
    power = trade().powers.get(order.unit.power_source)
    whole = power is not None and not power.engine and not order.unit.assemblies.all()
    # That nothing else caused it is asserted at sign-off; a link left empty says only that nobody has looked.
    alone = NO_LINK if found_out.get("stands_alone") else None
    return FindingFacts(
        id=str(row.pk), component=row.component,
        assembly=row.assembly.called if row.assembly else "unit" if whole else found_out.get("belongs_to"),
        condition=row.condition, cause=None if row.cause == "unknown" else row.cause,
        caused_by=str(row.caused_by_id) if row.caused_by_id else alone, found_on=row.found_on,
        done_by=found_out.get("done_by"), upkeep_item=found_out.get("upkeep_item"),
        never_opened=found_out.get("never_opened"), measurement=_measured(row), signs=tuple(str(sign) for sign in row.signs),
    )  # fmt: skip


def _measured(row: Finding) -> str | None:
    return None if row.measured is None else f"{row.measured.normalize():f} {row.measured_unit}".strip()
