"""The technician's clock: one running clock a person, no two spans at once, nothing in the future."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from orders.models import Job, TimeEntry
from orders.rules.clocked import LONGEST
from shopdocs.rest.refusals import Conflict, NotYours, Refused
from shopdocs.rest.roles import COUNTER
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event

from .asked_estimates import refuse_unestimated
from .reach import lock_job
from .records import given_in_address


def _own_clock(shop: Shop, staff: Staff) -> Staff:
    """Locks the person's place, so that two clicks cannot both see a clock that stands still."""
    return Staff.objects.select_for_update().select_related("user").get(pk=staff.pk, shop=shop)


def _refuse_closed(job: Job) -> None:
    if job.state not in (Job.State.PROPOSED, Job.State.AGREED):
        raise Conflict(
            "job", f"Job {job.number} is {job.get_state_display()}.", "Clock time on a job that is proposed or agreed."
        )


def running_clock(*, shop: Shop, staff: Staff, lock: bool = False) -> TimeEntry | None:
    """The person's running clock, if there is one. `lock` keeps others from stopping it now."""
    rows = TimeEntry.objects.for_shop(shop).filter(technician=staff.user, ended_at=None)
    rows = rows.select_for_update(of=("self",)) if lock else rows
    entry: TimeEntry | None = rows.select_related("job__order").first()
    return entry


@transaction.atomic
def clock_in(*, shop: Shop, by: Staff, job_id: UUID) -> TimeEntry:
    """Starts the caller's clock on a job, now. Conflict while another clock of theirs runs."""
    _own_clock(shop, by)
    job = lock_job(shop, job_id)
    _refuse_closed(job)
    refuse_unestimated(job)
    running = running_clock(shop=shop, staff=by)
    if running is not None:
        where = f"job {running.job.number} of {running.job.order.number}"
        raise Conflict("job", f"Your clock runs on {where}.", "Clock out there first.")
    now = timezone.now()
    _refuse_overlap(shop, by, now, None, None)
    entry: TimeEntry = TimeEntry.objects.create(shop=shop, job=job, technician=by.user, started_at=now)
    record_event(shop=shop, subject=job.subject, verb="clock started", by=by)
    return entry


@transaction.atomic
def clock_out(*, shop: Shop, by: Staff, job_id: UUID, ended_at: dt.datetime | None = None, note: str = "") -> TimeEntry:
    """Stops the caller's clock on this job, now or at `ended_at` when it was forgotten."""
    _own_clock(shop, by)
    job = given_in_address(Job, shop=shop, pk=job_id)
    running = running_clock(shop=shop, staff=by, lock=True)
    if running is None or running.job_id != job.pk:
        raise Conflict("job", f"Your clock does not run on job {job.number}.", "Clock in first, or type the time.")
    end = in_utc("ended_at", ended_at) if ended_at else timezone.now()
    _refuse_span(shop, job, running.started_at, end)
    _refuse_overlap(shop, by, running.started_at, end, running)
    running.ended_at, running.note = end, note[:400]
    running.version += 1
    running.save(update_fields=["ended_at", "note", "version", "updated_at"])
    record_event(shop=shop, subject=job.subject, verb="clock stopped", words=f"{minutes(running)} min", by=by)
    return running


def stop_clocks(job: Job, *, why: str, by: Staff | None = None) -> list[TimeEntry]:
    """Stops every clock that runs on a job which is no longer to be worked on; the time so far is kept.

    A clock that was forgotten ends after the longest stretch that anybody can clock, and its note says so.
    """
    now = timezone.now()
    stopped = list(
        TimeEntry.objects.for_shop(job.shop).select_for_update(of=("self",)).filter(job=job, ended_at=None)
        .select_related("technician").order_by("started_at")
    )  # fmt: skip
    for entry in stopped:
        most = entry.started_at + LONGEST
        entry.ended_at = max(min(now, most), entry.started_at + dt.timedelta(microseconds=1))  # time runs forward
        forgotten = ", forgotten: say when it really ended" if now > most else ""
        entry.note = f"{entry.note}; stopped: {why}{forgotten}".removeprefix("; ")[:400]
        entry.version += 1
        entry.save(update_fields=["ended_at", "note", "version", "updated_at"])
        told = f"{entry.technician.shown_name}, {minutes(entry)} min: {why}"
        record_event(shop=job.shop, subject=job.subject, verb="clock stopped", words=told, by=by)
    return stopped


@transaction.atomic
def enter_time(
    *,
    shop: Shop,
    by: Staff,
    job_id: UUID,
    started_at: dt.datetime,
    ended_at: dt.datetime,
    note: str = "",
    technician: int | None = None,
) -> TimeEntry:
    """Writes down time that was not clocked. Only the counter types it for somebody else (`technician`: staff id)."""
    who = by if technician is None else _colleague(shop, technician)
    if who.pk != by.pk and not COUNTER & set(by.roles):
        raise NotYours("technician", "You may type your own time only.", "Ask the writer for the other's.")
    who = _own_clock(shop, who)
    started_at, ended_at = in_utc("started_at", started_at), in_utc("ended_at", ended_at)
    job = lock_job(shop, job_id)
    _refuse_closed(job)
    refuse_unestimated(job)
    _refuse_span(shop, job, started_at, ended_at)
    _refuse_overlap(shop, who, started_at, ended_at, None)
    entry: TimeEntry = TimeEntry.objects.create(
        shop=shop, job=job, technician=who.user, started_at=started_at, ended_at=ended_at, note=note[:400]
    )
    words = f"{who.user.shown_name}: {minutes(entry)} min"
    record_event(shop=shop, subject=job.subject, verb="time typed", words=words, by=by)
    return entry


@transaction.atomic
def remove_time(*, shop: Shop, by: Staff, entry_id: UUID) -> Job:
    """Takes a wrong entry away; the history keeps that it was there. One's own, or anybody's for the counter."""
    peek = given_in_address(TimeEntry, shop=shop, pk=entry_id)
    job = lock_job(shop, peek.job_id)
    _refuse_closed(job)
    entry = given_in_address(TimeEntry, shop=shop, pk=entry_id, lock=True)
    if entry.technician_id != by.user_id and not COUNTER & set(by.roles):
        raise NotYours("time", "This is somebody else's time.", "Ask the writer.")
    span = {"started_at": entry.started_at.isoformat(), "ended_at": entry.ended_at and entry.ended_at.isoformat()}
    entry.delete()
    words = f"{entry.technician.shown_name}: {minutes(entry)} min"
    record_event(shop=shop, subject=job.subject, verb="time removed", words=words, facts=span, by=by)
    return job


def minutes(entry: TimeEntry) -> int:
    """Whole minutes of an ended entry, the rest cut off; 0 while the clock runs. Moments are absolute, so midnight and
    clock changes inside do no harm."""
    if entry.ended_at is None:
        return 0
    return int((entry.ended_at - entry.started_at).total_seconds() // 60)


def clocked_seconds(job: Job) -> int:
    """Seconds on the clock of a job, over all sessions and people that have ended."""
    spans = ((entry.started_at, entry.ended_at) for entry in job.time_entries.all())
    return sum(int((end - start).total_seconds()) for start, end in spans if end is not None)


def _colleague(shop: Shop, staff_id: int) -> Staff:
    staff = Staff.objects.select_related("user").filter(shop=shop, pk=staff_id, active=True).first()
    if staff is None:
        raise Refused("technician", "No such person in your shop.", "Use the id of a member of staff.")
    return staff


def in_utc(field: str, moment: dt.datetime) -> dt.datetime:
    """The moment in UTC: within one zone Python subtracts wall clocks, which the clock change makes wrong."""
    if timezone.is_naive(moment):
        raise Refused(field, "The moment says no time zone.", "Send it as 2026-03-01T09:30:00-06:00.")
    return moment.astimezone(dt.UTC)


def _refuse_span(shop: Shop, job: Job, start: dt.datetime, end: dt.datetime) -> None:
    if end <= start:
        raise Refused("ended_at", "The time ends before it starts.", "Correct one of the two moments.")
    if end > timezone.now():
        raise Refused("ended_at", "The time lies in the future.", "Write down time that has passed.")
    if end - start > LONGEST:
        hours = int(LONGEST.total_seconds() // 3600)
        raise Refused("ended_at", f"One stretch of work is longer than {hours} hours.", "Say when it really ended.")
    if shop.local(start).date() < job.order.received_on:
        raise Refused(
            "started_at", f"The unit came in on {job.order.received_on}; this lies before it.", "Correct the day."
        )


def _refuse_overlap(
    shop: Shop, staff: Staff, start: dt.datetime, end: dt.datetime | None, own: TimeEntry | None
) -> None:
    """Nobody works at two things at once: no day of anybody can have more hours than it has."""
    rows = TimeEntry.objects.for_shop(shop).filter(technician=staff.user)
    rows = rows.filter(Q(ended_at=None) | Q(ended_at__gt=start))
    if end is not None:
        rows = rows.filter(started_at__lt=end)
    if own is not None:
        rows = rows.exclude(pk=own.pk)
    other = rows.select_related("job__order").order_by("started_at").first()
    if other is not None:
        when = shop.local(other.started_at).strftime("%Y-%m-%d %H:%M")
        raise Conflict(
            "started_at",
            f"{staff.user.shown_name} has time from {when} on job {other.job.number} of {other.job.order.number}.",
            "Correct the times so that they do not overlap.",
        )
