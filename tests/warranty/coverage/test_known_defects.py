"""Known defects: which fit, why, what would tell, eligibility; serials read by a rule that is data; files in and out."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from tests.warranty.coverage.kit import LAW, finding, unit
from warranty.coverage.decide import decide
from warranty.coverage.defect_files import (
    defect_from_dict,
    defect_to_dict,
    export_csv,
    export_yaml,
    import_csv,
    import_yaml,
)
from warranty.coverage.known_defects import DefectMatch, KnownDefect, match
from warranty.coverage.serials import SerialLayout, SerialRange, inside

DAY = date(2025, 6, 1)
RECORD: dict[str, Any] = {
    "id": "qm-leads", "version": 1, "title": "Thin stop lead breaks at the terminal", "maker": "Quillmark", "models": ["QB-70"],
    "built": [{"from": "2024-01-01", "to": "2024-08-31"}],
    "layouts": [
        {"name": "new", "layout": "PYYWWNNNNN", "kinds": {"P": "letters", "Y": "digits", "W": "digits", "N": "digits"}, "order": ["Y", "W", "N"]},
        {"name": "old", "layout": "XXNNNN", "kinds": {"X": "fixed:QM", "N": "digits"}, "order": ["N"]},
    ],
    "serials": [{"layout": "new", "first": "K240100001", "last": "K243599999"}, {"layout": "old", "last": "QM4000"}],
    "components": ["stop_circuit"], "signs": ["will_not_stop", "lead_loose_at_terminal"], "conditions": ["open_circuit", "broken"],
    "check": "pull the lead lightly at its terminal", "precaution": "engine stopped and cold, plug lead off",
    "confirm": ["the strand parts inside the sleeve"], "rule_out": ["the switch itself reads open"], "cause": "defect",
    "remedy": "fit the heavier lead", "parts": ["stop lead, heavy"], "labour_operation": "stop_lead_replace",
    "improved_since": "September 2024", "settled": "warranty", "bulletin": "B-12", "expires_on": "2026-12-31",
    "once_per_unit": True, "campaign": "b12", "source": "common practice, no source",
}  # fmt: skip
DEFECT = defect_from_dict(RECORD)
UNIT = unit(maker="Quillmark", model="QB-70", serial="K2412-00042", build_date=date(2024, 3, 20), assemblies=())
STOP = finding(component="stop_circuit", condition="open_circuit", signs=("will_not_stop",))


def compared(**known: Any) -> DefectMatch:
    machine = replace(UNIT, **known)
    (found,) = match(machine, [STOP], [DEFECT], DAY)
    return found


def test_it_fits_and_says_why() -> None:
    found = compared()
    assert (found.fits, found.eligible, found.why) == ("fits", "yes", "open")
    assert {what: outcome for what, outcome, _ in found.checks} == {
        "maker": "yes",
        "model": "yes",
        "built": "yes",
        "serial": "yes",
    }
    assert (found.findings, found.signs_seen, found.signs_to_look_for) == (
        ("f1",),
        ("will_not_stop",),
        ("lead_loose_at_terminal",),
    )


EDGES = [
    ("K240100000", "does_not_fit"), ("K240100001", "fits"), ("K243599999", "fits"), ("K243600000", "does_not_fit"),
    ("QM4000", "fits"), ("QM4001", "does_not_fit"), ("qm 0001", "fits"), ("ZZ12", "may_fit"), ("", "may_fit"), (None, "may_fit"),
]  # fmt: skip


@pytest.mark.parametrize(("serial", "fits"), EDGES)
def test_each_edge_of_the_serial_ranges(serial: str | None, fits: str) -> None:
    assert compared(serial=serial).fits == fits


@pytest.mark.parametrize(
    ("build", "fits"),
    [(date(2023, 12, 31), "does_not_fit"), (date(2024, 1, 1), "fits"), (date(2024, 8, 31), "fits"), (date(2024, 9, 1), "does_not_fit"),
     (None, "may_fit")],
)  # fmt: skip
def test_each_edge_of_the_build_range(build: date | None, fits: str) -> None:
    assert compared(build_date=build).fits == fits


def test_another_model_or_maker_does_not_fit_and_an_unknown_one_may() -> None:
    assert compared(model="QB-71").fits == "does_not_fit"
    assert compared(maker="Another").fits == "does_not_fit"
    assert compared(model=None).fits == "may_fit"


def test_without_a_finding_that_shows_it_it_only_may_fit() -> None:
    (found,) = match(UNIT, [finding(component="blade")], [DEFECT], DAY)
    assert found.fits == "may_fit"


@pytest.mark.parametrize(
    ("done", "day", "eligible", "why"),
    [(frozenset(), date(2026, 12, 31), "yes", "open"), (frozenset(), date(2027, 1, 1), "no", "expired"),
     (frozenset({"b12"}), DAY, "no", "done_already"), (None, DAY, "cannot tell", "ask_whether_done")],
)  # fmt: skip
def test_eligibility(done: frozenset[str] | None, day: date, eligible: str, why: str) -> None:
    (found,) = match(replace(UNIT, campaigns_done=done), [STOP], [DEFECT], day)
    assert (found.eligible, found.why) == (eligible, why)


def test_a_repeatable_one_stays_open_after_it_was_done() -> None:
    again = replace(DEFECT, once_per_unit=False)
    (found,) = match(replace(UNIT, campaigns_done=frozenset({"b12"})), [STOP], [again], DAY)
    assert found.eligible == "yes"


def test_a_decision_carries_what_fits() -> None:
    decision = decide(UNIT, [STOP], LAW, DAY, [DEFECT])["f1"]
    (record,) = decision.known_defects
    assert isinstance(record, dict)
    assert (record["id"], record["fits"], record["precaution"]) == (
        "qm-leads",
        "fits",
        "engine stopped and cold, plug lead off",
    )


def test_a_serial_of_two_formats_that_disagree_cannot_be_told() -> None:
    layouts = [
        SerialLayout("a", "NNNN", (("N", "digits"),), ("N",)),
        SerialLayout("b", "XXXX", (("X", "alnum"),), ("X",)),
    ]
    assert inside("1234", [SerialRange("a", "1000", "2000")], layouts) == "cannot tell"
    assert inside("1234", [SerialRange("a", "1000", "2000"), SerialRange("b", None, None)], layouts) == "yes"


@given(st.text(max_size=80))
def test_any_text_can_be_asked_as_a_serial(text: str) -> None:
    assert inside(text, DEFECT.serials, DEFECT.layouts) in ("yes", "no", "cannot tell")


@given(st.integers(0, 99999), st.integers(0, 99999), st.integers(0, 99999))
def test_ranges_follow_the_order_of_numbers(low: int, high: int, value: int) -> None:
    layout = SerialLayout("n", "NNNNN", (("N", "digits"),), ("N",))
    expected = "yes" if low <= value <= high else "no"
    assert inside(f"{value:05}", [SerialRange("n", f"{low:05}", f"{high:05}")], [layout]) == expected


def test_yaml_and_csv_give_back_what_went_out() -> None:
    other = replace(DEFECT, id="=danger", title="=1+1", layouts=(), serials=(), campaign="", once_per_unit=False)
    both = (DEFECT, other)
    assert import_yaml(export_yaml(both), "out.yaml").defects == both
    text = export_csv(both)
    assert import_csv(text, "out.csv").defects == both
    assert "'=1+1" in text
    assert text.endswith("\r\n")
    assert defect_from_dict(defect_to_dict(DEFECT)) == DEFECT


def spoiled(**changes: object) -> str:
    rows = [{**RECORD, "id": "good"}, {**RECORD, **changes}]
    return str(yaml.safe_dump({"known_defects": json.loads(json.dumps(rows))}, sort_keys=False))


@pytest.mark.parametrize(
    ("changes", "says"),
    [({"cause": "magic"}, "no cause 'magic'"), ({"components": ["stop_circus"]}, "no component"), ({"id": "good"}, "stands here twice"),
     ({"serials": [{"layout": "new", "first": "K249900001", "last": "K240100001"}]}, "ends before it starts"),
     ({"serials": [{"layout": "newer"}]}, "no serial layout 'newer'"), ({"serials": [{"layout": "old", "first": "XX1"}]}, "is not a serial"),
     ({"built": [{"from": "2025-01-01", "to": "2024-01-01"}]}, "ends before it starts"), ({"colour": "red"}, "unknown key 'colour'"),
     ({"expires_on": "soon"}, "expected a date"), ({"settled": "maybe"}, "way of settling")],
)  # fmt: skip
def test_a_bad_row_is_refused_with_its_line_and_the_good_ones_are_not_half_applied(
    changes: dict[str, object], says: str
) -> None:
    got = import_yaml(spoiled(**changes), "in.yaml")
    assert got.defects == ()
    assert len(got.refused) == 1
    assert says in got.refused[0]
    assert got.refused[0].startswith("in.yaml:")


def test_a_bad_csv_row_is_named_by_its_line() -> None:
    good, bad = export_csv([DEFECT]), export_csv([replace(DEFECT, id="bad", cause="magic")])
    got = import_csv(good + bad.split("\r\n", 1)[1], "in.csv")
    assert got.defects == ()
    assert len(got.refused) == 1
    assert got.refused[0].startswith("in.csv:3:1: there is no cause 'magic'")


@pytest.mark.parametrize(
    "text", ["", "id,colour\n1,red\n", "id,id\n1,2\n", 'id,version\n"1,2\n', "id,version\nx,y\n", "id\na,b,c\n"]
)
def test_what_is_no_catalogue_is_refused(text: str) -> None:
    got = import_csv(text, "in.csv")
    assert got.defects == ()
    assert got.refused[0].startswith("in.csv:")


LAYOUTS = [
    ("", ()),
    ("NNAN", (("N", "digits"), ("A", "letters"))),
    ("N" * 65, (("N", "digits"),)),
    ("N", (("N", "runes"),)),
    ("NN", (("N", "fixed:A"),)),
]


@pytest.mark.parametrize(("layout", "kinds"), LAYOUTS)
def test_a_layout_that_makes_no_sense_is_refused(layout: str, kinds: tuple[tuple[str, str], ...]) -> None:
    with pytest.raises(ValueError, match="layout"):
        SerialLayout("x", layout, kinds, ("N",))


def test_the_whole_shape_is_in_the_record() -> None:
    assert set(defect_to_dict(DEFECT)) <= set(KnownDefect.__dataclass_fields__)
