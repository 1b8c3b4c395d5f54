"""Does the sums of `orders/rules/figures.py` again, in exact fractions and by nothing of the product's own arithmetic."""

from __future__ import annotations

import graphlib
import re
from collections import defaultdict
from decimal import Decimal
from fractions import Fraction
from typing import Any

Facts = dict[str, Any]
_TOKEN = re.compile(r"\s*(?:([0-9]+(?:\.[0-9]+)?)|([-+×÷()]))")


def value_of(working: str) -> Fraction:
    """The exact value of '0.8 × 95.00': numbers, + - × ÷ and brackets, by the usual precedence."""
    tokens: list[str] = []
    at = 0
    while at < len(working.rstrip()):
        found = _TOKEN.match(working, at)
        assert found, f"'{working}' is no sum at place {at}"
        tokens.append(found[1] or found[2])
        at = found.end()
    value = _added(tokens)
    assert not tokens, f"'{working}' goes on with {tokens}"
    return value


def _added(tokens: list[str]) -> Fraction:
    value = _multiplied(tokens)
    while tokens and tokens[0] in "+-":
        sign = 1 if tokens.pop(0) == "+" else -1
        value += sign * _multiplied(tokens)
    return value


def _multiplied(tokens: list[str]) -> Fraction:
    value = _single(tokens)
    while tokens and tokens[0] in "×÷":
        times = tokens.pop(0) == "×"
        other = _single(tokens)
        value = value * other if times else value / other
    return value


def _single(tokens: list[str]) -> Fraction:
    assert tokens, "the sum breaks off"
    token = tokens.pop(0)
    if token == "-":
        return -_single(tokens)
    if token == "(":
        value = _added(tokens)
        assert tokens and tokens.pop(0) == ")", "a bracket stays open"
        return value
    return Fraction(token)


def _half_up(value: Fraction, cent: Fraction) -> Fraction:
    moved = abs(value) / cent + Fraction(1, 2)
    whole = moved.numerator // moved.denominator
    return (whole if value >= 0 else -whole) * cent


def _half_even(value: Fraction, cent: Fraction) -> Fraction:
    return round(value / cent) * cent  # Python's own rounding of fractions goes to the even one


def _next_up(value: Fraction, cent: Fraction) -> Fraction:
    return -(-value // cent) * cent


ROUNDINGS = {"half up": _half_up, "half even": _half_even, "up": _next_up}
SIZES = {"h": Fraction(1, 10)}
"""What is the smallest step of a figure that is no money, by its unit; of other units nothing is rounded."""


def done_again(figures: list[Facts], decimals: int) -> dict[str, Decimal]:
    """Every figure by name, each done again from what it says; no circle, no doubled name, no reference into nothing."""
    cent = Fraction(1, 10**decimals)
    amounts = {one["figure"]: one["amount"] for one in figures}
    sizes = {one["figure"]: SIZES.get(one["unit"]) if one.get("unit") else cent for one in figures}
    assert len(amounts) == len(figures), "a figure stands there twice"
    leans: dict[str, set[str]] = {name: set() for name in amounts}
    shares: dict[tuple[str, str], list[tuple[Fraction, Fraction, bool]]] = defaultdict(list)
    for one in figures:
        assert one["words"] and one["steps"], one
        if one["amount"] is None:  # not known: its steps say why
            assert all(step["text"] for step in one["steps"]), one
            continue
        assert sum(Fraction(step["amount"]) for step in one["steps"]) == Fraction(one["amount"]), one
        for step in one["steps"]:
            _check_step(step, one, amounts, sizes[one["figure"]])
            leans[one["figure"]] |= {step[name] for name in ("of", "share_of") if step.get(name)}
            if step.get("share_of"):
                exact, amount = value_of(step["working"]), Fraction(step["amount"])
                assert step["rounding"].split(":")[0] in ("up", "down"), step
                shares[step["share_of"], step["among"]].append((exact, amount, step["rounding"].startswith("up")))
    list(graphlib.TopologicalSorter(leans).static_order())  # CycleError where figures explain each other in a circle
    for (whole, among), parts in shares.items():
        size = sizes[whole]
        assert size is not None, whole
        _check_shares(Fraction(amounts[whole]), parts, size, f"{whole} among {among}")
    return {name: Decimal(amount) for name, amount in amounts.items() if amount is not None}


def _check_step(step: Facts, one: Facts, amounts: dict[str, Any], size: Fraction | None) -> None:
    assert step["text"], one
    assert sum(bool(step.get(name)) for name in ("working", "of", "given")) == 1, (step, one["figure"])
    amount = Fraction(step["amount"])
    if step.get("of"):
        assert step["of"] in amounts, (step, one["figure"])
        assert abs(amount) == abs(Fraction(amounts[step["of"]])), (step, amounts[step["of"]])
    if step.get("share_of"):
        assert step["share_of"] in amounts and step["among"], (step, one["figure"])
    elif step.get("working"):
        exact, rounding = value_of(step["working"]), step.get("rounding", "")
        if rounding in ROUNDINGS:
            assert size is not None and amount == ROUNDINGS[rounding](exact, size), (step, one["figure"])
        elif rounding == "cut off":
            assert size is not None and exact >= 0 and amount == exact // size * size, (step, one["figure"])
        else:
            assert rounding == "" and amount == exact, (step, one["figure"])


def _check_shares(whole: Fraction, parts: list[tuple[Fraction, Fraction, bool]], cent: Fraction, where: str) -> None:
    """Each share is its exact part rounded down, or up by a cent that was left over; and no smaller remainder went up.

    A whole below zero, or one that is taken off, mirrors the split of the same above zero.
    """
    total = sum(amount for _, amount, _ in parts)
    assert abs(total) == abs(whole), (where, whole, parts)
    signs = (1, -1) if not total else (1,) if total > 0 else (-1,)  # nothing, and nothing taken off, look the same
    assert any(_split_well(parts, cent, sign) for sign in signs), (where, whole, parts)


def _split_well(parts: list[tuple[Fraction, Fraction, bool]], cent: Fraction, sign: int) -> bool:
    remainders: dict[bool, list[Fraction]] = {True: [], False: []}
    for exact, amount, up in parts:
        cents, rest = divmod(exact * sign / cent, 1)
        if amount * sign != (cents + up) * cent:
            return False
        remainders[up].append(rest)
    return not remainders[True] or min(remainders[True]) >= max(remainders[False], default=Fraction(0))
