"""What runs out soon on many units, and who should be called in before it does."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from orders.rules.trade import component
from warranty.coverage import timing
from warranty.coverage.case import Case, Root, Step, UnitView
from warranty.coverage.facts import FindingFacts, UnitFacts
from warranty.coverage.rulebook import Ready, Rulebook, Tried, rulebook
from warranty.coverage.severe import severity, spans
from warranty.coverage.shapes import Term
from warranty.coverage.vocabulary import NO, OPEN


@dataclass(frozen=True, slots=True)
class RunsOut:
    """One term of one unit that ends soon. `sure` is false while a fact is missing (`missing` names it).

    `last_day` is then the soonest that the facts leave possible and that is not past.
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

    A term is there while it still covers any part for any cause, with the last day that a decision gives; where that day is
    another one for single parts (renewed, or repaired under a promise on the repair), they have a row of their own that
    names them. Streams: nothing is kept from one unit to the next.
    """
    book = terms if isinstance(terms, Rulebook) else rulebook(tuple(terms))
    asked = [_Asked(one, book) for one in book.covers if one.term.components]
    for unit in units:
        view = UnitView(unit)
        found = [row for one in asked for row in one.rows(view, as_of, days)]
        yield from sorted(found, key=lambda row: (row.last_day, row.term, row.title))


class _Asked:
    """A term with the parts that stand for all of its parts: no rule of it tells two parts of one group apart."""

    def __init__(self, ready: Ready, book: Rulebook) -> None:
        term = ready.term
        self.ready, self.term = ready, term
        lengthens = [one.term for one in book.covers if timing.lengthens(one.term, term)]
        rows = (*term.excludes, *(row for rows in ready.forbids.values() for row in rows))
        told_apart = {code for row in rows for name, codes in row.when.facts if name == "component" for code in codes}
        groups: dict[object, set[str]] = {}
        for code in term.components:
            alone = code if code in told_apart or code in term.may_be_scheduled else ""
            groups.setdefault((alone, *(code in one.components for one in lengthens)), set()).add(code)
        self.groups = tuple(frozenset(group) for group in groups.values())
        self.assemblies = term.assemblies or tuple(
            dict.fromkeys(("unit", *(role for one in lengthens for role in one.assemblies)))
        )

    def rows(self, view: UnitView, as_of: date, days: int) -> list[RunsOut]:
        """What ends within the days: one row for the term itself, and one for each other last day of single parts."""
        unit = view.unit
        repaired = {code for one in unit.repairs or () for code in one.components} & self.term.components
        single = repaired if self._counts_repairs() else set()
        named = single | (set(unit.replacement_schedule or ()) & self.term.components)
        groups = [] if self.term.start.base == "repair" else [group - named for group in self.groups]
        parts = [(min(group), False) for group in groups if group] + [(code, code in single) for code in sorted(named)]
        found: dict[date, tuple[RunsOut, list[str]]] = {}
        for code, alone in parts:
            row = self._best(view, code, as_of, days)
            if row is None:
                continue
            kept, codes = found.get(row.last_day, (row, []))
            if row.sure and not kept.sure:
                kept = row
            # Named only where no part of the term at large ends on that day.
            whole = not alone or (row.last_day in found and not codes)
            found[row.last_day] = (kept, [] if whole else [*codes, code])
        return [replace(row, title=f"{row.title}: {_named(codes)}") if codes else row for row, codes in found.values()]

    def _counts_repairs(self) -> bool:
        return self.term.start.base == "repair" or self.term.replacement == "new_period"

    def _best(self, view: UnitView, code: str, as_of: date, days: int) -> RunsOut | None:
        """The part with the cause, and in the assembly, that the term covers best; None where it covers none, or not until then."""
        best: RunsOut | None = None
        for role in self.assemblies:
            for cause in self.term.causes:
                finding = FindingFacts("fleet", code, role, cause=cause, found_on=as_of)
                case = Case(view, finding, finding, Root("root", "fleet"), as_of)
                row = _ends(case, self.ready.tried(case), as_of, days)
                if row is not None and (best is None or (row.sure, row.last_day) > (best.sure, best.last_day)):
                    best = row
        return best


def _named(codes: list[str]) -> str:
    return ", ".join(component(code).name for code in codes)


def _ends(case: Case, tried: Tried, as_of: date, days: int) -> RunsOut | None:
    term = tried.term
    last, known, asks = _last(case, tried, as_of) if tried.outcome is not NO else (None, False, frozenset[str]())
    if last is None or not as_of <= last <= _until(as_of, days):
        return None
    # Of a finding that nobody made, only what is missing about the machine counts.
    asked = {step.fact for step in tried.open_steps if not step.fact.startswith("finding.")}
    missing = tuple(sorted(asked | asks | {fact for fact in (severity(term, case.unit)[1],) if fact}))
    left = None if term.start.base == "repair" else _hours_left(case, tried.steps)
    return RunsOut(
        case.unit.ref, term.id, term.title, last, (last - as_of).days, left, not missing and known, missing,
        left is None or left >= 0,
    )  # fmt: skip


def _last(case: Case, tried: Tried, as_of: date) -> tuple[date | None, bool, frozenset[str]]:
    """The last day by the trial itself, and whether it is known; else the soonest possible that is not past, with what would tell."""
    term, nothing = tried.term, frozenset[str]()
    time = next((step for step in tried.steps if step.rule == "time"), None)
    value = time.value if time is not None else None
    if time is not None and time.outcome is OPEN and time.fact == "unit.repairs":
        return _of_a_repair(term, case, as_of), False, nothing
    if isinstance(value, tuple) and len(value) == 3 and isinstance(value[2], date):
        return value[2], True, nothing
    began = [] if term.start.base == "repair" else timing.starts(term, case)
    if not began:
        return None, False, nothing
    period = spans(term, case.unit)[0].period
    ends = [(timing.last_day(one.low, period), timing.last_day(one.high, period)) for one in began]
    if len({day for pair in ends for day in pair}) == 1:
        return ends[0][0], True, nothing
    # A start that nothing bounds says nothing of the soonest end: then the latest stands.
    left = [last if one.low == date.min else max(first, as_of)
            for one, (first, last) in zip(began, ends, strict=True) if last >= as_of]  # fmt: skip
    return min(left, default=None), False, frozenset(one.fact for one in began if one.fact)


def _of_a_repair(term: Term, case: Case, as_of: date) -> date | None:
    """The soonest last day, from `as_of` on, of a repair of which something is not known; None where no repair is recorded."""
    done = timing.repairs_of(term, case)
    period = spans(term, case.unit)[0].period
    ends = [timing.last_day(one.day, period) for one in (done.perhaps if done else ())]
    return min((end for end in ends if end >= as_of), default=None)


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
