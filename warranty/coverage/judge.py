"""The core: one case put to every term, and the answer that follows."""

from __future__ import annotations

from collections.abc import Sequence

from warranty.coverage.case import Case, cause_of
from warranty.coverage.rulebook import Ready, Tried
from warranty.coverage.vocabulary import CANNOT_SAY, COVERED, NO, NO_FAULT, NOT_COVERED, YES


def refusal(case: Case) -> str:
    """Why the facts contradict each other so that nothing can be judged; '' when they do not."""
    if case.end.state == "cycle":
        return "causes_in_a_circle"
    if case.end.state == "lost":
        return "cause_not_found"
    if case.finding.found_on is not None and case.finding.found_on > case.as_of:
        return "found_after_the_day_asked"
    if case.linked and case.root is not None and cause_of(case.root) == "normal":
        return "caused_by_something_normal"
    return ""


def judge(case: Case, ready: Sequence[Ready]) -> tuple[str, tuple[Tried, ...]]:
    """Three-valued: covered if one term holds, not covered if every term fails, else 'cannot say yet'."""
    if case.finding.cause == "normal":
        return NO_FAULT, ()
    if refusal(case):
        return CANNOT_SAY, ()
    tried = tuple([one.tried(case) for one in ready])
    answer = NOT_COVERED
    for one in tried:
        if one.outcome is YES:
            return COVERED, tried
        if one.outcome is not NO:
            answer = CANNOT_SAY
    return answer, tried
