"""Talking points for goodwill, where a term fails narrowly. Common practice, no source: nobody has to grant them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from warranty.coverage.case import Case, Step
from warranty.coverage.record import Goodwill
from warranty.coverage.rulebook import Tried
from warranty.coverage.vocabulary import NO

DAYS_PAST = 60  # how narrowly: days after the last day
HOURS_PAST = Decimal("1.10")  # times the limit
FORMAL = frozenset({"proof", "registration", "owner", "records"})


def points(case: Case, tried: Sequence[Tried], known_defects: Sequence[object]) -> tuple[Goodwill, ...]:
    """What can be said for goodwill; empty unless some term fails by one narrow step alone."""
    found: list[Goodwill] = []
    for one in tried:
        against = [step for step in one.steps if step.outcome is NO]
        if len(against) == 1 and not one.open_steps:
            point = _narrow(one.term.id, against[0])
            if point is not None:
                found.append(point)
    if not found:
        return ()
    unit, code = case.unit, case.finding.component
    if unit.maintenance_records:
        found.append(Goodwill("", "upkeep_is_on_record", True))
    if unit.owner == "first":
        found.append(Goodwill("", "first_owner", True))
    before = sum(code in repair.components for repair in unit.repairs or ())
    if before:
        found.append(Goodwill("", "same_part_failed_before", before))
    shown = [one for one in known_defects if isinstance(one, dict) and case.finding.id in one["findings"]]
    if shown:
        found.append(Goodwill("", "known_defect", len(shown)))
    return tuple(found)


def _narrow(term: str, step: Step) -> Goodwill | None:
    if step.rule == "time" and isinstance(step.value, tuple) and len(step.value) == 3:
        found, _, last = step.value
        if isinstance(found, date) and isinstance(last, date) and 0 < (found - last).days <= DAYS_PAST:
            return Goodwill(term, "days_past_the_end", (found - last).days)
    if step.rule == "hours" and isinstance(step.value, Decimal) and isinstance(step.want, tuple):
        limit = step.want[0]
        if isinstance(limit, Decimal) and limit < step.value <= limit * HOURS_PAST:
            return Goodwill(term, "hours_past_the_limit", step.value - limit)
    if step.rule in FORMAL:
        return Goodwill(term, "only_a_formality", step.rule)
    return None
