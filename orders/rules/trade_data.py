"""The shapes of the trade's words, and how they are read from orders/rules/data and checked. Pure."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Literal, TypeVar, cast

from orders.rules import strict
from orders.rules.strict import Node

DATA = Path(__file__).parent / "data"
CODE = re.compile(r"[a-z][a-z0-9_]*")

Drives = Literal["engine", "spark", "electric", "battery", "any"]
FaultOf = Literal["maker", "user", "use", "assembler", "none", "open"]
_DRIVES = ("engine", "spark", "electric", "battery", "any")
_FAULT_OF = ("maker", "user", "use", "assembler", "none", "open")


@dataclass(frozen=True)
class PowerSource:
    """What drives a unit. `engine` is false for battery and mains."""

    code: str
    name: str
    engine: bool
    note: str

    @property
    def spark(self) -> bool:
        """True when the engine has a spark plug."""
        return self.engine and self.code != "diesel"


@dataclass(frozen=True)
class Family:
    """A kind of machine. `powers` are power source codes; `usually_hand_held` is a first guess, decided per unit."""

    code: str
    name: str
    powers: tuple[str, ...]
    usually_hand_held: bool


@dataclass(frozen=True)
class System:
    """A group of components, and the drives on which they exist."""

    code: str
    name: str
    drives: Drives

    def fits(self, power: PowerSource) -> bool:
        """Whether a unit with this power source has the system at all."""
        if self.drives == "any":
            return True
        if self.drives == "engine":
            return power.engine
        if self.drives == "spark":
            return power.spark
        if self.drives == "electric":
            return not power.engine
        return power.code == "battery"


@dataclass(frozen=True)
class Role:
    """What parts keep people from (fuel let out, no stop, no guard); `unsafe`: the conditions in which they no longer do."""

    code: str
    name: str
    unsafe: frozenset[str]


@dataclass(frozen=True)
class Component:
    """A part that a finding can name.

    `powers` are the power sources on which it exists; `roles` what it keeps people from; `unsafe` the conditions in which
    the unit must not be run: those of its roles, and its own.
    """

    code: str
    name: str
    system: str
    families: tuple[str, ...]
    powers: tuple[str, ...]
    note: str
    roles: tuple[str, ...]
    unsafe: frozenset[str]


@dataclass(frozen=True)
class Condition:
    """What was seen, heard or measured.

    `sound`: nothing is wrong. `present`: the part is there. `takes_time`: cannot come about in a few hours of use.
    """

    code: str
    name: str
    sound: bool
    present: bool
    takes_time: bool
    note: str


@dataclass(frozen=True)
class Cause:
    """Why a finding is as it is. `fault_of` says on whose side it usually lies; cover is decided by terms, not here."""

    code: str
    name: str
    note: str
    fault_of: FaultOf


@dataclass(frozen=True)
class Trade:
    """All of the data files, read and checked against each other."""

    powers: Mapping[str, PowerSource]
    families: Mapping[str, Family]
    groups: Mapping[str, tuple[str, ...]]
    power_groups: Mapping[str, tuple[str, ...]]
    systems: Mapping[str, System]
    roles: Mapping[str, Role]
    components: Mapping[str, Component]
    conditions: Mapping[str, Condition]
    causes: Mapping[str, Cause]


T = TypeVar("T", PowerSource, Family, System, Role, Component, Condition, Cause)


def load(folder: Path = DATA) -> Trade:
    """Reads and checks the data in `folder`; raises DataError (file:line: problem) at the first fault."""
    root = strict.read(folder / "families.yaml").fields(["power_sources", "power_groups", "families", "groups"])
    powers = by_code(root["power_sources"], _power, "power source")
    power_groups = _groups(root["power_groups"], powers, "power source")
    families = by_code(root["families"], lambda n: _family(n, powers), "family")
    groups = _groups(root["groups"], families, "family")
    conditions_at = strict.read(folder / "conditions.yaml").fields(["conditions"])["conditions"]
    conditions = by_code(conditions_at, _condition, "condition")
    causes = by_code(strict.read(folder / "causes.yaml").fields(["causes"])["causes"], _cause, "cause")
    root = strict.read(folder / "components.yaml").fields(["systems", "roles", "components"])
    systems = by_code(root["systems"], _system, "system")
    roles = by_code(root["roles"], lambda n: _role(n, conditions), "role")
    so_far = Trade(powers, families, groups, power_groups, systems, roles, {}, conditions, causes)
    components = by_code(root["components"], lambda n: _component(n, so_far), "component")
    return Trade(
        MappingProxyType(powers),
        MappingProxyType(families),
        MappingProxyType(groups),
        MappingProxyType(power_groups),
        MappingProxyType(systems),
        MappingProxyType(roles),
        MappingProxyType(components),
        MappingProxyType(conditions),
        MappingProxyType(causes),
    )


def by_code(listed: Node, build: Callable[[Node], T], what: str) -> dict[str, T]:
    """Builds each row of a list; refuses a doubled code and one that is not lower case with underscores."""
    found: dict[str, T] = {}
    places: dict[str, str] = {}
    for item in listed.items():
        row = build(item)
        if row.code in found:
            raise item.refuse(f"the {what} '{row.code}' stands already at {places[row.code]}")
        if not CODE.fullmatch(row.code):
            raise item.refuse(f"the {what} code '{row.code}' must be lower case letters, digits and underscores")
        found[row.code] = row
        places[row.code] = item.where
    return found


def _power(item: Node) -> PowerSource:
    row = item.fields(["code", "name", "engine", "note"])
    return PowerSource(row["code"].text(), row["name"].text(), row["engine"].flag(), row["note"].text())


def _family(item: Node, powers: Mapping[str, PowerSource]) -> Family:
    row = item.fields(["code", "name", "powers", "usually_hand_held"])
    listed = row["powers"].some_of(powers, "power source")
    return Family(row["code"].text(), row["name"].text(), listed, row["usually_hand_held"].flag())


def _system(item: Node) -> System:
    row = item.fields(["code", "name", "drives"])
    drives = cast(Drives, row["drives"].one_of(_DRIVES, "drive"))
    return System(row["code"].text(), row["name"].text(), drives)


def _condition(item: Node) -> Condition:
    row = item.fields(["code", "name", "sound", "present", "takes_time", "note"])
    return Condition(
        row["code"].text(),
        row["name"].text(),
        row["sound"].flag(),
        row["present"].flag(),
        row["takes_time"].flag(),
        row["note"].text(),
    )


def _role(item: Node, conditions: Mapping[str, Condition]) -> Role:
    row = item.fields(["code", "name", "unsafe"])
    return Role(row["code"].text(), row["name"].text(), _unsafe(row["unsafe"], conditions))


def _cause(item: Node) -> Cause:
    row = item.fields(["code", "name", "note", "fault_of"])
    fault_of = cast(FaultOf, row["fault_of"].one_of(_FAULT_OF, "side"))
    return Cause(row["code"].text(), row["name"].text(), row["note"].text(), fault_of)


def _groups(listed: Node, members: Mapping[str, object], what: str) -> dict[str, tuple[str, ...]]:
    groups = {name: row.some_of(members, what) for name, row in listed.entries().items()}
    for name in groups:
        if name in members and groups[name] != (name,):
            raise listed.refuse(f"the group '{name}' has the name of a {what}")
    return groups


def _component(item: Node, known: Trade) -> Component:
    row = item.fields(["code", "name", "system", "families"], ["note", "roles", "unsafe", "powers"])
    roles = row["roles"].some_of(known.roles, "role") if "roles" in row else ()
    unsafe_in = _unsafe(row["unsafe"], known.conditions) if "unsafe" in row else frozenset()
    for role in roles:
        for code in sorted(unsafe_in & known.roles[role].unsafe):
            raise row["unsafe"].refuse(f"'{code}' is unsafe already by the role '{role}'")
    group = known.systems[row["system"].one_of(known.systems, "system")]
    powers = tuple(code for code, power in known.powers.items() if group.fits(power))
    if "powers" in row:
        narrowed = expand(row["powers"], known.powers, known.power_groups, "power source")
        for code in narrowed:
            if code not in powers:
                raise row["powers"].refuse(f"the system '{group.code}' does not exist on {code}")
        powers = narrowed
    return Component(
        row["code"].text(),
        row["name"].text(),
        group.code,
        expand(row["families"], known.families, known.groups, "family"),
        powers,
        row["note"].text() if "note" in row else "",
        roles,
        unsafe_in.union(*(known.roles[role].unsafe for role in roles)),
    )


def _unsafe(listed: Node, conditions: Mapping[str, Condition]) -> frozenset[str]:
    codes = listed.some_of(conditions, "condition")
    for code in codes:
        if conditions[code].sound:
            raise listed.refuse(f"'{code}' says that nothing is wrong and cannot be unsafe")
    return frozenset(codes)


def expand(
    listed: Node, members: Mapping[str, object], groups: Mapping[str, tuple[str, ...]], what: str
) -> tuple[str, ...]:
    """The codes that a list of codes and group names stands for, in the order of the data file, none twice."""
    wanted: set[str] = set()
    for word in listed.some_of([*members, *groups], f"{what} or group of them"):
        wanted.update(groups.get(word, (word,)))
    if not wanted:
        raise listed.refuse(f"at least one {what} is needed")
    return tuple(code for code in members if code in wanted)
