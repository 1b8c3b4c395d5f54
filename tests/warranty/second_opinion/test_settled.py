"""What the two did not agree on at first, each in its smallest form, with the answer that the text gives."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from tests.warranty.second_opinion.opinion import opinion
from tests.warranty.second_opinion.worked import programme
from warranty.coverage.decide import decide
from warranty.coverage.facts import AssemblyFacts, FindingFacts, MeterChange, RepairFacts, UnitFacts
from warranty.coverage.shapes import Term
from warranty.coverage.terms import load_terms, term_from_dict

LAW = tuple(load_terms())
PART, SHOP = ([one for one in programme() if one.id == code] for code in ("pellworth-part", "shop-labour"))
FOUND = date(2025, 9, 12)
UNIT = UnitFacts(
    maker="Quillmark", model="QT-25", family="trimmer", build_date=date(2024, 10, 1), sold_on=date(2025, 3, 31),
    delivered_on=date(2025, 3, 31), first_service_on=date(2025, 3, 31), purchase_proof="receipt", registered=False,
    sale_kind="new", use_class="commercial", region="US-PA", power="two_stroke", hand_held=True, evaporative=True,
    hour_meter=False, hours=Decimal(10), meter_changes=(), owner="first", modified=False, serviced_by="owner",
    other_parts=False, emergency_repair=False, maintenance_records=True, repairs=(), plans=frozenset(),
    campaigns_done=frozenset(), replacement_schedule={}, fuel="e10",
    assemblies=(AssemblyFacts("engine", maker="Ostervane", label_read=True, part_1054=True, useful_life_hours=Decimal(125), displacement_cc=Decimal("25.4")),),
)  # fmt: skip
REPAIR = RepairFacts(date(2025, 8, 1), ("clutch_spring",), "this_shop", Decimal(5), "", "Pellworth", True)


def promise(**more: Any) -> list[Term]:
    """A maker's promise of twelve months from the sale, but for what is given."""
    source = {"cite": "booklet", "edition": "1", "address": "shop file", "confidence": "invented"}
    record: dict[str, Any] = {
        "id": "promise", "version": 1, "title": "Promise", "giver": "maker", "giver_name": "Quillmark", "source": source,
        "components": {"all": True}, "start": {"from": "sale"}, "period": {"months": 12}, "pays": {"parts": True, "labour": True},
    }  # fmt: skip
    return [term_from_dict({**record, **more})]


def finding(component: str = "clutch_spring", **more: Any) -> FindingFacts:
    """A part that broke by a defect of its own."""
    facts = {
        "assembly": "engine",
        "condition": "broken",
        "cause": "defect",
        "caused_by": "none",
        "done_by": "this_shop",
    }
    return FindingFacts(**{"id": "f", "component": component, "found_on": FOUND, **facts, **more})


def agreed(
    unit: UnitFacts, findings: list[FindingFacts], terms: list[Term] | tuple[Term, ...], as_of: date = FOUND
) -> str:
    """The answer for the finding 'f', the same by both."""
    day = max([one.found_on for one in findings if one.found_on] or [as_of])
    engine, second = decide(unit, findings, terms, day)["f"], opinion(unit, findings, terms, day)["f"]
    assert engine.answer == second.answer
    return engine.answer


# A part maker's promise, and a new period, begin with a part; of labour alone nothing begins (facts: `new_part`).
@pytest.mark.parametrize(
    ("what", "answer"),
    [
        ({}, "covered"),
        ({"new_part": False}, "not_covered"),
        ({"new_part": None}, "cannot_say_yet"),
        ({"part_maker": None}, "cannot_say_yet"),
        ({"part_maker": "Ostervane"}, "not_covered"),
    ],
)
def test_a_part_warranty_needs_a_part_of_its_maker(what: dict[str, Any], answer: str) -> None:
    assert agreed(replace(UNIT, repairs=(replace(REPAIR, **what),)), [finding()], PART) == answer


@pytest.mark.parametrize(
    ("what", "answer"),
    [
        ({"under": "promise"}, "covered"),
        ({"under": ""}, "not_covered"),
        ({"under": None}, "cannot_say_yet"),
        ({"under": "promise", "new_part": False}, "not_covered"),
        ({"under": "promise", "new_part": None}, "cannot_say_yet"),
    ],
)
def test_a_new_period_needs_a_part_replaced_under_the_term(what: dict[str, Any], answer: str) -> None:
    terms = promise(period={"months": 5}, replacement="new_period")
    assert agreed(replace(UNIT, repairs=(replace(REPAIR, **what),)), [finding()], terms) == answer


@pytest.mark.parametrize(
    ("who", "answer"), [("this_shop", "covered"), ("owner", "not_covered"), (None, "cannot_say_yet")]
)
def test_who_did_the_repair_is_not_guessed(who: str | None, answer: str) -> None:
    unit = replace(UNIT, repairs=(replace(REPAIR, done_by=who),))
    assert agreed(unit, [finding(cause="assembly")], SHOP) == answer


def test_what_a_new_meter_showed_when_fitted_was_not_run() -> None:
    unit = replace(UNIT, hour_meter=True, meter_changes=(MeterChange(date(2025, 5, 1), None, Decimal(7)),))
    terms = promise(hours={"limit": 500, "without_meter": "years_only"})
    assert agreed(replace(unit, hours=Decimal("506.9")), [finding()], terms) == "cannot_say_yet"
    assert agreed(replace(unit, hours=Decimal("507.1")), [finding()], terms) == "not_covered"


def test_a_machine_of_which_no_sale_is_known_may_be_unsold() -> None:
    unit = replace(
        UNIT, sale_kind=None, sold_on=None, delivered_on=None, first_service_on=None, purchase_proof=None, owner=None
    )
    assert agreed(unit, [finding("carburettor")], LAW) == "cannot_say_yet"
    assert agreed(replace(unit, owner="later"), [finding("carburettor")], LAW) == "covered"


# 13 CCR 2405(c)(3): a schedule that nobody read may set a month, also for a machine without a meter.
def test_a_schedule_that_was_not_read_may_have_set_a_month() -> None:
    unit = replace(
        UNIT, region="US-CA", replacement_schedule=None, assemblies=(replace(UNIT.assemblies[0], part_1054=False),)
    )
    assert agreed(unit, [finding("spark_plug")], LAW) == "cannot_say_yet"
    assert agreed(replace(unit, replacement_schedule={}), [finding("spark_plug")], LAW) == "covered"


@pytest.mark.parametrize("asked", [{"to": "registered_owner"}, {"requires": {"registered_within_days": 30}}])
def test_a_known_day_of_registration_is_a_registration(asked: dict[str, Any]) -> None:
    unit = replace(UNIT, registered=None, registered_on=date(2025, 4, 30))
    assert agreed(unit, [finding()], promise(**asked)) == "covered"
    assert agreed(replace(unit, registered_on=None), [finding()], promise(**asked)) == "cannot_say_yet"


# 16 CFR 700.7: a full warranty on a consumer product may not hang on the card, in whatever words it asks for it.
@pytest.mark.parametrize(("full", "answer"), [(True, "covered"), (False, "not_covered")])
def test_a_full_warranty_to_registered_owners_asks_for_no_card(full: bool, answer: str) -> None:
    terms = [*promise(to="registered_owner", consumer_product=True, full=full), *LAW]
    assert agreed(UNIT, [finding()], terms) == answer


def test_what_works_as_made_began_no_chain() -> None:
    normal = finding("harness", id="n", cause="normal")
    assert agreed(UNIT, [finding(cause="wear", caused_by=None), normal], promise()) == "not_covered"


def test_whether_a_ground_is_forbidden_may_wait_for_a_fact() -> None:
    row = {"ground": "records_missing", "when": {"use_class": ["commercial"]}, "source": "booklet"}
    terms = promise(requires={"maintenance_records": True}, not_denied_for=[row])
    unit = replace(UNIT, maintenance_records=False)
    assert agreed(unit, [finding()], terms) == "covered"
    assert agreed(replace(unit, use_class="rental"), [finding()], terms) == "not_covered"
    assert agreed(replace(unit, use_class=None), [finding()], terms) == "cannot_say_yet"


def test_a_proof_that_the_term_does_not_take_leaves_two_days_open() -> None:
    start = {"from": "sale", "no_proof": {"from": "build", "plus_days": 0}}
    terms = promise(start=start, requires={"proof": ["receipt"]}, period={"months": 8})
    assert agreed(UNIT, [finding()], terms) == "covered"
    assert agreed(replace(UNIT, purchase_proof="none"), [finding()], terms) == "not_covered"
    assert agreed(replace(UNIT, purchase_proof="registration"), [finding()], terms) == "cannot_say_yet"


# The root of a chain decides: its assembly, its schedule, its repair, its exclusion.
def test_damage_by_a_part_outside_the_promised_assembly_is_not_its_giver_s() -> None:
    terms = promise(assemblies=["engine"], pays={"parts": True, "labour": True, "consequent": "listed"})
    root = finding("battery", id="a", assembly="unit")
    assert agreed(UNIT, [root, finding(caused_by="a")], terms) == "not_covered"
    assert agreed(UNIT, [replace(root, assembly="engine"), finding(caused_by="a")], terms) == "covered"


def test_the_shop_pays_for_what_its_own_mistake_ruined() -> None:
    unit = replace(UNIT, repairs=(REPAIR,))
    root = finding(id="a", cause="assembly")
    assert agreed(unit, [root, finding("clutch_drum", caused_by="a")], SHOP) == "covered"


def test_an_exclusion_of_what_came_first_reaches_what_it_ruined() -> None:
    row = {"ground": "excluded_part", "when": {"component": ["blade"]}, "source": "booklet"}
    terms = promise(excludes=[row], pays={"parts": True, "labour": True, "consequent": "machine"})
    assert agreed(UNIT, [finding("blade", id="a"), finding(caused_by="a")], terms) == "not_covered"
    assert agreed(UNIT, [finding("harness", id="a"), finding(caused_by="a")], terms) == "covered"


def test_what_works_as_made_is_explained_whatever_it_was_linked_to() -> None:
    assert agreed(UNIT, [finding("harness", id="a"), finding(cause="normal", caused_by="a")], promise()) == "no_fault"


def test_a_promise_from_registration_does_not_begin_without_one() -> None:
    assert (
        agreed(UNIT, [finding()], promise(start={"from": "registration"}, period={"unlimited": True})) == "not_covered"
    )


def test_a_part_promise_with_a_schedule_is_answered() -> None:
    terms = promise(start={"from": "repair"}, may_be_scheduled=["spark_plug"])
    assert agreed(replace(UNIT, repairs=(REPAIR,)), [finding()], terms) == "covered"


# Nothing is found on a machine before it is built.
def test_a_finding_of_no_day_was_made_after_the_build() -> None:
    terms = promise(start={"from": "build"}, period={"months": 120})
    assert agreed(UNIT, [finding(found_on=None)], terms) == "covered"
    assert agreed(replace(UNIT, build_date=None), [finding(found_on=None)], terms) == "cannot_say_yet"


# Where a day of the machine is not known and the day of the finding neither, the one that began cover came first.
@pytest.mark.parametrize("base", ["sale", "delivery", "first_service"])
def test_two_days_not_known_keep_their_order(base: str) -> None:
    unit = replace(UNIT, sold_on=None, delivered_on=None, first_service_on=None, registered_on=None)
    terms = promise(start={"from": base}, period={"months": 120})
    assert agreed(unit, [finding(found_on=None)], terms) == "covered"
    dated = replace(
        UNIT, **{{"sale": "sold_on", "delivery": "delivered_on", "first_service": "first_service_on"}[base]: FOUND}
    )
    assert agreed(dated, [finding(found_on=None)], terms) == "cannot_say_yet"  # it may have been found in the store


def test_what_every_other_finding_comes_from_began_the_chain() -> None:
    normal = finding("harness", id="n", cause="normal", caused_by=None)
    assert (
        agreed(UNIT, [finding(caused_by="n"), normal], promise()) == "cannot_say_yet"
    )  # a normal cause: put it right first
    assert (
        agreed(
            UNIT,
            [finding(caused_by="n"), replace(normal, cause="defect")],
            promise(pays={"parts": True, "labour": True, "consequent": "machine"}),
        )
        == "covered"
    )
    other = finding("blade", id="o", cause="impact")
    assert (
        agreed(
            UNIT,
            [finding(caused_by="n"), replace(normal, cause="defect"), other],
            promise(pays={"parts": True, "labour": True, "consequent": "machine"}),
        )
        == "cannot_say_yet"
    )


def test_a_registration_that_was_not_made_begins_nothing_whatever_the_sale_was() -> None:
    terms = promise(start={"from": "registration", "floor_stock": "delivery"}, period={"days": 90})
    assert (
        agreed(replace(UNIT, sale_kind=None), [finding()], terms) == "not_covered"
    )  # 90 days from delivery are over too
    assert agreed(replace(UNIT, sale_kind=None, delivered_on=date(2025, 9, 1)), [finding()], terms) == "cannot_say_yet"


def test_a_fixed_last_day_is_over_whatever_was_repaired_before() -> None:
    unit = replace(UNIT, repairs=None)
    terms = promise(start={"from": "repair"}, period={"unlimited": True, "ends_on": "2025-09-11"})
    assert agreed(unit, [finding()], terms) == "not_covered"
    last = promise(start={"from": "repair"}, period={"unlimited": True, "ends_on": "2025-09-12"})
    assert agreed(unit, [finding()], last) == "cannot_say_yet"


def test_a_delivery_after_a_sale_after_the_finding_came_too_late() -> None:
    unit = replace(UNIT, sold_on=date(2025, 9, 20), delivered_on=None)
    assert agreed(unit, [finding()], promise(start={"from": "delivery"})) == "not_covered"


def test_a_grace_before_the_start_is_looked_at_on_both_its_sides() -> None:
    start = {"from": "sale", "no_proof": {"from": "first_service", "plus_days": 60}}
    terms = promise(start=start, requires={"proof": ["receipt"]}, period={"unlimited": True})
    unit = replace(UNIT, purchase_proof="none", sold_on=None, first_service_on=None)
    assert agreed(unit, [finding()], terms) == "cannot_say_yet"
    assert agreed(replace(unit, first_service_on=FOUND - timedelta(days=60)), [finding()], terms) == "covered"
    assert agreed(replace(unit, first_service_on=FOUND - timedelta(days=59)), [finding()], terms) == "not_covered"


def test_what_never_began_does_not_begin_anew_with_a_part() -> None:
    terms = promise(period={"months": 36}, replacement="new_period")
    replaced = (replace(REPAIR, under="promise"),)
    unsold = replace(UNIT, sale_kind="unsold", sold_on=None, delivered_on=None, repairs=replaced)
    assert agreed(unsold, [finding()], terms) == "not_covered"
    assert agreed(replace(UNIT, repairs=replaced), [finding()], terms) == "covered"


def test_what_follows_a_known_sale_follows_it_for_a_finding_in_the_store_too() -> None:
    terms = promise(start={"from": "delivery"}, period={"months": 120})
    unit = replace(UNIT, delivered_on=None, registered_on=None)
    assert agreed(unit, [finding(found_on=None)], terms) == "cannot_say_yet"


def test_the_day_of_another_finding_says_nothing_of_this_one() -> None:
    unit = replace(UNIT, sold_on=None, delivered_on=None, first_service_on=None, registered_on=None)
    terms = promise(period={"months": 120})
    assert agreed(unit, [finding(found_on=None), finding("blade", id="o")], terms) == "covered"


def test_a_machine_was_built_before_anything_happened_to_it() -> None:
    unit = replace(UNIT, build_date=None, first_service_on=date(2025, 1, 10))
    terms = promise(start={"from": "build", "build_plus_days": 30}, period={"months": 7})
    assert agreed(unit, [finding()], terms) == "not_covered"  # built by 10 January, so over by 9 September
    assert agreed(replace(unit, first_service_on=None), [finding()], terms) == "cannot_say_yet"


# 40 CFR 1054.120(b): what lengthens the period is published for this engine; one made for other machines is not.
@pytest.mark.parametrize(
    ("machines", "answer"),
    [
        ({"evaporative": False}, "not_covered"),
        ({"evaporative": True}, "covered"),
        ({"part_1054": False}, "not_covered"),
    ],
)
def test_a_free_promise_for_other_machines_lengthens_nothing(machines: dict[str, Any], answer: str) -> None:
    longer = promise(
        giver="engine_maker",
        giver_name="Ostervane",
        machines=machines,
        period={"months": 60},
        requires={"plan": "none held"},
    )
    late = finding("carburettor", found_on=date(2028, 3, 31))
    assert agreed(UNIT, [late], [*longer, *LAW]) == answer


def test_a_meter_that_nobody_read_ran_no_less_than_nothing() -> None:
    changes = (MeterChange(date(2025, 5, 1), Decimal(5), Decimal(7)), MeterChange(date(2025, 5, 2), None, Decimal(7)))
    unit = replace(UNIT, hour_meter=True, meter_changes=changes, hours=Decimal("31.9"))  # 5 + at least 0 + 24.9
    assert agreed(unit, [finding()], promise(hours={"limit": 25, "without_meter": "years_only"})) == "not_covered"
    assert agreed(unit, [finding()], promise(hours={"limit": 30, "without_meter": "years_only"})) == "cannot_say_yet"


def test_hours_since_a_repair_are_no_more_than_all_hours() -> None:
    unit = replace(UNIT, hour_meter=True, hours=Decimal(300), repairs=(replace(REPAIR, hours=None),))
    terms = promise(start={"from": "repair"}, hours={"limit": 300, "without_meter": "years_only"})
    assert agreed(unit, [finding()], terms) == "covered"
    assert agreed(replace(unit, hours=Decimal("300.1")), [finding()], terms) == "cannot_say_yet"


def test_a_day_of_sale_that_is_looked_for_first_does_not_hide_that_there_may_be_none() -> None:
    facts = {"sale_kind": None, "sold_on": None, "delivered_on": None, "registered_on": None, "owner": None}
    unit = replace(UNIT, **facts, first_service_on=date(2025, 3, 1))
    assert agreed(unit, [finding("carburettor")], LAW) == "cannot_say_yet"
    assert agreed(replace(unit, sale_kind="new"), [finding("carburettor")], LAW) == "covered"


def test_a_cause_that_counts_in_some_conditions_waits_for_the_condition() -> None:
    terms = promise(causes=["defect"], causes_when=[{"cause": "wear", "when": {"condition": ["broken"]}}])
    for condition, answer in (("broken", "covered"), ("worn", "not_covered"), (None, "cannot_say_yet")):
        assert agreed(UNIT, [finding(cause="wear", condition=condition)], terms) == answer


def test_hours_in_a_schedule_count_only_where_there_is_a_meter() -> None:
    unit = replace(UNIT, region="US-CA", hours=Decimal(60), replacement_schedule={"spark_plug": (None, Decimal(50))})
    unit = replace(unit, assemblies=(replace(UNIT.assemblies[0], part_1054=False),))
    for meter, answer in ((True, "not_covered"), (False, "covered"), (None, "cannot_say_yet")):
        assert agreed(replace(unit, hour_meter=meter), [finding("spark_plug")], LAW) == answer


def test_a_registration_follows_the_sale() -> None:
    unit = replace(UNIT, registered=True, registered_on=None)
    terms = promise(start={"from": "registration"}, period={"months": 120})
    assert agreed(unit, [finding(found_on=None)], terms) == "cannot_say_yet"  # it may have been found in the store
    assert agreed(unit, [finding()], terms) == "covered"


# A meter shows what it counted, here or elsewhere: a used one that was fitted makes the machine younger than it shows.
def test_past_the_limit_by_a_meter_that_may_be_another_cannot_be_said() -> None:
    terms = promise(hours={"limit": 100, "without_meter": "years_only"})
    shown = replace(UNIT, hour_meter=True, hours=Decimal(300))
    assert agreed(replace(shown, meter_changes=()), [finding()], terms) == "not_covered"
    assert agreed(replace(shown, meter_changes=None), [finding()], terms) == "cannot_say_yet"
    used = (MeterChange(FOUND - timedelta(days=9), Decimal(20), Decimal(290)),)
    assert agreed(replace(shown, meter_changes=used), [finding()], terms) == "covered"


def test_what_works_as_made_is_no_link_that_goes_on_to_nowhere() -> None:
    beside = [
        finding("tank_vent", id="g", cause="normal", caused_by=None),
        finding("fuel_line", id="h", cause="normal", caused_by=None),
    ]
    alone = finding(caused_by=None, cause="impact")  # nothing else can have caused it
    assert agreed(UNIT, [alone, *beside[:1]], promise()) == "not_covered"
    assert agreed(UNIT, [alone, *beside], promise()) == "not_covered"
    another = finding("carburettor", id="i")
    assert agreed(UNIT, [alone, *beside, another], promise(pays={"parts": True, "labour": True, "consequent": "machine"})) == "cannot_say_yet"  # fmt: skip


def test_hours_that_meters_taken_out_counted_are_known_whatever_the_present_one_shows() -> None:
    changes = (MeterChange(date(2025, 5, 1), Decimal(40), Decimal(7)),)
    unread = replace(UNIT, hour_meter=True, hours=None, meter_changes=changes)
    assert agreed(unread, [finding()], promise(hours={"limit": 39, "without_meter": "years_only"})) == "not_covered"
    assert agreed(unread, [finding()], promise(hours={"limit": 40, "without_meter": "years_only"})) == "cannot_say_yet"


def test_a_meter_that_may_be_another_leaves_a_schedule_open_too() -> None:
    facts = {"region": "US-CA", "hour_meter": True, "hours": Decimal(60)}
    unit = replace(UNIT, **facts, replacement_schedule={"spark_plug": (None, Decimal(50))})
    unit = replace(unit, assemblies=(replace(UNIT.assemblies[0], part_1054=False),))
    assert agreed(replace(unit, meter_changes=()), [finding("spark_plug")], LAW) == "not_covered"
    assert agreed(replace(unit, meter_changes=None), [finding("spark_plug")], LAW) == "cannot_say_yet"


def test_what_a_longer_promise_asks_is_tried() -> None:
    machines = {"models": ["QT-99"], "makers": ["Fernhollow"]}  # no machine of Quillmark: nobody gets this promise
    nobodys = promise(period={"months": 60}, machines=machines, causes=["normal"])
    late = finding("carburettor", found_on=date(2028, 3, 31))
    assert agreed(replace(UNIT, maker=None), [late], [*nobodys, *LAW]) == "not_covered"
    longer = promise(period={"months": 60}, machines={"models": ["QT-99"]}, causes=["normal"])
    asked = decide(replace(UNIT, model=None), [late], [*longer, *LAW], late.found_on or FOUND)["f"]
    assert agreed(replace(UNIT, model=None), [late], [*longer, *LAW]) == asked.answer == "cannot_say_yet"
    means = {one.fact: dict(one.values) for one in asked.settling}
    assert means["unit.model"]["QT-99"] == "covered"
    assert "not_covered" in means["unit.model"].values()


def test_a_new_period_covers_nothing_that_was_found_before_the_promise_began() -> None:
    repair = replace(REPAIR, day=date(2025, 3, 1), under="promise")
    store = finding(found_on=date(2025, 3, 20))
    assert agreed(replace(UNIT, repairs=(repair,)), [store], promise(replacement="new_period")) == "not_covered"


def test_between_a_period_and_the_next_that_a_repair_began_there_may_be_a_gap() -> None:
    repair = replace(REPAIR, day=date(2025, 8, 1), under="promise")
    unit = replace(UNIT, repairs=(repair,), build_date=UNIT.sold_on)
    for days, answer in ((30, "cannot_say_yet"), (122, "cannot_say_yet"), (123, "covered")):  # 31 July is the 122nd day
        terms = promise(replacement="new_period", period={"days": days, "anniversary_inside": False})
        assert agreed(unit, [finding(found_on=None)], terms, date(2025, 8, 20)) == answer, days


def test_hours_that_a_repair_began_anew_are_none_of_a_finding_before_it() -> None:
    unit = replace(UNIT, hour_meter=True, hours=Decimal(50), build_date=UNIT.sold_on)
    unit = replace(unit, repairs=(replace(REPAIR, hours=Decimal(45), under="promise"),))
    terms = promise(replacement="new_period", hours={"limit": 25, "without_meter": "years_only"})
    assert agreed(unit, [finding(found_on=None)], terms) == "cannot_say_yet"
    assert agreed(unit, [finding(found_on=date(2025, 8, 1))], terms) == "covered"


def test_what_was_used_was_built_by_then() -> None:
    unit = replace(UNIT, build_date=None, first_service_on=date(2024, 2, 29), sale_kind="demonstrator")
    for first, answer in (("2024-02-29", "cannot_say_yet"), ("2024-03-01", "not_covered")):
        terms = promise(machines={"built": {"from": first}}, period={"months": 24})
        assert agreed(unit, [finding()], terms) == answer


def test_a_repair_after_a_gap_covers_what_was_found_after_it() -> None:
    unit = replace(UNIT, repairs=(replace(REPAIR, under="promise"),))
    terms = promise(replacement="new_period", period={"days": 60})
    for day, answer in ((FOUND, "covered"), (date(2025, 7, 31), "not_covered"), (date(2025, 8, 1), "covered")):
        assert agreed(unit, [finding(found_on=day)], terms) == answer


def test_a_promise_that_ended_on_a_fixed_day_may_have_covered_what_was_found_before_it() -> None:
    unit = replace(UNIT, delivered_on=None, sold_on=None, sale_kind=None, first_service_on=UNIT.build_date)
    terms = promise(start={"from": "delivery"}, period={"days": 365, "ends_on": "2025-09-01"})
    assert agreed(unit, [finding(found_on=None)], terms) == "cannot_say_yet"
    assert agreed(unit, [finding(found_on=date(2025, 9, 2))], terms) == "not_covered"


def test_past_the_hours_since_every_repair_that_may_count_is_past() -> None:
    unsure = replace(REPAIR, part_maker=None, hours=Decimal(5))
    unit = replace(UNIT, hour_meter=True, hours=Decimal("30.1"), repairs=(unsure,))
    terms = promise(giver="part_maker", giver_name="Pellworth", start={"from": "repair"}, hours={"limit": 25, "without_meter": "years_only"})  # fmt: skip
    assert agreed(unit, [finding()], terms) == "not_covered"
    assert agreed(replace(unit, hours=Decimal(30)), [finding()], terms) == "cannot_say_yet"
    later = replace(unsure, day=date(2025, 9, 1), hours=None)
    assert agreed(replace(unit, repairs=(unsure, later)), [finding()], terms) == "cannot_say_yet"


def test_of_two_repairs_the_hours_of_either_may_count() -> None:
    early, late = replace(REPAIR, hours=Decimal(40)), replace(REPAIR, day=date(2025, 9, 1), hours=Decimal(0))
    unit = replace(UNIT, hour_meter=True, hours=Decimal(60), repairs=(early, late))
    terms = promise(start={"from": "repair"}, period={"days": 90}, hours={"limit": 25, "without_meter": "years_only"})
    assert agreed(unit, [finding()], terms) == "covered"
    assert agreed(replace(unit, hours=Decimal("65.1")), [finding()], terms) == "not_covered"
    assert agreed(replace(unit, hours=Decimal("65.1"), repairs=(early, replace(late, hours=None))), [finding()], terms) == "cannot_say_yet"  # fmt: skip


def test_a_sale_that_may_have_been_on_the_day_of_build_leaves_room_before_the_first_use() -> None:
    unit = replace(UNIT, build_date=date(2025, 7, 24), sold_on=None, delivered_on=None, sale_kind=None, owner="later")
    unit = replace(unit, first_service_on=date(2025, 8, 14))
    terms = promise(period={"days": 90})  # of a machine sold out of rental it runs from the first use
    assert agreed(unit, [finding(found_on=None)], terms, date(2025, 10, 8)) == "cannot_say_yet"
    assert agreed(unit, [finding(found_on=date(2025, 10, 8))], terms) == "covered"
