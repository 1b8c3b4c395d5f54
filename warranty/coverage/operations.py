"""What a shop may not do to a machine, and which record some work must leave. The rules are data."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from orders.rules.strict import Node
from orders.rules.trade import trade
from orders.rules.work import ACTIONS
from warranty.coverage.loader import root_of
from warranty.coverage.schema import amount
from warranty.coverage.telling import taken_off
from warranty.coverage.vocabulary import NO_ENGINE


@dataclass(frozen=True)
class Refused:
    """An operation that is never a repair: by which rule, in words, and its source.

    `of_the_label`: the rule speaks of engines that were certified; one whose label was read and shows no such rule is free of it.
    """

    rule: str
    action: str
    component: str
    says: str
    source: str
    of_the_label: bool


@dataclass(frozen=True)
class Duty:
    """A record that work leaves. `sure` is false while it is in doubt whether it is owed: keep it to be safe.

    `doubt` says why: 'displacement' or 'power' (not known), 'extent' (whether the work is so much as a rebuild), '' when it is sure.
    """

    rule: str
    says: str
    record: tuple[str, ...]
    keep_years: int
    doubt: str
    source: str

    @property
    def sure(self) -> bool:
        return not self.doubt


@dataclass(frozen=True)
class _Rule:
    id: str
    actions: tuple[str, ...]
    codes: tuple[str, ...]
    says: str
    source: str
    of_the_label: bool = False
    perhaps: tuple[str, ...] = ()
    record: tuple[str, ...] = ()
    keep_years: int = 0
    displacement_from: Decimal | None = None
    spark_only: bool = False


@cache
def _rules() -> tuple[tuple[_Rule, ...], tuple[_Rule, ...]]:
    root = root_of("operations.yaml").fields(["refused", "told", "duties"])
    return tuple(map(_refused, root["refused"].items())), tuple(map(_duty, root["duties"].items()))


def _refused(node: Node) -> _Rule:
    row = node.fields(["id", "actions", "codes", "of_the_label", "says", "source"])
    return _Rule(
        row["id"].text(), row["actions"].some_of(ACTIONS, "action"), row["codes"].some_of(trade().components, "component"),
        row["says"].text(), row["source"].text(), row["of_the_label"].flag(),
    )  # fmt: skip


def _duty(node: Node) -> _Rule:
    row = node.fields(
        [
            "id",
            "actions",
            "codes",
            "perhaps",
            "displacement_from",
            "spark_only_below",
            "keep_years",
            "says",
            "record",
            "source",
        ]
    )
    return _Rule(
        row["id"].text(), row["actions"].some_of(ACTIONS, "action"), row["codes"].some_of(trade().components, "component"),
        row["says"].text(), row["source"].text(), perhaps=row["perhaps"].some_of(trade().components, "component"),
        record=row["record"].texts(), keep_years=row["keep_years"].whole(1, 100),
        displacement_from=amount(row["displacement_from"]), spark_only=row["spark_only_below"].flag(),
    )  # fmt: skip


def refused(action: str, component: str) -> Refused | None:
    """Why this operation is never to be offered or done, or None. Raises ValueError for an unknown action or component."""
    if action not in ACTIONS or component not in trade().components:
        raise ValueError(f"there is no operation '{action}' on '{component}'; actions are {', '.join(ACTIONS)}")
    for rule in _rules()[0]:
        if action in rule.actions and component in rule.codes:
            return Refused(rule.id, action, component, rule.says, rule.source, rule.of_the_label)
    return None


def told(text: str) -> Refused | None:
    """The first forbidden work that a text in plain English tells of, or None.

    A text that goes on to tell that this part was put back or fitted new, and words that deny, tell of none.
    """
    component = taken_off(text)
    return None if component is None else refused("remove", component)


def duties(work: Iterable[tuple[str, str]], power: str | None, displacement_cc: Decimal | None) -> tuple[Duty, ...]:
    """Records that this work (pairs of action and component) must leave.

    Spark-ignition engines below the rule's displacement are free of it; battery and mains machines have no engine.
    """
    done = set(work)
    if power in NO_ENGINE:
        return ()
    found: list[Duty] = []
    for rule in _rules()[1]:
        touched = any((action, code) in done for action in rule.actions for code in rule.codes)
        perhaps = any((action, code) in done for action in rule.actions for code in rule.perhaps)
        limit = rule.displacement_from
        below = limit is not None and displacement_cc is not None and displacement_cc < limit
        exempt = not rule.spark_only or power != "diesel"
        small = below and exempt and not (rule.spark_only and power is None)  # what may be a diesel is not free of it
        if (touched or perhaps) and not small:
            unsized = "" if limit is None or not exempt else "displacement" if displacement_cc is None else ""
            doubt = "extent" if not touched else "power" if below and power is None else unsized
            found.append(Duty(rule.id, rule.says, rule.record, rule.keep_years, doubt, rule.source))
    return tuple(found)
