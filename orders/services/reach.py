"""Reaching an order or job of the caller's shop, locked, so that two people never write to one order at once."""

from __future__ import annotations

from uuid import UUID

from orders.models import Job, RepairOrder
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import Shop

from .records import given_in_address


def lock_order(shop: Shop, order_id: UUID) -> RepairOrder:
    """The order under its row's lock: everything that changes its jobs or money waits here for its turn."""
    return given_in_address(RepairOrder, shop=shop, pk=order_id, lock=True)


def further_work(order: RepairOrder) -> str:
    """The remedy for an order that is closed: where more work on its unit is recorded."""
    rows = RepairOrder.objects.for_shop(order.shop).filter(unit=order.unit_id, state=RepairOrder.State.OPEN)
    here = rows.order_by("created_at").first()
    if here is not None:
        return f"Record it on {here.number}, on which the unit is being worked on."
    return "Check the unit in again: that opens a new repair order for further work, finished papers stay as they are."


def lock_open_order(shop: Shop, order_id: UUID) -> RepairOrder:
    """As `lock_order`; Conflict when its work is finished or the unit has left."""
    order = lock_order(shop, order_id)
    if order.state != RepairOrder.State.OPEN:
        raise Conflict(
            "order",
            f"{order.number} is closed ({order.get_state_display()}); its jobs stay as they are.",
            further_work(order),
        )
    return order


def lock_job(shop: Shop, job_id: UUID) -> Job:
    """The job with its order locked and open. The job is read after the lock, so it is as the last writer left it."""
    peek = given_in_address(Job, shop=shop, pk=job_id)
    order = lock_open_order(shop, peek.order_id)
    job = given_in_address(Job, shop=shop, pk=job_id)
    job.order = order
    return job


def refuse_ended(job: Job) -> None:
    """Conflict when the job is done or struck: what is recorded of it stays."""
    if job.state in (Job.State.DONE, Job.State.STRUCK):
        raise Conflict(
            "job", f"Job {job.number} is {job.get_state_display()} and stays as it is.", "Add another job to the order."
        )
