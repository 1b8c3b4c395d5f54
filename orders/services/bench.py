"""At the bench: parts fitted, the correction written, jobs finished or struck."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from orders.models import Job, JobPart
from orders.rules.work import Work
from shopdocs.rest.refusals import Conflict, NotYours, Problem, Refused, Stale
from shopdocs.rest.roles import COUNTER
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, save_changes

from .authorised import refuse_beyond
from .came_back import still_charged
from .house_rules import refuse_forbidden
from .lines import ON_THE_WAY
from .reach import lock_job, refuse_ended
from .records import given_in_address
from .time import stop_clocks


def _refuse_not_agreed(job: Job) -> None:
    _refuse_beyond(job)
    if job.state != Job.State.AGREED:
        raise Conflict(
            "job",
            f"Job {job.number} is {job.get_state_display()}, not agreed.",
            "Send the customer the estimate and wait for the answer.",
        )


def _refuse_beyond(job: Job) -> None:
    """Conflict naming the law and the limits when the job waits because it went beyond what was agreed."""
    if job.state == Job.State.PROPOSED:
        refuse_beyond(job.order)


@transaction.atomic
def fit_part(*, shop: Shop, by: Staff, part_id: UUID) -> JobPart:
    """Says that a part of an agreed job is in the machine. One that was awaited has arrived, then."""
    peek = given_in_address(JobPart, shop=shop, pk=part_id)
    job = lock_job(shop, peek.job_id)
    _refuse_not_agreed(job)
    line = given_in_address(JobPart, shop=shop, pk=part_id)
    if line.fitted_at:
        raise Conflict("part", f"{line.words} is fitted already.", "Nothing is left to do for it.")
    if not still_charged(line, line.job.fees.all())[0] and line.returns.exists():
        raise Conflict("part", f"All of {line.words} came back.", "Take that credit off the job first, or add a part.")
    changes: dict[str, Any] = {"fitted_at": timezone.now(), "fitted_by": by.user}
    if line.state in ON_THE_WAY:
        changes |= {"state": "arrived", "expected_on": None}
        record_event(
            shop=shop,
            subject=job.subject,
            verb="part arrived",
            words=f"{line.quantity} x {line.words}, as it was fitted",
            by=by,
        )
    saved: JobPart = save_changes(line, version=line.version, changes=changes)
    record_event(shop=shop, subject=job.subject, verb="part fitted", words=f"{saved.quantity} x {saved.words}", by=by)
    return saved


@transaction.atomic
def finish_job(*, shop: Shop, by: Staff, job_id: UUID, correction: str = "", version: int | None = None) -> Job:
    """Ends an agreed job: correction said, clocks stopped, labour worked, every part fitted or taken off.

    With `correction` the text is saved too. `version`: at which the job was read; Stale when somebody has saved it since.
    """
    job = lock_job(shop, job_id)
    if version is not None and version != job.version:
        theirs = {"correction": job.correction} if job.correction and job.correction != correction else {}
        raise Stale(current_version=job.version, changed={"state": job.state, **theirs})
    _refuse_not_agreed(job)
    refuse_forbidden(job.order.unit, Work("correction", correction))
    problems = list(_left_undone(job, correction or job.correction))
    if problems:
        raise Conflict(problems=problems)
    changes = {"state": str(Job.State.DONE), "finished_by": by.user, "finished_at": timezone.now()}
    if correction.strip():
        changes["correction"] = correction
    saved: Job = save_changes(job, version=job.version, changes=changes)
    record_event(shop=shop, subject=saved.subject, verb="done", words=saved.correction[:500], by=by)
    return saved


def _left_undone(job: Job, correction: str) -> list[Problem]:
    """Everything that stands between the job and its end, at once."""
    problems = []
    if not correction.strip():
        problems.append(Problem("correction", "Nobody has said what was done.", "Write the correction."))
    entries = list(job.time_entries.all())
    if any(entry.ended_at is None for entry in entries):
        problems.append(Problem("time", "A clock still runs on this job.", "Clock out first."))
    if job.labour.exists() and not entries:
        problems.append(
            Problem("time", "The job has labour, and no time was clocked.", "Type the time, or remove the labour.")
        )
    for part in job.parts.filter(fitted_at=None):
        if part.quantity <= sum(row.returned_quantity or 0 for row in part.returns.filter(kind="part")):
            continue  # all of it came back unused
        problems.append(Problem("parts", f"{part.words} is not fitted.", "Fit it, or take it off the job."))
    return problems


@transaction.atomic
def strike_job(*, shop: Shop, by: Staff, job_id: UUID, reason: str) -> Job:
    """Takes a job out of the visit, for a reason. The counter's to do; fitted parts must come off first.

    Clocks that run on it stop, and their time is kept: nobody is held up at a job that is no more.
    """
    if not COUNTER & set(by.roles):
        raise NotYours("job", "Only the counter strikes a job.", "Ask the writer or the owner.")
    if not reason.strip():
        raise Refused("reason", "The reason is missing.", "Say why the job is not done.")
    job = lock_job(shop, job_id)
    refuse_ended(job)
    if job.parts.exclude(fitted_at=None).exists():
        raise Conflict("parts", "A part of this job is in the machine.", "Take it off the job, or finish the job.")
    changes = {"state": str(Job.State.STRUCK), "strike_reason": reason.strip()[:400]}
    saved: Job = save_changes(job, version=job.version, changes=changes)
    stop_clocks(saved, why="the job was struck", by=by)
    record_event(shop=shop, subject=saved.subject, verb="struck", words=saved.strike_reason, by=by)
    return saved
