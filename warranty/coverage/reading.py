"""Reads terms: the strict schema. An unknown, doubled or missing key is refused with file and line."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Mapping
from pathlib import Path
from typing import Any, TypeVar

from orders.rules.strict import Node, parse
from orders.rules.trade import trade
from warranty.coverage import vocabulary as v
from warranty.coverage.loader import term_files
from warranty.coverage.schema import amount, day, node_from, plain
from warranty.coverage.shapes import Hours, Machines, Pays, Period, Row, Source, Start, Term, When

SOURCE_KEYS = ("cite", "edition", "address", "confidence")
CONFIDENCE = ("read", "second-hand", "from memory", "computed", "maker's paper", "common practice, no source", "invented")
STARTS = ("sale", "delivery", "registration", "first_service", "build", "repair")
OWNERS = ("any_owner", "first_owner", "registered_owner", "transferred_owner")
BOOLEANS = ("modified", "other_parts", "manual_forbids_fuel", "proper_fuel_at_hand", "emergency_repair", "maintenance_records")
WORDS: dict[str, Collection[str]] = {
    "cause": v.CAUSES, "done_by": v.DONE_BY, "upkeep_item": v.UPKEEP_ITEMS, "fuel": v.FUELS, "serviced_by": v.SERVICED_BY,
    "use_class": v.USE_CLASSES, "owner": v.OWNERS,
}  # fmt: skip
RULES = (
    "machines", "label", "assembly", "component", "owner", "use", "version", "time", "start", "hours", "no_shorter_than",
    "scheduled", "proof", "registration", "records", "plan", "campaign", "cause", "consequent", "pays",
)  # fmt: skip
COMMON = ("id", "version", "title", "source")
COVER = ("giver", "components", "period")
COVER_MORE = (
    "kind", "giver_name", "duty_on", "free", "consumer_product", "full", "machines", "assemblies", "to", "use_classes",
    "start", "hours", "no_shorter_than", "replacement", "may_be_scheduled", "requires", "causes", "causes_when",
    "excludes", "not_denied_for", "pays", "far_owner", "sources",
)  # fmt: skip

Lists = Mapping[str, tuple[str, ...]]
T = TypeVar("T")


def parse_terms(text: str, source_name: str) -> tuple[Term, ...]:
    """All terms of one YAML text. `source_name` is what errors call it.

    Top keys: `terms`, and `component_lists` whose names a term's components may use. Raises DataError
    (`file:line: problem`) at the first fault; a doubled id and version is one.
    """
    root = parse(text, source_name).fields(["terms"], ["component_lists"])
    lists = {row["name"].text(): _list_codes(row) for row in _lists(root.get("component_lists"))}
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


def component_lists(text: str, source_name: str) -> tuple[dict[str, object], ...]:
    """The named component lists of one YAML text: per list its name, source and entries with their component codes."""
    root = parse(text, source_name).fields(["terms"], ["component_lists"])
    found: list[dict[str, object]] = []
    for row in _lists(root.get("component_lists")):
        entries = [
            {"entry": e["entry"].text(), "codes": _codes(e, {}), "none_because": _opt(e, "none_because", Node.text)}
            for e in (item.fields(["entry"], ["systems", "codes", "except", "none_because"]) for item in row["entries"].items())
        ]
        found.append({"name": row["name"].text(), "entries": entries, "source": row["source"].text()})
    return tuple(found)


def _lists(node: Node | None) -> list[dict[str, Node]]:
    return [] if node is None else [item.fields(["name", "source", "entries"]) for item in node.items()]


def _list_codes(row: Mapping[str, Node]) -> tuple[str, ...]:
    codes: set[str] = set()
    for item in row["entries"].items():
        entry = item.fields(["entry"], ["systems", "codes", "except", "none_because"])
        got = _codes(entry, {})
        if not got and "none_because" not in entry:
            raise item.refuse("this entry names no component; say which, or why none ('none_because')")
        codes.update(got)
    return tuple(sorted(codes))


def _codes(row: Mapping[str, Node], lists: Lists) -> tuple[str, ...]:
    """Component codes of `systems`, `codes` and `lists`, less `except`, sorted."""
    known = trade()
    codes: set[str] = set()
    if "all" in row and row["all"].flag():
        codes.update(known.components)
    if "systems" in row:
        wanted = row["systems"].some_of(known.systems, "system")
        codes.update(c.code for c in known.components.values() if c.system in wanted)
    if "codes" in row:
        codes.update(row["codes"].some_of(known.components, "component"))
    if "lists" in row:
        for name in row["lists"].some_of(lists, "component list"):
            codes.update(lists[name])
    if "except" in row:
        codes.difference_update(row["except"].some_of(known.components, "component"))
    return tuple(sorted(codes))


def _opt(row: Mapping[str, Node], key: str, read: Callable[[Node], T]) -> T | None:
    return read(row[key]) if key in row and row[key].node.tag != "tag:yaml.org,2002:null" else None


def _texts(row: Mapping[str, Node], key: str, choices: Collection[str] = (), what: str = "") -> tuple[str, ...]:
    if key not in row:
        return ()
    return row[key].some_of(choices, what) if choices else row[key].texts()


def _flag(row: Mapping[str, Node], key: str, default: bool) -> bool:
    return row[key].flag() if key in row else default


def _choice(row: Mapping[str, Node], key: str, choices: Collection[str], default: str) -> str:
    return row[key].one_of(choices, key) if key in row else default


def _source(node: Node) -> Source:
    row = node.fields(SOURCE_KEYS, ["confirm"])
    confirm = row["confirm"].text() if "confirm" in row else "confirm before relying on it"
    return Source(
        row["cite"].text(), row["edition"].text(), row["address"].text(),
        row["confidence"].one_of(CONFIDENCE, "confidence"), confirm,
    )  # fmt: skip


def read_term(node: Node, lists: Lists) -> Term:
    """One term or protection from its node. Raises DataError at the first fault."""
    kind = "cover"
    entries = node.entries()
    if "kind" in entries:
        kind = entries["kind"].one_of(("cover", "protection"), "kind of term")
    if kind == "protection":
        return _protection(node)
    row = node.fields([*COMMON, *COVER], COVER_MORE)
    codes = _codes(row["components"].fields([], ["all", "systems", "codes", "lists", "except"]), lists)
    if not codes:
        raise row["components"].refuse("the term names no component")
    record = plain(node)
    assert isinstance(record, dict)
    record["components"] = {"codes": list(codes)}
    further = _further(row)
    if further:
        pays = record["pays"]
        assert isinstance(pays, dict)
        pays["consequent_components"] = {"codes": list(further)}
    return Term(
        data=_canonical(record), kind=kind, components=frozenset(codes), consequent_codes=frozenset(further),
        **_common(row), **_who(row), **_asked(row, node),
        machines=_machines(row.get("machines")), start=_start(row.get("start")), period=_period(row["period"]),
        hours=_hours(row["hours"]) if "hours" in row else None, pays=_pays(row.get("pays")), **_causes(row), **_far(row),
    )  # fmt: skip


def _further(row: Mapping[str, Node]) -> tuple[str, ...]:
    """Components beyond the term's own whose damage is paid; asked for exactly where `consequent` is 'some'."""
    pays = row["pays"].entries() if "pays" in row else {}
    some = "consequent" in pays and pays["consequent"].text() == "some"
    if some != ("consequent_components" in pays):
        raise row["pays"].refuse("'consequent: some' and 'consequent_components' go together")
    return _codes(pays["consequent_components"].fields([], ["all", "systems", "codes", "except"]), {}) if some else ()


def _canonical(record: object) -> str:
    return json.dumps(record, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def _common(row: Mapping[str, Node]) -> dict[str, Any]:
    cites = row["sources"].fields([], RULES) if "sources" in row else {}
    return {
        "id": row["id"].text(), "version": row["version"].whole(1, 10_000), "title": row["title"].text(),
        "source": _source(row["source"]), "sources": tuple((rule, cite.text()) for rule, cite in cites.items()),
    }  # fmt: skip


def _who(row: Mapping[str, Node]) -> dict[str, Any]:
    giver = row["giver"].one_of(v.GIVERS, "giver")
    name = _opt(row, "giver_name", Node.text)
    if giver in ("maker", "engine_maker", "part_maker") and name is None:
        raise row["giver"].refuse(f"a term of a {giver} needs 'giver_name'")
    return {
        "giver": giver, "giver_name": name, "free": _flag(row, "free", giver != "plan"),
        "duty_on": row["duty_on"].one_of(("maker", "engine_maker", "part_maker", "shop"), "duty_on") if "duty_on" in row else None,
        "consumer_product": _opt(row, "consumer_product", Node.flag), "full": _opt(row, "full", Node.flag),
        "assemblies": _texts(row, "assemblies"), "to": _choice(row, "to", OWNERS, "any_owner"),
        "use_classes": _texts(row, "use_classes", v.USE_CLASSES, "use class"),
    }  # fmt: skip


def _asked(row: Mapping[str, Node], node: Node) -> dict[str, Any]:
    asked = {}
    if "requires" in row:
        asked = row["requires"].fields([], ["proof", "registered_within_days", "maintenance_records", "plan", "campaign"])
    return {
        "proof": _texts(asked, "proof", ("receipt", "registration", "statement"), "proof"),
        "register_within_days": asked["registered_within_days"].whole(0, 3650) if "registered_within_days" in asked else None,
        "records": _flag(asked, "maintenance_records", False),
        "plan": _opt(asked, "plan", Node.text), "campaign": _opt(asked, "campaign", Node.text),
        "no_shorter_than": _texts(row, "no_shorter_than", v.GIVERS, "giver"),
        "replacement": _choice(row, "replacement", ("remainder", "new_period"), "remainder"),
        "may_be_scheduled": frozenset(_texts(row, "may_be_scheduled", trade().components, "component")),
    }  # fmt: skip


def _machines(node: Node | None) -> Machines:
    if node is None:
        return Machines()
    row = node.fields([], ["makers", "models", "families", "regions", "powers", "hand_held", "displacement", "built",
                           "sold", "label_of", "part_1054", "evaporative"])  # fmt: skip
    size = row["displacement"].fields([], ["from", "below"]) if "displacement" in row else {}
    built = row["built"].fields([], ["from", "to"]) if "built" in row else {}
    sold = row["sold"].fields([], ["from", "to"]) if "sold" in row else {}
    for span in (built, sold):
        if "from" in span and "to" in span and day(span["to"]) < day(span["from"]):
            raise span["to"].refuse("the span ends before it starts")
    return Machines(
        makers=_texts(row, "makers"), models=_texts(row, "models"),
        families=_texts(row, "families", trade().families, "family"), regions=_texts(row, "regions"),
        powers=_texts(row, "powers", v.POWER, "power source"), hand_held=_opt(row, "hand_held", Node.flag),
        displacement_from=_opt(size, "from", amount), displacement_below=_opt(size, "below", amount),
        built_from=_opt(built, "from", day), built_to=_opt(built, "to", day),
        sold_from=_opt(sold, "from", day), sold_to=_opt(sold, "to", day),
        label_of=row["label_of"].text() if "label_of" in row else "engine",
        part_1054=_opt(row, "part_1054", Node.flag), evaporative=_opt(row, "evaporative", Node.flag),
    )  # fmt: skip


def _start(node: Node | None) -> Start:
    if node is None:
        return Start()
    row = node.fields(["from"], ["floor_stock", "demonstrator", "ex_rental", "build_plus_days", "no_proof", "repair_by"])
    base = row["from"].one_of(STARTS, "start")
    proof = row["no_proof"].fields(["from"], ["plus_days"]) if "no_proof" in row else {}
    return Start(
        base, _choice(row, "floor_stock", STARTS[:5], base), _choice(row, "demonstrator", STARTS[:5], "first_service"),
        _choice(row, "ex_rental", STARTS[:5], "first_service"),
        row["build_plus_days"].whole(0, 36_500) if "build_plus_days" in row else 0,
        proof["from"].one_of(("build", "first_service"), "start") if proof else None,
        proof["plus_days"].whole(0, 36_500) if "plus_days" in proof else 0,
        _texts(row, "repair_by", v.DONE_BY, "repairer"),
    )  # fmt: skip


def _period(node: Node) -> Period:
    row = node.fields([], ["months", "days", "unlimited", "anniversary_inside", "ends_on"])
    if sum(key in row for key in ("months", "days", "unlimited")) != 1:
        raise node.refuse("say one of 'months', 'days' and 'unlimited: true'")
    if "unlimited" in row and not row["unlimited"].flag():
        raise row["unlimited"].refuse("'unlimited' is true or left out")
    return Period(
        row["months"].whole(1, 1200) if "months" in row else None, row["days"].whole(1, 36_500) if "days" in row else None,
        "unlimited" in row, _flag(row, "anniversary_inside", True), _opt(row, "ends_on", day),
    )  # fmt: skip


def _hours(node: Node) -> Hours:
    row = node.fields(["without_meter"], ["limit", "percent_of_label", "may_be_invoked"])
    if ("limit" in row) == ("percent_of_label" in row):
        raise node.refuse("say one of 'limit' and 'percent_of_label'")
    return Hours(
        _opt(row, "limit", amount), _opt(row, "percent_of_label", amount),
        row["without_meter"].one_of(("years_only", "fails"), "rule without a meter"), _flag(row, "may_be_invoked", False),
    )  # fmt: skip


def _pays(node: Node | None) -> Pays:
    if node is None:
        return Pays()
    row = node.fields(["parts", "labour"], ["diagnosis", "freight", "pick_up", "consequent", "labour_percent", "parts_percent",
                                          "consequent_components"])
    return Pays(
        row["parts"].flag(), row["labour"].flag(), _flag(row, "diagnosis", False), _flag(row, "freight", False),
        _flag(row, "pick_up", False), _choice(row, "consequent", ("none", "listed", "some", "machine"), "listed"),
        _opt(row, "labour_percent", amount), _opt(row, "parts_percent", amount),
    )  # fmt: skip


def _when(node: Node | None) -> When:
    if node is None:
        return When()
    row = node.fields([], [*WORDS, *BOOLEANS, "component", "condition"])
    facts: list[tuple[str, tuple[str | bool, ...]]] = []
    for key, value in row.items():
        if key in BOOLEANS:
            facts.append((key, (value.flag(),)))
        elif key in WORDS:
            facts.append((key, value.some_of(WORDS[key], key)))
        else:
            table = trade().components if key == "component" else trade().conditions
            facts.append((key, value.some_of(table, key)))
    return When(tuple(sorted(facts)))


def _rows(row: Mapping[str, Node], key: str) -> tuple[Row, ...]:
    found = []
    for item in row[key].items() if key in row else ():
        one = item.fields(["ground"], ["when", "source", "note"])
        found.append(Row(
            one["ground"].one_of(v.GROUNDS, "ground"), _when(one.get("when")),
            one["source"].text() if "source" in one else "", one["note"].text() if "note" in one else "",
        ))  # fmt: skip
    return tuple(found)


def _causes(row: Mapping[str, Node]) -> dict[str, Any]:
    some: list[tuple[str, When]] = []
    for item in row["causes_when"].items() if "causes_when" in row else ():
        one = item.fields(["cause", "when"])
        some.append((one["cause"].one_of(v.CAUSES, "cause"), _when(one["when"])))
    return {
        "causes": _texts(row, "causes", v.CAUSES, "cause") or ("defect",), "causes_when": tuple(some),
        "excludes": _rows(row, "excludes"), "not_denied_for": _rows(row, "not_denied_for"),
    }  # fmt: skip


def _far(row: Mapping[str, Node]) -> dict[str, Any]:
    if "far_owner" not in row:
        return {}
    far = row["far_owner"].fields(["miles", "source"])
    return {"far_owner_miles": amount(far["miles"]), "far_owner_source": far["source"].text()}


def _protection(node: Node) -> Term:
    row = node.fields([*COMMON, "kind", "binds", "not_denied_for"], ["sources"])
    binds = row["binds"].fields([], ["givers", "consumer_product", "full"])
    givers = _texts(binds, "givers", v.GIVERS, "giver")
    return Term(
        data=_canonical(plain(node)), kind="protection", **_common(row), not_denied_for=_rows(row, "not_denied_for"),
        binds_givers=givers, binds_consumer=_flag(binds, "consumer_product", False), binds_full=_flag(binds, "full", False),
    )  # fmt: skip
