"""Terms are data: the schema is strict, and a maker's whole programme is records only."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

from orders.rules.strict import DataError
from tests.warranty.coverage.case_files import CASES, term_set
from tests.warranty.coverage.kit import LAW, decided, finding, unit
from warranty.coverage.decide import decide
from warranty.coverage.decision import to_json
from warranty.coverage.terms import load_terms, parse_terms, term_from_dict, term_to_dict

ROOM = Path(__file__).parents[3] / "warranty" / "coverage"
GOOD = """terms:
  - id: booklet
    version: 1
    title: "a booklet"
    giver: shop
    source: {cite: "page 1", edition: "2024", address: "shop file", confidence: invented}
    components: {codes: [blade]}
    period: {months: 12}
"""

BAD = [
    ("unknown key", "    period: {months: 12}", "    period: {months: 12, weeks: 2}", 8, "unknown key 'weeks'"),
    ("doubled key", "    giver: shop", "    giver: shop\n    giver: plan", 6, "stands here twice"),
    ("missing key", "    giver: shop\n", "", 2, "the key 'giver' is missing"),
    ("unknown component", "[blade]", "[bladde]", 7, "near to it: blade"),
    ("unknown giver", "giver: shop", "giver: friend", 5, "no giver 'friend'"),
    ("two lengths", "{months: 12}", "{months: 12, days: 5}", 8, "say one of"),
    ("no length", "{months: 12}", "{anniversary_inside: true}", 8, "say one of"),
    ("text in a number", "{months: 12}", "{months: twelve}", 8, "whole number"),
    ("zero months", "{months: 12}", "{months: 0}", 8, "outside 1 to"),
    ("yes that YAML turns round", "version: 1", "version: yes", 3, "whole number"),
    ("unknown confidence", "confidence: invented", "confidence: certain", 6, "confidence"),
    ("impossible date", "{months: 12}", "{months: 12, ends_on: 2026-02-30}", 8, "expected a date"),
    ("no component", "{codes: [blade]}", "{codes: []}", 7, "names no component"),
    ("not YAML", "terms:", "terms: [", 2, "not YAML"),
]


@pytest.mark.parametrize(("what", "old", "new", "line", "words"), BAD, ids=[row[0] for row in BAD])
def test_a_fault_is_refused_with_file_and_line(what: str, old: str, new: str, line: int, words: str) -> None:
    assert parse_terms(GOOD, "shop.yaml")[0].id == "booklet"
    with pytest.raises(DataError) as caught:
        parse_terms(GOOD.replace(old, new), "shop.yaml")
    assert words in str(caught.value), what
    assert str(caught.value).startswith("shop.yaml:")
    if line:
        assert caught.value.where == f"shop.yaml:{line}"


def test_the_same_version_twice_is_refused() -> None:
    body = GOOD.removeprefix("terms:\n")
    with pytest.raises(DataError, match=r"shop\.yaml:9: version 1 of 'booklet' stands already at shop\.yaml:2"):
        parse_terms(GOOD + body, "shop.yaml")


def test_a_record_is_checked_as_a_file_is() -> None:
    record = yaml.safe_load(GOOD)["terms"][0]
    assert term_from_dict(record) == parse_terms(GOOD, "shop.yaml")[0]
    with pytest.raises(DataError, match="record 9:1: unknown key 'colour'"):
        term_from_dict({**record, "colour": "red"}, "record 9")


def test_a_maker_must_be_named_in_its_own_term() -> None:
    with pytest.raises(DataError, match="needs 'giver_name'"):
        parse_terms(GOOD.replace("giver: shop", "giver: maker"), "shop.yaml")


def test_every_shipped_term_says_source_edition_confidence_and_asks_to_be_confirmed() -> None:
    assert len(LAW) >= 5
    for term in LAW:
        assert term.source.cite
        assert term.source.edition
        assert term.source.address.startswith("https://")
        assert term.source.confidence in ("read", "second-hand", "from memory")
        assert term.source.confirm.startswith("confirm before relying on it")
        for row in term.not_denied_for:
            assert row.source or term.source.cite


def test_a_maker_s_whole_programme_is_records_only() -> None:
    """Read from a file, stored as plain records, read back: the same answers, and no code was touched."""
    programme = term_set("programme")
    records = [term_to_dict(term) for term in programme]
    again = tuple(term_from_dict(record) for record in records)
    assert {term.giver for term in again} >= {"maker", "engine_maker", "part_maker", "shop", "plan", "campaign"}
    one, found = unit(maker="Quillmark", power="battery"), finding(component="battery", assembly="unit")
    first = decide(one, [found], (*LAW, *programme), found.found_on)  # type: ignore[arg-type]
    second = decide(one, [found], (*LAW, *again), found.found_on)  # type: ignore[arg-type]
    assert first["f1"].by == ("quillmark-battery",)
    assert to_json(first["f1"]) == to_json(second["f1"])


CODE = sorted(
    path
    for room in ("warranty", "orders", "shopdocs")
    for path in (ROOM.parents[1] / room).rglob("*.py")
    if not {"migrations", "demo"} & set(path.parts)
)


def test_no_code_names_a_term() -> None:
    """Terms, lists of components and giving words are data: no room but the invented month knows one by its id."""
    names = {term.id for term in (*LAW, *term_set("programme"))} | {
        "us-exhaust",
        "us-evaporative",
        "ca-warranted-parts",
    }
    assert len(CODE) > 200
    found = [
        (path.name, name)
        for path in CODE
        for name in names
        if re.search(rf"[\"'/]{name}[\"'/]", path.read_text("utf-8"))
    ]
    assert found == []
    for path in ROOM.glob("*.py"):
        assert "CFR" not in path.read_text("utf-8"), f"{path.name} cites a rule that should stand in the data"


def test_the_room_needs_no_django_and_no_clock() -> None:
    code = (
        "import sys, warranty.coverage.decide, warranty.coverage.fleet, warranty.coverage.freeze, warranty.coverage.words, "
        "warranty.coverage.operations, warranty.coverage.engine_classes; "
        "assert not [m for m in sys.modules if m.split('.')[0] in ('django', 'celery', 'rest_framework')]"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOM.parents[1])
    for path in ROOM.glob("*.py"):
        text = path.read_text("utf-8")
        assert "today(" not in text, path.name
        assert ".now(" not in text, path.name
        assert " open(" not in text, path.name
        if path.name != "loader.py":
            assert "read_text" not in text, path.name


def test_two_readings_of_the_shipped_files_are_alike() -> None:
    assert [term.fingerprint for term in load_terms()] == [term.fingerprint for term in LAW]
    assert CASES.is_dir()


def test_another_version_of_a_term_has_another_fingerprint() -> None:
    old = parse_terms(GOOD, "shop.yaml")[0]
    new = parse_terms(GOOD.replace("months: 12", "months: 13"), "shop.yaml")[0]
    assert old != new
    assert old.fingerprint != new.fingerprint


def test_where_a_period_ends_before_it_starts_nothing_is_covered() -> None:
    text = GOOD.replace("{months: 12}", "{months: 12, ends_on: 2020-01-01}")
    decision = decided(unit(), finding(component="blade", assembly="unit"), parse_terms(text, "shop.yaml"))
    assert decision.answer == "not_covered"
    assert decision.tried[0].last_day == "2020-01-01"
