"""Labour time of a set of operations: each work step once, rounded once, with the saving told in words.

The time of a set is the time of the union of its steps, prerequisites included. A step that `repeats` counts once for
each operation that needs it. A step that another one undoes counts again only where the undoing has to come between it and
work that needs it (that work depends on both, and the undoing on the step), or where two steps each close what it opens;
otherwise the order of the work takes care of it. Bare times are shortened only by what the guide says; an overlap that nobody
recorded is reported, never invented. Pure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
from typing import Any

from orders.rules.labour_bare import BareTime, bare_minutes, bare_times, unknown_overlaps
from orders.rules.labour_guide import Guide, Operation
from orders.rules.labour_union import Performed, union_of
from orders.rules.messages import IN_ENGLISH, Message, told
from shopdocs.documents.press.words import Words
from shopdocs.money import Step, allocate_units, largest_remainder, plain
from shopdocs.problems import BadInput

TENTH = Decimal(6)  # minutes
IN_ALL = "Minutes in all"


class Rounding(StrEnum):
    """How a payer rounds minutes to tenths of an hour."""

    UP = "up"
    HALF_UP = "half_up"
    HALF_EVEN = "half_even"


ROUNDING_WORDS = {
    Rounding.UP: "up to the next tenth",
    Rounding.HALF_UP: "to the nearest tenth, half a tenth up",
    Rounding.HALF_EVEN: "to the nearest tenth, half a tenth to the even one",
}


def tenths(minutes: Decimal, rounding: Rounding) -> Decimal:
    """Hours in tenths for zero or more minutes; exact, for no binary fraction is involved."""
    whole, rest = divmod(minutes, TENTH)
    if rounding is Rounding.UP:
        more = rest > 0
    else:
        more = rest > 3 or (rest == 3 and (rounding is Rounding.HALF_UP or whole % 2 == 1))
    return ((whole + more) / 10).quantize(Decimal("0.1"))


@dataclass(frozen=True, slots=True)
class OperationTime:
    """One operation's part: `alone` if done by itself, `counted` within this set; both in hours, tenths.

    `minutes` is what it adds before rounding: a shared step is counted with the operation that was named first.
    """

    operation: str
    words: str
    alone: Decimal
    minutes: Decimal
    counted: Decimal
    part_of: str = ""


@dataclass(frozen=True)
class LabourTime:
    """The time of a set: `minutes` exact, `hours` rounded once. The operations' `counted` hours add up to `hours`.

    `separate` is what the operations would come to without sharing anything, rounded once too; `saved` the difference.
    `unknown_overlaps` are pairs (by key) about which the guide says nothing.
    """

    minutes: Decimal
    hours: Decimal
    separate: Decimal
    rounding: Rounding
    operations: tuple[OperationTime, ...]
    performed: tuple[Performed, ...]
    bare: tuple[BareTime, ...]
    unknown_overlaps: tuple[tuple[str, str], ...]

    @property
    def saved(self) -> Decimal:
        """Hours saved by doing the operations together; never negative."""
        return self.separate - self.hours

    @cached_property
    def saving(self) -> str:
        """'0.3 h saved: cover off once, tank drained once.' or '' when nothing is shared."""
        return saving_words(f"{self.saved}", self.reasons, IN_ENGLISH)

    @cached_property
    def reasons(self) -> tuple[Message, ...]:
        """What is shared, and so saves time."""
        found = [_done(step) for step in self.performed if step.times < step.asked]
        found += [
            Message("{part} is part of {whole}", {"part": o.words, "whole": self._words(o.part_of)})
            for o in self.operations
            if o.part_of
        ]
        found += [
            Message(
                "{work} shorter beside {others}", {"work": b.words, "others": [self._words(one) for one in b.beside]}
            )
            for b in self.bare
            if b.less
        ]
        return tuple(found)

    @cached_property
    def in_minutes(self) -> tuple[Step, ...]:
        """Each work step and each bare time with its minutes; they add up to `minutes`."""
        listed = [Step(_step_words(step), step.minutes * step.times) for step in self.performed]
        for bare in self.bare:
            less = f", less {plain(bare.less)} min shared" if bare.less else ""
            listed.append(Step(f"{bare.words}: guide time {plain(bare.minutes)} min{less}", bare.minutes - bare.less))
        return tuple(listed)

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """How the time came about; amounts are minutes, the last but for remarks is hours."""
        listed = [*self.in_minutes, Step(IN_ALL, self.minutes)]
        listed.append(Step(f"In hours, rounded once {ROUNDING_WORDS[self.rounding]}", self.hours))
        if self.saving:
            listed.append(Step(self.saving, self.saved))
        for one, other in self.unknown_overlaps:
            text = (
                f"Whether {self._words(one)} and {self._words(other)} share work is not recorded; both count in full."
            )
            listed.append(Step(text))
        return tuple(listed)

    def _words(self, key: str) -> str:
        return next(operation.words for operation in self.operations if operation.operation == key)


def saving_words(hours: str, reasons: Sequence[Message | Sequence[Any]], say: Words) -> str:
    """'0.3 h saved: cover off once.' in a language; '' without a reason."""
    if not reasons:
        return ""
    return say("{hours} h saved: {reasons}.").format(hours=hours, reasons=told(reasons, say, ", "))


def _done(step: Performed) -> Message:
    """'cover off once': how often a shared step is done."""
    if step.times == 1:
        return Message("{step} once", {"step": step.words})
    if step.times == 2:
        return Message("{step} twice", {"step": step.words})
    return Message(
        "{step} {count} time", {"step": step.words, "count": str(step.times)}, "{step} {count} times", step.times
    )


def times_word(times: int) -> str:
    """'once', 'twice', '3 times'."""
    return {1: "once", 2: "twice"}.get(times, f"{times} times")


def _step_words(step: Performed) -> str:
    words = step.words if step.times == 1 else f"{step.words}, {times_word(step.times)}"
    return f"{words} (again because of: {', '.join(step.again_after)})" if step.again_after else words


def labour_time(guide: Guide, chosen: Sequence[str], rounding: Rounding) -> LabourTime:
    """The time of the chosen operations (keys, in the order of the work) by the payer's rule of rounding.

    Raises BadInput for an unknown operation, one chosen twice, and an operation that 'includes' a longer one.
    """
    operations = [_known(guide, key) for key in chosen]
    if len(set(chosen)) < len(chosen):
        raise BadInput("operations", "An operation is chosen twice.", "Name it once; a quantity belongs to its line.")
    stepped = [operation for operation in operations if operation.steps]
    everything = union_of(guide, stepped)
    alone = {o.key: everything.alone[o.key] if o.steps else bare_minutes(o) for o in operations}
    part_of = _inclusions(guide, operations, alone)
    kept = [operation for operation in operations if operation.key not in part_of]
    union = everything if len(kept) == len(operations) else union_of(guide, [o for o in kept if o.steps])
    in_steps = sum(union.counted.values(), Decimal(0))
    bare = bare_times([o for o in kept if not o.steps], [o for o in kept if o.steps], in_steps)
    counted = {**union.counted, **{time.operation: time.minutes - time.less for time in bare}}
    minutes = sum(counted.values(), Decimal(0))
    hours = tenths(minutes, rounding)
    shares = in_tenths([counted.get(key, Decimal(0)) for key in chosen], hours)
    return LabourTime(
        minutes=minutes,
        hours=hours,
        separate=tenths(sum(alone.values(), Decimal(0)), rounding),
        rounding=rounding,
        operations=tuple(
            OperationTime(
                o.key,
                o.words,
                tenths(alone[o.key], rounding),
                counted.get(o.key, Decimal(0)),
                share,
                part_of.get(o.key, ""),
            )
            for o, share in zip(operations, shares, strict=True)
        ),
        performed=union.performed,
        bare=tuple(bare),
        unknown_overlaps=unknown_overlaps(kept),
    )


def _known(guide: Guide, key: str) -> Operation:
    try:
        return guide.operations[key]
    except KeyError:
        raise BadInput("operations", f"The guide has no operation '{key}'.", "Choose one that it has.") from None


def _inclusions(guide: Guide, operations: Sequence[Operation], alone: dict[str, Decimal]) -> dict[str, str]:
    """Which chosen operation is part of which other chosen one, through several levels if need be."""
    chosen = {operation.key for operation in operations}
    inside: dict[str, str] = {}
    for operation in operations:
        waiting, seen = list(operation.includes), set[str]()
        while waiting:
            key = waiting.pop()
            if key in seen:
                continue
            seen.add(key)
            waiting.extend(guide.operations[key].includes)
            if key in chosen and alone[key] > alone[operation.key]:
                problem = f"It includes '{key}', which takes longer by itself."
                raise BadInput(f"{operation.key}.includes", problem, "Correct one of the two times in the guide.")
            if key in chosen:
                inside.setdefault(key, operation.key)
    return inside


def are_rounded(minutes: Decimal, hours: Decimal) -> bool:
    """Whether the hours are these minutes rounded by one rule or another, and not something else."""
    return abs(minutes - hours * 10 * TENTH) < TENTH


def in_tenths(minutes: list[Decimal], hours: Decimal) -> list[Decimal]:
    """Hours (in tenths) as shares near the minutes of each operation; in proportion where they are not the minutes rounded."""
    scale = 10 ** max((max(0, -int(value.as_tuple().exponent)) for value in minutes), default=0)
    weights, whole = [int(value * scale) for value in minutes], int(hours * 10)
    if are_rounded(sum(minutes, Decimal(0)), hours):
        parts = largest_remainder(weights, 6 * scale, whole)
    else:
        parts = allocate_units(whole, weights)
    return [(Decimal(part) / 10).quantize(Decimal("0.1")) for part in parts]
