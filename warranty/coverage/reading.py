"""Reads terms: the strict schema. An unknown, doubled or missing key is refused with file and line."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from orders.rules.strict import Node, parse
from warranty.coverage.component_codes import Lists, codes_of, component_lists, further_codes, list_codes, list_rows
from warranty.coverage.loader import term_files
from warranty.coverage.reading_parts import causes_of, far_of, flag, pays_of, rows_of, texts
from warranty.coverage.reading_sections import (
    asked_of,
    common_of,
    hours_of,
    machines_of,
    period_of,
    severe_of,
    start_of,
    who_of,
)
from warranty.coverage.schema import node_from, plain
from warranty.coverage.shapes import Term
from warranty.coverage.vocabulary import GIVERS

COMMON = ("id", "version", "title", "source")
COVER = ("giver", "components", "period")
COVER_MORE = (
    "kind", "giver_name", "duty_on", "free", "consumer_product", "full", "machines", "assemblies", "to", "use_classes",
    "start", "hours", "severe_service", "no_shorter_than", "replacement", "may_be_scheduled", "requires", "causes", "causes_when",
    "excludes", "not_denied_for", "pays", "far_owner", "sources",
)  # fmt: skip


def parse_terms(text: str, source_name: str) -> tuple[Term, ...]:
    """All terms of one YAML text. `source_name` is what errors call it.

    Top keys: `terms`, and `component_lists` whose names a term's components may use. Raises DataError
    (`file:line: problem`) at the first fault; a doubled id and version is one.
    """
    root = parse(text, source_name).fields(["terms"], ["component_lists"])
    lists = {row["name"].text(): list_codes(row) for row in list_rows(root.get("component_lists"))}
    terms: list[Term] = []
    seen: dict[tuple[str, int], str] = {}
    for node in root["terms"].items():
        term = read_term(node, lists)
        key = (term.id, term.version)
        if key in seen:
            raise node.refuse(f"version {term.version} of '{term.id}' stands already at {seen[key]}")
        seen[key] = node.where
        terms.append(term)
    return tuple(terms)


def term_from_dict(record: Mapping[str, object], source_name: str = "record") -> Term:
    """One term from a plain record with the keys of the YAML schema. Raises DataError as `parse_terms` does."""
    return read_term(node_from(record, source_name), {})


def load_terms(folder: Path | None = None) -> tuple[Term, ...]:
    """The shipped statutory terms and protections (warranty/terms/*.yaml), in the order of file and line."""
    found: list[Term] = []
    for name, text in term_files(folder):
        found += parse_terms(text, name)
    return tuple(found)


def read_term(node: Node, lists: Lists) -> Term:
    """One term or protection from its node. Raises DataError at the first fault."""
    kind = "cover"
    entries = node.entries()
    if "kind" in entries:
        kind = entries["kind"].one_of(("cover", "protection"), "kind of term")
    if kind == "protection":
        return _protection(node)
    row = node.fields([*COMMON, *COVER], COVER_MORE)
    codes = codes_of(row["components"].fields([], ["all", "systems", "codes", "lists", "except"]), lists)
    if not codes:
        raise row["components"].refuse("the term names no component")
    further = further_codes(row)
    sections: dict[str, Any] = {
        **common_of(row), **who_of(row), **asked_of(row), **causes_of(row), **far_of(row),
        "machines": machines_of(row.get("machines")), "start": start_of(row.get("start")), "period": period_of(row["period"]),
        "hours": hours_of(row["hours"]) if "hours" in row else None, "severe": severe_of(row), "pays": pays_of(row.get("pays")),
    }  # fmt: skip
    data = _canonical(_resolved(node, codes, further))
    return Term(data=data, kind=kind, components=frozenset(codes), consequent_codes=frozenset(further), **sections)


def _resolved(node: Node, codes: tuple[str, ...], further: tuple[str, ...]) -> object:
    """The plain record with its components named one by one, so that it says the same without the file it came from."""
    record = plain(node)
    assert isinstance(record, dict)
    record["components"] = {"codes": list(codes)}
    if further:
        pays = record["pays"]
        assert isinstance(pays, dict)
        pays["consequent_components"] = {"codes": list(further)}
    return record


def _canonical(record: object) -> str:
    return json.dumps(record, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def _protection(node: Node) -> Term:
    row = node.fields([*COMMON, "kind", "binds", "not_denied_for"], ["sources"])
    binds = row["binds"].fields([], ["givers", "consumer_product", "full"])
    givers = texts(binds, "givers", GIVERS, "giver")
    return Term(
        data=_canonical(plain(node)), kind="protection", **common_of(row), not_denied_for=rows_of(row, "not_denied_for"),
        binds_givers=givers, binds_consumer=flag(binds, "consumer_product", False), binds_full=flag(binds, "full", False),
    )  # fmt: skip


__all__ = ["component_lists", "load_terms", "parse_terms", "read_term", "term_from_dict"]
