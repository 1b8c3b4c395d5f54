"""Known defects: which fit, why, what would tell, eligibility; serials read by a rule that is data; files in and out."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from shopdocs.documents.press.words import words
from tests.counting import calls
from tests.warranty.coverage.kit import LAW, finding, unit
from warranty.coverage import words as coverage_words
from warranty.coverage.decide import decide
from warranty.coverage.decision import from_json, to_json
from warranty.coverage.defect_files import (
    FORMULA,
    defect_from_dict,
    defect_to_dict,
    export_csv,
    export_yaml,
    import_csv,
    import_yaml,
)
from warranty.coverage.defect_words import defect_words
from warranty.coverage.known_defects import MOST_NAMED, Catalogue, DefectMatch, KnownDefect, Matches, as_record, match
from warranty.coverage.serials import SerialLayout, SerialRange, check_range, inside
from warranty.coverage.terms import term_from_dict

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
    ("QM4000", "fits"),
    ("Ｋ２４０１００００１", "fits"), ("K2401\u201300001", "fits"), ("K2401\u201100001", "fits"), ("K2401\u221200001", "fits"), ("ｋ2401\u2014\u00a000001", "fits"),
    ("K2401\u201300000", "does_not_fit"), ("ＱＭ４００１", "does_not_fit"), ("K2401_00001", "may_fit"), ("QM4001", "does_not_fit"), ("qm 0001", "fits"), ("ZZ12", "may_fit"), ("", "may_fit"), (None, "may_fit"),
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


def test_a_count_that_goes_on_in_letters_keeps_its_order() -> None:
    """A field of one width that counts 8, 9, A, B: the letters come after the figures, alone and inside a number."""
    layout = SerialLayout("run", "PNNNN", (("P", "letters"), ("N", "alnum")), ("N",))
    span = [SerialRange("run", "K0008", "K000B")]
    told = {
        text: inside(text, span, [layout]) for text in ("K0007", "K0008", "K0009", "K000A", "K000B", "K000C", "K0010")
    }
    assert [text for text, said in told.items() if said == "yes"] == ["K0008", "K0009", "K000A", "K000B"]
    assert check_range(SerialRange("run", "K009Z", "K0100"), [layout]) == ""
    assert "ends before" in check_range(SerialRange("run", "K00A0", "K0090"), [layout])


@given(st.text("0123456789ABCDEFGHJK", min_size=4, max_size=4), st.text("0123456789ABCDEFGHJK", min_size=4, max_size=4))
def test_any_two_serials_of_a_layout_have_an_order(one: str, other: str) -> None:
    """Of two serials each lies in the range that begins with the lower, and only equals lie in both one-sided ranges."""
    layout = SerialLayout("x", "XXXX", (("X", "alnum"),), ("X",))
    up = inside(other, [SerialRange("x", one, None)], [layout])
    down = inside(other, [SerialRange("x", None, one)], [layout])
    assert {up, down} == ({"yes"} if one == other else {"yes", "no"})
    assert (up == "yes") == (other >= one)


@pytest.mark.parametrize(
    ("serials", "serial", "said"),
    [
        ([{"layout": "old", "first": "QM4000"}], "QM9999", "yes"),
        ([{"layout": "old", "first": "QM4000"}], "QM3999", "no"),
        ([{"layout": "old"}], "QM0000", "yes"),
        ([{"layout": "old"}], "K240100001", "no"),
        ([{"layout": "old", "last": "QM0100"}, {"layout": "old", "first": "QM0200", "last": "QM0300"}], "QM0150", "no"),
        ([{"layout": "old", "last": "QM0100"}, {"layout": "old", "first": "QM0200", "last": "QM0300"}], "QM0200", "yes"),
        ([{"layout": "new", "first": "K240100001", "last": "K243599999"}], "M2401-00001", "yes"),
        ([{"layout": "new", "first": "K240100001", "last": "K243599999"}], "M24O100001", "cannot tell"),
    ],
)  # fmt: skip
def test_open_and_closed_ranges_over_several_formats(serials: list[dict[str, str]], serial: str, said: str) -> None:
    defect = defect_from_dict({**RECORD, "serials": serials})
    assert inside(serial, defect.serials, defect.layouts) == said


@pytest.mark.parametrize(
    ("changes", "code"),
    [({}, "b12"), ({"campaign": ""}, "B-12"), ({"campaign": "", "bulletin": ""}, "qm-leads")],
)  # fmt: skip
def test_what_is_once_per_unit_is_done_under_a_code(changes: dict[str, str], code: str) -> None:
    once = replace(DEFECT, **changes)  # type: ignore[arg-type]
    for done, why in ((frozenset({code}), "done_already"), (frozenset({"other"}), "open"), (None, "ask_whether_done")):
        (found,) = match(replace(UNIT, campaigns_done=done), [STOP], [once], DAY)
        assert found.why == why
    record = as_record(found)
    assert record["done_as"] == code


def told(machine: Any, findings: list[Any], *defects: KnownDefect) -> list[str]:
    return [str(one["id"]) for one in Matches(machine, findings, defects, DAY).records()]


def test_an_order_is_told_what_is_seen_on_it_and_which_campaigns_it_may_be_owed() -> None:
    blade = finding(component="blade")
    quiet, done = replace(DEFECT, id="quiet", campaign="", once_per_unit=False), frozenset({"b12"})
    assert told(UNIT, [STOP], DEFECT, quiet) == ["qm-leads", "quiet"]
    assert told(UNIT, [blade], DEFECT, quiet) == ["qm-leads"]  # nobody saw it, and the campaign may still be owed
    assert told(replace(UNIT, campaigns_done=done), [blade], DEFECT, quiet) == []
    assert told(replace(UNIT, campaigns_done=done), [STOP], DEFECT) == [
        "qm-leads"
    ]  # seen, and done already: both are said
    assert told(replace(UNIT, model="other"), [STOP], DEFECT, quiet) == []


def test_a_pattern_of_another_part_is_no_talking_point() -> None:
    term = term_from_dict({
        "id": "t", "version": 1, "title": "t", "giver": "shop", "components": {"all": True}, "period": {"months": 1},
        "start": {"from": "sale"}, "source": {"cite": "c", "edition": "e", "address": "a", "confidence": "invented"},
    })  # fmt: skip
    late = replace(UNIT, sold_on=date(2025, 4, 20), build_date=date(2024, 3, 20))
    for seen, kinds in ((STOP, True), (finding(component="blade", condition="bent"), False)):
        others = [seen, replace(STOP, id="f2")]
        decision = decide(late, others, [term], DAY, [DEFECT])["f1"]
        assert decision.answer == "not_covered"
        assert ("known_defect" in {one.kind for one in decision.goodwill}) is kinds


def test_a_known_defect_in_words_says_what_tells_and_whether_it_is_open() -> None:
    machine = replace(UNIT, serial=None, campaigns_done=None)
    (record,) = Matches(machine, [STOP], [DEFECT], DAY).records()
    said = defect_words(record, words("en"))
    for told in (
        "qm-leads may fit", "Not known yet: serial", "Check: pull the lead lightly", "engine stopped and cold", "Speaks for it: the strand parts",
        "Rules it out: the switch itself", "Remedy: fit the heavier lead.", "Improved part since: September 2024.", "as warranty; ask whether it was done",
    ):  # fmt: skip
        assert told in said, said
    spanish = defect_words(record, words("es"))
    assert "El defecto conocido qm-leads puede encajar" in spanish and "Aún no se sabe: n.º de serie" in spanish
    assert "Suele resolverse así: garantía; pregunte si en esta máquina ya se hizo." in spanish


HARMLESS = st.text(st.characters(blacklist_categories=("Cs", "Cc")), min_size=1, max_size=30).filter(
    lambda text: text.strip()
)
CELLS = st.one_of(
    HARMLESS,
    st.tuples(st.sampled_from(["=", "+", "-", "@", "'", "''", "'=", "＝", '"', ";", ","]), HARMLESS).map("".join),
)


@given(title=CELLS, remedy=CELLS, confirm=st.lists(CELLS, max_size=3, unique_by=lambda text: " ".join(text.split())))
def test_any_text_goes_out_and_comes_back(title: str, remedy: str, confirm: list[str]) -> None:
    defect = defect_from_dict({**RECORD, "title": title, "remedy": remedy, "confirm": confirm})
    assert import_csv(export_csv([defect]), "f").defects == (defect,)
    assert import_yaml(export_yaml([defect]), "f").defects == (defect,)
    for row in csv.reader(io.StringIO(export_csv([defect]), newline="")):
        assert not [cell for cell in row if cell[:1] in FORMULA], row


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
    assert got.refused[0].startswith("in.csv:3: there is no cause 'magic'")


def test_a_csv_row_that_runs_over_lines_is_named_by_its_first() -> None:
    header, row = export_csv([DEFECT]).split("\r\n")[:2]
    long = row.replace("Thin stop lead", '"Thin\r\nstop\r\nlead', 1).replace("at the terminal,", 'at the terminal",', 1)
    bad = row.replace("qm-leads", "bad", 1).replace(",defect,", ",magic,", 1)
    worse = row.replace("qm-leads", "worse", 1) + ",one cell more"
    got = import_csv("\r\n".join([header, long, bad, worse, ""]), "in.csv")
    assert [one.split(": ")[0] for one in got.refused] == ["in.csv:5", "in.csv:6"]
    assert import_csv("\r\n".join([header, long, ""]), "in.csv").places == ("in.csv:2",)


@pytest.mark.parametrize(
    ("column", "cell", "says"),
    [
        ("built", '[{"from": "2024-01-01", "from": "2024-02-01"}]', "stands there twice"),
        ("signs", "[" * 50_000, "cannot be read"),
        ("version", "1e400", "whole number"),
        ("version", "NaN", "whole number"),
        ("version", "true", "whole number"),
        ("signs", "will_not_stop", "cannot be read"),
        ("once_per_unit", "yes", "cannot be read"),
        ("expires_on", "31.12.2026", "expected a date"),
        ("id", "x" * 71, "longer than 70"),
        ("components", '["fuel_line", "fuel_line"]', "stands in this list twice"),
    ],
    ids=lambda value: value[:20],
)
def test_a_cell_that_is_no_value_is_refused_with_its_line(column: str, cell: str, says: str) -> None:
    good = next(csv.DictReader(io.StringIO(export_csv([DEFECT]), newline="")))
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, list(good))
    writer.writeheader()
    writer.writerows([good, {**good, "id": "second", column: cell}])
    got = import_csv(out.getvalue(), "in.csv")
    assert got.defects == ()
    (said,) = got.refused
    assert said.startswith("in.csv:3: ")
    assert says in said


def test_the_work_of_reading_a_catalogue_grows_with_its_length() -> None:
    def work(count: int) -> int:
        text = export_csv([replace(DEFECT, id=f"kd-{at}") for at in range(count)])
        read: list[Any] = []
        spent = calls(lambda: read.append(import_csv(text, "f")))
        assert len(read[0].defects) == count
        return spent

    assert work(1_000) < 15 * work(100)  # a quadratic way would take a hundred times


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


ANY_STATE = replace(DEFECT, conditions=())


@pytest.mark.parametrize(
    ("seen", "fits"),
    [({"condition": "ok"}, "may_fit"), ({"cause": "normal"}, "may_fit"), ({"condition": "ok", "cause": "normal"}, "may_fit"),
     ({"condition": "worn", "cause": "wear"}, "fits"), ({"condition": None}, "fits")],
)  # fmt: skip
def test_a_part_in_order_shows_no_pattern(seen: dict[str, Any], fits: str) -> None:
    found = finding(**{"component": "stop_circuit", "signs": (), **seen})
    (one,) = match(UNIT, [found], [ANY_STATE], DAY)
    assert (one.fits, one.findings) == (fits, ("f1",) if fits == "fits" else ())


def test_a_sign_of_what_works_as_made_shows_nothing_either() -> None:
    (one,) = match(UNIT, [replace(STOP, cause="normal")], [DEFECT], DAY)
    assert (one.fits, one.findings) == ("may_fit", ())


def test_with_the_condition_not_known_it_may_fit_and_the_order_is_told() -> None:
    blank = finding(component="stop_circuit", condition=None)
    quiet = replace(DEFECT, campaign="", once_per_unit=False)
    (one,) = match(UNIT, [blank], [quiet], DAY)
    assert (one.fits, one.findings) == ("may_fit", ("f1",))
    assert ("condition", "cannot tell", "not known") in one.checks
    (record,) = Matches(UNIT, [blank], [quiet], DAY).records()
    assert "Not known yet: condition." in defect_words(record, words("en"))
    (sure,) = match(UNIT, [blank, replace(STOP, id="f2")], [quiet], DAY)
    assert sure.fits == "fits"


ENGINE_DEFECT = replace(
    DEFECT, id="coil", maker="Ostervane", models=("OV-190",), serials=(), layouts=(), built=(), components=("ignition_module",),
    conditions=("dead",), campaign="", once_per_unit=False,
)  # fmt: skip
DEAD = finding(component="ignition_module", condition="dead", signs=())


@pytest.mark.parametrize(
    ("engine", "fits"),
    [({"maker": None}, "may_fit"), ({"maker": None, "model": "OV-190"}, "may_fit"), ({"maker": None, "model": "OV-45"}, "does_not_fit"),
     ({"maker": "Ostervane", "model": "OV-190"}, "fits"), ({"maker": "Another"}, "does_not_fit")],
)  # fmt: skip
def test_a_pattern_of_an_engine_maker_waits_for_the_maker_of_the_engine(engine: dict[str, Any], fits: str) -> None:
    machine = unit(engine=engine)
    (one,) = match(machine, [DEAD], [ENGINE_DEFECT], DAY)
    assert one.fits == fits
    listed = Catalogue([ENGINE_DEFECT, replace(DEFECT, components=("blade",))]).of(machine)
    assert listed == ([] if engine["maker"] == "Another" else [ENGINE_DEFECT])
    if fits == "may_fit":
        assert ("maker of the engine", "cannot tell", "not known") in one.checks
        (record,) = Matches(machine, [DEAD], Catalogue([ENGINE_DEFECT]), DAY).records()
        assert "maker of the engine" in defect_words(record, words("en"))


def test_a_part_that_no_engine_maker_makes_and_a_machine_without_an_engine_wait_for_nothing() -> None:
    nameless = unit(engine={"maker": None})
    (blade,) = match(nameless, [finding(component="blade")], [replace(ENGINE_DEFECT, components=("blade",))], DAY)
    (battery,) = match(replace(nameless, power="battery"), [DEAD], [ENGINE_DEFECT], DAY)
    assert (blade.fits, battery.fits) == ("does_not_fit", "does_not_fit")


def test_blank_lines_count_as_lines() -> None:
    header, row = export_csv([DEFECT]).split("\r\n")[:2]
    bad, worse = row.replace(",defect,", ",magic,", 1), row + ",one cell more"
    got = import_csv("\r\n".join(["", header, "", "", bad, "", worse, ""]), "in.csv")
    assert [one.split(": ")[0] for one in got.refused] == ["in.csv:5", "in.csv:7"]
    assert import_csv("\r\n".join(["", header, "", row, ""]), "in.csv").places == ("in.csv:4",)


def test_a_byte_order_mark_is_passed_over() -> None:
    assert import_csv("\ufeff" + export_csv([DEFECT]), "f").defects == (DEFECT,)
    assert import_yaml("\ufeff" + export_yaml([DEFECT]), "f").defects == (DEFECT,)


def test_one_decision_names_those_that_fit_best_and_counts_the_rest() -> None:
    """In whatever order they come: what fits stands before what may fit, and the decision is the same bytes from those it names."""
    fits = [replace(DEFECT, id=f"z-{at:03}") for at in range(MOST_NAMED - 5)]
    may = [
        replace(DEFECT, id=f"a-{at:03}", models=(), built=(), layouts=DEFECT.layouts, families=("saw",))
        for at in range(9)
    ]
    machine = replace(UNIT, family=None)
    decision = decide(machine, [STOP], LAW, DAY, [*may, *fits])["f1"]
    named = [str(one["id"]) for one in decision.known_defects if isinstance(one, dict)]
    assert named == [one.id for one in fits] + [f"a-{at:03}" for at in range(5)]
    assert decision.record.known_defects_left_out == 4
    assert "4 more known defects fit or may fit" in "\n".join(coverage_words.words(decision))
    text = to_json(decision)
    assert to_json(from_json(text)) == text
    assert to_json(decide(machine, [STOP], LAW, DAY, [*reversed(fits), *reversed(may)])["f1"]) == text
    kept = [one for one in [*may, *fits] if one.id in named]
    assert to_json(decide(machine, [STOP], LAW, DAY, kept, 4)["f1"]) == text
    assert (
        len(Matches(machine, [STOP], [*may, *fits], DAY).records()) == MOST_NAMED + 4
    )  # the door beside the order pages all
    assert len(decide(machine, [STOP], LAW, DAY, [*may, *fits], None)["f1"].known_defects) == MOST_NAMED + 4
    few = to_json(decide(machine, [STOP], LAW, DAY, may)["f1"])
    assert "left_out" not in few  # a decision frozen before is the same bytes still
