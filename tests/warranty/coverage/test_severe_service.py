"""A maker's shorter figures for severe service: recorded with the promise, used where the work is severe, asked where it may be."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from orders.rules.strict import DataError
from tests.warranty.coverage.kit import FEDERAL, decided, finding, unit
from tests.warranty.coverage.test_who_pays import promise
from warranty.coverage.fleet import fleet
from warranty.coverage.terms import Term
from warranty.coverage.words import words

SOLD = date(2024, 5, 3)
END = SOLD + timedelta(days=90)


def card(giver: str = "maker", **severe: Any) -> Term:
    return promise("card", giver, [], severe_service=severe)


def said(term: Term, day: date, **known: Any) -> str:
    return decided(unit(**known), finding(found_on=day), (term,)).answer


@pytest.mark.parametrize(
    ("day", "severe", "else_"),
    [(END - timedelta(days=1), "covered", "covered"), (END, "covered", "covered"), (END + timedelta(days=1), "not_covered", "covered")],
)  # fmt: skip
def test_the_shorter_period_counts_in_severe_service_alone(day: date, severe: str, else_: str) -> None:
    term = card(period={"days": 90})
    assert said(term, day, severe_service=True) == severe
    assert said(term, day, severe_service=False) == else_
    assert said(term, day, severe_service=None) == (severe if severe == else_ else "cannot_say_yet")


@pytest.mark.parametrize(("hours", "severe"), [("49.9", "covered"), ("50", "covered"), ("50.1", "not_covered")])
def test_fewer_hours_count_in_severe_service_alone(hours: str, severe: str) -> None:
    term = card(hours={"limit": 50, "without_meter": "years_only"})
    shown = {"hours": Decimal(hours)}
    assert said(term, END, severe_service=True, **shown) == severe
    assert said(term, END, severe_service=False, **shown) == "covered"
    assert said(term, END, severe_service=None, **shown) == ("covered" if severe == "covered" else "cannot_say_yet")


@pytest.mark.parametrize(
    ("use", "answer"), [("commercial", "not_covered"), ("residential", "covered"), (None, "cannot_say_yet")]
)
def test_a_promise_may_name_uses_that_are_severe(use: str | None, answer: str) -> None:
    term = card(period={"days": 90}, uses=["commercial", "rental"])
    late = END + timedelta(days=1)
    assert said(term, late, use_class=use, severe_service=False) == answer
    assert said(term, late, use_class="residential", severe_service=True) == "not_covered"


def test_what_is_not_known_is_asked_with_what_each_answer_means_and_the_words_name_the_figure() -> None:
    late = finding(found_on=END + timedelta(days=1))
    term = card(period={"days": 90}, hours={"limit": 80, "without_meter": "years_only"})
    (asked,) = decided(unit(), late, (term,)).settling
    assert (asked.fact, dict(asked.values)) == ("unit.severe_service", {True: "not_covered", False: "covered"})
    text = "\n".join(words(decided(unit(severe_service=True), late, (term,))))
    assert f"the shorter period for severe service counts; the period runs from {SOLD} to {END}" in text
    assert "the limit: 80, for severe service" in text
    plain = "\n".join(words(decided(unit(severe_service=False), late, (term,))))
    assert "for severe service" not in plain


def test_a_promise_without_such_figures_asks_nothing_of_the_service() -> None:
    assert said(promise("card", "maker", []), END, severe_service=None) == "covered"
    assert "severe_service" not in promise("card", "maker", []).data


def test_the_fleet_goes_by_the_figure_that_counts() -> None:
    term = card(period={"days": 90})
    rows = {known: list(fleet([unit(severe_service=known)], (term,), END, 5)) for known in (True, False, None)}
    (row,) = rows[True]
    assert (row.last_day, row.sure, rows[False]) == (END, True, [])
    (row,) = rows[None]
    assert (row.last_day, row.sure, row.missing) == (END, False, ("unit.severe_service",))


def test_the_emission_term_is_no_shorter_than_what_the_promise_gives_in_this_service() -> None:
    """40 CFR 1054.120(b): no shorter than the free promise that this machine gets."""
    long = promise("card", "maker", [], period={"months": 60}, severe_service={"period": {"months": 30}})
    terms = (long, *FEDERAL)
    for months, severe, answer in ((29, True, True), (31, True, False), (31, False, True), (61, False, False)):
        day = date(2024 + (4 + months) // 12, (4 + months) % 12 + 1, 3)
        assert (
            "us-emission-exhaust" in decided(unit(severe_service=severe), finding(found_on=day), terms).by
        ) is answer
    unsure = decided(unit(severe_service=None), finding(found_on=date(2027, 1, 3)), terms)
    assert unsure.answer == "cannot_say_yet"
    assert {one.fact for one in unsure.settling} == {"unit.severe_service"}


@pytest.mark.parametrize(
    ("severe", "says"),
    [
        ({}, "'period' and 'hours'"),
        ({"period": {"months": 25}}, "longer than the other"),
        ({"period": {"unlimited": True}}, "unknown key 'unlimited'"),
        ({"period": {"days": 0}}, "outside 1"),
        ({"period": {"days": 5}, "uses": ["sea"]}, "sea"),
        ({"hours": {"limit": 101, "without_meter": "fails"}}, "more than the others"),
        ({"hours": 50}, "expected keys"),
        ({"period": {"days": 5}, "dusty": True}, "unknown key 'dusty'"),
    ],
)
def test_figures_that_are_none_or_longer_are_refused(severe: dict[str, Any], says: str) -> None:
    with pytest.raises(DataError) as refused:
        promise("card", "maker", [], hours={"limit": 100, "without_meter": "fails"}, severe_service=severe)
    assert says in str(refused.value)
