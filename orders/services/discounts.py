"""Discounts of a job, checked where they are given: none takes off more than what it applies to costs now.

What a job costs changes after a discount was given (a part is taken off): every such change asks again.
"""

from __future__ import annotations

from orders.models import Job
from shopdocs.documents.press.words import words
from shopdocs.rest.refusals import Refused

from . import frozen
from .charges import terms_facts
from .labour_sets import put_time, shop_steps
from .priced import price


def refuse_discount_over_price(job: Job) -> None:
    """Prices the job as it is now, where an amount is taken off it. Raises Refused when that is more than it costs."""
    if not job.discount_amount:
        return
    shop, today = job.shop, job.shop.today()
    row = frozen.jobs_of(job.order, (str(job.state),), only=job)[0]
    facts = frozen.job_facts(row, frozen.rates_on(shop, today), shop.currency_decimals, words(shop.language))
    put_time(row, facts, shop_steps(shop))
    terms = {**terms_facts(shop, job.order.customer, today), "supplies": None, "class_discount": None}
    try:
        price([facts], [], frozen.money_facts(shop), exempt=False, on=today, terms=terms)
    except Refused as refusal:
        first = refusal.problems[0]
        if first.field != "discount.amount":
            raise
        remedy = f"Give less than {job.discount_amount:f}, or take the discount away first."
        raise Refused("discount_amount", first.problem, remedy) from refusal
