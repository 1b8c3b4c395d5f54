"""Hostile and enormous data."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from tests.counting import calls
from tests.warranty.coverage.kit import LAW, decided, finding, unit
from warranty.coverage.codec import FactError, finding_from, to_record, unit_from
from warranty.coverage.decide import decide
from warranty.coverage.decision import from_json, to_json
from warranty.coverage.facts import FindingFacts
from warranty.coverage.known_defects import Catalogue, KnownDefect, match
from warranty.coverage.terms import term_from_dict
from warranty.coverage.words import words

DAY = date(2025, 6, 1)
NASTY = [
    "'; DROP TABLE units; --",
    "<img src=/etc/passwd>",
    "\x00\x01",
    "𝔘𝔫𝔦𝔠𝔬𝔡𝔢",
    "a" * 100_000,
    "${jndi:x}",
    "‮abc",
    "١٢٣",
]


@pytest.mark.parametrize("text", NASTY)
def test_any_text_as_a_serial_or_id_is_only_text(text: str) -> None:
    machine = unit(serial=text, model=text)
    found = finding(id=text or "x", measurement=text)
    decision = decide(machine, [found], LAW, DAY)[found.id]
    assert decision.answer == "covered"
    assert to_json(from_json(to_json(decision))) == to_json(decision)
    assert words(decision)


@pytest.mark.parametrize("length", [1, 2, 3, 500])
def test_a_circle_of_causes_of_any_length_ends(length: int) -> None:
    ring = [finding(id=f"f{at}", caused_by=f"f{(at + 1) % length}") for at in range(length)]
    tail = [finding(id="tail", caused_by="f0")]
    for one in decide(unit(), ring + tail, LAW, DAY).values():
        assert (one.answer, one.refused) == ("cannot_say_yet", "causes_in_a_circle")


def test_a_chain_of_five_thousand_has_its_root_at_the_end() -> None:
    links = [finding(id=f"f{at}", caused_by=f"f{at + 1}" if at < 4999 else "none", cause="wear" if at == 4999 else "defect")
             for at in range(5000)]  # fmt: skip
    answers = {one.answer for one in decide(unit(), links, LAW, DAY).values()}
    assert answers == {"not_covered"}


def test_the_work_for_ten_times_the_findings_is_ten_times_as_much() -> None:
    def work(count: int) -> int:
        parts = ("carburettor", "blade", "fuel_line", "harness")
        found = [FindingFacts(f"f{at}", parts[at % 4], "engine", "broken", ("defect", None, "impact")[at % 3],
                              ("none", None)[at % 2], DAY) for at in range(count)]  # fmt: skip

        def decided_and_told() -> None:
            decisions = decide(unit(), found, LAW, DAY)
            assert len(decisions) == count
            for one in list(decisions.values())[:: max(1, count // 150)]:
                to_json(one)

        return calls(decided_and_told)

    assert work(3_000) < 15 * work(300)  # a quadratic way would take a hundred times


def test_two_findings_of_one_id_are_refused() -> None:
    with pytest.raises(ValueError, match="same id"):
        decide(unit(), [finding(), finding()], LAW, DAY)


def test_no_findings_and_no_terms() -> None:
    assert decide(unit(), [], LAW, DAY) == {}
    assert decided(unit(), None, ()).answer == "not_covered"


def test_days_at_the_ends_of_the_calendar() -> None:
    for day in (date.min, date.max):
        machine = unit(sold_on=day, build_date=date.min, delivered_on=None, first_service_on=None, registered_on=day)
        decision = decide(machine, [finding(found_on=day)], LAW, date.max)["f1"]
        assert decision.answer == "covered"
        assert to_json(decision)


def test_everything_unknown_is_answered_and_says_what_to_ask() -> None:
    from warranty.coverage.facts import UnitFacts

    decision = decide(UnitFacts(), [FindingFacts("f1", "carburettor")], LAW, DAY)["f1"]
    assert decision.answer == "cannot_say_yet"
    costs = [one.cost for one in decision.settling]
    assert costs == sorted(costs)
    assert len(costs) >= 5
    assert words(decision)


def test_a_catalogue_of_fifty_thousand_rows_is_answered_at_once() -> None:
    rows = [
        KnownDefect(
            f"kd-{at}",
            1,
            "t",
            f"Maker{at % 500}",
            ("carburettor",),
            ("smell",),
            "c",
            "p",
            "defect",
            "r",
            "warranty",
            "s",
        )
        for at in range(50_000)
    ]
    catalogue = Catalogue(rows)
    found: list[Any] = []
    work = calls(lambda: found.extend(match(unit(maker="Maker7"), [finding()], catalogue, DAY)))
    assert len(found) == 100
    assert all(one.fits == "fits" for one in found)
    assert work < 50_000, "not even one call for each row: the maker's own hundred are looked at, the others are not"


BAD_FACTS = [
    ({"colour": "red"}, "no such field"), ({"hours": "many"}, "expected a number"), ({"hours": -1}, "not negative"),
    ({"hours": "NaN"}, "expected a number"), ({"sold_on": "31.12.2024"}, "expected a date"), ({"use_class": "private"}, "one of"),
    ({"modified": "no"}, "true or false"), ({"assemblies": "engine"}, "expected a list"), ({"hours": True}, "expected a number"),
    ({"assemblies": [{"maker": "x"}]}, "missing"), ({"replacement_schedule": {"spark_plug": 3}}, "expected a list"),
]  # fmt: skip


@pytest.mark.parametrize(("record", "says"), BAD_FACTS)
def test_a_wrong_fact_is_refused_by_name(record: dict[str, object], says: str) -> None:
    with pytest.raises(FactError, match=says):
        unit_from(record)


def test_facts_survive_being_a_record() -> None:
    machine = unit(
        replacement_schedule={"spark_plug": (12, Decimal(100))}, authorised={"Ostervane": True}, hours=Decimal("90.10")
    )
    assert unit_from(to_record(machine)) == machine
    assert finding_from(to_record(finding(signs=("a", "b")))) == finding(signs=("a", "b"))


def test_a_term_with_the_longest_period_does_not_leave_the_calendar() -> None:
    term = term_from_dict({
        "id": "long", "version": 1, "title": "t", "giver": "shop", "components": {"codes": ["carburettor"]}, "period": {"months": 1200},
        "source": {"cite": "c", "edition": "e", "address": "a", "confidence": "invented"},
    })  # fmt: skip
    machine = unit(sold_on=date(9990, 1, 1), build_date=date(9989, 1, 1), delivered_on=None, first_service_on=None)
    assert decided(machine, finding(found_on=date(9999, 1, 1)), (term,)).answer == "covered"
