"""What the customer has agreed to, and whether a job is still within it.

A job may always become less than was agreed. As soon as it becomes more (another part, more hours, a dearer price,
a bill that moves to the customer) it is 'proposed' again and needs a new version of the estimate.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from orders.models import Answer, Job

CUSTOMER = str(Job.Payer.CUSTOMER)


def latest_answer(job: Job) -> Answer | None:
    """The customer's newest answer to this job, by version of the estimate."""
    answers: Any = Answer.objects.for_shop(job.shop)
    answer: Answer | None = answers.filter(job=job).select_related("estimate").order_by("-estimate__edition").first()
    return answer


def frozen_job(facts: dict[str, Any], job: Job) -> dict[str, Any] | None:
    """The job as an estimate's facts hold it, or None when it is not on that version."""
    return next((one for one in facts["jobs"] if one["id"] == str(job.pk)), None)


def exceeds(job: Job, frozen: dict[str, Any]) -> str:
    """In words, what the job now has beyond the frozen one; '' when it is within it."""
    if job.payer == CUSTOMER and frozen["payer"] != CUSTOMER:
        return "the customer pays it now"
    hours = {line["id"]: Decimal(line["tenths"]) / 10 for line in frozen["labour"]}
    rates = {line["id"]: Decimal(line["rate"]) for line in frozen["labour"]}
    for line in job.labour.all():
        if line.hours > hours.get(str(line.pk), Decimal(0)):
            return f"more labour: {line.words}"
        if line.rate is not None and line.rate > rates[str(line.pk)]:
            return f"a higher rate: {line.words}"
    parts = {line["id"]: line for line in frozen["parts"]}
    for part in job.parts.all():
        agreed = parts.get(str(part.pk))
        if agreed is None or part.quantity > Decimal(agreed["quantity"]):
            return f"more parts: {part.words}"
        if part.unit_price > Decimal(agreed["unit_price"]):
            return f"a higher price: {part.words}"
    return ""


def settle(job: Job) -> str:
    """Brings the job's state in line with the customer's answer after its content changed; returns the state.

    Agreed stays agreed while the job is within what was agreed, and comes back when it is within it again. A declined
    job that was changed is a new proposal.
    """
    answer = latest_answer(job)
    state = str(Job.State.PROPOSED)
    if answer is not None and answer.accepted and job.state != Job.State.DECLINED:
        frozen = frozen_job(answer.estimate.facts, job)
        if frozen is not None and not exceeds(job, frozen):
            state = str(Job.State.AGREED)
    if job.state != state:
        Job.objects.for_shop(job.shop).filter(pk=job.pk).update(state=state)
        job.state = state
    return state
