"""Facts of the bench that the table must hold, each looked for by the part and what is seen of it, and read to its words."""

from __future__ import annotations

import re

import pytest

from warranty.evidence import rows, table


def text_of(row: rows.EvidenceRow) -> str:
    """All that a row says, in one line."""
    signs = [sign.words for sign in (*row.signs_for, *row.signs_against)]
    return " | ".join([*signs, row.prove, row.settled, row.care])


# (family, component, condition, cause pointed to, words that its row says)
FACTS = [
    ("backpack", "exhaust_deflector", "missing", "missing_part", ["exhaust points down", "outside first", "hot gas reaches plastic"]),
    ("backpack", "engine_cover", "melted", "missing_part", ["melted place starts where the exhaust points", "deflector is not there", "throttle cable and wiring", "deflector answers for the cover"]),
    ("backpack", "throttle_cable", "melted", "missing_part", ["jacket is melted where it passes behind the melted cover", "Follows the deflector"]),
    ("backpack", "wiring", "melted", "missing_part", ["exhaust points", "meter the stop circuit", "Follows the deflector"]),
    ("saw", "muffler_catalyst", "loose", "defect", ["rattles when shaken", "dented", "overheating", "Usually a defect, once impact and overheating are ruled out", "terms decide cover", "never left out"]),
    ("trimmer", "ignition_module", "dead", "defect", ["no spark", "stop lead taken off", "gap to the flywheel", "closed tester"]),
    ("backpack", "ignition_module", "dead", "defect", ["runs well and will not switch off", "stop terminal", "hold until it stops"]),
    ("backpack", "stop_circuit", "broken", "defect", ["light pull", "looked connected", "later ones have a heavier wire", "build range", "build date and serial"]),
    ("backpack", "fuel_line", "split", "defect", ["two materials", "tank grommet", "surges", "one-piece line that meets the permeation rule"]),
    ("saw", "fuel_line", "cracked", "defect", ["sleeve has gone hard", "cut a ring into the line", "new line under the old sleeve"]),
    ("trimmer", "fuel_filter", "popped_out", "missing_part", ["no retaining ring", "loose in the tank", "swollen line"]),
    ("trimmer", "fuel_cap", "swollen", "fuel_oil", ["seal has grown", "alcohol", "new cap"]),
    ("trimmer", "fuel_cap", "swollen", "environment", ["warped", "heat source"]),
    ("saw", "primer_bulb", "wet", "wear", ["must be dry"]),
    ("saw", "choke", "slipping", "wear", ["hold by its own friction", "tap the housing"]),
    ("saw", "piston_pin", "noisy", "wear", ["still there after the crown and chamber have been cleaned", "before opening the bottom end", "ran long with a noisy pin"]),
    ("saw", "piston", "noisy", "normal", ["carbon on the crown", "listen again", "no ground to refuse an emission claim"]),
    ("backpack", "throttle_cable", "broken", "wear", ["carburettor or trigger", "Hard use, but frequent"]),
    ("trimmer", "throttle_cable", "broken", "wear", ["carburettor or trigger", "Hard use, but frequent"]),
    ("backpack", "stop_switch", "dead", "wear", ["works again once the switch is cleaned", "Hard use, but frequent", "hold until it stops"]),
    ("backpack", "pivot_arm", "loose", "upkeep", ["turned by hand", "hit in the trailer"]),
    ("backpack", "throttle_cable", "broken", "upkeep", ["hangs from a loose pivot bolt", "upkeep"]),
    ("backpack", "air_filter", "misfitted", "assembly", ["wrong order", "clean side of the filter", "Assembly, not defect", "engine included"]),
    ("backpack", "filter_spacer", "missing", "assembly", ["spacer is not there", "dust on the clean side", "Assembly, not defect"]),
    ("backpack", "tank_strap", "cracked", "impact", ["scrapes", "rigid plastic strap cracks from a side blow"]),
    ("saw", "rope_guide", "popped_out", "defect", ["come out of a whole seat", "Cheap if caught early", "ruins the housing"]),
    ("saw", "starter_housing", "rubbed_through", "upkeep", ["cutting into the housing"]),
    ("backpack", "cover_fastener", "worn_smooth", "wear", ["worn round by many openings", "Wear or use"]),
    ("backpack", "blow_tube", "rubbed_through", "wear", ["rubs", "Wear or use"]),
    ("backpack", "harness", "split", "wear", ["frayed", "Wear or use"]),
    ("backpack", "engine_cover", "scuffed", "normal", ["only scuffs", "Normal marks of work"]),
    ("backpack", "engine_cover", "battered", "impact", ["dents, gouges", "speaks for abuse", "no ground against a fault that has nothing to do with the blows"]),
    ("backpack", "anti_static_wire", "noisy", "normal", ["First impeller, then housing, then the wire", "Normal and explained", "shock and an ignition hazard"]),
    ("backpack", "blow_tube", "noisy", "normal", ["ticking in the tube", "First impeller, then housing, then the anti-static wire", "shock and an ignition hazard"]),
    ("backpack", "anti_static_wire", "broken", "wear", ["measures open", "shock and an ignition hazard"]),
    ("backpack", "engine_cover", "loose", "upkeep", ["screw is loose and lets the cover flap", "Tighten"]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("family", "component", "condition", "cause", "says"),
    FACTS,
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_the_fact_is_in_the_table(family: str, component: str, condition: str, cause: str, says: list[str]) -> None:
    found = [row for row in table.evidence_for(component, condition, family) if row.points_to == cause]
    lacking = [[words for words in says if words not in text_of(row)] for row in found]
    assert [] in lacking, f"no row says all of it; lacking {lacking}"
    row = found[lacking.index([])]
    assert row.signs_against and row.precaution("two_stroke") and rows.PRACTICE.split(",")[0] in row.source


@pytest.mark.parametrize("row", table.table().rows, ids=lambda row: row.code)
def test_each_row_stands_by_itself(row: rows.EvidenceRow) -> None:
    """A row is shown alone at a finding: it leans on no other row, and its proof is something that is done."""
    for words in (row.prove, row.settled):
        assert not re.match(r"(As (above|for|on|the)|The same|Same as|See )", words), words
    done = r"photograph|picture|video|film|meter|measure|ohms|volts|hertz|pressure|gauge|test|compression|feeler|calliper|torque"
    done += r"|look|clean|read|press|vacuum|reader|load|resistance|code|try|ask|run|add up|gap"
    assert re.search(done, row.prove, re.I), row.prove


def test_wrong_order_and_spacer_cannot_be_called_a_defect_once_it_was_opened() -> None:
    """The sign decides: the same part is a defect only if it was never opened."""
    for component, condition in (("air_filter", "misfitted"), ("filter_spacer", "missing")):
        opened = {c.cause: c.standing for c in table.tell_apart(component, condition, "backpack", ["opened_before"])}
        sealed = {c.cause: c.standing for c in table.tell_apart(component, condition, "backpack", ["never_opened"])}
        assert (opened["assembly"], sealed["assembly"]) == ("supported", "ruled_out")


def test_the_tick_is_normal_only_with_the_wire_whole() -> None:
    """A broken wire rules 'normal' out and points to a fault that holds the unit."""
    ranked = {
        c.cause: c.standing for c in table.tell_apart("anti_static_wire", "noisy", "backpack", ["static_wire_open"])
    }
    assert ranked["normal"] == "ruled_out"
    assert ranked["wear"] == "supported"


def test_the_knock_is_told_apart_by_cleaning_alone() -> None:
    clean = {c.cause: c.standing for c in table.tell_apart("piston", "noisy", "saw", ["knock_gone_clean"])}
    pin = {c.cause: c.standing for c in table.tell_apart("piston_pin", "noisy", "saw", ["knock_gone_clean"])}
    assert (clean["normal"], pin["wear"]) == ("supported", "ruled_out")
