"""Pricing a set of jobs: lines, discounts, payers, supplies and tax, to the last cent and with reasons.

The order of working is fixed and stated with each result (`ORDER`). Each payer's lines are one document for tax, so
the payers' totals always make the whole. The same function prices an estimate, an invoice and what a claim asks for.
Pure.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date

from orders.rules.pricing_input import (
    Discount,
    Exemption,
    FeeLine,
    Job,
    Kind,
    LabourLine,
    PartLine,
    Payer,
    Returned,
    Share,
    Split,
    Supplies,
    Taxes,
    TaxRule,
)
from orders.rules.pricing_result import Behind, PayerTotal, Priced, PricedJob, PricedLine
from orders.rules.pricing_work import TakenOut, Worked, come_back, extend, share_out, supply, take_off
from orders.rules.tax_sums import tax_units
from orders.rules.taxes import Basis, Stacking, TaxLine, TaxStack
from shopdocs.money import Currency, from_units
from shopdocs.problems import BadInput

__all__ = [
    "ORDER",
    "Basis",
    "Discount",
    "Exemption",
    "FeeLine",
    "Job",
    "Kind",
    "LabourLine",
    "PartLine",
    "Payer",
    "PayerTotal",
    "Priced",
    "PricedJob",
    "PricedLine",
    "Returned",
    "Share",
    "Split",
    "Stacking",
    "Supplies",
    "TaxLine",
    "TaxRule",
    "Taxes",
    "price",
]

ORDER = (
    "Each line is rounded once: hours or quantity times price.",
    "A line's own discount comes off first, then the job's discounts, then those of the whole order, in the order given; "
    "a percentage of the whole order is worked out job by job.",
    "What is passed on, such as an environment charge, has no discount; neither has a core charge.",
    "What came back is taken off its line as it was charged, after every discount.",
    "Payers share what is left: fixed amounts first, then percentages, then the rest.",
    "Shop supplies are a percentage of the discounted lines and are not discounted themselves.",
    "Where prices hold their tax, tax that a payer does not bear is taken out of that payer's part of each line.",
    "Tax is worked out for each payer's lines as one document.",
)
LINE_RULE, DISCOUNT_RULE, _, BACK_RULE, _, SUPPLIES_RULE, _, _ = ORDER

TAKEN_OUT = "tax inside the price"


def price(
    jobs: Sequence[Job],
    *,
    currency: Currency,
    on: date,
    taxes: Taxes | None = None,
    discounts: Sequence[Discount] = (),
    supplies: Supplies | None = None,
    exemption: Exemption | None = None,
) -> Priced:
    """Prices the jobs with the tax rules in force `on` that day.

    Raises BadInput for two jobs with one key, a discount above what it applies to, an exemption that has expired or
    names an unknown tax, and whatever the shapes themselves refuse.
    """
    taxes = taxes or Taxes()
    if len({job.key for job in jobs}) < len(jobs):
        raise BadInput("jobs", "Two jobs have one key.", "Give each job its own key.")
    rules = [rule for rule in taxes.rules if rule.holds_on(on)]
    _check_exemption(exemption, taxes, on)
    worked = [extend(job, currency) for job in jobs]
    for made in worked:
        for discount in made.job.discounts:
            take_off(_lines([made]), discount, currency)
    for discount in discounts:
        # A percentage is rounded once a job: what a job was promised at does not turn on the jobs beside it.
        for group in [worked] if discount.percent is None else [[made] for made in worked]:
            take_off(_lines(group), discount, currency)
    for made in worked:
        if made.job.has_back:
            come_back(made)
        share_out(made, currency)
    supplied = supply(supplies, worked, currency) if supplies is not None else None
    stack = TaxStack(tuple([rule.rate for rule in rules]), taxes.basis, taxes.stacking, taxes.inclusive)
    if taxes.inclusive:
        for payer in Payer:
            _take_out(payer, worked, rules, applying_to(payer, rules, exemption), stack, currency)
    payers = _payers(worked, rules, stack, exemption, currency)
    zero = from_units(0, currency)
    net, tax = sum([one.net for one in payers], zero), sum([one.tax for one in payers], zero)
    behind = Behind(supplied, stack, rules, exemption)
    return Priced(currency, tuple([PricedJob(made) for made in worked]), payers, net, tax, net + tax, ORDER, behind)


def _lines(worked: Sequence[Worked]) -> Iterator[tuple[Worked, int]]:
    return ((made, at) for made in worked for at in range(len(made.kinds)))


def _check_exemption(exemption: Exemption | None, taxes: Taxes, on: date) -> None:
    if exemption is None:
        return
    if exemption.expires is not None and exemption.expires < on:
        problem = f"Certificate {exemption.certificate} expired on {exemption.expires}."
        raise BadInput("exemption.expires", problem, "Ask the customer for a new one, or charge tax.")
    unknown = exemption.names - {rule.name for rule in taxes.rules}
    if unknown:
        problem = f"There is no tax '{min(unknown)}' to be exempt from."
        raise BadInput("exemption.names", problem, "Name taxes of this shop, or none for all.")


Column = tuple[Sequence[Kind], Sequence[int]]
Cases = dict[tuple[Kind, bool], list[int]]  # a kind of line, and whether its job holds a part for this payer


def applying_to(payer: Payer, rules: Sequence[TaxRule], exemption: Exemption | None) -> list[TaxRule]:
    """The taxes that this payer bears."""
    applying = [rule for rule in rules if payer in rule.payers]
    spared = _spared(payer, exemption)
    if spared is not None:
        applying = [rule for rule in applying if spared.names and rule.name not in spared.names]
    return applying


def _spared(payer: Payer, exemption: Exemption | None) -> Exemption | None:
    return exemption if exemption is not None and payer in exemption.payers else None


def _take_out(
    payer: Payer,
    worked: Sequence[Worked],
    rules: Sequence[TaxRule],
    applying: Sequence[TaxRule],
    stack: TaxStack,
    currency: Currency,
) -> None:
    """Takes the tax that is inside the prices, and that this payer does not bear, out of their part of each line.

    A price holds the taxes that fall on a customer, and those that fall on this payer. What is left holds those that they bear.
    """
    inside = [rule for rule in rules if Payer.CUSTOMER in rule.payers or payer in rule.payers]
    if len(applying) == len(inside):
        return
    places: list[tuple[Worked, int]] = []
    units: list[int] = []
    held: list[frozenset[str]] = []
    kept: list[frozenset[str]] = []
    for made in worked:
        own = [made.shares_at(at).get(payer, 0) for at in range(len(made.kinds))]
        beside = holds_part(made.kinds, own)
        for at, (kind, share) in enumerate(zip(made.kinds, own, strict=True)):
            if share:
                places.append((made, at))
                units.append(share)
                held.append(falling(inside, kind, beside))
                kept.append(falling(applying, kind, beside))
    if not units:
        return
    _, whole = tax_units(units, held, stack, currency)
    out = TakenOut(payer, places, units, held, kept)
    before = [share - tax for share, tax in zip(units, whole, strict=True)]
    _, borne = tax_units(before, kept, replace(stack, inclusive=False), currency)
    for (made, at), tax, own_tax in zip(places, whole, borne, strict=True):
        if tax != own_tax:
            made.cut_share(at, TAKEN_OUT, tax - own_tax, out)


def holds_part(kinds: Sequence[Kind], shares: Sequence[int]) -> bool:
    """Whether a payer bears a part among these lines, by their shares in cents; a credit of that kind is none."""
    return any(share > 0 for kind, share in zip(kinds, shares, strict=True) if kind is Kind.PART)


def falling(rules: Sequence[TaxRule], kind: Kind, beside: bool) -> frozenset[str]:
    """The names of the taxes that fall on this kind of line; `beside`: the payer's part of its job holds a part."""
    return frozenset([r.name for r in rules if kind in r.kinds and (beside or kind not in r.with_parts)])


def _payers(
    worked: Sequence[Worked],
    rules: Sequence[TaxRule],
    stack: TaxStack,
    exemption: Exemption | None,
    currency: Currency,
) -> tuple[PayerTotal, ...]:
    amounts = amounts_of(worked)
    found = []
    for payer in Payer:
        if payer not in amounts:
            continue
        spared = _spared(payer, exemption)
        total = from_units(sum([sum(column) for _, column in amounts[payer]]), currency)
        tax_lines, tax_cents = _tax(amounts[payer], applying_to(payer, rules, exemption), stack, currency)
        tax = from_units(tax_cents, currency)
        net = total - tax if stack.inclusive else total
        why = f"Exempt by certificate {spared.certificate}" if spared else ""
        found.append(PayerTotal(payer, total, net, tax, net + tax, tax_lines, why))
    return tuple(found)


def amounts_of(worked: Sequence[Worked]) -> dict[Payer, list[Column]]:
    """Each payer's parts of the lines, a column a job, beside the kinds of the lines."""
    found: dict[Payer, list[Column]] = {}
    for made in worked:
        if made.shares is None:
            if made.kinds:
                found.setdefault(made.sole, []).append((made.kinds, made.net))
            continue
        own: dict[Payer, tuple[list[Kind], list[int]]] = {}
        for kind, shares in zip(made.kinds, made.shares, strict=True):
            for payer, units in shares.items():
                kinds, amounts = own.setdefault(payer, ([], []))
                kinds.append(kind)
                amounts.append(units)
        for payer, column in own.items():
            found.setdefault(payer, []).append(column)
    return found


def _tax(
    columns: Sequence[Column], applying: Sequence[TaxRule], stack: TaxStack, currency: Currency
) -> tuple[tuple[TaxLine, ...], int]:
    """The tax lines and the tax in cents; amounts are summed up first where the whole is rounded once."""
    units: list[int] = []
    names: list[frozenset[str]] = []
    for (kind, beside), amounts in cases(columns, applying).items():
        falls = falling(applying, kind, beside)
        if falls:
            counted = amounts if stack.basis is Basis.ITEM else [sum(amounts)]
            units += counted
            names += [falls] * len(counted)
    if not units:
        return (), 0
    lines, per_item = tax_units(units, names, stack, currency)
    return lines, sum(per_item)


def cases(columns: Sequence[Column], applying: Sequence[TaxRule]) -> Cases:
    """The payer's amounts by what the taxes care about; nothing where no tax falls on this payer."""
    found: Cases = {}
    if not applying:
        return found
    depends = any(rule.with_parts for rule in applying)
    for kinds, amounts in columns:
        beside = depends and holds_part(kinds, amounts)
        by_kind: dict[Kind, list[int]] = {kind: [] for kind in kinds}
        for kind, units in zip(kinds, amounts, strict=True):
            by_kind[kind].append(units)
        for kind, own in by_kind.items():
            found.setdefault((kind, beside), []).extend(own)
    return found
