"""Taking back a part of an invoice: each line with the tax that was charged on it, and never more than was charged. Pure.

A line's tax is what the invoice charged, shared out to its lines to the cent. Parts of a line are rounded against what
was taken back before, so that all parts together are the line, exactly.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from shopdocs.money import Currency, allocate_units, exact, from_units, round_money, to_units
from shopdocs.problems import BadInput

TaxName = tuple[str, str]  # name and percentage, as the invoice prints them


@dataclass(frozen=True, slots=True)
class Charged:
    """A line as it was charged: `amount` as printed, its part of each tax, and how much of `amount` is taken back.

    With `inclusive` prices the amount holds its taxes. `amount` below zero is a credit within the invoice.
    """

    key: str
    amount: Decimal
    taxes: tuple[tuple[TaxName, Decimal], ...] = ()
    inclusive: bool = False
    credited: Decimal = Decimal(0)

    @property
    def left(self) -> Decimal:
        """What can still be taken back of it."""
        return self.amount - self.credited

    def tax_so_far(self, tax: Decimal, taken: Decimal, currency: Currency) -> Decimal:
        """What of its `tax` goes back with so much of it."""
        return round_money(tax * taken / self.amount, currency)

    def tax_on(self, tax: Decimal, part: Decimal, currency: Currency) -> Decimal:
        """The tax on what is taken back by now, less the tax on what was taken back before."""
        by_now = self.tax_so_far(tax, self.credited + part, currency)
        return by_now - self.tax_so_far(tax, self.credited, currency)


@dataclass(frozen=True, slots=True)
class TakenTax:
    """One tax that is given back, and the amount it had been taken from."""

    name: TaxName
    base: Decimal
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Taken:
    """What is taken back: the amount of each line by key, and `total` = `net` + taxes."""

    lines: tuple[tuple[str, Decimal], ...]
    net: Decimal
    taxes: tuple[TakenTax, ...]
    total: Decimal


def share_tax(amount: Decimal, lines: Sequence[Decimal], currency: Currency) -> tuple[Decimal, ...]:
    """One tax of the whole, shared out to the lines that it fell on by largest remainder; the shares add up to it."""
    units = to_units(amount, currency)
    weights = [to_units(line, currency) for line in lines]
    if not sum(weights):  # lines that cancel out: whatever rounding left stays with the first
        shares = [units, *[0] * (len(weights) - 1)] if weights else []
    else:
        shares = allocate_units(units, weights)
    return tuple(from_units(share, currency) for share in shares)


def take_back(lines: Sequence[Charged], wanted: Mapping[str, Decimal | None], currency: Currency) -> Taken:
    """Takes back the wanted lines, each by an amount or (None) all that is left of it. BadInput names the line's key.

    An amount has the sign of its line, is not zero, and is no more than is left.
    """
    known = {line.key: line for line in lines}
    taken: list[tuple[str, Decimal]] = []
    net = from_units(0, currency)
    taxes: dict[TaxName, tuple[Decimal, Decimal]] = {}
    for key, amount in wanted.items():
        line = known.get(key)
        if line is None:
            raise BadInput(key, "The invoice has no such line for the customer.", "Use the keys of its lines.")
        part = _part(line, amount, currency)
        shares = [(name, line.tax_on(tax, part, currency)) for name, tax in line.taxes]
        before_tax = part - sum((tax for _, tax in shares), Decimal(0)) * line.inclusive
        net += before_tax
        for name, tax in shares:
            base, sum_of = taxes.get(name, (Decimal(0), Decimal(0)))
            taxes[name] = (base + before_tax, sum_of + tax)
        taken.append((key, part))
    given = tuple(TakenTax(name, base, amount) for name, (base, amount) in taxes.items())
    return Taken(tuple(taken), net, given, net + sum((tax.amount for tax in given), Decimal(0)))


def share_of_pieces(amount: Decimal, before: Decimal, now: Decimal, pieces: Decimal, currency: Currency) -> Decimal:
    """What of a line of so many pieces is taken back when `now` of them are back in all and `before` were already.

    Rounded against what came back before, so that all pieces together are the line, exactly.
    """
    if not pieces:
        return from_units(0, currency)
    return round_money(amount * now / pieces, currency) - round_money(amount * before / pieces, currency)


def _part(line: Charged, amount: Decimal | None, currency: Currency) -> Decimal:
    if not line.left:
        raise BadInput(line.key, "The line is taken back already.", "Leave it out.")
    if amount is None:
        return line.left
    to_units(exact(amount, line.key), currency, line.key)
    if not amount or (amount > 0) != (line.amount > 0):
        raise BadInput(line.key, f"{amount} takes nothing of this line back.", "Leave the amount out to take all.")
    if abs(amount) > abs(line.left):
        raise BadInput(line.key, f"{amount} is more than is left of the line ({line.left}).", "Give that at most.")
    return round_money(amount, currency)  # what was typed may have needless zeros
