"""Money received on an invoice. A card number is never kept, not even by mistake in a reference."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Sum

from orders.models import Invoice, Payment
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event

from . import amounts
from .records import given_in_address

MEANS = ("cash", "card", "transfer", "check")
_DIGITS = re.compile(r"[0-9]+(?:[ ._/-][0-9]+)*")
# Lengths of payment card numbers, and their check digit: ISO/IEC 7812-1 (Luhn formula).
SHORTEST, LONGEST = 13, 19


def luhn_passes(digits: str) -> bool:
    """Whether the last digit is the check digit of the others: every second digit from the right is doubled."""
    total = 0
    for place, digit in enumerate(int(one) for one in reversed(digits)):
        doubled = digit * 2 if place % 2 else digit
        total += doubled - 9 if doubled > 9 else doubled
    return total % 10 == 0


def holds_card_number(text: str) -> bool:
    """Whether neighbouring groups of digits, joined, make a card number by length and check digit."""
    for found in _DIGITS.finditer(text):
        groups = re.findall(r"[0-9]+", found.group())
        for first in range(len(groups)):
            digits = ""
            for group in groups[first:]:
                digits += group
                if len(digits) > LONGEST:
                    break
                if len(digits) >= SHORTEST and luhn_passes(digits):
                    return True
    return False


def refuse_card_number(field: str, text: str) -> None:
    if holds_card_number(text):
        raise Refused(field, "This looks like a card number.", "Leave it out: card numbers are never kept here.")


def paid(invoice: Invoice) -> Decimal:
    """What was received on the invoice so far."""
    rows = Payment.objects.for_shop(invoice.shop).filter(invoice=invoice)
    return rows.aggregate(sum=Sum("amount"))["sum"] or Decimal(0)


def balance(invoice: Invoice) -> Decimal:
    """What is still open."""
    return invoice.total - paid(invoice)


@transaction.atomic
def record_payment(
    *,
    shop: Shop,
    by: Staff,
    invoice_id: UUID,
    amount: Any,
    means: str,
    reference: str = "",
    received_on: dt.date | None = None,
) -> Payment:
    """Records money that came in, today unless said. Conflict when it is more than is still open."""
    invoice = given_in_address(Invoice, shop=shop, pk=invoice_id, lock=True)
    if means not in MEANS:
        raise Refused("means", f"'{means[:40]}' is not known.", f"Say one of: {', '.join(MEANS)}.")
    refuse_card_number("reference", reference)
    money = amounts.figure(amount, "amount", decimals=shop.currency_decimals, above=Decimal(0))
    day = received_on or shop.today()
    if day > shop.today():
        raise Refused("received_on", f"{day} lies in the future.", "Record money when it has come.")
    left = balance(invoice)
    if money > left:
        raise Conflict("amount", f"{invoice.number} has {left} open, less than {money}.", "Record what is still open.")
    payment: Payment = Payment.objects.create(
        shop=shop, invoice=invoice, amount=money, received_on=day, means=means, reference=reference[:100], by=by.user
    )
    record_event(shop=shop, subject=invoice.subject, verb="paid", words=f"{money} {shop.currency}, {means}", by=by)
    return payment
