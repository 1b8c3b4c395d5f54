"""Typed sheets: everything a paper prints, frozen, and their way into JSON and back.

A sheet is a frozen dataclass of strings, whole numbers, Decimals, dates, tuples and other
such dataclasses. The database keeps `to_json(sheet)`; `from_json` builds the same sheet years
later, and the same sheet gives the same bytes. Both ways are strict: a key too many, a key too
few or a value of another type is refused, because a guess would print something never agreed.
Only a field with a default may be missing: it is younger than the stored sheet.
"""

from __future__ import annotations

import dataclasses
import functools
import types
import typing
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, TypeVar

from shopdocs.documents.press.errors import PressError

T = TypeVar("T")


@dataclass(frozen=True, kw_only=True)
class ShopBlock:
    """The shop as its papers name it. `accent` is a hex colour such as '#1f6f54'."""

    name: str
    address: tuple[str, ...]
    phone: str
    email: str
    accent: str


@dataclass(frozen=True, kw_only=True)
class Currency:
    """How money is printed: the symbol before the figure, and how many decimals."""

    symbol: str
    decimals: int


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """What every paper carries.

    paper: 'letter' or 'a4'. language: a language the press has words for. version: 0 prints none.
    code: the address-like text in the QR code, at most 200 characters.
    """

    paper: str
    language: str
    shop: ShopBlock
    number: str
    version: int
    issued_on: date
    title: str
    code: str
    currency: Currency


def to_json(sheet: object) -> dict[str, Any]:
    """The sheet as JSON values, keys in field order. Raises PressError at a value of a wrong type."""
    return _record_out(type(sheet), sheet, type(sheet).__name__)


def from_json(cls: type[T], data: dict[str, Any]) -> T:
    """The sheet of class `cls` that `to_json` wrote. Raises PressError at anything unexpected."""
    made = _record_in(cls, data, cls.__name__)
    return typing.cast(T, made)


@functools.cache
def _fields(cls: type) -> dict[str, Any]:
    if not dataclasses.is_dataclass(cls):
        raise PressError(f"{cls.__name__} is no sheet: give a dataclass instance")
    hints = typing.get_type_hints(cls)
    return {field.name: hints[field.name] for field in dataclasses.fields(cls)}


@functools.cache
def _with_default(cls: type) -> frozenset[str]:
    return frozenset(f.name for f in dataclasses.fields(cls) if f.default is not dataclasses.MISSING)


def _record_out(cls: type, value: object, where: str) -> dict[str, Any]:
    fields = _fields(cls)
    if type(value) is not cls:
        raise PressError(f"{where}: expected {cls.__name__}, got {type(value).__name__}")
    return {name: _out(hint, getattr(value, name), f"{where}.{name}") for name, hint in fields.items()}


def _record_in(cls: type, data: object, where: str) -> object:
    fields = _fields(cls)
    if not isinstance(data, dict):
        raise PressError(f"{where}: expected an object, got {type(data).__name__}")
    unknown = sorted(str(key) for key in data.keys() - fields.keys())
    missing = [name for name in fields if name not in data and name not in _with_default(cls)]
    if unknown or missing:
        told = [f"unknown {', '.join(unknown)}"] if unknown else []
        told += [f"missing {', '.join(missing)}"] if missing else []
        raise PressError(f"{where}: {'; '.join(told)}; a stored sheet has exactly the fields of {cls.__name__}")
    return cls(**{name: _in(hint, data[name], f"{where}.{name}") for name, hint in fields.items() if name in data})


def _item_of(hint: Any, where: str) -> Any:
    args = typing.get_args(hint)
    if len(args) != 2 or args[1] is not Ellipsis:
        raise PressError(f"{where}: a sheet's tuples are written tuple[type, ...]")
    return args[0]


def _optional(hint: Any) -> Any:
    """The type inside `X | None`, or None when the hint is something else."""
    if typing.get_origin(hint) not in (types.UnionType, typing.Union):
        return None
    inner = [arg for arg in typing.get_args(hint) if arg is not type(None)]
    return inner[0] if len(inner) == 1 else None


def _out(hint: Any, value: Any, where: str) -> Any:
    inner = _optional(hint)
    if inner is not None:
        return None if value is None else _out(inner, value, where)
    if typing.get_origin(hint) is tuple:
        if not isinstance(value, tuple):
            raise PressError(f"{where}: expected a tuple, got {type(value).__name__}")
        item = _item_of(hint, where)
        return [_out(item, one, f"{where}[{at}]") for at, one in enumerate(value)]
    if dataclasses.is_dataclass(hint):
        return _record_out(typing.cast(type, hint), value, where)
    if type(value) is not hint or isinstance(value, datetime):
        raise PressError(f"{where}: expected {getattr(hint, '__name__', hint)}, got {type(value).__name__}")
    if hint is Decimal:
        if not value.is_finite():
            raise PressError(f"{where}: {value} is no amount; give a finite Decimal")
        return format(value, "f")
    if hint is date:
        return value.isoformat()
    if hint in (str, int, bool):
        return value
    raise PressError(f"{where}: a sheet holds str, int, bool, Decimal and date, not {hint}")


def _in(hint: Any, value: Any, where: str) -> Any:
    inner = _optional(hint)
    if inner is not None:
        return None if value is None else _in(inner, value, where)
    if typing.get_origin(hint) is tuple:
        if not isinstance(value, list):
            raise PressError(f"{where}: expected a list, got {type(value).__name__}")
        item = _item_of(hint, where)
        return tuple(_in(item, one, f"{where}[{at}]") for at, one in enumerate(value))
    if dataclasses.is_dataclass(hint):
        return _record_in(typing.cast(type, hint), value, where)
    if hint in (Decimal, date):
        return _text_in(hint, value, where)
    if type(value) is not hint:
        raise PressError(f"{where}: expected {getattr(hint, '__name__', hint)}, got {type(value).__name__}")
    return value


def _text_in(hint: Any, value: Any, where: str) -> Decimal | date:
    """A Decimal or date from the one text that `to_json` writes for it."""
    if isinstance(value, str):
        try:
            made: Decimal | date = Decimal(value) if hint is Decimal else date.fromisoformat(value)
        except (ArithmeticError, ValueError):
            made = Decimal("NaN")
        written = format(made, "f") if isinstance(made, Decimal) else made.isoformat()
        if written == value and value != "NaN":
            return made
    raise PressError(f"{where}: {value!r} is no {hint.__name__} as a stored sheet writes it")
