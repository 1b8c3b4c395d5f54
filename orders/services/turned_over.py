"""A job that was to be somebody else's and is now asked of the customer: by an invoice of its own, never above what was chosen.

Only another room calls this, after it has seen that the customer had chosen to pay, and how much at most.
"""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Collection
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import Invoice, Job
from shopdocs.documents.press.words import words
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import Staff
from shopdocs.shops.services import next_number, record_event

from . import wording
from .agreement import WARRANTY
from .invoices import as_agreed, frozen_invoice
from .papers import request_invoice_paper
from .priced import price, said
from .reach import lock_order
from .scope import CUSTOMER
from .tax_day import on_tax_day

Facts = dict[str, Any]
PAID_AS = {"core": "part"}  # who pays the part pays its core, and gets it back


@transaction.atomic
def bill_turned_over(
    *,
    job: Job,
    by: Staff,
    most: Decimal,
    paid: Decimal,
    ground: str,
    due_days: int = 30,
    borne: Collection[UUID] = (),
    later: Collection[UUID] = (),
) -> Invoice:
    """Bills the customer for a done warranty job at the prices that stood on the estimate, with tax, and at most `most`.

    `paid`: what its payer did pay of it, before tax; it comes off first. What lies above `most` is not charged. `ground`
    stands on the invoice. `borne`: jobs with which the warranty pays for work that this one shares; `later`: jobs that left to
    this one what they share with it. Conflict when the job is no done warranty job, was billed so already, or nothing is left.
    """
    order = lock_order(job.shop, job.order_id)
    if job.state != Job.State.DONE or job.payer != WARRANTY:
        raise Conflict("job", f"Job {job.number} is no done warranty job.", "Only such a job can be turned over.")
    earlier = Invoice.objects.for_shop(job.shop).filter(job=job).first()
    if earlier is not None:
        raise Conflict("job", f"Job {job.number} was billed with {earlier.number}.", "Send that invoice again.")
    shop, today = job.shop, job.shop.today()
    say = words(wording.paper_language(shop, order.customer))
    ((agreed, done),) = as_agreed([job], say, turned=job, borne=borne, later=later)
    terms = on_tax_day(agreed, order.customer, today, say)
    # Neither a minimum nor supplies stood on the warranty's price: both are the customer's alone.
    pricing = {**(terms.get("pricing") or {}), "minimum_labour": None, "supplies": None}
    terms = {**terms, "pricing": pricing}
    done = _only_the_warrantys(terms, done, say("Shared by others, as agreed"))
    done |= {"payer": CUSTOMER, "payer_words": say("Customer"), "basis": ground}
    if paid:
        # More than the whole job leaves nothing to ask, which is said below.
        paid = min(paid, _total(terms, done)[0])
        done["discounts"] = [*done["discounts"], _off(say("Paid by the warranty"), paid)]
    done = _at_most(terms, done, most, say("Not charged to you"))
    invoice = Invoice(
        shop=shop,
        order=order,
        job=job,
        number=next_number(shop=shop, series="invoice"),
        issued_on=today,
        due_on=today + dt.timedelta(days=due_days),
        by=by.user,
    )
    invoice.facts = frozen_invoice(invoice, order, [(terms, done)], [])
    invoice.total = Decimal(invoice.facts["total"])
    if not 0 < invoice.total <= most:
        raise Conflict("amount", f"Nothing of job {job.number} is left to ask of the customer.", "Choose goodwill.")
    invoice.save(force_insert=True)
    invoice.document = request_invoice_paper(invoice=invoice, by=by)
    invoice.save(update_fields=["document"])
    told = f"job {job.number}, {invoice.number}: {invoice.facts['total']} {shop.currency}; {ground}"
    record_event(shop=shop, subject=order.subject, verb="job turned over", words=told, by=by)
    return invoice


def _only_the_warrantys(terms: Facts, done: Facts, words_of: str) -> Facts:
    """A job of several payers cut down to the warranty's part: the others have had, or bear, their own."""
    elsewhere = {kind for kind, who in (done.get("payer_of") or {}).items() if who != WARRANTY}
    if not elsewhere and not done.get("shares"):
        return done
    left = {
        **done,
        "payer_of": {},
        "labour": [] if "labour" in elsewhere else done["labour"],
        "parts": [] if "part" in elsewhere else done["parts"],
        "fees": [fee for fee in done["fees"] if PAID_AS.get(fee["kind"], fee["kind"]) not in elsewhere],
    }
    alone = copy.deepcopy(left)
    money = (terms["rates"], terms["money"])
    on = dt.date.fromisoformat(terms["issued_on"])
    price([alone], *money, exempt=terms["customer"]["tax_exempt"], on=on, terms=terms["pricing"])
    others = sum((Decimal(one["amount"]) for one in alone["paid"] if one["payer"] != WARRANTY), Decimal(0))
    less = [_off(words_of, others)] if others > 0 else []
    return {**left, "shares": [], "discounts": [*done["discounts"], *less]}


def _off(words_of: str, amount: Decimal) -> Facts:
    """What the customer does not bear: of every line, a core charge too."""
    return {"words": words_of, "percent": None, "amount": said(amount), "of_all": True}


def _total(terms: Facts, done: Facts) -> tuple[Decimal, Decimal]:
    """Net and total of the job alone by those terms."""
    priced = price(
        [copy.deepcopy(done)],
        terms["rates"],
        terms["money"],
        exempt=terms["customer"]["tax_exempt"],
        on=dt.date.fromisoformat(terms["issued_on"]),
        terms=terms["pricing"],
    )
    return Decimal(priced["customer_net"]), Decimal(priced["customer_total"])


def _at_most(terms: Facts, done: Facts, most: Decimal, words_of: str) -> Facts:
    """The job with as small a reduction as brings its total, tax included, down to `most`."""
    net, total = _total(terms, done)
    if total <= most:
        return done
    cent = Decimal(1).scaleb(-int(terms["money"]["decimals"]))

    def reduced(cents: int) -> Facts:
        return {**done, "discounts": [*done["discounts"], _off(words_of, cents * cent)]}

    low, high = 0, int(net / cent)  # reduced by all of it nothing is left
    while low < high:
        middle = (low + high) // 2
        if _total(terms, reduced(middle))[1] <= most:
            high = middle
        else:
            low = middle + 1
    return reduced(low)
