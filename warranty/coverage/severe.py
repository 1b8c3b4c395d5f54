"""The shorter figures of a term for severe service: which count, and what is said while that is not known."""

from __future__ import annotations

from collections.abc import Callable

from warranty.coverage.case import Case, Step
from warranty.coverage.facts import UnitFacts
from warranty.coverage.shapes import Term
from warranty.coverage.timing import Span
from warranty.coverage.vocabulary import NO, OPEN, YES

Rule = Callable[[Case], Step]
MARK = "severe"  # stands with what a step asks where the figure for severe service was the one that counted


def severity(term: Term, unit: UnitFacts) -> tuple[str, str]:
    """Whether the term's figures for severe service count on this machine; while that is open, the fact that would tell."""
    if term.severe is None or unit.severe_service or unit.use_class in term.severe.uses:
        return (NO if term.severe is None else YES), ""
    if unit.severe_service is None:
        return OPEN, "unit.severe_service"
    return (OPEN, "unit.use_class") if term.severe.uses and unit.use_class is None else (NO, "")


def graded(term: Term, make: Callable[[Term], Rule | None]) -> Rule | None:
    """A rule of time or hours by the figures that count; open where it turns on which of them do."""
    plain, severe = make(term), None if term.severe is None else make(term.in_severe_service)
    if severe is None:
        return plain
    none = Step("hours", YES, "unit.severe_service", "", None, (None, None), term.source.cite)

    def tried(case: Case) -> Step:
        state, fact = severity(term, case.unit)
        usual = none if plain is None else plain(case)
        if state is NO:
            return usual
        short = severe(case)
        asks = short.want if isinstance(short.want, tuple) else ()
        if state is YES:
            return short._replace(want=(*asks, (MARK,)))
        both = (*asks, *(usual.want if isinstance(usual.want, tuple) else ()))
        if short.outcome is usual.outcome:
            return short._replace(want=both)
        return short._replace(outcome=OPEN, fact=fact, of="", want=both)

    return tried


def spans(term: Term, unit: UnitFacts) -> list[Span]:
    """How long the promise is on this machine: the figure that counts, or the shorter for sure and the longer perhaps."""
    state, fact = severity(term, unit)
    short = Span(term.in_severe_service.period)
    if state is OPEN:
        return [short, Span(term.period, False, fact)]
    return [short if state is YES else Span(term.period)]
