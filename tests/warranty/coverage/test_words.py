"""The explanation: every rule, ground and contradiction has words; the words say what was known and what each value would mean."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from tests.left_in_english import left_in_english
from tests.warranty.coverage.case_files import read_cases
from tests.warranty.coverage.kit import FEDERAL, LAW, decided, finding, unit
from warranty.coverage import vocabulary as v
from warranty.coverage.contradictions import contradictions
from warranty.coverage.decide import decide
from warranty.coverage.domains import GETTING
from warranty.coverage.facts import MeterChange
from warranty.coverage.phrases import FACTS, GROUNDS, PHRASES, ROUTES, WARNINGS
from warranty.coverage.reading_sections import RULES
from warranty.coverage.terms import term_from_dict
from warranty.coverage.words import words

DAY = date(2025, 6, 1)


def test_every_rule_ground_and_fact_has_words() -> None:
    assert set(GROUNDS) >= set(v.GROUNDS)
    assert all(len(three) == 3 for three in PHRASES.values())
    assert set(GETTING) <= set(FACTS)
    for case in read_cases():
        for decision in decide(case.unit, case.findings, case.terms, case.as_of).values():
            for one in decision.tried:
                for step in one.steps:
                    assert step.rule in PHRASES
                    assert step.fact in FACTS, step
                    assert step.outcome in (v.YES, v.NO, v.OPEN)
            for row in decision.settling:
                assert row.fact in FACTS
                assert row.how
            assert decision.route.way in ROUTES
            assert set(decision.warnings) <= set(WARNINGS)


def test_the_rules_that_a_term_may_cite_are_those_that_are_tried() -> None:
    assert set(PHRASES) - {"excludes"} <= set(RULES)


def test_every_worked_case_is_told_in_spanish_without_a_word_of_english() -> None:
    """By the terms of law alone: what a maker calls its promise stays as the shop typed it."""
    told = 0
    for case in read_cases():
        for decision in decide(case.unit, case.findings, LAW, case.as_of).values():
            spanish = words(decision, "es")
            assert len(spanish) == len(words(decision))
            assert [left for line in spanish for left in left_in_english(line)] == [], case.name
            told += len(spanish)
    assert told > 1500
    with pytest.raises(ValueError, match="'xx'"):
        words(decision, "xx")


def said(**known: object) -> str:
    return "\n".join(words(decided(unit(**known), finding(), FEDERAL)))


def test_the_period_and_the_hours_are_told_with_their_ends() -> None:
    text = said()
    assert "(found on 2025-06-01; the period runs from 2024-05-03 to 2026-05-03)" in text
    assert "(hours run: 90; the limit: 125, 50 percent of the hours on the label)" in text
    assert "exactly that much is still inside, a limit that the giver may, but need not, invoke" in text


def test_what_each_value_of_a_missing_day_would_mean_is_told_in_spans() -> None:
    text = said(sold_on=None, first_service_on=None, build_date=date(2020, 1, 1))
    assert "up to 2023-05-31: not covered; from 2023-06-01 on: covered" in text


def test_what_each_value_of_missing_hours_would_mean() -> None:
    text = said(hours=None, hours_limit_invoked=True)
    assert "up to 125: covered; from 125.1 on: not covered" in text


def test_facts_are_asked_in_the_order_of_their_cost() -> None:
    decision = decided(
        unit(use_class=None, sold_on=None, hours=None, engine={"part_1054": None}), finding(cause=None), LAW
    )
    costs = [one.cost for one in decision.settling]
    assert costs == sorted(costs)
    assert decision.settling[-1].fact == "finding.cause"


def test_each_value_s_meaning_is_what_deciding_with_it_gives() -> None:
    decision = decided(unit(evaporative=None), finding(component="carbon_canister"), FEDERAL)
    (only,) = decision.settling
    assert only.values == ((True, "covered"), (False, "not_covered"))
    for value, answer in only.values:
        assert decided(unit(evaporative=value), finding(component="carbon_canister"), FEDERAL).answer == answer


def test_the_grounds_never_to_be_given_are_told_with_their_rule() -> None:
    assert "service by a shop of the owner's choice [40 CFR 1054.125(f)]" in said()
    assert "wrong assembly (where the maker or its authorised shop did or left it) [40 CFR 1068.115(b)(1)]" in said()


CONTRADICTIONS = [
    ("sold_in_the_future", {"sold_on": date(2025, 6, 2)}, {}), ("built_after_it_was_sold", {"build_date": date(2024, 5, 4)}, {}),
    ("used_before_it_was_sold_new", {"first_service_on": date(2024, 5, 2)}, {}),
    ("registered_before_it_was_sold", {"registered_on": date(2024, 5, 2)}, {}),
    ("hours_without_a_meter", {"hour_meter": False}, {}), ("meter_ran_backwards", {"hours": Decimal(1), "meter_changes": (MeterChange(DAY, Decimal(1), Decimal(2)),)}, {}),
    ("other_parts_but_not_modified", {"other_parts": True}, {}),
    ("label_told_but_not_read", {"engine": {"label_read": False}}, {}),
    ("worn_though_new", {"sold_on": date(2025, 5, 25), "hours": Decimal(2)}, {"cause": "wear"}),
    ("never_opened_but_wrongly_assembled", {}, {"never_opened": True, "cause": "assembly", "done_by": "owner"}),
    ("modified_though_said_not_to_be", {}, {"cause": "modification"}), ("found_before_it_was_sold", {}, {"found_on": date(2024, 5, 2)}),
    ("in_order_but_with_a_cause", {}, {"condition": "ok"}),
]  # fmt: skip


@pytest.mark.parametrize(("code", "machine", "found"), CONTRADICTIONS, ids=[row[0] for row in CONTRADICTIONS])
def test_each_contradiction_is_named_and_the_plain_unit_has_none(
    code: str, machine: dict[str, object], found: dict[str, object]
) -> None:
    assert contradictions(unit(), [finding()], DAY) == ()
    assert code in contradictions(unit(**machine), [finding(**found)], DAY)


def test_something_normal_that_is_said_to_be_caused_is_a_contradiction() -> None:
    pair = [finding(), finding(id="f2", cause="normal", caused_by="f1")]
    assert "normal_but_caused" in contradictions(unit(), pair, DAY)
    assert decide(unit(), pair, LAW, DAY)["f2"].warnings == ("normal_but_caused",)


@pytest.mark.parametrize(("days", "narrow"), [(1, True), (60, True), (61, False)])
def test_goodwill_only_within_sixty_days_of_the_end(days: int, narrow: bool) -> None:
    found = finding(found_on=date(2026, 5, 3) + timedelta(days=days))
    kinds = [one.kind for one in decided(unit(), found, FEDERAL).goodwill]
    assert ("days_past_the_end" in kinds) is narrow
    assert (kinds == []) is not narrow


@pytest.mark.parametrize(("hours", "narrow"), [("125.1", True), ("137.5", True), ("137.6", False)])
def test_goodwill_only_within_a_tenth_of_the_hours(hours: str, narrow: bool) -> None:
    decision = decided(unit(hours=Decimal(hours), hours_limit_invoked=True), None, FEDERAL)
    assert ("hours_past_the_limit" in [one.kind for one in decision.goodwill]) is narrow


def test_what_would_change_a_settled_answer() -> None:
    covered = decided(unit(), None, FEDERAL)
    assert {one.fact for one in covered.changes} >= {"finding.cause", "unit.hours", "assembly.part_1054"}
    failed = decided(unit(), finding(cause="impact", done_by="owner"), FEDERAL)
    assert [(one.rule, one.fact, one.value) for one in failed.changes] == [("cause", "finding.cause", "impact")]


def test_words_are_the_counters_and_not_the_engines() -> None:
    """Parts by their names, links and owners in plain words, and who else could pay as people are called."""
    text = said()
    assert "part: carburettor" in text and "(nothing else caused it)" in text and "caused by: none" not in text
    assert "Who else could: the customer." in text
    assert "anniversary day itself is still inside" in text
    promise = {
        "id": "first", "version": 1, "title": "first owner's promise", "giver": "maker", "giver_name": "Fernhollow",
        "source": {"cite": "card", "edition": "2025", "address": "shop file", "confidence": "invented"}, "to": "first_owner",
        "components": {"codes": ["avr"]}, "period": {"months": 24},
    }  # fmt: skip
    told = "\n".join(words(decided(unit(owner="later"), finding(component="avr"), (term_from_dict(promise),))))
    assert "(first owner or not: no)" in told and "part: avr" not in told


def test_every_proof_of_purchase_is_offered_with_what_it_would_mean() -> None:
    record = {
        "id": "card", "version": 1, "title": "Card", "giver": "maker", "giver_name": "Fernhollow",
        "source": {"cite": "card", "edition": "1", "address": "box", "confidence": "invented"},
        "components": {"all": True}, "period": {"months": 24}, "requires": {"proof": ["receipt", "registration"]},
    }  # fmt: skip
    terms = (term_from_dict(record),)
    decision = decided(unit(purchase_proof=None), finding(), terms)
    (row,) = [one for one in decision.settling if one.fact == "unit.purchase_proof"]
    assert dict(row.values) == {
        "receipt": "covered", "registration": "covered", "statement": "cannot_say_yet", "none": "not_covered",
    }  # fmt: skip
