"""Facts as plain records fit for JSON, and back. The same facts always give the same record."""

from __future__ import annotations

import types
import typing
from collections.abc import Mapping
from dataclasses import fields
from datetime import date
from decimal import Decimal, InvalidOperation
from functools import cache
from typing import Any, TypeVar

from warranty.coverage import vocabulary as v
from warranty.coverage.facts import AssemblyFacts, FindingFacts, MeterChange, RepairFacts, UnitFacts

F = TypeVar("F", UnitFacts, FindingFacts, AssemblyFacts, RepairFacts, MeterChange)
NESTED: dict[str, type[Any]] = {"assemblies": AssemblyFacts, "repairs": RepairFacts, "meter_changes": MeterChange}
WORDS: dict[str, tuple[str, ...]] = {
    "use_class": v.USE_CLASSES, "sale_kind": v.SALE_KINDS, "purchase_proof": v.PROOFS, "power": v.POWER, "owner": v.OWNERS,
    "serviced_by": v.SERVICED_BY, "fuel": v.FUELS, "done_by": v.DONE_BY, "upkeep_item": v.UPKEEP_ITEMS,
    "cause": (*v.CAUSES, v.UNKNOWN_CAUSE),
}  # fmt: skip


class FactError(ValueError):
    """A record is not the facts it should be. The text names the field, the problem and the remedy."""


def to_record(facts: UnitFacts | FindingFacts | AssemblyFacts | RepairFacts | MeterChange) -> dict[str, Any]:
    """All fields that are known; what is not known is left out."""
    record: dict[str, Any] = {}
    for each in fields(facts):
        value = getattr(facts, each.name)
        if value is not None:
            record[each.name] = _plain(value)
    return record


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _plain(value[key]) for key in sorted(value)}
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return format(value, "f")
    return to_record(value) if hasattr(value, "__dataclass_fields__") else value


def unit_from(record: Mapping[str, Any]) -> UnitFacts:
    """A unit from its record. Raises FactError for an unknown field, word, date or number."""
    return _built(UnitFacts, record, "unit")


def finding_from(record: Mapping[str, Any]) -> FindingFacts:
    """A finding from its record. Raises FactError as `unit_from` does."""
    return _built(FindingFacts, record, "finding")


KINDS: dict[str, type[Any]] = {kind.__name__: kind for kind in (UnitFacts, FindingFacts, *NESTED.values())}


@cache
def _hints(kind: str) -> dict[str, Any]:
    return typing.get_type_hints(KINDS[kind])


def _built(kind: type[F], record: Mapping[str, Any], where: str) -> F:
    if not isinstance(record, Mapping):
        raise FactError(f"{where}: expected fields with values; write them as 'field: value'")
    hints = _hints(kind.__name__)
    values: dict[str, Any] = {}
    for name, value in record.items():
        if name not in hints:
            raise FactError(f"{where}.{name}: there is no such field; known are {', '.join(sorted(hints))}")
        if value is not None:
            values[name] = _read(name, value, hints[name], f"{where}.{name}")
    try:
        return kind(**values)
    except TypeError as error:
        raise FactError(f"{where}: a field that is needed is missing ({error})") from None


def _read(name: str, value: Any, hint: Any, where: str) -> Any:
    if name in NESTED:
        return tuple(_built(NESTED[name], item, f"{where}[{at}]") for at, item in enumerate(_list(value, where)))
    if name == "replacement_schedule":
        return {str(code): _schedule(item, f"{where}.{code}") for code, item in _mapping(value, where).items()}
    options = set(typing.get_args(hint)) if isinstance(hint, types.UnionType) else {hint}
    if date in options:
        return _date(value, where)
    if Decimal in options:
        return _decimal(value, where)
    if bool in options or typing.get_origin(hint) is Mapping or hint is Mapping:
        return _flag_or_flags(value, where)
    if any(typing.get_origin(option) is frozenset for option in options):
        return frozenset(_text(item, where) for item in _list(value, where))
    if typing.get_origin(hint) is tuple:
        return tuple(_text(item, where) for item in _list(value, where))
    text = _text(value, where)
    if name in WORDS and text not in WORDS[name]:
        raise FactError(f"{where}: there is no '{text[:60]}' here; one of {', '.join(WORDS[name])}")
    return text


def _flag_or_flags(value: Any, where: str) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _flag_or_flags(item, f"{where}.{key}") for key, item in value.items()}
    if not isinstance(value, bool):
        raise FactError(f"{where}: expected true or false; leave it out while it is not known")
    return value


def _schedule(value: Any, where: str) -> tuple[int | None, Decimal | None]:
    row = _list(value, where)
    if len(row) != 2 or not (row[0] is None or (isinstance(row[0], int) and not isinstance(row[0], bool))):
        raise FactError(f"{where}: expected [months, hours], either of them empty")
    return row[0], None if row[1] is None else _decimal(row[1], where)


def _list(value: Any, where: str) -> list[Any]:
    if not isinstance(value, list | tuple):
        raise FactError(f"{where}: expected a list")
    return list(value)


def _mapping(value: Any, where: str) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise FactError(f"{where}: expected fields with values")
    return value


def _text(value: Any, where: str) -> str:
    if not isinstance(value, str):
        raise FactError(f"{where}: expected text; put it in quotes")
    return value


def _date(value: Any, where: str) -> date:
    if type(value) is date:
        return value
    try:
        return date.fromisoformat(value)
    except (TypeError, ValueError):
        raise FactError(f"{where}: expected a date such as 2026-03-31") from None


def _decimal(value: Any, where: str) -> Decimal:
    try:
        found = Decimal("NaN") if isinstance(value, bool) else Decimal(str(value))
    except InvalidOperation:
        found = Decimal("NaN")
    if not found.is_finite() or found < 0:
        raise FactError(f"{where}: expected a number, not negative, such as 12.5")
    return found
