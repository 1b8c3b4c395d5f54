"""Appendix A to 40 CFR part 1068 (earlier Appendix I): each entry is mapped to our components, and none is left over.

Text of title 40 seen between 2021 and 2023, paragraph 104201 of
github.com/codexstanford/markdown-chunk-of-the-usa-code-of-federal-regulation; classification cases of published.md 1.3.
"""

from __future__ import annotations

import pytest

from orders.rules.trade import trade
from tests.warranty.coverage.kit import FEDERAL, decided, finding, unit
from warranty.coverage.loader import text_of
from warranty.coverage.terms import component_lists

LISTS = {row["name"]: row for row in component_lists(text_of("federal_emission.yaml"), "federal_emission.yaml")}
EXHAUST = [
    "I.1 Air-induction system", "I.2 Fuel system", "I.3 Ignition system", "I.4 Exhaust gas recirculation systems",
    "II.1 Aftertreatment devices", "II.2 Crankcase ventilation valves", "II.3 Sensors", "II.4 Electronic control units",
    "IV Any other critical emission-related component",
]  # fmt: skip
EVAPORATIVE = [
    "Fuel tank", "Fuel cap", "Fuel line", "Fuel line fittings", "Clamps", "Pressure relief valves", "Control valves",
    "Control solenoids", "Electronic controls", "Vacuum control diaphragms", "Control cables", "Control linkages",
    "Purge valves", "Vapor hoses", "Liquid/vapor separator", "Carbon canister", "Canister mounting brackets",
    "Carburetor purge port connector",
]  # fmt: skip
ENTRIES = [
    *[("us-exhaust", name) for name in EXHAUST],
    *[("us-evaporative", f"III.{number} {name}") for number, name in enumerate(EVAPORATIVE, 1)],
]


@pytest.mark.parametrize(("name", "entry"), ENTRIES)
def test_each_entry_is_mapped_to_components_that_the_term_covers(name: str, entry: str) -> None:
    row = next(one for one in LISTS[name]["entries"] if one["entry"] == entry)  # type: ignore[attr-defined]
    term = next(
        one for one in FEDERAL if one.id == {"us-exhaust": "us-emission-exhaust"}.get(name, "us-emission-evaporative")
    )
    if row["none_because"]:
        assert not row["codes"]
    else:
        assert row["codes"]
        assert set(row["codes"]) <= term.components


def test_no_entry_of_ours_is_beyond_the_appendix() -> None:
    ours = [(name, entry["entry"]) for name, row in LISTS.items() for entry in row["entries"]]  # type: ignore[attr-defined]
    assert sorted(ours) == sorted(ENTRIES)


def test_the_terms_cover_nothing_that_no_entry_names() -> None:
    for term in FEDERAL:
        name = "us-exhaust" if term.id == "us-emission-exhaust" else "us-evaporative"
        named = {code for entry in LISTS[name]["entries"] for code in entry["codes"]}  # type: ignore[attr-defined]
        assert named == term.components


HELD_IN = ("fuel_tank", "tank_grommet", "fuel_cap")
SYSTEMS = ("air_induction", "fuel", "ignition", "exhaust_recirculation")


def test_any_part_of_the_four_systems_counts() -> None:
    """I: 'any engine parts related to the following systems'; the fuel itself is no part, and what keeps it in stands under III."""
    exhaust = next(one for one in FEDERAL if one.id == "us-emission-exhaust")
    for part in trade().components.values():
        if part.system in SYSTEMS and part.code not in ("fuel", *HELD_IN):
            assert part.code in exhaust.components, part.code


CLASSIFIED = [
    ("spark_plug", True), ("air_filter", True), ("carburettor", True), ("fuel_cap", True), ("muffler", False),
    ("blade", False), ("belt", False), ("wheel", False), ("harness", False), ("engine_cover", False),
    ("muffler_catalyst", True), ("fuel_line", True), ("ignition_module", True),
]  # fmt: skip


@pytest.mark.parametrize(("part", "related"), CLASSIFIED)
def test_classification_cases(part: str, related: bool) -> None:
    assert decided(unit(), finding(component=part), FEDERAL).answer == ("covered" if related else "not_covered")


def test_group_three_makes_nothing_emission_related_off_evaporative_standards() -> None:
    canister = finding(component="carbon_canister")
    assert decided(unit(evaporative=True), canister, FEDERAL).answer == "covered"
    assert decided(unit(evaporative=False), canister, FEDERAL).answer == "not_covered"
    assert decided(unit(evaporative=None), canister, FEDERAL).answer == "cannot_say_yet"


STANDARDS = [(True, "covered"), (False, "not_covered"), (None, "cannot_say_yet")]


@pytest.mark.parametrize("part", HELD_IN)
@pytest.mark.parametrize(("under", "answer"), STANDARDS)
def test_tank_and_cap_count_only_under_evaporative_standards(part: str, under: bool | None, answer: str) -> None:
    """Classification case of the appendix: 'fuel cap: yes if the unit is subject to evaporative standards'."""
    assert decided(unit(evaporative=under), finding(component=part), FEDERAL).answer == answer


@pytest.mark.parametrize(
    "part", ["fuel_line", "line_fitting", "hose_clamp", "primer_bulb", "carburettor", "fuel_filter"]
)
@pytest.mark.parametrize("under", [True, False, None])
def test_what_feeds_the_engine_counts_with_or_without_them(part: str, under: bool | None) -> None:
    """1054.120(c) and I.2: a fuel line's failure raises the engine's own emissions."""
    assert decided(unit(evaporative=under), finding(component=part), FEDERAL).answer == "covered"
