"""Reads the worked cases (tests/warranty/cases/*.yaml). A tester adds one without code; a wrong key is refused by name."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from orders.rules.trade import trade
from warranty.coverage.codec import finding_from, unit_from
from warranty.coverage.facts import FindingFacts, UnitFacts
from warranty.coverage.terms import Term, load_terms, parse_terms

CASES = Path(__file__).parents[1] / "cases"
KEYS = {"name", "told", "unit", "findings", "as_of", "terms", "expect"}
EXPECT = {
    "answer", "by", "one_of", "best", "best_paid", "payer", "missing", "settled_by", "route", "far", "goodwill", "last_day",
    "because", "says", "warning", "refused", "forbidden",
}  # fmt: skip


@dataclass(frozen=True)
class WorkedCase:
    """One case: the facts, the day, the terms and what is expected per finding."""

    name: str
    unit: UnitFacts
    findings: tuple[FindingFacts, ...]
    as_of: date
    terms: tuple[Term, ...]
    expect: dict[str, dict[str, Any]]


@cache
def term_set(name: str) -> tuple[Term, ...]:
    """'law' is what is shipped; another name is a file in cases/terms."""
    if name == "law":
        return load_terms()
    path = CASES / "terms" / f"{name}.yaml"
    return parse_terms(path.read_text("utf-8"), path.name)


class _Once(yaml.SafeLoader):
    """Refuses a key that stands twice in one mapping: of two expectations the first would be lost without a word."""

    def construct_mapping(self, node: yaml.MappingNode, deep: bool = False) -> dict[Any, Any]:
        keys = [self.construct_object(key, deep=True) for key, _ in node.value]
        for at, key in enumerate(keys):
            line = node.value[at][0].start_mark.line + 1
            assert key not in keys[:at], f"{self.name}:{line}: the key '{key}' stands twice"
        return super().construct_mapping(node, deep)


def read_yaml(text: str, name: str) -> Any:
    """What a file of cases says; a doubled key is refused by name and line."""
    loader = _Once(text)
    loader.name = name
    try:
        return loader.get_single_data()
    finally:
        loader.dispose()


def read_cases() -> list[WorkedCase]:
    """All cases of all files, in order."""
    found: list[WorkedCase] = []
    for path in sorted(CASES.glob("*.yaml")):
        data = read_yaml(path.read_text("utf-8"), path.name)
        assert set(data) <= {"units", "cases"}, f"{path.name}: unknown key among {sorted(data)}"
        for row in data["cases"]:
            found.append(_case(path.name, row, data.get("units", {})))
    return found


def _case(file: str, row: dict[str, Any], units: dict[str, dict[str, Any]]) -> WorkedCase:
    where = f"{file}: {row.get('name', 'a case without a name')}"
    assert set(row) <= KEYS, f"{where}: unknown key among {sorted(set(row) - KEYS)}"
    assert len(row["told"].split()) >= 8, f"{where}: tell it as a technician would"
    findings = tuple(_finding(name, one) for name, one in row["findings"].items())
    for name, expected in row["expect"].items():
        assert set(expected) <= EXPECT, f"{where}: unknown expectation among {sorted(set(expected) - EXPECT)}"
        assert name in row["findings"], f"{where}: there is no finding '{name}'"
        assert "answer" in expected and "because" in expected, f"{where}: say the answer and its reason"
    terms = tuple(term for name in row.get("terms", ["law", "programme"]) for term in term_set(name))
    return WorkedCase(where, _unit(row["unit"], units), findings, row["as_of"], terms, row["expect"])


def _unit(row: dict[str, Any], units: dict[str, dict[str, Any]]) -> UnitFacts:
    record = {**units[row["like"]], **row} if "like" in row else dict(row)
    engine = {**units.get(row.get("like", ""), {}).get("engine", {}), **row.get("engine", {})}
    record.pop("like", None)
    record.pop("engine", None)
    if engine:
        record["assemblies"] = [{"role": "engine", **engine}, *record.get("assemblies", [])]
    return unit_from(record)


def _finding(name: str, row: dict[str, Any]) -> FindingFacts:
    found = finding_from({"id": name, "caused_by": "none", **row})
    known_codes(found.component, trade().components, name)
    known_codes(found.condition, trade().conditions, name)
    return found


def known_codes(code: str | None, table: Collection[str], where: str) -> None:
    """A part or condition that nobody knows is covered by no term: the case would pass or fail by a slip of the pen."""
    near = get_close_matches(code or "", table, 3)
    assert code is None or code in table, f"{where}: there is no '{code}'; is it one of {', '.join(near)}?"
