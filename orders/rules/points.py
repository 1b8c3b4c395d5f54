"""Inspection points per family: what to look at, in which order, and what must be made safe first. Pure.

Outside comes first, covers off second. Which findings hold a unit (unsafe to run) is not said again here:
it follows from the component's own list in components.yaml.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal, cast

from orders.rules import strict, trade, units
from orders.rules.strict import Node
from orders.rules.trade import DATA, Component

Stage = Literal["outside", "covers_off"]
STAGES: tuple[Stage, ...] = ("outside", "covers_off")
FOLDER = DATA / "points"


@dataclass(frozen=True)
class Precaution:
    """What must be true before a check begins. `still` is false for a check on a running machine."""

    code: str
    still: bool
    words: Mapping[str, str]

    def for_power(self, power: trade.PowerSource) -> str:
        """The words for this power source; empty where the precaution has no object (fuel on a battery machine)."""
        groups = [power.code]
        groups += ["spark"] if power.spark else []
        groups += ["engine" if power.engine else "electric", "any"]
        return next((self.words[group] for group in groups if group in self.words), "")


@dataclass(frozen=True)
class InspectionPoint:
    """One thing to look at on a unit of one family and power source.

    `name` is what a list calls the point, `look` what is looked for. `components` are those of the point that such a
    unit has. `precautions` are sentences ready to print. `units` are the units that a measurement taken here may
    carry; empty when there is nothing to measure.
    """

    code: str
    name: str
    stage: Stage
    components: tuple[str, ...]
    look: str
    precautions: tuple[str, ...]
    still: bool
    units: tuple[str, ...]

    @property
    def precaution(self) -> str:
        """All precautions of the point, in one line."""
        return " ".join(self.precautions)

    @property
    def can_hold(self) -> bool:
        """Whether some finding at this point makes the unit unsafe to run."""
        return any(trade.component(code).unsafe for code in self.components)

    @property
    def holds(self) -> Mapping[str, frozenset[str]]:
        """Component code -> conditions that make the unit unsafe to run."""
        named = [trade.component(code) for code in self.components]
        return {part.code: part.unsafe for part in named if part.unsafe}


@dataclass(frozen=True)
class _Draft:
    """A point as the file has it, before it is fitted to a power source."""

    code: str
    name: str
    stage: Stage
    components: tuple[Component, ...]
    look: str
    precautions: tuple[Precaution, ...]
    units: tuple[str, ...]
    powers: tuple[str, ...]


@dataclass(frozen=True)
class Points:
    """All point files of one folder, checked: family code -> drafts in order."""

    by_family: Mapping[str, tuple[_Draft, ...]]

    def fit(self, family_code: str, power_code: str) -> tuple[InspectionPoint, ...]:
        """The points of a family that exist on this power source, in order."""
        kind = trade.family(family_code)
        powers = trade.powers_of(kind.code, power_code)
        fitted = (_fit(draft, kind, powers) for draft in self.by_family[kind.code])
        return tuple(point for point in fitted if point is not None)


def points_for(family: str, power_source: str) -> tuple[InspectionPoint, ...]:
    """The points for a unit, in order.

    With the power source 'unknown' these are the points of every power source the family comes with, each with all
    their precautions. Raises UnknownCode for an unknown code or a pair that does not exist.
    """
    return _points().fit(family, power_source)


def point_for(family: str, power_source: str, code: str) -> InspectionPoint:
    """One point by its code; raises UnknownCode with near matches."""
    found = {point.code: point for point in points_for(family, power_source)}
    if code not in found:
        raise trade.UnknownCode(strict.no_such("inspection point", code, found))
    return found[code]


def load_points(folder: Path = FOLDER) -> Points:
    """Reads precautions.yaml, shared.yaml and one file per family; raises DataError (file:line: problem)."""
    cautions = load_precautions(folder)
    shared: dict[str, _Draft] = {}
    for item in strict.read(folder / "shared.yaml").fields(["points"])["points"].items():
        _add(shared, _draft(item, cautions), item)
    by_family: dict[str, tuple[_Draft, ...]] = {}
    for kind in trade.families():
        root = strict.read(folder / f"{kind.code}.yaml").fields(["points"])["points"]
        by_family[kind.code] = _family_points(root, kind, shared, cautions)
    return Points(by_family)


def load_precautions(folder: Path = FOLDER) -> dict[str, Precaution]:
    """Reads precautions.yaml; raises DataError (file:line: problem)."""
    found: dict[str, Precaution] = {}
    for item in strict.read(folder / "precautions.yaml").fields(["precautions"])["precautions"].items():
        made = _precaution(item)
        if made.code in found:
            raise item.refuse(f"the precaution '{made.code}' stands here twice")
        found[made.code] = made
    return found


@cache
def precautions() -> Mapping[str, Precaution]:
    """The shipped precautions by code."""
    return load_precautions()


@cache
def _points() -> Points:
    return load_points()


def _add(found: dict[str, _Draft], draft: _Draft, item: Node) -> None:
    if draft.code in found:
        raise item.refuse(f"the point '{draft.code}' stands here twice")
    found[draft.code] = draft


def _family_points(
    root: Node, kind: trade.Family, shared: Mapping[str, _Draft], precautions: Mapping[str, Precaution]
) -> tuple[_Draft, ...]:
    found: dict[str, _Draft] = {}
    inside = False
    for item in root.items():
        if "use" in item.entries():
            draft = shared[item.fields(["use"])["use"].one_of(shared, "shared inspection point")]
        else:
            draft = _draft(item, precautions)
        if inside and draft.stage == "outside":
            raise item.refuse(f"'{draft.code}' is an outside point and comes after one with the covers off")
        inside = draft.stage == "covers_off"
        if _fit(draft, kind, trade.powers_of(kind.code, trade.NOT_KNOWN)) is None:
            raise item.refuse(f"no {kind.name} has a component of the point '{draft.code}'")
        _add(found, draft, item)
    return tuple(found.values())


def _draft(item: Node, precautions: Mapping[str, Precaution]) -> _Draft:
    known = trade.trade()
    row = item.fields(["code", "name", "stage", "components", "precautions", "look"], ["units", "powers"])
    named = row["precautions"].some_of(precautions, "precaution")
    if not named:
        raise row["precautions"].refuse("every check needs a precaution")
    if "still" not in named and all(precautions[code].still for code in named):
        raise row["precautions"].refuse("a check is made with the machine made safe ('still') or says 'running'")
    unit_codes = row["units"].texts() if "units" in row else ()
    for node in row["units"].items() if "units" in row else ():
        node.one_of([unit.code for unit in units.measurement_units()], "unit of measurement")
    powers = tuple(known.powers)
    if "powers" in row:
        powers = trade.expand(row["powers"], known.powers, known.power_groups, "power source")
    components = row["components"].some_of(known.components, "component")
    if not components:
        raise row["components"].refuse("at least one component is needed")
    return _Draft(
        row["code"].text(),
        row["name"].text(),
        cast(Stage, row["stage"].one_of(STAGES, "stage")),
        tuple(known.components[code] for code in components),
        row["look"].text(),
        tuple(precautions[code] for code in named),
        unit_codes,
        powers,
    )


def _precaution(item: Node) -> Precaution:
    row = item.fields(["code", "state", "words"])
    groups = [*trade.trade().powers, "spark", "engine", "electric", "any"]
    words = {}
    for group, text in row["words"].entries().items():
        if group not in groups:
            raise text.refuse(strict.no_such("power source or group", group, groups))
        words[group] = text.text()
    return Precaution(row["code"].text(), row["state"].one_of(["still", "running"], "state") == "still", words)


def _fit(draft: _Draft, kind: trade.Family, powers: Sequence[trade.PowerSource]) -> InspectionPoint | None:
    parts = [part for part in draft.components if kind.code in part.families]
    wanted = [
        power for power in powers if power.code in draft.powers and any(power.code in part.powers for part in parts)
    ]
    if not wanted:
        return None
    here = {power.code for power in wanted}
    fitting = tuple(part.code for part in parts if not here.isdisjoint(part.powers))
    words = [precaution.for_power(power) for precaution in draft.precautions for power in wanted]
    still = all(precaution.still for precaution in draft.precautions)
    told = tuple(dict.fromkeys(text for text in words if text))
    return InspectionPoint(draft.code, draft.name, draft.stage, fitting, draft.look, told, still, draft.units)
