"""Components, conditions, causes, families: complete, checked against each other, refused when wrong."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from orders.rules import trade
from orders.rules.strict import DataError


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A copy of the shipped data to break."""
    for name in ("families.yaml", "conditions.yaml", "causes.yaml", "components.yaml"):
        shutil.copy(trade.DATA / name, tmp_path / name)
    return tmp_path


def change(folder: Path, name: str, old: str, new: str) -> int:
    """Replaces `old` once and returns the line number on which it stood."""
    text = (folder / name).read_text("utf-8")
    assert text.count(old) >= 1, old
    (folder / name).write_text(text.replace(old, new, 1), "utf-8")
    return text[: text.index(old)].count("\n") + 1


def test_the_catalogue_is_as_wide_as_a_shop_needs() -> None:
    assert len(trade.components()) >= 110
    assert len(trade.conditions()) >= 20
    assert {cause.code for cause in trade.causes()} == {
        "defect", "wear", "impact", "upkeep", "fuel_oil", "assembly", "missing_part", "modification", "environment",
        "normal", "unknown",
    }  # fmt: skip
    assert {"saw", "trimmer", "blower", "backpack", "pump", "generator", "mower", "cutter"} <= {
        family.code for family in trade.families()
    }


def test_every_system_has_components_and_every_component_a_family() -> None:
    used = {component.system for component in trade.components()}
    assert used == {system.code for system in trade.systems()}
    assert all(component.families and component.powers for component in trade.components())


EVAPORATIVE = [
    "fuel_tank",
    "fuel_cap",
    "fuel_line",
    "line_fitting",
    "vapour_clamp",
    "pressure_relief_valve",
    "vapour_valve",
    "vapour_solenoid",
    "vapour_electronics",
    "vacuum_diaphragm",
    "vapour_cable",
    "vapour_linkage",
    "purge_valve",
    "vapour_hose",
    "vapour_separator",
    "carbon_canister",
    "canister_bracket",
    "purge_port",
]


def test_each_evaporative_component_of_the_federal_list_has_its_own_code() -> None:
    """40 CFR part 1068, Appendix A, group III (edition 2021 to 2023): 18 items, in its order."""
    assert len(EVAPORATIVE) == 18
    assert [trade.component(code).code for code in EVAPORATIVE] == EVAPORATIVE


@pytest.mark.parametrize(
    ("component", "condition", "expected"),
    [
        ("fuel_line", "leaks", True), ("stop_switch", "dead", True), ("guard", "missing", True),
        ("chain_brake", "slipping", True), ("blade_brake", "worn", True), ("battery", "swollen", True),
        ("anti_static_wire", "broken", True), ("spark_screen", "missing", True), ("engine_cover", "scuffed", False),
        ("fuel_line", "ok", False), ("spark_plug", "carboned", False), ("harness", "worn", False),
    ],
)  # fmt: skip
def test_unsafe_says_what_must_not_run(component: str, condition: str, expected: bool) -> None:
    assert trade.unsafe(component, condition) is expected


# What a role cannot lose without the machine being dangerous, written here a second time: the data must not forget one.
AT_LEAST = {
    "fuel_wall": "leaks wet cracked split broken missing loose popped_out rubbed_through melted",
    "stop": "dead broken missing bypassed open_circuit popped_out loose intermittent seized",
    "guard": "missing bypassed broken loose popped_out split misfitted",
    "brake": "dead broken missing bypassed worn slipping weak seized out_of_adjustment loose",
    "interlock": "dead broken missing bypassed intermittent open_circuit short_circuit loose popped_out",
    "relief": "dead missing bypassed seized clogged broken",
    "ground": "missing bypassed broken open_circuit loose popped_out corroded",
    "insulation": "rubbed_through split cracked melted burnt short_circuit",
    "cells": "swollen leaks cracked broken burnt melted overheated short_circuit",
    "exhaust_wall": "leaks missing bypassed broken cracked loose popped_out",
    "speed_limit": "missing bypassed broken seized popped_out",
    "fast_part": "cracked broken loose misfitted",
}
# Parts of these systems that guard against nothing by themselves.
NO_ROLE = {
    "fuel": {"fuel", "fuel_filter", "carburettor_diaphragm", "inlet_needle", "mixture_limiter"},
    "evaporative": {
        "vapour_electronics", "vacuum_diaphragm", "vacuum_line", "vapour_cable", "vapour_linkage", "canister_bracket",
    },
    "exhaust": {"muffler_catalyst", "secondary_air_valve"},
    "governor": set(),
    "guards": {"warning_label"},
    "generator": {"brush"},
    "motor": {"motor_brush", "motor_bearing"},
    "battery": set(),
}  # fmt: skip


def test_every_part_of_a_role_is_unsafe_in_every_condition_that_ends_what_it_does() -> None:
    assert AT_LEAST.keys() == trade.trade().roles.keys()
    forgotten = [
        (part.code, condition)
        for part in trade.components()
        for role in part.roles
        for condition in AT_LEAST[role].split()
        if not trade.unsafe(part.code, condition)
    ]
    assert forgotten == []
    assert {role for part in trade.components() for role in part.roles} == AT_LEAST.keys()


@pytest.mark.parametrize("system", NO_ROLE)
def test_every_part_of_a_system_that_can_hurt_has_a_role(system: str) -> None:
    without = {part.code for part in trade.components() if part.system == system and not part.roles}
    assert without == NO_ROLE[system]


@pytest.mark.parametrize(
    ("component", "conditions"),
    [
        ("fuel", "leaks"), ("fuel_line", "popped_out loose leaks split cracked"), ("fuel_filter", "leaks"),
        ("tank_vent", "leaks"), ("tank_grommet", "popped_out"), ("line_fitting", "popped_out"), ("fuel_cap", "loose"),
        ("carburettor", "cracked leaks"), ("fuel_pump", "broken"), ("primer_bulb", "missing"),
        ("stop_switch", "open_circuit popped_out dead"), ("stop_circuit", "popped_out loose open_circuit"),
        ("motor_switch", "short_circuit dead bypassed"), ("hand_guard", "bypassed loose missing"),
        ("heat_shield", "bypassed missing"), ("brakes", "missing"), ("co_shutoff", "intermittent"),
        ("gas_regulator", "loose popped_out bypassed frayed"), ("battery", "swollen leaks overheated"),
        ("ground_terminal", "bypassed popped_out"), ("governor_spring", "popped_out"), ("carburettor", "seized"),
    ],
)  # fmt: skip
def test_leaks_dead_stops_and_lost_guards_are_unsafe(component: str, conditions: str) -> None:
    assert [code for code in conditions.split() if not trade.unsafe(component, code)] == []


@pytest.mark.parametrize(
    ("component", "condition"),
    [
        ("stop_circuit", "short_circuit"), ("guard", "scuffed"), ("fuel_line", "hardened"), ("tank_vent", "clogged"),
        ("fuse", "dead"), ("battery", "low"), ("grass_bag", "missing"), ("carburettor", "clogged"), ("spark_screen", "carboned"),
    ],
)  # fmt: skip
def test_what_only_needs_repair_holds_nothing(component: str, condition: str) -> None:
    assert not trade.unsafe(component, condition)


def test_no_component_is_unsafe_while_in_order() -> None:
    sound = [condition.code for condition in trade.conditions() if condition.sound]
    assert sound == ["ok"]
    assert not [c.code for c in trade.components() if trade.unsafe(c.code, "ok")]


def test_an_unknown_code_lists_near_matches() -> None:
    with pytest.raises(trade.UnknownCode, match=r"no component 'carburetor'; near to it: carburettor"):
        trade.component("carburetor")
    with pytest.raises(trade.UnknownCode, match="no condition 'leak'; near to it: leaks"):
        trade.condition("leak")
    with pytest.raises(trade.UnknownCode, match=r"no cause '.; DROP'"):
        trade.cause("'; DROP")
    with pytest.raises(trade.UnknownCode, match="no power source 'petrol'"):
        trade.power_source("petrol")


def test_components_of_a_unit_follow_its_family_and_drive() -> None:
    battery_saw = {c.code for c in trade.components_for("saw", "battery")}
    assert {"saw_chain", "chain_brake", "battery", "controller"} <= battery_saw
    assert battery_saw.isdisjoint({"fuel_line", "spark_plug", "muffler", "blade"})
    diesel = {c.code for c in trade.components_for("generator", "diesel")}
    assert "injection_pump" in diesel and diesel.isdisjoint({"spark_plug", "carburettor", "carbon_canister"})
    assert "valve" not in {c.code for c in trade.components_for("saw", "two_stroke")}


def test_a_power_source_not_known_gives_the_parts_of_every_one() -> None:
    every = {c.code for c in trade.components_for("saw", "unknown")}
    each = [{c.code for c in trade.components_for("saw", power)} for power in trade.family("saw").powers]
    assert every == set().union(*each)


def test_a_family_never_driven_so_is_refused() -> None:
    with pytest.raises(trade.UnknownCode, match="chain saw is not driven by diesel"):
        trade.components_for("saw", "diesel")


@pytest.mark.parametrize(
    ("file", "old", "new", "problem"),
    [
        ("components.yaml", "{code: fuel_cap, name", "{code: fuel_tank, name", "'fuel_tank' stands already at components.yaml"),
        ("components.yaml", "{code: fuel_cap, name", "{code: Fuel-Cap, name", "must be lower case"),
        ("components.yaml", "{code: fuel_cap, name", "{code: fuel_cap, colour: red, name", "unknown key 'colour'"),
        ("components.yaml", "{code: fuel_cap, name", "{code: fuel_cap, code: cap, name", "'code' stands here twice"),
        ("components.yaml", "system: ignition, families", "system: igniton, families", "no system 'igniton'"),
        ("components.yaml", "unsafe: [leaks, wet, cracked", "unsafe: [leaks, ok, cracked", "cannot be unsafe"),
        ("components.yaml", "unsafe: [leaks, wet, cracked", "unsafe: [leaks, mising, cracked", "near to it: missing"),
        ("components.yaml", "roles: [stop]", "roles: [stopp]", "near to it: stop"),
        ("components.yaml", "roles: [fuel_wall], unsafe: [swollen]", "roles: [fuel_wall], unsafe: [leaks]", "'leaks' is unsafe already by the role 'fuel_wall'"),
        ("components.yaml", "unsafe: [broken]", "unsafe: [ok]", "cannot be unsafe"),
        ("components.yaml", "families: [chain], roles: [fast_part], unsafe: [bent]", "families: [chains], roles: [fast_part], unsafe: [bent]", "near to it: chain"),
        ("components.yaml", "families: [chain], roles: [fast_part], unsafe: [bent]", "families: [], roles: [fast_part], unsafe: [bent]", "at least one family"),
        ("components.yaml", "{code: spark_plug, name", "{code: spark_plug, powers: [battery], name", "does not exist on battery"),
        ("components.yaml", "drives: electric", "drives: electrik", "no drive 'electrik'"),
        ("conditions.yaml", "sound: true", "sound: yes", "expected true or false"),
        ("causes.yaml", "fault_of: maker", "fault_of: nobody", "no side 'nobody'"),
        ("families.yaml", "usually_hand_held: true", "hand_held: true", "unknown key 'hand_held'"),
        ("families.yaml", "powers: [two_stroke, battery, mains]", "powers: [two_stroke, steam]", "no power source 'steam'"),
        ("families.yaml", "  chain: [saw", "  saw: [pole_saw]\n  chain: [saw", "has the name of a family"),
    ],
)  # fmt: skip
def test_a_broken_file_is_refused_with_its_line(data: Path, file: str, old: str, new: str, problem: str) -> None:
    line = change(data, file, old, new)
    with pytest.raises(DataError) as caught:
        trade.load(data)
    assert problem in str(caught.value)
    if problem != "has the name of a family":  # the group list is named as a whole
        assert str(caught.value).startswith(f"{file}:{line}: ")


def test_the_copy_loads_before_it_is_broken(data: Path) -> None:
    assert trade.load(data).components.keys() == trade.trade().components.keys()
