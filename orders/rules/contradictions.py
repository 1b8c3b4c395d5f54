"""Findings that do not go together. Soft: a technician may know better, so each is said and nothing is refused. Pure.

Source of the rules: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from orders.rules import points, trade

FEW_HOURS = Decimal(5)
FEW_DAYS = 14


@dataclass(frozen=True, kw_only=True)
class Seen:
    """One finding as the rules see it. Codes are those of the trade; `unit` is a unit of measurement or ''."""

    number: int
    component: str
    condition: str
    cause: str
    point: str = ""
    unit: str = ""
    unsafe: bool = False
    because: Seen | None = None


@dataclass(frozen=True, kw_only=True)
class Machine:
    """The unit as the rules see it. `hours`: on the meter now, None when not known; `bought_on` likewise."""

    family: str
    power_source: str
    hours: Decimal | None = None
    bought_on: date | None = None


@dataclass(frozen=True)
class Contradiction:
    """What does not fit, at which field, and what would settle it."""

    field: str
    problem: str
    remedy: str


def contradictions(
    finding: Seen, *, machine: Machine, found_on: date, others: tuple[Seen, ...] = ()
) -> tuple[Contradiction, ...]:
    """Everything that does not fit in `finding`, alone and beside the order's `others`. Every code must exist."""
    return (
        *_with_machine(finding, machine),
        *_with_itself(finding),
        *_with_time(finding, machine, found_on),
        *_with_point(finding, machine),
        *_with_others(finding, others),
    )


def _with_machine(finding: Seen, machine: Machine) -> Iterator[Contradiction]:
    part, kind = trade.component(finding.component), trade.family(machine.family)
    power = trade.trade().powers.get(machine.power_source)
    if kind.code not in part.families:
        yield Contradiction(
            "component", f"A {kind.name} has no {part.name}.", "Check the component, or the unit's family."
        )
    elif power is not None and power.code not in part.powers:
        yield Contradiction(
            "component",
            f"A unit driven by {power.name} has no {part.name}.",
            "Check the component, or the power source.",
        )


def _with_itself(finding: Seen) -> Iterator[Contradiction]:
    seen, why = trade.condition(finding.condition), trade.cause(finding.cause)
    if seen.sound and why.code not in ("normal", "unknown"):
        yield Contradiction(
            "cause", f"The condition says '{seen.name}', the cause says '{why.name}'.", "Correct one of the two."
        )
    if seen.sound and finding.unsafe:
        yield Contradiction(
            "unsafe", f"Marked unsafe, though the condition is '{seen.name}'.", "Say what makes it unsafe."
        )
    if (
        why.code == "missing_part" and seen.present and finding.because is None
    ):  # a melted cover follows a lost deflector
        yield Contradiction(
            "cause", f"The cause is a missing part, but the part is there ({seen.name}).", "Correct one of the two."
        )
    if not seen.present and finding.unit:
        yield Contradiction("measured", "A missing part was measured.", "Say in the note what was measured.")
    if not seen.present and why.code == "wear":
        yield Contradiction(
            "cause", "A part that is missing is not worn.", "Say how it was lost, or leave the cause open."
        )
    if finding.because is not None and trade.condition(finding.because.condition).sound:
        yield Contradiction(
            "caused_by",
            f"Finding {finding.because.number} says that nothing is wrong there.",
            "Name another finding, or none.",
        )


def _with_time(finding: Seen, machine: Machine, found_on: date) -> Iterator[Contradiction]:
    seen, why = trade.condition(finding.condition), trade.cause(finding.cause)
    if not (seen.takes_time or why.code == "wear"):
        return
    slow = f"'{seen.name}' by wear" if why.code == "wear" else f"'{seen.name}'"
    if machine.hours is not None and machine.hours < FEW_HOURS:
        yield Contradiction(
            "condition", f"{slow} takes more than {machine.hours} hours of use.", "Check the hours and the cause."
        )
    elif (
        machine.hours is None and machine.bought_on is not None and 0 <= (found_on - machine.bought_on).days < FEW_DAYS
    ):
        days = (found_on - machine.bought_on).days
        yield Contradiction(
            "condition", f"{slow} takes longer than the {days} days since purchase.", "Check purchase and cause."
        )


def _with_point(finding: Seen, machine: Machine) -> Iterator[Contradiction]:
    if not finding.point:
        return
    try:
        point = points.point_for(machine.family, machine.power_source, finding.point)
    except trade.UnknownCode:
        return  # the door refuses an unknown point; after a change of the unit an old one may stand
    if finding.component not in point.components:
        yield Contradiction("point", "This component is not looked at there.", "Name the point where it is looked at.")
    if finding.unit and point.units and finding.unit not in point.units:
        yield Contradiction(
            "measured_unit",
            f"At this point one measures in {', '.join(point.units)}.",
            "Check the unit of the measurement.",
        )


def _with_others(finding: Seen, others: tuple[Seen, ...]) -> Iterator[Contradiction]:
    mine = trade.condition(finding.condition)
    for other in others:
        if other.component != finding.component or other.number == finding.number:
            continue
        theirs = trade.condition(other.condition)
        if mine.code == theirs.code:
            yield Contradiction("component", f"Finding {other.number} says the same.", "Keep one of the two.")
        elif mine.present != theirs.present or mine.sound != theirs.sound:
            yield Contradiction(
                "condition",
                f"Finding {other.number} says '{theirs.name}' of the same component.",
                "Correct one of the two.",
            )
