"""The labour time of a job: the union of its operations' work steps, each once, rounded once by the payer's rule."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from django.db.models import F, Q

from orders.models import Estimate, Job, JobLabour, LabourOperation, MachineModel, RepairOrder
from orders.models.catalogue import WorkStep as StepRecord
from orders.rules.clocked import ThreeTimes
from orders.rules.labour import LabourTime, Rounding, tenths
from orders.rules.labour_guide import LessWith, WorkStep
from orders.rules.labour_jobs import JobWork, WorkLine, order_labour
from shopdocs.problems import BadInput
from shopdocs.rest.refusals import Refused
from shopdocs.shops.models import Shop

from .charges import terms_on
from .labour_together import frozen_work, put_together, rounding_rules, time_facts
from .time import clocked_seconds

Facts = dict[str, Any]
Steps = dict[str, WorkStep]


def shop_steps(shop: Shop) -> Steps:
    """The shop's work steps by key."""
    return {row.key: step_of(row) for row in StepRecord.objects.for_shop(shop).order_by("created_at", "id")}


def step_of(row: StepRecord) -> WorkStep:
    """A record as the labour rules take it. Raises BadInput for what they refuse."""
    return WorkStep(row.key, row.words, row.minutes, tuple(row.needs), tuple(row.undoes), row.repeats)


def job_work(number: int, lines: Iterable[JobLabour], steps: Steps) -> JobWork:
    """Standard lines of a job as the labour rules take them, with the steps they need and nothing else. Raises as `guide_work`."""
    lines = list(lines)
    rows = [(str(line.pk), line.operation) for line in lines if line.operation is not None]
    model = lines[0].job.order.unit.model if any(row.includes for _, row in rows) else None
    return guide_work(number, rows, steps, model)


def guide_work(
    number: int, rows: Sequence[tuple[str, LabourOperation]], steps: Steps, model: MachineModel | None = None
) -> JobWork:
    """Operations under the keys given. Raises BadInput for a step that the shop does not have.

    `model`: the machine; what is included through an operation that was not chosen is as that stands for the machine.
    """
    needed: dict[str, WorkStep] = {}
    waiting = [key for _, row in rows for key in row.steps]
    while waiting:
        key = waiting.pop()
        if key not in steps:
            raise BadInput("steps", f"The shop has no work step '{key[:60]}'.", "Add the step, or correct its key.")
        if key not in needed:
            needed[key] = steps[key]
            waiting.extend(steps[key].needs)
    inside = _included([row for _, row in rows], model)
    found = tuple(
        WorkLine(
            key=key,
            code=row.code,
            words=row.words,
            steps=tuple(row.steps),
            hours=None if row.steps else row.hours,
            includes=tuple(inside.get(row.code, ())),
            less_with=()
            if row.steps
            else tuple(LessWith(pair["operation"], Decimal(pair["hours"])) for pair in row.less_with),
        )
        for key, row in rows
    )
    return JobWork(number, found, {key: step for key, step in steps.items() if key in needed})


def _included(rows: list[LabourOperation], model: MachineModel | None) -> dict[str, list[str]]:
    """The codes that each row includes, through operations that were not chosen too; itself never."""
    if not any(row.includes for row in rows):
        return {}
    every = LabourOperation.objects.for_shop(rows[0].shop).filter(Q(model=None) | Q(model=model))
    if model is not None:
        every = every.filter(family__in=("", model.family))
    # The narrowest comes last, and counts.
    narrower = every.order_by(F("model").asc(nulls_first=True), "family").values_list("code", "includes")
    listed = dict(narrower) | {row.code: row.includes for row in rows}
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


def roundings_of(order: RepairOrder) -> Facts:
    """How each payer of an order rounds minutes, and whose rule that is (`by`): the distributor's, or that of the shop's terms.

    An order keeps the rules of its first estimate, so that work that jobs share is never rounded by two; before it the terms
    of today hold.
    """
    distributor = order.unit.model.maker.distributor
    warranty = (
        _rule(Rounding(distributor.labour_rounding), f"the rounding rule of {distributor.name}")
        if distributor is not None
        else _rule(Rounding.HALF_UP, "the usual rule, as no distributor is recorded")
    )
    first = Estimate.objects.for_shop(order.shop).filter(order=order).order_by("edition").first()
    if first is not None:
        sets = [job["labour_set"] for job in first.facts["jobs"] if job.get("labour_set")]
        return {**rounding_rules(sets[0] if sets else {}), str(Job.Payer.WARRANTY): warranty}
    terms = terms_on(order.shop, order.shop.today())
    if terms is None:
        return {**rounding_rules({}), str(Job.Payer.WARRANTY): warranty}
    by = f"the shop's pricing terms since {terms.starts_on}"
    own = _rule(Rounding(terms.own_labour_rounding), by)
    mine = _rule(Rounding(terms.labour_rounding), by)
    return {"customer": mine, "shop": own, "goodwill": own, str(Job.Payer.WARRANTY): warranty}


def _rule(rounding: Rounding, by: str) -> Facts:
    return {"rounding": str(rounding), "by": by}


def rounding_for(job: Job, known: dict[str, Any]) -> Rounding:
    """How the payer of the job's labour rounds minutes; `known` keeps the rules of an order from job to job of one answer."""
    rules = known.setdefault("roundings", {})
    if job.order_id not in rules:
        rules[job.order_id] = roundings_of(job.order)
    return Rounding(rules[job.order_id][job.payer_of.get("labour") or job.payer]["rounding"])


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


def set_time(lines: list[JobLabour], rounding: Rounding, steps: Steps) -> LabourTime:
    """The time of standard lines together."""
    try:
        work = job_work(1, lines, steps)
        return order_labour([work], rounding)[0].alone
    except BadInput as bad:
        raise Refused(bad.field, bad.problem, bad.remedy) from bad


def put_time(
    job: Job,
    facts: Facts,
    steps: Steps,
    limit: str | None = None,
    rows: Iterable[JobLabour] | None = None,
    roundings: Facts | None = None,
) -> None:
    """Freezes the set that the job's lines make (`labour_set`) and writes its time, as if the job were the only one.

    `guide_tenths` keeps a line's own time; `tenths`, which is priced, is its part of the set. `limit`: the most hours of
    diagnosis that the customer is charged. `rows` stand in for the job's own lines, `roundings` for the order's rules.
    """
    lines = standard(job.labour.all() if rows is None else rows)
    try:
        work = frozen_work(job_work(job.number, lines, steps))
    except BadInput as bad:
        raise Refused(bad.field, bad.problem, bad.remedy) from bad
    facts["labour_set"] = {**work, "roundings": roundings or roundings_of(job.order), "diagnosis_limit": limit}
    for line in facts["labour"]:
        line["guide_tenths"] = line["tenths"]
    put_together([facts])


def three_times(job: Job, known: dict[str, Any]) -> Facts:
    """Guide time with its overlaps taken out, what the payer allows, and the clock, in hours, with what that says.

    Minutes are rounded as on the order's papers. `known` keeps the shop's work steps from job to job of one answer.
    """
    lines = standard(job.labour.all())
    if any(line.operation and line.operation.steps for line in lines) and "work_steps" not in known:
        known["work_steps"] = shop_steps(job.shop)
    time = set_time(lines, rounding_for(job, known), known.get("work_steps", {})) if lines else None
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
