"""What runs out soon on many units, and who should be called in before it does."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from warranty.coverage import timing
from warranty.coverage.case import Case, Root, Step, UnitView
from warranty.coverage.facts import FindingFacts, UnitFacts
from warranty.coverage.rulebook import Ready, Rulebook, rulebook
from warranty.coverage.shapes import Term
from warranty.coverage.vocabulary import NO, OPEN, YES


@dataclass(frozen=True, slots=True)
class RunsOut:
    """One term of one unit that ends soon. `sure` is false while a fact is missing (`missing` names it).

    `call_in`: it is worth asking the owner in for a check, because something covered could still be claimed.
    """

    unit: str
    term: str
    title: str
    last_day: date
    days_left: int
    hours_left: Decimal | None
    sure: bool
    missing: tuple[str, ...]
    call_in: bool


def fleet(
    units: Iterable[UnitFacts], terms: Sequence[Term] | Rulebook, as_of: date, days: int = 60
) -> Iterator[RunsOut]:
    """For each unit in turn, the terms whose last day comes within `days` of `as_of`, soonest first.

    Streams: nothing is kept from one unit to the next. Terms that run from a repair are left out: they belong to a part.
    """
    book = terms if isinstance(terms, Rulebook) else rulebook(tuple(terms))
    asked = [one for one in book.covers if one.term.start.base != "repair" and one.term.components]
    for unit in units:
        view = UnitView(unit)
        found = [row for ready in asked if (row := _ends(view, ready, as_of, days)) is not None]
        yield from sorted(found, key=lambda row: (row.last_day, row.term))


def _ends(view: UnitView, ready: Ready, as_of: date, days: int) -> RunsOut | None:
    term = ready.term
    finding = FindingFacts("fleet", min(term.components), term.assemblies[0] if term.assemblies else "unit",
                           cause=term.causes[0], found_on=as_of)  # fmt: skip
    case = Case(view, finding, finding, Root("root", "fleet"), as_of)
    began = timing.starts(term, case)
    if not began:
        return None
    ends = {timing.last_day(one.low, term.period) for one in began} | {
        timing.last_day(one.high, term.period) for one in began
    }
    last = min(ends) if max(one.low for one in began) > date.min else max(ends)
    if not as_of <= last <= _until(as_of, days):
        return None
    tried = ready.tried(case)
    if tried.outcome is NO:
        return None
    missing = tuple(sorted({step.fact for step in tried.open_steps}))
    left = _hours_left(case, tried.steps)
    return RunsOut(
        view.unit.ref, term.id, term.title, last, (last - as_of).days, left,
        tried.outcome is YES and len(ends) == 1, missing, left is None or left >= 0,
    )  # fmt: skip


def _until(day: date, days: int) -> date:
    try:
        return day + timedelta(days=days)
    except OverflowError:
        return date.max


def _hours_left(case: Case, steps: Sequence[Step]) -> Decimal | None:
    for step in steps:
        if step.rule == "hours" and step.outcome is not OPEN and isinstance(step.want, tuple):
            limit, run = step.want[0], case.view.hours
            return limit - run if isinstance(limit, Decimal) and run is not None else None
    return None
