"""The words that findings are made of: components, conditions, causes, families and power sources.

Read once from orders/rules/data; each look-up by an unknown code raises `UnknownCode` with near matches.
Pure: no Django, no clock.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from orders.rules import strict
from orders.rules.trade_data import (
    CODE,
    DATA,
    Cause,
    Component,
    Condition,
    Family,
    PowerSource,
    Role,
    System,
    T,
    Trade,
    by_code,
    expand,
    load,
)

__all__ = [
    "CODE",
    "DATA",
    "Cause",
    "Component",
    "Condition",
    "Family",
    "PowerSource",
    "Role",
    "System",
    "Trade",
    "by_code",
    "expand",
    "load",
]
NOT_KNOWN = "unknown"  # a power source that check-in could not tell


class UnknownCode(LookupError):
    """No such code. The text names what was asked for and lists near matches."""


@cache
def trade() -> Trade:
    """The shipped data, read on first use and kept."""
    return load()


def component(code: str) -> Component:
    """The component with this code; raises UnknownCode with near matches, as do the five below."""
    return _get(trade().components, code, "component")


def condition(code: str) -> Condition:
    """The condition with this code."""
    return _get(trade().conditions, code, "condition")


def cause(code: str) -> Cause:
    """The cause with this code."""
    return _get(trade().causes, code, "cause")


def family(code: str) -> Family:
    """The family with this code."""
    return _get(trade().families, code, "family")


def power_source(code: str) -> PowerSource:
    """The power source with this code; 'unknown' is none (see `powers_of`)."""
    return _get(trade().powers, code, "power source")


def system(code: str) -> System:
    """The system with this code."""
    return _get(trade().systems, code, "system")


def components() -> tuple[Component, ...]:
    """All components in the order of the data file, which is the order to show them in."""
    return tuple(trade().components.values())


def conditions() -> tuple[Condition, ...]:
    """All conditions, in the order to show them in."""
    return tuple(trade().conditions.values())


def causes() -> tuple[Cause, ...]:
    """All causes, in the order to show them in."""
    return tuple(trade().causes.values())


def families() -> tuple[Family, ...]:
    """All families."""
    return tuple(trade().families.values())


def power_sources() -> tuple[PowerSource, ...]:
    """All power sources that are known by name."""
    return tuple(trade().powers.values())


def systems() -> tuple[System, ...]:
    """All systems."""
    return tuple(trade().systems.values())


def components_for(family_code: str, power_code: str) -> tuple[Component, ...]:
    """The components that a unit of this family and power source can have; 'unknown' gives those of every source."""
    powers = {power.code for power in powers_of(family_code, power_code)}
    return tuple(c for c in components() if family_code in c.families and not powers.isdisjoint(c.powers))


def powers_of(family_code: str, power_code: str) -> tuple[PowerSource, ...]:
    """The one power source named, or all that the family comes with when it is 'unknown'.

    Raises UnknownCode for an unknown code, and for a family that is never driven so.
    """
    kind = family(family_code)
    if power_code == NOT_KNOWN:
        return tuple(power_source(code) for code in kind.powers)
    power = power_source(power_code)
    if power.code not in kind.powers:
        drives = ", ".join(kind.powers)
        raise UnknownCode(f"a {kind.name} is not driven by {power.name}; known for it: {drives}")
    return (power,)


def unsafe(component_code: str, condition_code: str) -> bool:
    """Whether a unit with this component in this condition must not be run (a hold). Both codes must exist."""
    return condition(condition_code).code in component(component_code).unsafe


def _get(table: Mapping[str, T], code: str, what: str) -> T:
    try:
        return table[code]
    except KeyError:
        raise UnknownCode(strict.no_such(what, code, table)) from None
