"""The labour of several jobs that one payer bears on one order: a step that two of them share counts once.

The time of all of them is that of the union of their operations, rounded once. A job takes what it adds to the jobs
before it: the shared step belongs to the first job that needs it, and goes to the next where that one is not done. So
the jobs' times add up to the whole exactly, whichever of them are chosen. Each payer has a set of its own: what a
distributor is asked for is no reason to charge the customer less, nor the other way round (common practice, no source).
Pure.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import combinations, islice

from orders.rules.labour import TENTH, LabourTime, Rounding, in_tenths, labour_time
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

    `alone`: the job by itself; `together`: the jobs up to and with this one. `shared`: what it leaves out because of other
    jobs, by the number of that job. `unknown`: its operations beside those of earlier jobs where nobody recorded whether they
    overlap, as the words of the two, by the number of that job.
    """

    number: int
    hours: Decimal
    parts: Mapping[str, Decimal]
    alone: LabourTime
    together: LabourTime
    shared: Mapping[int, tuple[Message, ...]]
    unknown: Mapping[int, tuple[tuple[str, str], ...]]

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

    A step that several jobs bring is as the first of them has it, who carries it. Jobs may be of several editions of the
    shop's guide, so what one says it includes of another stands only where it takes as long. Raises BadInput as `guide` does.
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
    inside = _inside(jobs, by_code, steps)
    return guide(undone, [_operation(line, by_code, inside[line.key]) for line in lines])


def _inside(
    jobs: Sequence[JobWork], by_code: Mapping[str, list[str]], steps: Mapping[str, WorkStep]
) -> dict[str, tuple[str, ...]]:
    """The lines that each line includes, by key. Beside other jobs only those that are no longer, and none in a circle."""
    lines = [line for job in jobs for line in job.lines]
    named = {line.key: tuple(key for code in line.includes for key in by_code.get(code, ())) for line in lines}
    if len(jobs) == 1 or not any(named.values()):
        return named
    minutes = {line.key: _by_itself(line, steps) for line in lines}
    found: dict[str, tuple[str, ...]] = {line.key: () for line in lines}
    for whole, part in ((whole, part) for whole, parts in named.items() for part in parts):
        if minutes[part] <= minutes[whole] and not _leads(found, part, whole):
            found[whole] = (*found[whole], part)
    return found


def _by_itself(line: WorkLine, steps: Mapping[str, WorkStep]) -> Decimal:
    """The minutes of a line that nothing is known of but its steps or its bare time."""
    single = JobWork(1, (replace(line, includes=(), less_with=()),), steps)
    return _time([single], Rounding.UP).minutes


def _leads(inside: Mapping[str, tuple[str, ...]], start: str, end: str) -> bool:
    waiting, seen = [start], set[str]()
    while waiting:
        key = waiting.pop()
        if key == end:
            return True
        if key not in seen:
            seen.add(key)
            waiting.extend(inside.get(key, ()))
    return False


def _operation(line: WorkLine, by_code: Mapping[str, list[str]], inside: tuple[str, ...]) -> Operation:
    """A line with what it includes, and is shorter beside as far as it is there; of an operation named again the first counts."""
    pairs = tuple(
        LessWith(key, pair.hours if again == 0 else Decimal(0))
        for pair in line.less_with
        for again, key in enumerate(by_code.get(pair.operation, ()))
    )
    return Operation(line.key, line.words, line.steps, line.hours, inside, pairs)


def order_labour(jobs: Sequence[JobWork], rounding: Rounding) -> tuple[JobTime, ...]:
    """Each job's part of the time of all, in the order given. Raises BadInput as `labour_time` does."""
    so_far = [_time(jobs[: at + 1], rounding) for at in range(len(jobs))]
    alone = [_time([job], rounding) for job in jobs] if len(jobs) > 1 else so_far
    upto = _never_falling([time.hours for time in so_far])
    found = []
    for at, job in enumerate(jobs):
        hours = upto[at] - (upto[at - 1] if at else Decimal(0))
        known = so_far[-1] if upto[at] < so_far[at].hours else so_far[at]  # a later job took over some of it
        shared, unknown = _shared(at, jobs, alone, known), _unknown(at, jobs, so_far[at])
        parts = _parts(so_far[at], job, hours)
        found.append(JobTime(job.number, hours, parts, alone[at], so_far[at], shared, unknown))
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
    that are open not every choice is tried: `MOST_TRIED` of the smallest, for shared steps make the job dearest beside few, and
    one for each rest of minutes that rounding may meet.
    """
    before = tuple(place for place in range(at) if place in sure)
    open_ones = [place for place in range(at) if place not in sure]
    choices = (some for n in range(len(open_ones) + 1) for some in combinations(open_ones, n))
    tried = [tuple(sorted([*before, *some])) for some in islice(choices, MOST_TRIED)]
    if 2 ** len(open_ones) > MOST_TRIED:
        tried += _rests(jobs, at, before, open_ones)
    enough = _never_above(jobs[at], rates)
    dearest, most = tried[0], Decimal(-1)
    for some in tried:
        cost = _costs(jobs[at], [jobs[place] for place in some], rounding, rates)
        if cost > most:
            dearest, most = some, cost
        if enough is not None and most >= enough:
            break
    return dearest


def _never_above(job: JobWork, rates: Mapping[str, Decimal]) -> Decimal | None:
    """What a job of steps at one rate never costs more than: its minutes by itself, up to the next tenth. None for others."""
    one_rate = {rates[line.key] for line in job.lines}
    if len(one_rate) != 1 or any(line.hours is not None for line in job.lines):
        return None
    return _time([job], Rounding.UP).hours * one_rate.pop()


def _rests(
    jobs: Sequence[JobWork], at: int, before: tuple[int, ...], open_ones: Sequence[int]
) -> list[tuple[int, ...]]:
    """Choices of earlier jobs whose minutes come to each rest of a tenth that can be reached; the one that shares the least.

    They are looked for without what is undone or shorter beside other jobs, in which case they are choices like others.
    """
    mine, _ = _apart(jobs[at])
    minutes = {key: step.minutes for job in jobs[: at + 1] for key, step in job.steps.items()}
    parts = [_apart(job) for job in jobs[:at]]
    found: dict[Decimal, tuple[Decimal, tuple[int, ...], frozenset[str]]] = {}

    def keep(rest: Decimal, some: tuple[int, ...], steps: frozenset[str]) -> None:
        shared = sum((minutes[key] for key in steps & mine), Decimal(0))
        if rest not in found or shared < found[rest][0]:
            found[rest] = (shared, some, steps)

    steps = frozenset[str]().union(*(parts[place][0] for place in before))
    once = sum((minutes[key] for key in steps), Decimal(0))
    keep((once + sum(parts[place][1] for place in before)) % TENTH, before, steps)
    for place in open_ones:
        more, each_time = parts[place]
        for rest, (_, some, steps) in list(found.items())[:MOST_TRIED]:
            added = sum((minutes[key] for key in more - steps), each_time)
            keep((rest + added) % TENTH, (*some, place), steps | more)
    return [tuple(sorted(some)) for _, some, _ in found.values()]


def _apart(job: JobWork) -> tuple[frozenset[str], Decimal]:
    """The steps that a job needs once, by key, and the minutes that it takes in any case."""
    time = _time([job], Rounding.UP)
    once = frozenset(step.key for step in time.performed if not job.steps[step.key].repeats)
    return once, time.minutes - sum((job.steps[key].minutes for key in once), Decimal(0))


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
    earlier = {job.number for job in jobs[:at]}
    for step in alone[at].performed:
        if not jobs[at].steps[step.key].repeats:
            first = next((n for n in range(at) if any(one.key == step.key for one in alone[n].performed)), None)
            if first is not None:
                found.setdefault(jobs[first].number, []).append(Message("{step} once", {"step": step.words}))
    words = {one.operation: one.words for one in together.operations}

    def tell(less: str, because: str, why: Message) -> None:
        """A saving belongs to the later of two jobs, and to the earlier one where the later takes its work over."""
        if (less in mine) != (because in mine):
            other = owner[because if less in mine else less]
            if less in mine or other in earlier:
                found.setdefault(other, []).append(why)

    for one in together.operations:
        if one.part_of:
            said = {"part": one.words, "whole": words[one.part_of]}
            tell(one.operation, one.part_of, Message("{part} is part of {whole}", said))
    for bare in together.bare:
        for beside in bare.beside if bare.less else ():
            told = {"work": bare.words, "others": words[beside]}
            tell(bare.operation, beside, Message("{work} shorter beside {others}", told))
    return {number: tuple(why) for number, why in found.items()}


def _unknown(at: int, jobs: Sequence[JobWork], together: LabourTime) -> dict[int, tuple[tuple[str, str], ...]]:
    """Overlaps with work of earlier jobs that nobody recorded."""
    owner = {line.key: job.number for job in jobs[: at + 1] for line in job.lines}
    words = {one.operation: one.words for one in together.operations}
    found: dict[int, list[tuple[str, str]]] = {}
    for pair in together.unknown_overlaps:
        (other, mine) = sorted(pair, key=lambda key: owner[key] == jobs[at].number)
        if owner[mine] == jobs[at].number != owner[other]:
            found.setdefault(owner[other], []).append((words[mine], words[other]))
    return {number: tuple(dict.fromkeys(pairs)) for number, pairs in found.items()}
