"""The electronic form of an invoice or credit note, frozen with it, for shops that switched it on; or why it cannot have one.

The European standard knows one tax a line, amounts of at most two decimals and prices without tax (EN 16931-1, 6.4 and BR-DEC
rules, as the checks of tests/published read them). A paper that is made otherwise goes out on paper alone, and says so in its facts.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from orders.papers.electronic import Electronic, ElectronicLine, ElectronicTax
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.press.words import Say
from shopdocs.money import Currency, round_money
from shopdocs.shops.models import Shop

from .invoice_lines import Line, lines_of

Facts = dict[str, Any]
HOURS, PIECES = "HUR", "C62"
CENT, MOST_APART = Decimal("0.01"), Decimal(1)  # BR-CO-17 of EN 16931-1


@dataclass(frozen=True)
class Bill:
    """An invoice or credit note before it is put in the words of the standard: its lines, and the tax charged by rate."""

    facts: Facts
    lines: list[Line]
    charged: dict[Decimal, Decimal]
    due: Decimal

    @property
    def currency(self) -> Currency:
        money = self.facts["money"]
        return Currency(money["code"], money["decimals"], money["symbol"])


def electronic_facts(shop: Shop, facts: Facts, buyer_address: list[str], say: Say) -> Facts:
    """What the invoice's facts keep: `invoice` (null where it has none) and `not_made`, the reason why."""
    lines = lines_of(facts)
    charged = _by_rate(tax for line in lines for tax in line.frozen["taxes"])
    return _kept(shop, Bill(facts, lines, charged, Decimal(facts["due"])), buyer_address, say)


def electronic_credit(
    shop: Shop, facts: Facts, lines: Iterable[tuple[Line, Decimal]], buyer_address: list[str], say: Say
) -> Facts:
    """The same of a credit note: lines of the invoice, each with what is taken back of it.

    Nothing counts as paid ahead: what is set against the invoice is a matter of the invoice, and `settled` says it.
    """
    parts = [replace(line, amount=amount) for line, amount in lines]
    return _kept(shop, Bill(facts, parts, _by_rate(facts["taxes"]), Decimal(facts["total"])), buyer_address, say)


def _by_rate(taxes: Iterable[Facts]) -> dict[Decimal, Decimal]:
    found: dict[Decimal, Decimal] = {}
    for tax in taxes:
        rate = Decimal(tax["percent"])
        found[rate] = found.get(rate, Decimal(0)) + Decimal(tax["amount"])
    return found


def _kept(shop: Shop, bill: Bill, buyer_address: list[str], say: Say) -> Facts:
    why_not = _why_not(bill)
    return {"invoice": None if why_not else to_json(_electronic(shop, bill, buyer_address, say)), "not_made": why_not}


def _why_not(bill: Bill) -> str:
    """Why the standard cannot say this paper, '' when it can."""
    if bill.currency.decimals > 2:
        return "The standard knows amounts of two decimals at most."
    for line in bill.lines:
        if line.frozen["inclusive"]:
            return "Prices hold their tax already; the standard adds it to prices without."
        if len(line.frozen["taxes"]) > 1:
            return f"{len(line.frozen['taxes'])} taxes fall on '{line.words}'; the standard knows one a line."
    if any("bracket" in tax.get("how", "") for tax in bill.facts["taxes"]):
        return "A tax comes from a table of brackets; the standard knows percentages."
    for tax in _taxes(bill, ""):
        if abs(tax.amount - (tax.base * tax.rate / 100).quantize(CENT, ROUND_HALF_UP)) >= MOST_APART:
            return f"Rounded on each line, {tax.rate:f} % of {tax.base:f} came to {tax.amount:f}; the standard takes less than 1 of difference."
    return ""


def _electronic(shop: Shop, bill: Bill, buyer_address: list[str], say: Say) -> Electronic:
    facts, total = bill.facts, Decimal(bill.facts["total"])
    reason = f"{say('Exempt by certificate')} {facts['exempt_by']}" if facts["exempt_by"] else say("Not taxed")
    return Electronic(
        currency=bill.currency.code,
        seller_address=tuple(facts["shop"]["address"]),
        seller_country=shop.country,
        seller_tax_id=shop.tax_id,
        buyer_address=tuple(buyer_address),
        buyer_country=shop.country,  # an address that names no country lies in the shop's own
        lines=tuple(_line(line, bill.currency) for line in bill.lines),
        taxes=_taxes(bill, reason),
        net=Decimal(facts["net"]),
        tax=Decimal(facts["tax"]),
        total=total,
        prepaid=total - bill.due,
        due=bill.due,
    )


def _rate(line: Line) -> Decimal:
    return Decimal(line.frozen["taxes"][0]["percent"]) if line.frozen["taxes"] else Decimal(0)


def _line(line: Line, currency: Currency) -> ElectronicLine:
    """Quantity and price where they make the amount; one piece at the amount where a share or discount came between."""
    quantity, unit, price = line.quantity or Decimal(1), HOURS if line.hours else PIECES, _price(line)
    if price is None or round_money(quantity * price, currency) != line.amount:
        quantity, unit = Decimal(1 if line.amount >= 0 else -1), PIECES
        price = abs(line.amount)
    return ElectronicLine(
        words=line.words, quantity=quantity, unit=unit, price=price, net=line.amount, rate=_rate(line)
    )


def _price(line: Line) -> Decimal | None:
    told = line.frozen.get("rate" if line.hours else "unit_price")
    return None if told is None else Decimal(told)


def _taxes(bill: Bill, reason: str) -> tuple[ElectronicTax, ...]:
    """Lines by rate, highest first, with the tax that was charged on them."""
    found = []
    nothing = Decimal(0).scaleb(-bill.currency.decimals)
    for rate in sorted({_rate(line) for line in bill.lines}, reverse=True):
        base = sum((line.amount for line in bill.lines if _rate(line) == rate), nothing)
        amount = nothing + bill.charged.get(rate, nothing)
        found.append(ElectronicTax(rate=rate, base=base, amount=amount, reason="" if rate else reason))
    return tuple(found)
