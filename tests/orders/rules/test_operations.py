"""The starting catalogue of labour operations, timed by the labour rules themselves."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

import pytest

from orders.rules import operations, trade
from orders.rules.labour import Rounding, labour_time
from orders.rules.strict import DataError


def test_there_are_forty_and_more_each_marked_as_practice() -> None:
    found = operations.catalogue().operations
    assert len(found) >= 40
    assert {item.source for item in found.values()} == {"common practice, no source"}


@pytest.mark.parametrize("family", ["saw", "trimmer", "backpack", "mower", "pump", "generator"])
def test_each_main_family_has_a_service_and_repairs(family: str) -> None:
    found = operations.operations_for(family, "four_stroke" if family not in ("saw",) else "two_stroke")
    assert len(found) >= 10
    assert [item.key for item in found if item.key.startswith("season_service")]


@pytest.mark.parametrize("key", sorted(operations.catalogue().operations))
def test_each_operation_takes_a_believable_time(key: str) -> None:
    time = labour_time(operations.catalogue().guide, [key], Rounding.UP)
    assert Decimal("0.1") <= time.hours <= Decimal("3.0")


def test_two_jobs_behind_one_cover_open_it_once() -> None:
    guide = operations.catalogue().guide
    together = labour_time(guide, ["fuel_line_hand", "primer_hand"], Rounding.HALF_UP)
    # by hand: 3 safe + 4 drain + 3 off + 12 line + 6 primer + 3 on + 8 run = 39 min
    assert together.minutes == Decimal(39)
    assert together.hours == Decimal("0.7")
    assert "engine cover off once" in together.saving


def test_what_is_taken_off_is_put_back() -> None:
    """Every operation that takes a cover, muffler, carburettor, shroud, bar, blade or starter off puts it back."""
    guide = operations.catalogue().guide
    partners = {gone: step.key for step in guide.steps.values() for gone in step.undoes}
    assert {"hc_muffler_off", "hc_cover_off", "mw_blade_off", "sw_bar_off", "wh_shroud_off"} <= partners.keys()
    for item in guide.operations.values():
        needed = guide.closure(item.steps)
        left_open = {step for step in needed & partners.keys() if partners[step] not in needed}
        assert not left_open, f"{item.key} leaves {left_open}"


def test_no_operation_removes_a_guard_or_an_emission_control() -> None:
    """40 CFR 1068.101(b)(1) (edition 2021 to 2023): no removing or disabling of emission controls."""
    said = [item.words for item in operations.catalogue().operations.values()]
    said += [step.words for step in operations.catalogue().guide.steps.values()]
    bad = re.compile(
        r"(remov|delet|bypass|disabl|leave out|drill|open up).*(catalyst|screen|guard|limiter|brake|switch)", re.I
    )
    assert not [words for words in said if bad.search(words)]


def test_operations_for_a_component_and_refusals() -> None:
    assert [o.key for o in operations.operations_for("saw", "two_stroke", "chain_brake")] == ["saw_brake"]
    assert "fuel_line_hand" not in {o.key for o in operations.operations_for("saw", "battery")}
    assert "fuel_line_hand" in {o.key for o in operations.operations_for("saw", "unknown")}
    with pytest.raises(trade.UnknownCode, match="near to it: chain_brake"):
        operations.operations_for("saw", "two_stroke", "chain_brak")


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ("steps: [sw_sharpen]", "steps: [sw_sharpn]", "near to it: sw_sharpen"),
        ("{key: hc_rope,", "{key: hc_plug,", "the step 'hc_plug' stands already"),
        ("minutes: 12, needs: [hc_safe]}", "minutes: twelve, needs: [hc_safe]}", "expected a number"),
        ("components: [saw_chain]", "components: [blade]", "none of these families has a mower blade"),
        ("{key: hc_safe, words: \"machine made safe and cleaned outside\", minutes: 3}", "{key: hc_safe, words: x, minutes: 3, needs: [hc_run]}", "hc_"),
    ],
)  # fmt: skip
def test_a_broken_catalogue_is_refused(tmp_path: Path, old: str, new: str, problem: str) -> None:
    text = (trade.DATA / "operations.yaml").read_text("utf-8")
    assert old in text
    path = tmp_path / "operations.yaml"
    path.write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(DataError, match=r"^operations\.yaml") as caught:
        operations.load_catalogue(path)
    assert problem in str(caught.value)
