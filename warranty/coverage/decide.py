"""Who should pay for what was found: one call for one unit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from functools import partial

from warranty.coverage.case import Case, UnitView, roots
from warranty.coverage.decision import Decision
from warranty.coverage.domains import relevant
from warranty.coverage.explain import explained
from warranty.coverage.facts import FindingFacts, UnitFacts
from warranty.coverage.judge import judge
from warranty.coverage.known_defects import Catalogue, KnownDefect, Matches
from warranty.coverage.rulebook import Rulebook, rulebook
from warranty.coverage.settle import Search, plainly_open
from warranty.coverage.shapes import Term
from warranty.coverage.vocabulary import CANNOT_SAY, COVERED, OPEN, YES


def decide(
    unit: UnitFacts, findings: Iterable[FindingFacts], terms: Sequence[Term] | Rulebook, as_of: date,
    known_defects: Sequence[KnownDefect] | Catalogue = (), left_out: int | None = 0,
) -> dict[str, Decision]:  # fmt: skip
    """The decision for each finding, by its id, in the order of the findings.

    Pure: the same facts, terms and day give the same answers and the same bytes of JSON, whatever the order of terms
    or findings. Raises ValueError when two findings have one id. Reuse a `Rulebook` when deciding for many units.
    `left_out`: known defects that were counted and left out of the list before (a frozen one); None: name all.
    """
    book = terms if isinstance(terms, Rulebook) else rulebook(tuple(terms))
    listed = tuple(findings)
    ends = roots(listed)
    by_id = {finding.id: finding for finding in listed}
    matches = Matches(unit, listed, known_defects, as_of, left_out)
    view = UnitView(unit)
    decisions: dict[str, Decision] = {}
    for finding in listed:
        end = ends[finding.id]
        root = by_id[end.id] if end.state == "root" else None
        decisions[finding.id] = _one(Case(view, finding, root, end, as_of), by_id, book, matches)
    return decisions


def _one(case: Case, by_id: Mapping[str, FindingFacts], book: Rulebook, matches: Matches) -> Decision:
    answer, tried = judge(case, book.covers)
    by: tuple[str, ...] = ()
    by_one_of: tuple[str, ...] = ()
    if answer == COVERED:
        by = tuple([one.term.id for one in tried if one.outcome is YES])
    elif answer == CANNOT_SAY:
        waiting = [one for one in tried if one.outcome is OPEN]
        if waiting and not plainly_open(waiting, case.finding.found_on):
            search = Search(case.finding.id, case.as_of)
            kept = {one.term for one in waiting}
            ready = [one for one in book.covers if one.term in kept]
            answer = search.answer(case.unit, relevant(case.finding.id, by_id), ready, waiting)
            by_one_of = tuple(sorted(search.holding)) if answer == COVERED else ()
    make = partial(explained, case=case, findings=by_id, book=book, matches=matches)
    return Decision(case.finding.id, answer, by, by_one_of, tried, make)
