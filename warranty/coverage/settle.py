"""What missing facts leave possible: whether every value of them gives the same answer, and which would settle it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta

from warranty.coverage.case import Case, Step, UnitView, root_of
from warranty.coverage.domains import getting, values_for
from warranty.coverage.facts import ON_THE_LABEL, AssemblyFacts, FindingFacts, UnitFacts
from warranty.coverage.judge import judge
from warranty.coverage.rulebook import Ready, Tried
from warranty.coverage.timing import may_be_unsold
from warranty.coverage.vocabulary import CANNOT_SAY, COVERED, NO, NO_FAULT, NOT_COVERED, OPEN, YES

BUDGET = 400  # trials of all open terms; beyond it the honest answer is 'cannot say yet'
DEPTH = 25  # facts that a dive sets before it gives up
DAYS = ("build_date", "sold_on", "delivered_on", "registered_on", "first_service_on")
Findings = dict[str, FindingFacts]
Fact = tuple[str, str]


def with_fact(unit: UnitFacts, findings: Findings, fact: Fact, value: object) -> tuple[UnitFacts, Findings]:
    """The same facts with one of them known."""
    name, of = fact
    room, field = name.split(".", 1)
    if room == "unit":
        return replace(unit, **{field: value}), findings  # type: ignore[arg-type]
    if room == "finding":
        return unit, {**findings, of: replace(findings[of], **{field: value})}  # type: ignore[arg-type]
    old = unit.assembly(of) or AssemblyFacts(of)
    if field in ON_THE_LABEL and old.label_read is False:  # to know it, somebody reads the label
        old = replace(old, label_read=True, part_1054=None, emission_family=None, useful_life_hours=None)
    new = replace(old, **{field: value})  # type: ignore[arg-type]
    rest = tuple(each for each in unit.assemblies if each.role != of)
    return replace(unit, assemblies=(*rest, new)), findings


def case_for(unit: UnitFacts, findings: Findings, finding: str, as_of: date) -> Case:
    """The case of one finding, its chain of causes followed anew."""
    end = root_of(finding, findings)
    root = findings[end.id] if end.state == "root" else None
    return Case(UnitView(unit), findings[finding], root, end, as_of)


def open_facts(tried: Iterable[Tried]) -> dict[Fact, list[Step]]:
    """The facts that open terms wait for, with the steps that ask for each."""
    found: dict[Fact, list[Step]] = {}
    for one in tried:
        for step in one.open_steps:
            found.setdefault((step.fact, step.of), []).append(step)
    return found


def plainly_open(tried: Sequence[Tried], found_on: date | None) -> bool:
    """A quick proof that the answer is open: one term can hold, and all can fail, by facts that do not touch each other.

    Only steps that surely come out either way by their own fact alone take part; anything else is left to the search.
    While the day found is not known, no day of the machine decides alone.
    """
    can_hold = False
    common: set[tuple[str, str, str, object]] | None = None
    for one in tried:
        steps = one.open_steps
        if not all(map(_simple, steps)) or (found_on is None and any(step.rule == "time" for step in steps)):
            return False
        if len({(step.fact, step.of) for step in steps}) == len(steps):
            can_hold = True
        keys = {(step.rule, step.fact, step.of, step.want) for step in steps}
        common = keys if common is None else common & keys
    return can_hold and (bool(common) or _apart([one.open_steps for one in tried]))


SIMPLE = frozenset({"machines", "label", "use", "hours", "proof", "records", "plan", "campaign"})
STARTS = frozenset({"unit.sold_on", "unit.delivered_on", "unit.build_date", "unit.first_service_on"})


def _simple(step: Step) -> bool:
    """Whether the step's own fact can make it hold and make it fail, whatever the other facts are."""
    if step.rule == "time":
        wants = step.want if isinstance(step.want, tuple) else ()
        return step.fact in STARTS and not any(want[0] in ("plus", "asks") for want in wants)
    if step.fact == "unit.region":
        return step.value is None
    if step.rule == "hours" and step.fact in ("unit.severe_service", "unit.use_class"):
        return False  # by the figure that counts it may still be open
    return step.rule in SIMPLE and step.fact != "finding.caused_by"


def _apart(asked: Sequence[tuple[Step, ...]]) -> bool:
    """Whether each term can be given a fact of its own."""
    taken: set[Fact] = set()
    for steps in sorted(asked, key=len):
        free = next(((s.fact, s.of) for s in steps if (s.fact, s.of) not in taken), None)
        if free is None:
            return False
        taken.add(free)
    return True


class Search:
    """Follows missing facts through their values until two answers differ, or none is left to try.

    Two quick dives come first, one for a completion that covers and one for a completion that does not: where both are
    found, the answer is open, and that is most often so. Only otherwise are all completions followed.
    """

    def __init__(self, finding: str, as_of: date) -> None:
        self.finding = finding
        self.as_of = as_of
        self.left = BUDGET
        self.recorded = UnitFacts()
        self.holding: set[str] = set()

    def answer(self, unit: UnitFacts, findings: Findings, ready: Sequence[Ready], tried: Sequence[Tried]) -> str:
        """The one answer that every completion gives (those without any fault left aside), or 'cannot say yet'."""
        self.recorded = unit
        if unit.sale_kind is None and may_be_unsold(unit):
            unsold = self._with(
                replace(unit, sale_kind="unsold"), findings, ready
            )  # a day of sale tried first would hide it
            sold = self._of_sold(unit, findings, ready, tried) if unsold != CANNOT_SAY else CANNOT_SAY
            return sold if sold == unsold else CANNOT_SAY
        return self._of_sold(unit, findings, ready, tried)

    def _of_sold(self, unit: UnitFacts, findings: Findings, ready: Sequence[Ready], tried: Sequence[Tried]) -> str:
        if self._can_hold(unit, findings, ready, tried) and self._can_fail(unit, findings, ready, tried):
            return CANNOT_SAY
        return self._every(unit, findings, ready, tried)

    def _values(self, unit: UnitFacts, findings: Findings, fact: Fact, steps: Sequence[Step]) -> tuple[object, ...]:
        latest = _latest(findings[self.finding], fact[0], self.as_of)
        values = values_for(*fact, steps, unit, findings, latest)
        if fact == ("finding.found_on", self.finding):
            values = self._after_what_was_supposed(unit, values)
        return values

    def _after_what_was_supposed(self, unit: UnitFacts, days: Sequence[object]) -> tuple[date, ...]:
        """Days of the finding that go with the days supposed on the way here: those came first, as `_latest` has it too.

        But for a finding in the store, before a known sale: what follows a sale came after it then.
        """
        supposed = {name: getattr(unit, name) for name in DAYS if getattr(self.recorded, name) is None}
        first = max((day for day in supposed.values() if day is not None), default=date.min)
        sold = self.recorded.sold_on
        late = [name for name in ("delivered_on", "registered_on") if supposed.get(name) is not None]
        if sold is None or not late:
            return tuple(sorted({max(day, first) for day in days if isinstance(day, date)}))
        found = {day if day < sold else max(day, first) for day in days if isinstance(day, date)}
        if sold > (unit.build_date or date.min):
            found.add(sold - timedelta(days=1))
        return tuple(sorted(found))

    def _judged(self, unit: UnitFacts, findings: Findings, ready: Sequence[Ready]) -> tuple[str, tuple[Tried, ...]]:
        return judge(case_for(unit, findings, self.finding, self.as_of), ready)

    def _can_hold(self, unit: UnitFacts, findings: Findings, ready: Sequence[Ready], tried: Sequence[Tried]) -> bool:
        """Whether a way to cover is found quickly: the term that waits for least, given what it waits for, or the next."""
        for target in sorted(tried, key=lambda one: (len(one.open_steps), one.term.id)):
            alone = [one for one in ready if one.term is target.term]
            if self._holds_alone(unit, findings, alone, target):
                return True
        return False

    def _holds_alone(self, unit: UnitFacts, findings: Findings, alone: Sequence[Ready], target: Tried) -> bool:
        for _ in range(DEPTH):
            facts = open_facts([target])
            fact = next((one for one in facts if self._values(unit, findings, one, facts[one])), None)
            if fact is None:
                return False
            best: tuple[int, UnitFacts, Findings, Tried] | None = None
            for value in self._values(unit, findings, fact, facts[fact]):
                changed = with_fact(unit, findings, fact, value)
                answer, got = self._judged(*changed, alone)
                if answer == COVERED:
                    return True
                waits = len(got[0].open_steps) if got and got[0].outcome is OPEN else DEPTH
                if best is None or waits < best[0]:
                    best = (waits, *changed, got[0] if got else target)
            assert best is not None
            if best[0] == DEPTH:
                return False
            _, unit, findings, target = best
        return False

    def _can_fail(self, unit: UnitFacts, findings: Findings, ready: Sequence[Ready], tried: Sequence[Tried]) -> bool:
        """Whether a way not to cover is found quickly: facts that most terms wait for, each given its worst value."""
        for _ in range(DEPTH):
            facts = open_facts(tried)
            asked = sorted(facts, key=lambda one: (-len(facts[one]), one))
            fact = next((one for one in asked if self._values(unit, findings, one, facts[one])), None)
            if fact is None:
                return False
            best: tuple[int, UnitFacts, Findings, tuple[Tried, ...]] | None = None
            for value in self._values(unit, findings, fact, facts[fact]):
                changed = with_fact(unit, findings, fact, value)
                answer, got = self._judged(*changed, ready)
                if answer == NOT_COVERED:
                    return True
                failing = sum(one.outcome is NO for one in got)
                if answer == CANNOT_SAY and got and (best is None or failing > best[0]):
                    best = (failing, *changed, got)
            if best is None:
                return False
            _, unit, findings, got = best
            tried = [one for one in got if one.outcome is OPEN]
            kept = {one.term for one in tried}
            ready = [one for one in ready if one.term in kept]
        return False

    def _every(self, unit: UnitFacts, findings: Findings, ready: Sequence[Ready], tried: Sequence[Tried]) -> str:
        """All completions, the fact with the fewest values first."""
        facts = open_facts(tried)
        best: tuple[int, Fact, tuple[object, ...]] | None = None
        for fact in sorted(facts):
            values = self._values(unit, findings, fact, facts[fact])
            if values and (best is None or len(values) < best[0]):
                best = (len(values), fact, values)
        if best is None:
            return CANNOT_SAY
        only: str | None = None
        for value in best[2]:
            got = self._with(*with_fact(unit, findings, best[1], value), ready)
            if got == NO_FAULT:
                continue  # it stands outside: then there is nothing to cover
            if got == CANNOT_SAY or (only is not None and got != only):
                return CANNOT_SAY
            only = got
        return only or CANNOT_SAY

    def _with(self, unit: UnitFacts, findings: Findings, ready: Sequence[Ready]) -> str:
        self.left -= 1
        if self.left < 0:
            return CANNOT_SAY
        answer, tried = self._judged(unit, findings, ready)
        if answer == COVERED:
            self.holding.update(one.term.id for one in tried if one.outcome is YES)
        if answer != CANNOT_SAY:
            return answer
        waiting = [one for one in tried if one.outcome is OPEN]
        if not waiting or plainly_open(waiting, findings[self.finding].found_on):
            return CANNOT_SAY
        kept = {one.term for one in waiting}
        return self._every(unit, findings, [one for one in ready if one.term in kept], waiting)


def settling(
    unit: UnitFacts, findings: Findings, finding: str, as_of: date, ready: Sequence[Ready], tried: Sequence[Tried]
) -> list[tuple[int, str, str, str, tuple[str, ...], tuple[tuple[object, str], ...]]]:
    """Facts that would help, cheapest first: cost, how, fact, of, the terms that wait for it, and what each value would mean."""
    waiting = {one.term for one in tried}
    kept = [one for one in ready if one.term in waiting]
    facts = open_facts(tried)
    found = []
    for fact, steps in facts.items():
        cost, how = getting(fact[0])
        terms = tuple(sorted({one.term.id for one in tried if any((s.fact, s.of) == fact for s in one.open_steps)}))
        meaning: list[tuple[object, str]] = []
        if fact[0].startswith("term."):
            case = case_for(unit, findings, finding, as_of)
            for said in (True, False):
                meaning.append((said, judge(case, [one.supposing(*fact, said) for one in kept])[0]))
        for value in values_for(*fact, steps, unit, findings, _latest(findings[finding], fact[0], as_of)):
            changed = with_fact(unit, findings, fact, value)
            answer, _ = judge(case_for(*changed, finding, as_of), kept)
            meaning.append((_shown(value), answer))
        found.append((cost, how, *fact, terms, tuple(meaning)))
    return sorted(found, key=lambda row: (row[0], row[2], row[3]))


def _latest(finding: FindingFacts, fact: str, as_of: date) -> date:
    """The last day that a date of the unit can have: what began its cover came before the finding."""
    return as_of if fact == "finding.found_on" else finding.found_on or as_of


def _shown(value: object) -> object:
    if isinstance(value, Mapping):
        return "scheduled" if value else "not scheduled"
    if isinstance(value, frozenset):
        return "held" if value else "none"
    if isinstance(value, tuple):
        used = any(getattr(one, "fitted_at", 0) for one in value)
        return "changed for a used one" if used else "changed" if value else "never changed"
    return value
