"""What a shop may not do and which record it keeps: 40 CFR 1068.101(b)(1) and 1068.120.

Text of title 40 seen between 2021 and 2023 (paragraphs 104074 and 104093 of
github.com/codexstanford/markdown-chunk-of-the-usa-code-of-federal-regulation).
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from warranty.coverage.operations import duties, refused, told


@pytest.mark.parametrize("action", ["remove", "disable", "bypass", "alter", "leave_out"])
@pytest.mark.parametrize(
    "part", ["muffler_catalyst", "mixture_limiter", "carbon_canister", "egr_valve", "crankcase_valve"]
)
def test_taking_an_emission_control_out_is_never_a_repair(action: str, part: str) -> None:
    found = refused(action, part)
    assert found is not None
    assert "1068.101(b)(1)" in found.source


@pytest.mark.parametrize("action", ["replace", "repair", "clean", "adjust", "rebuild"])
def test_repairing_and_restoring_it_is(action: str) -> None:
    assert refused(action, "muffler_catalyst") is None


def test_the_spark_screen_is_not_left_out_either() -> None:
    found = refused("leave_out", "spark_screen")
    assert found is not None
    assert "from memory" in found.source


def test_an_ordinary_part_may_be_taken_off() -> None:
    assert refused("remove", "blade") is None


def test_an_unknown_operation_is_an_error_that_names_it() -> None:
    with pytest.raises(ValueError, match="polish"):
        refused("polish", "muffler_catalyst")


SIZES = [("79", 0), ("224.9", 0), ("225", 1), ("389", 1)]


@pytest.mark.parametrize(("displacement", "count"), SIZES)
def test_a_rebuild_at_or_above_225_cc_leaves_a_record_for_two_years(displacement: str, count: int) -> None:
    """1068.120(j) and (k): not for spark-ignition engines below 225 cc; kept at least two years."""
    found = duties([("replace", "piston")], "four_stroke", Decimal(displacement))
    assert len(found) == count
    assert all(one.sure and one.keep_years == 2 and len(one.record) == 4 for one in found)


def test_a_diesel_is_not_excepted_and_an_electric_machine_has_no_engine() -> None:
    assert len(duties([("replace", "piston")], "diesel", Decimal(100))) == 1
    assert duties([("replace", "piston")], "battery", None) == ()


def test_with_the_displacement_not_known_the_record_is_kept_to_be_safe() -> None:
    (found,) = duties([("rebuild", "cylinder")], "four_stroke", None)
    assert found.sure is False


def test_common_unscheduled_work_is_no_rebuild() -> None:
    """1068.120(b)(2): maintenance that commonly occurs within the useful life is not rebuilding."""
    assert duties([("replace", "carburettor"), ("repair", "fuel_pump")], "four_stroke", Decimal(389)) == ()


@pytest.mark.parametrize("part", ["piston", "cylinder", "connecting_rod", "crankshaft", "crankcase"])
def test_each_part_of_the_power_assembly_that_is_replaced_is_a_rebuild(part: str) -> None:
    """1068.120(b): a major overhaul in which pistons or power assemblies are replaced."""
    (found,) = duties([("replace", part)], "four_stroke", Decimal(389))
    assert (found.sure, found.doubt) == (True, "")
    assert "1068.120(b)" in found.source


@pytest.mark.parametrize("part", ["piston_ring", "piston_pin", "bearing", "camshaft"])
def test_smaller_parts_may_be_a_rebuild_and_the_duty_says_that_it_is_in_doubt(part: str) -> None:
    """1068.120(b): 'other changes that significantly increase the service life'."""
    (found,) = duties([("replace", part)], "four_stroke", Decimal(389))
    assert (found.sure, found.doubt) == (False, "extent")
    (both,) = duties([("replace", part), ("replace", "piston")], "four_stroke", Decimal(389))
    assert both.doubt == ""


def test_cleaning_the_piston_is_no_rebuild() -> None:
    assert duties([("clean", "piston"), ("repair", "cylinder")], "four_stroke", Decimal(389)) == ()


def test_taking_off_and_putting_back_is_no_tampering() -> None:
    """1068.101(b)(1)(i): to repair it, and restored to proper functioning when the repair is complete."""
    assert refused("refit", "muffler_catalyst") is None


TOLD = [
    ("Remove the catalyst.", "muffler_catalyst"),
    ("Catalyst was removed", "muffler_catalyst"),
    ("Gutted the old cat, more power now", "muffler_catalyst"),
    ("Muffler cleaned. Left out the spark screen.", "spark_screen"),
    ("EGR valve blocked off", "egr_valve"),
    ("Removed limiter caps and set it richer", "mixture_limiter"),
    ("Leave the spark screen and converter out", "spark_screen"),
    ("Take the catalyst out, replace spark plug", "muffler_catalyst"),
    ("Remove the catalyst, new spark plug", "muffler_catalyst"),
    ("Hollow out the catalyst", "muffler_catalyst"),
    ("Take catalyst out of muffler", "muffler_catalyst"),
    ("Catalyst element discarded", "muffler_catalyst"),
    ("Disconnect oxygen sensor", "oxygen_sensor"),
    ("Remove catalyst element and refit the muffler without it", "muffler_catalyst"),
    ("pulled limiter caps off", "mixture_limiter"),
    ("cut the limiter tabs off", "mixture_limiter"),
    ("cap off the charcoal canister", "carbon_canister"),
    ("take the spark arrestor out", "spark_screen"),
    ("Catalyst removed, spark plug replaced", "muffler_catalyst"),
    ("Removed catalyst and refitted the muffler", "muffler_catalyst"),
    ("Remove the catalyst. Air filter replaced.", "muffler_catalyst"),
    ("Customer does not like the noise, removed the spark screen", "spark_screen"),
    ("Gutted the cat, new gasket fitted", "muffler_catalyst"),
    ("Hollow the catalyst, restore the finish of the cover", "muffler_catalyst"),
    ("Delete the EGR", "egr_valve"),
    ("EGR delete, new air filter", "egr_valve"),
    ("Plug the EGR valve", "egr_valve"),
    ("Block the EGR valve and reinstall the cover", "egr_valve"),
    ("Bypass the purge valve", "purge_valve"),
    ("Muffler straight pipe fitted", "muffler_catalyst"),
    ("Straight-pipe the exhaust", "muffler_catalyst"),
    ("Replace the catalyst with a straight pipe", "muffler_catalyst"),
    ("Catalyst replaced by an empty shell", "muffler_catalyst"),
    ("Catalyst removed and not refitted", "muffler_catalyst"),
    ("Do not refit the spark screen", "spark_screen"),
    ("Spark screen left out, new muffler gasket", "spark_screen"),
    ("Knock the catalyst out", "muffler_catalyst"),
    ("Catalytic converter was cut out; carburettor renewed", "muffler_catalyst"),
    ("Charcoal canister bypassed, fuel line replaced", "carbon_canister"),
    ("Unplug the O2 sensor, reset", "oxygen_sensor"),
    ("Refit the muffler without the catalyst", "muffler_catalyst"),
    ("Run it without the spark arrester", "spark_screen"),
    ("Got rid of the catalyst, new muffler", "muffler_catalyst"),
    ("Take the old catalyst out and put the muffler back on", "muffler_catalyst"),
    ("Threw away the spark screen", "spark_screen"),
    ("Limiter caps pulled off, new screws", "mixture_limiter"),
    ("Drill out the catalyst, clean and refit the muffler", "muffler_catalyst"),
    ("Catalyst taken out, refit muffler", "muffler_catalyst"),
    ("Gutted muffler", "muffler_catalyst"),
    ("Muffler gutted", "muffler_catalyst"),
    ("Removed the baffles and catalyst", "muffler_catalyst"),
    ("Cut catalyst from muffler", "muffler_catalyst"),
    ("Catalyst honeycomb ripped out of the muffler", "muffler_catalyst"),
    ("Drilled holes through the catalyst", "muffler_catalyst"),
    ("Catalyst element rattled, discarded", "muffler_catalyst"),
    ("Replace muffler with non-catalyst muffler", "muffler_catalyst"),
    ("Plugged EGR", "egr_valve"),
    ("Clipped limiter caps", "mixture_limiter"),
    ("De-cat the exhaust", "muffler_catalyst"),
    ("Catalyst binned", "muffler_catalyst"),
    ("Catalyst tossed", "muffler_catalyst"),
    ("Catalyst was punched through", "muffler_catalyst"),
    ("Strip catalyst out", "muffler_catalyst"),
    ("unhook the oxygen sensor", "oxygen_sensor"),
    ("Pulled limiter caps and richened high jet", "mixture_limiter"),
    ("Install straight-through muffler in place of catalytic muffler", "muffler_catalyst"),
    ("Muffler hollowed out", "muffler_catalyst"),
    ("Gut the silencer", "muffler_catalyst"),
    ("Tossed the spark arrestor in the bin", "spark_screen"),
    ("Catalyst ripped out", "muffler_catalyst"),
    ("Limiter caps snipped", "mixture_limiter"),
    ("Broke the limiter tabs, discarded", "mixture_limiter"),
    ("Decatted the muffler", "muffler_catalyst"),
    ("Fitted a catalyst-free muffler", "muffler_catalyst"),
    ("O2 sensor unhooked", "oxygen_sensor"),
    ("Poked holes in the spark screen", "spark_screen"),
    ("Swapped catalytic muffler for a straight-through muffler", "muffler_catalyst"),
    ("Fit muffler without catalyst", "muffler_catalyst"),
    ("Spark screen chucked", "spark_screen"),
    ("Catalyst stripped out of the can", "muffler_catalyst"),
    ("Ground off the limiter caps", "mixture_limiter"),
    ("Catalyst bored through", "muffler_catalyst"),
    ("Carbon canister ditched", "carbon_canister"),
    ("Removed spark arrestor, cleaned the muffler", "spark_screen"),
    ("Removed catalyst to reach more power", "muffler_catalyst"),
    ("Customer refused cleaning, removed catalyst", "muffler_catalyst"),
    ("Removed catalyst for more power", "muffler_catalyst"),
    ("EGR valve removed and cleaned the muffler", "egr_valve"),
    ("Remove limiter caps, adjust", "mixture_limiter"),
    ("Customer asked to remove catalyst; done", "muffler_catalyst"),
    ("Gutted the catalyst and refitted it", "muffler_catalyst"),
    ("Removed spark arrestor for cleaning, not refitted", "spark_screen"),
    ("Removed the spark screen for cleaning, discarded", "spark_screen"),
    ("Removed limiter caps to adjust", "mixture_limiter"),
]
NOT_TOLD = [
    "Remove and refit the catalyst",
    "Replace the catalyst",
    "New catalyst fitted",
    "Remove the catalyst, clean the port, refit it",
    "Take the catalyst out, inspect it, put it back",
    "Old catalyst removed, new catalyst fitted",
    "Fitted new catalyst, old catalyst discarded",
    "Catalyst removed by the owner; fitted new one",
    "Removed the muffler and the catalyst, cleaned the port, refitted both",
    "Spark screen removed, cleaned and refitted",
    "Take spark screen out, clean and refit",
    "Took the spark screen off, cleaned it, put it back with a new gasket",
    "Remove spark screen, replace spark screen",
    "Blocked spark screen cleaned",
    "Spark screen plugged with carbon, cleaned",
    "Replace the blocked catalyst",
    "Clean the plugged spark arrester",
    "Removed carbon from spark screen",
    "Disconnect oxygen sensor, test it, reconnect",
    "Oxygen sensor disconnected and reconnected",
    "Replace spark plug and check the catalyst",
    "New spark plug, catalyst checked",
    "Check plug and catalyst",
    "Do not remove the catalyst",
    "The catalyst must not be removed",
    "Catalyst was never removed.",
    "Don't take the spark screen out",
    "Cleaned the port without removing the catalyst",
    "Customer asked to remove the catalyst, declined",
    "Removed catalyst heat shield",
    "Removed spark screen screws",
    "Remove torque converter",
    "Fuel cap removed, tank drained",
    "Straight pipe on the pump's outlet replaced",
    "Catalyst rattles",
    "Replace limiter caps",
    "Removed limiter caps, set the mixture, fitted new limiter caps",
    "Removed straight pipe from muffler, fitted new catalyst",
    "Canister hose replaced",
    "Category removed from the list",
    "Charcoal canister removed, tank replaced, canister hose fitted, charcoal canister reinstalled",
    "Remove muffler, refit muffler",
    "Clean cap and canister",
    "Catalyst gutted by the last owner, replace it",
    "Fit catalyst free of charge",
    "Cut catalyst muffler gasket",
    "Removed catalyst muffler bolts",
    "Install catalyst free under the plan",
    "Customer asked to remove catalyst; refused",
    "Removed spark arrestor for cleaning",
    "EGR valve removed and cleaned",
    "Remove limiter caps, adjust, refit caps",
    "Remove catalyst muffler to reach the cylinder",
    "Asked to gut the muffler, declined",
    "Removed the oxygen sensor for testing",
    "Remove muffler with catalyst to get at the exhaust port",
    "Spark screen taken out, brushed clean",
    "Limiter caps removed to adjust, caps refitted",
    "Customer wanted the limiter caps off; we declined",
    "Remove EGR valve for inspection",
    "Oxygen sensor disconnected to reach the plug",
    "Muffler clipped to the bracket",
    "Replaced gutted muffler with a new catalytic muffler",
    "Catalyst removed, cleaned and refitted",
    "Muffler baffle broken, muffler replaced",
    "Replace non-catalyst muffler with catalytic muffler",
    "Replaced gutted muffler",
    "Clean muffler, catalyst tested",
    "Request to delete EGR: we refused",
    "Spark arrestor removed and washed",
    "Cut gasket for catalyst muffler",
    "Strip and clean carburettor, check catalyst",
    "Drilled holes for muffler bracket",
    "Muffler found gutted by previous owner, new muffler fitted",
    "Replace the ripped spark screen",
    "Found gutted catalyst, told the customer",
    "Plug the oxygen sensor in again",
    "Gutted muffler replaced",
    "Remove the catalyst muffler to get at the cylinder, refit",
    "",
]


@pytest.mark.parametrize(("text", "part"), TOLD)
def test_plain_words_tell_of_it_too(text: str, part: str) -> None:
    found = told(text)
    assert found is not None and found.component == part


@pytest.mark.parametrize("text", NOT_TOLD)
def test_words_that_tell_of_a_repair_or_of_something_else_do_not(text: str) -> None:
    assert told(text) is None


@pytest.mark.parametrize(
    ("power", "size", "doubt"),
    [
        (None, "100", "power"),
        (None, "224.9", "power"),
        (None, "225", ""),
        (None, None, "displacement"),
        ("diesel", "100", ""),
        ("diesel", None, ""),
        ("four_stroke", None, "displacement"),
        ("four_stroke", "225", ""),
    ],
)
def test_with_the_power_not_known_the_record_is_kept_to_be_safe(
    power: str | None, size: str | None, doubt: str
) -> None:
    """1068.120(j) excepts spark-ignition engines below 225 cc alone, and what may be a diesel may owe the record."""
    (found,) = duties([("replace", "piston")], power, None if size is None else Decimal(size))
    assert (found.doubt, found.sure) == (doubt, not doubt)
    (smaller,) = duties([("replace", "piston_ring")], power, None if size is None else Decimal(size))
    assert smaller.doubt == "extent"
