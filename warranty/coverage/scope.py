"""Rules of scope: which machines, owners, uses and components a term speaks of. Each maker of a rule takes the term once."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal

from warranty.coverage.case import Case, Step
from warranty.coverage.facts import FindingFacts
from warranty.coverage.names import folded
from warranty.coverage.shapes import Term
from warranty.coverage.timing import events_after_build
from warranty.coverage.vocabulary import NO, NO_ENGINE, OPEN, YES

Rule = Callable[[Case], Step]
new = tuple.__new__


def member(term: Term, rule: str, fact: str, wanted: tuple[str, ...]) -> Rule:
    """The unit's fact must be one of `wanted`; capitals and the number of spaces do not matter."""
    source, attribute = term.cite(rule), fact.removeprefix("unit.")
    allowed = frozenset(folded(word) for word in wanted)

    def tried(case: Case) -> Step:
        value = getattr(case.unit, attribute)
        outcome = OPEN if value is None else YES if folded(value) in allowed else NO
        return Step(rule, outcome, fact, "", value, wanted, source)

    return tried


def flag(term: Term, rule: str, fact: str, wanted: bool) -> Rule:
    """The unit's yes-or-no fact must be as wanted."""
    source, attribute = term.cite(rule), fact.removeprefix("unit.")

    def tried(case: Case) -> Step:
        value = getattr(case.unit, attribute)
        return Step(rule, OPEN if value is None else YES if value is wanted else NO, fact, "", value, wanted, source)

    return tried


def region(term: Term) -> Rule:
    """The unit's region lies in one of the term's."""
    wanted, source = frozenset(term.machines.regions), term.cite("machines")

    def tried(case: Case) -> Step:
        lies_in = case.view.regions
        outcome = OPEN if lies_in is None else YES if lies_in & wanted else NO
        if outcome is NO and any(part.startswith(f"{case.unit.region}-") for part in wanted):
            outcome = OPEN  # 'US' is known, which state is not
        return Step("machines", outcome, "unit.region", "", case.unit.region, term.machines.regions, source)

    return tried


def label(term: Term, field: str, check: Callable[[object], bool], want: object, rule: str = "label") -> Rule:
    """A fact of the assembly whose label counts. A unit without any engine fails an engine's rule."""
    role, source = term.machines.label_of, term.cite(rule)

    def tried(case: Case) -> Step:
        assembly = case.unit.assembly(role)
        if assembly is None and role == "engine" and case.unit.power in NO_ENGINE:
            return Step(rule, NO, "unit.power", "", case.unit.power, want, source)
        value = None if assembly is None else assembly.told(field)
        outcome = OPEN if value is None else YES if check(value) else NO
        return Step(rule, outcome, f"assembly.{field}", role, value, want, source)

    return tried


def engine_maker(term: Term) -> Rule:
    """The maker of the assembly is the one that gives the term."""
    wanted = folded(term.giver_name or "")
    return label(term, "maker", lambda value: folded(str(value)) == wanted, (term.giver_name,), "machines")


def displacement(term: Term) -> Rule:
    """Displacement at least `from` and below `below`, in cc."""
    low, high = term.machines.displacement_from, term.machines.displacement_below

    def inside(value: object) -> bool:
        assert isinstance(value, Decimal)
        return (low is None or value >= low) and (high is None or value < high)

    return label(term, "displacement_cc", inside, (low, high), "machines")


def span(term: Term, rule: str, fact: str, first: date | None, last: date | None) -> Rule:
    """A date of the unit lies between two days, both inside. A day not known is still bounded by build and finding."""
    source, attribute = term.cite(rule), fact.removeprefix("unit.")

    def tried(case: Case) -> Step:
        value = getattr(case.unit, attribute)
        if value is None and attribute == "sold_on" and case.unit.sale_kind == "unsold":
            return Step(rule, NO, "unit.sale_kind", "", "unsold", (first, last), source)
        low = value or (case.unit.build_date if attribute == "sold_on" else None) or date.min
        high = value or case.last_day
        if value is None and attribute == "build_date":
            high = min(high, *events_after_build(case.unit))
        if (first is None or low >= first) and (last is None or high <= last):
            outcome = YES
        elif (first is not None and high < first) or (last is not None and low > last):
            outcome = NO
        else:
            outcome = OPEN
        return Step(rule, outcome, fact, "", value, (first, last), source)

    return tried


def assembly(term: Term) -> Rule:
    """The finding belongs to one of the term's assemblies, and so does what caused it; of damage beyond the list only the cause."""
    wanted, source, beyond = (
        frozenset(term.assemblies),
        term.cite("assembly"),
        term.pays.consequent in ("some", "machine"),
    )

    def judged(found: FindingFacts) -> Step:
        role = found.assembly
        outcome = OPEN if role is None else YES if role in wanted else NO
        return Step("assembly", outcome, "finding.assembly", found.id, role, term.assemblies, source)

    def tried(case: Case) -> Step:
        own, root = judged(case.finding), case.root
        if root is None:
            if own.outcome is NO and not beyond:
                return own
            return Step("assembly", OPEN, "finding.caused_by", case.end.id, None, term.assemblies, source)
        if not case.linked:
            return own
        first = judged(root)
        return first if beyond or own.outcome is YES or first.outcome is NO else own

    return tried


def component(term: Term) -> Rule:
    """The component is one of the term's, or, where the term pays damage anywhere, what caused it is."""
    source, reach, listed = term.cite("component"), term.reach, term.components

    def tried(case: Case) -> Step:
        code, end, root = case.finding.component, case.end, case.root  # the inner loop: steps made without a detour
        if code in listed:
            return new(Step, ("component", YES, "finding.component", case.finding.id, code, None, source))
        if reach is not None and code not in reach:
            return new(Step, ("component", NO, "finding.component", case.finding.id, code, None, source))
        if root is None:
            return Step("component", OPEN, "finding.caused_by", end.id, code, None, source)
        if case.linked and root.component in listed:
            return Step("component", YES, "finding.caused_by", case.finding.id, root.component, None, source)
        return Step("component", NO, "finding.component", case.finding.id, code, None, source)

    return tried


def owner(term: Term) -> Rule:
    """First owner only, registered owner only, or a later owner to whom the promise was transferred."""
    source, to = term.cite("owner"), term.to

    def tried(case: Case) -> Step:
        unit = case.unit
        if to == "registered_owner":
            fact, value = "unit.registered", unit.is_registered
        elif to == "first_owner" or unit.owner == "first":
            fact, value = "unit.owner", None if unit.owner is None else unit.owner == "first"
        else:
            fact, value = "unit.transfer_registered", unit.transfer_registered
            if unit.owner is None and value is not True:
                fact, value = "unit.owner", None
        outcome = OPEN if value is None else YES if value else NO
        return Step("owner", outcome, fact, "", value, to, source)

    return tried


def machine_rules(term: Term) -> list[Rule]:
    """The rules that say whether the term speaks of this machine at all, cheapest first."""
    asked = term.machines
    rules: list[Rule] = []
    makers = (term.giver_name,) if term.giver == "maker" and term.giver_name else ()
    for wanted in (makers, asked.makers):
        if wanted:
            rules.append(member(term, "machines", "unit.maker", wanted))
    if term.giver == "engine_maker":
        rules.append(engine_maker(term))
    for fact, words in (("unit.model", asked.models), ("unit.family", asked.families), ("unit.power", asked.powers)):
        if words:
            rules.append(member(term, "machines", fact, words))
    if asked.regions:
        rules.append(region(term))
    if asked.hand_held is not None:
        rules.append(flag(term, "machines", "unit.hand_held", asked.hand_held))
    if asked.displacement_from is not None or asked.displacement_below is not None:
        rules.append(displacement(term))
    if asked.built_from or asked.built_to:
        rules.append(span(term, "machines", "unit.build_date", asked.built_from, asked.built_to))
    return rules
