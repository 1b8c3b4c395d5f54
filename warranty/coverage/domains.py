"""For a fact that is not known: how it is got and how dear that is, and the values worth trying in its place.

The values stand for all values: between two of them no rule of the open terms comes out otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from decimal import Decimal
from itertools import islice
from typing import TypeGuard

from orders.rules.trade import trade
from warranty.coverage import vocabulary as v
from warranty.coverage.case import Step, chain, counted_before, total_hours
from warranty.coverage.facts import FindingFacts, MeterChange, UnitFacts
from warranty.coverage.shapes import Period
from warranty.coverage.timing import events_after_build, last_day, may_be_unsold

# fact -> cost (1: look at the file ... 7: open the machine) and how it is got. Common practice, no source.
GETTING: dict[str, tuple[int, str]] = {
    "unit.repairs": (1, "look into the shop's own history"),
    "unit.plans": (1, "look for a plan on file, or ask the customer for its paper"),
    "unit.registered": (1, "look the registration up with the maker"),
    "unit.registered_on": (1, "look the registration up with the maker"),
    "unit.campaigns_done": (1, "look the campaign up with the maker"),
    "unit.use_class": (2, "ask the customer how the machine earns its keep"),
    "unit.owner": (2, "ask the customer who bought it new"),
    "unit.transfer_registered": (2, "ask the customer or the maker whether the transfer was registered"),
    "unit.region": (2, "ask the customer where it was bought and is used"),
    "unit.sale_kind": (2, "ask the customer or the seller how it was sold"),
    "unit.sold_on": (2, "ask the customer for the receipt, or the seller for the sale"),
    "unit.delivered_on": (2, "ask the customer or the seller when it was delivered"),
    "unit.first_service_on": (2, "ask the first user when it was first put to work"),
    "unit.purchase_proof": (2, "ask the customer for the receipt"),
    "unit.modified": (2, "ask the customer, and look the machine over"),
    "unit.serviced_by": (2, "ask the customer who serviced it"),
    "unit.other_parts": (2, "ask the customer, and look at the parts"),
    "unit.fuel": (2, "ask the customer which fuel, and smell it"),
    "unit.emergency_repair": (2, "ask the customer"),
    "unit.severe_service": (
        2,
        "ask the customer how dusty, hot or long its work is, and read what the maker calls severe",
    ),
    "unit.maintenance_records": (2, "ask the customer for service receipts or a log"),
    "unit.hour_meter": (3, "look whether the machine has an hour meter"),
    "unit.hours": (3, "read the hour meter and photograph it"),
    "unit.meter_changes": (3, "ask the owner and the file whether the meter was ever changed"),
    "unit.maker": (3, "read the plate"),
    "unit.model": (3, "read the plate"),
    "unit.family": (3, "look at the machine"),
    "unit.power": (3, "look at the machine"),
    "unit.build_date": (3, "read the plate"),
    "unit.hand_held": (3, "weigh the machine and see how it is carried"),
    "unit.evaporative": (3, "read the emission label and the manual"),
    "unit.manual_forbids_fuel": (4, "read the maintenance instructions"),
    "unit.proper_fuel_at_hand": (4, "find out which fuels are sold near the customer"),
    "unit.replacement_schedule": (4, "read the maintenance schedule in the manual"),
    "unit.hours_limit_invoked": (5, "ask the giver whether it insists on the hours"),
    "term.consumer_product": (4, "read in the promise whether it is for machines used at home or for the family"),
    "term.full": (4, "read in the promise whether it is called full or limited"),
    "finding.assembly": (3, "say which assembly the part belongs to"),
    "finding.found_on": (1, "look up the day of the finding"),
    "finding.condition": (6, "inspect the part"),
    "finding.cause": (6, "do the check that tells the causes apart"),
    "finding.done_by": (6, "find out who had it open last"),
    "finding.upkeep_item": (6, "say which upkeep was left undone"),
    "finding.caused_by": (7, "follow the damage back to what came first"),
}
LABEL = (3, "read the label and photograph it")

WORDS: dict[str, tuple[object, ...]] = {
    "unit.use_class": v.USE_CLASSES, "unit.owner": v.OWNERS, "unit.sale_kind": v.SALE_KINDS, "unit.power": v.POWER,
    "unit.purchase_proof": v.PROOFS, "unit.serviced_by": v.SERVICED_BY, "unit.fuel": v.FUELS,
    "finding.cause": v.CAUSES, "finding.done_by": v.DONE_BY, "finding.upkeep_item": v.UPKEEP_ITEMS,
}  # fmt: skip
YES_NO = (True, False)
FLAGS = frozenset({
    "unit.registered", "unit.transfer_registered", "unit.modified", "unit.other_parts", "unit.emergency_repair", "unit.severe_service",
    "unit.maintenance_records", "unit.hour_meter", "unit.hand_held", "unit.evaporative", "unit.manual_forbids_fuel",
    "unit.proper_fuel_at_hand", "unit.hours_limit_invoked", "assembly.part_1054",
})  # fmt: skip
DATES = frozenset(
    {
        "unit.sold_on",
        "unit.delivered_on",
        "unit.first_service_on",
        "unit.registered_on",
        "unit.build_date",
        "finding.found_on",
    }
)
BY_WORD = frozenset({"unit.maker", "unit.model", "unit.family", "unit.region"})
MOST_LINKS = 12
OTHER = "(another)"


def getting(fact: str) -> tuple[int, str]:
    """Cost and way of getting a fact."""
    return GETTING.get(fact, LABEL)


def values_for(
    fact: str, of: str, steps: Iterable[Step], unit: UnitFacts, findings: dict[str, FindingFacts], as_of: date
) -> tuple[object, ...]:
    """Values worth trying, none of which contradicts a known fact. Empty: this fact cannot be tried."""
    steps = tuple(steps)
    if fact in FLAGS:
        return YES_NO
    if fact == "finding.cause":
        known = findings[of]
        linked = known.caused_by not in (None, v.NO_LINK) or any(f.caused_by == of for f in findings.values())
        return tuple(c for c in v.CAUSES if c != "normal" or not linked)
    if fact == "unit.sale_kind":
        return v.SALE_KINDS if may_be_unsold(unit) else v.SALE_KINDS[:4]
    if fact in WORDS:
        return WORDS[fact]
    if fact == "finding.condition":
        return tuple(code for code, row in trade().conditions.items() if not row.sound)
    if fact == "finding.caused_by":
        return _links(of, findings)
    if fact in DATES:
        return _dates(fact, steps, unit, as_of)
    return _from_wants(fact, steps, unit, as_of)


def _links(of: str, findings: dict[str, FindingFacts]) -> tuple[object, ...]:
    """No link, or any other finding that does not itself come from this one. Too many to try: none is.

    What works as made began no chain: a link that could end nowhere else is none.
    """
    if len(findings) > MOST_LINKS + 1:
        return ()
    chains = {each: chain(each, findings) for each in sorted(findings)}
    linked = [each for each, links in chains.items() if of not in links and _may_come_from(of, each, chains, findings)]
    return tuple(linked) if findings[of].cause == "normal" else (v.NO_LINK, *linked)


def _may_come_from(of: str, each: str, chains: Mapping[str, list[str]], findings: Mapping[str, FindingFacts]) -> bool:
    """Whether `of`, linked to `each`, can end at something that is not normal: there, or further on where that end is open."""
    end = findings[chains[each][-1]]
    if end.cause != "normal":
        return True
    if end.caused_by is not None:
        return end.caused_by != v.NO_LINK
    joined = {end.id, chains[of][-1]}  # what ends here would come from itself
    return any(links[-1] not in joined and findings[links[-1]].cause != "normal" for links in chains.values())


def relevant(finding: str, findings: Mapping[str, FindingFacts]) -> dict[str, FindingFacts]:
    """The findings that can matter to one: all of a few; of very many its own chain, and enough to show that there are many."""
    if len(findings) <= MOST_LINKS + 1:
        return dict(findings)
    names = {*chain(finding, findings), *islice(findings, MOST_LINKS + 2)}
    return {name: findings[name] for name in sorted(names)}


def _dates(fact: str, steps: tuple[Step, ...], unit: UnitFacts, as_of: date) -> tuple[object, ...]:
    low = unit.build_date or date.min
    if fact in ("unit.delivered_on", "unit.registered_on") and unit.sold_on is not None:
        low = max(low, unit.sold_on)
    if fact == "unit.build_date":
        low = date.min
    found: set[date] = (
        {as_of} if low == date.min else {as_of, low}
    )  # the first day leaves the most room for what came after
    for step in steps:
        for edge in _edges(step, as_of):
            found.update((edge, _shift(edge, -1), _shift(edge, 1)))
    high = as_of
    if fact == "unit.build_date":
        high = min(high, *events_after_build(unit))
    if fact == "unit.first_service_on" and unit.sale_kind in ("demonstrator", "ex_rental"):
        high = min(high, unit.sold_on or date.max)
    return tuple(sorted(day for day in found if low <= day <= high)) or (high,)


def _edges(step: Step, as_of: date) -> list[date]:
    """Days at which a step of time changes: the earliest start still inside, or the ends of a span."""
    edges: list[date] = []
    wants = step.want if isinstance(step.want, tuple) else ()
    if step.rule in ("time", "scheduled") and isinstance(step.value, tuple):
        day = step.value[0] if isinstance(step.value[0], date) else as_of
        for want in wants:
            if isinstance(want, tuple) and len(want) == 5 and not _asks(want):
                period = Period(*want)
                last = min(day, period.ends_on or day)  # what ends on a fixed day has nothing later inside
                edges += [last, earliest_inside(last, period)]
        plus = [want[1] for want in wants if isinstance(want, tuple) and len(want) == 2 and want[0] == "plus"]
        edges += [one for one in step.value if isinstance(one, date)]
        edges += [_shift(edge, -days) for edge in edges for days in plus]
    if step.rule == "registration" and isinstance(step.value, tuple) and isinstance(step.want, int):
        registered, sold = step.value
        edges += [_shift(registered, -step.want)] if registered is not None else []
        edges += [_shift(sold, step.want)] if sold is not None else []
    edges += [item for want in wants for item in (want[1:] if _asks(want) else (want,)) if isinstance(item, date)]
    return edges


def earliest_inside(day: date, period: Period) -> date:
    """The earliest start of this period that still has `day` inside."""
    low, high = date.min, day
    while low < high:
        middle = date.fromordinal((low.toordinal() + high.toordinal()) // 2)
        if last_day(middle, period) >= day:
            high = middle
        else:
            low = _shift(middle, 1)
    return low


def _asks(want: object) -> TypeGuard[tuple[object, ...]]:
    """What another promise asks, which lengthens this one where it is met."""
    return isinstance(want, tuple) and want[:1] == ("asks",)


def _shift(day: date, days: int) -> date:
    try:
        return day + timedelta(days=days)
    except OverflowError:
        return day


def _readings(unit: UnitFacts, limits: set[Decimal], tenth: Decimal) -> tuple[object, ...]:
    """What the meter may show at each limit, of all hours or since a repair, and a tenth beyond; no less than when it was fitted."""
    before, began = counted_before(unit)
    since = {Decimal(0), *(one.hours for one in unit.repairs or () if one.hours is not None)}
    totals = {limit + at + more for limit in limits for at in since for more in (Decimal(0), tenth)}
    return tuple(sorted({max(began, total - before + began) for total in totals}))


def _from_wants(fact: str, steps: tuple[Step, ...], unit: UnitFacts, as_of: date) -> tuple[object, ...]:
    """Values read off what the steps ask: each wanted word and another; each limit and a tenth beyond."""
    wants = [step.want for step in steps]
    flat = [item for want in wants for item in (want if isinstance(want, tuple) else (want,)) if item is not None]
    flat += [item for one in flat if _asks(one) for item in one[1:] if item is not None]
    tenth = Decimal("0.1")
    if fact == "unit.hours":
        return _readings(unit, {item for item in flat if isinstance(item, Decimal)}, tenth)
    if fact == "unit.meter_changes":
        limits = [item for item in flat if isinstance(item, Decimal)] or [Decimal(0)]
        used = (
            () if unit.hours is None else ((MeterChange(as_of, Decimal(0), unit.hours),),)
        )  # a used meter, fitted today
        return ((), (MeterChange(as_of, max(limits) + tenth),), *used)
    if fact == "assembly.useful_life_hours":
        run = total_hours(unit)[0]
        if not run:
            return (Decimal(1000),)
        edges = {run * 100 / item for item in flat if isinstance(item, Decimal) and item}
        return tuple(x for edge in sorted(edges) for x in (edge, edge * Decimal("0.99")))
    if fact == "assembly.displacement_cc":
        return tuple(x for item in sorted(i for i in flat if isinstance(i, Decimal)) for x in (item - tenth, item))
    if fact == "unit.replacement_schedule":
        return ({}, {code: (1, Decimal(0)) for code in flat if isinstance(code, str)})  # the soonest that can be asked
    if fact in ("unit.plans", "unit.campaigns_done"):
        codes = sorted(item for item in flat if isinstance(item, str))
        return (frozenset(), frozenset(codes))
    if fact == "finding.assembly":
        roles = {"unit", *(one.role for one in unit.assemblies)}
        return tuple(sorted(roles | {item for item in flat if isinstance(item, str)}))
    if fact in BY_WORD or fact.startswith("assembly."):
        words = sorted({item for item in flat if isinstance(item, str)})
        other = f"{unit.region}-{OTHER}" if fact == "unit.region" and unit.region else OTHER
        return (*words, other) if words else ()
    return ()
