"""Sales tax of one amount by the third-decimal rule (bracket tables: shopdocs/brackets.py); and the shapes that tax_sums.py adds up.

No rate is shipped here: rates are the shop's to enter. Pure.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from shopdocs.brackets import BracketTable, tax_by_brackets
from shopdocs.money import (
    Currency,
    Step,
    decimals_of,
    exact,
    plain,
    round_money,
)
from shopdocs.problems import BadInput

__all__ = [
    "HUNDRED",
    "Basis",
    "BracketTable",
    "Stacking",
    "TaxLine",
    "TaxRate",
    "TaxResult",
    "TaxStack",
    "TaxedItem",
    "check_percent",
    "tax_by_brackets",
    "tax_by_third_decimal",
    "third_decimal",
]

HUNDRED = Decimal(100)


class Basis(StrEnum):
    """What is rounded: each line's tax, or the tax of the whole invoice."""

    ITEM = "item"
    INVOICE = "invoice"


class Stacking(StrEnum):
    """Whether state, county and city rates are added before rounding, or each is rounded apart."""

    AGGREGATED = "aggregated"
    SEPARATE = "separate"


def third_decimal(exact_tax: Decimal, currency: Currency) -> Decimal:
    """The tax carried to one decimal more than the currency has, the further ones cut off."""
    return exact_tax.quantize(currency.quantum / 10, rounding=ROUND_DOWN)


def tax_by_third_decimal(base: Decimal, percent: Decimal, currency: Currency) -> Decimal:
    """Tax carried to the third decimal and rounded up when that is greater than four (Streamlined Agreement s. 324).

    With another currency 'third' reads 'one more than it has'. Equal to half-up on the exact product.
    """
    return round_money(third_decimal(base * percent / HUNDRED, currency), currency)


@dataclass(frozen=True, slots=True)
class TaxRate:
    """One jurisdiction's rate in percent, at least 0 and below 100; `brackets` replaces the percentage by a table."""

    name: str
    percent: Decimal
    brackets: BracketTable | None = None

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise BadInput("name", "The tax has no name.", "Name it as it is to be printed.")
        check_percent(self.percent, "percent", below=HUNDRED)


@dataclass(frozen=True, slots=True)
class TaxStack:
    """The rates of one place with the way they are rounded. `inclusive` prices hold their tax already."""

    rates: tuple[TaxRate, ...] = ()
    basis: Basis = Basis.INVOICE
    stacking: Stacking = Stacking.AGGREGATED
    inclusive: bool = False

    def __post_init__(self) -> None:
        names = [rate.name for rate in self.rates]
        if len(set(names)) < len(names):
            raise BadInput("rates", "Two taxes have one name.", "Give each jurisdiction its own name.")
        if self.inclusive and any(rate.brackets for rate in self.rates):
            raise BadInput(
                "rates", "A bracket table cannot be taken out of prices with tax inside.", "Enter prices before tax."
            )


@dataclass(frozen=True, slots=True)
class TaxedItem:
    """An amount, and the names of the rates that apply to it (none: untaxed)."""

    amount: Decimal
    rates: frozenset[str] = frozenset()


def check_percent(percent: Decimal, field: str, *, below: Decimal | None = None) -> Decimal:
    """A percentage from 0 to 100 with at most six decimals; `below` excludes its own value."""
    number = exact(percent, field)
    if number < 0 or number > HUNDRED or (below is not None and number >= below):
        limit = f"below {plain(below)}" if below is not None else "at most 100"
        raise BadInput(field, f"{number} % is out of range.", f"Give 0 or more and {limit}.")
    if decimals_of(number) > 6:
        raise BadInput(field, f"{number} % has too many decimals.", "Give six at most.")
    return number


class TaxLine(NamedTuple):
    """One rate's tax. `base` is what it is charged on, without any tax; `exact` is the tax before rounding."""

    name: str
    percent: Decimal
    base: Decimal
    exact: Fraction
    amount: Decimal
    how: str

    @property
    def steps(self) -> tuple[Step, ...]:
        """How the tax came about."""
        before = Decimal(self.exact.numerator) / Decimal(self.exact.denominator)
        shown = plain(before.quantize(Decimal("0.00001"), rounding=ROUND_DOWN))
        return (
            Step(f"{self.name} is charged on", self.base),
            Step(f"{self.name} {plain(self.percent)} %, {self.how}; {shown} before rounding", self.amount),
        )


@dataclass(frozen=True, slots=True)
class TaxResult:
    """Tax lines of the rates that apply to something, in their order; their sum; that sum as shares of the items."""

    lines: tuple[TaxLine, ...]
    total: Decimal
    per_item: tuple[Decimal, ...]
