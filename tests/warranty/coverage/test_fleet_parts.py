"""A fleet's view agrees with the decision: whatever part or cause a term still covers, and until which day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from tests.warranty.coverage.kit import LAW, decided, finding, unit
from tests.warranty.coverage.test_who_pays import promise
from warranty.coverage.facts import RepairFacts
from warranty.coverage.fleet import RunsOut, fleet
from warranty.coverage.terms import Term

SOLD = date(2024, 5, 3)
LAST = date(2026, 5, 3)


def card(name: str = "card", **more: Any) -> Term:
    return promise(name, "maker", [], **{"components": {"codes": ["air_filter", "carburettor", "fuel_line"]}, **more})


def ending(machine: Any, *terms: Term, at: date = LAST - timedelta(days=3), term: str = "card") -> list[RunsOut]:
    return [row for row in fleet([machine], terms, at) if row.term == term]


def test_a_free_promise_that_is_longer_moves_the_last_day_of_the_emission_term() -> None:
    longer = promise("free", "maker", [], period={"months": 36}, components={"all": True})
    terms = (*LAW, longer)
    assert ending(unit(), *terms, term="us-emission-exhaust") == []
    end = date(2027, 5, 3)
    (row,) = ending(unit(), *terms, at=end - timedelta(days=10), term="us-emission-exhaust")
    assert (row.last_day, row.sure) == (end, True)
    for day, answer in ((end, True), (end + timedelta(days=1), False)):
        assert ("us-emission-exhaust" in decided(unit(), finding(found_on=day), terms).by) is answer


def test_an_exclusion_of_one_part_or_one_cause_does_not_hide_the_term() -> None:
    part = card(excludes=[{"ground": "excluded_part", "when": {"component": ["air_filter"]}, "source": "card"}])
    assert [row.last_day for row in ending(unit(), part)] == [LAST]
    cause = card(
        causes=["defect", "wear"], excludes=[{"ground": "normal_wear", "when": {"cause": ["defect"]}, "source": "card"}]
    )
    assert [(row.last_day, row.sure) for row in ending(unit(), cause)] == [(LAST, True)]


def test_a_part_that_is_past_its_schedule_does_not_hide_the_term() -> None:
    machine = unit(replacement_schedule={"air_filter": (6, None), "carburettor": (6, None)})
    assert [(r.last_day, r.title) for r in ending(machine, card(may_be_scheduled=["air_filter"]))] == [
        (LAST, "Promise card")
    ]


def test_a_term_that_covers_nothing_any_more_is_not_there() -> None:
    every = card(excludes=[{"ground": "excluded_use", "when": {"use_class": ["residential"]}, "source": "card"}])
    assert ending(unit(), every) == []
    assert ending(unit(hours=Decimal(101)), card(hours={"limit": 100, "without_meter": "years_only"})) == []


RENEWED = RepairFacts(
    day=date(2025, 11, 20), components=("carburettor",), done_by="this_shop", under="card", new_part=True
)


def test_a_part_that_was_renewed_has_its_own_last_day_beside_the_term() -> None:
    term = card(replacement="new_period")
    machine = unit(repairs=(RENEWED,))
    assert [(row.last_day, row.title) for row in ending(machine, term)] == [(LAST, "Promise card")]
    end = date(2027, 11, 20)
    (row,) = ending(machine, term, at=end - timedelta(days=5))
    assert row.last_day == end and row.title != "Promise card" and "arburet" in row.title
    assert decided(machine, finding(found_on=end), (term,)).answer == "covered"


def test_the_shops_warranty_on_an_earlier_repair_is_there_with_its_part() -> None:
    own = promise("own", "shop", [], start={"from": "repair", "repair_by": ["this_shop"]}, period={"days": 90})
    end = RENEWED.day + timedelta(days=90)
    (row,) = ending(unit(repairs=(RENEWED,)), own, at=end, term="own")
    assert (row.last_day, row.days_left, row.sure) == (end, 0, True)
    assert "arburet" in row.title
    assert ending(unit(repairs=()), own, at=end, term="own") == []
    assert ending(unit(repairs=(RENEWED,)), own, at=end + timedelta(days=1), term="own") == []


def test_a_part_makers_warranty_on_an_earlier_repair_is_there_with_its_part() -> None:
    part = promise("part", "part_maker", [], giver_name="Pellworth", start={"from": "repair"}, period={"months": 12})
    end = date(2026, 11, 20)
    fitted = replace(RENEWED, under="", part_maker="Pellworth")
    (row,) = ending(unit(repairs=(fitted,)), part, at=end - timedelta(days=60), term="part")
    assert (row.last_day, row.days_left, row.sure, row.missing) == (end, 60, True, ())
    assert "arburet" in row.title
    assert ending(unit(repairs=(fitted,)), part, at=end - timedelta(days=61), term="part") == []
    for other in (replace(fitted, part_maker="Ostervane"), replace(fitted, new_part=False)):
        assert ending(unit(repairs=(other,)), part, at=end, term="part") == []


@pytest.mark.parametrize("term", [
    promise("part", "part_maker", [], giver_name="Pellworth", start={"from": "repair"}),
    card("part", replacement="new_period"),
])  # fmt: skip
def test_a_repair_of_which_something_is_not_known_is_there_as_unsure_and_says_what_is_missing(term: Term) -> None:
    end = date(2027, 11, 20)
    unsure = replace(RENEWED, under=None, part_maker=None)
    (row,) = ending(unit(repairs=(unsure,)), term, at=end - timedelta(days=10), term="part")
    assert (row.last_day, row.sure, row.missing) == (end, False, ("unit.repairs",))
    assert "arburet" in row.title
    assert ending(unit(repairs=(unsure,)), term, at=end + timedelta(days=1), term="part") == []
    assert ending(unit(repairs=None), term, at=end - timedelta(days=10), term="part") == []
