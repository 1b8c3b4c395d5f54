"""What the maintenance schedule does not say is supposed aloud: the words name the supposition, and who would know."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from tests.warranty.coverage.kit import CALIFORNIA, FEDERAL, decided, finding, unit
from warranty.coverage.words import words

Schedule = dict[str, tuple[int | None, Decimal | None]] | None
TAKEN = "taken"


def told(schedule: Schedule, component: str = "carburettor", terms: Any = CALIFORNIA) -> str:
    machine = unit(region="US-CA", replacement_schedule=schedule)
    return "\n".join(words(decided(machine, finding(component=component), terms)))


@pytest.mark.parametrize(
    ("schedule", "says"),
    [
        (None, "no schedule of replacements is recorded; it is taken that the maker does not schedule this part"),
        ({"spark_plug": (12, None)}, "the recorded schedule does not name this part; it is taken as not scheduled"),
        ({}, "it is recorded that nothing is scheduled for replacement"),
    ],
)
def test_a_part_that_no_schedule_names_is_said_to_be_taken_as_not_scheduled(schedule: Schedule, says: str) -> None:
    text = told(schedule)
    assert says in text
    assert ("read the maintenance schedule to be sure" in text) is (schedule != {})  # asserted, nothing is supposed
    assert text.startswith("Covered")
    assert "The answer would change if this turned out otherwise:" in text and "schedule of replacements" in text


def test_a_part_that_makers_commonly_schedule_is_asked_and_not_supposed() -> None:
    machine = unit(region="US-CA", replacement_schedule=None)
    decision = decided(machine, finding(component="spark_plug"), CALIFORNIA)
    assert decision.answer == "cannot_say_yet"
    (asked,) = [one for one in decision.settling if one.fact == "unit.replacement_schedule"]
    assert dict(asked.values) == {"not scheduled": "covered", "scheduled": "not_covered"}
    assert TAKEN not in told(None, "spark_plug")


def test_a_part_that_is_in_the_schedule_is_judged_by_it_and_nothing_is_supposed() -> None:
    assert TAKEN not in told({"carburettor": (60, None)})
    assert told({"carburettor": (6, None)}).startswith("Not covered")


def test_a_term_that_does_not_turn_on_a_schedule_says_nothing_of_it() -> None:
    assert "schedule" not in told(None, terms=FEDERAL)
