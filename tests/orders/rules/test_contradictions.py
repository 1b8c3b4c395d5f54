"""Findings that do not go together: each rule says so, and a finding in order says nothing."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from orders.rules import points, trade
from orders.rules.contradictions import Contradiction, Machine, Seen, contradictions

DAY = dt.date(2026, 5, 4)
SAW = Machine(family="saw", power_source="two_stroke")


def seen(component: str = "saw_chain", condition: str = "dull", cause: str = "unknown", **more: object) -> Seen:
    return Seen(**{"number": 1, "component": component, "condition": condition, "cause": cause, **more})  # type: ignore[arg-type]


def told(finding: Seen, machine: Machine = SAW, *others: Seen) -> list[Contradiction]:
    return list(contradictions(finding, machine=machine, found_on=DAY, others=others))


def fields(finding: Seen, machine: Machine = SAW, *others: Seen) -> list[str]:
    return [one.field for one in told(finding, machine, *others)]


def test_a_finding_in_order_is_not_questioned() -> None:
    assert told(seen(cause="wear"), SAW, seen("guide_bar", "worn", number=2)) == []


@pytest.mark.parametrize(
    ("finding", "field"),
    [
        (seen("blade_brake", "seized"), "component"),
        (seen("battery", "dead"), "component"),
        (seen(condition="ok", cause="defect"), "cause"),
        (seen(condition="ok", unsafe=True), "unsafe"),
        (seen(condition="bent", cause="missing_part"), "cause"),
        (seen("chain_catcher", "missing", unit="mm"), "measured"),
        (seen("chain_catcher", "missing", "wear"), "cause"),
        (seen(because=seen(condition="ok", number=2)), "caused_by"),
        (seen(point="fuel_lines"), "point"),
        (seen(point="chain_and_bar", unit="V"), "measured_unit"),
    ],
)
def test_each_rule(finding: Seen, field: str) -> None:
    assert fields(finding) == [field]
    assert all(one.problem and one.remedy for one in told(finding))


@pytest.mark.parametrize(("hours", "said"), [("4.9", True), ("5.0", False), (None, False)])
def test_wear_takes_hours(hours: str | None, said: bool) -> None:
    machine = Machine(family="saw", power_source="two_stroke", hours=Decimal(hours) if hours else None)
    assert bool(told(seen(condition="worn"), machine)) is said
    assert bool(told(seen(condition="dull", cause="wear"), machine)) is said
    assert told(seen(condition="dull"), machine) == []


@pytest.mark.parametrize(("days", "said"), [(13, True), (14, False), (0, True), (-1, False)])
def test_without_hours_the_days_since_purchase_speak(days: int, said: bool) -> None:
    machine = Machine(family="saw", power_source="two_stroke", bought_on=DAY - dt.timedelta(days=days))
    assert bool(told(seen(condition="worn"), machine)) is said


@pytest.mark.parametrize(
    ("other", "field"),
    [
        (seen(condition="dull", number=2), ["component"]),
        (seen(condition="ok", number=2), ["condition"]),
        (seen(condition="missing", number=2), ["condition"]),
        (seen(condition="stretched", number=2), []),
        (seen("guide_bar", "ok", number=2), []),
        (seen(condition="ok", number=1), []),  # itself, as it stood
    ],
)
def test_beside_the_others(other: Seen, field: list[str]) -> None:
    assert fields(seen(), SAW, other) == field


def test_every_component_fits_every_unit_that_can_have_it() -> None:
    for kind in trade.families():
        for power in kind.powers:
            for part in trade.components_for(kind.code, power):
                finding = seen(part.code, "loose")
                assert fields(finding, Machine(family=kind.code, power_source=power)) == []


def test_every_point_takes_a_finding_at_each_of_its_components() -> None:
    for kind in trade.families():
        for power in kind.powers:
            for point in points.points_for(kind.code, power):
                for part in point.components:
                    at = seen(part, "loose", point=point.code, unit=point.units[0] if point.units else "")
                    assert fields(at, Machine(family=kind.code, power_source=power)) == []


def test_a_unit_whose_power_source_is_not_known_has_any_part_of_its_family() -> None:
    assert told(seen("carburettor", "clogged"), Machine(family="saw", power_source="unknown")) == []
