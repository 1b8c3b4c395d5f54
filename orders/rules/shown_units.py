"""A measurement as its reader knows it: US or metric units, and what was recorded beside it. Pure.

The recorded figure is the evidence, so it is never left out where another stands before it. What both systems measure
alike (ohms, volts, rpm, hours, cubic centimetres of an engine) stays as it is.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from orders.rules.units import convert, measurement_unit

SYSTEMS = ("us", "metric")
US = {
    "mm": "in", "m": "ft", "kPa": "psi", "bar": "psi", "N": "lbf", "N m": "lbf ft", "C": "F", "mL": "fl oz", "L": "gal", "L/min": "gal/min",
    "kg": "lb",
}  # fmt: skip
METRIC = {
    "in": "mm", "ft": "m", "psi": "kPa", "inHg": "kPa", "lbf": "N", "lbf in": "N m", "lbf ft": "N m", "F": "C", "fl oz": "mL", "gal": "L",
    "gal/min": "L/min", "lb": "kg",
}  # fmt: skip
INTO = {"us": US, "metric": METRIC}
SMALL_TORQUE = Decimal(14)
"""Newton metres below which a US reader is told inch pounds: about ten foot pounds (common practice, no source)."""
SYMBOLS = {"ohm": "Ω", "kohm": "kΩ", "Mohm": "MΩ", "mohm": "mΩ", "uF": "µF", "C": "°C", "F": "°F", "deg": "°", "N m": "N·m", "lbf ft": "lbf·ft", "lbf in": "lbf·in"}  # fmt: skip
MOST_PLACES = 6


def symbol(code: str) -> str:
    """How papers write a unit: 'MΩ' for `Mohm`."""
    return SYMBOLS.get(code, code)


def shown(value: Decimal, code: str) -> str:
    """'1.9 MΩ': the figure as it was recorded."""
    return f"{_plain(value)} {symbol(code)}"


def unit_for(value: Decimal, code: str, system: str) -> str:
    """The unit in which a reader of this system measures that; `code` itself where it is theirs, or everybody's."""
    other = INTO[system].get(code, code) if system else code
    return "lbf in" if other == "lbf ft" and value < SMALL_TORQUE else other


def converted(value: Decimal, code: str, other: str) -> Decimal:
    """`value` in the unit `other`, to the first decimal that is no coarser than the last one recorded.

    So a gap of 0.3 mm is 0.012 in, and 20 lbf ft are 27 N m: no finer than was measured, by less than one decimal.
    """
    start, end = measurement_unit(code), measurement_unit(other)
    exponent = Decimal(_plain(value)).as_tuple().exponent
    assert isinstance(exponent, int), "measurements are finite"
    step = Fraction(10) ** min(exponent, 0) * start.factor / end.factor
    places = next((at for at in range(MOST_PLACES) if Fraction(1, 10**at) <= step), MOST_PLACES)
    return convert(value, code, other, places)


def for_reader(value: Decimal, code: str, system: str) -> str:
    """'0.012 in (0.3 mm)': in the reader's units with the recorded ones beside; only these where they are the reader's.

    `system`: 'us', 'metric', or '' for as it was recorded.
    """
    other = unit_for(value, code, system)
    recorded = shown(value, code)
    if other == code:
        return recorded
    return f"{converted(value, code, other):f} {symbol(other)} ({recorded})"


def in_order(codes: tuple[str, ...], system: str) -> tuple[str, ...]:
    """Units to measure in, as papers write them: the reader's own first, and none whose like is among those."""
    foreign = INTO[system] if system else {}
    own = {measurement_unit(code).quantity for code in codes if code not in foreign}
    kept = [code for code in codes if code not in foreign or measurement_unit(code).quantity not in own]
    return tuple(symbol(code) for code in sorted(kept, key=lambda code: code in foreign))


def _plain(value: Decimal) -> str:
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
