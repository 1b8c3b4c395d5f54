"""How a figure came about, told so that somebody else can do the sum again. Pure.

The steps of a figure add up to it. Each step says where its own amount is from, in exactly one of three ways: the sum that
makes it (`working`), another figure of the same list (`of`), or who or what gave it (`given`). Figures never explain each
other in a circle.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

HALF_UP = "half up"
HALF_EVEN = "half even"
NEXT_UP = "up"
CUT_OFF = "cut off"
DOWN = "down: its remainder is not among the largest"
UP = "up: its remainder is among the largest"
Facts = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Told:
    """One step. `working` is arithmetic in plain digits with + - × ÷ and brackets; `rounding` what was done to its result.

    `share_of` names the figure that such shares make up by largest remainder, `among` which set of shares it is one of.
    `rule`: the rule that was followed, with its source.
    """

    text: str
    amount: Decimal
    working: str = ""
    rounding: str = ""
    of: str = ""
    given: str = ""
    share_of: str = ""
    among: str = ""
    rule: str = ""

    def facts(self) -> Facts:
        """The step as it is kept and served: what says nothing is left out."""
        more = {name: getattr(self, name) for name in _WORDS if getattr(self, name)}
        return {"text": self.text, "amount": f"{self.amount:f}", **more}


_WORDS = ("working", "rounding", "of", "given", "share_of", "among", "rule")


def given(text: str, amount: Decimal, by: str, rule: str = "") -> Told:
    """What nobody worked out: it was entered, or counted, or came."""
    return Told(text, amount, given=by, rule=rule)


def same(text: str, amount: Decimal, of: str, rule: str = "") -> Told:
    """Another figure, or that figure taken off."""
    return Told(text, amount, of=of, rule=rule)


def worked(text: str, amount: Decimal, working: str, rounding: str = "", rule: str = "") -> Told:
    """The result of a sum, rounded or not."""
    return Told(text, amount, working=working, rounding=rounding, rule=rule)


def shared(text: str, amount: Decimal, working: str, of: str, among: str, *, up: bool) -> Told:
    """One share of another figure. All of them make it, and the cents that are left over go to the largest remainders."""
    return Told(text, amount, working=working, rounding=UP if up else DOWN, share_of=of, among=among)


def less(step: Told) -> Told:
    """The same step taken off."""
    working = f"-({step.working})" if step.working else ""
    return replace(step, amount=-step.amount, working=working)


def figure(name: str, words: str, amount: Decimal, steps: Iterable[Told]) -> Facts:
    """A figure as it is kept and served. Raises ValueError where its steps do not add up to it: a fault of this program."""
    listed = list(steps)
    if not listed or sum((step.amount for step in listed), Decimal(0)) != amount:
        raise ValueError(f"the steps of '{name}' do not add up to {amount}: {listed}")
    return {"figure": name, "words": words, "amount": f"{amount:f}", "steps": [step.facts() for step in listed]}


def in_unit(unit: str, told: Facts) -> Facts:
    """A figure that is no money: 'h' in tenths of an hour, 'min', 's', 'pieces'."""
    return {**told, "unit": unit}


def sum_of(form: str, *numbers: Decimal | str) -> str:
    """'{} × {}' with its numbers in plain digits, those below zero in brackets."""
    digits = [one if isinstance(one, str) else f"{one:f}" for one in numbers]
    return form.format(*(f"({one})" if one.startswith("-") else one for one in digits))


def went_up(part: Fraction | int, exact: Fraction, whole: Fraction | int) -> bool:
    """Whether a share (in cents, of its exact part) got one of the cents left over; a whole below zero mirrors the one above."""
    sign = -1 if whole < 0 else 1
    return part * sign != (exact * sign).__floor__()
