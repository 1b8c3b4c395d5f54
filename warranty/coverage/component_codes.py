"""Components that a term names: by code, by system, by a named list of a law's entries, less exceptions."""

from __future__ import annotations

from collections.abc import Mapping

from orders.rules.strict import Node, parse
from orders.rules.trade import trade

Lists = Mapping[str, tuple[str, ...]]
ENTRY_KEYS = ("systems", "codes", "except", "none_because")


def component_lists(text: str, source_name: str) -> tuple[dict[str, object], ...]:
    """The named component lists of one YAML text: per list its name, source and entries with their component codes."""
    root = parse(text, source_name).fields(["terms"], ["component_lists"])
    found: list[dict[str, object]] = []
    for row in list_rows(root.get("component_lists")):
        entries = [_entry(item) for item in row["entries"].items()]
        found.append({"name": row["name"].text(), "entries": entries, "source": row["source"].text()})
    return tuple(found)


def _entry(item: Node) -> dict[str, object]:
    entry = item.fields(["entry"], ENTRY_KEYS)
    why = entry["none_because"].text() if "none_because" in entry else None
    return {"entry": entry["entry"].text(), "codes": codes_of(entry, {}), "none_because": why}


def list_rows(node: Node | None) -> list[dict[str, Node]]:
    """The rows of a `component_lists` key, if there is one."""
    return [] if node is None else [item.fields(["name", "source", "entries"]) for item in node.items()]


def list_codes(row: Mapping[str, Node]) -> tuple[str, ...]:
    """All codes of one list. An entry that names none must say why."""
    codes: set[str] = set()
    for item in row["entries"].items():
        entry = item.fields(["entry"], ENTRY_KEYS)
        got = codes_of(entry, {})
        if not got and "none_because" not in entry:
            raise item.refuse("this entry names no component; say which, or why none ('none_because')")
        codes.update(got)
    return tuple(sorted(codes))


def codes_of(row: Mapping[str, Node], lists: Lists) -> tuple[str, ...]:
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


def further_codes(row: Mapping[str, Node]) -> tuple[str, ...]:
    """Components beyond the term's own whose damage is paid; asked for exactly where `consequent` is 'some'."""
    pays = row["pays"].entries() if "pays" in row else {}
    some = "consequent" in pays and pays["consequent"].text() == "some"
    if some != ("consequent_components" in pays):
        raise row["pays"].refuse("'consequent: some' and 'consequent_components' go together")
    return codes_of(pays["consequent_components"].fields([], ["all", "systems", "codes", "except"]), {}) if some else ()
