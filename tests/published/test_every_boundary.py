"""No boundary of a shipped term without a case: each is moved by a little, and some case below must then come out otherwise.

The cases say what the text gives, as the other files of this folder do at length. A boundary that is added to the data, or
moved, without a case here fails by its name.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from copy import deepcopy
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from orders.rules.strict import DataError
from tests.warranty.coverage.kit import LAW, decided, finding, unit
from warranty.coverage.decide import decide
from warranty.coverage.decision import Decision
from warranty.coverage.facts import RepairFacts
from warranty.coverage.terms import Term, term_from_dict, term_to_dict

EXHAUST, EVAPORATIVE, CALIFORNIA = "us-emission-exhaust", "us-emission-evaporative", "us-ca-emission"
TERMS = {term.id: term for term in LAW}
SPOKEN = ("id", "version", "title", "source", "sources", "giver", "giver_name", "duty_on", "kind", "note")
"""What names a term or its source; no answer turns on it."""

WORDS = {
    "to": "first_owner", "from": "build", "floor_stock": "first_service", "demonstrator": "sale", "ex_rental": "sale",
    "replacement": "new_period", "without_meter": "fails", "consequent": "none",
}  # fmt: skip
"""Another word for each place that holds one of a few."""


# Moving one boundary at a time.


def moved(record: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Every copy of the record with one boundary moved: a number or day by one, a flag turned, an entry left out."""
    if isinstance(record, Mapping):
        for key, value in record.items():
            if path or key not in SPOKEN:
                for place, other in moved(value, f"{path}.{key}"):
                    yield place, {**record, key: other}
    elif isinstance(record, list):
        for at in range(len(record)):
            if len(record) > 1:
                yield f"{path}[{at}] left out", [one for number, one in enumerate(record) if number != at]
        for at, value in enumerate(record):
            for place, other in moved(value, f"{path}[{at}]"):
                yield place, [*record[:at], other, *record[at + 1 :]]
    elif isinstance(record, bool):
        yield f"{path} turned", not record
    elif isinstance(record, int):
        yield from ((f"{path} {step:+}", record + step) for step in (-1, 1))
    elif isinstance(record, str):
        yield from _other_text(record, path)


def _other_text(text: str, path: str) -> Iterator[tuple[str, Any]]:
    last = path.rsplit(".", 1)[-1]
    try:
        day = date.fromisoformat(text)
    except ValueError:
        if last in WORDS and text != WORDS[last]:
            yield f"{path} not {text}", WORDS[last]
        return
    yield from ((f"{path} {step:+} day", (day + timedelta(days=step)).isoformat()) for step in (-1, 1))


def others(term: Term) -> Iterator[tuple[str, Term]]:
    """The term with one boundary moved, as often as it has boundaries; what no term may say is left out."""
    for place, record in moved(deepcopy(term_to_dict(term))):
        try:
            other = term_from_dict(record)
        except DataError:
            continue
        # A part that the term covers by itself is reached anyway: naming it once more under what follows bounds nothing.
        if "consequent_components" not in place or other.reach != term.reach:
            yield place, other


# The cases: (term, facts of the unit, facts of the finding, what the text gives).

PARTS = {EXHAUST: "ignition_module", EVAPORATIVE: "carbon_canister", CALIFORNIA: "ignition_module"}
SOLD, LAST = date(2024, 5, 3), date(2026, 5, 3)
DAY = timedelta(days=1)
Case = tuple[str, dict[str, Any], dict[str, Any], str]
YES, NO, OPEN = "covered", "not_covered", "cannot_say_yet"


def _both_sides() -> Iterator[Case]:
    """What the two federal sections and California's say alike."""
    for term, part in PARTS.items():
        home = {"region": "US-CA"} if term == CALIFORNIA else {}
        for day, answer in ((SOLD - DAY, NO), (SOLD, YES), (LAST - DAY, YES), (LAST, YES), (LAST + DAY, NO)):
            yield term, home, {"component": part, "found_on": day}, answer
        for power in ("two_stroke", "four_stroke", "lpg"):
            yield term, {**home, "power": power}, {"component": part}, YES
        yield term, {**home, "region": "CA-ON"}, {"component": part}, NO
        yield term, {**home, "owner": "later", "use_class": "rental"}, {"component": part}, YES
        first = {"first_service_on": date(2024, 4, 1), "delivered_on": date(2024, 5, 10)}
        for kind, begun in (("new", None), ("floor_stock", None), ("demonstrator", date(2024, 4, 1)), ("ex_rental", date(2024, 4, 1))):  # fmt: skip
            start = begun or (date(2024, 5, 10) if term == CALIFORNIA else SOLD)
            end = start.replace(year=2026)
            for day, answer in ((start - DAY, NO), (start, YES), (end, YES), (end + DAY, NO)):
                yield term, {**home, **first, "sale_kind": kind}, {"component": part, "found_on": day}, answer
        for cause in ("wear", "impact", "environment", "assembly", "missing_part"):
            yield term, home, {"component": part, "cause": cause, "done_by": "owner"}, NO
        for cause in ("assembly", "missing_part"):
            for hand in ("maker", "authorised"):
                yield term, home, {"component": part, "cause": cause, "done_by": hand}, YES
            yield term, home, {"component": part, "cause": cause, "done_by": "this_shop"}, NO
        for code in sorted(TERMS[term].components):
            seen = {**home, "replacement_schedule": {}} if term == CALIFORNIA else home
            yield term, seen, {"component": code}, YES
        yield term, home, {"component": "blade", "assembly": "unit"}, NO


def _federal() -> Iterator[Case]:
    for term, part in ((EXHAUST, "ignition_module"), (EVAPORATIVE, "carbon_canister")):
        seen = {"component": part}
        for shown, answer in ((True, YES), (False, NO), (None, OPEN)):
            yield term, {"engine": {"part_1054": shown}}, seen, answer
        unproved = {
            "sold_on": None,
            "purchase_proof": "none",
            "first_service_on": date(2024, 4, 1),
            "delivered_on": None,
        }
        for day, answer in (
            (date(2024, 3, 31), NO),
            (date(2024, 4, 1), YES),
            (date(2026, 4, 1), YES),
            (date(2026, 4, 2), NO),
        ):
            yield term, unproved, {**seen, "found_on": day}, answer
    for on_it, answer in ((True, YES), (False, NO), (None, OPEN)):
        yield EVAPORATIVE, {"evaporative": on_it}, {"component": "carbon_canister"}, answer
    part = {"component": "ignition_module"}
    for hours, invoked, answer in (("125", True, YES), ("125.1", True, NO), ("125.1", False, YES), ("125.1", None, OPEN),
                                   ("122.5", True, YES), ("127.5", True, NO)):  # fmt: skip
        yield EXHAUST, {"hours": Decimal(hours), "hours_limit_invoked": invoked}, part, answer
    yield EXHAUST, {"hour_meter": False, "hours": None, "hours_limit_invoked": True}, part, YES
    yield EVAPORATIVE, {"hours": Decimal(9000), "hours_limit_invoked": True}, {"component": "carbon_canister"}, YES


def _california() -> Iterator[Case]:
    home, part = {"region": "US-CA"}, {"component": "ignition_module"}
    for built, answer in ((date(1994, 12, 31), NO), (date(1995, 1, 1), YES), (date(1995, 1, 2), YES)):
        yield CALIFORNIA, {**home, "build_date": built}, part, answer
    yield CALIFORNIA, {"region": "US-OH"}, part, NO
    for code in ("spark_plug", "air_filter", "pre_filter", "fuel_filter"):
        yield CALIFORNIA, {**home, "replacement_schedule": None}, {"component": code}, OPEN
    yield CALIFORNIA, {**home, "replacement_schedule": None}, part, YES
    repair = RepairFacts(date(2025, 11, 1), ("ignition_module",), "authorised", None, CALIFORNIA, "Ostervane", True)
    for day, answer in (
        (LAST, YES),
        (LAST + DAY, NO),
        (date(2027, 6, 1), NO),
    ):  # the rest of the same period, no new one
        yield CALIFORNIA, {**home, "repairs": (repair,)}, {**part, "found_on": day}, answer


CASES = [*_both_sides(), *_federal(), *_california()]
FORBIDDEN = {  # each ground that may not be given, with its rule: 40 CFR 1068.115(b), 1054.125, 13 CCR 2405 and 2406
    EXHAUST: 20, EVAPORATIVE: 20, CALIFORNIA: 2,
}  # fmt: skip
DEEMED = [
    # (cause, facts of the finding, facts of the unit): causes that 1068.115(b) and 1054.125 take out of the owner's account
    ("fuel_oil", {}, {"fuel": "e0"}), ("fuel_oil", {}, {"fuel": "e10"}),
    ("fuel_oil", {}, {"fuel": "e15", "manual_forbids_fuel": False}),
    ("fuel_oil", {}, {"fuel": "e15", "manual_forbids_fuel": True, "proper_fuel_at_hand": False}),
    ("upkeep", {"upkeep_item": "combustion_deposits"}, {}), ("upkeep", {"upkeep_item": "valve_seats"}, {}),
    ("upkeep", {"upkeep_item": "recommended_extra"}, {}),
    ("assembly", {"done_by": "maker"}, {}), ("assembly", {"done_by": "authorised"}, {}),
    ("assembly", {"done_by": "owner"}, {"emergency_repair": True}),
    ("modification", {"done_by": "maker"}, {}), ("modification", {"done_by": "authorised"}, {}),
    ("modification", {"done_by": "owner"}, {"emergency_repair": True}),
    ("missing_part", {"done_by": "maker"}, {}), ("missing_part", {"done_by": "authorised"}, {}),
    *((cause, {"done_by": hand, "upkeep_item": "air_filter"}, {"fuel": "stale"})
      for cause in ("fuel_oil", "upkeep", "impact", "environment") for hand in ("maker", "authorised")),
]  # fmt: skip
COUNTED_AGAINST = [
    ("fuel_oil", {"done_by": "owner"}, {"fuel": "e85"}), ("fuel_oil", {"done_by": "owner"}, {"fuel": "stale"}),
    ("fuel_oil", {"done_by": "owner"}, {"fuel": "e15", "manual_forbids_fuel": True, "proper_fuel_at_hand": True}),
    ("upkeep", {"upkeep_item": "air_filter", "done_by": "owner"}, {}), ("upkeep", {"upkeep_item": "other", "done_by": "nobody"}, {}),
    ("assembly", {"done_by": "owner"}, {"emergency_repair": False}), ("assembly", {"done_by": "other_shop"}, {"emergency_repair": True}),
    ("modification", {"done_by": "owner"}, {"emergency_repair": False}), ("modification", {"done_by": "other_shop"}, {"emergency_repair": True}),
    ("missing_part", {"done_by": "owner"}, {}),
    ("impact", {"done_by": "owner"}, {}), ("environment", {"done_by": "nobody"}, {}), ("wear", {"done_by": "maker"}, {}),
]  # fmt: skip


def _judged(term: Term, machine: dict[str, Any], found: dict[str, Any]) -> Decision:
    return decided(unit(**machine), finding(**found), (term,))


def faults(term: Term) -> Iterator[str]:
    """Where this wording of a shipped term does not give what the text gives; none for the shipped one."""
    for name, machine, found, answer in CASES:
        if name == term.id and (got := _judged(term, machine, found).answer) != answer:
            yield f"{machine} {found}: {got}, not {answer}"
    part, home = PARTS[term.id], {"region": "US-CA"} if term.id == CALIFORNIA else {}
    plain = _judged(term, home, {"component": part})
    if len({(one.ground, one.source, one.note) for one in plain.forbidden}) != FORBIDDEN[term.id]:
        yield "the grounds that may not be given"
    if plain.tried[0].pays != ("parts", "labour", "diagnosis"):
        yield f"what is paid: {plain.tried[0].pays}"
    if term.id != CALIFORNIA:
        yield from _of_grounds(term, part)
    yield from _of_chains(term, part, home)
    if term.id == EXHAUST:
        yield from _of_free_promises(term)
        yield from _of_distance(term)


def _of_grounds(term: Term, part: str) -> Iterator[str]:
    """What is not held against the owner; by the term's causes first, and by the ban of the ground alone as well."""
    record = term_to_dict(term)
    alone = term_from_dict({key: value for key, value in record.items() if key != "causes_when"})
    for rows, answer in ((DEEMED, YES), (COUNTED_AGAINST, NO)):
        for cause, found, machine in rows:
            for wording in (term, alone):
                got = _judged(wording, machine, {"component": part, "cause": cause, **found})
                if got.answer != answer:
                    yield f"{cause} {found} {machine}: {got.answer}, not {answer}"
                by_cause = (
                    wording is term
                    and cause in ("assembly", "missing_part")
                    and found["done_by"] in ("maker", "authorised")
                )
                if answer == YES and any(one.used for one in got.forbidden) is by_cause:
                    yield f"{cause} {found}: answered for as a cause of the maker's, or only not to be held against"
    for fuel, answer in (("e0", YES), ("e10", YES), ("e15", NO), ("e85", NO)):
        row = {"ground": "common_fuel", "when": {"fuel": [fuel]}, "source": "a booklet"}
        got = _judged(term_from_dict({**record, "excludes": [row]}), {"fuel": fuel}, {"component": part})
        if got.answer != answer:
            yield f"an exclusion of {fuel}: {got.answer}, not {answer}"


def _of_chains(term: Term, part: str, home: dict[str, Any]) -> Iterator[str]:
    """What a covered part ruins: a part that the federal terms list; in California the parts of the engine that are named."""
    shipped = TERMS[term.id]
    listed = (
        shipped.consequent_codes if term.id == CALIFORNIA else {"carburettor"} if term.id == EXHAUST else {"fuel_line"}
    )
    for code, answer in (*((one, YES) for one in sorted(listed)), ("blade", NO), ("wheel", NO)):
        root, ruined = finding(id="root", component=part), finding(id="ruined", component=code, caused_by="root")
        got = decide(unit(**home), [root, ruined], (term,), date(2025, 6, 1))["ruined"].answer
        if got != answer:
            yield f"ruined {code}: {got}, not {answer}"


def _of_free_promises(term: Term) -> Iterator[str]:
    """1054.120(b): not shorter than what the maker, or the engine's maker, publishes without charge."""
    for giver, name in (("maker", "Fernhollow"), ("engine_maker", "Ostervane")):
        free = term_from_dict({
            "id": "free", "version": 1, "title": "free", "giver": giver, "giver_name": name, "free": True, "components": {"codes": ["ignition_module"]},
            "period": {"months": 36}, "use_classes": ["residential"], "causes": ["defect"], "requires": {"plan": "never"},
            "source": {"cite": "card", "edition": "1", "address": "box", "confidence": "invented"},
        })  # fmt: skip
        late = decide(unit(), [finding(component="ignition_module", found_on=LAST + DAY)], (term, free), LAST + DAY)[
            "f1"
        ]
        if late.answer != YES or late.by != (EXHAUST,):
            yield f"as long as the free promise of the {giver}: {late.answer} by {late.by}"


def _of_distance(term: Term) -> Iterator[str]:
    """1054.120(f)(3)(ii): over a hundred miles from an authorised centre."""
    for miles, far in (("100", False), ("100.1", True), ("101", True), ("99.5", False)):
        machine = {"miles_to_centre": Decimal(miles), "authorised": {"Ostervane": False}}
        if _judged(term, machine, {"component": "ignition_module"}).route.far_owner is not far:
            yield f"{miles} miles"
    for state in ("AK", "HI", "AS", "GU", "MP", "PR", "UM", "VI", "CO"):
        there = {"miles_to_centre": Decimal(130), "authorised": {"Ostervane": False}, "region": f"US-{state}"}
        if _judged(term, there, {"component": "ignition_module"}).route.far_owner is not (state == "CO"):
            yield f"{state}, contiguous or not"


SHIPPED = sorted(PARTS)


@pytest.mark.parametrize("name", SHIPPED)
def test_the_shipped_term_gives_what_the_text_gives(name: str) -> None:
    assert list(faults(TERMS[name])) == []


@pytest.mark.parametrize(("name", "place", "other"), [(name, *one) for name in SHIPPED for one in others(TERMS[name])],
                         ids=lambda value: value if isinstance(value, str) else "")  # fmt: skip
def test_a_boundary_that_is_moved_is_seen_by_a_case(name: str, place: str, other: Term) -> None:
    assert next(faults(other), None) is not None, f"{name}{place} can be moved, and no case of this file turns on it"


PROMISE: dict[str, Any] = {
    "id": "promise", "version": 1, "title": "promise", "components": {"codes": ["ignition_module"]}, "period": {"months": 24},
    "source": {"cite": "card", "edition": "1", "address": "box", "confidence": "invented"}, "giver_name": "Fernhollow",
}  # fmt: skip
TIES = {
    "service_elsewhere": {"serviced_by": "independent"}, "other_parts": {"other_parts": True}, "opened_elsewhere": {"serviced_by": "owner"},
}  # fmt: skip


def ban_faults(term: Term) -> Iterator[str]:
    """Where a wording of a protection does not forbid what the text forbids, or binds what it does not speak of."""
    card = term.id == "us-registration-card"
    givers = ("maker", "engine_maker", "part_maker") if card else ("maker", "engine_maker", "part_maker", "plan")
    grounds = {"registration_card": {"registered": False, "registered_on": None}} if card else TIES
    for giver in ("maker", "engine_maker", "part_maker", "plan", "shop"):
        for consumer in (True, False):
            for full in (True, False):
                for ground, machine in grounds.items():
                    record = PROMISE | {"giver": giver, "consumer_product": consumer, "full": full}
                    record["giver_name"] = "Ostervane" if giver == "engine_maker" else "Fernhollow"
                    if card:
                        record["requires"] = {"registered_within_days": 30}
                    else:
                        (name, fact), *_ = machine.items()
                        when = {name: [fact] if isinstance(fact, str) else fact}
                        record["excludes"] = [{"ground": ground, "when": when, "source": "card"}]
                    bound = giver in givers and consumer and (full or not card)
                    terms = (term_from_dict(record), term)
                    got = decided(unit(**machine), finding(component="ignition_module"), terms)
                    named = {one.ground for one in got.forbidden}
                    if (ground in named) is not bound or (
                        giver != "part_maker" and got.answer != (YES if bound else NO)
                    ):
                        yield f"{giver} consumer={consumer} full={full} {ground}: {got.answer}, {named}"


BANS = sorted(set(TERMS) - set(PARTS))


@pytest.mark.parametrize("name", BANS)
def test_the_shipped_ban_forbids_what_the_text_forbids(name: str) -> None:
    assert list(ban_faults(TERMS[name])) == []


@pytest.mark.parametrize(("name", "place", "other"), [(name, *one) for name in BANS for one in others(TERMS[name])],
                         ids=lambda value: value if isinstance(value, str) else "")  # fmt: skip
def test_a_ban_that_is_moved_is_seen_by_a_case(name: str, place: str, other: Term) -> None:
    assert next(ban_faults(other), None) is not None, (
        f"{name}{place} can be moved, and no case of this file turns on it"
    )


def test_moving_a_boundary_is_noticed_for_every_kind_of_value() -> None:
    record = {
        "a": {"n": 24, "flag": True, "day": "2025-01-01", "list": ["x", "y"], "to": "any_owner"},
        "title": "left alone",
    }
    assert [place for place, _ in moved(record)] == [
        ".a.n -1", ".a.n +1", ".a.flag turned", ".a.day -1 day", ".a.day +1 day", ".a.list[0] left out", ".a.list[1] left out",
        ".a.to not any_owner",
    ]  # fmt: skip
