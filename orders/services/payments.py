"""Money that comes and goes: deposits before the invoice, payments on it, refunds of either."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import Estimate, Invoice, Payment, RepairOrder
from orders.rules.receivables import can_be_refunded
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event

from . import amounts
from .balances import REFUND, entry, signed, standing, told
from .card_numbers import refuse_card_numbers
from .reach import lock_order
from .records import given_in_address, taken
from .write_offs import take_back_for

MEANS = ("cash", "card", "transfer", "check")
NOTHING = Decimal(0)


def paid(invoice: Invoice) -> Decimal:
    """What the shop has received on the invoice so far, less what it gave back."""
    return standing(invoice).paid


def balance(invoice: Invoice) -> Decimal:
    """What is still open; below zero: the customer's money."""
    return standing(invoice).open


def deposits_of(order: RepairOrder) -> list[Payment]:
    """Money taken and given back on the order before there is an invoice."""
    rows = Payment.objects.for_shop(order.shop).filter(order=order, invoice=None)
    return list(rows.order_by("received_on", "created_at", "id"))


def own_invoice(order: RepairOrder) -> Invoice | None:
    """The invoice of the order itself, if it was billed: not one of a job that was turned over, nor one for storage."""
    rows = Invoice.objects.for_shop(order.shop_id).filter(order=order, job=None).exclude(facts__has_key="storage")
    found: Invoice | None = rows.first()
    return found


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
    again: bool = False,
) -> Payment:
    """Records money that came in, today unless said. Conflict when it is more than is still open, or recorded already.

    Money that comes for what was written off takes so much of the write-off back, as a record of its own.
    `again` says that the very same payment (amount, means, day, reference) came a second time.
    """
    invoice = given_in_address(Invoice, shop=shop, pk=invoice_id, lock=True)
    day = _money_day(shop, received_on)
    if day < invoice.issued_on:
        raise Refused(
            "received_on",
            f"{day} lies before {invoice.number} was issued ({invoice.issued_on}).",
            "Money that came before is a deposit, which is taken on the order before it is billed. Correct the day.",
        )
    money = _checked(shop, amount, means, reference=reference)
    row = Payment(
        shop=shop, kind=Payment.Kind.PAYMENT, invoice=invoice, amount=money, received_on=day, means=means,
        reference=reference[:100], by=by.user,
    )  # fmt: skip
    _refuse_twice(row, again)
    stands = standing(invoice)
    left = stands.open
    beyond = money - max(left, NOTHING)
    if beyond > stands.written_off + min(left, NOTHING):
        left += stands.written_off
        rest = told(shop, max(left, NOTHING))
        problem = f"{invoice.number} has {rest} open, less than {told(shop, money)}."
        raise Conflict("amount", problem, f"Record {rest} at most." if left > 0 else "Nothing is left to pay on it.")
    row.save(force_insert=True)
    record_event(shop=shop, subject=invoice.subject, verb="paid", words=_moved(row), by=by)
    if beyond > 0:
        take_back_for(row, beyond, by)
    return row


@transaction.atomic
def record_deposit(
    *,
    shop: Shop,
    by: Staff,
    order_id: UUID,
    amount: Any,
    means: str,
    reference: str = "",
    received_on: dt.date | None = None,
    again: bool = False,
) -> Payment:
    """Takes money before the invoice. It is counted on the order's invoice as soon as there is one.

    Conflict when the order is billed, when it would be more than the newest estimate comes to, or recorded already.
    """
    order = lock_order(shop, order_id)
    _refuse_billed(order, "record a payment")
    day = _money_day(shop, received_on)
    if day < order.received_on:
        raise Refused("received_on", f"{day} lies before the machine came in.", f"Give {order.received_on} or later.")
    money = _checked(shop, amount, means, reference=reference)
    row = Payment(
        shop=shop, kind=Payment.Kind.DEPOSIT, order=order, amount=money, received_on=day, means=means,
        reference=reference[:100], by=by.user,
    )  # fmt: skip
    _refuse_twice(row, again)
    _refuse_beyond_estimate(order, money)
    row.save(force_insert=True)
    record_event(shop=shop, subject=order.subject, verb="deposit taken", words=_moved(row), by=by)
    return row


@transaction.atomic
def record_refund(
    *,
    shop: Shop,
    by: Staff,
    invoice_id: UUID,
    amount: Any,
    means: str,
    why: str,
    reference: str = "",
    paid_back_on: dt.date | None = None,
    again: bool = False,
) -> Payment:
    """Gives money back that was paid on an invoice: never more than had come by that day, and `why` is said."""
    invoice = given_in_address(Invoice, shop=shop, pk=invoice_id, lock=True)
    row = Payment(shop=shop, invoice=invoice, by=by.user)
    _give_back(row, list(invoice.payments.all()), amount, means, why, reference, paid_back_on, again)
    record_event(shop=shop, subject=invoice.subject, verb="paid back", words=_moved(row), by=by)
    return row


@transaction.atomic
def refund_deposit(
    *,
    shop: Shop,
    by: Staff,
    order_id: UUID,
    amount: Any,
    means: str,
    why: str,
    reference: str = "",
    paid_back_on: dt.date | None = None,
    again: bool = False,
) -> Payment:
    """Gives a deposit back before there is an invoice, all or a part of it."""
    order = lock_order(shop, order_id)
    held = deposits_of(order)
    if not held:
        _refuse_billed(order, "pay it back")
    row = Payment(shop=shop, order=order, by=by.user)
    _give_back(row, held, amount, means, why, reference, paid_back_on, again)
    record_event(shop=shop, subject=order.subject, verb="deposit paid back", words=_moved(row), by=by)
    return row


def apply_deposits(invoice: Invoice, by: Staff) -> list[Payment]:
    """Counts what was taken on the order on its new invoice. The caller holds the order's lock."""
    rows = deposits_of(invoice.order)
    for row in rows:
        row.invoice = invoice
        row.version += 1
        row.save(update_fields=["invoice", "version", "updated_at"])
    if rows:
        words = told(invoice.shop, sum((signed(row) for row in rows), NOTHING))
        record_event(shop=invoice.shop, subject=invoice.subject, verb="deposit applied", words=words, by=by)
    return rows


def _give_back(
    row: Payment,
    moved: list[Payment],
    amount: Any,
    means: str,
    why: str,
    reference: str,
    paid_back_on: dt.date | None,
    again: bool,
) -> None:
    shop = row.shop
    if not why.strip():
        raise Refused("why", "Nobody has said why.", "Say in a line why the money is given back.")
    row.kind = REFUND
    row.received_on = _money_day(shop, paid_back_on, "paid_back_on")
    row.amount = _checked(shop, amount, means, reference=reference, why=why)
    row.means, row.reference, row.why = means, reference[:100], why.strip()[:400]
    _refuse_twice(row, again)
    most = can_be_refunded([entry(one) for one in moved], row.received_on)
    if row.amount > most:
        problem = f"{told(shop, row.amount)} is more than was paid and is still here: {told(shop, most)}."
        raise Conflict("amount", problem, "Give back what was paid, at most; look at the day as well.")
    row.save(force_insert=True)


def _checked(shop: Shop, amount: Any, means: str, **texts: str) -> Decimal:
    if means not in MEANS:
        raise Refused("means", f"'{means[:40]}' is not known.", f"Say one of: {', '.join(MEANS)}.")
    refuse_card_numbers(**texts)
    return amounts.figure(amount, "amount", decimals=shop.currency_decimals, above=NOTHING)


def _money_day(shop: Shop, given: dt.date | None, field: str = "received_on") -> dt.date:
    day = given or shop.today()
    if day > shop.today():
        raise Refused(field, f"{day} lies in the future.", "Record money when it has moved.")
    return day


def _refuse_billed(order: RepairOrder, act: str) -> None:
    billed = own_invoice(order)
    if billed is not None:
        raise Conflict("order", f"{order.number} was billed with {billed.number}.", f"On that invoice, {act}.")


def _refuse_beyond_estimate(order: RepairOrder, money: Decimal) -> None:
    rows = Estimate.objects.for_shop(order.shop).filter(order=order).order_by("-edition")
    newest = rows.first()
    held = sum((signed(row) for row in deposits_of(order)), NOTHING)
    if newest is not None and held + money > newest.customer_total:
        shop = order.shop
        problem = (
            f"With it {told(shop, held + money)} is held; {newest.number} comes to {told(shop, newest.customer_total)}."
        )
        raise Conflict("amount", problem, "Take what the estimate comes to, at most, or send its next version first.")


def _refuse_twice(row: Payment, again: bool) -> None:
    """Conflict when the very same row is there: somebody pressed twice, or two people recorded the same money."""
    same = Payment.objects.for_shop(row.shop).filter(
        kind=row.kind, invoice=row.invoice, order=row.order, amount=row.amount, received_on=row.received_on,
        means=row.means, reference=row.reference,
    )  # fmt: skip
    twin = None if again else same.order_by("created_at").first()
    if twin is not None:
        at = row.shop.local(twin.created_at)
        raise taken(
            "again",
            f"The same {twin.get_kind_display()} ({_moved(twin)}) was recorded at {at:%H:%M} on {at:%Y-%m-%d}.",
            "If it is another one, send again: true.",
            recorded=str(twin.pk),
        )


def _moved(row: Payment) -> str:
    """'$50.00, cash' and the reason of a refund."""
    return ", ".join(part for part in (told(row.shop, row.amount), row.get_means_display(), row.why) if part)
