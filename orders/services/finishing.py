"""Closing the work of an order: only when nothing is left that the customer agreed to or has yet to answer."""

from __future__ import annotations

from uuid import UUID

from django.db import transaction
from django.utils import timezone

from orders.models import Job, RepairOrder
from shopdocs.rest.refusals import Conflict, Problem
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, save_changes

from .authorised import beyond
from .reach import lock_open_order

REMEDIES = {
    str(Job.State.AGREED): ("is agreed and not done", "Finish it, or strike it with a reason."),
    str(Job.State.PROPOSED): (
        "has no answer of the customer",
        "Take the customer's answer, or strike it with a reason.",
    ),
}


@transaction.atomic
def finish_order(*, shop: Shop, by: Staff, order_id: UUID) -> RepairOrder:
    """Closes the work. Conflict lists every job that is in the way; from now on the order's jobs stay as they are."""
    order = lock_open_order(shop, order_id)
    left = Job.objects.for_shop(shop).filter(order=order, state__in=REMEDIES).order_by("number")
    problems = [
        Problem("jobs", f"Job {job.number} ({job.title[:80]}) {REMEDIES[job.state][0]}.", REMEDIES[job.state][1])
        for job in left
    ]
    running = Job.objects.for_shop(shop).filter(order=order, time_entries__started_at__isnull=False)
    for job in running.filter(time_entries__ended_at=None).distinct():
        problems.append(Problem("time", f"A clock still runs on job {job.number}.", "Clock out first."))
    over, comparison = beyond(order)
    problems += over
    if problems:
        conflict = Conflict(problems=problems)
        conflict.extra = {"authorisation": comparison} if comparison else {}
        raise conflict
    changes = {"state": str(RepairOrder.State.FINISHED), "finished_at": timezone.now()}
    saved: RepairOrder = save_changes(order, version=order.version, changes=changes)
    record_event(shop=shop, subject=saved.subject, verb="finished", by=by)
    return saved
