"""What may and what may not justify a refusal of the emission warranty: 40 CFR 1068.115 and 1054.125.

Text of title 40 seen between 2021 and 2023 (paragraphs 104092, 102111, 102112, 102114 of
github.com/codexstanford/markdown-chunk-of-the-usa-code-of-federal-regulation).
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.warranty.coverage.kit import FEDERAL, decided, finding, unit
from warranty.coverage.vocabulary import CAUSES

EXHAUST = "us-emission-exhaust"

# source; facts of the unit; facts of the finding: none of these may be a ground
FORBIDDEN: list[tuple[str, dict[str, Any], dict[str, Any]]] = [
    ("1068.115(b)(1) service by authorised places", {"serviced_by": "authorised"}, {"cause": "assembly", "done_by": "authorised"}),
    ("1068.115(b)(1) service by the maker", {"serviced_by": "authorised"}, {"cause": "assembly", "done_by": "maker"}),
    ("1068.115(b)(1) changed by authorised places", {}, {"cause": "modification", "done_by": "authorised"}),
    ("1068.115(b)(2) emergency repair", {"emergency_repair": True}, {"cause": "modification", "done_by": "owner"}),
    ("1068.115(b)(2) emergency repair, put together", {"emergency_repair": True}, {"cause": "assembly", "done_by": "owner"}),
    ("1068.115(b)(3) unrelated modification", {"modified": True}, {"cause": "defect"}),
    ("1068.115(b)(3) records not kept", {"maintenance_records": False}, {"cause": "defect"}),
    ("1068.115(b)(5) part left out by the maker", {}, {"cause": "missing_part", "done_by": "maker"}),
    ("1068.115(b)(6) E0", {"fuel": "e0"}, {"cause": "fuel_oil"}),
    ("1068.115(b)(6) E10", {"fuel": "e10"}, {"cause": "fuel_oil"}),
    ("1068.115(b)(6) E15, manual silent", {"fuel": "e15", "manual_forbids_fuel": False}, {"cause": "fuel_oil"}),
    ("1068.115(b)(6) E15, no other fuel to be had", {"fuel": "e15", "manual_forbids_fuel": True, "proper_fuel_at_hand": False},
     {"cause": "fuel_oil"}),
    ("1054.125(d) deposits", {}, {"cause": "upkeep", "upkeep_item": "combustion_deposits"}),
    ("1054.125(d) valve seats", {}, {"cause": "upkeep", "upkeep_item": "valve_seats"}),
    ("1054.125(b) recommended only", {}, {"cause": "upkeep", "upkeep_item": "recommended_extra"}),
    ("1054.125(f) independent shop", {"serviced_by": "independent"}, {"cause": "defect"}),
    ("1054.125(f) parts of another make", {"other_parts": True}, {"cause": "defect"}),
]  # fmt: skip

# 1068.115(a): caused by improper maintenance or use, or by accidents: a ground
GROUNDS: list[tuple[str, dict[str, Any], dict[str, Any]]] = [
    ("abuse or accident", {}, {"cause": "impact", "done_by": "owner"}),
    ("air filter left undone", {}, {"cause": "upkeep", "upkeep_item": "air_filter", "done_by": "owner"}),
    ("spark plug left undone", {}, {"cause": "upkeep", "upkeep_item": "spark_plug", "done_by": "owner"}),
    ("stale fuel", {"fuel": "stale"}, {"cause": "fuel_oil", "done_by": "owner"}),
    ("no oil in the mix", {"fuel": "no_oil_in_mix"}, {"cause": "fuel_oil", "done_by": "owner"}),
    (
        "E15 against the manual, proper fuel at hand",
        {"fuel": "e15", "manual_forbids_fuel": True},
        {"cause": "fuel_oil", "done_by": "owner"},
    ),
    ("owner's own modification", {"modified": True}, {"cause": "modification", "done_by": "owner"}),
    ("owner's own assembly", {}, {"cause": "assembly", "done_by": "owner"}),
    ("part taken off by the owner", {}, {"cause": "missing_part", "done_by": "owner"}),
    ("wear is no defect", {}, {"cause": "wear"}),
    ("environment is no defect", {}, {"cause": "environment", "done_by": "nobody"}),
]


@pytest.mark.parametrize(("source", "machine", "found"), FORBIDDEN, ids=[row[0] for row in FORBIDDEN])
def test_never_a_ground(source: str, machine: dict[str, Any], found: dict[str, Any]) -> None:
    decision = decided(unit(**machine), finding(**found), FEDERAL)
    assert decision.answer == "covered", source


@pytest.mark.parametrize(("why", "machine", "found"), GROUNDS, ids=[row[0] for row in GROUNDS])
def test_a_ground(why: str, machine: dict[str, Any], found: dict[str, Any]) -> None:
    decision = decided(unit(**machine), finding(**found), FEDERAL)
    assert decision.answer == "not_covered", why


def test_the_forbidden_grounds_are_named_with_the_term_they_bind_and_their_rule() -> None:
    named = {(one.ground, one.source) for one in decided(unit(), None, FEDERAL).forbidden if one.term == EXHAUST}
    for ground, rule in (
        ("makers_service", "1068.115(b)(1)"), ("emergency_repair", "1068.115(b)(2)"), ("unrelated_conduct", "1068.115(b)(3)"),
        ("extra_maintenance", "1068.115(b)(4)"), ("makers_fault", "1068.115(b)(5)"), ("common_fuel", "1068.115(b)(6)"),
        ("improper_maintenance", "1054.125(d)"), ("service_elsewhere", "1054.125(f)"),
    ):  # fmt: skip
        assert any(one == ground and rule in source for one, source in named), (ground, rule)


AUTHORED = ("fuel_oil", "upkeep", "impact", "environment", "assembly", "missing_part", "modification")


@pytest.mark.parametrize("cause", AUTHORED)
@pytest.mark.parametrize(("author", "rule"), [("maker", "1068.115(b)"), ("authorised", "1068.115(b)(1)")])
def test_what_the_maker_or_its_service_did_or_left_is_no_ground_whatever_the_cause(
    cause: str, author: str, rule: str
) -> None:
    """Even against stale fuel or an air filter left undone: 1068.115(b)(1), and (b)(5) for the maker itself."""
    for component in ("carburettor", "fuel_line"):  # one of each side
        found = finding(cause=cause, done_by=author, upkeep_item="air_filter", component=component)
        decision = decided(unit(fuel="stale"), found, FEDERAL)
        assert decision.answer == "covered", component
        step = next(s for one in decision.tried if one.outcome == "holds" for s in one.steps if s.rule == "cause")
        assert rule in step.source or cause in ("assembly", "missing_part")


@pytest.mark.parametrize("cause", AUTHORED)
def test_who_did_or_left_it_settles_whether_there_is_a_ground(cause: str) -> None:
    """Not known, it cannot be said: the maker's own service may have done it."""
    found = finding(cause=cause, upkeep_item="air_filter")
    unknown = decided(unit(fuel="stale"), found, FEDERAL)
    assert unknown.answer == "cannot_say_yet"
    assert "finding.done_by" in [one.fact for one in unknown.settling]
    for author in ("owner", "other_shop", "nobody"):
        known = decided(unit(fuel="stale"), finding(cause=cause, upkeep_item="air_filter", done_by=author), FEDERAL)
        assert known.answer == "not_covered"


def test_wear_is_nobodys_work() -> None:
    assert decided(unit(), finding(cause="wear", done_by="authorised"), FEDERAL).answer == "not_covered"


def test_a_ground_that_is_forbidden_is_never_the_reason_of_a_refusal() -> None:
    """Every cause with every author and item: a refusal never rests on a ground that the rules forbid there."""
    for cause in CAUSES:
        for author in ("maker", "authorised", "owner", "other_shop", "nobody"):
            for item in ("combustion_deposits", "air_filter", "recommended_extra"):
                decision = decided(unit(), finding(cause=cause, done_by=author, upkeep_item=item), FEDERAL)
                if cause == "upkeep" and item != "air_filter":
                    assert decision.answer == "covered"
                if cause == "assembly":
                    assert (decision.answer == "covered") is (author in ("maker", "authorised"))
