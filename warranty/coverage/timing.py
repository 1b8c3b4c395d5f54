"""Rules of time: from which day a period runs, how long, and how many hours. Unknown days are bounded, never guessed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import NamedTuple

from shopdocs.periods import add_months
from shopdocs.problems import BadInput
from warranty.coverage.case import Case, Step
from warranty.coverage.facts import RepairFacts, UnitFacts
from warranty.coverage.names import folded
from warranty.coverage.shapes import Period, Term
from warranty.coverage.vocabulary import NO, OPEN, YES

SOLD = ("sale", "delivery", "registration")
FACT = {
    "sale": "sold_on", "delivery": "delivered_on", "registration": "registered_on", "first_service": "first_service_on",
    "build": "build_date",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Began:
    """Days on which a period may have begun, from `low` to `high`; `fact` names what is not known ('' : all is known)."""

    low: date
    high: date
    fact: str = ""


NEVER = Began(date.max, date.max, "unit.registered")  # what runs from a registration that was not made never begins

UNSOLD = Began(date.max, date.max, "unit.sale_kind")


@lru_cache(maxsize=16_384)
def last_day(start: date, period: Period) -> date:
    """The last day inside. Without an end, and where the calendar ends, that is date.max."""
    try:
        if period.unlimited:
            end = date.max
        elif period.months is not None:
            end = add_months(start, period.months)
        else:
            end = start + timedelta(days=period.days or 0)
        if not period.anniversary_inside and end != date.max:
            end -= timedelta(days=1)
    except (BadInput, OverflowError):
        end = date.max
    return min(end, period.ends_on) if period.ends_on else end


def _plus(day: date, days: int) -> date:
    try:
        return day + timedelta(days=days)
    except OverflowError:
        return date.max


def events_after_build(unit: UnitFacts) -> tuple[date, ...]:
    """Known days on which the machine was there, so that it was built by then; date.max where none is known."""
    days = (unit.sold_on, unit.delivered_on, unit.registered_on, unit.first_service_on)
    return tuple(day for day in days if day is not None) or (date.max,)


def _dated(unit: UnitFacts, base: str, latest: date, kind: str | None) -> Began:
    """One kind of start. What is not known lies between the days that are known to bound it."""
    fact = FACT[base]
    known: date | None = getattr(unit, fact)
    if known is not None:
        return Began(known, known)
    low = unit.build_date or date.min
    high = latest
    if base == "build":
        low, high = date.min, min(high, *events_after_build(unit))
    if base == "first_service" and kind in ("demonstrator", "ex_rental"):
        high = min(high, unit.sold_on or date.max)
    if base == "delivery" and unit.sold_on is not None:
        low = unit.sold_on
    return Began(low, max(low, high), f"unit.{fact}")


def _without_proof(term: Term, unit: UnitFacts, latest: date) -> Began | None:
    """The term's own rule for a sale that cannot be proved, if it has one."""
    if term.start.no_proof is None:
        return None
    began = _dated(unit, term.start.no_proof, latest, None)
    days = term.start.no_proof_plus_days
    return Began(_plus(began.low, days), _plus(began.high, days), began.fact)


PROOF_RANK = {"receipt": 3, "registration": 2, "statement": 1, "none": 0}


def least_proof(term: Term) -> int:
    """The rank of the weakest proof of sale that the term takes; one that names none takes a registration."""
    return min((PROOF_RANK[word] for word in term.proof), default=PROOF_RANK["registration"])


def _sold(term: Term, case: Case, kind: str) -> list[Began]:
    """Starts for one kind of sale; with the proof not known, the term's rule without proof stays possible."""
    unit, base = case.unit, term.start.base
    base = {"floor_stock": term.start.floor_stock, "demonstrator": term.start.demonstrator,
            "ex_rental": term.start.ex_rental}.get(kind, base)  # fmt: skip
    began = _dated(unit, base, case.last_day, kind)
    if base == "registration" and unit.registered_on is None and unit.registered is not True:
        return [NEVER] if unit.registered is False else [Began(began.low, began.high, NEVER.fact), NEVER]
    if base == "build":
        days = term.start.build_plus_days
        return [Began(_plus(began.low, days), _plus(began.high, days), began.fact)]
    if base != "sale":
        return [began]
    unproved = _without_proof(term, unit, case.last_day)
    told = unit.sold_on is not None
    if unproved is None or (told and not term.proof):
        return [began]
    if unit.purchase_proof == "none":
        return [unproved]
    if unit.purchase_proof is not None and PROOF_RANK[unit.purchase_proof] >= least_proof(term):
        return [began]
    ask = "unit.purchase_proof"  # before the day itself: without proof another day counts
    return [Began(began.low, began.high, ask), Began(unproved.low, unproved.high, ask)]


def may_be_unsold(unit: UnitFacts) -> bool:
    """Whether the facts leave it possible that the machine has not been sold: no day of it, and no owner."""
    return (
        unit.sale_kind in (None, "unsold") and unit.sold_on is None and unit.delivered_on is None and unit.owner is None
    )


def starts(term: Term, case: Case) -> list[Began]:
    """All starts that the known facts leave possible; empty when the period has not begun and cannot have."""
    unit = case.unit
    of_sale = term.start.base in SOLD
    if unit.sale_kind == "unsold" and of_sale:
        return []
    if unit.sale_kind is not None:
        return _sold(term, case, unit.sale_kind)
    found: list[Began] = []
    for kind in ("new", "floor_stock", "demonstrator", "ex_rental"):
        found += _sold(term, case, kind)
    if of_sale and may_be_unsold(unit):
        found.append(UNSOLD)
    if len(set(found)) == 1 and (unit.sold_on is not None or not of_sale):
        return found[:1]
    never = unit.registered is False  # known, so that only the kind of sale can still tell whether it matters
    asked = ["unit.sale_kind" if one == NEVER and never else one.fact or "unit.sale_kind" for one in found]
    return [Began(one.low, one.high, fact) for one, fact in zip(found, asked, strict=True)]


class Repairs(NamedTuple):
    """Earlier repairs from which a period of the term runs, oldest first: `sure` do, of `perhaps` something is not known."""

    sure: list[RepairFacts]
    perhaps: list[RepairFacts]


def repairs_of(term: Term, case: Case) -> Repairs | None:
    """Earlier repairs that the term counts from, of this component, or in a chain of the one that began it.

    None while the history is not known. The end of the chain must be known.
    """
    if case.unit.repairs is None:
        return None
    part = (case.root or case.finding).component
    found = Repairs([], [])
    for repair in sorted(case.unit.repairs, key=lambda one: one.day):
        if part in repair.components and repair.day <= case.last_day:
            counts = _counts(term, repair)
            if counts is not False:
                (found.sure if counts else found.perhaps).append(repair)
    return found


def _counts(term: Term, repair: RepairFacts) -> bool | None:
    """Whether a period of the term runs from this repair. A promise on a part needs a part: labour alone begins none."""
    asked: list[bool | None] = []
    if term.start.base != "repair":  # a part replaced under the term itself
        asked += [None if repair.under is None else repair.under == term.id, repair.new_part]
    elif term.start.repair_by:
        asked.append(None if repair.done_by is None else repair.done_by in term.start.repair_by)
    if term.start.base == "repair" and term.giver == "part_maker":
        maker = None if repair.part_maker is None else folded(repair.part_maker) == folded(term.giver_name or "")
        asked += [maker, repair.new_part]
    return False if False in asked else None if None in asked else True


def lengthens(other: Term, term: Term) -> bool:
    """Whether `other` is a free promise of the kind that `term` may not fall short of."""
    return (
        other is not term and other.kind == "cover" and other.free and other.giver in term.no_shorter_than
        and other.start.base != "repair"
    )  # fmt: skip


class Span(NamedTuple):
    """A period, and whether it surely applies; if not, the fact (and of what) that would tell, and what is asked of it."""

    period: Period
    sure: bool = True
    fact: str = ""
    of: str = ""
    asks: tuple[object, ...] = ()


Longer = Callable[[Case], list[Span]]
Rule = Callable[[Case], Step]


def time(term: Term, longer: Longer | None = None) -> Rule:
    """The day found lies inside the period. `longer` gives other promises that this one may not be shorter than."""
    source, own, restarts = term.cite("time"), term.period, term.replacement == "new_period"
    from_repair = term.start.base == "repair"
    unproved = [term.start.no_proof_plus_days] if term.start.no_proof is not None else []
    plus = sorted({*unproved, *([term.start.build_plus_days] if term.start.build_plus_days else [])})

    def tried(case: Case) -> Step:
        periods = [Span(own)]
        if longer is not None:  # how long is said of the part that began a chain; not known yet, it may be longer
            chain = [Span(Period(unlimited=True), False, "finding.caused_by", case.end.id)]
            periods += longer(case) if case.root is not None else chain
        want: tuple[object, ...] = tuple(
            (p.months, p.days, p.unlimited, p.anniversary_inside, p.ends_on) for p, *_ in periods
        )
        want += tuple(("asks", *span.asks) for span in periods if span.asks)
        want += tuple(("plus", days) for days in plus)
        if from_repair or restarts:
            done = repairs_of(term, case) if case.root is not None else None
            if done is None:
                plain = None if from_repair else starts(term, case)
                settled = _whatever_the_repairs(case, plain, periods, want, source)
                if settled is not None:
                    return settled
                asked = ("finding.caused_by", case.end.id) if case.root is None else ("unit.repairs", "")
                return Step("time", OPEN, *asked, None, want, source)
            return _after_repairs(case, done, None if from_repair else starts(term, case), periods, want, source)
        return inside(case, starts(term, case), periods, [], want, source)

    return tried


def _whatever_the_repairs(
    case: Case, began: list[Began] | None, periods: list[Span], want: object, source: str
) -> Step | None:
    """What holds though the history is not known: inside already without it, or outside even after a repair on any day."""
    step = None if began is None else inside(case, began, periods, [], want, source)
    if step is not None and (step.outcome is YES or not began):
        return step  # a new period after a repair could only end later, and of what never began there is none
    repaired = Began(case.unit.build_date or date.min, case.last_day, "unit.repairs")
    anyhow = inside(case, [*(began or ()), repaired], periods, [], want, source)
    return anyhow._replace(fact="finding.found_on", of=case.finding.id) if anyhow.outcome is NO else None


def _after_repairs(
    case: Case, done: Repairs, began: list[Began] | None, periods: list[Span], want: object, source: str
) -> Step:
    """The period runs from the last repair (`began` None), or from its start and anew from each; open while one may count."""

    def tried(repairs: list[RepairFacts]) -> Step:
        if began is not None:
            anew = sorted((one.day, last_day(one.day, periods[0].period)) for one in repairs)
            # The days of repairs stand with what is asked: on the day before one, the last period may have ended.
            asks = (*want, ("asks", *(day for day, _ in anew))) if isinstance(want, tuple) and anew else want
            return inside(case, began, periods, anew, asks, source)
        if not repairs:
            return Step("time", NO, "unit.repairs", "", (), want, source)
        day = max(one.day for one in repairs)
        return inside(case, [Began(day, day)], periods, [], want, source)

    step = tried(done.sure)
    if step.outcome is NO and done.perhaps and tried(done.sure + done.perhaps).outcome is not NO:
        return step._replace(outcome=OPEN, fact="unit.repairs", of="")
    return step


def inside(
    case: Case,
    began: list[Began],
    periods: Sequence[Span],
    anew: Sequence[tuple[date, date]],
    want: object,
    source: str,
) -> Step:
    """Three-valued: inside for every possible start and day, outside for every one, or open.

    `anew`: the first and last day of each further period, oldest first; between two periods there may be a gap.
    """
    if not began:
        return Step("time", NO, "unit.sale_kind", "", "unsold", want, source)
    certain, extra = [span.period for span in periods if span.sure], [end for _, end in anew]
    first_ends = [max(last_day(one.low, p) for p in certain) for one in began]
    ends = [max(end, *extra) for end in first_ends] if extra else first_ends
    latest = [max([last_day(one.high, p) for p, *_ in periods] + extra) for one in began]
    outside = [case.first_day > end or case.last_day < one.low for one, end in zip(began, latest, strict=True)]
    low, high = min(ends), max(latest)
    first_start, last_start = min(one.low for one in began), max(one.high for one in began)
    known = first_start == last_start != date.max and low == high
    value = (case.finding.found_on or case.as_of, first_start if known else None, high if known else None)
    fact = next((one.fact for one in began if one.fact), "")
    if case.last_day <= _reach(min(first_ends), case.first_day, anew) and case.first_day >= last_start:
        return Step("time", YES, fact or "finding.found_on", "", value, want, source)
    if all(outside):
        return Step("time", NO, fact or "finding.found_on", "", value, want, source)
    if fact:
        return Step("time", OPEN, fact, "", value, want, source)
    unsure = next((span for span in periods if not span.sure), None)
    if unsure is not None and low != high:
        return Step("time", OPEN, unsure.fact, unsure.of, value, want, source)
    return Step("time", OPEN, "finding.found_on", case.finding.id, value, want, source)


def _reach(end: date, from_day: date, anew: Sequence[tuple[date, date]]) -> date:
    """The last day up to which, from `from_day` on, none is outside: of the first period, to its `end`, and of those that follow."""
    for first, last in anew:
        if first <= max(_plus(end, 1), from_day):
            end = max(end, last)
    return end
