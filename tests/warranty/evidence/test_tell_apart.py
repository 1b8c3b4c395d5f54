"""Scenarios from the bench: what was seen, and which cause the table puts first."""

from __future__ import annotations

from itertools import permutations

import pytest

from warranty.evidence import table

SCENARIOS = [
    # (what came in, component, condition, family, signs seen, first cause, its standing, causes ruled out)
    ("a backpack blower rattles; muffler shaken, no dent", "muffler_catalyst", "loose", "backpack", ["rattles_shaken_no_blow"], "defect", "supported", ["fuel_oil"]),
    ("the same rattle, but the muffler was dropped", "muffler_catalyst", "loose", "backpack", ["muffler_dented"], "impact", "supported", ["defect"]),
    ("catalyst melted, shell white", "muffler_catalyst", "broken", "saw", ["shell_blue_white"], "fuel_oil", "supported", ["defect"]),
    ("saw leaks at the grommet, two-piece line", "fuel_line", "split", "saw", ["split_at_material_joint", "surges_with_split"], "defect", "supported", ["wear"]),
    ("old trimmer, line hard all along", "fuel_line", "cracked", "trimmer", ["hard_over_whole_length", "many_seasons"], "wear", "supported", []),
    ("line soft and long, water test high", "fuel_line", "leaks", "trimmer", ["line_soft_sticky", "ethanol_test_high"], "fuel_oil", "supported", []),
    ("two-stroke ran dry of oil: sample plain", "piston", "scored", "saw", ["scored_all_round", "no_oil_stain"], "fuel_oil", "supported", ["defect"]),
    ("piston scored, mix right, boot torn", "piston", "seized", "saw", ["mix_right", "leak_found", "scored_exhaust_side"], "defect", "supported", ["fuel_oil"]),
    ("filter pieces in the wrong order, serviced before", "air_filter", "misfitted", "backpack", ["elements_swapped", "opened_before"], "assembly", "supported", []),
    ("knock gone after cleaning the crown", "piston", "noisy", "saw", ["knock_gone_clean"], "normal", "supported", []),
    ("knock stays after cleaning", "piston_pin", "noisy", "saw", ["knock_stays_clean"], "wear", "supported", []),
    ("engine will not stop, module's terminal open inside", "ignition_module", "dead", "saw", ["runs_will_not_stop", "terminal_open_inside"], "defect", "supported", []),
    ("spark is back with the stop lead off: not this module", "ignition_module", "dead", "saw", ["spark_back_stop_off", "switch_dirty_cleaned"], "defect", "ruled_out", ["defect"]),
    ("throttle cable broke, arm hangs", "throttle_cable", "broken", "backpack", ["arm_hangs", "pivot_bolt_loose"], "upkeep", "supported", ["wear"]),
    ("throttle cable frayed by daily work", "throttle_cable", "broken", "backpack", ["cable_frayed_end", "daily_use", "pivot_bolt_tight"], "wear", "supported", ["upkeep"]),
    ("tank strap cracked, scrape on that side", "tank_strap", "cracked", "backpack", ["strap_side_scrape"], "impact", "supported", ["defect"]),
    ("tube ticks, wire whole", "anti_static_wire", "noisy", "backpack", ["tick_with_wire_whole"], "normal", "supported", []),
    ("tube ticks, wire broken at the clamp", "anti_static_wire", "noisy", "backpack", ["static_wire_open"], "wear", "supported", ["normal"]),
    ("rope guide out of a whole seat", "rope_guide", "popped_out", "trimmer", ["guide_out_seat_whole"], "defect", "supported", []),
    ("gear head dry and blue", "gearbox", "seized", "trimmer", ["grease_gone_brown"], "upkeep", "supported", ["defect"]),
    ("gear head full of fresh grease, cage broken", "gearbox", "noisy", "trimmer", ["grease_fresh_full"], "defect", "supported", []),
    ("pump seal heat-checked, run unprimed", "mechanical_seal", "leaks", "pump", ["seal_heat_checked", "run_unprimed"], "upkeep", "supported", ["wear", "defect"]),
    ("pump seal chipped, dripped from day one", "mechanical_seal", "leaks", "pump", ["seal_face_chipped_new", "leaks_from_first_day"], "defect", "supported", ["upkeep"]),
    ("housing split along the belly after winter", "pump_housing", "cracked", "pump", ["crack_at_low_point"], "environment", "supported", ["impact", "defect"]),
    ("generator: one winding dark, loads in the plate", "alternator", "burnt", "generator", ["one_winding_dark", "load_in_rating"], "defect", "supported", ["impact"]),
    ("generator: all dark, loads over the plate", "alternator", "burnt", "generator", ["all_windings_dark", "load_over_plate"], "impact", "supported", ["defect"]),
    ("breaker opens at an overload", "breaker", "intermittent", "generator", ["load_over_plate"], "normal", "supported", ["defect"]),
    ("mower: key half sheared after a strike", "flywheel_key", "broken", "mower", ["tool_struck"], "impact", "supported", []),
    ("mower brake: pad thin", "blade_brake", "slipping", "mower", ["pad_thin"], "wear", "supported", ["upkeep"]),
    ("mower brake: cable slack", "blade_brake", "slipping", "mower", ["pad_full_cable_slack"], "upkeep", "supported", ["wear"]),
    ("pack: one cell group low", "battery", "dead", "saw", ["pack_one_cell_low"], "defect", "supported", ["upkeep"]),
]  # fmt: skip


@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda s: s[0])
def test_what_the_bench_would_say(scenario: tuple[str, str, str, str, list[str], str, str, list[str]]) -> None:
    _, component, condition, family, signs, first, standing, out = scenario
    ranked = table.tell_apart(component, condition, family, signs)
    assert (ranked[0].cause, ranked[0].standing) == (first, standing)
    assert {item.cause for item in ranked if item.standing == "ruled_out"} >= set(out)
    seen = {reason.sign.code for item in ranked for reason in item.reasons if reason.sign}
    assert seen <= set(signs)


def test_reasons_name_row_sign_and_side() -> None:
    ranked = table.tell_apart("muffler_catalyst", "loose", "backpack", ["rattles_shaken_no_blow"])
    top = ranked[0].reasons[0]
    assert (top.row, top.speaks_for) == ("catalyst_loose", True)
    assert top.words == "rattles when shaken, and the shell has no dent"
    assert any("Muffler off" in check for check in ranked[0].checks)


def test_with_no_sign_every_cause_is_open_and_says_what_to_look_for() -> None:
    ranked = table.tell_apart("muffler_catalyst", "loose", "backpack", [])
    assert {item.standing for item in ranked} == {"open"}
    assert all(item.checks for item in ranked)
    assert ranked[0].reasons[0].words.startswith("not looked for yet: ")


def test_signs_on_both_sides_are_contested_not_decided() -> None:
    ranked = table.tell_apart("muffler_catalyst", "loose", "backpack", ["rattles_shaken_no_blow", "shell_blue_white"])
    by_cause = {item.cause: item for item in ranked}
    assert by_cause["defect"].standing == "contested"
    assert by_cause["fuel_oil"].standing == "contested"
    assert {reason.speaks_for for reason in by_cause["defect"].reasons} == {True, False}


def test_one_explanation_out_leaves_another_of_the_same_cause_open() -> None:
    """A soft sleeve rules out the sleeve, not the joint of two materials: defect stays open."""
    ranked = table.tell_apart("fuel_line", "split", "saw", ["sleeve_soft"])
    assert {item.cause: item.standing for item in ranked}["defect"] == "open"


def test_a_sign_of_something_else_is_left_aside() -> None:
    plain = table.tell_apart("tank_strap", "cracked", "backpack", ["strap_side_scrape"])
    more = table.tell_apart("tank_strap", "cracked", "backpack", ["strap_side_scrape", "no_oil_stain"])
    assert plain == more


def test_the_order_in_which_signs_are_ticked_does_not_matter() -> None:
    signs = ["arm_hangs", "cable_frayed_end", "daily_use", "cable_kinked_route"]
    answers = {table.tell_apart("throttle_cable", "broken", "backpack", order) for order in permutations(signs)}
    assert len(answers) == 1


@pytest.mark.parametrize("row", table.table().rows, ids=lambda row: row.code)
def test_each_row_wins_on_its_own_signs_and_loses_on_what_rules_it_out(row: table.EvidenceRow) -> None:
    for_it = table.tell_apart(row.component, row.conditions[0], row.families[0], [s.code for s in row.signs_for])
    mine = next(item for item in for_it if item.cause == row.points_to)
    assert mine.standing == "supported"
    against = table.tell_apart(row.component, row.conditions[0], row.families[0], [row.signs_against[0].code])
    losing = next(item for item in against if item.cause == row.points_to)
    assert any(reason.row == row.code and reason.speaks_for is False for reason in losing.reasons)
