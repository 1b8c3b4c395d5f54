"""The labour of jobs that were agreed: beside the others that were, and as it is billed after what changed since."""

from __future__ import annotations

import copy
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from uuid import UUID

from orders.models import Answer, Estimate, Job, JobLabour, RepairOrder

from .agreement import most_beside
from .frozen import jobs_of
from .labour_sets import Steps, put_time, shop_steps
from .labour_together import borne_by, limit_diagnosis, put_parts, put_together, rounding_rules, sets_of
from .scope import CUSTOMER, frozen_job, latest_answer

Facts = dict[str, Any]
PAYERS = ("payer", "shares", "payer_of")


@dataclass(frozen=True, slots=True)
class Agreed:
    """A job that the customer agreed to, with that answer; `facts`: as it stands on an estimate, beside the others agreed to.

    `terms` are that estimate's facts: of the version that was answered, or of a newer one that asks less for the job.
    """

    job: Job
    answer: Answer
    facts: Facts
    terms: Facts


def agreed_jobs(jobs: Iterable[Job]) -> list[Agreed]:
    """Those of these jobs that the customer agreed to, in the same order, timed as the choice that they make.

    Each stands as it was frozen on the version on which it was agreed to, or on the newest that lists it where the customer was
    told there that it costs them less; what it shares with a job that is not among them it bears itself, as that version said.
    """
    found, newer = [], dict[UUID, list[Facts]]()
    for job in jobs:
        answer = latest_answer(job)
        terms: Facts | None = answer.estimate.facts if answer is not None and answer.accepted else None
        frozen = None if terms is None else frozen_job(terms, job)
        if answer is None or terms is None or frozen is None:
            continue
        if job.order_id not in newer:
            newer[job.order_id] = _newest_first(job)
        later = next((one for one in newer[job.order_id] if frozen_job(one, job) is not None), terms)
        if later["edition"] > terms["edition"]:
            told = frozen_job(later, job)
            if told is not None and _asks_less(later, told, terms, frozen):
                terms, frozen = later, told
        found.append(Agreed(job, answer, copy.deepcopy(frozen), terms))
    put_together(row.facts for row in found)
    return found


def _newest_first(job: Job) -> list[Facts]:
    """The facts of the versions of the order's estimate after the first."""
    rows = Estimate.objects.for_shop(job.shop_id).filter(order=job.order_id, edition__gt=1).order_by("-edition")
    return [row.facts for row in rows]


def _asks_less(later: Facts, told: Facts, terms: Facts, agreed: Facts) -> bool:
    """Whether a later version asks less of the customer for a job with the same payers, and no more whichever others are chosen."""
    inside = [bool((one.get("pricing") or {}).get("inclusive")) for one in (later, terms)]
    if inside[0] != inside[1] or any(told[name] != agreed[name] for name in PAYERS):
        return False
    return Decimal(told["customer_pays"]) < Decimal(agreed["customer_pays"]) and _most(told) <= _most(agreed)


def _most(job: Facts) -> Decimal:
    return Decimal(most_beside(job) or job["customer_pays"])


def labour_done(order: RepairOrder) -> list[Facts]:
    """The labour of the order's done jobs, which an estimate of further jobs freezes: what is shared is charged with them."""
    kept = ("id", "number", *PAYERS, "labour_set")
    found = []
    for row in agreed_jobs(jobs_of(order, (str(Job.State.DONE),))):
        here = {str(line.pk) for line in row.job.labour.all()}
        lines = [line for line in row.facts["labour"] if line["id"] in here]
        if row.facts.get("labour_set") and lines:
            found.append({**{name: row.facts[name] for name in kept}, "labour": lines})
    return found


def bear_turned_over(rows: Sequence[Agreed], turned: Collection[UUID]) -> None:
    """Counts the labour of warranty jobs that were `turned` over to the customer among what the customer bears.

    What they share with jobs that the warranty goes on paying is theirs then. Where several share such a job, each goes on
    bearing as it was agreed.
    """
    for row in rows:
        alone = not row.facts["shares"] and not row.facts["payer_of"]
        if row.job.pk in turned and row.facts.get("labour_set") and alone:
            row.facts["labour_set"]["borne_by"] = CUSTOMER
    put_together(row.facts for row in rows)


def own_tenths(line: Facts) -> int:
    """A frozen line's own time, which stands beside its part of the set."""
    return int(line["guide_tenths"] if "guide_tenths" in line else line["tenths"])


def put_time_as_agreed(job: Job, facts: Facts, steps: Steps, limit: str | None, roundings: Facts | None = None) -> None:
    """As `put_time`, for a job that may stand on a version before: a line that is as it was agreed to keeps its operation
    and steps of that answer, so that what the guide says by now makes nothing dearer that the jobs share."""
    answer = latest_answer(job)
    agreed = frozen_job(answer.estimate.facts, job) if answer is not None and answer.accepted else None
    before: Facts = (agreed or {}).get("labour_set") or {"lines": []}
    own = {line["id"]: own_tenths(line) for line in (agreed or {}).get("labour", ())}
    now = {line["id"]: int(line["tenths"]) for line in facts["labour"]}
    kept = [line for line in before["lines"] if line["id"] in now and now[line["id"]] == own[line["id"]]]
    stand = {line["id"] for line in kept}
    rows = [row for row in job.labour.all() if str(row.pk) not in stand]
    put_time(job, facts, steps, limit, rows, roundings)
    if kept:
        _put_before(facts["labour_set"], kept, before["steps"])
        put_together([facts])


def _put_before(now: Facts, lines: list[Facts], steps: list[Facts]) -> None:
    """Puts lines of an earlier set before those of this one; a step that both have is as it was there."""
    known = {line["id"] for line in lines}
    now["lines"] = [*lines, *(line for line in now["lines"] if line["id"] not in known)]
    now["steps"] = list({one["key"]: one for one in (*now["steps"], *steps)}.values())


def freeze_set_now(job: Job, facts: Facts, agreed: Facts) -> None:
    """Freezes the set that is on the job now. Lines agreed to take part as they were agreed, at their agreed own time."""
    known = {line["id"]: own_tenths(line) for line in agreed["labour"]}
    own = {line["id"]: int(line["tenths"]) for line in facts["labour"]}
    before: Facts = agreed.get("labour_set") or {"lines": [], "steps": [], "diagnosis_limit": None}
    rows: list[JobLabour] = []
    for row in job.labour.all():
        stood = copy.copy(row)
        stood.hours = Decimal(known.get(str(row.pk), own[str(row.pk)])) / 10
        rows.append(stood)
    rules = rounding_rules(before) if agreed.get("labour_set") else None
    put_time(job, facts, shop_steps(job.shop), before["diagnosis_limit"], rows, rules)
    if "borne_by" in before:
        facts["labour_set"]["borne_by"] = before["borne_by"]  # turned over to the customer, whatever it has grown to
    if before["lines"]:
        _put_before(facts["labour_set"], before["lines"], before["steps"])
    for line in facts["labour"]:
        line["guide_tenths"] = known.get(line["id"], own[line["id"]])


def put_time_done(rows: Sequence[Agreed], done: Sequence[Facts], grown: Collection[Any] = ()) -> None:
    """Writes the labour of these jobs as it is billed: the union of the lines that are left, each at its agreed own time.

    A line that was shortened since adds no more than its hours; one that was lengthened adds what is more where its job is
    `grown` (by id). Never more than was agreed for what one payer bears, also with jobs that another has come to pay since:
    where it would be, each line stays at its part.
    """
    stood = {borne_by(one[0]): one for one in sets_of(row.facts for row in rows)}
    agreed = [
        {**copy.deepcopy(row.facts), **{name: one[name] for name in PAYERS}}
        for row, one in zip(rows, done, strict=True)
    ]
    put_together(agreed)  # as agreed, for those who pay now
    parts = _parts_of(agreed)
    cost = {job["id"]: _cost(job) for job in agreed}
    hours = {str(line.pk): int(line.hours * 10) for row in rows for line in row.job.labour.all()}
    more = {str(pk) for pk in grown}
    put_parts(done)
    told = {line["id"]: line["tenths"] for job in done for line in job["labour"]}
    for job in done:
        for line in job["labour"]:
            line["tenths"] = _changed(line, hours[line["id"]], grown=job["id"] in more)
        limit_diagnosis(job)
    for together in sets_of(done):
        if not any(job["id"] in more for job in together):
            _bound(together, sum((cost[job["id"]] for job in together), Decimal(0)), parts, hours)
            before = stood.get(borne_by(together[0]), [])
            if {job["id"] for job in together} <= {job["id"] for job in before}:
                _bound(together, sum(map(_cost, before), Decimal(0)), _parts_of(before), hours)
    for job in done:
        if any(told[line["id"]] != line["tenths"] and not line.get("limited") for line in job["labour"]):
            _tell(job)


def _bound(jobs: Sequence[Facts], most: Decimal, parts: Mapping[str, int], hours: Mapping[str, int]) -> None:
    """Puts each line at its part of these where the jobs' labour would cost more than `most`."""
    if sum(map(_cost, jobs)) > most:
        for line in (line for job in jobs for line in job["labour"]):
            line["tenths"] = _changed({**line, "tenths": parts[line["id"]]}, hours[line["id"]], grown=False)


def _parts_of(jobs: Iterable[Facts]) -> dict[str, int]:
    return {line["id"]: int(line["tenths"]) for job in jobs for line in job["labour"]}


def _changed(line: Facts, now: int, *, grown: bool) -> int:
    """A line's tenths with its own time as it is now."""
    part, own = int(line["tenths"]), own_tenths(line)
    return min(part, now) if now < own else part + (now - own if grown else 0)


def _cost(job: Facts) -> Decimal:
    return sum((int(line["tenths"]) * Decimal(line["rate"]) for line in job["labour"]), Decimal(0))


def _tell(facts: Facts) -> None:
    """What is told of the set agrees with what its lines are billed at."""
    time = facts.get("labour_time")
    if time is None:
        return
    in_set = {line["id"] for line in facts["labour_set"]["lines"]}
    billed = Decimal(sum(int(line["tenths"]) for line in facts["labour"] if line["id"] in in_set)) / 10
    if billed == Decimal(time["hours"]):
        return
    hours = f"{billed:.1f}"
    how = [*time["how"], {"text": "Billed, after what was agreed and changed since", "amount": hours}]
    figures: Facts = {
        "hours": hours,
        "separate": hours,
        "alone": hours,
        "saved": "0.0",
        "saving": "",
        "shared": [],
        "beside": None,
    }
    facts["labour_time"] = {**time, **figures, "how": how}
