"""Known defects: failure patterns of a model, family, build or serial range, and which of them fit a unit and its findings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from orders.rules.trade import trade
from warranty.coverage.facts import AssemblyFacts, FindingFacts, UnitFacts
from warranty.coverage.names import folded
from warranty.coverage.serials import SerialLayout, SerialRange, inside
from warranty.coverage.vocabulary import NO_ENGINE

MOST_NAMED = 200
"""How many patterns one decision names; the rest it counts. The door beside the order pages through all of them."""
FITS, MAY_FIT, NOT_FIT = "fits", "may_fit", "does_not_fit"
Check = tuple[str, str, str]  # what was compared; 'yes', 'no' or 'cannot tell'; the unit's value in words
OF_AN_ENGINE = frozenset((
    "fuel", "air_induction", "ignition", "exhaust", "exhaust_recirculation", "crankcase_ventilation", "engine_management", "power_assembly",
    "lubrication", "cooling", "starter", "governor",
))  # fmt: skip
"""Systems whose parts an engine's maker may have made: a pattern of these alone may be one of an engine's maker."""


@dataclass(frozen=True)
class KnownDefect:
    """One pattern. Empty ranges ask nothing; `built` and `serials` are ranges of which one must hold.

    `settled` says how it is usually settled ('warranty', 'campaign', 'goodwill', 'customer'); `term` the id of the
    term that pays; `confirm` and `rule_out` are facts in words that speak for or against it; `precaution` belongs to
    `check`. What is once per unit ends with its completion on that unit (`done_as`).
    """

    id: str
    version: int
    title: str
    maker: str
    components: tuple[str, ...]
    signs: tuple[str, ...]
    check: str
    precaution: str
    cause: str
    remedy: str
    settled: str
    source: str
    models: tuple[str, ...] = ()
    families: tuple[str, ...] = ()
    built: tuple[tuple[date | None, date | None], ...] = ()
    layouts: tuple[SerialLayout, ...] = ()
    serials: tuple[SerialRange, ...] = ()
    conditions: tuple[str, ...] = ()
    confirm: tuple[str, ...] = ()
    rule_out: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    labour_operation: str = ""
    improved_since: str = ""
    bulletin: str = ""
    expires_on: date | None = None
    once_per_unit: bool = False
    campaign: str = ""
    term: str = ""

    @property
    def done_as(self) -> str:
        """The code under which a unit's records say that it was done: the campaign's, else the bulletin's, else its own."""
        return self.campaign or self.bulletin or self.id


@dataclass(frozen=True)
class DefectMatch:
    """Whether a pattern fits a unit: `fits` with its comparisons, the findings that show it, what would tell, and eligibility.

    `eligible` is 'yes', 'no' or 'cannot tell', and `why` says it: 'open', 'expired', 'done_already', 'ask_whether_done'.
    """

    defect: KnownDefect
    fits: str
    checks: tuple[Check, ...]
    findings: tuple[str, ...]
    signs_seen: tuple[str, ...]
    signs_to_look_for: tuple[str, ...]
    eligible: str
    why: str


class Catalogue:
    """Many known defects, kept by maker, so that a unit is compared only with its own maker's."""

    def __init__(self, defects: Iterable[KnownDefect]) -> None:
        self._by_maker: dict[str, list[KnownDefect]] = {}
        self._of_engines: list[KnownDefect] = []
        for defect in sorted(defects, key=lambda one: (one.id, one.version)):
            self._by_maker.setdefault(folded(defect.maker), []).append(defect)
            if of_an_engine(defect):
                self._of_engines.append(defect)

    def of(self, unit: UnitFacts) -> list[KnownDefect]:
        """Patterns of the makers of the unit and of its assemblies; of every maker while the unit's is not known.

        While the engine's maker is not known, every pattern of an engine's parts as well.
        """
        if unit.maker is None:
            return [defect for defects in self._by_maker.values() for defect in defects]
        makers = {folded(name) for name in (unit.maker, *(one.maker for one in unit.assemblies)) if name}
        found = [defect for maker in sorted(makers) for defect in self._by_maker.get(maker, ())]
        if engine_maker_open(unit):
            found += [defect for defect in self._of_engines if folded(defect.maker) not in makers]
        return found


def of_an_engine(defect: KnownDefect) -> bool:
    """Whether the pattern is of an engine's parts alone, so that its maker may be the engine's and not the machine's."""
    return all(trade().components[code].system in OF_AN_ENGINE for code in defect.components)


def engine_maker_open(unit: UnitFacts) -> bool:
    """Whether the unit has an engine whose maker nobody has recorded."""
    engine = unit.assembly("engine")
    return unit.power not in NO_ENGINE and engine is not None and engine.maker is None


def match(
    unit: UnitFacts, findings: Sequence[FindingFacts], defects: Sequence[KnownDefect] | Catalogue, as_of: date
) -> tuple[DefectMatch, ...]:
    """How each known defect compares with this unit, by id; those that fit first, then those that may."""
    listed = defects.of(unit) if isinstance(defects, Catalogue) else defects
    found = [_compared(unit, findings, defect, as_of) for defect in listed]
    rank = {FITS: 0, MAY_FIT: 1, NOT_FIT: 2}
    return tuple(sorted(found, key=lambda one: (rank[one.fits], one.defect.id, one.defect.version)))


class Matches:
    """The known defects that fit or may fit one order, compared once when first asked for.

    `left_out`: how many were left out of `defects` before; None where all are to be named, as decisions once did.
    """

    __slots__ = ("_args", "_before", "_named", "_rest")

    def __init__(
        self, unit: UnitFacts, findings: Sequence[FindingFacts], defects: Sequence[KnownDefect] | Catalogue, as_of: date,
        left_out: int | None = 0,
    ) -> None:  # fmt: skip
        self._args, self._before = (unit, findings, defects, as_of), left_out
        self._named: tuple[dict[str, object], ...] | None = None
        self._rest = 0

    def records(self) -> tuple[dict[str, object], ...]:
        """Plain records of those that a finding shows and that fit or may fit, and of campaigns that may be open on the unit."""
        return tuple(as_record(one) for one in self._concerned())

    def named(self) -> tuple[dict[str, object], ...]:
        """Of `records` as many as one decision names: those that fit best, in their order."""
        if self._named is None:
            found = self._concerned()
            most = len(found) if self._before is None else MOST_NAMED
            best = {id(one) for one in sorted(found, key=_how_well)[:most]}
            self._named = tuple(as_record(one) for one in found if id(one) in best)
            self._rest = (self._before or 0) + len(found) - len(self._named)
        return self._named

    def left_out(self) -> int:
        """How many `named` leaves out, with those that were left out before these were listed."""
        self.named()
        return self._rest

    def _concerned(self) -> list[DefectMatch]:
        return [one for one in match(*self._args) if concerns(one)]


def _how_well(one: DefectMatch) -> tuple[bool, bool, int, str, int]:
    """What fits before what may, what a finding shows before a mere campaign, then by how little cannot be told; the id breaks a tie."""
    unsure = sum(outcome == "cannot tell" for _, outcome, _ in one.checks)
    return one.fits != FITS, not one.findings, unsure, one.defect.id, one.defect.version


def concerns(one: DefectMatch) -> bool:
    """Whether a match says something about this order: a finding shows it, or it is a campaign that this unit may still be owed.

    A unit of a maker with a thousand patterns is not told all those that nobody has seen on it.
    """
    return one.fits != NOT_FIT and bool(one.findings or (one.defect.campaign and one.eligible != "no"))


def _compared(unit: UnitFacts, findings: Sequence[FindingFacts], defect: KnownDefect, as_of: date) -> DefectMatch:
    checks = [_maker(unit, defect), *_ranges(unit, defect)]
    showing = {f.id: _shows(f, defect) for f in findings}
    shown = tuple(key for key, outcome in showing.items() if outcome != "no")
    if shown and "yes" not in showing.values():
        checks.append(("condition", "cannot tell", "not known"))
    outcomes = {outcome for _, outcome, _ in checks}
    seen = tuple(sign for sign in defect.signs if any(sign in f.signs for f in findings))
    if "no" in outcomes:
        fits = NOT_FIT
    elif "cannot tell" in outcomes or not shown:
        fits = MAY_FIT
    else:
        fits = FITS
    look = tuple(sign for sign in defect.signs if sign not in seen)
    return DefectMatch(defect, fits, tuple(checks), shown, seen, look, *_eligible(unit, defect, as_of))


def _word(what: str, value: str | None, wanted: Sequence[str]) -> Check:
    if value is None:
        return what, "cannot tell", "not known"
    return what, "yes" if folded(value) in {folded(one) for one in wanted} else "no", value


def _maker(unit: UnitFacts, defect: KnownDefect) -> Check:
    for one in unit.assemblies:
        if one.maker is not None and folded(one.maker) == folded(defect.maker):
            return "maker", "yes", one.maker
    if unit.maker is not None and folded(unit.maker) != folded(defect.maker) and _perhaps_of_engine(unit, defect):
        return "maker of the engine", "cannot tell", "not known"
    return _word("maker", unit.maker, (defect.maker,))


def _perhaps_of_engine(unit: UnitFacts, defect: KnownDefect) -> bool:
    return engine_maker_open(unit) and of_an_engine(defect)


def _part(unit: UnitFacts, defect: KnownDefect) -> AssemblyFacts | None:
    """The assembly whose maker the pattern names; while the engine's is not known, the engine of an engine's pattern."""
    wanted = folded(defect.maker)
    named = next((one for one in unit.assemblies if folded(one.maker or "") == wanted), None)
    return named or (unit.assembly("engine") if _perhaps_of_engine(unit, defect) else None)


def _ranges(unit: UnitFacts, defect: KnownDefect) -> list[Check]:
    wanted = folded(defect.maker)
    part = _part(unit, defect)
    whole = folded(unit.maker or wanted) == wanted
    subject = unit if whole or part is None else part
    checks: list[Check] = []
    if defect.models:
        checks.append(_word("model", subject.model, defect.models))
    if defect.families:
        checks.append(_word("family", unit.family, defect.families))
    if defect.built:
        checks.append(_built(subject.build_date, defect.built))
    if defect.serials:
        if not subject.serial:
            checks.append(("serial", "cannot tell", "not known"))
        else:
            checks.append(("serial", inside(subject.serial, defect.serials, defect.layouts), subject.serial[:64]))
    return checks


def _built(value: date | None, spans: Sequence[tuple[date | None, date | None]]) -> Check:
    if value is None:
        return "built", "cannot tell", "not known"
    within = any((low is None or value >= low) and (high is None or value <= high) for low, high in spans)
    return "built", "yes" if within else "no", value.isoformat()


def _shows(finding: FindingFacts, defect: KnownDefect) -> str:
    """Whether a finding shows the pattern: by one of its signs, or by its component in one of its conditions.

    'yes', 'no' or 'cannot tell' (the condition is not known). What works as made shows nothing, nor does a part in order.
    """
    if finding.cause == "normal":
        return "no"
    if any(sign in defect.signs for sign in finding.signs):
        return "yes"
    if finding.component not in defect.components:
        return "no"
    if finding.condition is None:
        return "cannot tell" if defect.conditions else "yes"
    state = trade().conditions.get(finding.condition)
    if state is not None and state.sound:
        return "no"
    return "yes" if not defect.conditions or finding.condition in defect.conditions else "no"


def _eligible(unit: UnitFacts, defect: KnownDefect, as_of: date) -> tuple[str, str]:
    if defect.expires_on is not None and as_of > defect.expires_on:
        return "no", "expired"
    if defect.once_per_unit:
        done = unit.had_campaign(defect.done_as)
        if done is None:
            return "cannot tell", "ask_whether_done"
        if done:
            return "no", "done_already"
    return "yes", "open"


def as_record(one: DefectMatch) -> dict[str, object]:
    """The match as a plain record, as it is frozen with a decision."""
    defect = one.defect
    return {
        "id": defect.id, "version": defect.version, "title": defect.title, "fits": one.fits,
        "checks": one.checks, "findings": one.findings, "signs_seen": one.signs_seen,
        "signs_to_look_for": one.signs_to_look_for, "confirm": defect.confirm, "rule_out": defect.rule_out,
        "check": defect.check, "precaution": defect.precaution, "cause": defect.cause, "remedy": defect.remedy,
        "parts": defect.parts, "labour_operation": defect.labour_operation, "improved_since": defect.improved_since,
        "settled": defect.settled, "bulletin": defect.bulletin,
        "expires_on": None if defect.expires_on is None else defect.expires_on.isoformat(),
        "eligible": one.eligible, "why": one.why, "done_as": defect.done_as if defect.once_per_unit else "",
        "term": defect.term, "source": defect.source,
    }  # fmt: skip
