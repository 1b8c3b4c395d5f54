"""Half of the useful-life hours on the label: 40 CFR 1054.120(b)(3) with the figures of 1054.107 and the classes of 1054.801.

1054.107: https://ecfr.io/Title-40/Section-1054.107 (undated mirror, read). 1054.120 and 1054.801: text of title 40 seen
between 2021 and 2023. The half is computed.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from tests.warranty.coverage.kit import FEDERAL, decided, finding, unit
from warranty.coverage.engine_classes import engine_class, label_hours
from warranty.coverage.facts import MeterChange

HALVES = [
    (125, "62.5"),
    (250, "125"),
    (500, "250"),
    (1000, "500"),
    (50, "25"),
    (300, "150"),
    (3000, "1500"),
    (5000, "2500"),
]
TENTH = Decimal("0.1")


@pytest.mark.parametrize(("printed", "half"), HALVES)
def test_at_half_not_deniable_and_a_tenth_beyond_the_maker_may(printed: int, half: str) -> None:
    limit = Decimal(half)
    label = {"useful_life_hours": Decimal(printed)}
    for hours, invoked, answer in (
        (limit - TENTH, True, "covered"),
        (limit, True, "covered"),
        (limit + TENTH, True, "not_covered"),
        (limit + TENTH, False, "covered"),
        (limit + TENTH, None, "cannot_say_yet"),
    ):
        decision = decided(unit(hours=hours, hours_limit_invoked=invoked, engine=label), None, FEDERAL)
        assert decision.answer == answer, (hours, invoked)
        row = next(one for one in decision.tried if one.term == "us-emission-exhaust")
        assert row.hours_limit is not None
        assert (Decimal(row.hours_limit), row.hours_may_be_invoked) == (limit, True)


def test_without_a_meter_only_the_years_count() -> None:
    machine = unit(hour_meter=False, hours=None, engine={"useful_life_hours": None}, hours_limit_invoked=True)
    assert decided(machine, None, FEDERAL).answer == "covered"


def test_no_hour_rule_on_the_evaporative_side() -> None:
    """1060.120(b) says two years and nothing of hours."""
    machine = unit(hours=Decimal(9999), hours_limit_invoked=True)
    decision = decided(machine, finding(component="carbon_canister"), FEDERAL)
    assert decision.by == ("us-emission-evaporative",)


def test_a_replaced_meter_adds_what_the_old_one_showed() -> None:
    changes = (MeterChange(_day(), Decimal(100)), MeterChange(_day(), Decimal(20), Decimal(5)))
    at_limit = unit(hours=Decimal(10), meter_changes=changes, hours_limit_invoked=True)
    beyond = unit(hours=Decimal("10.1"), meter_changes=changes, hours_limit_invoked=True)
    assert decided(at_limit, None, FEDERAL).answer == "covered"  # 100 + 15 + 10 = 125, half of 250
    assert decided(beyond, None, FEDERAL).answer == "not_covered"


def _day() -> date:

    return date(2025, 1, 1)


CLASSES = [
    (False, "224.9", "I"), (False, "225.0", "II"), (True, "19.9", "III"), (True, "20.0", "IV"), (True, "49.9", "IV"),
    (True, "50.0", "V"), (True, "25.4", "IV"), (False, "190", "I"), (False, "656", "II"),
]  # fmt: skip


@pytest.mark.parametrize(("hand_held", "displacement", "code"), CLASSES)
def test_class_at_each_edge(hand_held: bool, displacement: str, code: str) -> None:
    assert engine_class(hand_held, Decimal(displacement)) == code


def test_a_class_is_not_guessed() -> None:
    assert engine_class(None, Decimal(190)) is None
    assert engine_class(True, None) is None


LISTED = {
    "I": (125, 250, 500),
    "II": (250, 500, 1000),
    "III": (50, 125, 300),
    "IV": (50, 125, 300),
    "V": (50, 125, 300),
}


@pytest.mark.parametrize(("code", "hours"), [(code, hours) for code, row in LISTED.items() for hours in row])
def test_each_hours_class_is_listed_and_its_neighbours_are_not(code: str, hours: int) -> None:
    assert label_hours(code, Decimal(hours)) == "listed"
    assert label_hours(code, Decimal(hours - 1)) == "odd"


@pytest.mark.parametrize(
    ("code", "hours", "kind"),
    [("I", 600, "longer"), ("I", 3000, "longer"), ("I", 3100, "odd"), ("I", 650, "odd"), ("II", 1100, "longer"),
     ("II", 5000, "longer"), ("II", 5100, "odd"), ("III", 400, "odd"), ("V", 1000, "odd")],
)  # fmt: skip
def test_longer_choices_go_by_hundreds_up_to_the_cap_and_never_for_hand_held(code: str, hours: int, kind: str) -> None:
    assert label_hours(code, Decimal(hours)) == kind
