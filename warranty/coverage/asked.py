"""Rules of what a term asks for and of causes: proof, registration, records, the root cause, exclusions."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta

from warranty.coverage import scope
from warranty.coverage.case import Case, Step, cause_of
from warranty.coverage.facts import FindingFacts
from warranty.coverage.shapes import Row, Term, When
from warranty.coverage.timing import PROOF_RANK, least_proof
from warranty.coverage.vocabulary import CAUSES, GROUND_OF_CAUSE, GROUNDS_OF_AUTHOR, NO, OPEN, YES

Rule = Callable[[Case], Step]
OF_ROOT = frozenset({"cause", "done_by", "upkeep_item"})
OF_FINDING = frozenset({"component", "condition"})
Seen = tuple[str, str, str, object]  # outcome, fact, of, value


def holds(when: When, case: Case, root: FindingFacts, part: FindingFacts | None = None) -> Seen:
    """Whether a condition holds: fails at the first fact that is otherwise, open while one is not known.

    The root tells the cause, its author and the upkeep; `part` (the root, unless another is given) component and condition.
    """
    part = part or root
    open_at: Seen | None = None
    last: Seen = (YES, "", "", None)
    for name, allowed in when.facts:
        value: object
        if name in OF_ROOT:
            value, fact, of = cause_of(root) if name == "cause" else getattr(root, name), f"finding.{name}", root.id
        elif name in OF_FINDING:
            value, fact, of = getattr(part, name), f"finding.{name}", part.id
        else:
            value, fact, of = getattr(case.unit, name), f"unit.{name}", ""
        if value is None:
            open_at = open_at or (OPEN, fact, of, None)
        elif value not in allowed:
            return NO, fact, of, value
        else:
            last = (YES, fact, of, value)
    return open_at or last


def forbidden(rows: Sequence[Row], case: Case, root: FindingFacts) -> tuple[Seen, str]:
    """Whether one of the rows forbids the ground now, and by which citation."""
    pending: tuple[Seen, str] | None = None
    for row in rows:
        seen = holds(row.when, case, root)
        if seen[0] is YES and not row.unsaid:
            return seen, row.source
        if seen[0] is YES:  # whether it binds is not said; a fact of the machine that tells goes before
            seen = (OPEN, *row.unsaid[0], None)
        if seen[0] is OPEN and (pending is None or pending[0][1].startswith("term.")):
            pending = (seen, row.source)
    return pending or ((NO, "", "", None), "")


def unless_forbidden(step: Step, ground: str, rows: tuple[Row, ...], case: Case) -> Step:
    """What the term asks for is not there; it holds all the same where that may not be a ground, and waits while nobody knows."""
    if step.outcome is YES or not rows:
        return step
    seen: Seen
    if case.root is None and not _free_of_root(rows):
        seen, cite = (OPEN, "finding.caused_by", case.end.id, None), ""
    else:
        seen, cite = forbidden(rows, case, case.root or case.finding)
    if seen[0] is YES:
        return step._replace(outcome=YES, want=("forbidden", ground), source=cite)
    if seen[0] is OPEN and step.outcome is NO:
        return step._replace(outcome=OPEN, fact=seen[1], of=seen[2])
    return step


def cause(term: Term, forbids: dict[str, tuple[Row, ...]]) -> Rule:
    """The root cause is one the term answers for, or a ground that may not be given as a reason to refuse."""
    source, plain, some = term.cite("cause"), frozenset(term.causes), term.causes_when
    every = plain >= set(CAUSES) - {"normal"}

    def tried(case: Case) -> Step:
        root = case.root
        if root is None:
            return Step("cause", OPEN, "finding.caused_by", case.end.id, None, term.causes, source)
        what = cause_of(root)
        if what is None:
            if every:  # any cause is covered; were it 'normal', there would be no fault to cover at all
                return Step("cause", YES, "finding.cause", root.id, None, term.causes, source)
            return Step("cause", OPEN, "finding.cause", root.id, None, term.causes, source)
        if what in plain:
            return Step("cause", YES, "finding.cause", root.id, what, term.causes, source)
        pending: Seen | None = None
        for code, when in some:
            if code == what:
                seen = holds(when, case, root)
                if seen[0] is YES:
                    return Step("cause", YES, seen[1] or "finding.cause", seen[2], seen[3], term.causes, source)
                pending = pending or (seen if seen[0] is OPEN else None)
        for ground in (GROUND_OF_CAUSE[what], *GROUNDS_OF_AUTHOR):
            seen, cite = forbidden(forbids.get(ground, ()), case, root)
            if seen[0] is YES:
                fact, of = seen[1] or "finding.cause", seen[2]
                return Step("cause", YES, fact, of, seen[3], ("forbidden", ground), cite or source)
            pending = pending or (seen if seen[0] is OPEN else None)
        if pending is not None:
            return Step("cause", OPEN, pending[1], pending[2], what, term.causes, source)
        return Step("cause", NO, "finding.cause", root.id, what, ("ground", GROUND_OF_CAUSE[what]), source)

    return tried


def consequent(term: Term) -> Rule:
    """Damage that another finding caused follows it only where the term pays for such damage, and covers the root."""
    source, mode, listed, reach = term.cite("consequent"), term.pays.consequent, term.components, term.reach

    def tried(case: Case) -> Step:
        if case.root is None:
            return Step("consequent", OPEN, "finding.caused_by", case.end.id, None, mode, source)
        if not case.linked:
            return Step("consequent", YES, "finding.caused_by", case.finding.id, "none", mode, source)
        covered = case.root.component in listed and (reach is None or case.finding.component in reach)
        return Step(
            "consequent", YES if covered else NO, "finding.caused_by", case.finding.id, case.root.id, mode, source
        )

    return tried


def excluded(term: Term, row: Row, rows: tuple[Row, ...]) -> Rule:
    """An exclusion of the term: does it apply, and may it be given as a ground at all?"""
    source = row.source or term.source.cite

    def tried(case: Case) -> Step:
        root = case.root or case.finding
        outcome, fact, of, value = holds(row.when, case, root)
        if case.linked and outcome is not YES:  # what happened to the part itself may exclude it too
            own = holds(row.when, case, root, case.finding)
            if own[0] is YES or outcome is NO:
                outcome, fact, of, value = own
        if outcome is YES and case.root is None and any(name in OF_ROOT for name, _ in row.when.facts):
            outcome, fact, of = OPEN, "finding.caused_by", case.end.id
        if outcome is NO and case.root is None and fact.startswith("finding."):
            outcome, fact, of = OPEN, "finding.caused_by", case.end.id
        if outcome is NO:
            return Step("excludes", YES, fact, of, value, row.ground, source)
        seen, cite = (
            forbidden(rows, case, root) if case.root is not None or _free_of_root(rows) else ((OPEN, "", "", None), "")
        )
        if seen[0] is YES:
            return Step("excludes", YES, fact, of, value, ("forbidden", row.ground), cite)
        if outcome is YES and seen[0] is OPEN:
            outcome, fact, of = OPEN, seen[1] or "finding.caused_by", seen[2] or case.end.id
        return Step(
            "excludes", NO if outcome is YES else OPEN, fact, of, value, ("row", row.ground, row.when.facts), source
        )

    return tried


def _free_of_root(rows: tuple[Row, ...]) -> bool:
    return not any(name in OF_ROOT | OF_FINDING for row in rows for name, _ in row.when.facts)


def proof(term: Term) -> Rule:
    """The sale is proved as the term asks; a better proof does too. With none to be had, the term's own rule steps in."""
    source, least = term.cite("proof"), least_proof(term)

    def tried(case: Case) -> Step:
        have = case.unit.purchase_proof
        if term.start.no_proof is not None:
            outcome = YES  # proved, or the term's own rule steps in; from which day it runs, the rule of time says
        elif have == "none":
            outcome = NO
        else:
            outcome = YES if have is not None and PROOF_RANK[have] >= least else OPEN
        return Step("proof", outcome, "unit.purchase_proof", "", have, term.proof, source)

    return tried


def registered_owner(term: Term, rows: tuple[Row, ...]) -> Rule:
    """The owner registered the machine, unless the law forbids to ask it."""
    plain = scope.owner(term)
    return lambda case: unless_forbidden(plain(case), "registration_card", rows, case)


def registration(term: Term, rows: tuple[Row, ...]) -> Rule:
    """Registered within N days of the sale, unless the law forbids to ask it."""
    source, days = term.cite("registration"), term.register_within_days
    assert days is not None

    def judged(case: Case) -> tuple[str, str]:
        unit = case.unit
        if unit.is_registered is not True:
            return (OPEN if unit.registered is None else NO), "unit.registered"
        if unit.registered_on is None or unit.sold_on is None:
            return OPEN, "unit.registered_on" if unit.registered_on is None else "unit.sold_on"
        late = unit.sold_on < date.max - timedelta(days=days) and unit.registered_on > unit.sold_on + timedelta(
            days=days
        )
        return (NO if late else YES), "unit.registered_on"

    def tried(case: Case) -> Step:
        outcome, fact = judged(case)
        value = (case.unit.registered_on, case.unit.sold_on)
        step = Step("registration", outcome, fact, "", value, days, source)
        return unless_forbidden(step, "registration_card", rows, case)

    return tried


def records(term: Term, rows: tuple[Row, ...]) -> Rule:
    """The owner can show that upkeep was done, unless the law forbids to ask it."""
    source = term.cite("records")

    def tried(case: Case) -> Step:
        have = case.unit.maintenance_records
        outcome = OPEN if have is None else YES if have else NO
        step = Step("records", outcome, "unit.maintenance_records", "", have, True, source)
        return unless_forbidden(step, "records_missing", rows, case)

    return tried


def code_held(term: Term, rule: str, fact: str, code: str, wanted: bool) -> Rule:
    """The unit holds a plan, or a campaign was not done on it yet."""
    source = term.cite(rule)

    def tried(case: Case) -> Step:
        held = case.unit.holds_plan(code) if rule == "plan" else case.unit.had_campaign(code)
        outcome = OPEN if held is None else YES if held is wanted else NO
        return Step(rule, outcome, fact, "", held, (code, wanted), source)

    return tried
