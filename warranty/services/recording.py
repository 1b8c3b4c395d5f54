"""Where a fact that the engine asks for is recorded: through which door, under which field."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from orders.models import Assembly, RepairOrder, Unit

V1 = "/api/v1"


@dataclass(frozen=True)
class Place:
    """A door of the API and the field in its body. `door` holds names in braces, filled in for an order by `place_for`.

    `note` says what the field's words do not say by themselves. `of_present_owner`: the field tells how the present owner came
    to the machine, so that it says nothing of the first sale of one that was bought used.
    """

    method: str
    door: str
    field: str
    note: str = ""
    of_present_owner: bool = False


def _unit(field: str, note: str = "", of_present_owner: bool = False) -> Place:
    return Place("PATCH", "units/{unit}/", field, note, of_present_owner)


def _found_out(field: str, note: str = "") -> Place:
    return Place("PATCH", "orders/{order}/circumstances/", field, note)


def _finding(field: str, note: str = "") -> Place:
    return Place("PATCH", "findings/{of}/", field, note)


def _model(field: str) -> Place:
    return Place("PATCH", "models/{model}/", field)


def _anew(field: str) -> Place:
    """A term is never rewritten: what it leaves unsaid stands in its next version."""
    return Place("POST", "terms/", f"term.{field}", "record '{of}' with the next version, then retire the old one")


PLACES: Mapping[str, tuple[Place, ...]] = {
    "unit.maker": (_unit("model", "the maker is the model's: choose, or first add, a model of that maker"),),
    "unit.model": (_unit("model"),),
    "unit.family": (_model("family"),),
    "unit.power": (_unit("power_source"),),
    "unit.hand_held": (_unit("hand_held"),),
    "unit.build_date": (_unit("build_date"),),
    "unit.region": (_unit("use_region"),),
    "unit.use_class": (_unit("use_class"),),
    "unit.owner": (_unit("first_owner"),),
    "unit.modified": (_unit("modified"),),
    "unit.maintenance_records": (_unit("maintenance_record"),),
    "unit.sale_kind": (
        _unit("sale_kind", of_present_owner=True),
        _found_out("first_sale_kind", "of a machine that its owner bought used; 'unsold': of one that is not sold yet"),
    ),
    "unit.sold_on": (
        _unit("purchased_on", of_present_owner=True),
        _found_out("first_sold_on", "of a machine that its owner bought used"),
    ),
    "unit.delivered_on": (_unit("delivered_on"),),
    "unit.first_service_on": (_unit("first_service_on"),),
    "unit.registered_on": (_unit("registered_on"),),
    "unit.registered": (_found_out("registered"),),
    "unit.transfer_registered": (_found_out("transfer_registered"),),
    "unit.purchase_proof": (
        Place(
            "POST",
            "units/{unit}/proofs/",
            "kind",
            "with the picture and shows_date; it counts where it shows the day of the first sale that is on record",
        ),
        _found_out("no_proof_can_be_had", "when it is certain that there is none"),
    ),
    "unit.hour_meter": (_unit("has_hour_meter"),),
    "unit.hours": (Place("POST", "units/{unit}/hours/", "hours", "with read_on where it was read before today"),),
    "unit.meter_changes": (
        Place(
            "PATCH", "hour-readings/{change}/", "hours_before_change", "what the old meter showed last, with a reason"
        ),
    ),
    "unit.evaporative": (Place("PATCH", "assemblies/{engine}/", "evaporative_rule"),),
    "unit.hours_limit_invoked": (_found_out("hours_limit_invoked"),),
    "unit.serviced_by": (_found_out("serviced_by"),),
    "unit.other_parts": (_found_out("other_parts"),),
    "unit.fuel": (_found_out("fuel"),),
    "unit.manual_forbids_fuel": (_found_out("manual_forbids_fuel"),),
    "unit.proper_fuel_at_hand": (_found_out("proper_fuel_at_hand"),),
    "unit.emergency_repair": (_found_out("emergency_repair"),),
    "unit.severe_service": (_found_out("severe_service"),),
    "unit.replacement_schedule": (_found_out("replacement_schedule"),),
    "unit.plans": (
        Place("POST", "units/{unit}/plans/", "code", "with held, true or false; it stays with the machine"),
        _found_out("plans", "the whole list, [] for none; for this order alone"),
    ),
    "unit.campaigns_done": (
        Place("POST", "units/{unit}/campaigns/", "code", "with done, true or false; it stays with the machine"),
        _found_out("campaigns_done", "the whole list, [] for none; for this order alone"),
    ),
    "unit.repairs": (
        _found_out(
            "own_repairs", "of a repair that this shop did: what its own order does not tell, by the id of the job"
        ),
        _found_out("repairs_elsewhere", "of a repair that somebody else did; the list is replaced whole"),
    ),
    "term.consumer_product": (_anew("consumer_product"),),
    "term.full": (_anew("full"),),
    "finding.component": (_finding("component"),),
    "finding.condition": (_finding("condition"),),
    "finding.cause": (_finding("cause"),),
    "finding.found_on": (_finding("found_on"),),
    "finding.assembly": (
        _finding("assembly", "the id of an assembly of the unit; add it at the unit first, where it is not there"),
        _found_out("findings.{of}.belongs_to", "'unit': the machine itself, no assembly with a maker of its own"),
    ),
    "finding.caused_by": (
        _finding("caused_by"),
        _found_out("findings.{of}.stands_alone", "true: nothing else caused it, asserted at sign-off"),
    ),
    "finding.done_by": (_found_out("findings.{of}.done_by"),),
    "finding.upkeep_item": (_found_out("findings.{of}.upkeep_item"),),
    "assembly.part_1054": (Place("PATCH", "assemblies/{of}/", "emission_rule", "with label_read"),),
    "assembly.useful_life_hours": (Place("PATCH", "assemblies/{of}/", "label_hours", "with label_read"),),
    "assembly.displacement_cc": (Place("PATCH", "assemblies/{of}/", "displacement_cc"),),
    "assembly.maker": (Place("PATCH", "assemblies/{of}/", "maker", "the id of a maker; add it to the makers first"),),
}
"""Every fact that the engine can ask for; a test walks the engine to see that none is missing."""


def places_for(fact: str, of: str, order: RepairOrder) -> list[dict[str, str]]:
    """The doors at which this fact of this order is recorded, the usual one first, each with method, door, field, note.

    `of` is the finding's id or the assembly's role, as the decision names it.
    """
    ids = {one.called: str(one.pk) for one in order.unit.assemblies.all()}
    used = order.unit.sale_kind == Unit.SaleKind.USED
    places = [place for place in PLACES[fact] if not (used and place.of_present_owner)]
    return [_filled(place, fact, of, order, ids) for place in places]


def _filled(place: Place, fact: str, of: str, order: RepairOrder, ids: Mapping[str, str]) -> dict[str, str]:
    named = {"order": order.pk, "unit": order.unit_id, "model": order.unit.model_id, "of": of}
    if "{change}" in place.door:
        named["change"] = _change_not_known(order.unit)
    if place.door.startswith("assemblies/"):
        role = of if fact.startswith("assembly.") else "engine"
        if role not in ids:  # nobody has written this assembly down: adding it records the fact in the same call
            note = "; ".join(part for part in (f"adds the assembly: {_role(role)}", place.note) if part)
            place = Place("POST", "units/{unit}/assemblies/", place.field, note)
        named |= {"of": ids.get(role, ""), "engine": ids.get(role, "")}
    return {
        "method": place.method, "door": f"{V1}/{place.door.format(**named)}", "field": place.field.format(of=of),
        "note": place.note.format(of=of),
    }  # fmt: skip


def _role(called: str) -> str:
    """How the door for assemblies is told of this role."""
    return f"role '{called}'" if called in Assembly.Role.values else f"role 'other', role_words '{called}'"


def _change_not_known(unit: Unit) -> object:
    """The reading at which the meter was changed while nobody wrote down what the old one showed."""
    rows = sorted(unit.hour_readings.all(), key=lambda row: (row.read_on, row.created_at))
    return next((row.pk for row in rows if row.meter_changed and row.hours_before_change is None), "")


def settled_by(settling: Iterable[Mapping[str, Any]], order: RepairOrder) -> list[dict[str, Any]]:
    """The frozen list of facts that would settle it, each with how it is got and where it is recorded."""
    return [
        {
            "fact": row["fact"],
            "of": row["of"],
            "cost": row["cost"],
            "how": row["how"],
            "record": places_for(row["fact"], row["of"], order),
        }
        for row in settling
    ]
