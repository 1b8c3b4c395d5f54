"""From a decision to who pays: sets a job's payer through orders, which prints the ground and never interprets it."""

from __future__ import annotations

from django.db import transaction

from orders.models import Finding, Job
from orders.services.jobs import set_payer_basis
from orders.services.wording import paper_language
from shopdocs.documents.press.values import day_words
from shopdocs.documents.press.words import Say, words
from shopdocs.rest.refusals import Conflict, NotYours, Refused
from shopdocs.rest.roles import DESK
from shopdocs.shops.models import Shop, Staff
from warranty.coverage.vocabulary import CANNOT_SAY, COVERED
from warranty.models import CoverageDecision

from .decision_words import ANSWERS, carrying_term, frozen_record
from .repairs import BASIS

REMEDY = "Leave the job to the customer, or choose goodwill or the shop at the job itself."


def newest_decisions(shop: Shop, findings: list[Finding]) -> dict[object, CoverageDecision]:
    """The newest decision of each of these findings that has one, by finding id."""
    rows = CoverageDecision.objects.for_shop(shop).filter(finding__in=findings).order_by("created_at", "id")
    return {row.finding_id: row for row in rows}


@transaction.atomic
def set_job_payer_from_decision(*, shop: Shop, by: Staff, job: Job, decision: CoverageDecision, note: str = "") -> Job:
    """Says who pays on the ground of a decision.

    Covered: warranty, or the shop where its own warranty covers. 'Cannot say yet', or covered by one of several terms of
    which only some are the shop's own: only with a note of the office, and then warranty.
    Raises Conflict for a decision that is not the newest, or while a finding of the job is not covered.
    """
    findings = sorted(job.findings.all(), key=lambda one: one.number)
    if decision.order_id != job.order_id or all(one.pk != decision.finding_id for one in findings):
        raise Refused("decision", "It decides no finding of this job.", "Use a decision of one of the job's findings.")
    newest = newest_decisions(shop, findings)
    if newest[decision.finding_id].pk != decision.pk:
        raise Conflict(
            "decision", "The finding was decided again since.", f"Use decision {newest[decision.finding_id].pk}."
        )
    doubt = _doubt(findings, newest)
    if doubt and not note.strip():
        remedy = "Get the facts that settle it and decide again, or let the office set it with a note."
        raise Conflict("note", f"{doubt} It cannot be set to warranty without a word of the office.", remedy)
    if doubt and not DESK & set(by.roles):
        raise NotYours("note", "Setting a doubtful job to warranty is the office's.", "Ask the office.")
    record = frozen_record(decision)
    payer = "shop" if decision.answer == COVERED and record.get("payer") == "shop" else "warranty"
    say = words(paper_language(shop, job.order.customer))
    return set_payer_basis(
        job=job, kind=BASIS, id=str(decision.pk), words=_words(decision, note.strip(), say), hash=decision.sha256, payer=payer,
        by=by,
    )  # fmt: skip


def _doubt(findings: list[Finding], newest: dict[object, CoverageDecision]) -> str:
    """Why the job is not plainly covered, '' when it is; raises Conflict when some finding is decided against."""
    doubt = ""
    for one in findings:
        decision = newest.get(one.pk)
        if decision is None:
            doubt = doubt or f"Finding {one.number} is not decided yet."
        elif decision.answer == CANNOT_SAY:
            doubt = doubt or f"Finding {one.number}: it cannot be said yet whether it is covered."
        elif decision.answer == COVERED and frozen_record(decision).get("payer") == "open":
            doubt = (
                doubt
                or f"Finding {one.number}: it is covered, but by a warranty or by the shop's own is not known yet."
            )
        elif decision.answer != COVERED:
            answer = ANSWERS[decision.answer].lower()
            apart = " Or give the covered findings a job of their own." if len(findings) > 1 else ""
            raise Conflict("decision", f"Finding {one.number} is '{answer}'.", REMEDY + apart)
    return doubt


def _words(decision: CoverageDecision, note: str, say: Say) -> str:
    """What the customer's papers say about it. A law's title is ours and is said in their language; a maker's stays as it was given."""
    tried = carrying_term(frozen_record(decision))
    answer = "" if decision.answer == COVERED else say(ANSWERS[decision.answer])
    by = say(tried["title"]) if tried else ""
    # The paper names the payer before these words: 'Warranty: Federal emission warranty ...'.
    ground = ": ".join(part for part in (answer, by) if part) or say(ANSWERS[decision.answer])
    said = f"{ground} ({say('our advice, as of')} {day_words(decision.as_of, say)})"
    return f"{said}. {note}"[:500] if note else said[:500]
