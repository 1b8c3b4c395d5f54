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


TODAY = date(2026, 6, 1)
NOT_SOLD_YET_KNOWN: dict[str, Any] = {
    "sold_on": None, "delivered_on": None, "purchase_proof": None, "first_service_on": None, "registered": None,
    "registered_on": None, "sale_kind": "new", "hours": Decimal(1),
}  # fmt: skip


@pytest.mark.parametrize(
    ("built", "last"),
    [
        (600, None),  # the soonest end lies beyond the sixty days
        (670, date(2026, 7, 31)),  # 60 days ahead
        (669, None),
        (700, date(2026, 7, 1)),  # sold on the day of the build: ends thirty days from now
        (730, TODAY),
        (740, TODAY),  # the soonest end is past, the latest far ahead: it may end on any day
        (1400, TODAY),
    ],
)
def test_a_machine_whose_day_of_sale_is_not_known_is_there_as_unsure(built: int, last: date | None) -> None:
    machine = unit(build_date=TODAY - timedelta(days=built), **NOT_SOLD_YET_KNOWN)
    rows = ending(machine, card(period={"days": 730}), at=TODAY)
    assert [(row.last_day, row.sure) for row in rows] == ([] if last is None else [(last, False)])
    assert all("unit.sold_on" in row.missing for row in rows)
    assert all(row.days_left == (row.last_day - TODAY).days for row in rows)


def test_the_latest_possible_end_decides_that_it_is_over() -> None:
    """It was first put to work by its sale out of the fleet at the latest."""
    term = card(period={"days": 730}, start={"from": "first_service"})
    machine = unit(build_date=TODAY - timedelta(days=1500), **(NOT_SOLD_YET_KNOWN | {"sale_kind": "ex_rental"}))
    for sold, there in ((731, False), (730, True)):
        one = replace(machine, sold_on=TODAY - timedelta(days=sold))
        assert bool(ending(one, term, at=TODAY)) is there
        answer = decided(one, finding(found_on=TODAY), (term,)).answer
        assert (answer != "not_covered") is there


def test_of_two_possible_ends_the_sooner_is_told() -> None:
    """Without the receipt this promise runs from sixty days after the build: fifty days are left then, thirty with it."""
    rule = {"from": "sale", "no_proof": {"from": "build", "plus_days": 60}}
    term = card(period={"days": 730}, start=rule, requires={"proof": ["receipt"]})
    sold = TODAY - timedelta(days=700)
    machine = unit(sold_on=sold, delivered_on=sold, build_date=TODAY - timedelta(days=740), purchase_proof=None)
    (row,) = ending(machine, term, at=TODAY)
    assert (row.days_left, row.sure, row.missing) == (30, False, ("unit.purchase_proof",))
