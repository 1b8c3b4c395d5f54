"""Units that a measurement may carry, and exact conversion between units of one quantity. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from functools import cache
from pathlib import Path

from orders.rules import strict
from orders.rules.strict import Node
from orders.rules.trade import DATA, UnknownCode


class BadMeasurement(ValueError):
    """A measurement that cannot be: not a number, or below zero where nothing is. The text says what to enter."""


@dataclass(frozen=True)
class MeasurementUnit:
    """A unit; value in the quantity's base unit = value * factor + offset. `source` says how the factor is known."""

    code: str
    name: str
    quantity: str
    factor: Fraction
    offset: Fraction
    below_zero: bool
    source: str


def load_units(path: Path = DATA / "units.yaml") -> dict[str, MeasurementUnit]:
    """Reads the file; raises DataError (file:line: problem) for a wrong row or a doubled code."""
    found: dict[str, MeasurementUnit] = {}
    for item in strict.read(path).fields(["units"])["units"].items():
        row = item.fields(["code", "name", "quantity", "factor", "source"], ["offset", "below_zero"])
        code = row["code"].text()
        if code in found:
            raise item.refuse(f"the unit '{code}' stands here twice")
        factor = _exact(row["factor"])
        if factor <= 0:
            raise row["factor"].refuse("a factor must be above zero")
        found[code] = MeasurementUnit(
            code,
            row["name"].text(),
            row["quantity"].text(),
            factor,
            _exact(row["offset"]) if "offset" in row else Fraction(0),
            row["below_zero"].flag() if "below_zero" in row else False,
            row["source"].text(),
        )
    return found


@cache
def _units() -> Mapping[str, MeasurementUnit]:
    return load_units()


def measurement_units() -> tuple[MeasurementUnit, ...]:
    """All units, in the order to offer them in."""
    return tuple(_units().values())


def measurement_unit(code: str) -> MeasurementUnit:
    """The unit with this code (`kPa`, `N m` ...); raises UnknownCode with near matches. Case matters: m is not M."""
    try:
        return _units()[code]
    except KeyError:
        raise UnknownCode(strict.no_such("unit of measurement", code, _units())) from None


def measured(value: str | int | Decimal, unit_code: str) -> Decimal:
    """The value of a measurement, checked against its unit.

    Raises UnknownCode for the unit and BadMeasurement when the value is not a finite number of at most
    12 digits, or is below zero for a unit that knows no such thing (a gap, a resistance).
    """
    unit = measurement_unit(unit_code)
    try:
        number = Decimal(value)
    except InvalidOperation:
        raise BadMeasurement(f"'{str(value)[:40]}' is not a number; enter digits with a point, as 0.35") from None
    exponent = number.as_tuple().exponent
    if not isinstance(exponent, int) or not -9 <= exponent <= 9 or len(number.as_tuple().digits) > 12:
        raise BadMeasurement("enter a plain number of at most 12 digits")
    if number < 0 and not unit.below_zero:
        raise BadMeasurement(f"{number} {unit.code}: {unit.name} are never below zero; check the reading")
    return number


def convert(value: Decimal, from_code: str, to_code: str, places: int = 3) -> Decimal:
    """`value` in another unit of the same quantity, rounded half up to `places` decimals."""
    start, end = measurement_unit(from_code), measurement_unit(to_code)
    if start.quantity != end.quantity:
        raise BadMeasurement(f"{start.name} measure {start.quantity}, {end.name} measure {end.quantity}")
    exact = (Fraction(value) * start.factor + start.offset - end.offset) / end.factor
    scaled = exact * 10**places
    whole = (abs(scaled) + Fraction(1, 2)).__floor__()
    return Decimal(whole if scaled >= 0 else -whole).scaleb(-places)


def _exact(node: Node) -> Fraction:
    """A decimal number or a fraction such as 5/9."""
    word = getattr(node.node, "value", None)
    if isinstance(word, str) and "/" in word:
        try:
            return Fraction(word)
        except (ValueError, ZeroDivisionError):
            raise node.refuse("expected a number or a fraction such as 5/9") from None
    return Fraction(node.number())
