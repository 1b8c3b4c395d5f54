"""Fees of a job: what has only an amount, and credits for what comes back."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import Job
from orders.models.jobs import JobFee
from shopdocs.rest.refusals import Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event

from . import amounts
from .card_numbers import refuse_card_numbers
from .discounts import refuse_below_nothing
from .late_credits import lock_changeable, lock_until_billed, settle_unless_done
from .reach import lock_job, refuse_ended
from .records import given_in_address
from .scope import frozen_job, latest_answer, settle

FEE_KINDS = ("fee", "freight", "sublet", "delivery", "disposal", "core", "part")
CREDITS = ("core", "part", "fee")
CORE = "core"


@transaction.atomic
def add_fee(*, shop: Shop, by: Staff, job_id: UUID, kind: str, words: str, amount: Any) -> JobFee:
    """Adds a fee, freight, sublet work, disposal; or a credit below zero for a core or part that comes back."""
    job = lock_job(shop, job_id)
    refuse_ended(job)
    if kind not in FEE_KINDS:
        raise Refused("kind", f"'{kind[:40]}' is not known.", f"Choose one of: {', '.join(FEE_KINDS)}.")
    refuse_card_numbers(words=words)
    value = amounts.signed(amount, "amount", decimals=shop.currency_decimals)
    if value < 0 and kind not in CREDITS:
        raise Refused("amount", "Only a returned core or part, or a fee, can be a credit.", "Give zero or more.")
    fee: JobFee = JobFee.objects.create(shop=shop, job=job, kind=kind, words=words.strip()[:400], amount=value)
    refuse_below_nothing(job, "amount")
    settle(job)
    record_event(shop=shop, subject=job.subject, verb="fee added", words=f"{fee.words}: {fee.amount}", by=by)
    return fee


def _answered_for(fee: JobFee) -> bool:
    """Whether the fee stands on the version that the customer answered for its job."""
    answer = latest_answer(fee.job)
    facts = frozen_job(answer.estimate.facts, fee.job) if answer is not None else None
    if facts is None:
        return False
    listed = [*facts.get("fees", ()), *(one for line in facts["parts"] for one in line.get("returned") or ())]
    return any(one["id"] == str(fee.pk) for one in listed)


@transaction.atomic
def remove_fee(*, shop: Shop, by: Staff, fee_id: UUID) -> Job:
    """Takes a fee off its job; a core's credit that came after the job was done, until the invoice is issued."""
    peek = given_in_address(JobFee, shop=shop, pk=fee_id)
    after = peek.kind == CORE and peek.returned_id is not None and not _answered_for(peek)
    job = (lock_until_billed if after else lock_changeable)(shop, peek.job_id)
    fee = given_in_address(JobFee, shop=shop, pk=fee_id, lock=True)
    fee.delete()
    refuse_below_nothing(job)
    settle_unless_done(job)
    record_event(shop=shop, subject=job.subject, verb="fee removed", words=f"{fee.words}: {fee.amount}", by=by)
    return job
