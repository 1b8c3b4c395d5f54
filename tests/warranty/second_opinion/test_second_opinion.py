"""The engine against the second opinion: the same answer and the same terms, on 12,000 random units and every worked case."""

from __future__ import annotations

from collections import Counter
from random import Random

import pytest

from tests.warranty.second_opinion.generator import Drawn, Terms, known_order, order_with_unknowns, told
from tests.warranty.second_opinion.opinion import Opinion, opinion
from tests.warranty.second_opinion.worked import Worked, worked_cases
from warranty.coverage.decide import decide
from warranty.coverage.decision import Decision

BATCH = 1000


def disagreements(drawn: Drawn, *, all_known: bool) -> tuple[list[str], list[str]]:
    """What the two do not agree on, in words; and the answers of the second opinion."""
    engine = decide(drawn.unit, drawn.findings, drawn.terms, drawn.as_of)
    second = opinion(drawn.unit, drawn.findings, drawn.terms, drawn.as_of)
    assert set(engine) == set(second)
    wrong = [f"{one}: {said}" for one, mine in second.items() if (said := _against(engine[one], mine, all_known))]
    return wrong, [one.answer for one in second.values()]


def _against(engine: Decision, second: Opinion, all_known: bool) -> str:
    if engine.answer != second.answer:
        return f"engine {engine.answer}, second opinion {second.answer} (it names {sorted(second.may_hold)})"
    sure, perhaps = set(engine.by), set(engine.by) | set(engine.by_one_of)
    if all_known and (sure, perhaps) != (second.holds, second.holds):
        return f"engine names {sorted(perhaps)}, second opinion {sorted(second.holds)}"
    # With facts missing the engine may say 'one of these' of a term that holds in every completion; it may not say
    # 'this one' of a term that does not, nor name a term that cannot hold; where it says 'one of these', a term that
    # surely holds is among them.
    if not sure <= second.holds or not perhaps <= second.may_hold:
        return f"engine is too sure of {sorted(sure - second.holds | perhaps - second.may_hold)}"
    if engine.answer == "covered" and not sure and not second.holds <= perhaps:
        return f"engine leaves out {sorted(second.holds - perhaps)}"
    return ""


def _batch(first: int, draw: object, *, all_known: bool) -> Counter[str]:
    terms = Terms(seed=first)  # each batch has promises of its own
    answers: Counter[str] = Counter()
    failed: list[str] = []
    for seed in range(first, first + BATCH):
        drawn = draw(Random(seed), terms)  # type: ignore[operator]
        wrong, said = disagreements(drawn, all_known=all_known)
        answers.update(said)
        failed += [f"seed {seed}, {one}\n{told(drawn)}" for one in wrong]
    assert not failed, f"{len(failed)} disagreements, the first of them:\n" + "\n".join(failed[:3])
    return answers


@pytest.mark.parametrize("first", range(0, 9000, BATCH))
def test_all_facts_known(first: int) -> None:
    answers = _batch(first, known_order, all_known=True)
    # Orders on which nothing is ever covered would prove nothing.
    assert min(answers[one] for one in ("covered", "not_covered", "no_fault")) > 20, answers


@pytest.mark.parametrize("first", range(0, 3000, BATCH))
def test_facts_missing_are_the_join_over_every_completion(first: int) -> None:
    answers = _batch(first, order_with_unknowns, all_known=False)
    assert min(answers[one] for one in ("covered", "not_covered", "cannot_say_yet")) > 50, answers


@pytest.mark.parametrize("case", list(worked_cases()), ids=lambda case: case.name)
def test_worked_cases_are_answered_as_their_tellers_expect(case: Worked) -> None:
    second = opinion(case.unit, case.findings, case.terms, case.as_of)
    for one, expected in case.expect.items():
        assert second[one].answer == expected["answer"], one
        if expected.get("by"):
            assert second[one].holds == set(expected["by"]), one


def test_a_wrong_engine_would_be_noticed() -> None:
    """The comparison itself: an answer or a term changed by hand is a disagreement."""
    terms = Terms(seed=1)
    drawn = next(
        drawn
        for drawn in (known_order(Random(seed), terms) for seed in range(100))
        if any(one.answer == "covered" for one in decide(drawn.unit, drawn.findings, drawn.terms, drawn.as_of).values())
    )
    engine = decide(drawn.unit, drawn.findings, drawn.terms, drawn.as_of)
    held = next(one for one in engine.values() if one.answer == "covered")
    nobody = frozenset[str]()
    assert _against(held, Opinion("covered", frozenset(held.by), frozenset(held.by)), True) == ""
    assert "engine covered" in _against(held, Opinion("not_covered", nobody, nobody), True)
    assert "engine names" in _against(held, Opinion("covered", nobody, nobody), True)
    assert "too sure" in _against(held, Opinion("covered", nobody, nobody), False)
