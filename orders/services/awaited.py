"""Which parts an order waits for, and since when."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from orders.models import Job, JobPart, RepairOrder

from .lines import ON_THE_WAY


@dataclass(frozen=True, slots=True)
class Awaited:
    """A part that is ordered and not here. `days`: how long it has been awaited; None where nobody said since when.

    `late`: the day that the supplier promised has passed; `after_promised`: it is expected after the order's own day.
    """

    line: JobPart
    job: Job
    days: int | None
    late: bool
    after_promised: bool


@dataclass(frozen=True, slots=True)
class Waiting:
    """The awaited parts of an order, the longest awaited first, with the day since which it waits and the last one expected.

    `expected_on` is None where nothing is awaited or the day of one of them is not known.
    """

    parts: tuple[Awaited, ...]
    since: dt.date | None
    expected_on: dt.date | None


def awaited_parts(order: RepairOrder) -> Waiting:
    """The parts that are ordered or back-ordered, not fitted, on jobs that are still to be done."""
    rows = JobPart.objects.for_shop(order.shop).filter(
        job__order=order, state__in=ON_THE_WAY, fitted_at=None, job__state__in=(Job.State.PROPOSED, Job.State.AGREED)
    )
    today = order.shop.today()
    found = [
        Awaited(
            line=line,
            job=line.job,
            days=(today - line.awaited_since).days if line.awaited_since else None,
            late=bool(line.expected_on and line.expected_on < today),
            after_promised=bool(line.expected_on and order.promised_on and line.expected_on > order.promised_on),
        )
        for line in rows.select_related("job").order_by("job__number", "created_at", "id")
    ]
    found.sort(key=lambda one: -(one.days if one.days is not None else -1))
    since = [one.line.awaited_since for one in found if one.line.awaited_since]
    expected = [one.line.expected_on for one in found]
    known = [day for day in expected if day is not None]
    return Waiting(
        tuple(found), min(since, default=None), max(known) if known and len(known) == len(expected) else None
    )
