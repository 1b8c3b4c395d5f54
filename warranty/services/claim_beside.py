"""What other claims of the same order have asked the same distributor for: work that is shared with them is left out.

A claim that was closed without a credit has brought nothing, so what it shared may be asked for again; by its own job
also where others have left it to that one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

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
    rows = Claim.objects.for_shop(job.shop).filter(job__order=job.order_id, distributor=distributor).exclude(job=job)
    rows = rows.exclude(state=Claim.State.CLOSED, credits=None).exclude(labour_expected=0)
    alike = [
        claim
        for claim in rows.select_related("job").order_by("created_at", "id").distinct()
        if claim.facts.get("labour_set")
        and own.isdisjoint(claim.facts["labour_set"].get("left_to", ()))
        and _borne(claim.job) == _borne(job)
    ]
    return [Asked(claim.number, read_work(claim.facts["labour_set"], at)) for at, claim in enumerate(alike)]


def _borne(job: Job) -> tuple[Any, Any]:
    return job.shares, job.payer_of.get("labour")
