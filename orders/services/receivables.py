"""Who owes the shop what: customers by their invoices, and whoever else a room above registers, such as distributors.

What the shop pays itself or gives as goodwill is no receivable. A room above registers its source when it is ready.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from uuid import UUID

from django.db.models import Prefetch

from orders.models import CreditNote, Customer, Distributor, Invoice, Payment
from orders.rules.receivables import Ageing, Entry, Item, Posted, Reconciled, ageing, reconcile
from shopdocs.documents.press.words import Say
from shopdocs.shops.models import Shop

from .balances import entry

CUSTOMER, DISTRIBUTOR = "customer", "distributor"
PAYERS = (CUSTOMER, DISTRIBUTOR)


@dataclass(frozen=True)
class Payer:
    """Somebody who owes: a customer or a distributor of the shop."""

    kind: str
    id: str
    name: str

    @property
    def key(self) -> str:
        """As items name their payer."""
        return f"{self.kind}:{self.id}"


@dataclass(frozen=True)
class Owed:
    """One open document in the books: of which `kind` (invoice, deposit, claim) and record, and its item.

    `known` False: what is asked is not known, and the item counts nothing. `due_known` False: aged from the day of issue.
    """

    payer: Payer
    kind: str
    record: str
    item: Item
    known: bool = True
    due_known: bool = True


Source = Callable[[Shop, str, Say], Iterable[Owed]]
_SOURCES: dict[str, Source] = {}


def register_source(name: str, source: Source) -> None:
    """Called once per name when an app is ready. `source(shop, payer key or '' for all, say)` gives what is owed."""
    if _SOURCES.get(name, source) != source:
        raise ValueError(f"the source of receivables '{name}' is registered twice")
    _SOURCES[name] = source


def owed(shop: Shop, payer: str = "", say: Say = str) -> list[Owed]:
    """All that was ever asked in this shop (of one payer, by its key), with what was posted on it since."""
    found = [*invoices_owed(shop, payer, say), *deposits_held(shop, payer, say)]
    for name in sorted(_SOURCES):
        found += _SOURCES[name](shop, payer, say)
    return [one for one in found if not payer or one.payer.key == payer]


def payer_of(record: Customer | Distributor) -> Payer:
    """The customer or distributor as a payer."""
    kind = CUSTOMER if isinstance(record, Customer) else DISTRIBUTOR
    return Payer(kind, str(record.pk), str(record) if isinstance(record, Customer) else record.name)


def invoices_owed(shop: Shop, payer: str, say: Say) -> Iterable[Owed]:
    """Customers' invoices, with payments, credit notes and write-offs."""
    notes = CreditNote.objects.for_shop(shop).defer("facts")
    rows = (
        Invoice.objects.for_shop(shop)
        .defer("facts")
        .select_related("order__customer")
        .prefetch_related("payments", Prefetch("credit_notes", queryset=notes), "write_offs")
        .order_by("issued_on", "number")
    )
    kind, _, pk = payer.partition(":")
    if payer:
        rows = rows.filter(order__customer=UUID(pk)) if kind == CUSTOMER else rows.none()
    for invoice in rows:
        who = payer_of(invoice.order.customer)
        posted = [entry(row, say) for row in invoice.payments.all()]
        posted += [
            Posted(Entry.CREDIT, note.total, note.issued_on, f"{say('Credit note')} {note.number}")
            for note in invoice.credit_notes.all()
        ]
        posted += [
            Posted(Entry.WRITE_OFF, row.amount, row.written_on, say("Written off"))  # the reason is the shop's own
            if row.amount > 0
            else Posted(Entry.WRITTEN_BACK, -row.amount, row.written_on, say("Taken back of what was written off"))
            for row in invoice.write_offs.all()
        ]
        title = f"{say('Invoice')} {invoice.number}"
        item = Item(
            invoice.number, who.key, invoice.total, invoice.issued_on, invoice.due_on, tuple(posted), title,
            invoice.order.number,
        )  # fmt: skip
        yield Owed(who, "invoice", str(invoice.pk), item)


def deposits_held(shop: Shop, payer: str, say: Say) -> Iterable[Owed]:
    """Customers' money that no invoice counts yet: nothing is asked for it."""
    rows = (
        Payment.objects.for_shop(shop)
        .filter(invoice=None)
        .select_related("order__customer")
        .order_by("received_on", "created_at", "id")
    )
    kind, _, pk = payer.partition(":")
    if payer:
        rows = rows.filter(order__customer=UUID(pk)) if kind == CUSTOMER else rows.none()
    found: dict[str, Owed] = {}
    for row in rows:
        assert row.order is not None, "money is for an invoice or for an order"
        who, day = payer_of(row.order.customer), row.received_on
        first = Owed(who, "deposit", str(row.order_id), Item(row.order.number, who.key, Decimal(0), day, day))
        known = found.setdefault(str(row.order_id), first)
        item = replace(known.item, posted=(*known.item.posted, entry(row, say)))
        found[str(row.order_id)] = replace(known, item=item)
    return found.values()


@dataclass(frozen=True)
class PayerStanding:
    """One payer on a day: ageing, the account that adds up, the open documents, and those whose amount is not known."""

    payer: Payer
    ageing: Ageing
    reconciled: Reconciled
    open: tuple[Owed, ...]
    unknown: tuple[Owed, ...]


def receivables_on(rows: Sequence[Owed], day: dt.date) -> list[PayerStanding]:
    """Every payer who was asked for something by the end of `day`, or paid ahead; those who owe most come first."""
    payers = {one.payer.key: one.payer for one in rows if _begun(one, day)}
    items = [one.item for one in rows]
    aged = {one.payer: one for one in ageing(items, day)}
    zero = Decimal(0)
    found = []
    for key, payer in payers.items():
        mine = [one for one in rows if one.payer.key == key]
        found.append(
            PayerStanding(
                payer,
                aged.get(key, Ageing(key, zero, zero, zero, zero, zero, zero)),
                reconcile(items, key, day),
                tuple(one for one in mine if one.item.open_on(day)),
                tuple(one for one in mine if not one.known and one.item.issued <= day),
            )
        )
    return sorted(found, key=lambda one: (-one.ageing.total, one.payer.name, one.payer.id))


def _begun(one: Owed, day: dt.date) -> bool:
    return one.item.issued <= day or any(posted.on <= day for posted in one.item.posted)
