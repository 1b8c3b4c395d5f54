"""The question put to a term: one finding of one unit on one day, with what follows from the facts alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from warranty.coverage.facts import FindingFacts, UnitFacts
from warranty.coverage.vocabulary import NO_LINK, UNKNOWN_CAUSE


class Step(NamedTuple):
    """One rule of one term, tried: what came out, by which fact (`of`: finding id or assembly role), and the citation.

    `value` is what was known, `want` what the term asks; both are plain (text, numbers, dates, tuples of them).
    """

    rule: str
    outcome: str
    fact: str
    of: str
    value: object
    want: object
    source: str


@dataclass(frozen=True, slots=True)
class Root:
    """Where a chain of causes ends. `state`: 'root', 'open' (a link is not known at `id`), 'cycle' or 'lost'."""

    state: str
    id: str


def roots(findings: Sequence[FindingFacts]) -> dict[str, Root]:
    """The end of each finding's chain of causes. Raises ValueError for a doubled finding id.

    A link that is not known leaves the end open, unless there is no other finding that it could name: where every other
    one comes from it, it began the chain.
    """
    by_id = {finding.id: finding for finding in findings}
    if len(by_id) != len(findings):
        raise ValueError("two findings have the same id; give each its own")
    return _ends(by_id)


def root_of(finding: str, by_id: Mapping[str, FindingFacts]) -> Root:
    """The end of one finding's chain of causes."""
    end = _follow(finding, by_id, {})
    return _ends(by_id)[finding] if end.state == "open" else end


def _ends(by_id: Mapping[str, FindingFacts]) -> dict[str, Root]:
    ends: dict[str, Root] = {}
    for start in by_id:
        _follow(start, by_id, ends)
    distinct = set(ends.values())
    if len(distinct) == 1 and (only := distinct.pop()).state == "open":
        return dict.fromkeys(ends, Root("root", only.id))
    return ends


def _follow(start: str, by_id: Mapping[str, FindingFacts], ends: dict[str, Root]) -> Root:
    """Walks a chain to its end and notes the end for each finding on the way."""
    path: dict[str, None] = {}
    here = start
    while True:
        if here in ends:
            end = ends[here]
            break
        if here in path:
            names = list(path)
            end = Root("cycle", min(names[names.index(here) :]))
            break
        path[here] = None
        link = by_id[here].caused_by
        if link == NO_LINK:
            end = Root("root", here)
            break
        if link is None or link not in by_id:
            end = Root("open" if link is None else "lost", here)
            break
        here = link
    for each in path:
        ends[each] = end
    return end


def chain(finding: str, by_id: Mapping[str, FindingFacts]) -> list[str]:
    """The findings from this one to the end of its chain, each once."""
    found: dict[str, None] = {}
    here: str | None = finding
    while here is not None and here in by_id and here not in found:
        found[here] = None
        here = by_id[here].caused_by
    return list(found)


class UnitView:
    """What follows from a unit's facts, worked out once per unit."""

    __slots__ = ("blocks", "changes_known", "hours", "least_hours", "regions", "unit")

    def __init__(self, unit: UnitFacts) -> None:
        self.unit = unit
        # What the unit answers to each term, per day found; where that is not known, per finding whose day is asked for.
        self.blocks: dict[date | str, dict[Any, Any]] = {}
        self.regions = _regions(unit.region)
        self.hours, self.changes_known = total_hours(unit)
        self.least_hours = self.hours if self.hours is not None else counted_before(unit)[0]


def _regions(region: str | None) -> frozenset[str] | None:
    """'US-CA' lies in 'US-CA' and in 'US'."""
    if region is None:
        return None
    parts = region.split("-")
    return frozenset("-".join(parts[: count + 1]) for count in range(len(parts)))


def total_hours(unit: UnitFacts) -> tuple[Decimal | None, bool]:
    """Hours run over all meters, and whether that is all: with an unknown change it is only 'at least'."""
    if unit.hours is None:
        return None, False
    whole = unit.meter_changes is not None and all(one.removed_at is not None for one in unit.meter_changes)
    before, began = counted_before(unit)
    return before + unit.hours - began, whole


def counted_before(unit: UnitFacts) -> tuple[Decimal, Decimal]:
    """Hours that meters counted which were taken out, one that nobody read none; and what the present one showed when fitted."""
    total, began = Decimal(0), Decimal(0)
    for change in sorted(unit.meter_changes or (), key=lambda one: one.day):
        if change.removed_at is not None:
            total += change.removed_at - began
        began = change.fitted_at
    return total, began


class Case:
    """One finding in its unit; a view serves one day of asking. `root` is None while the chain of causes is open; `linked` whether another caused it."""

    __slots__ = ("as_of", "blocks", "end", "finding", "first_day", "last_day", "linked", "root", "unit", "view")

    def __init__(
        self, view: UnitView, finding: FindingFacts, root: FindingFacts | None, end: Root, as_of: date
    ) -> None:
        self.view = view
        self.unit = view.unit
        self.finding = finding
        self.root = root
        self.end = end
        self.linked = root is not None and root.id != finding.id
        self.as_of = as_of
        self.blocks = view.blocks.setdefault(finding.found_on or finding.id, {})
        # The day on which cover is judged: when it was found; not known, it was some day from the build to the day of asking.
        self.first_day = finding.found_on or self._built()
        self.last_day = finding.found_on or as_of

    def _built(self) -> date:
        """The first day on which anything can have been found on the unit."""
        built = self.unit.build_date
        return date.min if built is None or built > self.as_of else built


def cause_of(finding: FindingFacts) -> str | None:
    """The cause, with 'unknown' read as not known."""
    return None if finding.cause == UNKNOWN_CAUSE else finding.cause
