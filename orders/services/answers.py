"""The customer's answers, job by job: by the link, in person, by telephone. Each is kept as it was given."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from orders.models import Answer, AnswerLink, Estimate, Job
from shopdocs.rest.refusals import Conflict, Problem, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event

from . import scope
from .estimates import refuse_closed
from .links import link_of, refuse_dead
from .payments import refuse_card_number
from .reach import lock_open_order
from .records import given_in_address
from .time import stop_clocks

BY_STAFF = (str(Answer.Channel.IN_PERSON), str(Answer.Channel.PHONE))


@transaction.atomic
def take_answers(
    *,
    shop: Shop,
    by: Staff,
    estimate_id: UUID,
    channel: str,
    said_by: str,
    answers: list[dict[str, Any]],
    words: str = "",
) -> Estimate:
    """Writes down what the customer said at the counter ('in_person') or on the 'phone'; some jobs may wait.

    `answers`: dicts of `job` (id) and `accepted`. By telephone `words` says which number, and that it was read back.
    """
    if channel not in BY_STAFF:
        raise Refused(
            "channel", f"'{channel[:40]}' is not how staff take answers.", f"Say one of: {', '.join(BY_STAFF)}."
        )
    if channel == Answer.Channel.PHONE and not words.strip():
        raise Refused("words", "A telephone answer needs its record.", "Say which number, and that it was read back.")
    peek = given_in_address(Estimate, shop=shop, pk=estimate_id)
    lock_open_order(shop, peek.order_id)
    estimate = given_in_address(Estimate, shop=shop, pk=estimate_id)
    refuse_closed(estimate)
    _record(estimate, answers, channel=channel, said_by=said_by, words=words, by=by)
    return estimate


@transaction.atomic
def answer_by_link(*, token: str, said_by: str, answers: list[dict[str, Any]], words: str = "") -> AnswerLink:
    """Takes the customer's one answer with this link. It must answer every job that waits for one."""
    peek = link_of(token)
    lock_open_order(peek.shop, peek.estimate.order_id)
    link = link_of(token)  # as it is now that nobody else can use it
    refuse_dead(link)
    if link.used_at is not None:
        raise Conflict(
            "token",
            "This link was used already; your answer is recorded.",
            "Call the shop if you want to change something.",
        )
    refuse_closed(link.estimate)
    waiting = _waiting(link.estimate)
    missing = [job for job in waiting if str(job.pk) not in {str(one["job"]) for one in answers}]
    if missing:
        listed = ", ".join(str(job.number) for job in missing)
        raise Refused("answers", f"No answer for job {listed}.", "Accept or decline every job: the link works once.")
    _record(link.estimate, answers, channel=str(Answer.Channel.LINK), said_by=said_by, words=words, by=None)
    link.used_at = timezone.now()
    link.version += 1
    link.save(update_fields=["used_at", "version", "updated_at"])
    return link


def _waiting(estimate: Estimate) -> list[Job]:
    """Jobs of this version that wait for the customer: proposed, and not answered on this version."""
    ids = [one["id"] for one in estimate.facts["jobs"]]
    rows = Job.objects.for_shop(estimate.shop).filter(pk__in=ids, state=Job.State.PROPOSED)
    return list(rows.exclude(answers__estimate=estimate).order_by("number"))


def _record(
    estimate: Estimate, answers: list[dict[str, Any]], *, channel: str, said_by: str, words: str, by: Staff | None
) -> None:
    """Checks every answer first, then writes all of them."""
    if not said_by.strip():
        raise Refused("said_by", "Nobody is named.", "Say who gave the answer.")
    refuse_card_number("words", words)  # a customer who offers to pay at once writes it here
    jobs = _answered_jobs(estimate, answers)
    now = timezone.now()
    for one in answers:
        job, accepted = jobs[one["job"]], one["accepted"]
        Answer.objects.create(
            shop=estimate.shop,
            estimate=estimate,
            job=job,
            accepted=accepted,
            channel=channel,
            said_by=said_by.strip()[:200],
            words=words,
            taken_by=by.user if by else None,
            at=now,
        )
        state = str(Job.State.AGREED if accepted else Job.State.DECLINED)
        Job.objects.for_shop(estimate.shop).filter(pk=job.pk).update(state=state)
        if not accepted:
            stop_clocks(job, why="the customer declined the job")
        record_event(
            shop=estimate.shop,
            subject=job.subject,
            verb="agreed" if accepted else "declined",
            words=f"{estimate.number} version {estimate.edition}, {channel}, said by {said_by}",
            by=by,
            by_name=said_by[:200],
        )


def _answered_jobs(estimate: Estimate, answers: list[dict[str, Any]]) -> dict[UUID, Job]:
    """The jobs answered, by id. Raises all problems at once: doubled, of another estimate, answered, changed since."""
    if not answers:
        raise Refused("answers", "There is no answer in it.", "Accept or decline at least one job.")
    rows = Job.objects.for_shop(estimate.shop).filter(pk__in=[one["job"] for one in answers])
    jobs = {job.pk: job for job in rows.prefetch_related("labour", "parts", "answers")}
    wrong: list[Problem] = []
    forbidden: list[Problem] = []
    seen: set[UUID] = set()
    for index, one in enumerate(answers):
        field = f"answers[{index}].job"
        job = jobs.get(one["job"])
        frozen = scope.frozen_job(estimate.facts, job) if job else None
        if job is None or frozen is None:
            wrong.append(Problem(field, "This job is not on the estimate.", "Answer the jobs that it shows."))
        elif job.pk in seen:
            wrong.append(Problem(field, f"Job {job.number} is answered twice.", "Answer each job once."))
        else:
            forbidden += _forbidden(field, estimate, job, frozen, one["accepted"])
            seen.add(job.pk)
    if wrong:
        raise Refused(problems=wrong)
    if forbidden:
        raise Conflict(problems=forbidden)
    return jobs


def _forbidden(field: str, estimate: Estimate, job: Job, frozen: dict[str, Any], accepted: bool) -> list[Problem]:
    """Why this job cannot be answered so any more, if it cannot."""
    newer = "Ask the shop for a new version of the estimate."
    if any(answer.estimate_id == estimate.pk for answer in job.answers.all()):
        return [Problem(field, f"Job {job.number} is answered on this version.", newer)]
    if job.state in (Job.State.DONE, Job.State.STRUCK):
        return [Problem(field, f"Job {job.number} is {job.get_state_display()} now.", "Leave it out.")]
    more = scope.exceeds(job, frozen) or scope.reworded(job, frozen)
    if accepted and more:
        return [Problem(field, f"Job {job.number} has changed since ({more}).", newer)]
    if not accepted and any(part.fitted_at for part in job.parts.all()):
        return [Problem(field, f"Job {job.number} has begun: a part is fitted.", "Call the shop about it.")]
    return []
