"""Declined jobs that leave a machine unsafe: the customer is told, and signs, before it is given back."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import OuterRef, Q, Subquery
from django.utils import timezone

from orders.models import Answer, Job, RepairOrder, SafetyNote
from shopdocs.documents.press.words import Say, words
from shopdocs.documents.services.papers import sheet_digest
from shopdocs.rest.refusals import Conflict, Problem, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event

from . import frozen, wording
from .holds import owners_word
from .reach import lock_order
from .records import given_in_address
from .signatures import use_signature


def unsafe_declined(order: RepairOrder) -> list[Job]:
    """Declined jobs with an unsafe finding that no done job of the order mends, by number; struck afterwards or not."""
    jobs = Job.objects.for_shop(order.shop).filter(order=order)
    answers = Answer.objects.for_shop(order.shop).filter(job=OuterRef("pk")).order_by("-estimate__edition")
    struck = Q(state=Job.State.STRUCK, wanted=False)
    mended = set(jobs.filter(state=Job.State.DONE).values_list("findings", flat=True))
    declined = jobs.annotate(wanted=Subquery(answers.values("accepted")[:1])).filter(
        Q(state=Job.State.DECLINED) | struck, findings__unsafe=True
    )
    left = declined.distinct().order_by("number").prefetch_related("findings", "safety_notes")
    return [job for job in left if any(row.unsafe and row.pk not in mended for row in job.findings.all())]


def refuse_unsigned(order: RepairOrder) -> None:
    """Conflict naming every declined unsafe job whose safety note, as it stands now, nobody has signed."""
    problems = [
        Problem(
            "safety_note",
            f"Job {job.number} ({job.title[:80]}) was declined, and the machine is unsafe without it.",
            f"Let the customer sign the safety note at jobs/{job.pk}/safety-note/ first.",
        )
        for job in unsafe_declined(order)
        if signed_note(job) is None
    ]
    if problems:
        raise Conflict(problems=problems)


def safety_words(job: Job, say: Say, units: str) -> str:
    """What is told and signed: the danger as it was found, and how the machine leaves."""
    unsafe = [frozen.finding_words(row, say, units) for row in job.findings.all() if row.unsafe]
    if job.if_not:
        unsafe.append(job.if_not)
    signed = say(
        "I was told that this machine is not safe to run. I have declined job {number}, {title}, take the machine back as "
        "it is, and will not run it or let others run it before this is put right."
    )
    return " ".join([*unsafe, signed.format(number=job.number, title=job.title)])


def signed_note(job: Job) -> SafetyNote | None:
    """The newest note that was signed about the danger as it stands now; None when what was told was another, or nothing."""
    notes = sorted(job.safety_notes.all(), key=lambda note: note.signed_at, reverse=True)
    about = _about(job)
    return next((note for note in notes if note.about in ("", about)), None)


def _about(job: Job) -> str:
    """A digest of what the note tells, whatever the language: the job, what happens if not, and each unsafe finding."""
    unsafe = sorted((row for row in job.findings.all() if row.unsafe), key=lambda row: row.number)
    dangers = [
        [row.number, row.component, row.condition, row.cause, frozen.measured(row, None), row.note] for row in unsafe
    ]
    return sheet_digest({"title": job.title, "if_not": job.if_not, "dangers": dangers})


def note_to_sign(job: Job) -> str:
    """The words of the note, in the customer's language and units."""
    shop, customer = job.shop, job.order.customer
    return safety_words(job, words(wording.paper_language(shop, customer)), wording.paper_units(shop, customer))


@transaction.atomic
def sign_safety_note(
    *, shop: Shop, by: Staff, job_id: UUID, signed_name: str, signature: UUID | None = None, kept: str = ""
) -> SafetyNote:
    """Records the customer's signed word on a declined job: drawn on the screen, or on paper, `kept` where it says.

    Refused without either, and from somebody of the shop; Conflict for a job that is not declined and unsafe, and where the
    danger as it stands now is signed already.
    """
    peek = given_in_address(Job, shop=shop, pk=job_id)
    order = lock_order(shop, peek.order_id)
    job: Any = next((row for row in unsafe_declined(order) if row.pk == job_id), None)
    if job is None:
        problem = f"Job {peek.number} is not declined with an unsafe finding."
        raise Conflict("job", problem, "A safety note is signed for such a job only.")
    if signed_note(job) is not None:
        problem = f"The safety note of job {job.number} is signed already."
        raise Conflict("job", problem, "Nothing is left to sign.")
    name = owners_word(order, signed_name)
    if signature is None and not kept.strip():
        remedy = "Let the customer sign on the screen, or say in 'kept' where the signed paper is."
        raise Refused("signature", "Nothing shows that the customer signed.", remedy)
    note = SafetyNote(
        shop=shop,
        job=job,
        words=note_to_sign(job) + (f" ({kept.strip()})" if kept.strip() else ""),
        about=_about(job),
        signed_name=name[:200],
        signed_at=timezone.now(),
        by=by.user,
    )
    if signature is not None:
        shown_at = max(row.created_at for row in job.findings.all() if row.unsafe)
        note.signature = use_signature(order=order, pk=signature, used_for=job.subject, shown_at=shown_at)
    note.save(force_insert=True)
    record_event(shop=shop, subject=job.subject, verb="safety note signed", words=f"by {name}", by=by, by_name=name)
    return note
