"""Bare guide times: shortened by recorded pairs only, and what nobody recorded said aloud."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from orders.rules.labour_guide import Operation


@dataclass(frozen=True, slots=True)
class BareTime:
    """A bare guide time in minutes, and what it was shortened by beside other operations."""

    operation: str
    words: str
    minutes: Decimal
    less: Decimal
    beside: tuple[str, ...]


def bare_minutes(operation: Operation) -> Decimal:
    """The minutes of an operation's bare time."""
    return Decimal(60) * (operation.hours or Decimal(0))


def bare_times(bare: list[Operation], stepped: list[Operation], limit: Decimal) -> list[BareTime]:
    """Bare times, the longest first; each is shortened for its recorded pairs with longer ones and with stepped work.

    It is never shortened below zero, nor by more than the stepped work itself takes (`limit`, minutes), so that no
    set is shorter than the longest of its operations.
    """
    counted: list[BareTime] = []
    ordered = sorted(bare, key=lambda operation: (-bare_minutes(operation), operation.key))
    for index, operation in enumerate(ordered):
        beside = {o.key: _pair(operation, o) or Decimal(0) for o in stepped}
        less = min(sum(beside.values(), Decimal(0)), limit)
        for other in ordered[:index]:
            beside[other.key] = _pair(operation, other) or Decimal(0)
            less += beside[other.key]
        minutes = bare_minutes(operation)
        shared = tuple(key for key, pair in beside.items() if pair)
        counted.append(BareTime(operation.key, operation.words, minutes, min(less, minutes), shared))
    return counted


def _pair(one: Operation, other: Operation) -> Decimal | None:
    """The recorded overlap of two operations in minutes, whichever of them states it; None when nobody does."""
    found = [60 * pair.hours for pair in one.less_with if pair.operation == other.key]
    found += [60 * pair.hours for pair in other.less_with if pair.operation == one.key]
    return max(found, default=None)


def unknown_overlaps(kept: list[Operation]) -> tuple[tuple[str, str], ...]:
    """Pairs with a bare time in them about which nobody states an overlap, not even one of zero."""
    if all(operation.steps for operation in kept):
        return ()
    pairs = [(one, other) for index, one in enumerate(kept) for other in kept[index + 1 :]]
    return tuple((a.key, b.key) for a, b in pairs if not (a.steps and b.steps) and _pair(a, b) is None)
