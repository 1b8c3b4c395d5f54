"""What a customer wants by way of an estimate: recorded once with who and when, and kept to before chargeable work begins."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from orders.models import Estimate, Job, RepairOrder
from orders.rules.authorisation import Asked, estimate_owed
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, save_changes

from . import amounts
from .binding_laws import asked_of, laws_of, told_sum
from .orders import order_to_change
from .scope import frozen_job
from .splits import customer_bears

WITH_A_SUM = (RepairOrder.EstimateAsked.ORALLY, RepairOrder.EstimateAsked.WAIVED)


@transaction.atomic
def record_asked(
    *, shop: Shop, by: Staff, order_id: UUID, version: int, estimate_asked: str, estimate_limit: Decimal | None = None
) -> RepairOrder:
    """Records what the customer of an open order wants; what was recorded before stays in the history.

    `estimate_limit`: the sum of an oral estimate, or up to which work may begin without one.
    """
    order = order_to_change(shop=shop, pk=order_id)
    before = {"asked": order.estimate_asked, "limit": told_sum(order)}
    changes = asked_facts(shop=shop, by=by, asked=estimate_asked, limit=estimate_limit)
    saved = save_changes(order, version=version, changes=changes)
    put_on_record(saved, by, before)
    return saved


def asked_facts(*, shop: Shop, by: Staff, asked: str, limit: Decimal | None) -> dict[str, Any]:
    """The order's fields of what the customer wants, now, from this person."""
    if asked not in RepairOrder.EstimateAsked.values:
        known = ", ".join(RepairOrder.EstimateAsked.values)
        raise Refused("estimate_asked", f"'{asked[:40]}' is not known here.", f"Choose one of: {known}.")
    if limit is not None and asked not in WITH_A_SUM:
        problem = "The estimate in writing says what it comes to." if asked == "in_writing" else "No sum was told."
        raise Refused("estimate_limit", problem, "Leave it out, or say that an oral estimate is wanted, or none.")
    told = None if limit is None else amounts.figure(
        limit, "estimate_limit", decimals=shop.currency_decimals, above=Decimal(0), most=Decimal(100_000_000)
    )  # fmt: skip
    return {
        "estimate_asked": asked,
        "estimate_limit": told,
        "estimate_asked_at": timezone.now(),
        "estimate_asked_by": by.user,
    }


def put_on_record(order: RepairOrder, by: Staff, before: dict[str, Any] | None = None) -> None:
    """Says in the order's history what the customer wants."""
    told = "" if order.estimate_limit is None else f", {told_sum(order)} {order.shop.currency} told"
    words = f"{order.get_estimate_asked_display()}{told}"
    facts = {"before": before} if before else {}
    record_event(shop=order.shop, subject=order.subject, verb="estimate wanted", words=words, facts=facts, by=by)


def refuse_unestimated(job: Job) -> None:
    """Conflict where chargeable work would begin before the estimate that the customer wants, or that a law wants first.

    Finding the fault is free of it: without that there is no estimate.
    """
    if job.state != Job.State.PROPOSED or not customer_bears(job) or not _chargeable(job):
        return
    order, asked = job.order, asked_of(job.order)
    newest = Estimate.objects.for_shop(job.shop).filter(order=order).order_by("-edition").first()
    limit = order.estimate_limit
    if newest is not None and frozen_job(newest.facts, job) is not None:
        if limit is not None and newest.customer_total > limit:
            problem = f"{newest.number} comes to {newest.facts['customer_total']}, and the customer was told {told_sum(order)}."
            raise Conflict("estimate", problem, "Wait for the customer's answer to the estimate.")
        return
    owed = [one for one in (estimate_owed(law, None, asked=asked) for law in laws_of(order)) if one.owed]
    if not owed and asked not in (Asked.IN_WRITING, Asked.ORALLY):
        return
    if asked == Asked.ORALLY and limit is not None and not any(one.written for one in owed):
        return  # it was told
    why = f" ({'; '.join(one.source for one in owed)})" if owed else ""
    written = asked == Asked.IN_WRITING or any(one.written for one in owed)
    kind = "A written estimate" if written else "An estimate"
    problem = f"{kind} is wanted before the work{why}, and job {job.number} stands on none."
    raise Conflict(
        "estimate", problem, "Make the estimate and give it to the customer first; finding the fault may go on."
    )


def _chargeable(job: Job) -> bool:
    """Whether the job holds more than finding the fault."""
    return job.parts.exists() or any(not line.is_diagnosis for line in job.labour.select_related("operation"))
