"""Every worked case gives the answer its technician expects, for the reason given, and survives being frozen."""

from __future__ import annotations

from typing import Any

import pytest

from orders.rules.trade import trade
from tests.warranty.coverage.case_files import WorkedCase, known_codes, read_cases, read_yaml
from warranty.coverage.decide import decide
from warranty.coverage.decision import Decision, from_json, to_json
from warranty.coverage.freeze import freeze, recompute
from warranty.coverage.words import words

CASES = read_cases()


def test_there_are_at_least_sixty_cases_each_with_its_own_name() -> None:
    names = [case.name for case in CASES]
    assert len(names) >= 60
    assert len(set(names)) == len(names)


@pytest.mark.parametrize(
    "text",
    [
        "cases:\n- expect:\n    plug: {answer: covered}\n    plug: {answer: not_covered}\n",
        "cases:\n- expect: {plug: {answer: covered,\n  because: [], answer: covered}}\n- {}\n",
        "cases: []\nunits: {}\n\ncases: []\n",
    ],
)
def test_a_key_that_stands_twice_is_refused_with_its_line(text: str) -> None:
    with pytest.raises(AssertionError, match=r"slip\.yaml:[34]: the key '(plug|answer|cases)' stands twice"):
        read_yaml(text, "slip.yaml")
    assert read_yaml("a: {b: 1}\nc: {b: 2}\n", "good.yaml") == {"a": {"b": 1}, "c": {"b": 2}}


def test_a_slip_of_the_pen_in_a_part_is_refused_and_the_near_ones_named() -> None:
    with pytest.raises(AssertionError, match="there is no 'carburetter'; is it one of carburettor"):
        known_codes("carburetter", trade().components, "case")
    known_codes("carburettor", trade().components, "case")


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_case(case: WorkedCase) -> None:
    decisions = decide(case.unit, case.findings, case.terms, case.as_of)
    for name, expected in case.expect.items():
        decision = decisions[name]
        said = "\n".join(words(decision))
        assert decision.answer == expected["answer"], said
        for term, rule, outcome in expected["because"]:
            assert outcome in _outcomes(decision, term, rule), f"{term} {rule} is not '{outcome}'\n{said}"
        check_expectations(decision, expected, said)


def _outcomes(decision: Decision, term: str, rule: str) -> list[str]:
    return [step.outcome for one in decision.tried if one.term == term for step in one.steps if step.rule == rule]


def check_expectations(decision: Decision, expected: dict[str, Any], said: str) -> None:
    plain = {
        "by": lambda: sorted(decision.by), "one_of": lambda: list(decision.by_one_of), "best": lambda: decision.best_for_customer,
        "best_paid": lambda: decision.best_paid, "payer": lambda: decision.payer, "missing": lambda: list(decision.missing_proof),
        "route": lambda: decision.route.way, "far": lambda: decision.route.far_owner,
        "goodwill": lambda: [one.kind for one in decision.goodwill], "refused": lambda: decision.refused,
        "settled_by": lambda: [one.fact for one in decision.settling],
        "last_day": lambda: {one.term: one.last_day for one in decision.tried if one.term in expected["last_day"]},
    }  # fmt: skip
    for key, found in plain.items():
        if key in expected:
            wanted = expected[key]
            if key == "last_day":
                wanted = {term: str(day) for term, day in wanted.items()}
            assert found() == (sorted(wanted) if key == "by" else wanted), said
    for text in expected.get("says", []):
        assert text in said, said
    if "warning" in expected:
        assert expected["warning"] in decision.warnings
    for term, ground in expected.get("forbidden", []):
        assert any(one.term == term and one.ground == ground for one in decision.forbidden), said


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_frozen_answer_is_served_byte_for_byte_and_recomputed_alike(case: WorkedCase) -> None:
    frozen = freeze(case.unit, case.findings, case.terms, case.as_of)
    again = recompute(frozen)
    assert set(again) == set(frozen.decisions)
    for name, text in frozen.decisions.items():
        assert to_json(from_json(text)) == text
        assert to_json(again[name]) == text
        assert words(from_json(text)) == words(again[name])
