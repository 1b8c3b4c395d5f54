"""A statute's bracket table of sales tax: amounts in, tax out, no percentage. The table is the shop's to enter.

Beside `money`, because the shop's own tax settings check it and pricing uses it. Knows no order, imports no Django.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from shopdocs.money import Currency, decimals_of, exact
from shopdocs.problems import BadInput

Rows = tuple[tuple[Decimal, Decimal], ...]


@dataclass(frozen=True, slots=True)
class BracketTable:
    """A statute's bracket table: `below` for amounts under one whole; from there `per_whole` and the `excess` bracket.

    Rows are (highest amount of the bracket, tax), rising; the last row of each reaches the last cent below one whole.
    """

    per_whole: Decimal
    below: Rows
    excess: Rows
    whole: Decimal = Decimal(1)

    def __post_init__(self) -> None:
        for field, rows in (("below", self.below), ("excess", self.excess)):
            limits = [limit for limit, _ in rows]
            if not rows or limits != sorted(set(limits)) or limits[-1] >= self.whole:
                raise BadInput(
                    field, "The brackets do not rise to just below one whole.", "Give them in order, none twice."
                )


def tax_by_brackets(base: Decimal, table: BracketTable) -> Decimal:
    """The table's tax on `base`; nothing bears none, and a negative base (a credit) mirrors the tax of the same charge."""
    if not base:
        return base
    wholes, rest = divmod(abs(base), table.whole)
    rows = table.excess if wholes else table.below
    part = next((tax for limit, tax in rows if rest <= limit), None)
    if part is None:
        raise BadInput("brackets", f"No bracket of the table holds {rest}.", "Complete the table up to one whole.")
    tax = wholes * table.per_whole + part
    return -tax if base < 0 else tax


def read_table(given: Mapping[str, Any], currency: Currency) -> BracketTable:
    """A table out of plain data: `per_whole`, `whole` (1 if left out), `below` and `excess` as lists of `up_to` and `tax`.

    Raises BadInput naming the field for figures that are no amounts of the currency, for taxes that fall where amounts
    rise or exceed the amount itself, and for a table with a hole up to the last cent below one whole.
    """
    whole = _amount(given.get("whole", "1"), "whole", currency)
    per_whole = _amount(given["per_whole"], "per_whole", currency)
    if whole <= 0 or per_whole >= whole:
        raise BadInput("per_whole", f"{per_whole} of tax on {whole} is out of range.", "Give less than the whole.")
    table = BracketTable(
        per_whole, _rows(given["below"], "below", currency), _rows(given["excess"], "excess", currency), whole
    )
    for field, rows in (("below", table.below), ("excess", table.excess)):
        taxes = [tax for _, tax in rows]
        if taxes != sorted(taxes) or any(tax > limit for limit, tax in rows):
            raise BadInput(
                field, "A tax falls where the amount rises, or exceeds it.", "Compare with the statute's table."
            )
        if rows[-1][0] < whole - currency.quantum:
            problem = f"The last bracket ends at {rows[-1][0]}; amounts up to {whole - currency.quantum} have no tax."
            raise BadInput(field, problem, "Complete the table up to one whole.")
    return table


def _rows(given: Sequence[Mapping[str, Any]], field: str, currency: Currency) -> Rows:
    return tuple((_amount(row["up_to"], field, currency), _amount(row["tax"], field, currency)) for row in given)


def _amount(value: Any, field: str, currency: Currency) -> Decimal:
    number = exact(value, field)
    if number < 0 or decimals_of(number) > currency.decimals:
        raise BadInput(
            field, f"{number} is no amount of {currency.code}.", f"Give {currency.decimals} decimals at most."
        )
    return number.quantize(currency.quantum)
