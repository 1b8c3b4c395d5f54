"""The labour of several jobs that one payer bears on one order: a step that two of them share counts once.

The time of all of them is that of the union of their operations, rounded once. A job takes what it adds to the jobs
before it: the shared step belongs to the first job that needs it, and goes to the next where that one is not done. So
the jobs' times add up to the whole exactly, whichever of them are chosen. Each payer has a set of its own: what a
distributor is asked for is no reason to charge the customer less, nor the other way round (common practice, no source).
Pure.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations, islice

from orders.rules.labour import LabourTime, Rounding, in_tenths, labour_time
from orders.rules.labour_guide import Guide, LessWith, Operation, WorkStep, guide
from orders.rules.messages import Message

MOST_TRIED = 64  # choices of earlier jobs: every one of six


@dataclass(frozen=True, slots=True)
class WorkLine:
    """A line of labour that stands for an operation: of `steps`, or a bare time in `hours`.

    `includes` and `less_with` name operations by their code, whether they are on the order or not; `includes` through
    every level.
    """

    key: str
    code: str
    words: str
    steps: tuple[str, ...] = ()
    hours: Decimal | None = None
    includes: tuple[str, ...] = ()
    less_with: tuple[LessWith, ...] = ()


@dataclass(frozen=True, slots=True)
class JobWork:
    """The lines of one job that stand for operations, and the steps they need with all prerequisites, by key."""

    number: int
    lines: tuple[WorkLine, ...]
    steps: Mapping[str, WorkStep]


@dataclass(frozen=True, slots=True)
class JobTime:
    """A job's part of the time of all: `hours`, and the `parts` of its lines by key, which add up to it.

    `alone`: the job by itself; `together`: the jobs up to and with this one. `shared`: what it has in common with other
    jobs, by the number of that job.
    """

    number: int
    hours: Decimal
    parts: Mapping[str, Decimal]
    alone: LabourTime
    together: LabourTime
    shared: Mapping[int, tuple[Message, ...]]

    @property
    def minutes(self) -> dict[str, Decimal]:
        """What each line of the job adds before rounding, by key, after the jobs before it."""
        return {one.operation: one.minutes for one in self.together.operations if one.operation in self.parts}

    @property
    def saved(self) -> Decimal:
        """Hours that the other jobs save this one; below zero where rounding once adds a tenth."""
        return self.alone.hours - self.hours


def book(jobs: Iterable[JobWork]) -> Guide:
    """A guide of these jobs' lines as its operations, each under the key of its line.

    A step that several jobs bring is as the first of them has it, who carries it. Raises BadInput as `guide` does.
    """
    jobs = list(jobs)
    steps: dict[str, WorkStep] = {}
    for job in jobs:
        for key, step in job.steps.items():
            steps.setdefault(key, step)
    lines = [line for job in jobs for line in job.lines]
    by_code: dict[str, list[str]] = {}
    for line in lines:
        by_code.setdefault(line.code, []).append(line.key)
    undone = (
        WorkStep(s.key, s.words, s.minutes, s.needs, tuple(key for key in s.undoes if key in steps), s.repeats)
        for s in steps.values()
    )
    return guide(undone, [_operation(line, by_code) for line in lines])


def _operation(line: WorkLine, by_code: Mapping[str, list[str]]) -> Operation:
    """What a line includes and is shorter beside, as far as it is there; of an operation named again the first counts."""
    pairs = tuple(
        LessWith(key, pair.hours if again == 0 else Decimal(0))
        for pair in line.less_with
        for again, key in enumerate(by_code.get(pair.operation, ()))
    )
    inside = tuple(key for code in line.includes for key in by_code.get(code, ()))
    return Operation(line.key, line.words, line.steps, line.hours, inside, pairs)


def order_labour(jobs: Sequence[JobWork], rounding: Rounding) -> tuple[JobTime, ...]:
    """Each job's part of the time of all, in the order given. Raises BadInput as `labour_time` does."""
    so_far = [_time(jobs[: at + 1], rounding) for at in range(len(jobs))]
    alone = [_time([job], rounding) for job in jobs] if len(jobs) > 1 else so_far
    upto = _never_falling([time.hours for time in so_far])
    found = []
    for at, job in enumerate(jobs):
        hours = upto[at] - (upto[at - 1] if at else Decimal(0))
        shared = _shared(at, jobs, alone, so_far[-1])
        found.append(JobTime(job.number, hours, _parts(so_far[at], job, hours), alone[at], so_far[at], shared))
    return tuple(found)


def dearest_beside(
    jobs: Sequence[JobWork],
    at: int,
    rounding: Rounding,
    rates: Mapping[str, Decimal],
    sure: Collection[int] = (),
) -> tuple[int, ...]:
    """The places of those earlier jobs beside which the job at this place costs the most; `sure` ones always.

    `rates`: what an hour of each of the job's lines costs, by key. The smaller of two choices alike. Of more than six jobs
    that are open the smallest choices are tried, `MOST_TRIED` of them: shared steps make the job dearest beside few, and
    only rounding sways it beside others.
    """
    before = [place for place in range(at) if place in sure]
    open_ones = [place for place in range(at) if place not in sure]
    choices = (some for n in range(len(open_ones) + 1) for some in combinations(open_ones, n))
    tried = (tuple(sorted([*before, *some])) for some in islice(choices, MOST_TRIED))
    return max(tried, key=lambda some: _costs(jobs[at], [jobs[place] for place in some], rounding, rates))


def _costs(job: JobWork, beside: Sequence[JobWork], rounding: Rounding, rates: Mapping[str, Decimal]) -> Decimal:
    time = _time([*beside, job], rounding)
    hours = max(time.hours - _time(beside, rounding).hours, Decimal(0))
    return sum((part * rates[key] for key, part in _parts(time, job, hours).items()), Decimal(0))


def _parts(time: LabourTime, job: JobWork, hours: Decimal) -> dict[str, Decimal]:
    """The hours that the last job of a set adds to it, over its lines by key."""
    mine = time.operations[len(time.operations) - len(job.lines) :]
    parts = in_tenths([one.minutes for one in mine], hours)
    return {one.operation: part for one, part in zip(mine, parts, strict=True)}


def _time(jobs: Sequence[JobWork], rounding: Rounding) -> LabourTime:
    return labour_time(book(jobs), [line.key for job in jobs for line in job.lines], rounding)


def _never_falling(hours: list[Decimal]) -> list[Decimal]:
    """Each figure, or the smallest of those after it: a later operation may include, and so take over, earlier ones."""
    found: list[Decimal] = []
    for one in reversed(hours):
        found.append(min(one, found[-1]) if found else one)
    return found[::-1]


def _shared(
    at: int, jobs: Sequence[JobWork], alone: Sequence[LabourTime], together: LabourTime
) -> dict[int, tuple[Message, ...]]:
    """What the job leaves out because of another, by that job's number."""
    found: dict[int, list[Message]] = {}
    owner = {line.key: job.number for job in jobs for line in job.lines}
    mine = {line.key for line in jobs[at].lines}
    for step in alone[at].performed:
        if not jobs[at].steps[step.key].repeats:
            first = next((n for n in range(at) if any(one.key == step.key for one in alone[n].performed)), None)
            if first is not None:
                found.setdefault(jobs[first].number, []).append(Message("{step} once", {"step": step.words}))
    words = {one.operation: one.words for one in together.operations}
    for one in together.operations:
        if one.operation in mine and one.part_of and one.part_of not in mine:
            found.setdefault(owner[one.part_of], []).append(
                Message("{part} is part of {whole}", {"part": one.words, "whole": words[one.part_of]})
            )
    for bare in together.bare:
        for beside in bare.beside:
            if bare.operation in mine and beside not in mine and bare.less:
                found.setdefault(owner[beside], []).append(
                    Message("{work} shorter beside {others}", {"work": bare.words, "others": words[beside]})
                )
    return {number: tuple(why) for number, why in found.items()}
