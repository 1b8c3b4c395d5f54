"""Estimates: priced, numbered, frozen. A change is a new version; the old one can no longer be answered."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction

from orders.models import Estimate, Job, RepairOrder
from orders.rules import cautions
from shopdocs.documents.models import Document
from shopdocs.documents.press.words import MONTHS, words
from shopdocs.documents.services.letters import request_letter
from shopdocs.rest.refusals import Conflict, Refused, Told
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import next_number, record_event

from . import agreement, frozen, wording
from .authorised import promised
from .binding_laws import not_looked_up, signed_first
from .charges import terms_facts
from .electronic_consent import refuse_on_paper_only
from .explained_estimate import estimate_figures
from .explained_lines import sources_of
from .house_rules import refuse_fallen_payers
from .labour_agreed import labour_done, put_time_as_agreed
from .labour_choices import put_choices
from .labour_sets import put_time, roundings_of, shop_steps
from .labour_together import put_beside
from .legal_fields import legal_fields
from .links import make_link
from .options import option_facts
from .order_sheet import put_photos
from .papers import request_change_paper, request_estimate_paper
from .priced import price
from .reach import lock_open_order
from .records import given_in_address
from .storage_terms import storage_terms
from .unchanged import refuse_unchanged

OFFERED = (str(Job.State.PROPOSED), str(Job.State.AGREED))


@transaction.atomic
def issue_estimate(*, shop: Shop, by: Staff, order_id: UUID) -> Estimate:
    """Prices the order's proposed and agreed jobs as of today and freezes them as the next version.

    The first version takes a number; later ones keep it and replace the one before. Conflict when there is no such job,
    or when the version before says the same and still stands.
    """
    order = lock_open_order(shop, order_id)
    jobs = frozen.jobs_of(order, OFFERED)
    if not jobs:
        raise Conflict("jobs", "No job of this order is proposed or agreed.", "Add a job first.")
    refuse_fallen_payers(order)
    before = Estimate.objects.for_shop(shop).filter(order=order).order_by("-edition").first()
    today = shop.today()
    estimate = Estimate(
        shop=shop,
        order=order,
        number=before.number if before else next_number(shop=shop, series="estimate"),
        edition=before.edition + 1 if before else 1,
        issued_on=today,
        valid_until=today + dt.timedelta(days=shop.estimate_days),
        by=by.user,
    )
    estimate.facts = facts_of(estimate, order, jobs)
    _refuse_below_nothing(estimate.facts)
    if before is not None:
        refuse_unchanged(before, estimate, jobs)
    estimate.figures = estimate_figures(estimate.facts, sources_of(order, jobs, today, estimate.facts))
    estimate.total = Decimal(estimate.facts["total"])
    estimate.customer_total = Decimal(estimate.facts["customer_total"])
    estimate.save(force_insert=True)
    if before is not None:
        before.replaced_by = estimate
        before.version += 1
        before.save(update_fields=["replaced_by", "version", "updated_at"])
    estimate.document = request_estimate_paper(estimate=estimate, by=by)
    if before is not None:
        request_change_paper(before=before, estimate=estimate, by=by)
    estimate.save(update_fields=["document"])
    words = f"{estimate.number} version {estimate.edition}: {estimate.facts['total']} {shop.currency}"
    record_event(shop=shop, subject=order.subject, verb="estimate issued", words=words, by=by)
    return estimate


def _refuse_below_nothing(facts: dict[str, Any]) -> None:
    """Conflict where a job has come to less than nothing since its credits were given: by new terms or taxes."""
    below = [job for job in facts["jobs"] if any(Decimal(one["amount"]) < 0 for one in job["paid"])]
    if below:
        problem = f"Job {below[0]['number']} comes to {below[0]['net']}, less than nothing for one of its payers."
        raise Conflict("jobs", problem, "Lower its credits.")


def facts_of(estimate: Estimate, order: RepairOrder, jobs: list[Job]) -> dict[str, Any]:
    """Everything that was priced and shown. Nothing printed later comes from anywhere else."""
    shop, unit = order.shop, order.unit
    language, units = wording.paper_language(shop, order.customer), wording.paper_units(shop, order.customer)
    say = words(language)
    money = frozen.money_facts(shop)
    rate_of = frozen.rates_on(shop, estimate.issued_on)
    listed = [frozen.job_facts(job, rate_of, shop.currency_decimals, say, units) for job in jobs]
    rates = frozen.rate_facts(shop, estimate.issued_on)
    steps = shop_steps(shop)
    terms = terms_facts(shop, order.customer, estimate.issued_on)
    roundings = roundings_of(order)
    for job, one in zip(jobs, listed, strict=True):
        put = put_time_as_agreed if estimate.edition > 1 else put_time  # nobody can have agreed to anything before
        put(job, one, steps, terms["diagnosis_limit"], roundings=roundings)
    done_before = labour_done(order)
    exempt = order.customer.tax_exempt

    def price_of(some: list[dict[str, Any]]) -> dict[str, Any]:
        put_beside(some, done_before)
        return price(some, rates, money, exempt=exempt, on=estimate.issued_on, terms=terms)

    totals = price_of(listed)
    more = promised(order, {**totals, "jobs": listed})
    put_choices(listed, done_before, price_of)
    put_photos(order, jobs, listed, say)
    facts = {
        "format": 1,
        "number": estimate.number,
        "edition": estimate.edition,
        "issued_on": estimate.issued_on.isoformat(),
        "valid_until": estimate.valid_until.isoformat(),
        "code": f"{settings.PUBLIC_URL}/api/v1/estimates/{estimate.pk}/",
        "shop": frozen.shop_facts(shop, language, units),
        "money": money,
        "order": order.number,
        "customer": frozen.customer_facts(order.customer),
        "unit": frozen.unit_facts(unit, order.reading, say),
        "request": order.complaint,
        "jobs": listed,
        "options": option_facts(order, listed, price_of, say),
        "rates": rates,
        "pricing": terms,
        "labour_done": done_before,
        **totals,
        "agreement": wording.agreement(shop.name, more.percent, say),
        "consent": agreement.consent(shop, say),
        "answer_how": wording.answer_how(
            shop, say, by_telephone=signed_first(order, Decimal(totals["customer_total"])) is None
        ),
        "storage": storage_terms(shop, say),
        "cautions": list(cautions.for_answer(unit.model.family, unit.power_source)),
    }
    agreement.put_words(facts, listed, more, say)
    unknown = not_looked_up(order)
    told = {"laws_not_looked_up": unknown} if unknown else {}
    return {**facts, "legal_fields": legal_fields(order, facts), **told}


@transaction.atomic
def send_estimate(*, shop: Shop, by: Staff, estimate_id: UUID, email: str = "") -> Estimate:
    """Sends the version to the customer with a fresh link that takes one answer; links sent before stop working.

    `email` replaces the customer's address for this letter. Conflict for a version that can no longer be answered.
    """
    peek = given_in_address(Estimate, shop=shop, pk=estimate_id)
    order = lock_open_order(shop, peek.order_id)
    estimate = given_in_address(Estimate, shop=shop, pk=estimate_id)
    refuse_closed(estimate)
    refuse_on_paper_only(order)
    to_address = email or order.customer.email
    if not to_address:
        raise Refused("email", "The customer has no e-mail address.", "Send one, or take the answer by telephone.")
    _refuse_own_address(order, to_address)
    link, address = make_link(estimate)
    estimate.letter = request_letter(
        shop=shop,
        kind="estimate",
        subject=estimate.subject,
        to_address=to_address,
        to_name=order.customer.name,
        heading=wording.estimate_heading(estimate),
        body=wording.estimate_letter(
            estimate,
            address,
            link.expires_at,
            by_telephone=signed_first(order, Decimal(estimate.facts["customer_total"])) is None,
        ),
        documents=papers_of(estimate),
        by=by,
    )
    estimate.version += 1
    estimate.save(update_fields=["letter", "version", "updated_at"])
    record_event(shop=shop, subject=order.subject, verb="estimate sent", words=f"to {to_address}", by=by)
    return estimate


def _refuse_own_address(order: RepairOrder, address: str) -> None:
    """The link answers in the customer's name, so that it does not go to the shop or to who works here."""
    people = Staff.objects.filter(shop=order.shop).values_list("user__email", flat=True)
    ours = {one.casefold() for one in (order.shop.email, *people) if one}
    if address.casefold() in ours and address.casefold() != order.customer.email.casefold():
        problem = "This is an address of the shop, and the link answers in the customer's name."
        raise Refused("email", problem, "Send it to the customer's own address; its paper can be looked at here.")


def papers_of(estimate: Estimate) -> list[Document]:
    """The estimate's paper, then what it changes against the version before."""
    changes = Document.objects.for_shop(estimate.shop).filter(subject=estimate.subject, kind="estimate_change")
    return [*([estimate.document] if estimate.document else []), *changes]


def refuse_closed(estimate: Estimate) -> None:
    """Conflict when this version was replaced, or when it has run out."""
    if estimate.replaced_by_id is not None:
        raise Conflict(
            "estimate",
            Told(
                "Version {edition} of {number} was replaced by a newer one.",
                edition=estimate.edition,
                number=estimate.number,
            ),
            "Use the newest version; the shop sends it again on request.",
        )
    if estimate.shop.today() > (last := estimate.valid_until):
        raise Conflict(
            "estimate",
            Told(
                "{number} was valid until {day} {month} {year} and has expired.",
                number=estimate.number,
                day=last.day,
                month=Told(MONTHS[last.month - 1]),
                year=last.year,
            ),
            "Ask the shop for a new version.",
        )
