"""Builds the full record of a decision from its trace: what was tried, what is missing, who pays, what may be said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from warranty.coverage.case import Case, Step
from warranty.coverage.contradictions import contradictions
from warranty.coverage.decision import Decision
from warranty.coverage.domains import relevant
from warranty.coverage.facts import FindingFacts
from warranty.coverage.goodwill import points
from warranty.coverage.judge import refusal
from warranty.coverage.known_defects import Matches
from warranty.coverage.names import folded
from warranty.coverage.record import Change, Forbidden, Record, Route, Settling, TermTried
from warranty.coverage.rulebook import Ready, Rulebook, Tried
from warranty.coverage.settle import settling
from warranty.coverage.shapes import Term
from warranty.coverage.vocabulary import CANNOT_SAY, COVERED, NO, NO_FAULT, NOT_COVERED, OPEN, YES

PROOF_RULES = frozenset({"proof", "records", "registration", "label"})
SCOPE_RULES = frozenset({"machines", "component", "assembly"})


def explained(
    decision: Decision, case: Case, findings: Mapping[str, FindingFacts], book: Rulebook, matches: Matches
) -> Record:
    """The full record. Pure: the same arguments give the same record."""
    tried = decision.trace
    holding = [one for one in tried if one.outcome is YES]
    waiting = [one for one in tried if one.outcome is OPEN]
    best = max(holding, key=_for_customer, default=None)
    paid = max(holding, key=_for_shop, default=None)
    fits = matches.named()
    narrow = points(case, tried, fits) if decision.answer == NOT_COVERED else ()
    either = [one for one in tried if one.term.id in decision.by_one_of]
    payer = _payer(decision.answer, best, either)
    return Record(
        finding=decision.finding, answer=decision.answer, as_of=case.as_of.isoformat(),
        judged_on=None if case.finding.found_on is None else case.finding.found_on.isoformat(),
        by=decision.by, by_one_of=decision.by_one_of,
        best_for_customer=best.term.id if best else None, best_paid=paid.term.id if paid else None,
        payer=payer, could_pay=_could_pay(payer, holding, waiting, bool(narrow)),
        tried=tuple(_row(one) for one in tried), missing_proof=_missing(waiting, holding),
        settling=_settling(decision, case, findings, book, waiting), changes=_changes(decision.answer, tried, best),
        goodwill=narrow, route=_route(case, best or _claimed(either) or (waiting[0] if waiting else None)),
        forbidden=_forbidden(book.covers, tried), refused=refusal(case),
        warnings=contradictions(case.unit, (case.finding,), case.as_of, findings), known_defects=fits,
        known_defects_left_out=matches.left_out(),
    )  # fmt: skip


def _time(one: Tried) -> tuple[date | None, date | None]:
    for step in one.steps:
        if step.rule == "time" and isinstance(step.value, tuple) and len(step.value) == 3:
            return step.value[1], step.value[2]
    return None, None


def _for_customer(one: Tried) -> tuple[int, date, bool, str]:
    """Most kinds of cost paid, then the longest, then without an hours limit; the id only breaks a tie."""
    return one.term.pays.kinds, _time(one)[1] or date.min, one.term.hours is None, one.term.id


def _for_shop(one: Tried) -> tuple[object, ...]:
    """Recorded percentages first; what is not recorded counts as nothing known."""
    pays = one.term.pays
    known = (pays.labour_percent or 0) + (pays.parts_percent or 0)
    return known, pays.labour, pays.diagnosis, pays.kinds, one.term.id


def _payer(answer: str, best: Tried | None, either: Sequence[Tried]) -> str:
    """Covered by one of several, some the shop's own and some not: who pays is open, though that somebody does is sure."""
    if answer == COVERED:
        own = {one.term.giver == "shop" for one in ([best] if best is not None else either)}
        return "open" if len(own) > 1 else "shop" if own == {True} else "warranty"
    return {NOT_COVERED: "customer", CANNOT_SAY: "open", NO_FAULT: "nobody"}[answer]


def _claimed(either: Sequence[Tried]) -> Tried | None:
    """Of several terms of which one covers, the one to go by for the work: a claim on somebody else first, for it may need approval."""
    return next((one for one in either if one.term.giver != "shop"), next(iter(either), None))


def _could_pay(payer: str, holding: Sequence[Tried], waiting: Sequence[Tried], narrow: bool) -> tuple[str, ...]:
    could = {"shop" if one.term.giver == "shop" else "warranty" for one in (*holding, *waiting)}
    could.add("customer")
    if narrow:
        could.add("goodwill")
    if payer == "nobody":
        return ()
    return tuple(who for who in ("warranty", "shop", "goodwill", "customer") if who in could and who != payer)


def _row(one: Tried) -> TermTried:
    term, (first, last) = one.term, _time(one)
    hours = next((step.want for step in one.steps if step.rule == "hours"), None)
    limit = hours[0] if isinstance(hours, tuple) else None
    pays = tuple(kind for kind in ("parts", "labour", "diagnosis", "freight", "pick_up") if getattr(term.pays, kind))
    return TermTried(
        term.id, term.version, term.fingerprint, term.title, term.giver, term.giver_name, one.outcome,
        first.isoformat() if first else None, _last_day(last), term.period.anniversary_inside,
        None if limit is None else format(limit.normalize(), "f"), bool(term.hours and term.hours.may_be_invoked), pays,
        term.source.cite, term.source.edition, term.source.confidence, term.source.confirm, one.steps,
    )  # fmt: skip


def _last_day(last: date | None) -> str | None:
    return None if last is None else "never" if last == date.max else last.isoformat()


def _missing(waiting: Sequence[Tried], holding: Sequence[Tried]) -> tuple[str, ...]:
    """Proof that is still to be brought: for open terms what they wait for; for covering ones a sale not proved in writing."""
    found = {step.fact for one in waiting for step in one.open_steps if step.rule in PROOF_RULES}
    found = {fact for fact in found if not fact.startswith("term.")}  # to be said of the promise, no proof
    for one in holding:
        if one.term.proof and any(s.rule == "proof" and s.value == "statement" for s in one.steps):
            found.add("unit.purchase_proof")
    return tuple(sorted(found))


def _settling(
    decision: Decision, case: Case, findings: Mapping[str, FindingFacts], book: Rulebook, waiting: Sequence[Tried]
) -> tuple[Settling, ...]:
    if decision.answer != CANNOT_SAY and not decision.by_one_of:
        return ()
    rows = settling(case.unit, relevant(case.finding.id, findings), case.finding.id, case.as_of, book.covers, waiting)
    return tuple(Settling(fact, of, cost, how, terms, values) for cost, how, fact, of, terms, values in rows)


def _changes(answer: str, tried: Sequence[Tried], best: Tried | None) -> tuple[Change, ...]:
    """Covered: the facts on which the best term stands. Not covered: each term that fails by one step alone."""
    found: list[Change] = []
    if answer == COVERED and best is not None:
        found = [_change(best.term, step) for step in best.steps if step.rule not in SCOPE_RULES]
    if answer == NOT_COVERED:
        for one in tried:
            against = [step for step in one.steps if step.outcome is NO]
            if len(against) == 1 and against[0].rule not in SCOPE_RULES and not one.open_steps:
                found.append(_change(one.term, against[0]))
    return tuple(found)


def _change(term: Term, step: Step) -> Change:
    return Change(term.id, step.rule, step.fact, step.of, step.value)


def _route(case: Case, one: Tried | None) -> Route:
    """May this shop do it: by its standing with whoever has to honour the term."""
    if one is None:
        return Route("no_claim", "", None, False, "")
    term, unit = one.term, case.unit
    role = term.duty_on or term.giver
    if role == "shop":
        return Route("repair_and_claim", term.id, None, False, term.source.cite)
    engine = unit.assembly(term.machines.label_of)
    maker = term.giver_name or (engine.maker if role == "engine_maker" and engine else unit.maker)
    allowed = _standing(unit.authorised, maker)
    far = _far(case, term)
    source = term.far_owner_source if far else ""
    if allowed is None:
        return Route("not_known", term.id, maker, far, source)
    if not allowed:
        return Route("approval_first" if far else "send_on", term.id, maker, far, source)
    needed = _standing(unit.approval_needed, maker)
    way = "not_known" if needed is None else "approval_first" if needed else "repair_and_claim"
    return Route(way, term.id, maker, far, source)


def _far(case: Case, term: Term) -> bool:
    """Whether the owner is so far from an authorised centre that the term offers more, in a region where it does."""
    miles = case.unit.miles_to_centre
    if term.far_owner_miles is None or miles is None or miles <= term.far_owner_miles:
        return False
    return not (case.view.regions or frozenset()) & term.far_owner_not_in


def _standing(by_maker: Mapping[str, bool], maker: str | None) -> bool | None:
    """What is recorded for this maker, however its name is written; None where nothing is, or both ways are."""
    said = {value for name, value in by_maker.items() if maker is not None and folded(name) == folded(maker)}
    return said.pop() if len(said) == 1 else None


def _forbidden(covers: Sequence[Ready], tried: Sequence[Tried]) -> tuple[Forbidden, ...]:
    """Grounds that may never be given, for each term that speaks of this machine and part."""
    speaking = {one.term: one for one in tried if not any(s.outcome is NO and s.rule in SCOPE_RULES for s in one.steps)}
    found: list[Forbidden] = []
    for ready in covers:
        one = speaking.get(ready.term)
        if one is None:
            continue
        used = {s.want[1] for s in one.steps if isinstance(s.want, tuple) and s.want and s.want[0] == "forbidden"}
        for ground, rows in ready.forbids.items():
            for row in rows:
                found.append(Forbidden(ready.term.id, ground, row.source, row.note, ground in used))
    return tuple(found)
