"""Writing off what the shop no longer expects of an invoice: an act of a person, with the reason."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import Invoice, Payment, WriteOff
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event

from . import amounts
from .balances import standing, told
from .card_numbers import refuse_card_numbers
from .records import given_in_address, taken


@transaction.atomic
def write_off(
    *, shop: Shop, by: Staff, invoice_id: UUID, reason: str, amount: Any = None, again: bool = False
) -> WriteOff:
    """Writes off what is open today, or `amount` of it. Conflict when nothing is open, it is less, or it was just done.

    The invoice stays as it is; who wrote off what, when and why is a record of its own.
    """
    invoice = given_in_address(Invoice, shop=shop, pk=invoice_id, lock=True)
    reason = reason.strip()
    if not reason:
        raise Refused("reason", "The reason is missing.", "Say in a line why this money is no longer expected.")
    refuse_card_numbers(reason=reason)
    left = standing(invoice).open
    money = left
    if amount is not None:
        money = amounts.figure(amount, "amount", decimals=shop.currency_decimals, above=Decimal(0))
        _refuse_twice(invoice, money, again)
    if left <= 0:
        raise Conflict("amount", f"Nothing is open on {invoice.number}.", "There is nothing to write off.")
    if money > left:
        problem = f"{invoice.number} has {told(shop, left)} open, less than {told(shop, money)}."
        raise Conflict("amount", problem, f"Write off {told(shop, left)} at most.")
    row: WriteOff = WriteOff.objects.create(
        shop=shop, invoice=invoice, amount=money, written_on=shop.today(), reason=reason[:400], by=by.user
    )
    words = f"{told(shop, money)}: {row.reason}"
    record_event(shop=shop, subject=invoice.subject, verb="written off", words=words, by=by)
    return row


def take_back_for(payment: Payment, beyond: Decimal, by: Staff) -> WriteOff:
    """Takes back as much of the invoice's write-offs as came `beyond` what was open: a record of its own, with its event.

    The caller has locked the invoice and seen that so much is written off. It counts from the payment's day, or from the
    newest write-off where that is later.
    """
    shop, invoice = payment.shop, payment.invoice
    assert invoice is not None
    newest = max(row.written_on for row in invoice.write_offs.all())
    row: WriteOff = WriteOff.objects.create(
        shop=shop, invoice=invoice, amount=-beyond, written_on=max(newest, payment.received_on),
        reason=f"Money came after all: {told(shop, payment.amount)} on {payment.received_on}", by=by.user,
    )  # fmt: skip
    words = f"{told(shop, beyond)}: {row.reason}"
    record_event(shop=shop, subject=invoice.subject, verb="write-off taken back", words=words, by=by)
    return row


def _refuse_twice(invoice: Invoice, money: Decimal, again: bool) -> None:
    rows = WriteOff.objects.for_shop(invoice.shop).filter(
        invoice=invoice, amount=money, written_on=invoice.shop.today()
    )
    twin = None if again else rows.first()
    if twin is not None:
        raise taken(
            "again",
            f"{told(invoice.shop, money)} of {invoice.number} was written off today already.",
            "If as much is to be written off once more, send again: true.",
            recorded=str(twin.pk),
        )
