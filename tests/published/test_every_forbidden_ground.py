"""Every ground that a shipped term forbids acts: without its row the same case would be refused, and the answer lists it with its source.

A shipped term excludes nothing of its own, so each ground is put to it as an exclusion that some booklet might add. Starts and
sales without proof follow, each with the day before, the day itself and the day after.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest

from tests.warranty.coverage.kit import LAW, decided, finding, unit
from warranty.coverage.decision import Decision
from warranty.coverage.shapes import Row
from warranty.coverage.terms import Term, term_from_dict, term_to_dict

TERMS = {term.id: term for term in LAW}
COVERS = {
    "us-emission-exhaust": "ignition_module",
    "us-emission-evaporative": "carbon_canister",
    "us-ca-emission": "ignition_module",
}
HOME = {"us-ca-emission": {"region": "US-CA"}}
DAY = timedelta(days=1)
YES, NO = "covered", "not_covered"
OF_FINDING = ("done_by", "upkeep_item", "cause")
KEPT_OFF: dict[str, Any] = {
    "fuel": "e15",
    "manual_forbids_fuel": True,
    "proper_fuel_at_hand": True,
    "emergency_repair": False,
}
"""Facts under which no other row of the same ground acts, so that one row alone decides."""

ROWS = [(term.id, at) for term in LAW for at in range(len(term.not_denied_for))]


def without(term: Term, at: int) -> Term:
    """The term as it is loaded, with one row of its forbidden grounds dropped."""
    record = term_to_dict(term)
    rows = record["not_denied_for"]
    assert isinstance(rows, list)
    record["not_denied_for"] = [row for number, row in enumerate(rows) if number != at]
    if not record["not_denied_for"]:
        del record["not_denied_for"]
    return term_from_dict(record)


def facts_of(row: Row) -> Iterator[tuple[dict[str, Any], dict[str, Any]]]:
    """Facts of the unit and of the finding for each value under which the row speaks."""
    wanted = [(name, value) for name, values in row.when.facts for value in values]
    for name, _ in wanted or [("", None)]:
        for value in [value for key, value in wanted if key == name] or [None]:
            facts = {key: values[0] for key, values in row.when.facts} | ({name: value} if name else {})
            machine = {**KEPT_OFF, **{key: one for key, one in facts.items() if key not in OF_FINDING}}
            yield machine, {key: one for key, one in facts.items() if key in OF_FINDING}


def excluding(term: Term, ground: str, name: str, value: Any) -> Term:
    """The term with an exclusion of that ground, as a booklet might have it."""
    when = {"when": {name: [value] if isinstance(value, str) else value}}
    return term_from_dict({**term_to_dict(term), "excludes": [{"ground": ground, **when, "source": "a booklet"}]})


def judged(term: Term, machine: dict[str, Any], found: dict[str, Any]) -> Decision:
    whole = {**HOME.get(term.id, {}), **machine}
    return decided(unit(**whole), finding(component=COVERS[term.id], **found), (term,))


def listed(decision: Decision) -> set[tuple[str, str, str]]:
    return {(one.ground, one.source, one.note) for one in decision.forbidden}


@pytest.mark.parametrize(("name", "at"), [one for one in ROWS if one[0] in COVERS])
def test_each_ground_acts_and_is_listed_and_without_its_row_does_neither(name: str, at: int) -> None:
    row, bare = TERMS[name].not_denied_for[at], without(TERMS[name], at)
    for machine, found in facts_of(row):
        fact, value = next(
            ((key, one) for key, one in {**found, **machine}.items() if key in dict(row.when.facts)),
            ("serviced_by", "independent"),
        )
        if not row.when.facts:
            machine = {**machine, fact: value}
        with_row, dropped = excluding(TERMS[name], row.ground, fact, value), excluding(bare, row.ground, fact, value)
        kept = judged(with_row, machine, found)
        assert kept.answer == YES, (row, machine, found)
        assert any(one.ground == row.ground and one.source == row.source and one.used for one in kept.forbidden)
        assert judged(dropped, machine, found).answer == NO, (row, machine, found)
    plain, less = listed(judged(TERMS[name], {}, {})), listed(judged(bare, {}, {}))
    assert plain - less == {(row.ground, row.source, row.note)}
    assert row.source


def test_the_grounds_of_each_shipped_term() -> None:
    """By name, so that a whole list that is left out is missed: 40 CFR 1068.115(b) and 1054.125; 13 CCR 2405 and 2406; 16 CFR 700."""
    federal = {
        "makers_service", "wrong_assembly", "modification", "emergency_repair", "unrelated_conduct", "any_modification", "extra_maintenance",
        "makers_fault", "missing_part", "common_fuel", "improper_fuel_or_oil", "improper_maintenance", "service_elsewhere", "other_parts",
        "opened_elsewhere",
    }  # fmt: skip
    assert {term.id: {row.ground for row in term.not_denied_for} for term in LAW} == {
        "us-emission-exhaust": federal, "us-emission-evaporative": federal, "us-ca-emission": {"records_missing", "service_elsewhere"},
        "us-tie-in-ban": {"service_elsewhere", "other_parts", "opened_elsewhere"}, "us-registration-card": {"registration_card"},
    }  # fmt: skip


BOOKLET: dict[str, Any] = {
    "id": "booklet", "version": 1, "title": "booklet", "giver": "maker", "giver_name": "Fernhollow", "consumer_product": True, "full": True,
    "components": {"all": True}, "period": {"months": 24}, "causes": ["defect"], "start": {"from": "sale"},
    "source": {"cite": "card", "edition": "1", "address": "box", "confidence": "invented"},
}  # fmt: skip
TIED = {
    "service_elsewhere": ("serviced_by", "independent"),
    "other_parts": ("other_parts", True),
    "opened_elsewhere": ("serviced_by", "owner"),
}


@pytest.mark.parametrize(("name", "at"), [one for one in ROWS if one[0] not in COVERS])
def test_each_ground_that_a_ban_forbids_acts_on_a_written_warranty(name: str, at: int) -> None:
    ban, row = TERMS[name], TERMS[name].not_denied_for[at]
    if row.ground == "registration_card":
        machine: dict[str, Any] = {"registered": False, "registered_on": None}
        booklet = term_from_dict({**BOOKLET, "requires": {"registered_within_days": 30}})
    else:
        fact, value = TIED[row.ground]
        machine, booklet = {fact: value}, excluding(term_from_dict(BOOKLET), row.ground, fact, value)
    bound = decided(unit(**machine), finding(), (booklet, ban))
    assert bound.answer == YES
    assert any(one.ground == row.ground and one.source == ban.source.cite and one.used for one in bound.forbidden)
    less = (booklet, without(ban, at)) if len(ban.not_denied_for) > 1 else (booklet,)
    assert decided(unit(**machine), finding(), less).answer == NO


# Starts: every kind of sale under every shipped term.

SOLD, DELIVERED, SERVED = date(2024, 5, 3), date(2024, 5, 10), date(2024, 4, 1)
BEGINS = {
    "us-emission-exhaust": {"new": SOLD, "floor_stock": SOLD, "demonstrator": SERVED, "ex_rental": SERVED},
    "us-emission-evaporative": {"new": SOLD, "floor_stock": SOLD, "demonstrator": SERVED, "ex_rental": SERVED},
    "us-ca-emission": {"new": DELIVERED, "floor_stock": DELIVERED, "demonstrator": SERVED, "ex_rental": SERVED},
}
DAYS: dict[str, Any] = {"sold_on": SOLD, "delivered_on": DELIVERED, "first_service_on": SERVED}


def around(begins: date) -> tuple[tuple[date, str], ...]:
    ends = begins.replace(year=begins.year + 2)
    return (begins - DAY, NO), (begins, YES), (begins + DAY, YES), (ends - DAY, YES), (ends, YES), (ends + DAY, NO)


def starts_wrong(term: Term) -> list[str]:
    """Where this wording starts on another day than the text has it."""
    return [
        f"{kind} on {day}"
        for kind, begins in BEGINS[term.id].items()
        for day, answer in around(begins)
        if judged(term, {**DAYS, "sale_kind": kind}, {"found_on": day}).answer != answer
    ]


def proofless_wrong(term: Term) -> list[str]:
    """Where a sale that nothing proves is judged otherwise than from the first service: 1068.110(e), 'first placed into service'."""
    machine = {**DAYS, "sold_on": None, "delivered_on": None, "purchase_proof": "none", "sale_kind": "new"}
    return [str(day) for day, answer in around(SERVED) if judged(term, machine, {"found_on": day}).answer != answer]


@pytest.mark.parametrize("name", sorted(BEGINS))
def test_every_kind_of_sale_starts_on_its_day_and_another_start_is_noticed(name: str) -> None:
    assert starts_wrong(TERMS[name]) == []
    record = term_to_dict(TERMS[name])
    start = record["start"]
    assert isinstance(start, dict)
    for kind in ("demonstrator", "ex_rental"):
        for other in ("sale", "delivery"):
            assert starts_wrong(term_from_dict({**record, "start": {**start, kind: other}})), (kind, other)
    assert starts_wrong(term_from_dict({**record, "start": {**start, "floor_stock": "first_service"}}))


@pytest.mark.parametrize("name", ["us-emission-exhaust", "us-emission-evaporative"])
def test_a_sale_without_proof_starts_with_the_first_service_and_without_that_rule_it_is_noticed(name: str) -> None:
    assert proofless_wrong(TERMS[name]) == []
    record = term_to_dict(TERMS[name])
    start = record["start"]
    assert isinstance(start, dict)
    bare = {key: value for key, value in start.items() if key != "no_proof"}
    assert proofless_wrong(term_from_dict({**record, "start": bare}))
    assert proofless_wrong(term_from_dict({**record, "start": {**start, "no_proof": {"from": "build"}}}))


def test_every_shipped_rule_for_a_sale_without_proof_has_its_case() -> None:
    assert {term.id for term in LAW if term.start.no_proof is not None} == {
        "us-emission-exhaust",
        "us-emission-evaporative",
    }
