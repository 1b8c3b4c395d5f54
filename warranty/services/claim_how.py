"""How the figures of a claim came about, as they were frozen with it, and where its money stands now."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from orders.rules.figures import figure, given, same, sum_of, worked
from shopdocs.money import Currency, plain, round_money
from warranty.models import Claim

from .claim_answers import AT_REST, standing
from .claim_figures import unknown
from .lookups import currency_of

Facts = dict[str, Any]
TENTHS = Decimal(10)


def claim_explained(claim: Claim) -> list[Facts]:
    """Every figure that was frozen with a claim, and where its money stands now. A claim that is older than such lists is told
    out of its facts.
    """
    facts = claim.facts
    return [*(facts["figures"] if "figures" in facts else _told_of(facts)), *_balance(claim)]


def _balance(claim: Claim) -> Iterable[Facts]:
    """What was approved and credited, and what is owed of it: by the answers and credits up to now."""
    now, currency = standing(claim), currency_of(claim.shop)

    def money(amount: Decimal | None) -> Decimal:
        return round_money(amount or Decimal(0), currency)

    credits = [
        given(
            f"{'Credit' if one.amount > 0 else 'Taken back'} of {one.received_on}",
            money(one.amount),
            one.reference or "the books",
        )
        for one in sorted(claim.credits.all(), key=lambda one: (one.received_on, one.created_at))
    ]
    credited = money(now.credited)
    yield figure("credited", "Credited", credited, credits or [given("Nothing came yet", credited, "the books")])
    if now.approved is None or now.owed is None:
        why = ["No answer says an amount yet."]
        yield from (unknown(name, words, why) for name, words in (("approved", "Approved"), ("owed", "Owed of it")))
        return
    last = max(
        (one for one in claim.answers.all() if one.outcome in AT_REST), key=lambda one: (one.created_at, str(one.pk))
    )
    by = f"answer of {last.answered_on}{f', {last.reference}' if last.reference else ''}"
    approved, owed = money(now.approved), money(now.owed)
    parts = [
        given(text, money(amount), by)
        for text, amount in (("Labour", last.labour_approved), ("Parts", last.parts_approved))
    ]
    yield figure("approved", "Approved", approved, parts)
    steps = [same("Approved", approved, "approved"), same("Less credited", -credited, "credited")]
    if owed != approved - credited:
        more = sum_of("{} - {}", credited, approved)
        steps.append(worked("More came than was approved", credited - approved, more))
    yield figure("owed", "Owed of it", owed, steps)


# Claims that were filed before their figures were frozen with them


def _told_of(facts: Facts) -> list[Facts]:
    """Labour, each part, all parts, and what is expected in all, as far as the facts tell it: text and amount."""
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
    if amount is None:
        return unknown(name, words, facts["not_known"])
    return figure(name, words, Decimal(amount), [given(text, part, "the claim") for text, part in steps()])


def _labour(facts: Facts) -> Iterable[tuple[str, Decimal]]:
    """Hours times the distributor's rate, then what its promise or the job's split takes off."""
    labour = facts["labour"]
    amount = Decimal(labour["amount"])
    if labour["rate"] is None:
        return [(facts["promise"] or "No labour is paid", amount)]
    hours = Decimal(labour["tenths"]) / TENTHS
    gross = round_money(hours * Decimal(labour["rate"]), currency_told(facts))
    return [(f"{plain(hours)} h at {labour['rate']}", gross), *_taken(facts["promise"], amount - gross)]


def _part(facts: Facts, line: Facts) -> Iterable[tuple[str, Decimal]]:
    """Quantity times the price it is claimed at, then what the distributor's terms, promise or split make of it."""
    amount = Decimal(line["amount"])
    if line["each"] is None:
        return [(facts["promise"] or "No part is paid", amount)]
    gross = round_money(Decimal(line["quantity"]) * Decimal(line["each"]), currency_told(facts))
    words = "; ".join(part for part in (facts["parts"]["basis"], facts["promise"]) if part)
    return [(f"{line['quantity']} at {line['each']}", gross), *_taken(words, amount - gross)]


def currency_told(facts: Facts) -> Currency:
    """The currency that a claim was frozen in."""
    shop = facts["shop"]
    return Currency(shop["currency"], shop["decimals"], shop["symbol"])


def _taken(words: str, amount: Decimal) -> list[tuple[str, Decimal]]:
    return [(words or "Rounded", amount)] if amount else []
