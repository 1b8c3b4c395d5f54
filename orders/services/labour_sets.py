"""The labour time of a job: the union of its operations' work steps, each once, rounded once by the payer's rule."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from orders.models import Job, JobLabour, LabourOperation, RepairOrder
from orders.models.catalogue import WorkStep as StepRecord
from orders.rules.clocked import ThreeTimes, limited, most_paid
from orders.rules.labour import LabourTime, Rounding, labour_time, tenths
from orders.rules.labour_guide import Guide, LessWith, Operation, WorkStep, guide
from shopdocs.problems import BadInput
from shopdocs.rest.refusals import Refused
from shopdocs.shops.models import Shop

from .time import clocked_seconds

Facts = dict[str, Any]
Steps = dict[str, WorkStep]


def shop_steps(shop: Shop) -> Steps:
    """The shop's work steps by key."""
    return {row.key: step_of(row) for row in StepRecord.objects.for_shop(shop).order_by("created_at", "id")}


def step_of(row: StepRecord) -> WorkStep:
    """A record as the labour rules take it. Raises BadInput for what they refuse."""
    return WorkStep(row.key, row.words, row.minutes, tuple(row.needs), tuple(row.undoes), row.repeats)


def guide_for(operations: Iterable[LabourOperation], steps: Steps) -> Guide:
    """A guide of these operations and the steps they need, nothing else. Operations are known by `keys_of`.

    Raises BadInput for an unknown step and for steps that need each other in a loop.
    """
    operations = list(operations)
    needed: dict[str, WorkStep] = {}
    waiting = [key for row in operations for key in row.steps]
    while waiting:
        key = waiting.pop()
        if key not in steps:
            raise BadInput("steps", f"The shop has no work step '{key[:60]}'.", "Add the step, or correct its key.")
        if key not in needed:
            needed[key] = steps[key]
            waiting.extend(steps[key].needs)
    ordered = [step for key, step in steps.items() if key in needed]
    undone = (
        WorkStep(s.key, s.words, s.minutes, s.needs, tuple(key for key in s.undoes if key in needed), s.repeats)
        for s in ordered
    )
    return guide(undone, _operations(operations))


def keys_of(rows: Iterable[LabourOperation]) -> list[str]:
    """A key for each: its record's id, and for one that is named again the id and which time it is."""
    times: dict[Any, int] = {}
    found = []
    for row in rows:
        times[row.pk] = times.get(row.pk, 0) + 1
        found.append(str(row.pk) if times[row.pk] == 1 else f"{row.pk}:{times[row.pk]}")
    return found


def _operations(rows: list[LabourOperation]) -> list[Operation]:
    """The rows as the rules take them; what they include and are shorter beside is followed by code, as far as chosen."""
    by_code: dict[str, list[str]] = {}
    keyed = list(zip(keys_of(rows), rows, strict=True))
    for key, row in keyed:
        by_code.setdefault(row.code, []).append(key)
    inside = _included(rows)
    found = []
    for key, row in keyed:
        steps = tuple(row.steps)
        pairs = () if steps else tuple(
            LessWith(other, Decimal(pair["hours"]) if again == 0 else Decimal(0))
            for pair in row.less_with
            for again, other in enumerate(by_code.get(pair["operation"], ()))
        )  # fmt: skip
        parts = tuple(other for code in inside.get(row.code, ()) for other in by_code.get(code, ()))
        found.append(Operation(key, row.words, steps, None if steps else row.hours, parts, pairs))
    return found


def _included(rows: list[LabourOperation]) -> dict[str, list[str]]:
    """The codes that each row includes, through operations that were not chosen too; itself never."""
    if not any(row.includes for row in rows):
        return {}
    every = LabourOperation.objects.for_shop(rows[0].shop).exclude(includes=[]).values_list("code", "includes")
    listed = dict(every) | {row.code: row.includes for row in rows}
    found: dict[str, list[str]] = {}
    for row in rows:
        waiting, seen = list(row.includes), list[str]()
        while waiting:
            code = waiting.pop()
            if code not in seen and code != row.code:
                seen.append(code)
                waiting.extend(listed.get(code, ()))
        found[row.code] = seen
    return found


def limit_diagnosis(facts: Facts, limit: str | None) -> None:
    """Cuts the diagnosis of a frozen job to the hours that the shop charges at most, and says so on the lines."""
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


def rounding_for(order: RepairOrder, payer: str) -> Rounding:
    """How the payer rounds minutes: the distributor's rule for warranty work, half a tenth up otherwise."""
    distributor = order.unit.model.maker.distributor
    if payer == Job.Payer.WARRANTY and distributor is not None:
        return Rounding(distributor.labour_rounding)
    return Rounding.HALF_UP


def standard(lines: Iterable[JobLabour]) -> list[JobLabour]:
    """The lines that stand for an operation at its own time; hours typed otherwise are as typed.

    An operation of steps may stand there again: only its steps that are repeated count again. Of a bare time the first.
    """
    found: list[JobLabour] = []
    seen = set[Any]()
    for line in lines:
        if line.operation is not None and line.hours == line.operation.hours:
            if line.operation.steps or line.operation_id not in seen:
                found.append(line)
            seen.add(line.operation_id)
    return found


def set_time(lines: list[JobLabour], rounding: Rounding, steps: Steps) -> LabourTime | None:
    """The time of standard lines together; None where there is no operation made of steps and nothing to compare."""
    if not lines:
        return None
    operations = [line.operation for line in lines if line.operation is not None]
    try:
        found = guide_for(operations, steps)
        return labour_time(found, keys_of(operations), rounding)
    except BadInput as bad:
        raise Refused(bad.field, bad.problem, bad.remedy) from bad


def put_time(job: Job, facts: Facts, steps: Steps, rows: Iterable[JobLabour] | None = None) -> None:
    """Writes the set's time into a job's facts: the tenths each line adds, what is saved, and what nobody knows.

    `guide_tenths` keeps the line's own time; `tenths`, which is priced, is its part of the set. `rows` stand in for the
    job's own lines.
    """
    lines = standard(job.labour.all() if rows is None else rows)
    time = set_time(lines, rounding_for(job.order, job.payer), steps)
    for line in facts["labour"]:
        line["guide_tenths"] = line["tenths"]
    if time is None:
        facts["labour_time"] = None
        return
    counted = {str(line.pk): one.counted for line, one in zip(lines, time.operations, strict=True)}
    for line in facts["labour"]:
        if line["id"] in counted:
            line["tenths"] = int(counted[line["id"]] * 10)
    facts["labour_time"] = time_facts(time)


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


def order_time(jobs: Iterable[Job], steps: Steps) -> Facts | None:
    """What the jobs of one order come to if they are all done together; None for fewer than two jobs with operations.

    Each job is priced by itself, because the customer answers job by job: this is what doing all of them would save more.
    """
    listed = list(jobs)
    by_job = [standard(job.labour.all()) for job in listed]
    if sum(bool(lines) for lines in by_job) < 2:
        return None
    everything = standard(line for lines in by_job for line in lines)
    together = set_time(everything, Rounding.HALF_UP, steps)
    each = [set_time(lines, Rounding.HALF_UP, steps) for lines in by_job]
    apart = sum((one.hours for one in each if one is not None), Decimal("0.0"))
    if together is None:
        return None
    return {**time_facts(together), "apart": f"{apart:f}", "saved_more": f"{apart - together.hours:f}"}


def three_times(job: Job, known: dict[str, Any]) -> Facts:
    """Guide time with its overlaps taken out, what the payer allows, and the clock, in hours, with what that says.

    `known` keeps the shop's work steps from job to job of one answer.
    """
    lines = standard(job.labour.all())
    if any(line.operation and line.operation.steps for line in lines) and "work_steps" not in known:
        known["work_steps"] = shop_steps(job.shop)
    time = set_time(lines, rounding_for(job.order, job.payer), known.get("work_steps", {}))
    inside = {line.pk for line in lines}
    guide_hours = sum((line.hours for line in job.labour.all() if line.pk not in inside), Decimal("0.0"))
    guide_hours += time.hours if time is not None else 0
    seconds = clocked_seconds(job)
    clocked = tenths(Decimal(seconds) / 60, Rounding.HALF_UP) if seconds else None
    times = ThreeTimes(guide_hours if lines or guide_hours else None, job.allowed_hours, clocked)
    facts = (
        time_facts(time) if time is not None else {"saving": "", "saved": "0.0", "shared": [], "overlap_not_known": []}
    )
    return {
        "guide": f"{guide_hours:.1f}",
        "saving": facts["saving"],
        "saved": facts["saved"],
        "shared": facts["shared"],
        "overlap_not_known": facts["overlap_not_known"],
        "allowed": None if job.allowed_hours is None else f"{job.allowed_hours:.1f}",
        "clocked": None if clocked is None else f"{clocked:.1f}",
        "remarks": list(times.remarks),
    }
