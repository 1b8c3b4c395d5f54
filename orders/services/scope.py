"""What the customer has agreed to, and whether a job is still within it.

A job may always become less than was agreed. As soon as it becomes more (another part, more hours, a dearer price,
a bill that moves to the customer) or says something else than what was agreed to, it is 'proposed' again and needs a
new version of the estimate.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from orders.models import Answer, Finding, Job
from orders.models.jobs import JobFee
from shopdocs.documents.press.words import words
from shopdocs.rest.refusals import Conflict, Problem, Told

from .came_back import charged_in, still_charged

CUSTOMER = str(Job.Payer.CUSTOMER)


def latest_answer(job: Job) -> Answer | None:
    """The customer's newest answer to this job, by version of the estimate."""
    answers: Any = Answer.objects.for_shop(job.shop_id)
    answer: Answer | None = answers.filter(job=job).select_related("estimate").order_by("-estimate__edition").first()
    return answer


def frozen_job(facts: dict[str, Any], job: Job) -> dict[str, Any] | None:
    """The job as an estimate's facts hold it, or None when it is not on that version."""
    return next((one for one in facts["jobs"] if one["id"] == str(job.pk)), None)


def exceeds(job: Job, frozen: dict[str, Any]) -> str:
    """In words, what the job now has beyond the frozen one; '' when it is within it."""
    other = other_payers(job, frozen)
    if other:
        return other
    # A line's own time stands beside what it was priced at among the others.
    hours = {line["id"]: Decimal(line.get("guide_tenths", line["tenths"])) / 10 for line in frozen["labour"]}
    rates = {line["id"]: Decimal(line["rate"]) for line in frozen["labour"]}
    for line in job.labour.all():
        if line.hours > hours.get(str(line.pk), Decimal(0)):
            return Told("more labour: {words}", words=line.words)
        if line.rate is not None and line.rate > rates[str(line.pk)]:
            return Told("a higher rate: {words}", words=line.words)
    parts = {line["id"]: line for line in frozen["parts"]}
    fees = list(job.fees.all())
    for part in job.parts.all():
        agreed = parts.get(str(part.pk))
        if agreed is None:
            return Told("more parts: {words}", words=part.words)
        (pieces, cores), (agreed_pieces, agreed_cores) = still_charged(part, fees), charged_in(agreed)
        if pieces > agreed_pieces:
            return Told("more parts: {words}", words=part.words)
        if part.core_charge and cores > agreed_cores:
            return Told("a core charge: {words}", words=part.words)
        if part.unit_price > Decimal(agreed["unit_price"]):
            return Told("a higher price: {words}", words=part.words)
        if part.core_charge > Decimal(agreed.get("core_charge") or 0):
            return Told("a core charge: {words}", words=part.words)
        if part.environment_charge > Decimal(agreed.get("environment_charge") or 0):
            return Told("an environment charge: {words}", words=part.words)
        if (part.discount_percent or 0) < Decimal(agreed.get("discount_percent") or 0):
            return Told("less discount: {words}", words=part.words)
    return _more_charges(job, frozen, fees)


def other_payers(job: Job, frozen: dict[str, Any]) -> str:
    """In words, how the bill moved to the customer, in whole or in part; '' when it did not."""
    from .splits import bears, customer_bears  # it settles, and what is settled stands in this module

    agreed = (frozen["payer"], frozen.get("shares") or [], frozen.get("payer_of") or {})
    if not customer_bears(job) or agreed == (CUSTOMER, [], {}):
        return ""
    if not bears(*agreed):
        return Told("the customer pays it now")
    return "" if agreed == (job.payer, job.shares, job.payer_of) else Told("the payers share it otherwise")


def reworded(job: Job, facts: dict[str, Any]) -> str:
    """In words, what the job now says otherwise than the customer read it in an estimate's facts; '' when nothing.

    Title, complaint, why now and what if not, what was found and that it is unsafe, what the discount is for. What was left
    empty on the estimate may be filled in, and what turns out to be unsafe later is held, not asked about.
    With findings the cause is not on the estimate: they are, with component, condition, cause, measurement and note.
    """
    from .charges import job_charges  # both freeze what is settled here
    from .frozen import found_words

    shop = facts["shop"]
    frozen = frozen_job(facts, job)
    if frozen is None:
        return ""
    if job.title != frozen["title"]:
        return Told("another title than '{title}'", title=frozen["title"])
    if frozen["complaint"] and job.complaint != frozen["complaint"]:
        return Told("another complaint")
    if any(frozen.get(name) and getattr(job, name) != frozen[name] for name in ("why_now", "if_not")):
        return Told("another reason")
    if frozen.get("unsafe") and not any(row.unsafe for row in job.findings.all()):
        return Told("it is not unsafe any more")
    if frozen["found"] and found_words(job, words(shop["language"]), shop.get("units")) != frozen["found"]:
        return Told("another cause") if not job.findings.exists() else Told("other findings")
    conditions = {line["id"]: (line.get("condition"), line.get("original")) for line in frozen["parts"]}
    for part in job.parts.all():
        condition, original = conditions.get(str(part.pk), (None, None))
        if condition and part.condition != condition:
            now, agreed = Told(f"{part.condition} part"), Told(f"{condition} part")
            return Told("{words} is a {now}, not a {agreed}", words=part.words, now=now, agreed=agreed)
        if original is not None and part.original != original:
            return Told("{words} is another make than was said", words=part.words)
    for was, now in zip(frozen.get("discounts") or (), job_charges(job)["discounts"], strict=False):
        if was["words"] != now["words"]:
            return Told("another discount than '{words}'", words=Told(was["words"]))
    return ""


def _more_charges(job: Job, frozen: dict[str, Any], listed: Iterable[JobFee]) -> str:
    """Fees beyond the frozen ones, a credit that is gone, or a smaller discount."""
    fees = {line["id"]: Decimal(line["price"]) for line in frozen.get("fees", ())}
    now = {str(fee.pk): fee for fee in listed}
    for pk, fee in now.items():
        if fee.amount > fees.get(pk, Decimal(0)):
            return Told("a fee: {words}", words=fee.words)
    if any(amount < 0 and pk not in now for pk, amount in fees.items()):
        return Told("a credit is gone")
    agreed = (frozen.get("discounts") or [{}])[0]
    if (job.discount_percent or 0) < Decimal(agreed.get("percent") or 0):
        return Told("less discount")
    if (job.discount_amount or 0) < Decimal(agreed.get("amount") or 0):
        return Told("less discount")
    return ""


def refuse_billed_twice(findings: Iterable[Finding]) -> None:
    """Conflict when one of the findings stands in a job that is neither struck nor declined."""
    problems = []
    for finding in findings:
        others = finding.jobs.exclude(state__in=(Job.State.STRUCK, Job.State.DECLINED)).order_by("number")
        if (other := others.first()) is not None:
            problems.append(
                Problem(
                    "findings",
                    f"Finding {finding.number} stands in job {other.number} already: it would be billed twice.",
                    "Add the work to that job, strike it, or send share_findings: true when both jobs are needed.",
                )
            )
    if problems:
        raise Conflict(problems=problems)


def settle(job: Job) -> str:
    """Brings the job's state in line with the customer's answer after its content changed; returns the state.

    Agreed stays agreed while the job is within what was agreed, and comes back when it is within it again. A declined
    job that was changed is a new proposal, refused when what it mends stands in another job by now. Beyond it, only what the shop's own rule and every law tolerate stays agreed.
    """
    from .authorised import tolerated  # it prices, and what is priced stands above this module

    answer = latest_answer(job)
    state = str(Job.State.PROPOSED)
    if answer is not None and answer.accepted and job.state != Job.State.DECLINED:
        frozen = frozen_job(answer.estimate.facts, job)
        if frozen is not None and not reworded(job, answer.estimate.facts):
            state = str(Job.State.AGREED) if not exceeds(job, frozen) or tolerated(job, frozen) else state
    if job.state == Job.State.DECLINED:
        refuse_billed_twice(job.findings.order_by("number"))
    if job.state != state:
        Job.objects.for_shop(job.shop).filter(pk=job.pk).update(state=state)
        job.state = state
    return state
