"""Sales tax of a whole document: stacked rates, item or invoice basis, added or rounded apart, prices with tax inside.

What is taxable is decided by the caller (orders/rules/pricing.py), which hands over items with the names of the rates
that apply to each. All arithmetic is in whole numbers over one denominator, so nothing is rounded before its time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from orders.rules.taxes import Basis, Stacking, TaxedItem, TaxLine, TaxResult, TaxStack, tax_by_brackets
from shopdocs.money import Currency, allocate_units, divide_half_up, from_units, largest_remainder, to_units
from shopdocs.problems import BadInput

_MICRO = 10**6  # percentages are whole millionths of a percent, so that they are whole numbers


def compute_tax(items: Sequence[TaxedItem], stack: TaxStack, currency: Currency) -> TaxResult:
    """The tax of one document's items, rounded once where basis and stacking say.

    Item amounts have no more decimals than the currency (BadInput otherwise) and may be negative (a credit). The shares
    in `per_item` add up to `total`, and so do the lines.
    """
    names = {rate.name for rate in stack.rates}
    if any(not item.rates <= names for item in items):
        raise BadInput(
            "rates", "An item names a tax that the stack does not have.", "Add the rate, or correct the name."
        )
    units = [to_units(item.amount, currency) for item in items]
    table = _exact_table(items, units, stack)
    groups = [[index] for index in range(len(items))] if stack.basis is Basis.ITEM else [list(range(len(items)))]
    amounts = [0] * len(stack.rates)
    per_item = [0] * len(items)
    for group in groups:
        for row, amount in enumerate(_round_group(group, items, units, table, stack, currency)):
            amounts[row] += amount
            for index, share in zip(group, _spread(group, row, amount, table, stack, units, items), strict=True):
                per_item[index] += share
    lines = _tax_lines(items, units, per_item, amounts, table, stack, currency)
    return TaxResult(lines, from_units(sum(amounts), currency), tuple(from_units(part, currency) for part in per_item))


@dataclass(frozen=True, slots=True)
class _Exact:
    """Exact taxes in cents as numerators [rate][item] over one denominator."""

    denominator: int
    rows: list[list[int]]


def _exact_table(items: Sequence[TaxedItem], units: Sequence[int], stack: TaxStack) -> _Exact:
    percents = [int(rate.percent * _MICRO) for rate in stack.rates]
    by_name = {rate.name: percent for rate, percent in zip(stack.rates, percents, strict=True)}
    whole = 100 * _MICRO
    parts = {item.rates: whole + sum(by_name[name] for name in item.rates) * stack.inclusive for item in items}
    denominator = lcm(*parts.values()) if parts else 1
    scaled = [amount * (denominator // parts[item.rates]) for item, amount in zip(items, units, strict=True)]
    rows = [
        [value * percent if rate.name in item.rates else 0 for item, value in zip(items, scaled, strict=True)]
        for rate, percent in zip(stack.rates, percents, strict=True)
    ]
    return _Exact(denominator, rows)


def _round_group(
    group: list[int],
    items: Sequence[TaxedItem],
    units: Sequence[int],
    table: _Exact,
    stack: TaxStack,
    currency: Currency,
) -> list[int]:
    """Each rate's tax on one line or one invoice, in cents; rates that are added first share one rounding."""
    sums = [sum(row[index] for index in group) for row in table.rows]
    amounts = [0] * len(sums)
    together: list[int] = []
    for row, rate in enumerate(stack.rates):
        if rate.brackets:
            base = sum(units[index] for index in group if rate.name in items[index].rates)
            amounts[row] = to_units(tax_by_brackets(from_units(base, currency), rate.brackets), currency)
        elif stack.stacking is Stacking.SEPARATE:
            amounts[row] = divide_half_up(sums[row], table.denominator)
        else:
            together.append(row)
    if together:
        total = divide_half_up(sum(sums[row] for row in together), table.denominator)
        shares = largest_remainder([sums[row] for row in together], table.denominator, total)
        for row, share in zip(together, shares, strict=True):
            amounts[row] = share
    return amounts


def _spread(
    group: list[int],
    row: int,
    amount: int,
    table: _Exact,
    stack: TaxStack,
    units: Sequence[int],
    items: Sequence[TaxedItem],
) -> list[int]:
    """One rate's rounded tax as shares of the group's items."""
    if len(group) == 1:
        return [amount]
    rate = stack.rates[row]
    if rate.brackets:
        return allocate_units(amount, [units[index] if rate.name in items[index].rates else 0 for index in group])
    return largest_remainder([table.rows[row][index] for index in group], table.denominator, amount)


def _tax_lines(
    items: Sequence[TaxedItem],
    units: Sequence[int],
    per_item: Sequence[int],
    amounts: Sequence[int],
    table: _Exact,
    stack: TaxStack,
    currency: Currency,
) -> tuple[TaxLine, ...]:
    how = "rounded per line" if stack.basis is Basis.ITEM else "rounded once on the whole"
    if stack.stacking is Stacking.AGGREGATED and len(stack.rates) > 1:
        how += ", all rates together"
    lines = []
    for row, rate in enumerate(stack.rates):
        taxed = [index for index, item in enumerate(items) if rate.name in item.rates]
        if not taxed:
            continue
        base = sum(units[index] - per_item[index] * stack.inclusive for index in taxed)
        before = Fraction(sum(table.rows[row]), table.denominator * 10**currency.decimals)
        words = "by the bracket table" if rate.brackets else f"{how}, tax inside the prices" if stack.inclusive else how
        lines.append(
            TaxLine(
                rate.name, rate.percent, from_units(base, currency), before, from_units(amounts[row], currency), words
            )
        )
    return tuple(lines)
