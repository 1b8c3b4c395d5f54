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
from .discounts import refuse_discount_over_price
from .reach import lock_job, refuse_ended
from .records import given_in_address
from .scope import settle

FEE_KINDS = ("fee", "freight", "sublet", "delivery", "disposal", "core", "part")
CREDITS = ("core", "part", "fee")


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
    refuse_discount_over_price(job)
    settle(job)
    record_event(shop=shop, subject=job.subject, verb="fee added", words=f"{fee.words}: {fee.amount}", by=by)
    return fee


@transaction.atomic
def remove_fee(*, shop: Shop, by: Staff, fee_id: UUID) -> Job:
    """Takes a fee off its job."""
    peek = given_in_address(JobFee, shop=shop, pk=fee_id)
    job = lock_job(shop, peek.job_id)
    refuse_ended(job)
    fee = given_in_address(JobFee, shop=shop, pk=fee_id, lock=True)
    fee.delete()
    refuse_discount_over_price(job)
    settle(job)
    record_event(shop=shop, subject=job.subject, verb="fee removed", words=f"{fee.words}: {fee.amount}", by=by)
    return job
