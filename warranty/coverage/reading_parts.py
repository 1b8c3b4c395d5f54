"""Small readings of a term's record, and those of causes, grounds, pay and sources."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from typing import Any, TypeVar

from orders.rules.strict import Node
from orders.rules.trade import trade
from warranty.coverage import vocabulary as v
from warranty.coverage.schema import amount
from warranty.coverage.shapes import Pays, Row, Source, When

SOURCE_KEYS = ("cite", "edition", "address", "confidence")
CONFIDENCE = (
    "read",
    "second-hand",
    "from memory",
    "computed",
    "maker's paper",
    "common practice, no source",
    "invented",
)
BOOLEANS = (
    "modified",
    "other_parts",
    "manual_forbids_fuel",
    "proper_fuel_at_hand",
    "emergency_repair",
    "maintenance_records",
)
WORDS: dict[str, Collection[str]] = {
    "cause": v.CAUSES, "done_by": v.DONE_BY, "upkeep_item": v.UPKEEP_ITEMS, "fuel": v.FUELS, "serviced_by": v.SERVICED_BY,
    "use_class": v.USE_CLASSES, "owner": v.OWNERS,
}  # fmt: skip
T = TypeVar("T")


def opt(row: Mapping[str, Node], key: str, read: Callable[[Node], T]) -> T | None:
    """One value, or None where the key is missing or empty."""
    return read(row[key]) if key in row and row[key].node.tag != "tag:yaml.org,2002:null" else None


def texts(row: Mapping[str, Node], key: str, choices: Collection[str] = (), what: str = "") -> tuple[str, ...]:
    """A list of texts, of `choices` where there are some; empty without the key."""
    if key not in row:
        return ()
    return row[key].some_of(choices, what) if choices else row[key].texts()


def flag(row: Mapping[str, Node], key: str, default: bool) -> bool:
    """A flag, or its default without the key."""
    return row[key].flag() if key in row else default


def choice(row: Mapping[str, Node], key: str, choices: Collection[str], default: str) -> str:
    """A word of `choices`, or its default without the key."""
    return row[key].one_of(choices, key) if key in row else default


def when_of(node: Node | None) -> When:
    """A condition; without one it holds always."""
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


def rows_of(row: Mapping[str, Node], key: str) -> tuple[Row, ...]:
    """The rows of `excludes` or `not_denied_for`."""
    found = []
    for item in row[key].items() if key in row else ():
        one = item.fields(["ground"], ["when", "source", "note"])
        found.append(Row(
            one["ground"].one_of(v.GROUNDS, "ground"), when_of(one.get("when")),
            one["source"].text() if "source" in one else "", one["note"].text() if "note" in one else "",
        ))  # fmt: skip
    return tuple(found)


def causes_of(row: Mapping[str, Node]) -> dict[str, Any]:
    """What a term says of causes and grounds."""
    some: list[tuple[str, When]] = []
    for item in row["causes_when"].items() if "causes_when" in row else ():
        one = item.fields(["cause", "when"])
        some.append((one["cause"].one_of(v.CAUSES, "cause"), when_of(one["when"])))
    return {
        "causes": texts(row, "causes", v.CAUSES, "cause") or ("defect",), "causes_when": tuple(some),
        "excludes": rows_of(row, "excludes"), "not_denied_for": rows_of(row, "not_denied_for"),
    }  # fmt: skip


def far_of(row: Mapping[str, Node]) -> dict[str, Any]:
    """What is offered to an owner far from an authorised centre."""
    if "far_owner" not in row:
        return {}
    far = row["far_owner"].fields(["miles", "source"], ["not_in"])
    return {
        "far_owner_miles": amount(far["miles"]), "far_owner_source": far["source"].text(),
        "far_owner_not_in": frozenset(texts(far, "not_in")),
    }  # fmt: skip


def pays_of(node: Node | None) -> Pays:
    """What is paid."""
    if node is None:
        return Pays()
    row = node.fields(
        ["parts", "labour"],
        ["diagnosis", "freight", "pick_up", "consequent", "labour_percent", "parts_percent", "consequent_components"],
    )
    return Pays(
        row["parts"].flag(), row["labour"].flag(), flag(row, "diagnosis", False), flag(row, "freight", False),
        flag(row, "pick_up", False), choice(row, "consequent", ("none", "listed", "some", "machine"), "listed"),
        opt(row, "labour_percent", amount), opt(row, "parts_percent", amount),
    )  # fmt: skip


def source_of(node: Node) -> Source:
    """Where a term was read."""
    row = node.fields(SOURCE_KEYS, ["confirm"])
    confirm = row["confirm"].text() if "confirm" in row else "confirm before relying on it"
    return Source(
        row["cite"].text(), row["edition"].text(), row["address"].text(),
        row["confidence"].one_of(CONFIDENCE, "confidence"), confirm,
    )  # fmt: skip
