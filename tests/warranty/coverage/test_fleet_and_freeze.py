"""A fleet's view of what runs out, and answers that stay as they were sent."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from tests.warranty.coverage.kit import FEDERAL, LAW, finding, unit
from warranty.coverage.decide import decide
from warranty.coverage.decision import from_json, to_json
from warranty.coverage.facts import UnitFacts
from warranty.coverage.fleet import fleet
from warranty.coverage.freeze import freeze, recompute, served
from warranty.coverage.known_defects import match
from warranty.coverage.words import words

LAST = date(2026, 5, 3)  # two years from the kit's sale
DAY = date(2025, 6, 1)


@pytest.mark.parametrize(("before", "seen"), [(61, False), (60, True), (1, True), (0, True), (-1, False)])
def test_what_runs_out_within_sixty_days(before: int, seen: bool) -> None:
    rows = list(fleet([unit()], FEDERAL, LAST - timedelta(days=before)))
    assert bool(rows) is seen
    if seen:
        assert {(row.unit, row.term, row.last_day, row.days_left, row.sure) for row in rows} == {
            ("u1", "us-emission-exhaust", LAST, before, True), ("u1", "us-emission-evaporative", LAST, before, True),
        }  # fmt: skip
        assert next(row for row in rows if row.term == "us-emission-exhaust").hours_left == Decimal(35)


def test_a_unit_whose_label_was_not_read_is_named_with_what_is_missing() -> None:
    rows = list(fleet([unit(engine={"part_1054": None})], FEDERAL, LAST))
    assert [row.sure for row in rows] == [False, False]
    assert all("assembly.part_1054" in row.missing for row in rows)


def test_a_unit_that_no_term_speaks_of_is_silent() -> None:
    assert list(fleet([unit(power="battery")], FEDERAL, LAST)) == []


def test_a_fleet_is_streamed() -> None:
    taken: list[int] = []

    def many() -> Iterator[UnitFacts]:
        for at in range(1000):
            taken.append(at)
            yield replace(unit(), ref=f"u{at}")

    first = next(iter(fleet(many(), FEDERAL, LAST)))
    assert (first.unit, taken) == ("u0", [0])


def test_the_stored_answer_is_served_byte_for_byte_and_recomputed_from_its_own_facts_and_terms() -> None:
    found = [finding(), finding(id="f2", component="blade", cause=None)]
    frozen = freeze(unit(hours=None), found, LAW, DAY)
    assert json.loads(frozen.facts)["as_of"] == "2025-06-01"
    assert {name: to_json(one) for name, one in served(frozen).items()} == frozen.decisions
    assert {name: to_json(one) for name, one in recompute(frozen).items()} == frozen.decisions


def test_changed_terms_change_no_stored_answer() -> None:
    frozen = freeze(unit(), [finding()], LAW, DAY)
    later = decide(unit(), [finding()], (), DAY)["f1"]
    assert later.answer == "not_covered"
    assert recompute(frozen)["f1"].answer == "covered"


def test_each_term_s_version_and_fingerprint_are_in_the_frozen_answer() -> None:
    record = json.loads(freeze(unit(), [finding()], LAW, DAY).decisions["f1"])
    known = {term.id: (term.version, term.fingerprint) for term in LAW}
    assert record["tried"]
    for one in record["tried"]:
        assert known[one["term"]] == (one["version"], one["fingerprint"])
    assert record["advice"] == "advice_only"


def test_what_is_no_frozen_decision_is_refused() -> None:
    for text in ("{}", '{"format": 99}', "[]"):
        with pytest.raises(ValueError, match="frozen decision"):
            from_json(text)


def test_the_explanation_says_that_it_is_advice_and_names_every_source() -> None:
    decision = decide(unit(), [finding()], LAW, DAY)["f1"]
    said = words(decision)
    assert "This is advice" in said[-1]
    for one in decision.tried:
        for step in one.steps:
            assert any(step.source in line for line in said)
    with pytest.raises(ValueError, match="'fr'"):
        words(decision, "fr")


def test_no_known_defects_is_no_match() -> None:
    assert match(unit(), [finding()], (), DAY) == ()
