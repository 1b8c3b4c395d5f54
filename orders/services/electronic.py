"""The electronic form of an invoice, frozen with it, for shops that switched it on; or why it cannot have one.

The European standard knows one tax a line, amounts of at most two decimals and prices without tax (EN 16931-1, 6.4 and BR-DEC
rules, as the checks of tests/published read them). An invoice that is made otherwise goes out on paper alone, and says so in its facts.
"""

from __future__ import annotations

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


def electronic_facts(shop: Shop, facts: Facts, buyer_address: list[str], say: Say) -> Facts:
    """What the invoice's facts keep: `invoice` (null where it has none) and `not_made`, the reason why."""
    lines = lines_of(facts)
    why_not = _why_not(facts, lines)
    made = None if why_not else to_json(_electronic(shop, facts, lines, buyer_address, say))
    return {"invoice": made, "not_made": why_not}


def _why_not(facts: Facts, lines: list[Line]) -> str:
    """Why the standard cannot say this invoice, '' when it can."""
    if facts["money"]["decimals"] > 2:
        return "The standard knows amounts of two decimals at most."
    for line in lines:
        if line.frozen["inclusive"]:
            return "Prices hold their tax already; the standard adds it to prices without."
        if len(line.frozen["taxes"]) > 1:
            return f"{len(line.frozen['taxes'])} taxes fall on '{line.words}'; the standard knows one a line."
    if any("bracket" in tax.get("how", "") for tax in facts["taxes"]):
        return "A tax comes from a table of brackets; the standard knows percentages."
    for tax in _taxes(facts, lines, ""):
        if abs(tax.amount - (tax.base * tax.rate / 100).quantize(CENT, ROUND_HALF_UP)) >= MOST_APART:
            return f"Rounded on each line, {tax.rate:f} % of {tax.base:f} came to {tax.amount:f}; the standard takes less than 1 of difference."
    return ""


def _electronic(shop: Shop, facts: Facts, lines: list[Line], buyer_address: list[str], say: Say) -> Electronic:
    total, due = Decimal(facts["total"]), Decimal(facts["due"])
    money = facts["money"]
    currency = Currency(money["code"], money["decimals"], money["symbol"])
    reason = f"{say('Exempt by certificate')} {facts['exempt_by']}" if facts["exempt_by"] else say("Not taxed")
    return Electronic(
        currency=money["code"],
        seller_address=tuple(facts["shop"]["address"]),
        seller_country=shop.country,
        seller_tax_id=shop.tax_id,
        buyer_address=tuple(buyer_address),
        buyer_country=shop.country,  # an address that names no country lies in the shop's own
        lines=tuple(_line(line, currency) for line in lines),
        taxes=_taxes(facts, lines, reason),
        net=Decimal(facts["net"]),
        tax=Decimal(facts["tax"]),
        total=total,
        prepaid=total - due,
        due=due,
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


def _taxes(facts: Facts, lines: list[Line], reason: str) -> tuple[ElectronicTax, ...]:
    """Lines by rate, highest first, with the tax that was charged on them."""
    found = []
    for rate in sorted({_rate(line) for line in lines}, reverse=True):
        mine = [line for line in lines if _rate(line) == rate]
        charged = (Decimal(tax["amount"]) for line in mine for tax in line.frozen["taxes"])
        nothing = Decimal(0).scaleb(-facts["money"]["decimals"])
        base = sum((line.amount for line in mine), nothing)
        found.append(ElectronicTax(rate=rate, base=base, amount=sum(charged, nothing), reason="" if rate else reason))
    return tuple(found)
