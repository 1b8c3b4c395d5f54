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
        problem = "An item names a tax that the stack does not have."
        raise BadInput("rates", problem, "Add the rate, or correct the name.")
    units = [to_units(item.amount, currency) for item in items]
    lines, per_item = tax_units(units, [item.rates for item in items], stack, currency)
    shares = tuple(from_units(part, currency) for part in per_item)
    return TaxResult(lines, from_units(sum(per_item), currency), shares)


def tax_units(
    units: Sequence[int], rates: Sequence[frozenset[str]], stack: TaxStack, currency: Currency
) -> tuple[tuple[TaxLine, ...], list[int]]:
    """`compute_tax` for amounts in cents and the names of the rates of each: the lines, and each item's tax in
    cents.
    """
    table = _exact_table(units, rates, stack)
    together = _added_first(stack)
    if stack.basis is Basis.ITEM:
        # Each line is a document of its own: its taxes are rounded, and nothing has to be shared out.
        if len(together) == len(table.rows):
            taxes = [_together(exact, table.denominator) for exact in zip(*table.rows, strict=True)]
        else:
            taxes = [
                _rounded(exact, bases, table.denominator, stack, together, currency)
                for exact, bases in zip(zip(*table.rows, strict=True), zip(*table.bases, strict=True), strict=True)
            ]
        amounts = [sum(column) for column in zip(*taxes, strict=True)] or [0] * len(stack.rates)
        per_item = [sum(tax) for tax in taxes] or [0] * len(units)
    else:
        sums, bases = [sum(row) for row in table.rows], [sum(row) for row in table.bases]
        amounts = _rounded(sums, bases, table.denominator, stack, together, currency)
        spread = [_spread(row, amount, table, stack) for row, amount in enumerate(amounts)]
        per_item = [sum(shares) for shares in zip(*spread, strict=True)] or [0] * len(units)
    return _tax_lines(per_item, amounts, table, stack, currency), per_item


def tax_spread(
    units: Sequence[int], rates: Sequence[frozenset[str]], stack: TaxStack, currency: Currency
) -> tuple[list[int], list[list[int]]]:
    """The working of `tax_units` for whoever explains it: each rate's tax in cents, and its parts [rate][item]."""
    table = _exact_table(units, rates, stack)
    together = _added_first(stack)
    if stack.basis is Basis.ITEM:
        columns = zip(zip(*table.rows, strict=True), zip(*table.bases, strict=True), strict=True)
        taxes = [_rounded(exact, bases, table.denominator, stack, together, currency) for exact, bases in columns]
        spread = [list(row) for row in zip(*taxes, strict=True)] or [[] for _ in stack.rates]
        return [sum(row) for row in spread], spread
    sums, bases = [sum(row) for row in table.rows], [sum(row) for row in table.bases]
    amounts = _rounded(sums, bases, table.denominator, stack, together, currency)
    return amounts, [_spread(row, amount, table, stack) for row, amount in enumerate(amounts)]


@dataclass(frozen=True, slots=True)
class _Exact:
    """Exact taxes in cents as numerators [rate][item] over one denominator, and the cents [rate][item] that are
    taxed.
    """

    denominator: int
    rows: list[list[int]]
    bases: list[list[int]]


def _exact_table(units: Sequence[int], rates: Sequence[frozenset[str]], stack: TaxStack) -> _Exact:
    percents = [int(rate.percent * _MICRO) for rate in stack.rates]
    by_name = {rate.name: percent for rate, percent in zip(stack.rates, percents, strict=True)}
    whole = 100 * _MICRO
    parts = {names: whole + sum(by_name[name] for name in names) * stack.inclusive for names in set(rates)}
    denominator = lcm(*parts.values())
    bases, rows = [], []
    for rate, percent in zip(stack.rates, percents, strict=True):
        factors = {names: denominator // part * percent * (rate.name in names) for names, part in parts.items()}
        if len(parts) == 1:  # mostly: the same taxes on all
            ((names, factor),) = factors.items()
            bases.append([*units] if rate.name in names else [0] * len(units))
            rows.append([amount * factor for amount in units])
            continue
        bases.append([amount * (rate.name in names) for amount, names in zip(units, rates, strict=True)])
        rows.append([amount * factors[names] for amount, names in zip(units, rates, strict=True)])
    return _Exact(denominator, rows, bases)


def _added_first(stack: TaxStack) -> tuple[int, ...]:
    """The places of the rates that share one rounding."""
    if stack.stacking is Stacking.SEPARATE:
        return ()
    return tuple([row for row, rate in enumerate(stack.rates) if not rate.brackets])


def _together(sums: Sequence[int], denominator: int) -> list[int]:
    """All rates share one rounding: their sum is rounded, and each rate gets its share."""
    return largest_remainder(sums, denominator, divide_half_up(sum(sums), denominator))


def _rounded(
    sums: Sequence[int],
    bases: Sequence[int],
    denominator: int,
    stack: TaxStack,
    together: Sequence[int],
    currency: Currency,
) -> list[int]:
    """Each rate's tax on one line or one invoice, in cents, out of the exact sums; `together` share one rounding."""
    if len(together) == len(sums):
        return _together(sums, denominator)
    amounts = [0] * len(sums)
    if together:
        added = [sums[row] for row in together]
        total = divide_half_up(sum(added), denominator)
        for row, share in zip(together, largest_remainder(added, denominator, total), strict=True):
            amounts[row] = share
    for row, rate in enumerate(stack.rates):
        if rate.brackets:
            amounts[row] = to_units(tax_by_brackets(from_units(bases[row], currency), rate.brackets), currency)
        elif row not in together:
            amounts[row] = divide_half_up(sums[row], denominator)
    return amounts


def _spread(row: int, amount: int, table: _Exact, stack: TaxStack) -> list[int]:
    """One rate's rounded tax as shares of the items."""
    if stack.rates[row].brackets:
        return allocate_units(amount, table.bases[row])
    return largest_remainder(table.rows[row], table.denominator, amount)


def _tax_lines(
    per_item: Sequence[int], amounts: Sequence[int], table: _Exact, stack: TaxStack, currency: Currency
) -> tuple[TaxLine, ...]:
    how = "rounded per line" if stack.basis is Basis.ITEM else "rounded once on the whole"
    if stack.stacking is Stacking.AGGREGATED and len(stack.rates) > 1:
        how += ", all rates together"
    how = f"{how}, tax inside the prices" if stack.inclusive else how
    lines = []
    for rate, amount, bases, row in zip(stack.rates, amounts, table.bases, table.rows, strict=True):
        if not any(bases):
            continue
        inside = sum(tax for tax, taxed in zip(per_item, bases, strict=True) if taxed) if stack.inclusive else 0
        before = Fraction(sum(row), table.denominator * 10**currency.decimals)
        words = "by the bracket table" if rate.brackets else how
        base = from_units(sum(bases) - inside, currency)
        lines.append(TaxLine(rate.name, rate.percent, base, before, from_units(amount, currency), words))
    return tuple(lines)
