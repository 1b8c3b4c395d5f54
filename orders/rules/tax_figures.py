"""How a document's taxes came about: base times rate, rounded by the rule, and what of it is whose part. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any, NamedTuple

from orders.rules.figures import HALF_UP, Told, figure, given, same, shared, sum_of, went_up, worked
from orders.rules.tax_sums import tax_spread
from orders.rules.taxes import Basis, BracketTable, Stacking, TaxRate, TaxStack
from shopdocs.money import Currency, from_units, plain

Facts = dict[str, Any]
RULE = "carried one decimal further and rounded up above four (Streamlined Agreement s. 324)"
ALL_TOGETHER = "all rates are added before the one rounding, each gets its share"


class Item(NamedTuple):
    """What tax falls on: a line, or all of one kind; cents, and the names of the taxes."""

    key: str
    words: str
    units: int
    names: frozenset[str]


class TaxFigures:
    """The taxes of these items as one document, each as the figure 'PREFIX:NAME:PERCENT'.

    `figures` are all of them; `parts(place)` are one item's parts as steps.
    """

    def __init__(self, prefix: str, items: Sequence[Item], stack: TaxStack, currency: Currency) -> None:
        self._prefix, self._items, self._stack, self._currency = prefix, items, stack, currency
        units, names = [item.units for item in items], [item.names for item in items]
        self._totals, self._spread = tax_spread(units, names, stack, currency)
        falls = [any(rate.name in item.names and item.units for item in items) for rate in stack.rates]
        self._rows = [row for row, falling in enumerate(falls) if falling]
        self.figures = list(self._by_item() if stack.basis is Basis.ITEM else self._once())

    def name(self, row: int) -> str:
        rate = self._stack.rates[row]
        return f"{self._prefix}:{rate.name}:{plain(rate.percent)}"

    def parts(self, place: int) -> list[Told]:
        """Each tax in one item."""
        item, stack = self._items[place], self._stack
        found = []
        for row in self._rows:
            rate, part = stack.rates[row], self._spread[row][place]
            if rate.name not in item.names or not item.units:
                continue
            text, amount = f"{rate.name} in {item.words}", self._money(part)
            if stack.basis is Basis.ITEM:
                found.append(same(text, amount, f"{self.name(row)}:{item.key}"))
                continue
            exact, working = self._exact(rate, [item])
            if rate.brackets:
                taxed = sum(one.units for one in self._items if rate.name in one.names)
                exact = Fraction(self._totals[row] * item.units, taxed or 1)
                working = sum_of(
                    "{} × {} ÷ {}", self._money(self._totals[row]), self._money(item.units), self._money(taxed)
                )
                if not taxed:
                    found.append(given(text, amount, "lines that cancel out bear none"))
                    continue
            up = went_up(part, exact, self._totals[row])
            found.append(shared(text, amount, working, self.name(row), "what it falls on", up=up))
        return found

    def _money(self, units: int) -> Decimal:
        return from_units(units, self._currency)

    def _exact(self, rate: TaxRate, items: Iterable[Item]) -> tuple[Fraction, str]:
        """The exact tax in cents, and the sum that makes it in money."""
        by_names: dict[frozenset[str], int] = {}
        for item in items:
            if rate.name in item.names:
                by_names[item.names] = by_names.get(item.names, 0) + item.units
        exact, terms = Fraction(0), []
        for names, units in by_names.items():
            others = [one.percent for one in self._stack.rates if one.name in names] if self._stack.inclusive else []
            exact += Fraction(units) * Fraction(rate.percent) / (100 + sum(map(Fraction, others), Fraction(0)))
            whole = f"({' + '.join(['100', *map(plain, others)])})" if others else "100"
            terms.append(f"{sum_of('{} × {}', self._money(units), plain(rate.percent))} ÷ {whole}")
        return exact, " + ".join(terms)

    def _once(self) -> Iterable[Facts]:
        """Rounded once on the whole."""
        yield from self._taxes(
            self._prefix, self._items, {row: (self.name(row), self._totals[row]) for row in self._rows}
        )

    def _by_item(self) -> Iterable[Facts]:
        """Rounded on each line: a figure for each, then their sums."""
        for place, item in enumerate(self._items):
            rows = [row for row in self._rows if self._stack.rates[row].name in item.names and item.units]
            own = {row: (f"{self.name(row)}:{item.key}", self._spread[row][place]) for row in rows}
            yield from self._taxes(f"{self._prefix}:{item.key}", [item], own)
        for row in self._rows:
            rate = self._stack.rates[row]
            steps = [
                same(item.words, self._money(self._spread[row][place]), f"{self.name(row)}:{item.key}")
                for place, item in enumerate(self._items)
                if rate.name in item.names and item.units
            ]
            yield figure(self.name(row), f"{rate.name}, {plain(rate.percent)} %", self._money(self._totals[row]), steps)

    def _taxes(self, prefix: str, items: Sequence[Item], own: dict[int, tuple[str, int]]) -> Iterable[Facts]:
        """The rates on these items, which share one rounding where rates are added first."""
        stack = self._stack
        together = [row for row in own if stack.stacking is Stacking.AGGREGATED and not stack.rates[row].brackets]
        if len(together) < 2:
            together = []
        of = f"{prefix}:together"
        if together:
            working = " + ".join(self._exact(stack.rates[row], items)[1] for row in together)
            amount = self._money(sum(own[row][1] for row in together))
            step = worked(ALL_TOGETHER, amount, working, HALF_UP, RULE)
            yield figure(of, "All rates together", amount, [step])
        whole = sum(own[row][1] for row in together)
        for row, (name, units) in own.items():
            rate, amount = stack.rates[row], self._money(units)
            exact, working = self._exact(rate, items)
            text = f"{rate.name}, {plain(rate.percent)} %"
            if rate.brackets:
                step = _by_table(
                    text, amount, self._money(sum(one.units for one in items if rate.name in one.names)), rate.brackets
                )
            elif together:
                step = shared(text, amount, working, of, "rates", up=went_up(units, exact, whole))
            else:
                step = worked(text, amount, working, HALF_UP, RULE)
            yield figure(name, text, amount, [step])


def _by_table(text: str, amount: Decimal, base: Decimal, table: BracketTable) -> Told:
    """Whole amounts at the table's tax for each, and the bracket of the rest."""
    wholes, rest = divmod(abs(base), table.whole)
    part = next((tax for limit, tax in (table.excess if wholes else table.below) if rest <= limit), Decimal(0))
    working = f"{wholes:f} × {table.per_whole:f} + {part:f}"
    said = f"{text} by the bracket table: {plain(wholes)} times {plain(table.whole)}, and the bracket of {rest:f}"
    if not base:
        return given(f"{text} by the bracket table: nothing bears none", amount, "the bracket table")
    return worked(said, amount, working if base > 0 else f"-({working})")
