"""California's warranty of small off-road engines: 13 CCR 2405 and 2406.

2405: current to Register 2024 No. 38 (20 September 2024),
https://regulations.justia.com/states/california/title-13/division-3/chapter-9/article-1/section-2405 , first part read;
the end of (c)(3) from memory, (c)(7) second-hand from a printed warranty statement. 2406: read.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from tests.warranty.coverage.kit import CALIFORNIA, ONE_DAY, decided, finding, on, unit
from warranty.coverage.decide import decide
from warranty.coverage.facts import RepairFacts
from warranty.coverage.loader import text_of
from warranty.coverage.terms import component_lists

HERE = {
    "region": "US-CA",
    "sold_on": date(2024, 3, 2),
    "delivered_on": date(2024, 3, 10),
    "first_service_on": date(2024, 3, 11),
}


@pytest.mark.parametrize(
    ("delivered", "last"),
    [
        (date(2024, 3, 10), date(2026, 3, 10)),
        (date(2024, 2, 29), date(2026, 2, 28)),
        (date(2023, 12, 31), date(2025, 12, 31)),
    ],
)
def test_two_years_from_delivery_to_the_purchaser(delivered: date, last: date) -> None:
    machine = unit(region="US-CA", delivered_on=delivered, sold_on=date(2023, 12, 1))
    for day, answer in ((last - ONE_DAY, "covered"), (last, "covered"), (last + ONE_DAY, "not_covered")):
        assert decided(machine, on(day), CALIFORNIA).answer == answer, day


@pytest.mark.parametrize("use", ["residential", "commercial", "rental"])
@pytest.mark.parametrize("owner", ["first", "later"])
def test_each_subsequent_purchaser_and_every_use(use: str, owner: str) -> None:
    assert decided(unit(**HERE, use_class=use, owner=owner), on(date(2026, 3, 10)), CALIFORNIA).answer == "covered"


@pytest.mark.parametrize(("built", "answer"), [(date(1994, 12, 31), "not_covered"), (date(1995, 1, 1), "covered")])
def test_engines_of_1995_and_later(built: date, answer: str) -> None:
    assert decided(unit(**HERE, build_date=built), on(date(2025, 1, 1)), CALIFORNIA).answer == answer


def test_a_replaced_part_has_only_the_rest_of_the_same_period() -> None:
    """(c)(1), the worked case of published.md 1.5."""
    repair = RepairFacts(date(2025, 11, 1), ("carburettor",), "authorised", under="us-ca-emission", new_part=True)
    machine = unit(**HERE, repairs=(repair,))
    assert decided(machine, on(date(2026, 3, 10)), CALIFORNIA).answer == "covered"
    assert decided(machine, on(date(2026, 3, 11)), CALIFORNIA).answer == "not_covered"


def test_a_part_scheduled_only_for_inspection_keeps_the_full_period() -> None:
    """(c)(2): it stands in no schedule of replacements."""
    assert decided(unit(**HERE, replacement_schedule={}), on(date(2026, 3, 10), component="spark_plug"), CALIFORNIA).by


@pytest.mark.parametrize(("hours", "answer"), [("99.9", "covered"), ("100", "covered"), ("100.1", "not_covered")])
def test_a_scheduled_part_up_to_its_first_replacement_by_hours(hours: str, answer: str) -> None:
    machine = unit(**HERE, hours=Decimal(hours), replacement_schedule={"spark_plug": (None, Decimal(100))})
    assert decided(machine, on(date(2025, 1, 1), component="spark_plug"), CALIFORNIA).answer == answer


@pytest.mark.parametrize(
    ("day", "answer"),
    [(date(2025, 3, 9), "covered"), (date(2025, 3, 10), "covered"), (date(2025, 3, 11), "not_covered")],
)
def test_a_scheduled_part_up_to_its_first_replacement_by_months(day: date, answer: str) -> None:
    machine = unit(**HERE, replacement_schedule={"air_filter": (12, None)})
    assert decided(machine, on(day, component="air_filter"), CALIFORNIA).answer == answer


def test_diagnosis_parts_and_labour_are_paid() -> None:
    """2406: repair at no cost, including diagnosis, parts and labour."""
    (row,) = decided(unit(**HERE), on(date(2025, 1, 1)), CALIFORNIA).tried
    assert {"diagnosis", "parts", "labour"} <= set(row.pays)


def test_missing_receipts_alone_are_no_ground() -> None:
    assert (
        decided(unit(**HERE, maintenance_records=False, purchase_proof="none"), on(date(2025, 1, 1)), CALIFORNIA).answer
        == "covered"
    )


def test_abuse_neglect_and_improper_maintenance_are() -> None:
    for cause in ("impact", "upkeep"):
        found = on(date(2025, 1, 1), cause=cause, upkeep_item="air_filter")
        assert decided(unit(**HERE), found, CALIFORNIA).answer == "not_covered"


def test_damage_to_other_engine_parts_follows_the_covered_part() -> None:
    """(c)(7), second-hand."""
    day = date(2025, 1, 1)
    carb = finding(id="carb", found_on=day)
    piston = finding(id="piston", component="piston", condition="scored", cause=None, caused_by="carb", found_on=day)
    wheel = finding(id="wheel", component="wheel", condition="loose", cause=None, caused_by="carb", found_on=day)
    answers = decide(unit(**HERE), [carb, piston, wheel], CALIFORNIA, day)
    assert {name: one.answer for name, one in answers.items()} == {
        "carb": "covered",
        "piston": "covered",
        "wheel": "not_covered",
    }


@pytest.mark.parametrize(
    ("region", "answer"),
    [("US-CA", "covered"), ("US-OH", "not_covered"), ("US", "cannot_say_yet"), (None, "cannot_say_yet")],
)
def test_it_is_california_s_alone(region: str | None, answer: str) -> None:
    assert decided(unit(**{**HERE, "region": region}), on(date(2025, 1, 1)), CALIFORNIA).answer == answer


# 13 CCR 2405 and the statement of 2406 as read (published.md 1.5): each entry, and what of ours belongs to it at least.
ENTRIES = {
    "carburettor or fuel injection system": {"carburettor", "fuel_injector", "fuel_line", "fuel_tank"},
    "ignition system": {"ignition_module", "spark_plug", "plug_lead"},
    "catalytic converter": {"muffler_catalyst"},
    "air induction": {"air_filter", "intake_boot", "choke"},
    "hoses, connectors and other emission-related assemblies": {"breather_hose", "crankcase_valve", "engine_control_unit"},
}  # fmt: skip


def test_each_entry_of_the_list_is_mapped_and_none_is_left_over() -> None:
    (listed,) = component_lists(text_of("california_emission.yaml"), "california_emission.yaml")
    entries = {str(one["entry"]): set(one["codes"]) for one in listed["entries"]}  # type: ignore[attr-defined]
    assert set(entries) == set(ENTRIES)
    for name, least in ENTRIES.items():
        assert least <= entries[name], name
    (term,) = CALIFORNIA
    assert set().union(*entries.values()) == term.components
    assert not {"blade", "harness", "engine_cover", "belt", "wheel", "fuel"} & term.components
