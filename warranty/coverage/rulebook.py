"""Terms made ready to be asked: each with its rules, the grounds forbidden to it, and the promises it may not fall short of."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

from warranty.coverage import asked, limits, scope, severe, timing
from warranty.coverage.case import Case, Step
from warranty.coverage.shapes import Row, Term
from warranty.coverage.vocabulary import NO, OPEN, YES

Rule = scope.Rule
new = tuple.__new__  # makes a named tuple without the detour through its own constructor: this is the inner loop


class Tried(NamedTuple):
    """One term, tried on one finding: how it came out and by which steps. A gate that fails ends the trial."""

    term: Term
    outcome: str
    steps: tuple[Step, ...]

    @property
    def open_steps(self) -> tuple[Step, ...]:
        """The steps that wait for a fact."""
        return tuple(step for step in self.steps if step.outcome is OPEN)


def _joined(outcome: str, steps: Iterable[Step]) -> str:
    """Fails if one step fails, is open if one is open, else holds."""
    for step in steps:
        if step[1] is NO:
            return NO
        if step[1] is OPEN:
            outcome = OPEN
    return outcome


class Ready:
    """One term with its rules. Those that ask only the unit are tried once per unit and day, the rest once per finding.

    Tried in this order: the component; whether the term speaks of the machine; the assembly; what the unit answers;
    what the finding answers.
    """

    __slots__ = ("assembly", "component", "forbids", "longer", "of_finding", "of_unit", "speaks", "term")

    def __init__(self, term: Term, forbids: dict[str, tuple[Row, ...]], longer: timing.Longer | None) -> None:
        self.term = term
        self.forbids = forbids
        self.longer = longer
        self.component = scope.component(term)
        self.speaks = tuple(scope.machine_rules(term))
        self.assembly = scope.assembly(term) if term.assemblies else None
        of_unit, of_finding = _timed(term, longer)
        asked_unit, asked_finding = _asking(term, forbids)
        self.of_unit = (*_certified(term), *of_unit, *asked_unit)
        self.of_finding = (*of_finding, *asked_finding)

    def supposing(self, fact: str, of: str, value: bool) -> Ready:
        """The same as if the term said this of itself; another term as it is."""
        if of != self.term.id:
            return self
        forbids = {}
        for ground, rows in self.forbids.items():
            told = [replace(row, unsaid=tuple(one for one in row.unsaid if one != (fact, of))) for row in rows]
            forbids[ground] = tuple(new for row, new in zip(rows, told, strict=True) if value or new == row)
        return Ready(self.term, forbids, self.longer)

    def gate(self, case: Case) -> tuple[str, list[Step]]:
        """Whether the term speaks of this machine and component."""
        first = self.component(case)
        if first[1] is NO:
            return NO, [first]
        speaks, gates, _, _ = case.blocks.get(self) or self._of_unit(case)
        steps = [first, *gates]
        if speaks is not NO and self.assembly is not None:
            steps.append(self.assembly(case))
        return _joined(YES, steps), steps

    def tried(self, case: Case) -> Tried:
        """All rules, tried in order."""
        first = self.component(case)
        if first[1] is NO:
            return new(Tried, (self.term, NO, (first,)))
        speaks, gates, outcome, answers = case.blocks.get(self) or self._of_unit(case)
        if speaks is NO:
            return new(Tried, (self.term, NO, (first, *gates)))
        if self.assembly is not None:
            belongs = self.assembly(case)
            gates = (*gates, belongs)
            if belongs[1] is NO:
                return new(Tried, (self.term, NO, (first, *gates)))
            if belongs[1] is OPEN:
                speaks = OPEN
        own = [rule(case) for rule in self.of_finding]
        for step in own:
            if step[1] is not YES and outcome is not NO:
                outcome = step[1]
        if outcome is YES and (speaks is OPEN or first[1] is OPEN):
            outcome = OPEN
        return new(Tried, (self.term, outcome, (first, *gates, *answers, *own)))

    def _of_unit(self, case: Case) -> Block:
        """What the unit answers on this day, kept for its other findings."""
        gates: list[Step] = []
        speaks = YES
        for rule in self.speaks:
            step = rule(case)
            gates.append(step)
            if step[1] is not YES:
                speaks = step[1]
                if speaks is NO:
                    break
        answers = () if speaks is NO else tuple([rule(case) for rule in self.of_unit])
        block: Block = (speaks, tuple(gates), _joined(YES, answers), answers)
        case.blocks[self] = block
        return block


Block = tuple[str, tuple[Step, ...], str, tuple[Step, ...]]
Rules = tuple[list[Rule], list[Rule]]  # those that ask only the unit, and those that ask the finding too


def _certified(term: Term) -> list[Rule]:
    rules = _made_for(term)
    if term.to not in ("any_owner", "registered_owner"):
        rules.append(scope.owner(term))
    return rules


def _made_for(term: Term) -> list[Rule]:
    """What a promise is made for besides kind and maker of the machine: its certification, its use, its edition."""
    machines = term.machines
    rules: list[Rule] = []
    if machines.part_1054 is not None:
        wanted = machines.part_1054
        rules.append(scope.label(term, "part_1054", lambda value: value is wanted, wanted))
    if machines.evaporative is not None:
        rules.append(scope.flag(term, "label", "unit.evaporative", machines.evaporative))
    return rules + _use_and_edition(term)


def _timed(term: Term, longer: timing.Longer | None) -> Rules:
    of_unit: list[Rule] = []
    of_finding: list[Rule] = []
    from_repair = term.start.base == "repair"
    of_part = from_repair or term.replacement == "new_period" or longer is not None
    time = severe.graded(term, lambda one: timing.time(one, longer))
    assert time is not None
    (of_finding if of_part else of_unit).append(time)
    hours = severe.graded(term, lambda one: None if one.hours is None else limits.hours(one))
    if hours is not None:
        of_its_own = from_repair or term.replacement == "new_period"
        (of_finding if of_its_own else of_unit).append(hours)
    if term.may_be_scheduled:
        of_finding.append(limits.scheduled(term))
    return of_unit, of_finding


def _asking(term: Term, forbids: dict[str, tuple[Row, ...]]) -> Rules:
    of_unit: list[Rule] = []
    of_finding: list[Rule] = []
    if term.proof:
        of_unit.append(asked.proof(term))
    if term.plan is not None:
        of_unit.append(asked.code_held(term, "plan", "unit.plans", term.plan, True))
    if term.campaign is not None:
        of_unit.append(asked.code_held(term, "campaign", "unit.campaigns_done", term.campaign, False))
    if term.to == "registered_owner":  # to promise to registered owners alone is to ask for the card
        of_finding.append(asked.registered_owner(term, forbids.get("registration_card", ())))
    if term.register_within_days is not None:
        of_finding.append(asked.registration(term, forbids.get("registration_card", ())))
    if term.records:
        of_finding.append(asked.records(term, forbids.get("records_missing", ())))
    of_finding += [asked.cause(term, forbids), asked.consequent(term)]
    of_finding += [asked.excluded(term, row, forbids.get(row.ground, ())) for row in term.excludes]
    return of_unit, of_finding


def _use_and_edition(term: Term) -> list[Rule]:
    machines, rules = term.machines, []
    if machines.sold_from or machines.sold_to:
        rules.append(scope.span(term, "version", "unit.sold_on", machines.sold_from, machines.sold_to))
    if term.use_classes:
        rules.append(scope.member(term, "use", "unit.use_class", term.use_classes))
    return rules


def binds(protection: Term, term: Term) -> tuple[str, ...] | None:
    """Whether a protection speaks to this term: by who gives it, by consumer product, by full warranty.

    None: it does not. Else what the term leaves unsaid of itself and it turns on; () where it surely binds.
    """
    if protection.binds_givers and term.giver not in protection.binds_givers:
        return None
    turns_on = {"consumer_product": protection.binds_consumer, "full": protection.binds_full}
    said = {field: getattr(term, field) for field, counts in turns_on.items() if counts}
    return None if False in said.values() else tuple(field for field, value in said.items() if value is None)


class Rulebook:
    """A set of terms, ready. Order does not matter: terms are kept by id and version; the same record twice counts once."""

    def __init__(self, terms: Iterable[Term]) -> None:
        distinct = sorted(set(terms), key=lambda term: (term.id, term.version, term.fingerprint))
        self.terms = tuple(distinct)
        protections = [term for term in distinct if term.kind == "protection"]
        covers = [term for term in distinct if term.kind == "cover"]
        plain = {term: Ready(term, _forbids(term, protections), None) for term in covers}
        self.covers: tuple[Ready, ...] = tuple(
            Ready(term, plain[term].forbids, _longer(term, list(plain.values())))
            if term.no_shorter_than
            else plain[term]
            for term in covers
        )


def _forbids(term: Term, protections: Iterable[Term]) -> dict[str, tuple[Row, ...]]:
    found: dict[str, list[Row]] = {}
    for row in term.not_denied_for:
        found.setdefault(row.ground, []).append(_cited(row, term))
    for protection in protections:
        unsaid = binds(protection, term)
        for row in protection.not_denied_for if unsaid is not None else ():
            found.setdefault(row.ground, []).append(_perhaps(_cited(row, protection), term, unsaid or ()))
    return {ground: tuple(rows) for ground, rows in sorted(found.items())}


def _perhaps(row: Row, term: Term, unsaid: tuple[str, ...]) -> Row:
    """The row as it binds a term that leaves something unsaid of itself: its note says so."""
    if not unsaid:
        return row
    told = [row.note, *(f"{ONLY[field]}; {UNRECORDED}" for field in unsaid)]
    facts = tuple((f"term.{field}", term.id) for field in unsaid)
    return replace(row, note="; ".join(part for part in told if part), unsaid=facts)


ONLY = {
    "consumer_product": "binds only a written warranty on a consumer product",
    "full": "binds only a full warranty",
}
UNRECORDED = "whether this is one is not recorded"


def _cited(row: Row, term: Term) -> Row:
    return row if row.source else Row(row.ground, row.when, term.source.cite, row.note)


def _longer(term: Term, all_ready: list[Ready]) -> timing.Longer | None:
    """Promises given without charge for the same machine, component and use, that this term may not fall short of."""
    others = [ready for ready in all_ready if timing.lengthens(ready.term, term)]
    further = {ready.term: _made_for(ready.term) for ready in others}
    if not others:
        return None

    def longer(case: Case) -> list[timing.Span]:
        found: list[timing.Span] = []
        if case.linked and case.root is not None:
            case = Case(case.view, case.root, case.root, case.end, case.as_of)
        for ready in others:
            outcome, steps = ready.gate(case)
            if outcome is not NO:
                steps += [rule(case) for rule in further[ready.term]]
            if any(step.outcome is NO for step in steps):
                continue
            unsure = next((step for step in steps if step.outcome is OPEN), None)
            if unsure is None:
                found += severe.spans(ready.term, case.unit)
            else:
                asks = unsure.want if isinstance(unsure.want, tuple) else ()
                found.append(timing.Span(ready.term.period, False, unsure.fact, unsure.of, asks))
        return found

    return longer


@lru_cache(maxsize=8)
def rulebook(terms: tuple[Term, ...]) -> Rulebook:
    """A rulebook of these terms; the last few are kept ready."""
    return Rulebook(terms)
