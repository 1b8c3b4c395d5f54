"""Exact money: currencies of 0, 2 or 3 decimals, rounding half-up, exact shares, amounts as people type and read them.

Amounts are Decimal, never float. Nothing here knows taxes or orders, reads a clock or imports Django.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Context, Decimal
from functools import cached_property

from shopdocs.problems import BadInput

LARGEST = Decimal(10) ** 12  # amounts stay below this, so that products with rates stay exact in 28 digits
_WIDE = Context(prec=60)
_PLAIN = re.compile(r"-?[0-9]{1,30}(\.[0-9]{1,30})?")
_TYPED = re.compile(r"(?P<sign>-?)(?P<whole>[0-9]{1,3}(?:,[0-9]{3})+|[0-9]+)(?:\.(?P<part>[0-9]+))?")


@dataclass(frozen=True, slots=True)
class Step:
    """One step of how a figure came about: words a customer can follow, and the amount it led to, if there is one."""

    text: str
    amount: Decimal | None = None


@dataclass(frozen=True)
class Currency:
    """A shop's currency: ISO 4217 code, decimals, and the sign printed before the figure ('' prints the code after)."""

    code: str
    decimals: int = 2
    symbol: str = ""

    def __post_init__(self) -> None:
        if not re.fullmatch(r"[A-Z]{3}", self.code):
            raise BadInput(
                "currency", f"'{self.code}' is not a currency code.", "Use the three capital letters of ISO 4217."
            )
        if self.decimals not in (0, 2, 3):
            raise BadInput("decimals", f"A currency with {self.decimals} decimals is not known here.", "Use 0, 2 or 3.")

    @cached_property
    def quantum(self) -> Decimal:
        """The smallest amount: 0.01 with two decimals."""
        return Decimal(1).scaleb(-self.decimals)

    @cached_property
    def units(self) -> Decimal:
        """How many smallest amounts make one: 100 with two decimals."""
        return Decimal(10**self.decimals)


USD = Currency("USD", 2, "$")
JPY = Currency("JPY", 0, "¥")
KWD = Currency("KWD", 3)


def exact(value: object, field: str) -> Decimal:
    """`value` as a finite Decimal below `LARGEST`; takes Decimal, int, plain digits; refuses float, NaN, exponents."""
    if isinstance(value, Decimal):
        number = value
    elif type(value) is int or (isinstance(value, str) and _PLAIN.fullmatch(value)):
        number = Decimal(value)
    else:
        raise BadInput(
            field, f"'{str(value)[:40]}' is not an exact number.", "Give a plain decimal number such as 12.50."
        )
    if not number.is_finite():
        raise BadInput(field, f"{number} is not an amount.", "Give a plain decimal number such as 12.50.")
    if abs(number) >= LARGEST:
        raise BadInput(field, "The number is too large.", f"Stay below {LARGEST:,f}.")
    return number


def decimals_of(number: Decimal) -> int:
    """How many decimals a finite number needs: 1.50 needs one."""
    if not number:
        return 0
    exponent = number.normalize(_WIDE).as_tuple().exponent
    return max(0, -int(exponent))


def round_money(amount: Decimal, currency: Currency) -> Decimal:
    """Half-up to the currency's decimals; halves go away from zero, so that a credit mirrors its charge."""
    return amount.quantize(currency.quantum, rounding=ROUND_HALF_UP, context=_WIDE)


def to_units(amount: Decimal, currency: Currency, field: str = "amount") -> int:
    """The amount in whole cents (or whatever the smallest amount is); raises BadInput when it has a smaller part."""
    scaled = exact(amount, field) * currency.units
    units = int(scaled)
    if units != scaled:
        raise BadInput(
            field, f"{amount} has more decimals than {currency.code}.", f"Round it to {currency.decimals} decimals."
        )
    return units


def from_units(units: int, currency: Currency) -> Decimal:
    """The amount of so many cents."""
    return units * currency.quantum


def divide_half_up(numerator: int, denominator: int) -> int:
    """The whole number nearest to the quotient, halves away from zero; `denominator` is above zero."""
    nearest = (2 * abs(numerator) + denominator) // (2 * denominator)
    return nearest if numerator >= 0 else -nearest


def largest_remainder(numerators: Sequence[int], denominator: int, whole: int) -> list[int]:
    """Whole numbers near the shares `numerators / denominator` that add up to `whole`.

    Each share is rounded down; what is missing goes one by one to the largest remainders, the earlier first when two
    are equal, so the same input always gives the same split. A negative `whole` mirrors the split of the positive one.
    `whole` lies no further from the sum of the shares than rounding can move it (ValueError otherwise).
    """
    if whole < 0:
        return [-part for part in largest_remainder([-share for share in numerators], denominator, -whole)]
    parts = []
    missing = whole
    for share in numerators:  # a plain loop: mostly two or three shares, and a list made in one go costs a call
        part = share // denominator
        parts.append(part)
        missing -= part
    if not missing:
        return parts
    if not 0 < missing <= len(parts):
        raise ValueError(f"{whole} is not near the sum of the {len(parts)} shares")
    remainders = [share % denominator for share in numerators]
    if missing == 1:  # by far the most common: nothing to sort
        parts[remainders.index(max(remainders))] += 1
    else:
        for index in sorted(range(len(parts)), key=lambda i: -remainders[i])[:missing]:
            parts[index] += 1
    return parts


def allocate_units(units: int, weights: Sequence[int]) -> list[int]:
    """`units` split in proportion to whole `weights` of either sign; BadInput when these add up to zero."""
    total = sum(weights)
    if not units:
        return [0] * len(weights)
    if not total:
        raise BadInput(
            "weights", "The amount cannot be split by weights that add up to zero.", "Give one weight above zero."
        )
    sign = 1 if total > 0 else -1
    return largest_remainder([units * sign * weight for weight in weights], sign * total, units)


def allocate(amount: Decimal, weights: Sequence[Decimal | int], currency: Currency) -> tuple[Decimal, ...]:
    """`amount` split in proportion to `weights`; the parts add up to it exactly (largest remainder, stable).

    `amount` has no more decimals than the currency; weights are zero or more, and one is above zero unless the
    amount is zero. Raises BadInput otherwise.
    """
    parts = [exact(weight, "weights") for weight in weights]
    if any(part < 0 for part in parts) or (amount and not any(parts)):
        raise BadInput(
            "weights", "The amount cannot be split by these weights.", "Give weights of zero or more, one above zero."
        )
    finest = max((decimals_of(part) for part in parts), default=0)
    whole = [int(part.scaleb(finest, _WIDE)) for part in parts]
    return tuple(from_units(units, currency) for units in allocate_units(to_units(amount, currency), whole))


def parse_amount(
    typed: object,
    currency: Currency,
    *,
    field: str = "amount",
    decimals: int | None = None,
    negative: bool = False,
) -> Decimal:
    """The exact amount a person typed: '$1,234.50', '1234.5', 12, Decimal('12.50').

    `decimals` allows more than the currency has (a price by the foot); `negative` allows a minus. Raises BadInput for
    anything else: NaN, exponents, commas in odd places, too many decimals, too large, a binary float.
    """
    allowed = currency.decimals if decimals is None else decimals
    if isinstance(typed, str):
        text = typed.strip().removesuffix(currency.code).strip()
        if currency.symbol:
            text = (
                text.replace(currency.symbol, "", 1).strip() if text.lstrip("-").startswith(currency.symbol) else text
            )
        match = _TYPED.fullmatch(text) if len(text) <= 40 else None
        if not match:
            raise BadInput(field, f"'{typed[:40]}' is not an amount.", "Type digits with a point, such as 1,234.50.")
        typed = match["sign"] + match["whole"].replace(",", "") + (f".{match['part']}" if match["part"] else "")
    amount = exact(typed, field)
    if decimals_of(amount) > allowed:
        raise BadInput(field, f"{amount} has more than {allowed} decimals.", f"Round it to {allowed} decimals.")
    if amount < 0 and not negative:
        raise BadInput(field, f"{amount} is negative.", "Give zero or more.")
    return amount.quantize(
        Decimal(1).scaleb(-max(allowed if decimals is None else decimals_of(amount), currency.decimals))
    )


def format_money(amount: Decimal, currency: Currency) -> str:
    """The amount as printed: '$1,234.50', '-$5.00', '1,234.500 KWD'. Raises BadInput rather than hide a decimal."""
    if decimals_of(exact(amount, "amount")) > currency.decimals:
        raise BadInput("amount", f"{amount} has more decimals than {currency.code}.", "Round it before it is printed.")
    figure = f"{abs(amount):,.{currency.decimals}f}"
    sign = "-" if amount < 0 else ""
    return f"{sign}{currency.symbol}{figure}" if currency.symbol else f"{sign}{figure} {currency.code}"


def plain(number: Decimal) -> str:
    """A number for words: no trailing zeros, no exponent ('8.25', '100', '0.5')."""
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
