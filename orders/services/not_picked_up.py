"""Machines that are ready and were not picked up: how long, what storage comes to, reminders, and the charge as an act.

Only terms that stood on an estimate which the customer answered are charged, and only when somebody says so.
"""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Exists, Max, OuterRef, QuerySet

from orders.models import Answer, Invoice, Job, RepairOrder
from orders.rules.storage import DAY, Charge, Terms, charge
from shopdocs.documents.models import Letter
from shopdocs.documents.press.values import day_words
from shopdocs.documents.press.words import words
from shopdocs.documents.services.letters import request_letter
from shopdocs.money import plain
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Event, Shop, Staff
from shopdocs.shops.services import next_number, record_event

from . import frozen, given, wording
from .amounts import currency_of
from .charges import terms_facts
from .invoices import deposit_facts, frozen_invoice
from .papers import request_invoice_paper
from .payments import apply_deposits, deposits_of, own_invoice
from .pickup_words import lien_words, reminder, reminder_heading
from .reach import lock_order
from .scope import CUSTOMER
from .splits import customer_bears

Facts = dict[str, Any]
LETTER = "pickup_reminder"
TOLD = "told to pick up"


@dataclass(frozen=True)
class Waiting:
    """One machine that is ready: since when, for how many days, when the customer was told, what storage comes to."""

    order: RepairOrder
    finished_on: dt.date
    days: int
    notices: tuple[dt.date, ...]
    terms: Terms | None
    charge: Charge
    law: str


def terms_told(order: RepairOrder) -> Terms | None:
    """The storage terms on the newest estimate that the customer answered; None: none were told."""
    answers = Answer.objects.for_shop(order.shop).filter(estimate__order=order).select_related("estimate")
    answer = answers.order_by("-estimate__edition").first()
    told = answer.estimate.facts.get("storage") if answer is not None else None
    return Terms(told["free_days"], Decimal(told["per_day"]), told["after_notice"]) if told else None


def notices_of(order: RepairOrder) -> tuple[dt.date, ...]:
    """The days on which the customer was told: letters that went out, and calls or words that were written down."""
    letters = Letter.objects.for_shop(order.shop).filter(subject=order.subject, kind=LETTER, state=Letter.State.DONE)
    spoken = Event.objects.filter(shop=order.shop, subject=order.subject, verb=TOLD)
    moments = [*letters.values_list("done_at", flat=True), *spoken.values_list("at", flat=True)]
    return tuple(sorted(order.shop.local(moment).date() for moment in moments if moment is not None))


def _billed_until(order: RepairOrder) -> dt.date | None:
    rows = Invoice.objects.for_shop(order.shop).filter(order=order, facts__has_key="storage")
    days = [dt.date.fromisoformat(row.facts["storage"]["until"]) for row in rows]
    return max(days, default=None)


def later_visits(shop: Shop) -> QuerySet[RepairOrder]:
    """Orders of units that are here: a unit that was checked in again after finished work waits by its last order alone."""
    rows: QuerySet[RepairOrder] = RepairOrder.objects.for_shop(shop).exclude(state=RepairOrder.State.GIVEN_BACK)
    return rows.order_by("created_at")


def waiting_of(order: RepairOrder) -> Waiting:
    """How it stands with one machine whose work is finished."""
    shop, finished_at = order.shop, order.finished_at
    if order.state != RepairOrder.State.FINISHED or finished_at is None:
        remedy = "Only a machine whose work is finished, and that is still here, waits to be picked up."
        raise Conflict("state", f"{order.number} is {order.get_state_display()}.", remedy)
    later = later_visits(shop).filter(unit=order.unit_id, created_at__gt=order.created_at).first()
    if later is not None:
        remedy = f"Where the unit stands now is told on {later.number}."
        raise Conflict("state", f"After {order.number} the unit was checked in again.", remedy)
    finished, today = shop.local(finished_at).date(), shop.today()
    notices, terms = notices_of(order), terms_told(order)
    first = notices[0] if notices else None
    if terms is None:
        due = Charge(0, None, None, Decimal(0), "No storage terms were told before, so nothing is charged.")
    else:
        due = charge(
            terms, finished=finished, today=today, notice=first, billed=_billed_until(order), currency=currency_of(shop)
        )
    law = lien_words(f"{shop.region}, {shop.country}" if shop.region else shop.country)
    return Waiting(order, finished, (today - finished).days, notices, terms, due, law)


def not_picked_up(shop: Shop) -> list[Waiting]:
    """Every machine that is ready and still here, the longest waiting first."""
    rows = RepairOrder.objects.for_shop(shop).filter(state=RepairOrder.State.FINISHED, finished_at__isnull=False)
    again = later_visits(shop).filter(unit=OuterRef("unit"), created_at__gt=OuterRef("created_at"))
    rows = rows.exclude(Exists(again))
    rows = rows.select_related("shop", "customer", "unit__model__maker").order_by("finished_at", "id")
    return [waiting_of(order) for order in rows]


@transaction.atomic
def send_reminder(*, shop: Shop, by: Staff, order_id: UUID, email: str = "") -> Letter:
    """Writes to the customer that the machine is ready, and from when storage is charged if that was told before."""
    order = lock_order(shop, order_id)
    stands = waiting_of(order)
    to_address = email or order.customer.email
    if not to_address:
        raise Refused("email", "The customer has no e-mail address.", "Send one, or call and write the call down.")
    say = words(wording.paper_language(shop, order.customer))
    letter = request_letter(
        shop=shop,
        kind=LETTER,
        subject=order.subject,
        to_address=to_address,
        to_name=order.customer.name,
        heading=reminder_heading(order, say),
        body=reminder(order, stands.finished_on, stands.terms, _begins(stands, shop.today()), say),
        documents=[],
        by=by,
    )
    record_event(shop=shop, subject=order.subject, verb="reminder sent", words=f"to {to_address}", by=by)
    return letter


def _begins(stands: Waiting, today: dt.date) -> dt.date | None:
    """The first day of storage, if this reminder is the notice that was still missing."""
    if stands.terms is None:
        return None
    if stands.charge.first is not None:
        return stands.charge.first
    told = stands.notices[0] if stands.notices else today
    first = stands.finished_on + (stands.terms.free_days + 1) * DAY
    return max(first, told + DAY) if stands.terms.after_notice else first


@transaction.atomic
def note_told(*, shop: Shop, by: Staff, order_id: UUID, **how: Any) -> RepairOrder:
    """Writes down that the customer was told in person or on the telephone; `how` as for `given.by_staff`."""
    order = lock_order(shop, order_id)
    waiting_of(order)
    assert order.finished_at is not None
    told = given.by_staff(order=order, by=by, since=order.finished_at, used_for=order.subject, **how)
    called = told["called_at"].isoformat() if told["called_at"] else ""
    facts = {
        "channel": told["channel"],
        "phone_number": told["phone_number"],
        "called_at": called,
        "words": told["words"],
    }
    said = f"{told['said_by']}, {told['channel']} {told['phone_number']}".strip()
    record_event(shop=shop, subject=order.subject, verb=TOLD, words=said, facts=facts, by=by)
    return order


@transaction.atomic
def charge_storage(*, shop: Shop, by: Staff, order_id: UUID, note: str) -> Invoice:
    """Bills the days of storage that have come so far, by the terms that were told; later days can be billed later.

    Conflict while nothing is due, or before the customer's part of the work itself was billed.
    """
    order = lock_order(shop, order_id)
    stands = waiting_of(order)
    due = stands.charge
    if not note.strip():
        raise Refused("note", "The reason is missing.", "Say why storage is charged now.")
    done = Job.objects.for_shop(shop).filter(order=order, state=Job.State.DONE)
    if own_invoice(order) is None and any(customer_bears(job) for job in done):
        raise Conflict("order", f"The work on {order.number} is not billed yet.", "Issue its invoice first.")
    if not due.days or due.first is None or due.last is None or not due.amount:
        raise Conflict("storage", due.why, "Charge nothing, or wait.")
    today = shop.today()
    invoice = Invoice(
        shop=shop,
        order=order,
        number=next_number(shop=shop, series="invoice"),
        issued_on=today,
        due_on=today,
        by=by.user,
    )
    deposits = [deposit_facts(row, words(wording.paper_language(shop, order.customer))) for row in deposits_of(order)]
    invoice.facts = frozen_invoice(invoice, order, [_line(order, due, today, stands.terms)], deposits)
    invoice.facts["storage"] = {
        "from": due.first.isoformat(),
        "until": due.last.isoformat(),
        "days": due.days,
        "why": due.why,
        "note": note.strip(),
    }
    invoice.total = Decimal(invoice.facts["total"])
    invoice.save(force_insert=True)
    apply_deposits(invoice, by)
    invoice.document = request_invoice_paper(invoice=invoice, by=by)
    invoice.save(update_fields=["document"])
    told = f"{invoice.number}: {invoice.facts['total']} {shop.currency}, {due.days} days; {note.strip()}"
    record_event(shop=shop, subject=order.subject, verb="storage charged", words=told, by=by)
    return invoice


def _line(order: RepairOrder, due: Charge, today: dt.date, told: Terms | None) -> tuple[Facts, Facts]:
    """Storage as the one line of an invoice, with the taxes of the day; no supplies and no minimum come on top."""
    shop = order.shop
    say = words(wording.paper_language(shop, order.customer))
    pricing = terms_facts(shop, order.customer, today)
    pricing |= {"supplies": None, "minimum_labour": None, "class_discount": None}
    assert due.first is not None and due.last is not None and told is not None
    days = say("Storage, {days} days from {first} to {last}").format(
        days=due.days, first=day_words(due.first, say), last=day_words(due.last, say)
    )
    last = Job.objects.for_shop(shop).filter(order=order).aggregate(last=Max("number"))["last"] or 0
    terms = {
        "rates": frozen.rate_facts(shop, today),
        "money": frozen.money_facts(shop),
        "customer": frozen.customer_facts(order.customer),
        "pricing": pricing,
        "issued_on": today.isoformat(),
    }
    line = {
        "id": str(uuid.uuid4()),
        "number": last + 1,
        "title": say("Storage"),
        "correction": "",
        "payer": CUSTOMER,
        "payer_words": say("Customer"),
        "basis": say("as our estimate said"),
        "labour": [],
        "parts": [],
        "fees": [
            {
                "id": str(uuid.uuid4()),
                "kind": "fee",
                "words": days,
                "price": f"{due.amount:f}",
                "days": due.days,
                "days_before": due.before,
                "per_day": plain(told.per_day),
                "counted": due.why,
            }
        ],
        "discounts": [],
    }
    return terms, line
