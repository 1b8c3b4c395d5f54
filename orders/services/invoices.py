"""Invoices: once an order, from the prices that were agreed and never above them, and what is paid on them.

The rates of tax, and whether the customer is exempt from it, are a question of the invoice's day (`tax_day`).
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Collection
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction

from orders.models import Invoice, Job, Payment, RepairOrder
from orders.rules import cautions
from shopdocs.documents.press.values import apart, sentence
from shopdocs.documents.press.words import Say, words
from shopdocs.documents.services.letters import request_letter
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import next_number, record_event

from . import frozen, wording
from .as_done import as_done, bound_supplies
from .authorised import as_it_is_now, refuse_beyond
from .balances import signed
from .electronic import electronic_facts
from .electronic_consent import refuse_on_paper_only
from .explained import invoice_figures, mark_of
from .invoice_lines import put_taxes
from .labour_agreed import Agreed, agreed_jobs, bear_turned_over
from .legal_fields import INVOICE, legal_fields
from .papers import request_invoice_paper
from .payments import apply_deposits, deposits_of, own_invoice
from .priced import price_told, said
from .reach import lock_order
from .records import given_in_address
from .scope import CUSTOMER, exceeds
from .splits import customer_bears
from .tax_day import on_tax_day, rate_steps, reasoned, refuse_unagreed_tax

Facts = dict[str, Any]


@transaction.atomic
def issue_invoice(
    *, shop: Shop, by: Staff, order_id: UUID, due_days: int = 0, tax_consent: Facts | None = None
) -> Invoice:
    """Bills the customer for the done jobs they pay, at the prices they agreed to; a job done with less costs less.

    `tax_consent`: who agreed to tax that came since the estimate (`said_by`, `channel`, `words`). Conflict when the work is
    not finished, was billed before, holds nothing for the customer to pay, or would be more by tax than was agreed to.
    """
    order = lock_order(shop, order_id)
    if not 0 <= due_days <= 365:
        raise Refused("due_days", f"{due_days} days is no time to pay.", "Give 0 to 365.")
    if order.state == RepairOrder.State.OPEN:
        raise Conflict("order", f"The work on {order.number} is not finished.", "Finish the order first.")
    earlier = own_invoice(order)
    if earlier is not None:
        raise Conflict("order", f"{order.number} was billed with {earlier.number}.", "Send that invoice again.")
    done = frozen.jobs_of(order, (str(Job.State.DONE),))
    # A job that a refused claim turned over was billed by itself; the customer's own share of it was not.
    jobs = [job for job in done if customer_bears(job) or not job.invoices.exists()]
    if not any(customer_bears(job) for job in jobs):
        raise Conflict("jobs", "No done job of this order is the customer's to pay.", "There is nothing to bill.")
    refuse_beyond(order)
    today = shop.today()
    invoice = Invoice(
        shop=shop,
        order=order,
        number=next_number(shop=shop, series="invoice"),
        issued_on=today,
        due_on=today + dt.timedelta(days=due_days),
        by=by.user,
    )
    invoice.facts = facts_of(invoice, order, jobs, tax_consent)
    refuse_unagreed_tax(order, invoice.facts, tax_consent)
    invoice.total = Decimal(invoice.facts["total"])
    if invoice.total < 0:
        problem = f"The invoice would come to {invoice.total:f}, which nothing can settle."
        raise Conflict("jobs", problem, "Lower the credits of the jobs.")
    invoice.save(force_insert=True)
    apply_deposits(invoice, by)
    invoice.document = request_invoice_paper(invoice=invoice, by=by)
    invoice.save(update_fields=["document"])
    words = f"{invoice.number}: {invoice.facts['total']} {shop.currency}"
    record_event(shop=shop, subject=order.subject, verb="invoice issued", words=words, by=by)
    if tax_consent is not None:
        told = f"{invoice.facts['tax_why']}: {tax_consent.get('words', '')} ({tax_consent['channel']})"
        record_event(shop=shop, subject=order.subject, verb="tax agreed", words=told, facts=dict(tax_consent), by=by)
    return invoice


def facts_of(invoice: Invoice, order: RepairOrder, jobs: list[Job], consent: Facts | None = None) -> Facts:
    """The frozen invoice of an order's work, with the deposits on it."""
    say = words(wording.paper_language(order.shop, order.customer))
    deposits = [deposit_facts(row, say) for row in deposits_of(order)]
    return frozen_invoice(invoice, order, as_agreed(jobs, say), deposits, consent)


def frozen_invoice(
    invoice: Invoice,
    order: RepairOrder,
    pairs: list[tuple[Facts, Facts]],
    deposits: list[Facts],
    consent: Facts | None = None,
) -> Facts:
    """The frozen invoice over (terms, job) pairs: jobs under different terms are priced apart, each as it was agreed."""
    shop = order.shop
    language = wording.paper_language(shop, order.customer)
    say = words(language)
    groups: dict[str, tuple[Facts, list[Facts]]] = {}
    billed, every = [], []
    bound_supplies(pairs)
    for agreed, done in pairs:
        terms = on_tax_day(agreed, order.customer, invoice.issued_on, say)
        key = json.dumps(
            [terms["rates"], terms["money"], terms["customer"]["tax_exempt"], terms.get("pricing")], sort_keys=True
        )
        groups.setdefault(key, (terms, []))[1].append(done)
        billed.append(done)
        every.append(terms)
    told = [
        price_told(
            listed, terms["rates"], terms["money"],
            exempt=terms["customer"]["tax_exempt"], on=dt.date.fromisoformat(terms["issued_on"]),
            terms=terms.get("pricing"),
        )
        for terms, listed in groups.values()
    ]  # fmt: skip
    totals = [total for total, _ in told]
    for at, ((terms, listed), priced) in enumerate(zip(groups.values(), totals, strict=True)):
        put_taxes(listed, terms, priced, terms["money"], mark_of(at))
    reasons = reasoned(_taxes(totals), every, consent, say)
    zero = Decimal(0).scaleb(-shop.currency_decimals)
    total = sum((Decimal(one["customer_total"]) for one in totals), zero)
    facts = {
        "format": 1,
        "number": invoice.number,
        "issued_on": invoice.issued_on.isoformat(),
        "due_on": invoice.due_on.isoformat(),
        "code": f"{settings.PUBLIC_URL}/api/v1/invoices/{invoice.pk}/",
        "shop": frozen.shop_facts(shop, language),
        "money": frozen.money_facts(shop),
        "order": order.number,
        "finished_on": shop.local(order.finished_at).date().isoformat() if order.finished_at else None,
        "customer": frozen.customer_facts(order.customer),
        "unit": frozen.unit_facts(order.unit, order.reading, say),
        "jobs": billed,
        "others": [one for done in billed for one in _others(done, say)],
        "net": said(sum((Decimal(one["customer_net"]) for one in totals), zero)),
        "tax": said(sum((Decimal(one["customer_tax"]) for one in totals), zero)),
        **reasons,
        "tax_consent": consent,
        "exempt_by": next((one["exempt_by"] for one in totals if one["exempt_by"]), ""),
        "total": said(total),
        "payments": deposits,
        "due": said(total - sum((Decimal(one["amount"]) for one in deposits), zero)),
        "how": [*(step for one in totals for step in one["how"]), *rate_steps(reasons)],
        "pay_how": wording.pay_how(shop, invoice.number, say),
        "cautions": list(cautions.for_use(order.unit.model.family, order.unit.power_source)),
    }
    figures = invoice_figures(
        facts, [(listed, one) for (_, listed), (_, one) in zip(groups.values(), told, strict=True)]
    )
    facts |= {"figures": figures, "legal_fields": legal_fields(order, facts, INVOICE)}
    if not shop.electronic_invoice:
        return facts
    return {**facts, "electronic": electronic_facts(shop, facts, order.customer.address_lines(), say)}


def deposit_facts(row: Payment, say: Say) -> Facts:
    """Money that moved before the invoice, as it prints it: given back is below zero."""
    amount = signed(row).quantize(Decimal(1).scaleb(-row.shop.currency_decimals))
    how = say(row.get_means_display())
    return {"on": row.received_on.isoformat(), "how": how, "amount": said(amount)}


def as_agreed(
    jobs: list[Job], say: Say, turned: Job | None = None, borne: Collection[UUID] = (), later: Collection[UUID] = ()
) -> list[tuple[Facts, Facts]]:
    """The estimates that the customer agreed to, and these jobs of them cut down to what was really done.

    What jobs share is borne as among all that were done on the order. `turned`: one of them that the customer bears now
    instead of the warranty: it adds what their other jobs do not bear already, or will once they are done, and what the
    warranty does not pay with the jobs `borne`; those of its jobs that come `later` have left to it what they share.
    """
    done, agreed = str(Job.State.DONE), str(Job.State.AGREED)
    every = frozen.jobs_of(jobs[0].order, (done,) if turned is None else (done, agreed))
    last = [*([] if turned is None else [turned.pk]), *later]
    rows = agreed_jobs(sorted(every, key=lambda job: last.index(job.pk) if job.pk in last else -1))
    if turned is not None:
        bear_turned_over(
            rows, {row.job.pk for row in rows if row.job.pk in (turned.pk, *borne) or row.job.invoices.exists()}
        )
    grown = {
        row.job.pk: as_it_is_now(row.job, row.facts)  # issue_invoice has seen that it may be charged
        for row in rows
        if row.job.shop.own_overrun_percent and exceeds(row.job, row.facts) and row.job.payer == row.facts["payer"]
    }
    billed = {row.job.pk: (row, one) for row, one in zip(rows, as_done(rows, grown), strict=True)}
    return [_as_billed(job, billed.get(job.pk), say) for job in jobs]


def _as_billed(job: Job, billed: tuple[Agreed, Facts] | None, say: Say) -> tuple[Facts, Facts]:
    """The job with who pays it now, what was done, and how it was agreed to."""
    if billed is None:
        raise Conflict(
            "jobs", f"Job {job.number} is done, and nobody agreed to it.", "Ask the owner how it came to be."
        )
    row, one = billed
    done = {
        **one,
        **frozen.payer_facts(job, say),
        "basis": job.basis_words,
        "correction": job.correction,
        "agreed": {
            "estimate": row.answer.estimate.number,
            "edition": row.answer.estimate.edition,
            "issued_on": row.answer.estimate.issued_on.isoformat(),
            "by": row.answer.said_by,
            "how": row.answer.get_channel_display(),
            "on": row.answer.at.isoformat(),
        },
    }
    return row.terms, done


def _others(done: Facts, say: Say) -> list[Facts]:
    """What somebody else pays for a job, before tax, and on what ground."""
    return [
        {
            "payer": one["payer"],
            "payer_words": sentence(say(one["payer"])),
            "why": " · ".join(
                part
                for part in (
                    f"{say('Job')} {done['number']}",
                    apart(done["basis"]) if one["payer"] == done["payer"] else "",
                )
                if part
            ),
            "amount": one["amount"],
        }
        for one in done["paid"]
        if one["payer"] != CUSTOMER
    ]


def _taxes(totals: list[Facts]) -> list[Facts]:
    """The customer's taxes over all groups; the same tax at the same rate is one line."""
    found: dict[tuple[str, str], Facts] = {}
    for tax in (tax for one in totals for tax in one["customer_taxes"]):
        known = found.setdefault((tax["name"], tax["percent"]), {**tax, "base": "0", "amount": "0"})
        known["base"] = said(Decimal(known["base"]) + Decimal(tax["base"]))
        known["amount"] = said(Decimal(known["amount"]) + Decimal(tax["amount"]))
    return list(found.values())


@transaction.atomic
def send_invoice(*, shop: Shop, by: Staff, invoice_id: UUID, email: str = "") -> Invoice:
    """Sends the invoice with its paper to the customer, or to `email`."""
    peek = given_in_address(Invoice, shop=shop, pk=invoice_id)
    order = lock_order(shop, peek.order_id)
    invoice = given_in_address(Invoice, shop=shop, pk=invoice_id)
    refuse_on_paper_only(order)
    to_address = email or order.customer.email
    if not to_address:
        raise Refused("email", "The customer has no e-mail address.", "Send one, or print the invoice.")
    invoice.letter = request_letter(
        shop=shop,
        kind="invoice",
        subject=invoice.subject,
        to_address=to_address,
        to_name=order.customer.name,
        heading=wording.invoice_heading(invoice),
        body=wording.invoice_letter(invoice),
        documents=[invoice.document] if invoice.document else [],
        by=by,
    )
    invoice.version += 1
    invoice.save(update_fields=["letter", "version", "updated_at"])
    record_event(shop=shop, subject=order.subject, verb="invoice sent", words=f"to {to_address}", by=by)
    return invoice
