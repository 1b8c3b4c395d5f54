"""Discounts and credits of a job, checked where they are given: neither takes off more than what the job costs.

What a job costs changes after it was given (a part is taken off): every such change asks again.
"""

from __future__ import annotations

import copy
import datetime as dt
from decimal import Decimal
from typing import Any

from orders.models import Job
from shopdocs.documents.press.words import words
from shopdocs.rest.refusals import Refused

from . import frozen
from .as_done import as_done
from .charges import terms_facts
from .labour_agreed import agreed_jobs
from .labour_sets import put_time, roundings_of, shop_steps
from .labour_together import put_together
from .priced import price
from .scope import exceeds

Facts = dict[str, Any]
COUNTED = (str(Job.State.PROPOSED), str(Job.State.AGREED), str(Job.State.DONE))


def refuse_below_nothing(job: Job, field: str = "fees") -> None:
    """Refuses what leaves a job, or one payer's part of it, below nothing: as it is now, and as it would be billed.

    A credit that is too large is named at `field` with the most that can be credited; a discount at `discount_amount`.
    """
    if not job.discount_amount and not job.fees.filter(amount__lt=0).exists():
        return
    found = [_bears(job, *reading) for reading in _readings(job)]
    credits, most = min(found, key=lambda one: one[1] - one[0])
    if credits > most:
        given, bears = (frozen.trimmed(figure, job.shop.currency_decimals) for figure in (credits, most))
        problem = f"Job {job.number} would come to less than nothing: its credits are {given}, and it bears {bears}."
        raise Refused(field, problem, f"Credit {bears} on this job at most; give the rest back in another way.")


def comes_to(job: Job) -> Decimal:
    """The job before tax and shop supplies, as it would be billed: as agreed, or as it is now where nobody agreed to it."""
    facts, terms = _readings(job)[-1]
    one, _ = _priced(facts, terms)
    return Decimal(one["net"])


def _readings(job: Job) -> list[tuple[Facts, Facts]]:
    """The job as it is now with the terms of today, and as it would be billed with those that were agreed, if it is within them."""
    shop, today = job.shop, job.shop.today()
    listed = frozen.jobs_of(job.order, (*COUNTED, str(job.state)))
    rows = [row for row in listed if row.pk == job.pk or row.state in COUNTED]
    terms = terms_facts(shop, job.order.customer, today)
    rate_of, say, steps = frozen.rates_on(shop, today), words(shop.language), shop_steps(shop)
    now: dict[Any, Facts] = {}
    roundings = roundings_of(job.order)
    for row in rows:  # of the others only the labour counts, as far as this job shares it
        rate = rate_of if row.pk == job.pk else _no_rate
        now[row.pk] = frozen.job_facts(row, rate, shop.currency_decimals, say)
        put_time(row, now[row.pk], steps, terms["diagnosis_limit"], roundings=roundings)
    put_together(now.values())
    money, rates = frozen.money_facts(shop), frozen.rate_facts(shop, today)
    found = [(now[job.pk], {"money": money, "rates": rates, "issued_on": today.isoformat(), "pricing": terms})]
    agreed = agreed_jobs(rows)
    for one, done in zip(agreed, as_done(agreed), strict=True):
        if one.job.pk == job.pk and not exceeds(one.job, one.facts):
            found.append((done, one.terms))
    return found


def _priced(facts: Facts, terms: Facts) -> tuple[Facts, Facts]:
    """A copy of the job with its amounts by these terms, without shop supplies, and its totals."""
    one = copy.deepcopy(facts)
    on = dt.date.fromisoformat(terms["issued_on"])
    pricing = {**(terms.get("pricing") or {}), "supplies": None}
    return one, price([one], terms["rates"], terms["money"], exempt=False, on=on, terms=pricing)


def _no_rate(payer: str, skill: str) -> Decimal:
    return Decimal(0)


def _bears(job: Job, facts: Facts, terms: Facts) -> tuple[Decimal, Decimal]:
    """The credits of the job, and how much of them it bears by these terms. Refused for a discount above the price."""
    try:
        one, totals = _priced(facts, terms)
    except Refused as refusal:
        first = refusal.problems[0]
        if first.field != "discount.amount":
            raise
        raise Refused("discount_amount", first.problem, first.remedy) from refusal
    credits = -sum((Decimal(fee["price"]) for fee in one["fees"] if Decimal(fee["price"]) < 0), Decimal(0))
    left = min((Decimal(part["amount"]) for part in one["paid"]), default=Decimal(0))
    left = min(left, Decimal(totals["customer_total"])) if left >= 0 else left  # a tax may fall on the credit alone
    return credits, max(credits + min(left, Decimal(0)), Decimal(0))
