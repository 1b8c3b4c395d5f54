"""Facts that do not go together: each rule caught once, and once let pass by the fact that explains it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from orders.rules import trade
from orders.rules.strict import DataError
from warranty.evidence import contradictions as rules
from warranty.evidence.contradictions import Observed, contradictions

FINE = Observed(
    component="fuel_line", condition="split", cause="defect", family="backpack", power_source="two_stroke",
    days_since_sale=400, hours=Decimal(60), never_opened=False, pictures=2, measured=True,
)  # fmt: skip


def codes(**changes: object) -> set[str]:
    return {doubt.code for doubt in contradictions(replace(FINE, **changes))}  # type: ignore[arg-type]


def test_a_plain_finding_raises_no_doubt() -> None:
    assert contradictions(FINE) == ()


CAUGHT = [
    # (rule, facts that break it, facts that explain it)
    ("worn_on_a_new_machine", {"cause": "wear", "days_since_sale": 7, "hours": None}, {"days_since_sale": 30}),
    ("worn_on_a_new_machine", {"cause": "wear", "days_since_sale": 29, "hours": Decimal(50)}, {"hours": Decimal("50.1")}),
    ("slow_condition_on_a_new_machine", {"condition": "hardened", "days_since_sale": 7, "hours": Decimal(2)}, {"days_since_sale": 8}),
    ("never_opened_wrong_assembly", {"component": "air_filter", "condition": "misfitted", "cause": "assembly", "never_opened": True}, {"never_opened": False}),
    ("never_opened_wrong_assembly", {"component": "handle", "condition": "loose", "cause": "assembly", "never_opened": True}, {"set_up_part": True}),
    ("never_opened_modification", {"component": "mixture_limiter", "condition": "missing", "cause": "modification", "never_opened": True}, {"never_opened": False}),
    ("never_opened_upkeep_inside", {"component": "piston", "condition": "worn", "cause": "upkeep", "never_opened": True}, {"never_opened": None}),
    ("missing_part_but_present", {"component": "engine_cover", "condition": "melted", "cause": "missing_part"}, {"root_missing": True}),
    ("missing_part_but_present", {"component": "exhaust_deflector", "condition": "loose", "cause": "missing_part"}, {"condition": "missing"}),
    ("missing_but_wear_or_normal", {"component": "guard", "condition": "missing", "cause": "normal"}, {"cause": "modification"}),
    ("normal_but_broken", {"component": "handle", "condition": "broken", "cause": "normal"}, {"condition": "scuffed"}),
    ("normal_but_unsafe", {"component": "chain_brake", "condition": "slipping", "cause": "normal", "family": "saw"}, {"cause": "wear"}),
    ("in_order_with_a_cause", {"condition": "ok", "cause": "impact"}, {"cause": "normal"}),
    ("altered_by_itself", {"component": "stop_switch", "condition": "bypassed", "cause": "wear"}, {"cause": "modification"}),
    ("misfitted_by_itself", {"component": "air_filter", "condition": "misfitted", "cause": "wear"}, {"cause": "assembly"}),
    ("fuel_on_an_electric_machine", {"component": "controller", "condition": "dead", "cause": "fuel_oil", "family": "saw", "power_source": "battery"}, {"cause": "environment"}),
    ("impact_without_a_mark", {"cause": "impact", "pictures": 0}, {"pictures": 1}),
    ("missing_without_a_picture", {"component": "guard", "condition": "missing", "cause": "modification", "pictures": 0}, {"pictures": 1}),
    ("fuel_without_a_sample", {"cause": "fuel_oil", "pictures": 0, "measured": False}, {"measured": True}),
    ("modification_without_a_picture", {"component": "guard", "condition": "broken", "cause": "modification", "pictures": 0}, {"pictures": 3}),
    ("upkeep_before_it_was_due", {"component": "air_filter", "condition": "clogged", "cause": "upkeep", "days_since_sale": 10, "hours": Decimal(4)}, {"hours": Decimal(6)}),
    ("defect_on_an_old_machine", {"component": "belt", "condition": "worn", "family": "mower", "power_source": "four_stroke", "days_since_sale": 1825}, {"days_since_sale": 1824}),
    ("worn_measured_by_nobody", {"component": "piston_ring", "condition": "worn", "cause": "wear", "measured": False, "pictures": 0}, {"measured": True}),
    ("dead_module_with_wire_suspect", {"component": "ignition_module", "condition": "dead", "measured": False}, {"measured": True}),
    ("defect_and_opened_unknown", {"component": "air_filter", "condition": "misfitted", "cause": "assembly", "never_opened": None}, {"never_opened": False}),
]  # fmt: skip


@pytest.mark.parametrize(
    ("rule", "broken", "explained"), CAUGHT, ids=lambda value: value if isinstance(value, str) else ""
)
def test_each_rule_catches_and_lets_go(rule: str, broken: dict[str, object], explained: dict[str, object]) -> None:
    assert rule in codes(**broken)
    assert rule not in codes(**{**broken, **explained})


def test_no_rule_is_without_a_case() -> None:
    assert {rule.doubt.code for rule in rules.rules()} == {case[0] for case in CAUGHT}


def test_a_fact_not_known_raises_no_contradiction() -> None:
    unknown = {"days_since_sale": None, "hours": None, "never_opened": None}
    assert not {d for d in contradictions(replace(FINE, cause="wear", **unknown)) if d.kind == "contradiction"}  # type: ignore[arg-type]


def test_contradictions_come_before_questions_and_have_a_remedy() -> None:
    found = contradictions(replace(FINE, component="handle", condition="ok", cause="impact", pictures=0))
    assert [doubt.kind for doubt in found] == ["contradiction", "ask"]
    assert all(doubt.words.endswith(".") and doubt.remedy.endswith(".") for doubt in found)


def test_a_cause_that_the_signs_rule_out_is_said_with_the_sign() -> None:
    seen = replace(
        FINE, component="muffler_catalyst", condition="loose", cause="defect", signs=frozenset({"muffler_dented"})
    )
    doubt = next(d for d in contradictions(seen) if d.code == "cause_ruled_out_by_signs")
    assert "dented" in doubt.words and "impact or abuse" in doubt.remedy
    assert "cause_ruled_out_by_signs" not in codes(
        component="muffler_catalyst", condition="loose", cause="impact", signs=frozenset({"muffler_dented"})
    )


def test_signs_that_speak_for_another_cause_ask_for_more() -> None:
    seen = replace(
        FINE, component="muffler_catalyst", condition="loose", cause="fuel_oil", signs=frozenset({"muffler_dented"})
    )
    doubt = next(d for d in contradictions(seen) if d.code == "signs_speak_for_another")
    assert (doubt.kind, "impact or abuse" in doubt.words) == ("ask", True)
    assert "signs_speak_for_another" not in {d.code for d in contradictions(replace(seen, cause="impact"))}
    assert "signs_speak_for_another" not in {d.code for d in contradictions(replace(seen, cause="unknown"))}


def test_the_parts_of_the_set_up_exist_and_none_lies_inside_the_engine() -> None:
    parts = [trade.component(code) for code in rules.set_up_parts()]
    assert len(parts) > 10
    assert not {part.system for part in parts} & {"fuel", "ignition", "power_assembly", "governor", "starter"}


def test_unknown_codes_are_refused() -> None:
    with pytest.raises(trade.UnknownCode, match="no sign 'dent'"):
        contradictions(replace(FINE, signs=frozenset({"dent"})))
    with pytest.raises(trade.UnknownCode, match="no cause 'magic'"):
        contradictions(replace(FINE, cause="magic"))


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ("days_at_most: 29, hours_at_most: 50}", "days_atmost: 14}", "near to it: days_at_most"),
        ("days_at_most: 29, hours_at_most: 50}", "days_at_most: -1}", "outside 0"),
        ("cause: [wear], days", "cause: [worn], days", "no cause 'worn'"),
        ("when: {cause: [wear], days_at_most: 29, hours_at_most: 50}", "when: {}", "at least one fact"),
        ("kind: contradiction", "kind: error", "no kind 'error'"),
        ("code: slow_condition_on_a_new_machine", "code: worn_on_a_new_machine", "stands here twice"),
        ("never_opened: true, set_up_part", "never_opened: 'yes', set_up_part", "true or false"),
    ],
)
def test_a_broken_rule_is_refused_with_its_line(tmp_path: Path, old: str, new: str, problem: str) -> None:
    text = rules.FILE.read_text("utf-8")
    assert old in text
    path = tmp_path / "contradictions.yaml"
    path.write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(DataError, match=r"^contradictions\.yaml:\d+: ") as caught:
        rules.load(path)
    assert problem in str(caught.value)
