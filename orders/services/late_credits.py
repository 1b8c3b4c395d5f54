"""Old cores come back when the job is long done: until the invoice is issued they are still credited to it."""

from __future__ import annotations

from uuid import UUID

from orders.models import Job
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import Shop

from .payments import own_invoice
from .reach import lock_job, lock_order, refuse_ended
from .records import given_in_address
from .scope import settle


def lock_changeable(shop: Shop, job_id: UUID) -> Job:
    """The job locked, of an open order and neither done nor struck."""
    job = lock_job(shop, job_id)
    refuse_ended(job)
    return job


def lock_until_billed(shop: Shop, job_id: UUID) -> Job:
    """As `lock_changeable`, and also a done job whose invoice is not issued yet, be its order closed or open."""
    peek = given_in_address(Job, shop=shop, pk=job_id)
    order = lock_order(shop, peek.order_id)
    job = given_in_address(Job, shop=shop, pk=job_id)
    if job.state != Job.State.DONE:
        return lock_changeable(shop, job_id)
    invoice = own_invoice(order) or job.invoices.first()
    if invoice is not None:
        problem = f"Job {job.number} was billed with {invoice.number}."
        raise Conflict("job", problem, "Write a credit note for that invoice.")
    job.order = order
    return job


def settle_unless_done(job: Job) -> None:
    """A done job stays done: what came off it asks nobody."""
    if job.state != Job.State.DONE:
        settle(job)
