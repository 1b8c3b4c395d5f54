"""Which cautions a paper carries for a machine: what can hurt whoever runs it, and what more can hurt whoever opens it. Pure.

Common practice, no source. The words stand in the press; the maker's manual comes first.
"""

from __future__ import annotations

from collections.abc import Iterator

from orders.rules import trade
from orders.rules.trade import PowerSource

CHAIN = ("saw", "pole_saw")
BLADES = ("mower", "rider", "trimmer", "hedge_trimmer", "cutter", "tiller", "snow_thrower", "auger")
LIFTED = ("mower", "rider")
LESSER = ("muffler", "noise")
LOUD = ("saw", "pole_saw", "cutter", "blower", "backpack", "hedge_trimmer", "pressure_washer")
"""Loud whatever drives them; every engine is."""


def for_use(family: str, power: str) -> tuple[str, ...]:
    """Codes for papers that go to whoever runs the machine. A power source not known counts as all that it may be."""
    return tuple(_use(family, _powers(family, power)))


def for_answer(family: str, power: str) -> tuple[str, ...]:
    """Codes for an estimate, which hands over no machine: of those of use what can kill or maim, should it be taken back as it is."""
    return tuple(code for code in for_use(family, power) if code not in LESSER)


def for_work(family: str, power: str) -> tuple[str, ...]:
    """Codes for the bench: those of use, and those of work with the covers off."""
    powers = _powers(family, power)
    return tuple(dict.fromkeys((*_use(family, powers), *_work(family, powers))))


def _powers(family: str, power: str) -> tuple[PowerSource, ...]:
    try:
        return trade.powers_of(family, power)
    except trade.UnknownCode:
        return trade.powers_of(family, trade.NOT_KNOWN)


def _use(family: str, powers: tuple[PowerSource, ...]) -> Iterator[str]:
    engine = any(power.engine for power in powers)
    if engine:
        yield "fuel"
        yield "exhaust"
    if family == "generator":
        yield "backfeed"
    if family in CHAIN:
        yield "kickback"
    if family in BLADES:
        yield "blades"
    if any(power.code == "battery" for power in powers):
        yield "battery"
    if engine:
        yield "muffler"
    if engine or family in LOUD:
        yield "noise"


def _work(family: str, powers: tuple[PowerSource, ...]) -> Iterator[str]:
    if any(power.spark for power in powers):
        yield "ignition"
    if any(power.engine for power in powers):
        yield "spring"
    if family in LIFTED:
        yield "raised"
