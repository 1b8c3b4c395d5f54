"""What tests of the back half share: rates, taxes, jobs, and the way from a job to its invoice."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal
from typing import Any

from django.utils import timezone

from orders.models import Estimate, Finding, Invoice, Job, RepairOrder
from orders.services.answers import take_answers
from orders.services.bench import finish_job, fit_part
from orders.services.checkin import Visit, check_in
from orders.services.estimates import issue_estimate
from orders.services.finishing import finish_order
from orders.services.invoices import issue_invoice
from orders.services.jobs import add_job
from orders.services.links import link_of
from orders.services.time import enter_time
from shopdocs.documents.models import Letter
from shopdocs.documents.services.papers import sheet_digest
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import LabourRate, Shop, Staff, TaxRate

D = Decimal
CARD = "4321 8765 4321 8769"  # counted up and down; only the last digit is chosen, so that the check passes


def set_rates(shop: Shop, day: dt.date | None = None) -> None:
    """95.00 an hour for customers, 80.00 for the rest; 7.25 % on the customer's parts."""
    start = day or dt.date(2020, 1, 1)
    LabourRate.objects.create(shop=shop, payer="", per_hour=D("80"), starts_on=start)
    LabourRate.objects.create(shop=shop, payer="customer", per_hour=D("95"), starts_on=start)
    TaxRate.objects.create(
        shop=shop, name="County tax", percent=D("7.25"), on_kinds=["part"], on_payers=["customer"], starts_on=start
    )


def season_service(shop: Shop, by: Staff, order: RepairOrder, **changes: Any) -> Job:
    """0.8 h and a plug at 6.25: 76.00 + 6.25 + 0.45 tax = 82.70 for the customer."""
    facts: dict[str, Any] = {
        "title": "Season service",
        "labour": [{"words": "Season service", "hours": D("0.8")}],
        "parts": [{"words": "Spark plug", "unit_price": D("6.25")}],
        **changes,
    }
    return add_job(shop=shop, by=by, order_id=order.pk, **facts)


def sharpening(shop: Shop, by: Staff, order: RepairOrder, **changes: Any) -> Job:
    """0.4 h of work without parts: 38.00."""
    facts = {"title": "Sharpen chain", "labour": [{"words": "Sharpen chain", "hours": D("0.4")}], **changes}
    return add_job(shop=shop, by=by, order_id=order.pk, **facts)


def a_finding(shop: Shop, by: Staff, order: RepairOrder, number: int = 1, **changes: Any) -> Finding:
    facts = {"component": "fuel_line", "condition": "cracked", "cause": "wear", "found_on": shop.today(), **changes}
    return Finding.objects.create(shop=shop, order=order, number=number, by=by.user, **facts)


def answered(shop: Shop, by: Staff, estimate: Estimate, said: dict[Any, bool]) -> Estimate:
    """The customer's answers at the counter, by job id."""
    answers = [{"job": pk, "accepted": accepted} for pk, accepted in said.items()]
    return take_answers(
        shop=shop, by=by, estimate_id=estimate.pk, channel="in_person", said_by="Imke Dorran", answers=answers,
        words="signed on paper, folder 3",
    )  # fmt: skip


def agreed(shop: Shop, by: Staff, order: RepairOrder) -> Estimate:
    """The estimate with every job accepted: a new version, or the one that says the same already."""
    try:
        estimate = issue_estimate(shop=shop, by=by, order_id=order.pk)
    except Conflict as same:
        if "estimate" not in same.extra:
            raise
        estimate = Estimate.objects.get(pk=same.extra["estimate"])
        if estimate.answers.exists():
            return estimate
    jobs = Job.objects.filter(order=order, state__in=["proposed", "agreed"])
    return answered(shop, by, estimate, {job.pk: True for job in jobs})


def another_order(shop: Shop, by: Staff, order: RepairOrder) -> RepairOrder:
    """A second open order of the shop: another unit of the same model, of another customer."""
    unit = {"model": order.unit.model_id, "serial": "OTHER 1"}
    visit = Visit(new_customer={"name": "Somebody Else"}, new_unit=unit, complaint="Leaks")
    return check_in(shop=shop, by=by, visit=visit)


def span(minutes: int, ago: int = 0) -> dict[str, dt.datetime]:
    """A stretch of so many minutes that ended so many minutes ago."""
    end = timezone.now() - dt.timedelta(minutes=ago)
    return {"started_at": end - dt.timedelta(minutes=minutes), "ended_at": end}


def arrived_earlier(order: RepairOrder, days: int = 3) -> None:
    """Moves the arrival into the past, so that typed time of yesterday is possible."""
    RepairOrder.objects.filter(pk=order.pk).update(received_on=order.received_on - dt.timedelta(days=days))


def done(shop: Shop, by: Staff, job: Job, ago: int = 0) -> Job:
    """Works on an agreed job for half an hour and finishes it."""
    for part in job.parts.filter(fitted_at=None):
        fit_part(shop=shop, by=by, part_id=part.pk)
    enter_time(shop=shop, by=by, job_id=job.pk, **span(30, ago))
    return finish_job(shop=shop, by=by, job_id=job.pk, correction="Done as agreed; three cold starts.")


def invoiced(shop: Shop, by: Staff, order: RepairOrder) -> Invoice:
    """Agreed, done, finished, billed."""
    arrived_earlier(order)
    agreed(shop, by, order)
    for place, job in enumerate(Job.objects.filter(order=order, state="agreed")):
        done(shop, by, job, ago=40 * place)
    finish_order(shop=shop, by=by, order_id=order.pk)
    return issue_invoice(shop=shop, by=by, order_id=order.pk)


def shown_by_link(token: str) -> dict[str, str]:
    """What an answer by the link names beside the answers: what was shown, and the consent to electronic records."""
    facts = link_of(token).estimate.facts
    return {"estimate_sha256": sheet_digest(facts), "consent": facts["consent"]["version"]}


PHONED = {"channel": "phone", "phone_number": "555-0133", "read_back": True}
"""An answer by telephone, without the moment of the call."""


def token_in(letter: Letter) -> str:
    """The secret out of the letter's text, the only place where it stands."""
    found = re.search(r"/api/v1/answer/([A-Za-z0-9_-]+)/", letter.body)
    assert found, letter.body
    return found[1]
