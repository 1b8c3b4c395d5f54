"""Inspection points: order, precautions, what a battery machine has, and refusals of a broken file."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from orders.rules import points, trade
from orders.rules.strict import DataError

PAIRS = [(family.code, power) for family in trade.families() for power in (*family.powers, "unknown")]


@pytest.mark.parametrize(("family", "power"), PAIRS)
def test_outside_comes_before_covers_off_and_nothing_twice(family: str, power: str) -> None:
    found = points.points_for(family, power)
    stages = [point.stage for point in found]
    assert stages == sorted(stages, key=["outside", "covers_off"].index)
    assert {"outside", "covers_off"} == set(stages)
    assert len({point.code for point in found}) == len(found)


@pytest.mark.parametrize(("family", "power"), PAIRS)
def test_the_list_is_long_enough_to_find_things_and_short_enough_to_do(family: str, power: str) -> None:
    found = points.points_for(family, power)
    if power == "unknown":
        assert len(found) >= 14
    elif trade.power_source(power).engine:
        assert 12 <= len(found) <= 25
    else:
        assert 10 <= len(found) <= 25


@pytest.mark.parametrize(("family", "power"), PAIRS)
def test_each_point_says_what_to_look_at_how_safely_and_on_parts_the_unit_has(family: str, power: str) -> None:
    has = {component.code for component in trade.components_for(family, power)}
    for point in points.points_for(family, power):
        assert len(point.look) > 30 and point.look.endswith((".", "?", '"'))
        assert 5 <= len(point.name) <= 32 and point.name[0].isupper() and point.name[-1] not in ".:;,"
        assert point.components and set(point.components) <= has
        if power != "unknown" and point.still:
            words = {"battery": "Battery out", "mains": "Plug out of the wall"}.get(power, "Engine stopped and cold")
            assert words in point.precaution
        assert point.precaution


def test_a_check_on_a_running_machine_says_so_and_comes_last() -> None:
    found = points.points_for("generator", "four_stroke")
    assert [point.code for point in found if not point.still] == ["output_under_load"]
    assert found[-1].code == "output_under_load"
    assert "outdoors" in found[-1].precaution and "licensed electrician" in found[-1].precaution


@pytest.mark.parametrize("family", ["saw", "trimmer", "backpack", "mower", "rider"])
def test_a_battery_machine_has_battery_points_and_no_fuel_ones(family: str) -> None:
    found = points.points_for(family, "battery")
    assert "battery_outside" in {point.code for point in found}
    parts = {trade.component(code).system for point in found for code in point.components}
    assert parts.isdisjoint({"fuel", "evaporative", "ignition", "exhaust", "power_assembly"})
    assert not [point.code for point in found if "Engine" in point.precaution]


@pytest.mark.parametrize(
    ("family", "point", "component", "condition"),
    [
        ("saw", "fuel_outside", "fuel_tank", "leaks"),
        ("saw", "stop_switch_outside", "stop_switch", "dead"),
        ("saw", "chain_brake_check", "chain_brake", "slipping"),
        ("trimmer", "tool_guard", "guard", "missing"),
        ("mower", "presence_and_brake", "blade_brake", "worn"),
        ("generator", "co_shutoff_check", "co_shutoff", "bypassed"),
        ("backpack", "tube_outside", "anti_static_wire", "broken"),
        ("trimmer", "primer_dry", "primer_bulb", "wet"),
    ],
)
def test_points_where_a_finding_holds_the_unit(family: str, point: str, component: str, condition: str) -> None:
    found = points.point_for(family, trade.family(family).powers[-2 if family == "generator" else 0], point)
    assert found.can_hold
    assert condition in found.holds[component]
    assert trade.unsafe(component, condition)


GUARDING = {"guard", "brake", "interlock", "stop", "relief", "ground"}


@pytest.mark.parametrize(("family", "power"), PAIRS)
def test_everything_that_guards_brakes_or_stops_is_looked_at(family: str, power: str) -> None:
    looked_at = {code for point in points.points_for(family, power) for code in point.components}
    guards = {part.code for part in trade.components_for(family, power) if GUARDING.intersection(part.roles)}
    in_the_cord = (
        {"ground_fault_device"} if family == "pressure_washer" and power not in ("mains", "unknown") else set()
    )
    assert len(guards) >= 3 and guards - looked_at == in_the_cord


@pytest.mark.parametrize(
    ("family", "point", "component"),
    [
        ("blower", "intake_and_tube", "guard"), ("backpack", "impeller_outside", "guard"), ("auger", "bit_and_pin", "guard"),
        ("pump", "frame_outside", "guard"), ("pressure_washer", "frame_outside", "guard"),
        ("generator", "frame_outside", "guard"), ("rider", "deck_outside", "guard"),
        ("snow_thrower", "frame_outside", "guard"), ("rider", "blades_and_spindles", "blade_brake"),
        ("pole_saw", "chain_and_bar", "chain_brake"), ("mower", "screen_and_catalyst", "spark_screen"),
    ],
)  # fmt: skip
def test_a_missing_guard_has_a_point_that_holds(family: str, point: str, component: str) -> None:
    found = points.point_for(family, "four_stroke", point)
    assert "missing" in found.holds[component]
    assert component.split("_")[-1] in found.look.lower()  # the technician is told to look at it


@pytest.mark.parametrize(("family", "power"), PAIRS)
def test_every_machine_has_something_that_turns_it_off_and_that_can_hold_it(family: str, power: str) -> None:
    stops = {
        code
        for point in points.points_for(family, power)
        for code, unsafe in point.holds.items()
        if "stop" in trade.component(code).roles and {"dead", "bypassed"} <= unsafe
    }
    assert stops


def test_a_point_without_danger_does_not_hold() -> None:
    assert not points.point_for("saw", "two_stroke", "choke_holds").can_hold


def test_measurements_carry_a_unit_of_the_list() -> None:
    assert points.point_for("saw", "two_stroke", "plug_check").units == ("mm", "in", "kohm", "N m", "lbf in")


def test_unknown_codes_and_pairs_are_refused() -> None:
    with pytest.raises(trade.UnknownCode, match="no family 'sow'"):
        points.points_for("sow", "two_stroke")
    with pytest.raises(trade.UnknownCode, match="not driven by diesel"):
        points.points_for("saw", "diesel")
    with pytest.raises(trade.UnknownCode, match="no inspection point 'plug_chek'; near to it: plug_check"):
        points.point_for("saw", "two_stroke", "plug_chek")


def test_a_unit_of_unknown_drive_shows_all_points_with_all_precautions() -> None:
    found = {point.code: point for point in points.points_for("saw", "unknown")}
    assert {"fuel_outside", "battery_outside", "power_cord"} <= found.keys()
    both = found["chain_brake_check"].precaution
    assert "plug lead off" in both and "Battery out" in both and "Plug out of the wall" in both
    assert "Battery" not in found["fuel_outside"].precaution


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ("  - {use: chain_brake_chek}", "", ""),
        ("  - {use: plate_and_labels}", "  - {use: plate_and_label}", "near to it: plate_and_labels"),
        ("  - {use: plate_and_labels}", "  - {use: filter_order}", "outside point and comes after"),
        ("  - {use: plate_and_labels}", "  - {use: covers_outside}", "stands here twice"),
        ("  - {use: plate_and_labels}", "  - {use: gas_outside}", "no chain saw has a component"),
        ("components: [chain_brake, hand_guard], precautions: [still, blades]", "components: [chain_brake], precautions: []", "needs a precaution"),
        ("components: [chain_brake, hand_guard], precautions: [still, blades]", "components: [chain_brake], precautions: [blades]", "made safe"),
        ("units: [mm, in, deg]", "units: [mm, inch]", "no unit of measurement 'inch'"),
        ("stage: outside, components: [chain_brake", "stage: inside, components: [chain_brake", "no stage 'inside'"),
        ("components: [chain_brake, hand_guard]", "components: [chainbrake]", "near to it: chain_brake"),
    ],
)  # fmt: skip
def test_a_broken_file_of_points_is_refused(tmp_path: Path, old: str, new: str, problem: str) -> None:
    folder = tmp_path / "points"
    shutil.copytree(points.FOLDER, folder)
    text = (folder / "saw.yaml").read_text("utf-8")
    if not problem:
        assert points.load_points(folder).fit("saw", "two_stroke") == points.points_for("saw", "two_stroke")
        return
    assert old in text
    (folder / "saw.yaml").write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(DataError, match=r"^saw\.yaml:\d+: ") as caught:
        points.load_points(folder)
    assert problem in str(caught.value)
