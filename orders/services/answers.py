"""The customer's answers, job by job: by the link, in person, by telephone. Each is kept as it was given.

With every answer stand the words that were agreed to and the SHA-256 of what was shown.
"""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from orders.models import Answer, AnswerLink, Estimate, Job, RepairOrder
from shopdocs.documents.services.papers import sheet_digest
from shopdocs.rest.refusals import Conflict, Problem, Refused, Told
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event

from . import given, scope
from .agreement import agreed_words, consent_of
from .binding_laws import authorised_in_writing, signed_first
from .estimates import refuse_closed
from .links import link_of, refuse_dead, refuse_replaced
from .options import expanded
from .reach import lock_open_order, lock_order
from .records import given_in_address, refuse_all
from .refusal_choices import check_choices, keep_choices
from .signed_copies import request_answered_copy
from .time import stop_clocks

Facts = dict[str, Any]


@transaction.atomic
def take_answers(
    *,
    shop: Shop,
    by: Staff,
    estimate_id: UUID,
    channel: str,
    said_by: str,
    answers: list[Facts],
    words: str = "",
    consent: str = "",
    options: list[UUID] | None = None,
    signature: UUID | None = None,
    phone_number: str = "",
    called_at: dt.datetime | None = None,
    read_back: bool | None = None,
) -> Estimate:
    """Writes down what the customer said at the counter ('in_person') or on the 'phone'; some jobs may wait.

    `answers`: dicts of `job` (id), `accepted`, and for a warranty job `if_refused`. `options`: ids of the ways that were
    chosen, where the estimate offers some. The rest is `given.by_staff`. Refused by telephone where a law wants the first
    authorisation in writing.
    """
    peek = given_in_address(Estimate, shop=shop, pk=estimate_id)
    lock_open_order(shop, peek.order_id)
    estimate = given_in_address(Estimate, shop=shop, pk=estimate_id)
    refuse_closed(estimate)
    if consent and channel == Answer.Channel.PHONE:
        # 15 USC 7001(c)(1)(C)(ii): given electronically, in a way that shows that it can be read (second-hand).
        problem = "Consent to electronic records is not given by telephone: nobody has read its words on a screen."
        raise Refused(
            "consent", problem, "Leave it out; the customer gives it at the link, or on a screen in the shop."
        )
    _refuse_consent(estimate, consent, needed=False)
    answers = expanded(estimate, answers, options or [])
    _refuse_unsigned(estimate, answers, channel)
    how = given.by_staff(
        order=estimate.order, by=by, channel=channel, said_by=said_by, since=estimate.created_at, used_for=estimate.subject,
        words=words, signature=signature, phone_number=phone_number, called_at=called_at, read_back=read_back,
    )  # fmt: skip
    _record(estimate, answers, how, consent=consent, by=by)
    return estimate


@transaction.atomic
def answer_by_link(
    *,
    token: str,
    said_by: str,
    answers: list[Facts],
    words: str = "",
    consent: str = "",
    options: list[UUID] | None = None,
    estimate_sha256: str = "",
) -> AnswerLink:
    """Takes the customer's one answer with this link. It must answer every job that waits for one.

    `consent`: the version of the words on electronic records that were agreed to. `estimate_sha256`: of what was shown.
    """
    peek = link_of(token)
    order = lock_order(peek.shop, peek.estimate.order_id)
    link = link_of(token)  # as it is now that nobody else can use it
    refuse_replaced(link)
    call = "Call the shop if you want to change something."
    if link.used_at is not None:
        raise Conflict("token", "This link was used already; your answer is recorded.", call)
    refuse_dead(link)
    if order.state != RepairOrder.State.OPEN:
        closed = Told("Repair order {order} is closed; its jobs stay as they are.", order=order.number)
        raise Conflict("order", closed, call)
    refuse_closed(link.estimate)
    _refuse_unseen(link.estimate, estimate_sha256)
    _refuse_consent(link.estimate, consent, needed=True)
    answers = expanded(link.estimate, answers, options or [])
    if answers:
        _answered_jobs(
            link.estimate, answers
        )  # a job that is unknown or named twice is told before one that is left out
    waiting = waiting_jobs(link.estimate)
    missing = [job for job in waiting if str(job.pk) not in {str(one["job"]) for one in answers}]
    if missing:
        listed = ", ".join(str(job.number) for job in missing)
        remedy = "Accept or decline every job, and choose where there is a choice: the link works once."
        raise Refused("answers", Told("No answer for job {jobs}.", jobs=listed), remedy)
    _record(link.estimate, answers, given.by_link(said_by=said_by, words=words), consent=consent, by=None)
    link.used_at = timezone.now()
    link.version += 1
    link.save(update_fields=["used_at", "version", "updated_at"])
    return link


def _refuse_unsigned(estimate: Estimate, answers: list[Facts], channel: str) -> None:
    """A spoken yes is none where a law wants a written one before the work; declining, and later changes, may be spoken."""
    if channel != Answer.Channel.PHONE or not any(one["accepted"] for one in answers):
        return
    law = signed_first(estimate.order, estimate.customer_total)
    if law is None or authorised_in_writing(estimate.order):
        return
    remedy = (
        "Send the link, or let the customer sign in the shop. Where the customer wants no estimate, record that first at "
        f"orders/{estimate.order_id}/estimate-asked/."
    )
    raise Refused("channel", f"Before any work the customer authorises it in writing: {law.source}.", remedy)


def _refuse_unseen(estimate: Estimate, digest: str) -> None:
    """The answer names what it answers: the SHA-256 that stood beside the estimate."""
    if digest != sheet_digest(estimate.facts):
        problem = "It is not said which text is answered." if not digest else "Another text than this is answered."
        raise Refused("estimate_sha256", problem, "Send the 'estimate_sha256' that came with the estimate.")


def _refuse_consent(estimate: Estimate, version: str, *, needed: bool) -> None:
    asked = consent_of(estimate.facts)
    if asked is None or (not version and not needed):
        return
    if version != asked["version"]:
        problem = "Nobody has agreed to electronic records." if not version else "These words were not shown."
        remedy = Told(
            "Read them and send their version, '{version}'; or answer by telephone or in the shop.",
            version=asked["version"],
        )
        raise Refused("consent", problem, remedy)


def waiting_jobs(estimate: Estimate) -> list[Job]:
    """Jobs of this version that wait for the customer: proposed, and not answered on this version."""
    ids = [one["id"] for one in estimate.facts["jobs"]]
    rows = Job.objects.for_shop(estimate.shop).filter(pk__in=ids, state=Job.State.PROPOSED)
    return list(rows.exclude(answers__estimate=estimate).order_by("number"))


def _record(estimate: Estimate, answers: list[Facts], how: Facts, *, consent: str, by: Staff | None) -> None:
    """Checks every answer first, then writes all of them, and asks for the copy that shows them."""
    jobs = _answered_jobs(estimate, answers)
    choices = check_choices(estimate, answers)
    shown = _shown(estimate)
    for one in answers:
        job, accepted = jobs[one["job"]], one["accepted"]
        frozen, option = scope.frozen_job(estimate.facts, job) or {}, one.get("option")
        told = agreed_words(estimate.facts, frozen, accepted=accepted)
        Answer.objects.create(
            shop=estimate.shop,
            estimate=estimate,
            job=job,
            accepted=accepted,
            agreed_words=f"{option['agree']} {told}" if option else told,
            option_id=option and UUID(option["id"]),
            consent_version=consent,
            consented_at=how["at"] if consent else None,
            **shown,
            **how,
        )
        state = str(Job.State.AGREED if accepted else Job.State.DECLINED)
        Job.objects.for_shop(estimate.shop).filter(pk=job.pk).update(state=state)
        if not accepted:
            stop_clocks(job, why="the customer declined the job")
        record_event(
            shop=estimate.shop,
            subject=job.subject,
            verb="agreed" if accepted else "declined",
            words=f"{estimate.number} version {estimate.edition}, {how['channel']}, said by {how['said_by']}",
            by=by,
            by_name=how["said_by"],
        )
    keep_choices(estimate, choices, how, by=by)
    request_answered_copy(estimate=estimate, by=by)


def _shown(estimate: Estimate) -> Facts:
    """The digests of what was answered: the facts as JSON, and the PDF if it was drawn."""
    paper = estimate.document.pdf if estimate.document is not None else None
    return {"facts_sha256": sheet_digest(estimate.facts), "paper_sha256": paper.sha256 if paper is not None else ""}


def _answered_jobs(estimate: Estimate, answers: list[Facts]) -> dict[UUID, Job]:
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
            twice = Told("Job {number} is answered twice.", number=job.number)
            wrong.append(Problem(field, twice, "Answer each job once."))
        else:
            forbidden += _forbidden(field, estimate, job, frozen, one["accepted"])
            seen.add(job.pk)
    refuse_all(wrong)
    if forbidden:
        raise Conflict(problems=forbidden)
    return jobs


def _forbidden(field: str, estimate: Estimate, job: Job, frozen: Facts, accepted: bool) -> list[Problem]:
    """Why this job cannot be answered so any more, if it cannot."""
    newer = "Ask the shop for a new version of the estimate."
    if any(answer.estimate_id == estimate.pk for answer in job.answers.all()):
        return [Problem(field, Told("Job {number} is answered on this version.", number=job.number), newer)]
    if job.state in (Job.State.DONE, Job.State.STRUCK):
        ended = Told("Job {number} is {state} now.", number=job.number, state=Told(job.get_state_display()))
        return [Problem(field, ended, "Leave it out.")]
    more = scope.exceeds(job, frozen) or scope.reworded(job, estimate.facts)
    if accepted and more:
        return [Problem(field, Told("Job {number} has changed since ({what}).", number=job.number, what=more), newer)]
    if not accepted and any(part.fitted_at for part in job.parts.all()):
        begun = Told("Job {number} has begun: a part is fitted.", number=job.number)
        return [Problem(field, begun, "Call the shop about it.")]
    return []
