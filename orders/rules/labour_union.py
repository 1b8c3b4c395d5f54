"""The union of the steps of several operations: which are done, how often, in which order, and whose time they are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from heapq import heappop, heappush
from itertools import pairwise

from orders.rules.labour_guide import Guide, Operation


@dataclass(frozen=True, slots=True)
class Performed:
    """A step that is done `times` times, though `asked` for by so many operations; minutes are for doing it once.

    `again_after` names, in words, the steps that undid it before it was needed again.
    """

    key: str
    words: str
    minutes: Decimal
    times: int
    asked: int
    again_after: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Union:
    """Steps in an order in which they can be done; minutes each operation takes alone, and adds in this set."""

    performed: tuple[Performed, ...]
    alone: Mapping[str, Decimal]
    counted: Mapping[str, Decimal]


@dataclass(frozen=True, slots=True)
class _Redone:
    """`step` has to be done again because `undoer` comes before one of `witnesses`, which need it."""

    step: str
    undoer: str
    witnesses: frozenset[str]
    minutes: Decimal
    closes: bool


def union_of(guide: Guide, operations: Sequence[Operation]) -> Union:
    """The union for operations that are made of steps."""
    closures = {operation.key: guide.closure(operation.steps) for operation in operations}
    asked: dict[str, int] = defaultdict(int)
    for closure in closures.values():
        for key in closure:
            asked[key] += 1
    users = _users(guide, asked)
    redone = _redone(guide, asked, users)
    alone = {key: _alone(guide, closure) for key, closure in closures.items()}
    counted, times = _counted(guide, closures, redone)
    again: dict[str, list[str]] = defaultdict(list)
    for case in redone:
        again[case.step].append(guide.steps[case.undoer].words)
    steps = (guide.steps[key] for key in _work_order(guide, asked, users))
    performed = tuple(
        Performed(s.key, s.words, s.minutes, times[s.key], asked[s.key], tuple(again.get(s.key, ()))) for s in steps
    )
    return Union(performed, alone, counted)


def _alone(guide: Guide, closure: set[str]) -> Decimal:
    """Minutes of one operation by itself: beside others another order of the work may do again other steps."""
    minutes = sum((guide.steps[key].minutes for key in closure), Decimal(0))
    if not any(guide.steps[key].undoes for key in closure):
        return minutes
    steps = dict.fromkeys(sorted(closure, key=guide.place.__getitem__), 1)
    return minutes + sum((case.minutes for case in _redone(guide, steps, _users(guide, steps))), Decimal(0))


def _counted(
    guide: Guide, closures: Mapping[str, set[str]], redone: Sequence[_Redone]
) -> tuple[dict[str, Decimal], dict[str, int]]:
    """Minutes per operation and times per step; what is shared goes to the operation that was named first."""
    times: dict[str, int] = defaultdict(int)
    counted: dict[str, Decimal] = {}
    waiting = list(redone)
    for operation, closure in closures.items():
        minutes = Decimal(0)
        for key in closure:
            step = guide.steps[key]
            if step.repeats or not times[key]:
                times[key] += 1
                minutes += step.minutes
        mine = [case for case in waiting if not case.witnesses.isdisjoint(closure)]
        waiting = [case for case in waiting if case.witnesses.isdisjoint(closure)]
        for case in mine:
            minutes += case.minutes
        counted[operation] = minutes
    for case in redone:
        times[case.step] += 1
        times[case.undoer] += case.closes
    return counted, times


def _users(guide: Guide, steps: Mapping[str, int]) -> dict[str, list[str]]:
    """The steps that come after each one because they need it."""
    users: dict[str, list[str]] = defaultdict(list)
    for key in steps:
        for need in dict.fromkeys(guide.steps[key].needs):
            users[need].append(key)
    return users


def _redone(guide: Guide, steps: Mapping[str, int], users: dict[str, list[str]]) -> list[_Redone]:
    """The steps that must be done again: an undoing comes before work that needs them, and can come neither after that nor
    before the step itself. Where it can come before the step, that is put among its `users`.

    An undoing step that itself needs what it undoes (it closes what the other opened) is then done again as well.
    """
    undoers = [key for key in steps if guide.steps[key].undoes]
    if not undoers:
        return []
    needed = {key: list(listed) for key, listed in users.items()}
    found = []
    for undoer in sorted(undoers, key=guide.place.__getitem__):
        later = _descendants(undoer, needed)
        for key in dict.fromkeys(guide.steps[undoer].undoes):
            witnesses = later.intersection(needed.get(key, ()))
            if not witnesses or key in later:
                continue
            if undoer not in _descendants(key, users):
                users[undoer].append(key)
                continue
            closes = key in guide.steps[undoer].needs
            minutes = guide.steps[key].minutes + (guide.steps[undoer].minutes if closes else 0)
            found.append(_Redone(key, undoer, frozenset(witnesses), minutes, closes))
    return found + _opened_again(guide, undoers, users)


def _opened_again(guide: Guide, undoers: Sequence[str], users: Mapping[str, Sequence[str]]) -> list[_Redone]:
    """What two steps each close is opened again between them, where neither comes after the other by what it needs.

    One that needs the other is among its witnesses already.
    """
    closers: dict[str, list[str]] = defaultdict(list)
    for undoer in sorted(undoers, key=guide.place.__getitem__):
        for key in dict.fromkeys(guide.steps[undoer].undoes):
            if key in guide.steps[undoer].needs:
                closers[key].append(undoer)
    found = []
    for key, listed in closers.items():
        for before, after in pairwise(listed):
            if after not in _descendants(before, users) and before not in _descendants(after, users):
                found.append(_Redone(key, before, frozenset({after}), guide.steps[key].minutes, False))
    return found


def _descendants(start: str, users: Mapping[str, Sequence[str]]) -> set[str]:
    found: set[str] = set()
    waiting = list(users.get(start, ()))
    while waiting:
        key = waiting.pop()
        if key not in found:
            found.add(key)
            waiting.extend(users.get(key, ()))
    return found


def _work_order(guide: Guide, steps: Mapping[str, int], users: Mapping[str, Sequence[str]]) -> list[str]:
    """What comes before its `users` first; among what is possible, undoing last, then the order of the guide."""
    open_needs = dict.fromkeys(steps, 0)
    for after in users.values():
        for key in after:
            open_needs[key] += 1
    ready: list[tuple[bool, int, str]] = []
    for key in steps:
        if not open_needs[key]:
            heappush(ready, (bool(guide.steps[key].undoes), guide.place[key], key))
    order = []
    while ready:
        key = heappop(ready)[2]
        order.append(key)
        for user in users.get(key, ()):
            open_needs[user] -= 1
            if not open_needs[user]:
                heappush(ready, (bool(guide.steps[user].undoes), guide.place[user], user))
    return order
