"""Whether the decision that a job's payer rests on still stands: against newer decisions, and against the records as they are."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from orders.models import Job, RepairOrder
from shopdocs.documents.press.words import words as words_in
from shopdocs.rest.refusals import Conflict, Problem
from shopdocs.shops.models import Shop
from warranty.coverage.vocabulary import COVERED, NO_FAULT, NOT_COVERED
from warranty.models import CoverageDecision

from .basis import newest_decisions
from .decide import ask_order
from .decision_words import ANSWERS, carrying_term, frozen_record, spoken
from .repairs import BASIS

ENGLISH = words_in("en")
DECIDE = "Correct what is wrong in the records, or decide the order's findings anew (POST orders/{id}/decisions/)."
UNPAID = "What is not covered any more is not claimed; nothing moves to the customer without a new answer."
OPEN = "Set the payer anew: by the decision that holds (jobs/{id}/basis/), or to customer, shop or goodwill at the job."


def standing_decision(job: Job, basis: CoverageDecision) -> CoverageDecision:
    """The newest decision of the finding that carries the job's ground. Raises Conflict when it, or what is on record now,
    no longer says what the payer was set by."""
    problems = list(_against(job, basis, UNPAID))
    if problems:
        raise Conflict(problems=problems[:1])
    newest = newest_decisions(job.shop, [basis.finding])[basis.finding_id]
    return newest if newest.answer == COVERED else basis


def payers_that_fell(order: RepairOrder) -> Iterator[Problem]:
    """For orders, before an estimate is frozen: jobs whose warranty has lost its ground."""
    jobs = Job.objects.for_shop(order.shop).filter(order=order, basis_kind=BASIS).exclude(
        state__in=(Job.State.DONE, Job.State.STRUCK, Job.State.DECLINED)
    )  # fmt: skip
    for job in jobs.prefetch_related("findings").order_by("number"):
        basis = _basis(order.shop, job)
        if basis is not None:
            yield from list(_against(job, basis, OPEN))[:1]


def _basis(shop: Shop, job: Job) -> CoverageDecision | None:
    found: CoverageDecision | None = (
        CoverageDecision.objects.for_shop(shop).filter(pk=job.basis_id).select_related("finding", "order").first()
    )
    return found


def _against(job: Job, basis: CoverageDecision, further: str) -> Iterator[Problem]:
    """What speaks against the job's ground. A payer set with the office's note rests on 'cannot say yet': only a plain
    no speaks against that."""
    firm = basis.answer == COVERED
    findings = sorted(job.findings.all(), key=lambda one: one.number)
    newest = newest_decisions(job.shop, findings)
    for finding in findings:
        later = newest.get(finding.pk)
        if later is not None and later.created_at > basis.created_at and _speaks_against(later.answer, firm):
            words = (
                f"Job {job.number}: finding {finding.number} was decided again, as of {spoken(later.as_of, ENGLISH)}"
            )
            yield Problem("payer", f"{words}: {ANSWERS[later.answer].lower()}.", further)
    now = {row.finding_id: row for row in ask_order(shop=job.shop, order=job.order, as_of=basis.as_of)}
    for finding in findings:
        found = now[finding.pk]
        if _speaks_against(found.answer, firm):
            told = f"Job {job.number}: what is recorded now says '{ANSWERS[found.answer].lower()}' for finding {finding.number}"
            yield Problem("payer", f"{told}, as of {spoken(basis.as_of, ENGLISH)}.", f"{DECIDE} {further}")
    held = newest.get(basis.finding_id, basis)
    if firm and held.answer == COVERED and _ground(held) != _ground(_as_of(job, held, now, basis)):
        yield Problem(
            "payer",
            f"Job {job.number}: the records have changed since finding {basis.finding.number} was decided, and with them the "
            "ground of the cover.",
            "Decide the order's findings anew (POST orders/{id}/decisions/); the newest decision is then the ground.",
        )


def _speaks_against(answer: str, firm: bool) -> bool:
    return answer != COVERED and (firm or answer in (NOT_COVERED, NO_FAULT))


def _as_of(
    job: Job, held: CoverageDecision, now: dict[Any, CoverageDecision], basis: CoverageDecision
) -> CoverageDecision:
    """The present answer as of the day of the decision that is held."""
    if held.as_of == basis.as_of:
        return now[held.finding_id]
    again = ask_order(shop=job.shop, order=job.order, as_of=held.as_of)
    return next(row for row in again if row.finding_id == held.finding_id)


def _ground(decision: CoverageDecision) -> str:
    """The term that carries the answer, with its steps and last days, as one text."""
    return json.dumps(carrying_term(frozen_record(decision)), sort_keys=True, default=str)
