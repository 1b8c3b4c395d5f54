"""Wear on a new machine, by the evidence's own days and hours; meters that were changed; a label that nobody read."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from tests.warranty.coverage.kit import ENGINE, FEDERAL, decided, finding, unit
from warranty.coverage.contradictions import contradictions
from warranty.coverage.facts import ON_THE_LABEL, MeterChange
from warranty.coverage.words import words
from warranty.evidence import contradictions as evidence

DELIVERED = date(2025, 6, 1)
WEEK = timedelta(days=7)


def said(cause: str = "wear", found_on: date = DELIVERED + WEEK, **known: Any) -> tuple[str, ...]:
    return contradictions(unit(**known), [finding(cause=cause, found_on=found_on)], found_on)


@pytest.mark.parametrize(
    ("known", "caught"),
    [
        ({}, True), ({"owner": "later"}, False), ({"sale_kind": "ex_rental"}, False),
        ({"sold_on": date(2024, 6, 1)}, True),  # sold a year before it was delivered: new since the delivery
        ({"sold_on": date(2024, 6, 1), "hours": Decimal(1)}, True),
        ({"sold_on": date(2024, 6, 1), "first_service_on": date(2024, 6, 2)}, False),  # used before it was delivered
        ({"sold_on": date(2024, 6, 1), "first_service_on": DELIVERED}, True),
        ({"sold_on": date(2024, 6, 1), "owner": "later"}, False),  # delivered to its second owner
        ({"sold_on": DELIVERED, "delivered_on": date(2024, 6, 1)}, True),
        ({"sold_on": date(2024, 6, 1), "delivered_on": date(2024, 6, 2)}, False),
        ({"delivered_on": None}, False),
    ],
)  # fmt: skip
def test_wear_a_week_after_the_later_of_sale_and_delivery_is_caught(known: dict[str, Any], caught: bool) -> None:
    plain = {"sold_on": None, "delivered_on": DELIVERED, "hours": None, "registered_on": None, "first_service_on": None}
    assert ("worn_though_new" in said(**(plain | known))) is caught


def change(day: int, removed: str | None, fitted: str) -> MeterChange:
    return MeterChange(date(2024, 6, day), None if removed is None else Decimal(removed), Decimal(fitted))


@pytest.mark.parametrize(
    ("changes", "hours", "backwards"),
    [
        ((change(1, "40", "300"),), "310", False),  # a used meter with more on it than the old one
        ((change(1, "40", "300"),), "299.9", True),
        ((change(1, "40", "0"), change(9, "30", "0")), "5", False),  # the second is another meter
        ((change(1, "40", "100"), change(9, "99.9", "0")), "5", True),
        ((change(1, None, "100"),), "100", False),
    ],
)
def test_a_meter_ran_backwards_only_against_its_own_figures(
    changes: tuple[MeterChange, ...], hours: str, backwards: bool
) -> None:
    assert ("meter_ran_backwards" in said("defect", hours=Decimal(hours), meter_changes=changes)) is backwards
    turned = tuple(reversed(changes))
    assert ("meter_ran_backwards" in said("defect", hours=Decimal(hours), meter_changes=turned)) is backwards


def the_rule(days: int | None, hours: str | None) -> bool:
    """What the evidence itself says of wear on a machine this old."""
    seen = evidence.Observed(
        component="blade", condition="worn", cause="wear", family="mower", power_source="four_stroke",
        days_since_sale=days, hours=None if hours is None else Decimal(hours),
    )  # fmt: skip
    return "worn_on_a_new_machine" in [one.code for one in evidence.contradictions(seen)]


@pytest.mark.parametrize("days", [-1, 0, 1, 28, 29, 30, 31])
@pytest.mark.parametrize("hours", [None, "0", "49.9", "50", "50.1"])
def test_the_engine_and_the_evidence_doubt_wear_by_one_rule(days: int, hours: str | None) -> None:
    """The engine's warning and the bench's doubt stand or fall together, at each edge of days and hours."""
    sold = DELIVERED
    known = {"sold_on": sold, "hours": None if hours is None else Decimal(hours)}
    warned = "worn_though_new" in said(found_on=sold + timedelta(days=days), **known)
    assert warned is the_rule(days, hours)


def test_hours_of_a_meter_taken_out_count_for_wear_too() -> None:
    known = {"sold_on": DELIVERED, "hours": Decimal(5), "meter_changes": (change(1, "60", "0"),)}
    assert "worn_though_new" not in said(**known)
    assert "worn_though_new" in said(**(known | {"meter_changes": ()}))


def test_a_part_of_the_dealers_set_up_may_be_put_together_wrongly_though_never_opened() -> None:
    part = min(evidence.set_up_parts())
    found = {"cause": "assembly", "done_by": "this_shop", "never_opened": True}
    assert contradictions(unit(), [finding(component=part, **found)], DELIVERED) == ()
    assert contradictions(unit(), [finding(component="piston", **found)], DELIVERED) != ()


@pytest.mark.parametrize("opened", [True, False, None])
@pytest.mark.parametrize("done_by", [None, "nobody", "owner", "other_shop", "this_shop", "maker"])
def test_wrong_assembly_of_what_was_never_opened_is_named_whoever_did_it_as_the_evidence_does(
    done_by: str | None, opened: bool | None
) -> None:
    seen = evidence.Observed(
        component="piston", condition="broken", cause="assembly", family="mower", power_source="four_stroke",
        never_opened=opened,
    )  # fmt: skip
    doubted = "never_opened_wrong_assembly" in [one.code for one in evidence.contradictions(seen)]
    found = finding(component="piston", condition="broken", cause="assembly", done_by=done_by, never_opened=opened)
    warned = "never_opened_but_wrongly_assembled" in decided(unit(), found).warnings
    assert warned is doubted is (opened is True)


@pytest.mark.parametrize("fact", ON_THE_LABEL)
def test_what_is_told_of_a_label_that_nobody_read_is_flagged_and_counts_as_not_known(fact: str) -> None:
    """A label not read is 'cannot say yet' (issue 4), whatever somebody wrote beside it."""
    blank = replace(ENGINE, **dict.fromkeys(ON_THE_LABEL))
    told = replace(blank, label_read=False, **{fact: getattr(ENGINE, fact)})
    decision = decided(unit(assemblies=(told,)), terms=FEDERAL)
    assert decision.warnings == ("label_told_but_not_read",)
    assert decision.answer == "cannot_say_yet"
    assert any("said not to have been read" in line for line in words(decision))
    means = {one.fact: dict(one.values) for one in decision.settling}
    assert means["assembly.part_1054"][False] == "not_covered"  # read, it may show no such engine
    assert decided(unit(assemblies=(replace(blank, label_read=False),)), terms=FEDERAL).warnings == ()


def test_hours_printed_on_a_label_that_nobody_read_are_no_limit() -> None:
    unread = unit(engine={"label_read": False}, hours=Decimal(200), hours_limit_invoked=True)
    read = unit(hours=Decimal(200), hours_limit_invoked=True)
    assert (decided(read, terms=FEDERAL).answer, decided(unread, terms=FEDERAL).answer) == (
        "not_covered",
        "cannot_say_yet",
    )
