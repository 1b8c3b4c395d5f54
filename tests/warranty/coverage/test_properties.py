"""What must hold for any facts and any terms."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.warranty.coverage.kit import FEDERAL, finding, unit
from tests.warranty.coverage.random_facts import (
    BUILT,
    DAY,
    finding_sets,
    hide,
    hideable,
    programmes,
    small_programmes,
    units,
)
from warranty.coverage import vocabulary as v
from warranty.coverage.decide import decide
from warranty.coverage.decision import to_json
from warranty.coverage.facts import FindingFacts, UnitFacts
from warranty.coverage.settle import with_fact
from warranty.coverage.terms import Term, term_from_dict, term_to_dict

SLOW = settings(
    max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)
SETTLED = ("covered", "not_covered")


@SLOW
@given(st.data())
def test_a_settled_answer_never_turns_to_the_opposite_when_more_becomes_known(data: st.DataObject) -> None:
    unit, findings, book = data.draw(units()), data.draw(finding_sets()), data.draw(programmes())
    options = hideable(findings)
    more = data.draw(st.lists(st.sampled_from(options), max_size=6, unique=True))
    few = data.draw(st.lists(st.sampled_from(more), unique=True)) if more else []
    answers = [
        {name: one.answer for name, one in decide(*hide(unit, findings, hidden), book, DAY).items()}
        for hidden in (more, few, [])
    ]
    for name in answers[0]:
        for less_known, more_known in itertools.pairwise(answers):
            if less_known[name] in SETTLED:
                assert more_known[name] == less_known[name], (name, answers)


@SLOW
@given(st.data())
def test_the_order_of_terms_and_findings_never_matters(data: st.DataObject) -> None:
    unit, findings, book = data.draw(units()), data.draw(finding_sets()), data.draw(programmes())
    hidden = data.draw(st.lists(st.sampled_from(hideable(findings)), max_size=4, unique=True))
    unit, findings = hide(unit, findings, hidden)
    first = decide(unit, findings, book, DAY)
    again = decide(unit, data.draw(st.permutations(findings)), tuple(data.draw(st.permutations(book))), DAY)
    assert {name: to_json(one) for name, one in first.items()} == {name: to_json(one) for name, one in again.items()}


DOMAINS: dict[str, tuple[object, ...]] = {
    "unit.use_class": v.USE_CLASSES, "unit.owner": v.OWNERS, "unit.modified": (True, False), "unit.other_parts": (True, False),
    "unit.serviced_by": v.SERVICED_BY, "unit.evaporative": (True, False), "unit.hand_held": (True, False),
    "unit.hours_limit_invoked": (True, False), "unit.registered": (True, False), "unit.transfer_registered": (True, False),
    "unit.hour_meter": (True, False), "unit.hours": tuple(Decimal(x) for x in ("0", "50", "50.1", "100", "100.1")),
    "unit.region": ("US-CA", "US-OH", "CA-ON"), "unit.purchase_proof": ("receipt", "none"), "assembly.part_1054": (True, False),
    "unit.sold_on": tuple(BUILT + timedelta(days=days) for days in range(31)), "finding.done_by": v.DONE_BY,
    "finding.cause": v.CAUSES[:9], "unit.maker": ("Fernhollow", "Another"),
    "assembly.displacement_cc": tuple(Decimal(x) for x in ("224.9", "225")),
}  # fmt: skip


def join(
    unit: UnitFacts, findings: tuple[FindingFacts, ...], book: tuple[Term, ...], hidden: list[tuple[str, str]]
) -> str:
    """The answer that every completion of the first finding gives, by trying them all."""
    answers: set[str] = set()
    for values in itertools.product(*(DOMAINS[name] for name, _ in hidden)):
        whole, by_id = unit, {one.id: one for one in findings}
        for fact, value in zip(hidden, values, strict=True):
            whole, by_id = with_fact(whole, by_id, fact, value)
        if whole.purchase_proof == "none" and ("unit.sold_on", "") in hidden:
            whole = replace(whole, sold_on=None)  # no proof to be had: the day cannot be learnt
        answers.add(decide(whole, list(by_id.values()), book, DAY)[findings[0].id].answer)
    return answers.pop() if len(answers) == 1 else "cannot_say_yet"


@SLOW
@given(st.data())
def test_an_unknown_is_the_join_over_all_its_completions(data: st.DataObject) -> None:
    unit, findings, book = data.draw(units()), data.draw(finding_sets(1)), data.draw(programmes())
    options = [(name, {"assembly": "engine", "finding": "f0"}.get(name.split(".")[0], "")) for name in DOMAINS]
    hidden = data.draw(st.lists(st.sampled_from(options), min_size=1, max_size=3, unique=True))
    if ("unit.sold_on", "") in hidden:  # what would bound it otherwise is tried by itself below
        hidden = hidden[:2] if ("unit.sold_on", "") in hidden[:2] else hidden[2:]
        unit, _ = with_fact(unit, {}, ("unit.first_service_on", ""), DAY)
        unit, _ = with_fact(unit, {}, ("unit.delivered_on", ""), DAY)
        unit, _ = with_fact(unit, {}, ("unit.registered_on", ""), DAY if unit.registered else None)
    blind, blind_findings = hide(unit, findings, hidden)
    hidden = sorted({*hidden, *([("unit.purchase_proof", "")] if blind.purchase_proof is None else [])})
    answer = decide(blind, blind_findings, book, DAY)["f0"].answer
    assert answer == join(blind, blind_findings, book, hidden), hidden


GAPS = [
    (f"unit.{name}", "") for name in ("use_class", "modified", "other_parts", "owner", "transfer_registered", "sold_on")
]


@settings(SLOW, max_examples=400)
@given(units(), small_programmes(), st.lists(st.sampled_from(GAPS), min_size=1, max_size=3, unique=True))
def test_terms_that_leave_no_gap_between_them_cover(
    unit: UnitFacts, book: tuple[Term, ...], hidden: list[tuple[str, str]]
) -> None:
    unit, _ = with_fact(unit, {}, ("unit.first_service_on", ""), DAY)
    finding = FindingFacts("f0", "carburettor", "engine", "leaks", "defect", v.NO_LINK, DAY)
    blind, _ = hide(unit, (finding,), hidden)
    hidden = sorted({*hidden, *([("unit.purchase_proof", "")] if blind.purchase_proof is None else [])})
    decision = decide(blind, [finding], book, DAY)["f0"]
    assert decision.answer == join(blind, (finding,), book, hidden), hidden
    if decision.answer == "covered":
        assert decision.by or decision.by_one_of


@SLOW
@given(st.data())
def test_a_link_not_known_is_the_join_over_all_links(data: st.DataObject) -> None:
    unit, findings, book = data.draw(units()), data.draw(finding_sets()), data.draw(programmes())
    target = findings[-1]
    blind, blind_findings = hide(unit, findings, [("finding.caused_by", target.id)])
    answer = decide(blind, blind_findings, book, DAY)[target.id].answer
    answers = set()
    for link in (v.NO_LINK, *(one.id for one in findings[:-1])):
        _, by_id = with_fact(unit, {one.id: one for one in findings}, ("finding.caused_by", target.id), link)
        answers.add(decide(unit, list(by_id.values()), book, DAY)[target.id].answer)
    assert answer == (answers.pop() if len(answers) == 1 else "cannot_say_yet")


@SLOW
@given(programmes())
def test_a_term_survives_being_a_record(book: tuple[Term, ...]) -> None:
    for term in book:
        again = term_from_dict(term_to_dict(term))
        assert again == term
        assert again.fingerprint == term.fingerprint
        assert (again.components, again.period, again.hours, again.excludes) == (
            term.components,
            term.period,
            term.hours,
            term.excludes,
        )


@given(st.dates(date(1990, 1, 1), date(2090, 12, 31)), st.integers(1, 120), st.booleans())
def test_the_earliest_start_inside_is_the_earliest(day: date, months: int, inside: bool) -> None:
    from warranty.coverage.domains import earliest_inside
    from warranty.coverage.shapes import Period
    from warranty.coverage.timing import last_day

    period = Period(months=months, anniversary_inside=inside)
    first = earliest_inside(day, period)
    assert last_day(first, period) >= day
    assert last_day(first - timedelta(days=1), period) < day


@pytest.mark.parametrize("fact", sorted(DOMAINS))
def test_the_join_test_tries_facts_that_exist(fact: str) -> None:
    room, name = fact.split(".")
    kind = {"unit": UnitFacts, "finding": FindingFacts}.get(room)
    assert kind is None or name in kind.__dataclass_fields__


def test_each_finding_whose_day_is_not_known_asks_for_its_own_day() -> None:
    """What the unit answers is kept for its other findings, but for the day that is asked for."""
    findings = [finding(id=name, found_on=None) for name in ("f1", "f2")]
    for order in (findings, findings[::-1]):
        for name, one in decide(unit(), order, FEDERAL, date(2026, 12, 1)).items():
            asked = {step.of for tried in one.tried for step in tried.steps if step.fact == "finding.found_on"}
            assert asked - {""} == {name}
