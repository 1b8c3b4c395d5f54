"""How every figure that a claim asks for came about, out of its frozen facts: the steps of a figure add up to it."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from orders.rules.figures import figure, given
from shopdocs.money import Currency, plain, round_money

Facts = dict[str, Any]
TENTHS = Decimal(10)


def claim_explained(facts: Facts) -> list[Facts]:
    """Labour, each part, all parts, and what is expected in all. An amount that is not known is None, and its steps say why."""
    labour, parts = facts["labour"], facts["parts"]
    return [
        _or_unknown(facts, "labour", "Labour expected", labour["amount"], lambda: _labour(facts)),
        *(
            _or_unknown(facts, f"part:{one['id']}", one["words"], one["amount"], lambda one=one: _part(facts, one))
            for one in parts["lines"]
        ),
        _or_unknown(
            facts, "parts", "Parts expected", parts["amount"],
            lambda: [(one["words"], Decimal(one["amount"])) for one in parts["lines"]] or [("No part was fitted", Decimal(0))],
        ),
        _or_unknown(
            facts, "expected", "Expected in all", facts["expected"],
            lambda: [("Labour", Decimal(labour["amount"])), ("Parts", Decimal(parts["amount"]))],
        ),
    ]  # fmt: skip


def _or_unknown(facts: Facts, name: str, words: str, amount: str | None, steps: Any) -> Facts:
    if amount is not None:
        return figure(name, words, Decimal(amount), [given(text, part, "the claim") for text, part in steps()])
    why = facts["not_known"] or ["it is not recorded"]
    return {"figure": name, "words": words, "amount": None, "steps": [{"text": one} for one in why]}


def _labour(facts: Facts) -> Iterable[tuple[str, Decimal]]:
    """Hours times the distributor's rate, then what its promise or the job's split takes off."""
    labour = facts["labour"]
    amount = Decimal(labour["amount"])
    if labour["rate"] is None:
        return [(facts["promise"] or "No labour is paid", amount)]
    hours = Decimal(labour["tenths"]) / TENTHS
    gross = round_money(hours * Decimal(labour["rate"]), _currency(facts))
    return [(f"{plain(hours)} h at {labour['rate']}", gross), *_taken(facts["promise"], amount - gross)]


def _part(facts: Facts, line: Facts) -> Iterable[tuple[str, Decimal]]:
    """Quantity times the price it is claimed at, then what the distributor's terms, promise or split make of it."""
    amount = Decimal(line["amount"])
    if line["each"] is None:
        return [(facts["promise"] or "No part is paid", amount)]
    gross = round_money(Decimal(line["quantity"]) * Decimal(line["each"]), _currency(facts))
    words = "; ".join(part for part in (facts["parts"]["basis"], facts["promise"]) if part)
    return [(f"{line['quantity']} at {line['each']}", gross), *_taken(words, amount - gross)]


def _currency(facts: Facts) -> Currency:
    shop = facts["shop"]
    return Currency(shop["currency"], shop["decimals"], shop["symbol"])


def _taken(words: str, amount: Decimal) -> list[tuple[str, Decimal]]:
    return [(words or "Rounded", amount)] if amount else []
