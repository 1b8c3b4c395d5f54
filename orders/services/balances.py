"""Where an invoice's money stands, and the words for amounts of a shop."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from orders.models import Invoice, Payment
from orders.rules.receivables import Entry, Posted
from shopdocs.documents.press.words import Say
from shopdocs.money import Step, format_money
from shopdocs.shops.models import Shop

from .amounts import currency_of

REFUND = Payment.Kind.REFUND


def told(shop: Shop, amount: Decimal) -> str:
    """An amount in words, with the currency's own decimals: '$32.70'."""
    return format_money(amount, currency_of(shop))


def signed(payment: Payment) -> Decimal:
    """What the row adds to what was paid: below zero for a refund."""
    return -payment.amount if payment.kind == REFUND else payment.amount


TITLES = {
    str(Payment.Kind.PAYMENT): "Payment",
    str(Payment.Kind.DEPOSIT): "Deposit",
    str(Payment.Kind.REFUND): "Paid back",
}


def entry(payment: Payment, say: Say = str) -> Posted:
    """The row as an entry of the books, in the language of `say`."""
    what = Entry.REFUND if payment.kind == REFUND else Entry.PAYMENT
    how = ", ".join(part for part in (say(payment.get_means_display()), payment.reference, payment.why) if part)
    return Posted(what, payment.amount, payment.received_on, say(TITLES[payment.kind]), how)


@dataclass(frozen=True)
class Standing:
    """What an invoice asked and where it went: total = paid + credited + written off + open.

    `paid` holds deposits and is less what was given back. `open` below zero is the customer's money.
    """

    total: Decimal
    came: Decimal
    given_back: Decimal
    credited: Decimal
    written_off: Decimal

    @property
    def paid(self) -> Decimal:
        """What the shop has of it."""
        return self.came - self.given_back

    @property
    def open(self) -> Decimal:
        """What is still owed."""
        return self.total - self.paid - self.credited - self.written_off

    @property
    def steps(self) -> tuple[Step, ...]:
        """How the balance came about: the amounts add up to `open`."""
        return (
            Step("Total of the invoice", self.total),
            Step("Less deposits and payments", -self.came),
            Step("Plus what was paid back", self.given_back),
            Step("Less credit notes", -self.credited),
            Step("Less written off", -self.written_off),
        )


def standing(invoice: Invoice) -> Standing:
    """The invoice's money by its rows, prefetched or not."""
    zero, rows = invoice.total * 0, list(invoice.payments.all())
    return Standing(
        invoice.total,
        sum((row.amount for row in rows if row.kind != REFUND), zero),
        sum((row.amount for row in rows if row.kind == REFUND), zero),
        sum((note.total for note in invoice.credit_notes.all()), zero),
        sum((row.amount for row in invoice.write_offs.all()), zero),
    )
