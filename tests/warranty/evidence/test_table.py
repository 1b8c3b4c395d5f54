"""The evidence table: complete rows, enough of them, and refusals of a broken file."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from orders.rules import trade
from orders.rules.strict import DataError
from warranty.evidence import rows, table

ROWS = table.table().rows
BY_CODE = {row.code: row for row in ROWS}


def own_rows(*files: str) -> int:
    """Rows written in these files, apart from those on parts that every machine has."""
    text = "".join((rows.FOLDER / f"{name}.yaml").read_text("utf-8") for name in files)
    return len(re.findall(r"^  - code: ", text, re.M))


def test_at_least_120_rows() -> None:
    assert len(ROWS) >= 120


@pytest.mark.parametrize("file", ["saws", "trimmers", "backpack", "mowers", "generators", "pumps"])
def test_at_least_20_of_each_main_family_beside_the_common_ones(file: str) -> None:
    assert own_rows(file) >= 20


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.code)
def test_each_row_is_complete(row: rows.EvidenceRow) -> None:
    assert row.signs_for and row.signs_against and row.apart_from and row.precautions
    assert row.points_to not in row.apart_from
    for words in (row.prove, row.settled):
        assert len(words) >= 6 and words.endswith(".")
    assert row.source == rows.PRACTICE or re.search(r"\((.*)(read|second-hand|from memory|computed)\)", row.source)
    for family in row.families:
        for power in trade.family(family).powers:
            if power in trade.component(row.component).powers:
                assert row.precaution(power), f"{family} on {power}"


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.code)
def test_no_row_tells_anyone_to_defeat_a_safeguard(row: rows.EvidenceRow) -> None:
    advice = f"{row.prove} {row.settled} {row.care}".lower()
    assert not re.search(r"\b(bridge|bypass|tie back|leave off|remove the (guard|catalyst|screen)|disable)\b", advice)


def test_a_sign_is_written_once_and_used_where_it_tells() -> None:
    used = {sign.code for row in ROWS for sign in (*row.signs_for, *row.signs_against)}
    assert used == set(table.table().signs)
    words = [sign.words for sign in table.table().signs.values()]
    assert len(words) == len(set(words))


ISSUE_ROWS = {
    "deflector_lost": ("exhaust_deflector", "missing", "missing_part"),
    "cover_melted_by_exhaust": ("engine_cover", "melted", "missing_part"),
    "cable_melted_after_cover": ("throttle_cable", "melted", "missing_part"),
    "wiring_melted_after_cover": ("wiring", "melted", "missing_part"),
    "catalyst_loose": ("muffler_catalyst", "loose", "defect"),
    "module_dead": ("ignition_module", "dead", "defect"),
    "module_stop_terminal_dead": ("ignition_module", "dead", "defect"),
    "stop_lead_thin": ("stop_circuit", "broken", "defect"),
    "line_split_two_materials": ("fuel_line", "split", "defect"),
    "sleeve_cuts_line": ("fuel_line", "cracked", "defect"),
    "ring_lost_filter_drops": ("fuel_filter", "popped_out", "missing_part"),
    "cap_seal_swollen": ("fuel_cap", "swollen", "fuel_oil"),
    "cap_warped_by_heat": ("fuel_cap", "swollen", "environment"),
    "primer_wet_cracked": ("primer_bulb", "wet", "wear"),
    "choke_slips": ("choke", "slipping", "wear"),
    "pin_noise_or_carbon": ("piston_pin", "noisy", "wear"),
    "crown_carbon_knock": ("piston", "noisy", "normal"),
    "cable_broken_hard_use": ("throttle_cable", "broken", "wear"),
    "cable_broken_loose_arm": ("throttle_cable", "broken", "upkeep"),
    "stop_switch_dirty": ("stop_switch", "dead", "wear"),
    "pivot_bolt_loose": ("pivot_arm", "loose", "upkeep"),
    "filter_wrong_order": ("air_filter", "misfitted", "assembly"),
    "spacer_left_out": ("filter_spacer", "missing", "assembly"),
    "tank_strap_side_blow": ("tank_strap", "cracked", "impact"),
    "rope_guide_popped": ("rope_guide", "popped_out", "defect"),
    "starter_housing_cut": ("starter_housing", "rubbed_through", "upkeep"),
    "cover_nuts_smooth": ("cover_fastener", "worn_smooth", "wear"),
    "tube_rubbed_through": ("blow_tube", "rubbed_through", "wear"),
    "harness_torn": ("harness", "split", "wear"),
    "cover_scuffs_normal": ("engine_cover", "scuffed", "normal"),
    "cover_battered": ("engine_cover", "battered", "impact"),
    "tube_ticks_static": ("anti_static_wire", "noisy", "normal"),
    "cover_flaps_static_screw": ("engine_cover", "loose", "upkeep"),
}


@pytest.mark.parametrize("code", sorted(ISSUE_ROWS))
def test_the_rows_a_bench_cannot_do_without(code: str) -> None:
    component, condition, cause = ISSUE_ROWS[code]
    row = BY_CODE[code]
    assert (row.component, row.points_to) == (component, cause)
    assert condition in row.conditions
    assert row in table.evidence_for(component, condition, row.families[0])


def test_the_melted_cable_leads_back_to_the_deflector() -> None:
    assert ("exhaust_deflector", "missing") in table.roots_of("throttle_cable", "melted", "backpack")
    assert ("engine_cover", "melted") in table.roots_of("throttle_cable", "melted", "backpack")
    assert table.roots_of("fuel_filter", "clogged", "saw") == ()


def test_the_signs_to_look_for_come_once_each() -> None:
    found = [sign.code for sign in table.signs_for("muffler_catalyst", "loose", "backpack")]
    assert found[0] == "rattles_shaken_no_blow"
    assert {"muffler_dented", "shell_blue_white"} <= set(found)
    assert len(found) == len(set(found))


def test_where_the_table_is_silent_it_says_nothing_and_unknown_codes_are_refused() -> None:
    assert table.evidence_for("chain_brake", "slipping", "mower") == ()
    assert table.tell_apart("chain_brake", "slipping", "mower", []) == ()
    with pytest.raises(trade.UnknownCode, match="near to it: fuel_line"):
        table.evidence_for("fuel_lin", "split", "saw")
    with pytest.raises(
        trade.UnknownCode, match="no sign 'split_at_material_join'; near to it: split_at_material_joint"
    ):
        table.tell_apart("fuel_line", "split", "saw", ["split_at_material_join"])


def test_precautions_follow_what_drives_the_unit() -> None:
    row = BY_CODE["stop_switch_dirty"]
    assert "plug lead off" in row.precaution("two_stroke")
    assert "Battery out" in BY_CODE["controller_wet"].precaution("battery")
    assert "closed tester" in BY_CODE["module_dead"].precaution("two_stroke")


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ("    component: chain_brake\n", "    component: chainbrake\n", "near to it: chain_brake"),
        ("    points_to: wear\n", "    points_to: worn\n", "no cause 'worn'"),
        ("    apart_from: [defect, upkeep, assembly]\n", "    apart_from: [defect, wear]\n", "told apart from itself"),
        ("    apart_from: [defect, upkeep, assembly]\n", "    apart_from: []\n", "at least one cause"),
        ("    source: common practice, no source\n", "    source: everybody knows\n", "a citation"),
        ("    source: common practice, no source\n", "", "'source' is missing"),
        ("    families: [chain]\n", "    families: [mower]\n", "has no chain brake"),
        ("against: {band_full: \"band at full thickness\"}", "against: {}", "at least one sign"),
        ("against: {band_full: \"band at full thickness\"}", "against: {band_thin: \"=\"}", "speaks for the cause and rules it out"),
        ("against: {band_full: \"band at full thickness\"}", "against: {band_ful: \"=\"}", "no sign with words 'band_ful'"),
        ("against: {band_full: \"band at full thickness\"}", "against: {tool_struck: \"something struck it\"}", "write '=' here"),
        ("    precautions: [still, blades, spring]\n", "    precautions: [stil]\n", "near to it: still"),
        ("    follows_from: [oil_pump leaks]\n", "    follows_from: [oil_pump leak]\n", "near to it: leaks"),
        ("    follows_from: [oil_pump leaks]\n", "    follows_from: [oil_pump]\n", "write a component and a condition"),
        ("  - code: brake_oily\n", "  - code: brake_band_worn\n", "stands in the table twice"),
        ("    settled: \"Wear, customer's. The saw", "    settled: ok\n    settled: \"Wear, customer's. The saw", "stands here twice"),
    ],
)  # fmt: skip
def test_a_broken_row_is_refused_with_its_line(tmp_path: Path, old: str, new: str, problem: str) -> None:
    for path in rows.FOLDER.glob("*.yaml"):
        shutil.copy(path, tmp_path / path.name)
    text = (tmp_path / "saws.yaml").read_text("utf-8")
    assert old in text
    (tmp_path / "saws.yaml").write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(DataError, match=r"^saws\.yaml:\d+: ") as caught:
        rows.load(tmp_path)
    assert problem in str(caught.value)
