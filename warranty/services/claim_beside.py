"""What other claims of the same order have asked the same distributor for: work that is shared with them is left out.

A claim that was closed without a credit has brought nothing, so what it shared may be asked for again; by its own job
also where others have left it to that one.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import DecimalField, QuerySet, Sum
from django.db.models.functions import Coalesce

from orders.models import Distributor, Job
from orders.rules.labour_jobs import JobWork
from orders.services.labour_together import read_work
from warranty.models import Claim


@dataclass(frozen=True)
class Asked:
    """Another claim by its number, and the guide work that its labour was asked for by."""

    claim: str
    work: JobWork  # its number is its place among them


def asked_before(job: Job, distributor: Distributor) -> list[Asked]:
    """The other claims in the order of filing, as far as they ask by the guide and the labour of their job is borne alike.

    Not those that left what they share to an earlier claim of this job.
    """
    own = set(Claim.objects.for_shop(job.shop).filter(job=job).values_list("number", flat=True))
    rows = _standing(job).filter(distributor=distributor).exclude(labour_expected=0)
    alike = [
        claim
        for claim in rows.select_related("job").order_by("created_at", "id").distinct()
        if claim.facts.get("labour_set") and own.isdisjoint(_left_to(claim)) and _borne(claim.job) == _borne(job)
    ]
    return [Asked(claim.number, read_work(claim.facts["labour_set"], at)) for at, claim in enumerate(alike)]


def jobs_left_to(claim: Claim) -> list[UUID]:
    """The jobs whose claims ask, or have brought, what this claim left out."""
    left = _left_to(claim)
    return [one.job_id for one in _standing(claim.job) if one.number in left]


def jobs_that_left(claim: Claim) -> list[UUID]:
    """The jobs whose claims left out what this one has asked for."""
    rows = Claim.objects.for_shop(claim.shop).filter(job__order=claim.job.order_id).exclude(job=claim.job_id)
    return [one.job_id for one in rows.order_by("created_at", "id") if claim.number in _left_to(one)]


def _left_to(claim: Claim) -> list[str]:
    left: list[str] = (claim.facts.get("labour_set") or {}).get("left_to", [])
    return left


def _standing(job: Job) -> QuerySet[Claim]:
    """Claims of the order's other jobs, but for those that were closed without a credit."""
    rows = Claim.objects.for_shop(job.shop).filter(job__order=job.order_id).exclude(job=job)
    rows = rows.annotate(came=Coalesce(Sum("credits__amount"), Decimal(0), output_field=DecimalField()))
    standing: QuerySet[Claim] = rows.exclude(state=Claim.State.CLOSED, came=0)
    return standing


def _borne(job: Job) -> tuple[Any, Any]:
    return job.shares, job.payer_of.get("labour")
