"""The class of a small spark-ignition engine, and the useful-life hours its label may print. The tables are data."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from orders.rules.strict import Node
from warranty.coverage.loader import root_of
from warranty.coverage.schema import amount


@dataclass(frozen=True)
class EngineClass:
    """One class: hand-held or not, and displacement in cc from `low` to below `high` (None is open)."""

    code: str
    hand_held: bool
    low: Decimal | None
    high: Decimal | None


@dataclass(frozen=True)
class UsefulLife:
    """The hours a maker may choose for some classes; longer choices go in steps up to `longest`, where that is set."""

    classes: tuple[str, ...]
    choices: tuple[int, int, int]
    longest: int | None
    step: int | None


@cache
def tables() -> tuple[tuple[EngineClass, ...], tuple[UsefulLife, ...]]:
    """Both tables, read on first use."""
    root = root_of("engine_classes.yaml").fields(["classes", "useful_life"])
    classes = root["classes"].fields(["source", "rows"])
    life = root["useful_life"].fields(["source", "years", "rows"])
    return tuple(map(_class, classes["rows"].items())), tuple(map(_life, life["rows"].items()))


def _class(node: Node) -> EngineClass:
    row = node.fields(["code", "hand_held"], ["from", "below"])
    low, high = (amount(row[key]) if key in row else None for key in ("from", "below"))
    return EngineClass(row["code"].text(), row["hand_held"].flag(), low, high)


def _life(node: Node) -> UsefulLife:
    row = node.fields(["classes", "low", "middle", "high"], ["longest", "step"])
    low, middle, high = (row[key].whole(1, 100_000) for key in ("low", "middle", "high"))
    longest, step = (row[key].whole(1, 100_000) if key in row else None for key in ("longest", "step"))
    return UsefulLife(row["classes"].texts(), (low, middle, high), longest, step)


def engine_class(hand_held: bool | None, displacement_cc: Decimal | None) -> str | None:
    """'I' to 'V'; None while hand-held or not, or the displacement, is not known."""
    if hand_held is None or displacement_cc is None:
        return None
    for one in tables()[0]:
        inside = (one.low is None or displacement_cc >= one.low) and (one.high is None or displacement_cc < one.high)
        if one.hand_held is hand_held and inside:
            return one.code
    return None


def label_hours(code: str, hours: Decimal) -> str:
    """'listed' for one of the class's figures, 'longer' for a permitted longer one, else 'odd': read the label again."""
    for one in tables()[1]:
        if code in one.classes:
            if hours in one.choices:
                return "listed"
            step, longest = one.step, one.longest
            if step is not None and longest is not None and one.choices[2] < hours <= longest and hours % step == 0:
                return "longer"
    return "odd"
