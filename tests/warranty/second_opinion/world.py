"""One unit, its findings and the terms, with the facts that nobody knows filled in one by one.

A rule asks for a fact. A fact that is not known raises `Need`; `completions` then tries every value that it could have.
Nothing here is clever: the values are those that any rule could tell apart, the days a little more.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from warranty.coverage import vocabulary as words
from warranty.coverage.facts import FindingFacts, UnitFacts
from warranty.coverage.shapes import Term

Slot = tuple[object, ...]
ELSE = "(another)"
USED_FIRST = ("demonstrator", "ex_rental")  # used before they were sold to their user
LONG_AGO = date(1990, 1, 1)
MOST_HOURS = Decimal(100_000)
TOO_MANY = 60_000


class Need(Exception):
    """A rule needs a fact that is not known."""

    def __init__(self, slot: Slot) -> None:
        super().__init__(slot)
        self.slot = slot


class Impossible(Exception):
    """What was filled in cannot be true together."""


class TooMany(Exception):
    """More completions than this slow way can try."""


@dataclass(frozen=True)
class World:
    """The facts, and what was filled in for those that are not known; `judged` is the finding that is asked about."""

    unit: UnitFacts
    findings: Mapping[str, FindingFacts]
    terms: Sequence[Term]
    as_of: date
    filled: Mapping[Slot, object]
    judged: str = ""

    def ask(self, slot: Slot, known: object) -> object:
        """The fact if it is known or filled in; else `Need`."""
        if known is not None:
            return known
        if slot in self.filled:
            return self.filled[slot]
        raise Need(slot)

    def of_unit(self, name: str) -> object:
        """A fact of the unit; where the day of registration is known, it was registered."""
        if name == "registered" and self.unit.registered_on and self.unit.registered is None:
            return True
        return self.ask(("unit", name), getattr(self.unit, name))

    def of_assembly(self, role: str, name: str) -> object:
        """A fact of an assembly; of one that was not recorded, or of a label nobody read, nothing is known."""
        one = self.unit.assembly(role)
        unread = one is not None and one.label_read is False and name in ("part_1054", "useful_life_hours")
        return self.ask(("assembly", role, name), getattr(one, name) if one and not unread else None)

    def of_finding(self, finding: str, name: str) -> object:
        """A fact of a finding; a cause 'unknown' is not known."""
        value = getattr(self.findings[finding], name)
        return self.ask(("finding", finding, name), None if value == words.UNKNOWN_CAUSE else value)

    def of_repair(self, number: int, name: str) -> object:
        """A fact of an earlier repair."""
        assert self.unit.repairs is not None
        return self.ask(("repair", number, name), getattr(self.unit.repairs[number], name))

    def with_value(self, slot: Slot, value: object) -> World:
        """The same world with one more fact filled in."""
        return World(self.unit, self.findings, self.terms, self.as_of, {**self.filled, slot: value}, self.judged)


def completions(world: World, judge: Callable[[World], object]) -> Iterator[object]:
    """What `judge` says in each world in which the facts that it needs are known."""
    waiting, tried = [world], 0
    while waiting:
        now = waiting.pop()
        tried += 1
        if tried > TOO_MANY:
            raise TooMany
        try:
            yield judge(now)
        except Impossible:
            continue
        except Need as need:
            waiting += [now.with_value(need.slot, value) for value in values_of(now, need.slot)]


# What a fact that is not known could be.


def values_of(world: World, slot: Slot) -> Sequence[object]:
    """Every value to try for a fact that is not known."""
    where, name = slot[0], slot[-1]
    if name in DAYS:
        return _days(world, str(name))
    if name == "sale_kind" and (world.unit.sold_on or world.unit.delivered_on or world.unit.owner):
        return tuple(one for one in words.SALE_KINDS if one != "unsold")
    if name in CLOSED:
        return CLOSED[str(name)]
    if name in HOURS:
        return _hours(world)
    if where in TRUTHS or name in TRUTHS:
        return (True, False)
    if where == "narrower":  # 'somewhere in that country'
        inside = [code for code in _named(world, lambda term: term.machines.regions) if code.startswith(f"{name}-")]
        return (*inside, f"{name}-ZZ")
    return _open_words(world, slot)


CLOSED: Mapping[str, Sequence[object]] = {
    "power": words.POWER,
    "use_class": words.USE_CLASSES,
    "owner": words.OWNERS,
    "serviced_by": words.SERVICED_BY,
    "fuel": words.FUELS,
    "done_by": words.DONE_BY,
    "upkeep_item": words.UPKEEP_ITEMS,
    "sale_kind": words.SALE_KINDS,
    # How the day of sale will be proved once somebody has looked; the owner's word is no proof.
    "purchase_proof": ("receipt", "registration", "none"),
    # A finding of which the cause is not known is a fault: 'normal' stands outside the three answers (issue 4).
    "cause": tuple(one for one in words.CAUSES if one != "normal"),
    "meter_changed": ("never", "much before", "a used one"),
    "schedule": ("not scheduled", "still ahead", "passed"),
}
DAYS = (
    "build_date", "sold_on", "delivered_on", "registered_on", "first_service_on", "found_on", "repaired_for",
)  # fmt: skip
HOURS = ("hours", "removed_at", "useful_life_hours")
TRUTHS = (
    "plan", "campaign", "hand_held", "evaporative", "hour_meter", "hours_limit_invoked", "transfer_registered",
    "registered", "modified", "other_parts", "maintenance_records", "manual_forbids_fuel", "proper_fuel_at_hand",
    "emergency_repair", "severe_service", "part_1054", "new_part", "consumer_product", "full", "evaporative",
)  # fmt: skip


def _named(world: World, of: Callable[[Term], Sequence[str | None]]) -> list[str]:
    return sorted({one for term in world.terms for one in of(term) if one})


def _open_words(world: World, slot: Slot) -> Sequence[object]:
    where, name = slot[0], slot[-1]
    if name == "caused_by":
        return (words.NO_LINK, *(one for one in world.findings if _may_begin_at(world, str(slot[1]), one)))
    if name == "maker" or name == "part_maker":
        return (*_named(world, lambda term: (term.giver_name, *term.machines.makers)), ELSE)
    if name == "model":
        return (*_named(world, lambda term: term.machines.models), ELSE)
    if name == "family":
        return (*_named(world, lambda term: term.machines.families), ELSE)
    if name == "region":
        return (*_named(world, lambda term: term.machines.regions), "US-ZZ", "ZZ-ZZ")
    if name == "under":
        return ("", *sorted(term.id for term in world.terms))
    if name == "assembly":
        roles = {one.role for one in world.unit.assemblies} | {role for term in world.terms for role in term.assemblies}
        return tuple(sorted(roles | {"unit", "engine"}))
    if name == "displacement_cc":
        edges = [
            edge for term in world.terms for edge in (term.machines.displacement_from, term.machines.displacement_below)
        ]
        return (
            Decimal(1),
            *(edge + step for edge in edges if edge for step in (Decimal("-0.1"), Decimal(0))),
            Decimal(9999),
        )
    if name == "condition":
        return (
            *sorted(str(value) for row in _rows(world) for fact, values in row for value in values if fact == name),
            ELSE,
        )
    raise AssertionError(f"no values for {where} {name}")


def _may_begin_at(world: World, finding: str, cause: str) -> bool:
    """Whether `cause` may be what caused `finding`: no chain leads back to where it came from."""
    passed = [finding]
    while cause in world.findings and cause not in passed:
        passed.append(cause)
        link = world.findings[cause].caused_by or world.filled.get(("finding", cause, "caused_by"))
        if link in (None, words.NO_LINK):
            return True
        cause = str(link)
    return False


def _rows(world: World) -> list[tuple[tuple[str, tuple[str | bool, ...]], ...]]:
    rows = [row.when.facts for term in world.terms for row in (*term.excludes, *term.not_denied_for)]
    return rows + [when.facts for term in world.terms for _, when in term.causes_when]


def _days(world: World, name: str) -> list[object]:
    """Days around every day that a rule could look at, from the build to the finding (to the day asked, for a finding)."""
    first = LONG_AGO if name == "build_date" else _known(world, "build_date") or LONG_AGO
    last = world.as_of
    if name in ("delivered_on", "registered_on"):  # to, and by, a purchaser: not before there is one (13 CCR 2405(a))
        first = _known(world, "sold_on") or first
    if name != "found_on":
        found = world.findings[world.judged].found_on or world.filled.get(("finding", world.judged, "found_on"))
        last = found if isinstance(found, date) else world.as_of
    if name == "first_service_on" and (world.unit.sale_kind or world.filled.get(("unit", "sale_kind"))) in USED_FIRST:
        last = min(last, _known(world, "sold_on") or last)
    if name == "build_date":
        events = ("sold_on", "delivered_on", "registered_on", "first_service_on")
        last = min([last, *(day for event in events if (day := _known(world, event)))])
    near = {day + timedelta(days=step) for day in _edges(world) for step in (-1, 0, 1)} | {first, last}
    # Where a known day lies after all of that (delivered after a sale that came after the finding), it was that day or later.
    return sorted(day for day in near if first <= day <= max(first, last))


def _known(world: World, name: str) -> date | None:
    day = getattr(world.unit, name) or world.filled.get(("unit", name))
    return day if isinstance(day, date) else None


def _edges(world: World) -> set[date]:
    """The known days, and those one period (and one grace of days) of any term before or after them."""
    unit = world.unit
    days = {world.as_of, *(one.found_on for one in world.findings.values()), *(one.day for one in unit.repairs or ())}
    days |= {
        _known(world, name) for name in ("build_date", "sold_on", "delivered_on", "registered_on", "first_service_on")
    }
    days |= {value for value in world.filled.values() if isinstance(value, date)}
    fixed: set[date | None] = set()
    for term in world.terms:
        machines = term.machines
        fixed |= {term.period.ends_on, machines.built_from, machines.built_to, machines.sold_from, machines.sold_to}
    periods = [term.period for term in world.terms]
    periods += [term.severe.period for term in world.terms if term.severe and term.severe.period]
    months = {one.months for one in periods} | {span[0] for span in (unit.replacement_schedule or {}).values()}
    spans = {one.days for one in periods} | {term.register_within_days for term in world.terms}
    graces = (
        {0}
        | {term.start.no_proof_plus_days for term in world.terms}
        | {term.start.build_plus_days for term in world.terms}
    )
    near: set[date] = {day for day in fixed | days if day}
    for day in [day for day in days if day]:
        far = [add_months(day, sign * span) for span in months if span for sign in (-1, 1)]
        far += [day + timedelta(days=sign * span) for span in spans if span for sign in (-1, 1)]
        near |= {one + timedelta(days=sign * grace) for one in (day, *far) for grace in graces for sign in (-1, 1)}
    return near


def _hours(world: World) -> list[object]:
    """Hours at, and a tenth past, whatever limit there is, and what a limit on the label would have to be."""
    limits = {Decimal(0)}
    for term in world.terms:
        if term.hours and term.hours.limit:
            limits.add(term.hours.limit)
        if term.severe and term.severe.hours and term.severe.hours.limit:
            limits.add(term.severe.hours.limit)
    for _, point in (world.unit.replacement_schedule or {}).values():
        limits |= {point} if point else set()
    for one in world.unit.assemblies:
        printed = one.useful_life_hours or world.filled.get(("assembly", one.role, "useful_life_hours"))
        for term in world.terms:
            if isinstance(printed, Decimal) and term.hours and term.hours.percent_of_label:
                limits.add(printed * term.hours.percent_of_label / 100)
    met = [world.unit.hours, world.filled.get(("unit", "hours"))]
    met += [one.hours for one in world.unit.repairs or ()]
    met += [hours for one in world.unit.meter_changes or () for hours in (one.removed_at, one.fitted_at)]
    known = {one for one in met if isinstance(one, Decimal)}
    sums = limits | known | {limit + sign * one for limit in limits for one in known for sign in (-1, 1)}
    sums |= {2 * one for one in known}
    tenths = {one + step for one in sums for step in (Decimal("-0.1"), Decimal(0), Decimal("0.1"))}
    return [*sorted(one for one in tenths if one >= 0), MOST_HOURS]


# The calendar.


def add_months(day: date, months: int) -> date:
    """The same-numbered day of a later month, else that month's last day (Dodds v Walker; the XML Schema rule)."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    month += 1
    return date(year, month, min(day.day, monthrange(year, month)[1]))


def total_hours(world: World) -> Decimal:
    """Hours since new: what each meter counted while it was in the machine."""
    changes = world.unit.meter_changes
    shown = world.of_unit("hours")
    assert isinstance(shown, Decimal)
    if changes is None:
        # Nobody knows whether a meter was replaced; if one was, it had counted any number of hours, or the new one was a used one.
        run = world.ask(("meter_changed",), None)
        return {"never": shown, "much before": shown + MOST_HOURS, "a used one": Decimal(0)}[str(run)]
    put_in = [Decimal(0)] + [one.fitted_at for one in sorted(changes, key=lambda one: one.day)]
    taken_out: list[Decimal] = []
    if world.unit.hours is None and shown < put_in[-1]:
        raise Impossible
    for number, one in enumerate(sorted(changes, key=lambda one: one.day)):
        left = world.ask(("meter", number, "removed_at"), one.removed_at)
        assert isinstance(left, Decimal)
        if one.removed_at is None and left < put_in[number]:  # no meter runs backwards
            raise Impossible
        taken_out.append(left)
    return sum((out - start for start, out in zip(put_in, [*taken_out, shown], strict=True)), Decimal(0))
