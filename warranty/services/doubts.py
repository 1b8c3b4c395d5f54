"""Doubts about an order's findings: the recorded cause held against its signs, the machine, the visit and the pictures.

Nothing is refused for a doubt: a technician may know better. It is said when a finding is recorded, with its evidence,
and with the decision that it went into.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from typing import Any
from uuid import UUID

from orders.models import RepairOrder
from orders.rules import trade
from orders.rules.contradictions import Contradiction
from shopdocs.documents.models import Photo
from warranty.coverage.case import total_hours
from warranty.coverage.contradictions import contradictions as of_facts
from warranty.coverage.contradictions import days_in_use
from warranty.coverage.facts import FindingFacts, UnitFacts
from warranty.coverage.phrases import WARNINGS
from warranty.evidence import contradictions as rules
from warranty.evidence.contradictions import Doubt, Observed
from warranty.evidence.table import table

from .facts import finding_facts, order_to_decide, unit_facts

SAID_BY_A_RULE = frozenset({"worn_though_new", "never_opened_but_wrongly_assembled", "in_order_but_with_a_cause"})
"""Contradictions of the engine that a rule of the evidence says in its own words."""

REMEDIES: Mapping[str, str] = {
    "sold_in_the_future": "Correct the date of sale.",
    "built_after_it_was_sold": "Correct the build date or the date of sale.",
    "used_before_it_was_sold_new": "Correct the dates, or record it as a demonstrator.",
    "registered_before_it_was_sold": "Correct the day of registration or of sale.",
    "hours_without_a_meter": "Say that there is a meter, or take the hours back.",
    "meter_ran_backwards": "Correct the reading at which the meter was changed.",
    "label_told_but_not_read": "Say that the label was read, or take what is told of it back.",
    "other_parts_but_not_modified": "Correct one of the two.",
    "modified_though_said_not_to_be": "Correct the cause, or say at the unit that it is modified.",
    "found_before_it_was_sold": "Correct the day of the finding or of the sale.",
    "normal_but_caused": "Choose the cause of the fault, or take the link off.",
}
OF_UNIT = "unit"  # the field of a doubt about the machine, not about one finding


def doubts_of(order: RepairOrder, as_of: dt.date | None = None) -> dict[str, list[Doubt]]:
    """What does not fit in each finding of the order, by the finding's id, contradictions first."""
    whole = order_to_decide(order)
    day = as_of or order.shop.today()
    return weighed(whole, unit_facts(order=whole, as_of=day), finding_facts(order=whole), day)


def weighed(
    order: RepairOrder, unit: UnitFacts, findings: Sequence[FindingFacts], day: dt.date
) -> dict[str, list[Doubt]]:
    """The same from facts that are built already; reads the pictures of the order and nothing else."""
    pictures = Counter(
        Photo.objects.for_shop(order.shop).filter(subject=order.subject, about__gt="").values_list("about", flat=True)
    )
    by_id = {one.id: one for one in findings}
    missing = {one.id for one in findings if one.condition == "missing"}
    of_unit = [replace(one, field=OF_UNIT) for one in _by_the_facts(unit, (), day, by_id)]
    said = {one.code for one in of_unit}
    return {
        one.id: [
            *rules.contradictions(_observed(unit, one, day, pictures, bool(missing - {one.id}))),
            *(found for found in _by_the_facts(unit, (one,), day, by_id) if found.code not in said),
            *of_unit,
        ]
        for one in findings
    }


def as_records(found: Mapping[str, Sequence[Doubt]]) -> dict[str, list[dict[str, Any]]]:
    """Doubts as they are frozen with a decision; findings without one are left out."""
    return {key: [told(one) for one in doubts] for key, doubts in found.items() if doubts}


def told(doubt: Doubt) -> dict[str, Any]:
    """One doubt as a plain record."""
    record = asdict(doubt)
    del record["at_bench"]
    return record


def _by_the_facts(
    unit: UnitFacts, findings: Sequence[FindingFacts], day: dt.date, by_id: Mapping[str, FindingFacts]
) -> list[Doubt]:
    codes = of_facts(unit, findings, day, by_id)
    return [
        Doubt(code, "contradiction", f"{WARNINGS[code][:1].upper()}{WARNINGS[code][1:]}", REMEDIES[code])
        for code in codes
        if code not in SAID_BY_A_RULE
    ]


def _observed(
    unit: UnitFacts, finding: FindingFacts, day: dt.date, pictures: Mapping[str, int], missing: bool
) -> Observed:
    known, kind = table().signs, trade.family(unit.family or "")
    return Observed(
        component=finding.component or "", condition=finding.condition or "ok", cause=finding.cause or "unknown",
        family=kind.code, power_source=unit.power if unit.power in kind.powers else trade.NOT_KNOWN,
        days_since_sale=days_in_use(unit, finding.found_on or day), hours=total_hours(unit)[0],
        never_opened=finding.never_opened, set_up_part=finding.component in rules.set_up_parts(), root_missing=missing,
        pictures=pictures.get(f"finding:{finding.id}", 0), measured=finding.measurement is not None,
        signs=frozenset(sign for sign in finding.signs if sign in known),
    )  # fmt: skip


def at_recording(order: RepairOrder) -> dict[UUID, list[Contradiction]]:
    """For the answer to a recorded finding: what is about the finding itself and the bench does not say by its own rules."""
    found = {}
    for key, doubts in doubts_of(order).items():
        new = [
            Contradiction(one.field, one.words, one.remedy)
            for one in doubts
            if not one.at_bench and one.field != OF_UNIT
        ]
        found[UUID(key)] = new
    return found
