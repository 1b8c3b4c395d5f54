"""Federal emission warranty period.

40 CFR 1054.120(b) and 1060.120(b), text of title 40 seen between 2021 and 2023 (paragraphs 102105 and 102361 of
github.com/codexstanford/markdown-chunk-of-the-usa-code-of-federal-regulation). Month ends and leap days after
published.md 3.3: the corresponding-date rule, with the anniversary day inside.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from tests.warranty.coverage.kit import FEDERAL, ONE_DAY, decided, on, unit
from warranty.coverage.terms import term_from_dict
from warranty.coverage.vocabulary import USE_CLASSES
from warranty.coverage.words import words

EXHAUST, EVAPORATIVE = "us-emission-exhaust", "us-emission-evaporative"

# bought, last day inside two years (table of published.md 3.3 for 24 months, and further month ends)
TWO_YEARS = [
    (date(2024, 2, 29), date(2026, 2, 28)),
    (date(2024, 3, 31), date(2026, 3, 31)),
    (date(2022, 2, 28), date(2024, 2, 28)),
    (date(2022, 3, 1), date(2024, 3, 1)),
    (date(2023, 12, 31), date(2025, 12, 31)),
    (date(2024, 4, 30), date(2026, 4, 30)),
    (date(2024, 1, 1), date(2026, 1, 1)),
]
PART = {EXHAUST: "ignition_module", EVAPORATIVE: "carbon_canister"}


@pytest.mark.parametrize("term", [EXHAUST, EVAPORATIVE])
@pytest.mark.parametrize(("sold", "last"), TWO_YEARS)
def test_the_day_before_the_day_on_and_the_day_after(term: str, sold: date, last: date) -> None:
    machine = unit(sold_on=sold, build_date=date(2021, 6, 1), first_service_on=sold, hours=Decimal(10))
    for day, answer in ((last - ONE_DAY, "covered"), (last, "covered"), (last + ONE_DAY, "not_covered")):
        decision = decided(machine, on(day, component=PART[term]), FEDERAL)
        assert decision.answer == answer, day
        row = next(one for one in decision.tried if one.term == term)
        assert (row.last_day, row.anniversary_inside) == (last.isoformat(), True)


@pytest.mark.parametrize("term", [EXHAUST, EVAPORATIVE])
def test_it_begins_with_the_sale_and_not_before(term: str) -> None:
    part = PART[term]
    sold = date(2024, 5, 3)
    assert decided(unit(), on(sold, component=part), FEDERAL).answer == "covered"
    assert decided(unit(), on(sold - ONE_DAY, component=part), FEDERAL).answer == "not_covered"


@pytest.mark.parametrize("use", USE_CLASSES)
@pytest.mark.parametrize("owner", ["first", "later"])
def test_every_owner_and_every_use_class(use: str, owner: str) -> None:
    """(a): the ultimate purchaser and each subsequent purchaser, with no word of use class."""
    decision = decided(unit(use_class=use, owner=owner), on(date(2026, 5, 3)), FEDERAL)
    assert decision.by == (EXHAUST,)


def test_where_only_the_day_of_first_service_is_known_that_day_counts() -> None:
    """1068.110(e): the period begins when the equipment is first placed into service."""
    machine = unit(sold_on=None, purchase_proof="none", first_service_on=date(2024, 7, 9))
    assert decided(machine, on(date(2026, 7, 9)), FEDERAL).answer == "covered"
    assert decided(machine, on(date(2026, 7, 10)), FEDERAL).answer == "not_covered"


def test_a_demonstrator_starts_with_its_first_service() -> None:
    machine = unit(sale_kind="demonstrator", first_service_on=date(2024, 2, 1))
    assert decided(machine, on(date(2026, 2, 1)), FEDERAL).answer == "covered"
    assert decided(machine, on(date(2026, 2, 2)), FEDERAL).answer == "not_covered"


def published(months: int, components: object, **more: object) -> object:
    return term_from_dict({
        "id": f"free-{months}", "version": 1, "title": "a published warranty", "giver": "engine_maker", "giver_name": "Ostervane",
        "components": components, "period": {"months": months}, "assemblies": ["engine"],
        "source": {"cite": "leaflet", "edition": "2024", "address": "shop file", "confidence": "invented"}, **more,
    })  # fmt: skip


def last_of(decision: object, term: str = EXHAUST) -> str | None:
    return next(one.last_day for one in decision.tried if one.term == term)  # type: ignore[attr-defined]


def test_not_shorter_than_a_published_warranty_without_charge() -> None:
    """(b): the engine's promise may not be shorter than any free published one; the same for a component."""
    engine = published(36, {"all": True})
    coil = published(60, {"codes": ["ignition_module"]})
    charged = published(48, {"all": True}, free=False)
    terms = (*FEDERAL, engine, coil, charged)
    day = date(2025, 6, 1)
    assert last_of(decided(unit(), on(day), terms)) == "2027-05-03"  # type: ignore[arg-type]
    assert last_of(decided(unit(), on(day, component="ignition_module"), terms)) == "2029-05-03"  # type: ignore[arg-type]
    assert last_of(decided(unit(engine={"maker": "Otherwise"}), on(day), terms)) == "2026-05-03"  # type: ignore[arg-type]


def test_a_free_promise_that_this_use_does_not_get_lengthens_nothing() -> None:
    terms = (*FEDERAL, published(36, {"all": True}, use_classes=["residential"]))
    assert last_of(decided(unit(use_class="commercial"), on(date(2025, 6, 1)), terms)) == "2026-05-03"  # type: ignore[arg-type]
    assert last_of(decided(unit(use_class="residential"), on(date(2025, 6, 1)), terms)) == "2027-05-03"  # type: ignore[arg-type]


@pytest.mark.parametrize("power", ["battery", "mains", "diesel"])
def test_never_on_a_machine_without_a_spark_engine(power: str) -> None:
    assert decided(unit(power=power), None, FEDERAL).answer == "not_covered"


@pytest.mark.parametrize("power", ["two_stroke", "four_stroke", "lpg"])
def test_on_every_spark_engine_whose_label_shows_this_part(power: str) -> None:
    assert decided(unit(power=power), None, FEDERAL).answer == "covered"
    assert decided(unit(power=power, engine={"part_1054": False}), None, FEDERAL).answer == "not_covered"
    unread = decided(unit(power=power, engine={"part_1054": None, "label_read": False}), None, FEDERAL)
    assert unread.answer == "cannot_say_yet"
    assert "assembly.part_1054" in unread.missing_proof


@pytest.mark.parametrize(("miles", "far"), [(99, False), (100, False), ("100.1", True), (250, True)])
def test_an_owner_over_a_hundred_miles_from_an_authorised_centre(miles: object, far: bool) -> None:
    """(f)(3)(ii): beyond 100 miles the maker pays shipping, sends a technician, or pays a local shop."""
    machine = unit(miles_to_centre=Decimal(str(miles)), authorised={"Ostervane": False})
    route = decided(machine, None, FEDERAL).route
    assert (route.far_owner, route.way) == (far, "approval_first" if far else "send_on")


FAR = {"miles_to_centre": Decimal(130)}


@pytest.mark.parametrize("standing", [
    {}, {"authorised": {"Ostervane": True}}, {"authorised": {"Ostervane": False}},
    {"authorised": {"Ostervane": True}, "approval_needed": {"Ostervane": True}},
    {"authorised": {"Ostervane": True}, "approval_needed": {"Ostervane": False}},
])  # fmt: skip
def test_what_a_far_owner_is_offered_names_its_source_whatever_the_shops_standing(standing: dict[str, object]) -> None:
    decision = decided(unit(**FAR, **standing), None, FEDERAL)
    assert (decision.route.far_owner, decision.route.source) == (True, "40 CFR 1054.120(f)(3)(ii)")
    text = "\n".join(words(decision))
    assert "high-altitude areas). [40 CFR 1054.120(f)(3)(ii)]" in text
    assert "[]" not in text


@pytest.mark.parametrize(("region", "far"), [
    ("US-AK", False), ("US-HI", False), ("US-PR", False), ("US-CO", True), ("US-OH", True), ("US", True),
])  # fmt: skip
def test_it_is_offered_in_the_contiguous_states_alone(region: str, far: bool) -> None:
    decision = decided(unit(**FAR, region=region, authorised={"Ostervane": False}), None, FEDERAL)
    assert (decision.answer, decision.route.far_owner) == ("covered", far)
    assert decision.route.way == ("approval_first" if far else "send_on")
    assert ("far from an authorised centre" in "\n".join(words(decision))) is far


def test_a_shorter_period_for_severe_seasonal_service_is_named_with_its_source_and_never_assumed() -> None:
    """1054.120(b)(2): it may be established for hand-held engines at certification; the text names no length."""
    one = unit(hand_held=True, use_class="commercial", hour_meter=False, hours=None, sold_on=date(2024, 5, 3))
    decision = decided(one, on(date(2026, 5, 3)), FEDERAL)
    assert decision.answer == "covered" and "us-emission-exhaust" in decision.by
    said = "\n".join(words(decision))
    assert "may have been granted a shorter period at certification, 40 CFR 1054.120(b)(2)" in said
