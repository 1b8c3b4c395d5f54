"""Strict reading of terms from YAML text or from plain records: values with a place, dates, amounts, plain copies."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal, InvalidOperation

import yaml

from orders.rules.strict import DataError, Node

DEEPEST = 20  # no record of ours is half as deep
_PREFIX = "tag:yaml.org,2002:"
_TEXT = f"{_PREFIX}str"

Plain = None | bool | int | str | list["Plain"] | dict[str, "Plain"]


def node_from(value: object, name: str, line: int = 1) -> Node:
    """Wraps a plain record (as a shop's database holds it) so that it is read exactly as a file is.

    `name` is what errors call the record; every value stands on its `line`. Raises DataError for a value that no file
    could hold.
    """
    return Node(_yaml(value, name, yaml.Mark(name, 0, line - 1, 0, "", 0)), name)


def _yaml(value: object, name: str, mark: yaml.Mark, deep: int = 0) -> yaml.Node:
    if type(value) is str:  # by far the most values
        return yaml.ScalarNode(_TEXT, value, mark, mark)
    if deep > DEEPEST:
        raise DataError(f"{name}:{mark.line + 1}", f"this is nested more than {DEEPEST} deep")
    if isinstance(value, dict | Mapping):
        pairs = [
            (yaml.ScalarNode(_TEXT, str(key), mark, mark), _yaml(item, name, mark, deep + 1))
            for key, item in value.items()
        ]
        return yaml.MappingNode(f"{_PREFIX}map", pairs, mark, mark)
    if isinstance(value, list | tuple):
        return yaml.SequenceNode(f"{_PREFIX}seq", [_yaml(item, name, mark, deep + 1) for item in value], mark, mark)
    return yaml.ScalarNode(*_scalar(value, name), mark, mark)


def _scalar(value: object, name: str) -> tuple[str, str]:
    if value is None:
        return f"{_PREFIX}null", ""
    if isinstance(value, bool):
        return f"{_PREFIX}bool", "true" if value else "false"
    if isinstance(value, int):
        return f"{_PREFIX}int", str(value)
    if isinstance(value, float | Decimal):
        return f"{_PREFIX}float", str(value)
    if isinstance(value, str):
        return f"{_PREFIX}str", value
    if isinstance(value, date):
        return f"{_PREFIX}timestamp", value.isoformat()
    raise DataError(f"{name}:1", f"a value of type {type(value).__name__} cannot stand in a term")


def plain(node: Node) -> Plain:
    """A plain copy fit for JSON: numbers with a fraction and dates as text, the rest as it is."""
    inner = node.node
    if isinstance(inner, yaml.MappingNode):
        return {key: plain(value) for key, value in node.entries().items()}
    if isinstance(inner, yaml.SequenceNode):
        return [plain(item) for item in node.items()]
    kind = inner.tag.removeprefix(_PREFIX)
    if kind == "null":
        return None
    if kind == "bool":
        return node.flag()
    if kind == "int":
        return int(inner.value)
    return str(inner.value) if kind != "str" else " ".join(str(inner.value).split())


def day(node: Node) -> date:
    """A calendar date, YYYY-MM-DD."""
    try:
        return date.fromisoformat(str(node.node.value))
    except (ValueError, TypeError):
        raise node.refuse("expected a date here, such as 2026-03-31") from None


def amount(node: Node, low: Decimal = Decimal(0)) -> Decimal:
    """A finite number not below `low`, from its own digits; a number in quotes is read too."""
    try:
        found = Decimal(str(node.node.value))
    except InvalidOperation:
        found = Decimal("NaN")
    if not found.is_finite() or isinstance(node.node.value, list):
        raise node.refuse("expected a plain number here")
    if found < low:
        raise node.refuse(f"{found} is below {low}")
    return found
