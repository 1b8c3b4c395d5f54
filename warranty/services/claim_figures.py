"""How every figure that a claim asks for came about, frozen with it: the sum of each step can be done again, to the cent.

Beside the hours of `claim_hours` and the distributor's 'rate': 'pieces:ID' and 'each:ID' of a part, 'labour', 'part:ID', 'parts',
'expected'. Where several payers share the job, 'whole:labour' and 'whole:ID' stand before the split, and the split is told as
pricing tells it ('line:labour', 'common:NUMBER', 'part:ID:warranty' and so on).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from orders.models import JobPart
from orders.rules.figures import HALF_UP, Told, figure, given, in_unit, same, sum_of, worked
from orders.rules.price_figures import JobNames, price_figures
from orders.rules.pricing import Payer, Priced
from shopdocs.money import Currency, plain, round_money
from warranty.models import DistributorTerms

from .decision_words import TermPays
from .distributor_terms import terms_words

Facts = dict[str, Any]
TENTHS = Decimal(10)
LABOUR = "labour"
LINE_RULE = "an amount is rounded once, half a cent up: common practice, no source"
OF_PAYERS = ("payer:", "all:", "share:", "job:")
"""Figures of pricing that are no part of a claim."""


@dataclass(frozen=True, slots=True)
class Claimed:
    """Labour (key 'labour') or a part (its id) before anybody shares it; `amount` None: not known."""

    key: str
    words: str
    amount: Decimal | None
    steps: tuple[Told, ...] = ()


@dataclass(frozen=True, slots=True)
class Borne:
    """What the warranty bears of the same, where the job is shared; None: not known. `priced`: how, as far as all is known."""

    amounts: Sequence[Decimal | None]
    priced: Priced | None
    number: int


def labour_claimed(tenths: int, terms: DistributorTerms, pays: TermPays, currency: Currency) -> Claimed:
    """Hours at the distributor's rate, as far as the term pays labour; rounded once."""
    assert terms.labour_rate is not None
    if not pays.labour:
        return unpaid(LABOUR, "Labour", pays, currency)
    hours, percent = Decimal(tenths) / TENTHS, pays.labour_percent
    amount = hours * terms.labour_rate * (Decimal(100) if percent is None else percent) / 100
    text, working = (
        f"{plain(hours)} h at {plain(terms.labour_rate)}",
        sum_of("{} × {}", plain(hours), plain(terms.labour_rate)),
    )
    return _claimed(LABOUR, "Labour", amount, text, working, percent, pays, terms, currency)


def part_claimed(
    row: JobPart, pieces: Decimal, each: Decimal, terms: DistributorTerms, pays: TermPays, currency: Currency
) -> Claimed:
    """Pieces at the price the distributor's percentage is of, as far as the term pays parts; rounded once."""
    share, percent = terms.parts_percent, pays.parts_percent
    assert share is not None
    amount = pieces * each * share * (Decimal(100) if percent is None else percent) / 10_000
    text = f"{plain(pieces)} at {plain(each)}, {plain(share)} % {terms.get_parts_base_display()}"
    working = sum_of("{} × {} × {} ÷ 100", plain(pieces), plain(each), plain(share))
    return _claimed(str(row.pk), row.words, amount, text, working, percent, pays, terms, currency)


def unpaid(key: str, words: str, pays: TermPays, currency: Currency) -> Claimed:
    """What the term does not pay at all."""
    nothing = round_money(Decimal(0), currency)
    kind = "labour" if key == LABOUR else "parts"
    return Claimed(key, words, nothing, (given(f"The term pays no {kind}", nothing, pays.words or "the term"),))


def _claimed(
    key: str, words: str, amount: Decimal, text: str, working: str, percent: Decimal | None, pays: TermPays,
    terms: DistributorTerms, currency: Currency,
) -> Claimed:  # fmt: skip
    rules = [terms_words(terms)]
    if percent is not None and percent != 100:
        text, working = f"{text}, {plain(percent)} % of it by the term", f"{working} × {plain(percent)} ÷ 100"
        rules.append(pays.words or "the term")
    rounded = round_money(amount, currency)
    return Claimed(key, words, rounded, (worked(text, rounded, working, HALF_UP, "; ".join([*rules, LINE_RULE])),))


def rate_figure(terms: DistributorTerms) -> list[Facts]:
    """What the distributor pays for an hour, as far as it is recorded."""
    if terms.labour_rate is None:
        return []
    step = given("An hour", terms.labour_rate, terms.distributor.name, terms_words(terms))
    return [figure("rate", "The distributor's labour rate", terms.labour_rate, [step])]


def part_figures(row: JobPart, pieces: Decimal, each: Decimal | None, base: str) -> list[Facts]:
    """How many pieces are asked for, and the price that the percentage is of."""
    steps = [given("Fitted", row.quantity, "the job")]
    if pieces != row.quantity:
        steps.append(given("Came back unused", pieces - row.quantity, "the job"))
    found = [in_unit("pieces", figure(f"pieces:{row.pk}", f"Pieces: {row.words}", pieces, steps))]
    if each is not None:
        if base == DistributorTerms.PartsBase.COST:
            by = "the shop's cost of it"
        else:
            by = f"list price of {row.part.number} in the catalogue" if row.part is not None else "its price on the job"
        found.append(figure(f"each:{row.pk}", f"Price: {row.words}", each, [given("One of it", each, by)]))
    return found


def claim_figures(
    claimed: Sequence[Claimed], borne: Borne | None, why: Sequence[str], currency: Currency
) -> list[Facts]:
    """Labour, each part, all parts, and what is expected in all: out of the labour and the parts in their order.

    An amount that is not known is None, and `why` says so.
    """
    found: list[Facts] = []
    if borne is None:
        made = [(one, one.amount, list(one.steps)) for one in claimed]
    else:
        found += _split(claimed, borne)
        names = {one["figure"] for one in found}
        made = [
            (one, amount, [_of_warranty(one, amount, names)] if amount is not None else [])
            for one, amount in zip(claimed, borne.amounts, strict=True)
        ]
    for one, amount, steps in made:
        name = LABOUR if one.key == LABOUR else f"part:{one.key}"
        words = "Labour expected" if one.key == LABOUR else one.words
        found.append(figure(name, words, amount, steps) if amount is not None else unknown(name, words, why))
    parts = [(one, amount) for one, amount, _ in made if one.key != LABOUR]
    labour = made[0][1]
    steps = [same(one.words, amount, f"part:{one.key}") for one, amount in parts if amount is not None]
    in_parts = sum((step.amount for step in steps), round_money(Decimal(0), currency))
    all_known = len(steps) == len(parts)
    nothing = given("No part was fitted", in_parts, "the job")
    found.append(
        figure("parts", "Parts expected", in_parts, steps or [nothing])
        if all_known
        else unknown("parts", "Parts expected", why)
    )
    whole = "Expected in all"
    if labour is None or not all_known:
        return [*found, unknown("expected", whole, why)]
    total = [same("Labour", labour, LABOUR), same("Parts", in_parts, "parts")]
    return [*found, figure("expected", whole, labour + in_parts, total)]


def unknown(name: str, words: str, why: Sequence[str]) -> Facts:
    """A figure that is not known; its steps say why."""
    return {
        "figure": name, "words": words, "amount": None,
        "steps": [{"text": one} for one in (why or ["it is not recorded"])],
    }  # fmt: skip


def _split(claimed: Sequence[Claimed], borne: Borne) -> Iterable[Facts]:
    """What is shared, and how pricing shares it; nothing of what is not known in the end."""
    if borne.priced is None:
        return
    for one in claimed:
        if one.amount is not None:
            yield figure(f"whole:{one.key}", f"{one.words}, before it is shared", one.amount, one.steps)
    first = {
        one.key: [
            same("Before it is shared", one.amount, f"whole:{one.key}")
            if one.amount is not None
            else given("Not known, and somebody else's to pay", line.net, "the payers of the job")
        ]
        for one, line in zip(claimed, borne.priced.jobs[0].lines, strict=True)
    }
    names = JobNames(borne.number, [one.key for one in claimed])
    lost = [one.key for one, amount in zip(claimed, borne.amounts, strict=True) if amount is None]
    for told in price_figures(borne.priced, [names], first=first):
        key = [*told["figure"].split(":"), ""][1]
        if not told["figure"].startswith(OF_PAYERS) and key not in lost:
            yield told


def _of_warranty(one: Claimed, amount: Decimal, names: set[str]) -> Told:
    """The warranty's part of a line by its own figure, or the whole of it, or nothing."""
    mine = f"part:{one.key}:{Payer.WARRANTY}"
    if mine in names:
        return same("What the warranty bears of it", amount, mine)
    if one.amount == amount:
        return same("The warranty bears it alone", amount, f"line:{one.key}")
    return given("Somebody else bears it alone", amount, "the payers of the job")
