"""The labour of frozen jobs beside one another: what its payer's jobs share is charged once, for every choice of jobs.

Each job is frozen with the operations of its lines and their work steps (`labour_set`), so that any choice of jobs, of
one version of an estimate or of several, is timed from what stood on it, whatever the guide says by now.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from orders.models import Job
from orders.rules import messages
from orders.rules.clocked import limited, most_paid
from orders.rules.labour import LabourTime, Rounding
from orders.rules.labour_guide import LessWith, WorkStep
from orders.rules.labour_jobs import JobTime, JobWork, WorkLine, order_labour
from orders.rules.messages import IN_ENGLISH
from shopdocs.documents.press.words import Words
from shopdocs.problems import BadInput
from shopdocs.rest.refusals import Refused

Facts = dict[str, Any]


def frozen_work(work: JobWork) -> Facts:
    """The operations and steps of a job as JSON."""
    return {
        "lines": [
            {
                "id": line.key,
                "code": line.code,
                "words": line.words,
                "steps": list(line.steps),
                "hours": None if line.hours is None else f"{line.hours:f}",
                "includes": list(line.includes),
                "less_with": [{"operation": pair.operation, "hours": f"{pair.hours:f}"} for pair in line.less_with],
            }
            for line in work.lines
        ],
        "steps": [
            {
                "key": step.key,
                "words": step.words,
                "minutes": f"{step.minutes:f}",
                "needs": list(step.needs),
                "undoes": list(step.undoes),
                "repeats": step.repeats,
            }
            for step in work.steps.values()
        ],
    }


def work_of(facts: Facts) -> JobWork:
    """What was frozen of a job, of the lines that are on it still."""
    here = {line["id"] for line in facts["labour"]}
    work = read_work(facts["labour_set"], int(facts["number"]))
    return JobWork(work.number, tuple(line for line in work.lines if line.key in here), work.steps)


def read_work(frozen: Facts, number: int) -> JobWork:
    """`frozen_work` read back, as the work of the job of this number."""
    lines = tuple(
        WorkLine(
            key=one["id"],
            code=one["code"],
            words=one["words"],
            steps=tuple(one["steps"]),
            hours=None if one["hours"] is None else Decimal(one["hours"]),
            includes=tuple(one["includes"]),
            less_with=tuple(LessWith(pair["operation"], Decimal(pair["hours"])) for pair in one["less_with"]),
        )
        for one in frozen["lines"]
    )
    steps = {
        one["key"]: WorkStep(
            one["key"], one["words"], Decimal(one["minutes"]), tuple(one["needs"]), tuple(one["undoes"]), one["repeats"]
        )
        for one in frozen["steps"]
    }
    return JobWork(number, lines, steps)


def sets_of(jobs: Iterable[Facts]) -> list[list[Facts]]:
    """The jobs whose labour is borne alike, in the order given; jobs that were frozen before this was known are in none.

    What is shared goes from job to job only where that moves nothing from one payer to another.
    """
    found: dict[str, list[Facts]] = {}
    for job in jobs:
        if job.get("labour_set") is not None:
            found.setdefault(borne_by(job), []).append(job)
    return list(found.values())


def borne_by(job: Facts) -> str:
    """Who bears the job's labour: a payer, or shares of several."""
    alone = job["payer_of"].get("labour") or job["labour_set"].get("borne_by")
    return str(alone or (json.dumps(job["shares"], sort_keys=True) if job["shares"] else job["payer"]))


def rounding_rules(labour_set: Facts) -> Facts:
    """How each payer rounds minutes, and by whose rule, as it was frozen; facts that are older knew the distributor's rule alone."""
    found: Facts | None = labour_set.get("roundings")
    if found is None:
        usual = {"rounding": str(Rounding.HALF_UP), "by": "the shop's usual rule"}
        of_warranty = labour_set.get("warranty_rounding", str(Rounding.HALF_UP))
        found = {str(payer): usual for payer in Job.Payer.values}
        found[str(Job.Payer.WARRANTY)] = {"rounding": of_warranty, "by": "the distributor's rule"}
    return found


def rule_of(job: Facts) -> Facts:
    """`rounding`, and `by` whose rule, for the payer of a frozen job's labour."""
    payer: str = (job.get("payer_of") or {}).get("labour") or job["payer"]
    rule: Facts = rounding_rules(job.get("labour_set") or {})[payer]
    return rule


def rounding_of(job: Facts) -> Rounding:
    """How the payer of the job's labour rounds minutes."""
    return Rounding(rule_of(job)["rounding"])


def times_of(jobs: Sequence[Facts]) -> tuple[JobTime, ...]:
    """The times of the jobs of one set, in the order given. Raises Refused for what the guide got wrong."""
    try:
        return order_labour([work_of(job) for job in jobs], rounding_of(jobs[0]))
    except BadInput as bad:
        raise Refused(bad.field, bad.problem, bad.remedy) from bad


def put_parts(jobs: Iterable[Facts]) -> None:
    """Writes into frozen jobs what each line adds beside the others (`tenths`), and how that came about (`labour_time`).

    A line that stands for no operation keeps its own time. The order is that in which the jobs carry what they share.
    """
    for together in sets_of(jobs):
        for job, time in zip(together, times_of(together), strict=True):
            for line in job["labour"]:
                part = time.parts.get(line["id"])
                line["tenths"] = line["guide_tenths"] if part is None else int(part * 10)
                line.pop("limited", None)
                line.pop("limited_told", None)
            job["labour_time"] = _facts(time) if time.parts else None


def put_together(jobs: Iterable[Facts]) -> None:
    """As `put_parts`, with diagnosis cut to what is charged of it at most."""
    jobs = list(jobs)
    put_parts(jobs)
    for job in jobs:
        limit_diagnosis(job)


def put_beside(jobs: Iterable[Facts], done: Sequence[Facts]) -> None:
    """As `put_together` for these jobs beside those whose work is done (`labour_agreed.labour_done`), which stay as they are."""
    put_together(sorted([*copy.deepcopy(list(done)), *jobs], key=lambda job: int(job["number"])))


def limit_diagnosis(facts: Facts) -> None:
    """Cuts the diagnosis of a frozen job to the hours that the shop charges at most, and says so on the lines."""
    limit = (facts.get("labour_set") or {}).get("diagnosis_limit")
    payer = facts["payer_of"].get("labour", facts["payer"])
    if limit is None or payer != Job.Payer.CUSTOMER:
        return
    left = Decimal(limit)
    for line in facts["labour"]:
        if line["diagnosis"]:
            asked = Decimal(line["tenths"]) / 10
            hours, line["limited"] = limited(asked, left)
            line["limited_told"] = [list(most_paid(asked, left))] if line["limited"] else []
            line["tenths"] = int(hours * 10)
            left -= hours


def time_facts(time: LabourTime) -> Facts:
    """A set's time as facts: figures in hours, and how it came about in words."""
    words = {one.operation: one.words for one in time.operations}
    return {
        "hours": f"{time.hours:f}",
        "separate": f"{time.separate:f}",
        "saved": f"{time.saved:f}",
        "saving": time.saving if time.saved else "",
        "shared": [list(one) for one in time.reasons] if time.saved else [],
        "rounding": str(time.rounding),
        "overlap_not_known": [
            list(pair) for pair in dict.fromkeys((words[one], words[other]) for one, other in time.unknown_overlaps)
        ],
        "how": [
            {"text": step.text, "amount": None if step.amount is None else f"{step.amount:f}"} for step in time.steps
        ],
    }


def _facts(time: JobTime) -> Facts:
    """The job's time by itself, then what it is beside the others: `alone` and `hours`, and why they differ (`beside`)."""
    told = time_facts(time.alone)
    for number, pairs in time.unknown.items():
        told["overlap_not_known"] += [list(pair) for pair in pairs]
        told["how"] += [{"text": _not_known(*pair, number), "amount": None} for pair in pairs]
    if not time.saved:
        return {**told, "alone": told["hours"], "beside": None}
    shared = [{"job": number, "reasons": [list(one) for one in why]} for number, why in time.shared.items()]
    beside = {"saved": f"{time.saved:f}", "shared": shared}
    how = [*told["how"], {"text": beside_words(beside, IN_ENGLISH), "amount": f"{time.saved:f}"}]
    return {**told, "hours": f"{time.hours:f}", "alone": told["hours"], "beside": beside, "how": how}


def _not_known(mine: str, other: str, job: int) -> str:
    return f"Whether {mine} and {other} of job {job} share work is not recorded; both count in full."


def beside_words(beside: Facts | None, say: Words) -> str:
    """'0.3 h saved: cover off once, with job 1.'; where only rounding once makes a tenth, that; '' where nothing is shared."""
    if beside is None:
        return ""
    saved = Decimal(beside["saved"])
    if beside["shared"] and saved > 0:
        with_job = say("{reasons}, with job {number}")
        listed = [
            with_job.format(reasons=messages.told(one["reasons"], say, ", "), number=one["job"])
            for one in beside["shared"]
        ]
        return say("{hours} h saved: {reasons}.").format(hours=saved, reasons="; ".join(listed))
    if saved > 0:
        return say("{hours} h less: the minutes of the jobs are rounded once, together.").format(hours=saved)
    return say("{hours} h more: the minutes of the jobs are rounded once, together.").format(hours=-saved)
