"""The coverage decision a second time: slow, plain, written from the citations by someone who had not read the engine.

One finding on one unit, judged as a patient person would with the texts on the desk. Where a fact is not known, every
value it could have is tried: if all of them give the same answer, that is the answer; if not, 'cannot say yet'.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from tests.warranty.second_opinion.world import Impossible, Need, World, add_months, completions, total_hours
from warranty.coverage import vocabulary as words
from warranty.coverage.facts import FindingFacts, RepairFacts, UnitFacts
from warranty.coverage.shapes import Row, Term, When

Check = Callable[[], bool]


@dataclass(frozen=True)
class Opinion:
    """The answer; the terms that hold whatever the missing facts turn out to be, and those that may hold."""

    answer: str
    holds: frozenset[str]
    may_hold: frozenset[str]


def opinion(
    unit: UnitFacts, findings: Sequence[FindingFacts], terms: Sequence[Term], as_of: date
) -> dict[str, Opinion]:
    """The second opinion on each finding, by its id."""
    by_id = {one.id: one for one in findings}
    world = World(unit, by_id, terms, as_of, {})
    return {one: _of_finding(world, one) for one in by_id}


def _of_finding(world: World, finding: str) -> Opinion:
    if world.findings[finding].cause == "normal":
        return Opinion(words.NO_FAULT, frozenset(), frozenset())
    ends = set(completions(replace(world, judged=finding), lambda filled: _judge(filled, finding)))
    if not ends:
        return Opinion(words.CANNOT_SAY, frozenset(), frozenset())
    answers = {answer for answer, _ in ends}
    sets = [held for _, held in ends]
    answer = answers.pop() if len(answers) == 1 else words.CANNOT_SAY
    return Opinion(answer, frozenset.intersection(*sets), frozenset.union(*sets))


def _judge(world: World, finding: str) -> tuple[str, frozenset[str]]:
    """The answer in one world, and the terms that hold in it."""
    found = world.of_finding(finding, "found_on")
    assert isinstance(found, date)
    root = _root(world, finding)
    if root is None or found > world.as_of or _begins_with_normal(world, root):
        return words.CANNOT_SAY, frozenset()
    held, needs = set(), []
    for term in world.terms:
        if term.kind == "protection":
            continue
        try:
            if _holds(world, term, finding, root, found):
                held.add(term.id)
        except Need as need:
            needs.append(need)
    if needs:
        raise needs[0]
    return (words.COVERED if held else words.NOT_COVERED), frozenset(held)


def _root(world: World, finding: str) -> str | None:
    """The finding at the root of the chain; None where the chain is a circle or names a finding that is not there."""
    passed = [finding]
    while True:
        cause = world.of_finding(passed[-1], "caused_by")
        if cause == words.NO_LINK:
            return passed[-1]
        if cause in passed or cause not in world.findings:
            return None
        passed.append(str(cause))


def _begins_with_normal(world: World, root: str) -> bool:
    """What works as made causes no fault. A sheet that says so is to be put right first; a link that nobody made is not that one."""
    if world.findings[root].cause != "normal":
        return False
    if any(slot[-1] == "caused_by" for slot in world.filled):
        raise Impossible
    return True


# Yes, no, and 'a fact is missing': one 'no' settles an 'and', one 'yes' settles an 'or', whatever is missing beside it.


def _all(checks: Iterable[Check]) -> bool:
    missing: Need | None = None
    for check in checks:
        try:
            if not check():
                return False
        except Need as need:
            missing = missing or need
    if missing:
        raise missing
    return True


def _any(checks: Iterable[Check]) -> bool:
    return not _all((lambda check=check: not check()) for check in checks)  # type: ignore[misc]


def _holds(world: World, term: Term, finding: str, root: str, found: date) -> bool:
    """Whether this term pays for this finding: every one of its conditions, one after another."""
    return _all(
        (
            lambda: _component(world, term, finding, root),
            lambda: _assembly(world, term, finding, root),
            lambda: _speaks_of_machine(world, term, root),
            lambda: _owner(world, term, root),
            lambda: not term.use_classes or world.of_unit("use_class") in term.use_classes,
            lambda: _cause(world, term, root),
            lambda: not _excluded(world, term, finding, root),
            lambda: _in_time_and_hours(world, term, root, found),
            lambda: _before_first_replacement(world, term, root, found),
            lambda: _registered_in_time(world, term, root),
            lambda: (
                not term.records
                or _any(
                    (
                        lambda: world.of_unit("maintenance_records") is True,
                        lambda: _forbidden(world, term, "records_missing", root),
                    )
                )
            ),
            lambda: term.plan is None or _has(world, "plan", world.unit.plans, term.plan),
            lambda: term.campaign is None or not _has(world, "campaign", world.unit.campaigns_done, term.campaign),
            lambda: not term.proof or _proved(world, term),
        )
    )


def _has(world: World, kind: str, codes: frozenset[str] | None, code: str) -> bool:
    if codes is not None:
        return code in codes
    return world.ask((kind, code), None) is True


# What the term speaks of.


def _component(world: World, term: Term, finding: str, root: str) -> bool:
    """The part that failed by itself is promised; what it ruined is paid for as far as the term reaches.

    40 CFR 1054.120(c), 1060.120(c), 13 CCR 2405 (parts), 2405(c)(7) (other components that a failure ruined).
    """
    if world.findings[root].component not in term.components:
        return False
    return finding == root or term.reach is None or world.findings[finding].component in term.reach


def _assembly(world: World, term: Term, finding: str, root: str) -> bool:
    """What failed by itself sits in an assembly that is promised; so does what it ruined, where only 'listed' is paid."""
    if not term.assemblies:
        return True
    own = [root, finding] if term.pays.consequent == "listed" else [root]
    return _all((lambda one=one: world.of_finding(one, "assembly") in term.assemblies) for one in own)  # type: ignore[misc]


def _speaks_of_machine(world: World, term: Term, root: str) -> bool:
    m = term.machines

    def engine(name: str) -> object:
        return world.of_assembly(m.label_of, name)

    def size() -> Decimal:
        value = engine("displacement_cc")
        assert isinstance(value, Decimal)
        return value

    return _all(
        (
            lambda: _given_by(world, term),
            lambda: not m.makers or world.of_unit("maker") in m.makers,
            lambda: not m.models or world.of_unit("model") in m.models,
            lambda: not m.families or world.of_unit("family") in m.families,
            lambda: not m.regions or _any((lambda code=code: _inside(world, code)) for code in m.regions),  # type: ignore[misc]
            lambda: not m.powers or world.of_unit("power") in m.powers,
            lambda: m.hand_held is None or world.of_unit("hand_held") is m.hand_held,
            lambda: m.displacement_from is None or size() >= m.displacement_from,
            lambda: m.displacement_below is None or size() < m.displacement_below,
            lambda: m.part_1054 is None or engine("part_1054") is m.part_1054,
            lambda: m.evaporative is None or world.of_unit("evaporative") is m.evaporative,
            lambda: _day_in(world, "build_date", m.built_from, m.built_to),
            lambda: _day_in(world, "sold_on", m.sold_from, m.sold_to),
        )
    )


def _given_by(world: World, term: Term) -> bool:
    """A maker promises for its own machines, an engine maker for its own engines; a part maker's parts are in the repairs."""
    if term.giver == "maker":
        return world.of_unit("maker") == term.giver_name
    if term.giver == "engine_maker":
        return world.of_assembly("engine", "maker") == term.giver_name
    return True


def _inside(world: World, region: str) -> bool:
    """'US-CA' is inside 'US'; of a unit that is only known to be in 'US' nobody knows whether it is in 'US-CA'."""
    here = str(world.of_unit("region"))
    if region.startswith(here + "-"):
        here = str(world.ask(("narrower", here), None))
    return here == region or here.startswith(region + "-")


def _day_in(world: World, name: str, first: date | None, last: date | None) -> bool:
    if first is None and last is None:
        return True
    if name == "sold_on" and world.of_unit("sale_kind") == "unsold":
        return False
    day = world.of_unit(name)
    assert isinstance(day, date)
    return (first is None or day >= first) and (last is None or day <= last)


def _owner(world: World, term: Term, root: str) -> bool:
    """40 CFR 1054.120(a), 13 CCR 2405: every owner. A maker's promise: as its words are, but for 16 CFR 700.7."""
    if term.to == "first_owner":
        return world.of_unit("owner") == "first"
    if term.to == "transferred_owner":
        return _any((lambda: world.of_unit("owner") == "first", lambda: world.of_unit("transfer_registered") is True))
    if term.to == "registered_owner":
        return _any(
            (lambda: world.of_unit("registered") is True, lambda: _forbidden(world, term, "registration_card", root))
        )
    return True


# Why it failed, and what may be said against the owner.


def _cause(world: World, term: Term, root: str) -> bool:
    """The cause at the root is promised, or to refuse it is forbidden (40 CFR 1068.115, 1054.125; 16 CFR 700.10)."""
    cause = str(world.of_finding(root, "cause"))
    if cause in term.causes:
        return True
    promised = [when for one, when in term.causes_when if one == cause]
    return _any(
        [
            *((lambda when=when: _when(world, when, root)) for when in promised),  # type: ignore[misc]
            lambda: _forbidden(world, term, words.GROUND_OF_CAUSE[cause], root),
            # 40 CFR 1068.115(b)(1) and (5): whatever the cause, not for what the maker, or its service, did or left.
            lambda: _forbidden(world, term, "makers_service", root),
            lambda: _forbidden(world, term, "makers_fault", root),
        ]
    )


def _excluded(world: World, term: Term, finding: str, root: str) -> bool:
    """A row of the term's own exclusions applies, to the root or to what it ruined, and is not a forbidden ground."""

    def applies(row: Row) -> bool:
        met = _any((lambda: _when(world, row.when, root), lambda: _when(world, row.when, root, finding)))
        return met and not _forbidden(world, term, row.ground, root)

    return _any((lambda row=row: applies(row)) for row in term.excludes)  # type: ignore[misc]


def _when(world: World, when: When, root: str, seen: str | None = None) -> bool:
    """Every named fact has one of the values; of cause, author and upkeep the root tells, of part and condition `seen`."""

    def fact(name: str) -> object:
        if name == "component":
            return world.findings[seen or root].component
        if name == "condition":
            return world.of_finding(seen or root, name)
        if name in ("cause", "done_by", "upkeep_item"):
            return world.of_finding(root, name)
        return world.of_unit(name)

    return _all((lambda name=name, values=values: fact(name) in values) for name, values in when.facts)  # type: ignore[misc]


def _forbidden(world: World, term: Term, ground: str, root: str) -> bool:
    """The term's own law, or a protection that binds its giver, forbids this ground."""

    def bound(one: Term) -> bool:
        """By consumer product, by full warranty; a term that does not say is either."""

        def said(name: str) -> bool:
            return world.ask(("term", term.id, name), getattr(term, name)) is True

        return _all((lambda: not one.binds_consumer or said("consumer_product"), lambda: not one.binds_full or said("full")))  # fmt: skip

    rows: list[Check] = [
        lambda row=row: _when(world, row.when, root)  # type: ignore[misc]
        for row in term.not_denied_for
        if row.ground == ground
    ]
    for one in world.terms:
        if one.kind == "protection" and term.giver in one.binds_givers:
            rows += [
                lambda one=one, row=row: _all((lambda: bound(one), lambda: _when(world, row.when, root)))  # type: ignore[misc]
                for row in one.not_denied_for
                if row.ground == ground
            ]
    return _any(rows)


# How long.


def _in_time_and_hours(world: World, term: Term, root: str, found: date) -> bool:
    """Inside the period that runs from the start, or inside one that a replaced part began (where the term says so)."""
    term = _in_its_service(world, term)
    part = world.findings[root].component
    spans: list[Check] = []
    if term.start.base == "repair":
        spans += _repair_spans(
            world, term, part, root, found, lambda one, number: _repair_counts(world, term, one, number)
        )
    else:
        spans.append(lambda: _from_start(world, term, root, found))
        if term.replacement == "new_period":
            anew = _repair_spans(
                world, term, part, root, found, lambda one, number: _replaced_under(world, term, number)
            )
            # A promise to a purchaser that never began (no sale: 13 CCR 2405(a) and 40 CFR 1054.120(b)) cannot begin anew,
            # and one that began later than the finding had not begun.
            spans += [lambda one=one: _all((one, lambda: _begun(world, term, found))) for one in anew]  # type: ignore[misc]
    return _any(spans)


def _in_its_service(world: World, term: Term) -> Term:
    """The term with the figures that its giver names for severe service, where the machine does such."""
    if term.severe is None:
        return term
    uses = term.severe.uses
    severe = _any(
        (
            lambda: world.of_unit("severe_service") is True,
            lambda: bool(uses) and world.of_unit("use_class") in uses,
        )
    )
    if not severe:
        return term
    return replace(term, period=term.severe.period or term.period, hours=term.severe.hours or term.hours)


def _begun(world: World, term: Term, found: date) -> bool:
    start = _start(world, term)
    return start is not None and start <= found


def _from_start(world: World, term: Term, root: str, found: date) -> bool:
    start = _start(world, term)
    if start is None or found < start:
        return False
    return _all((lambda: _day_inside(world, term, root, start, found), lambda: _hours_inside(world, term, Decimal(0))))


def _repair_spans(
    world: World, term: Term, part: str, root: str, found: date, counts: Callable[[RepairFacts, int], bool]
) -> list[Check]:
    if world.unit.repairs is None:  # nobody has looked: there may have been none, or one on any day
        return [lambda: _from_unknown_repair(world, term, found)]

    def inside(one: RepairFacts, number: int) -> bool:
        return _all(
            (
                lambda: part in one.components and one.day <= found <= _last_day(term, one.day),
                lambda: counts(one, number),
                lambda: term.hours is None or _hours_inside(world, term, _at(world, number)),
            )
        )

    return [lambda one=one, number=number: inside(one, number) for number, one in enumerate(world.unit.repairs)]  # type: ignore[misc]


def _from_unknown_repair(world: World, term: Term, found: date) -> bool:
    if world.ask(("plan", f"a repair that {term.id} counts from"), None) is not True:
        return False
    if found > _last_day(term, found):
        return False
    # A repair on the last day leaves no hours to count, but a term that asks for a meter asks for one.
    return term.hours is None or term.hours.without_meter == "years_only" or world.of_unit("hour_meter") is True


def _at(world: World, number: int) -> Decimal:
    hours = world.of_repair(number, "hours")
    assert isinstance(hours, Decimal)
    return hours


def _repair_counts(world: World, term: Term, one: RepairFacts, number: int) -> bool:
    """The repair was done by one of those whom the term names, and a part maker's part was fitted."""
    checks: list[Check] = []
    if term.start.repair_by:
        checks.append(lambda: world.of_repair(number, "done_by") in term.start.repair_by)
    if term.giver == "part_maker":
        checks.append(lambda: world.of_repair(number, "part_maker") == term.giver_name)
        checks.append(lambda: world.of_repair(number, "new_part") is True)
    return _all(checks)


def _replaced_under(world: World, term: Term, number: int) -> bool:
    return _all(
        (lambda: world.of_repair(number, "under") == term.id, lambda: world.of_repair(number, "new_part") is True)
    )


def _start(world: World, term: Term) -> date | None:
    """The day on which the period begins; None where it has not begun.

    40 CFR 1054.120(b): the sale to the ultimate purchaser; where only the first service is known, that day. 13 CCR 2405(a):
    delivery. A demonstrator begins with its first service; a machine sold out of rental never starts again.
    """
    start = term.start
    kind = world.of_unit("sale_kind")
    base = {"floor_stock": start.floor_stock, "demonstrator": start.demonstrator, "ex_rental": start.ex_rental}.get(
        str(kind), start.base
    )
    if base == "build":
        return _plus(world.of_unit("build_date"), start.build_plus_days)
    if base == "first_service":  # also of a machine that is used before it is sold
        return _plus(world.of_unit("first_service_on"), 0)
    if kind == "unsold":
        return None
    if base == "sale":
        return _sale(world, term)
    if base == "registration":
        return _plus(world.of_unit("registered_on"), 0) if world.of_unit("registered") is True else None
    assert base == "delivery"
    return _plus(world.of_unit("delivered_on"), 0)


def _sale(world: World, term: Term) -> date:
    """The day of sale; where no proof of it can be had, the day that the term's own rule names.

    A term that asks for no proof takes the day that is told; its rule then stands in where no day is known at all
    (1054.120(b) with 1068.110(e): where only the service date is known, that date).
    """
    start = term.start
    if start.no_proof and (term.proof or world.unit.sold_on is None) and not _has_proof(world, term):
        event = "build_date" if start.no_proof == "build" else "first_service_on"
        return _plus(world.of_unit(event), start.no_proof_plus_days)
    return _plus(world.of_unit("sold_on"), 0)


def _plus(day: object, days: int) -> date:
    assert isinstance(day, date)
    return day + timedelta(days=days)


LADDER = ("receipt", "registration", "statement")


def _at_least(proof: object, taken: str) -> bool:
    return proof in LADDER and LADDER.index(str(proof)) <= LADDER.index(taken)


def _has_proof(world: World, term: Term) -> bool:
    """A proof at least as good as one that the term takes is at hand, or (what is at hand being too little) will be found."""
    taken, at_hand = term.proof or ("registration",), world.unit.purchase_proof
    if at_hand == "none" or any(_at_least(at_hand, one) for one in taken):
        return at_hand != "none"
    found = world.ask(("unit", "purchase_proof"), None)
    return any(_at_least(found, one) for one in taken)


def _proved(world: World, term: Term) -> bool:
    """Proved as the term asks, or the term has a rule of its own for a sale that is not."""
    return term.start.no_proof is not None or _has_proof(world, term)


def _last_day(term: Term, start: date) -> date:
    """The anniversary day is inside unless the term says otherwise; months by the same-numbered day."""
    period = term.period
    if period.unlimited:
        last = date.max
    else:
        last = add_months(start, period.months) if period.months else start + timedelta(days=period.days or 0)
        last = last if period.anniversary_inside else last - timedelta(days=1)
    return min(last, period.ends_on) if period.ends_on else last


def _day_inside(world: World, term: Term, root: str, start: date, found: date) -> bool:
    """Inside the term's own period, or that of a free published promise for this part (40 CFR 1054.120(b))."""
    longer = [
        one
        for one in world.terms
        if one.kind == "cover" and one.giver in term.no_shorter_than and one.free and one.id != term.id
        and world.findings[root].component in one.components and one.start.base != "repair"
    ]  # fmt: skip
    return _any(
        [
            lambda: found <= _last_day(term, start),
            *((lambda one=one: _lengthens(world, one, root, start, found)) for one in longer),  # type: ignore[misc]
        ]
    )


def _lengthens(world: World, one: Term, root: str, start: date, found: date) -> bool:
    """The promise is made for this machine and this use (a promise that this use does not get lengthens nothing)."""
    return _all(
        (
            lambda: found <= _last_day(_in_its_service(world, one), start),
            lambda: _assembly(world, one, root, root),
            lambda: _speaks_of_machine(world, one, root),
            lambda: not one.use_classes or world.of_unit("use_class") in one.use_classes,
        )
    )


def _hours_inside(world: World, term: Term, since: Decimal) -> bool:
    """40 CFR 1054.120(b)(3): only with a meter, only for MORE than the limit, and only if the giver relies on it."""
    hours = term.hours
    if hours is None:
        return True
    if world.of_unit("hour_meter") is False:
        return hours.without_meter == "years_only"

    def past() -> bool:
        limit = hours.limit
        if limit is None:
            printed = world.of_assembly(term.machines.label_of, "useful_life_hours")
            assert isinstance(printed, Decimal) and hours.percent_of_label is not None
            limit = printed * hours.percent_of_label / 100
        return total_hours(world) - since > limit

    if not hours.may_be_invoked:
        return not past()
    return _any((lambda: not past(), lambda: world.of_unit("hours_limit_invoked") is False))


def _before_first_replacement(world: World, term: Term, root: str, found: date) -> bool:
    """13 CCR 2405(c)(3): a part scheduled for replacement is promised up to its first scheduled replacement."""
    part = world.findings[root].component
    if not term.may_be_scheduled:
        return True
    schedule = world.unit.replacement_schedule
    if schedule is None:
        return part not in term.may_be_scheduled or world.ask(("schedule", part, "schedule"), None) != "passed"
    if part not in schedule:
        return True
    months, hours = schedule[part]
    checks: list[Check] = []
    if months is not None:
        checks.append(lambda: (start := _start(world, term)) is not None and found <= add_months(start, months))
    if hours is not None:
        checks.append(lambda: world.of_unit("hour_meter") is False or total_hours(world) <= hours)
    return _all(checks)


def _registered_in_time(world: World, term: Term, root: str) -> bool:
    """Within the days asked for, counted from the sale; a full warranty may not hang on the card (16 CFR 700.7)."""
    within = term.register_within_days
    if within is None:
        return True

    def in_time() -> bool:
        if world.of_unit("registered") is not True:
            return False
        return _plus(world.of_unit("registered_on"), 0) <= _plus(world.of_unit("sold_on"), within)

    return _any((in_time, lambda: _forbidden(world, term, "registration_card", root)))
