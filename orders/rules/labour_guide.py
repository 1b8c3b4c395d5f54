"""The labour guide: operations made of work steps in minutes, or bare times in tenths; checked as it comes in.

A step names the steps that must come before it (`needs`) and those that it ends (`undoes`: closing the housing ends
'housing open'). Where a guide gives only a bare time, an operation may be that, with what it includes and how much
less it takes beside another. Pure.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from shopdocs.money import decimals_of, exact
from shopdocs.problems import BadInput

LONGEST = Decimal(6000)  # minutes; a longer step or operation is a slip of the keys


@dataclass(frozen=True, slots=True)
class WorkStep:
    """A part of operations, in minutes. `words` read before 'once': 'cover off', 'tank drained'.

    `repeats`: done again for every operation that needs it (a run test after each).
    """

    key: str
    words: str
    minutes: Decimal
    needs: tuple[str, ...] = ()
    undoes: tuple[str, ...] = ()
    repeats: bool = False

    def __post_init__(self) -> None:
        minutes = exact(self.minutes, f"{self.key}.minutes")
        if not 0 <= minutes <= LONGEST:
            raise BadInput(f"{self.key}.minutes", f"{minutes} minutes is out of range.", f"Give 0 to {LONGEST}.")
        if self.key in self.needs or self.key in self.undoes:
            raise BadInput(self.key, "The step needs or undoes itself.", "Take it out of its own list.")


@dataclass(frozen=True, slots=True)
class LessWith:
    """The pair 'takes `hours` less when done with `operation`'."""

    operation: str
    hours: Decimal


@dataclass(frozen=True, slots=True)
class Operation:
    """A standard piece of work: either `steps`, or a bare time (`hours`, in tenths).

    `includes` names operations that are part of this one; `less_with` belongs to bare times only, for operations made
    of steps share what their steps share.
    """

    key: str
    words: str
    steps: tuple[str, ...] = ()
    hours: Decimal | None = None
    includes: tuple[str, ...] = ()
    less_with: tuple[LessWith, ...] = ()

    def __post_init__(self) -> None:
        if bool(self.steps) == (self.hours is not None):
            raise BadInput(self.key, "An operation has either steps or a bare time.", "Give one of the two.")
        if self.hours is not None:
            check_tenths(self.hours, f"{self.key}.hours")
        for pair in self.less_with:
            check_tenths(pair.hours, f"{self.key}.less_with")
            if self.steps or pair.operation == self.key:
                problem = "Only a bare time takes less beside another operation."
                raise BadInput(f"{self.key}.less_with", problem, "Let the steps say what is shared.")


def check_tenths(hours: Decimal, name: str) -> Decimal:
    """Hours in whole tenths, from 0 to 100; raises BadInput otherwise."""
    number = exact(hours, name)
    if not 0 <= number <= 100 or decimals_of(number) > 1:
        raise BadInput(
            name, f"{number} h is not a time in tenths.", "Give tenths of an hour from 0 to 100, such as 0.4."
        )
    return number


@dataclass(frozen=True)
class Guide:
    """Steps and operations by key. Refuses unknown keys, loops of prerequisites and loops of inclusion."""

    steps: Mapping[str, WorkStep]
    operations: Mapping[str, Operation]

    def __post_init__(self) -> None:
        for step in self.steps.values():
            self._known(step.key, (*step.needs, *step.undoes), self.steps, "step")
        for operation in self.operations.values():
            self._known(operation.key, operation.steps, self.steps, "step")
            others = (*operation.includes, *(pair.operation for pair in operation.less_with))
            self._known(operation.key, others, self.operations, "operation")
        _refuse_loops({key: step.needs for key, step in self.steps.items()}, "needs")
        _refuse_loops({key: operation.includes for key, operation in self.operations.items()}, "includes")

    @staticmethod
    def _known(owner: str, keys: Iterable[str], known: Mapping[str, object], what: str) -> None:
        for key in keys:
            if key not in known:
                raise BadInput(owner, f"There is no {what} '{key}'.", f"Add the {what}, or correct its key.")

    @cached_property
    def place(self) -> Mapping[str, int]:
        """The position of each step in the guide, the order in which people read it."""
        return {key: index for index, key in enumerate(self.steps)}

    def closure(self, keys: Iterable[str]) -> set[str]:
        """The steps named and all their prerequisites; touches nothing else of the guide."""
        found: set[str] = set()
        waiting = list(keys)
        while waiting:
            key = waiting.pop()
            if key not in found:
                found.add(key)
                waiting.extend(self.steps[key].needs)
        return found


def guide(steps: Iterable[WorkStep], operations: Iterable[Operation]) -> Guide:
    """A checked guide from lists; refuses a key that stands twice."""
    by_step: dict[str, WorkStep] = {}
    for step in steps:
        if by_step.setdefault(step.key, step) is not step:
            raise BadInput(step.key, "The step stands in the guide twice.", "Keep one of them.")
    by_operation: dict[str, Operation] = {}
    for operation in operations:
        if by_operation.setdefault(operation.key, operation) is not operation:
            raise BadInput(operation.key, "The operation stands in the guide twice.", "Keep one of them.")
    return Guide(by_step, by_operation)


def _refuse_loops(graph: Mapping[str, tuple[str, ...]], name: str) -> None:
    """Raises BadInput for a key that leads back to itself; walks without recursion, so depth is no limit."""
    finished: set[str] = set()
    for start in graph:
        path: list[tuple[str, int]] = [(start, 0)] if start not in finished else []
        open_keys = {start}
        while path:
            key, index = path.pop()
            if index < len(graph[key]):
                path.append((key, index + 1))
                following = graph[key][index]
                if following in open_keys:
                    raise BadInput(f"{key}.{name}", f"'{following}' leads back to itself.", "Break the loop.")
                if following not in finished:
                    open_keys.add(following)
                    path.append((following, 0))
            else:
                finished.add(key)
                open_keys.discard(key)
