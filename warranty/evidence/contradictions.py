"""Facts of a finding that do not go together, by rules kept as data and by the evidence table. Pure.

A rule never changes a finding; it says what does not fit and what would settle it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Literal, cast

from orders.rules import strict, trade
from orders.rules.strict import Node
from warranty.evidence import table

FILE = Path(__file__).parent / "rules" / "contradictions.yaml"
SET_UP = FILE.with_name("set_up_parts.yaml")
NOT_KNOWN = "not_known"
WEAR_ON_NEW = "worn_on_a_new_machine"  # the coverage engine warns by the same days and hours

Kind = Literal["contradiction", "ask"]
_FLAGS = ("never_opened", "set_up_part", "root_missing", "present", "sound", "takes_time", "unsafe", "engine",
          "pictures", "measured")  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Observed:
    """One finding with what is known around it; None means not known.

    `days_since_sale` counts from the sale to the day of the finding; `pictures` is the number of photographs;
    `set_up_part`: the part belongs to the dealer's set-up (handle, blade, oil fill); `root_missing`: another finding
    of the order says that a part is missing. `signs` are codes of the evidence table.
    """

    component: str
    condition: str
    cause: str
    family: str
    power_source: str
    days_since_sale: int | None = None
    hours: Decimal | None = None
    never_opened: bool | None = None
    set_up_part: bool = False
    root_missing: bool = False
    pictures: int = 0
    measured: bool = False
    signs: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Doubt:
    """What does not fit. `kind` 'contradiction': both cannot be true; 'ask': one more fact is wanted.

    `field`: the field of the finding that it is about. `at_bench`: the bench's own rules say it at the finding already.
    """

    code: str
    kind: Kind
    words: str
    remedy: str
    field: str = "cause"
    at_bench: bool = False


@dataclass(frozen=True)
class Rule:
    """One row of the file: the doubt, and what must hold of a finding for it."""

    doubt: Doubt
    when: Mapping[str, tuple[str, ...] | bool | int | None]

    def holds(self, facts: Mapping[str, str | bool | None], seen: Observed) -> bool:
        """Whether every fact the rule asks for is there; a fact that is not known never is."""
        return all(self._one(key, wanted, facts, seen) for key, wanted in self.when.items())

    @staticmethod
    def _one(
        key: str,
        wanted: tuple[str, ...] | bool | int | None,
        facts: Mapping[str, str | bool | None],
        seen: Observed,
    ) -> bool:
        if key in _COMPARE:
            return _COMPARE[key](seen, cast(int, wanted))
        if isinstance(wanted, tuple):
            return facts[key] in wanted
        return facts[key] is wanted


def contradictions(seen: Observed) -> tuple[Doubt, ...]:
    """Everything that does not fit, contradictions first; empty when all goes together.

    Raises trade.UnknownCode for a code that does not exist.
    """
    facts = _facts(seen)
    found = [rule.doubt for rule in rules() if rule.holds(facts, seen)]
    found += _against_the_signs(seen)
    return tuple(sorted(found, key=lambda doubt: doubt.kind != "contradiction"))


@cache
def rules() -> tuple[Rule, ...]:
    """The shipped rules, read on first use and kept."""
    return load()


def load(path: Path = FILE) -> tuple[Rule, ...]:
    """Reads the rules; raises DataError (file:line: problem)."""
    found: dict[str, Rule] = {}
    for item in strict.read(path).fields(["rules"])["rules"].items():
        row = item.fields(["code", "kind", "when", "words", "remedy"], ["bench"])
        kind = cast(Kind, row["kind"].one_of(["contradiction", "ask"], "kind"))
        wanted = {key: _wanted(key, node) for key, node in row["when"].entries().items()}
        if not wanted:
            raise row["when"].refuse("a rule needs at least one fact")
        doubt = Doubt(
            row["code"].text(), kind, row["words"].text(), row["remedy"].text(),
            "cause" if "cause" in wanted else "condition", row["bench"].flag() if "bench" in row else False,
        )  # fmt: skip
        if doubt.code in found:
            raise item.refuse(f"the rule '{doubt.code}' stands here twice")
        found[doubt.code] = Rule(doubt, wanted)
    return tuple(found.values())


def too_soon_for_wear(days: int | None, hours: Decimal | None) -> bool:
    """Whether a machine is too new, by the rule's own days and hours, for anything on it to be worn."""
    limits = next(rule for rule in rules() if rule.doubt.code == WEAR_ON_NEW).when
    blank = Observed(
        component="", condition="", cause="", family="", power_source="", days_since_sale=days, hours=hours
    )
    return all(_COMPARE[key](blank, cast(int, wanted)) for key, wanted in limits.items() if key in _COMPARE)


@cache
def set_up_parts() -> frozenset[str]:
    """Components that a dealer's set-up assembles after the machine left its maker."""
    row = strict.read(SET_UP).fields(["components"])
    return frozenset(row["components"].some_of(trade.trade().components, "component"))


def _facts(seen: Observed) -> Mapping[str, str | bool | None]:
    part, state, why = trade.component(seen.component), trade.condition(seen.condition), trade.cause(seen.cause)
    powers = trade.powers_of(seen.family, seen.power_source)
    engines = {power.engine for power in powers}
    return {
        "cause": why.code,
        "condition": state.code,
        "component": part.code,
        "system": part.system,
        "never_opened": seen.never_opened,
        "set_up_part": seen.set_up_part,
        "root_missing": seen.root_missing,
        "present": state.present,
        "sound": state.sound,
        "takes_time": state.takes_time,
        "unsafe": state.code in part.unsafe,
        "engine": engines.pop() if len(engines) == 1 else None,
        "pictures": seen.pictures > 0,
        "measured": seen.measured,
    }


def _against_the_signs(seen: Observed) -> list[Doubt]:
    """The cause marked, held against the evidence table: ruled out by the signs ticked, or speaking for another."""
    if not seen.signs or seen.cause == "unknown":
        return []
    ranked = table.tell_apart(seen.component, seen.condition, seen.family, seen.signs)
    mine = next((item for item in ranked if item.cause == seen.cause), None)
    others = ", ".join(trade.cause(item.cause).name for item in ranked if item.standing == "supported")
    name = trade.cause(seen.cause).name
    if mine is not None and mine.standing == "ruled_out":
        said = "; ".join(reason.words for reason in mine.reasons if reason.speaks_for is False)
        instead = f"The signs speak for: {others}." if others else "Look for the sign that tells."
        words = f"'{name}' is ruled out by what was seen: {said}."
        return [Doubt("cause_ruled_out_by_signs", "contradiction", words, instead)]
    if others and (mine is None or mine.standing == "open"):
        look = f"Look for a sign of it: {mine.checks[0]}." if mine is not None else "Say in the note what shows it."
        words = f"The signs that were seen speak for {others}, and none of them for '{name}'."
        return [Doubt("signs_speak_for_another", "ask", words, look)]
    return []


def _at_most_days(seen: Observed, wanted: int) -> bool:
    return seen.days_since_sale is not None and 0 <= seen.days_since_sale <= wanted


def _at_least_days(seen: Observed, wanted: int) -> bool:
    return seen.days_since_sale is not None and seen.days_since_sale >= wanted


def _at_most_hours(seen: Observed, wanted: int) -> bool:
    """Holds too when the hours are not known: most hand-carried machines have no meter, and their age decides."""
    return seen.hours is None or seen.hours <= wanted


_COMPARE: Mapping[str, Callable[[Observed, int], bool]] = {
    "days_at_most": _at_most_days,
    "days_at_least": _at_least_days,
    "hours_at_most": _at_most_hours,
}


def _wanted(key: str, node: Node) -> tuple[str, ...] | bool | int | None:
    known = trade.trade()
    choices: Mapping[str, Mapping[str, object]] = {
        "cause": known.causes,
        "condition": known.conditions,
        "component": known.components,
        "system": known.systems,
    }
    if key in choices:
        return node.some_of(choices[key], key)
    if key in _COMPARE:
        return node.whole(0, 100_000)
    if key not in _FLAGS:
        raise node.refuse(strict.no_such("fact", key, [*choices, *_COMPARE, *_FLAGS]))
    if getattr(node.node, "value", None) == NOT_KNOWN:
        return None
    return node.flag()
