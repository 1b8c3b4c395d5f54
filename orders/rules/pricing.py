"""Pricing a set of jobs: lines, discounts, payers, supplies and tax, to the last cent and with reasons.

The order of working is fixed and stated with each result (`ORDER`). Each payer's lines are one document for tax, so
the payers' totals always make the whole. The same function prices an estimate, an invoice and what a claim asks for.
Pure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction

from orders.rules.pricing_input import (
    Discount,
    Exemption,
    FeeLine,
    Job,
    Kind,
    LabourLine,
    PartLine,
    Payer,
    Share,
    Split,
    Supplies,
    Taxes,
    TaxRule,
)
from orders.rules.pricing_result import PayerTotal, Priced, PricedJob, PricedLine, Reduction
from orders.rules.pricing_work import Working, extend, share_out, supply, take_off
from orders.rules.tax_sums import tax_units
from orders.rules.taxes import Basis, Stacking, TaxLine, TaxRate, TaxStack
from shopdocs.money import Currency, Step, from_units
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
    "A line's own discount comes off first, then the job's discounts, then those of the whole order, in the order given.",
    "Payers share what is left: fixed amounts first, then percentages, then the rest.",
    "Shop supplies are a percentage of the discounted lines and are not discounted themselves.",
    "Tax is worked out for each payer's lines as one document.",
)


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
    by_job = [extend(index, job, currency) for index, job in enumerate(jobs)]
    for job, lines in zip(jobs, by_job, strict=True):
        for discount in job.discounts:
            take_off(lines, discount, currency)
    everything = [line for lines in by_job for line in lines]
    for discount in discounts:
        take_off(everything, discount, currency)
    how = [share_out(job, lines, currency) for job, lines in zip(jobs, by_job, strict=True)]
    for line in supply(supplies, everything, currency) if supplies else ():
        by_job[line.job].append(line)
    priced = tuple(_job(job, lines, words, currency) for job, lines, words in zip(jobs, by_job, how, strict=True))
    payers = _payers([line for lines in by_job for line in lines], rules, taxes, exemption, currency)
    net, tax = (sum((getattr(p, name) for p in payers), from_units(0, currency)) for name in ("net", "tax"))
    hours = sum((job.hours for job in priced), Decimal("0.0"))
    return Priced(currency, priced, payers, _all_taxes(payers), hours, net, tax, net + tax, ORDER)


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


def _job(job: Job, lines: Sequence[Working], how: tuple[Step, ...], currency: Currency) -> PricedJob:
    shares: dict[Payer, int] = {}
    for line in lines:
        for payer, units in line.shares.items():
            shares[payer] = shares.get(payer, 0) + units
    gross, net = sum(line.gross for line in lines), sum(line.net for line in lines)
    return PricedJob(
        key=job.key,
        title=job.title,
        lines=tuple(_line(job.key, line, currency) for line in lines),
        hours=sum((labour.hours for labour in job.labour), Decimal("0.0")),
        gross=from_units(gross, currency),
        discount=from_units(gross - net, currency),
        net=from_units(net, currency),
        shares=_decimals(shares, currency),
        how=how,
    )


def _line(job: str, line: Working, currency: Currency) -> PricedLine:
    gross = from_units(line.gross, currency)
    net = from_units(line.net, currency) if line.cuts else gross
    return PricedLine(
        job=job,
        kind=line.kind,
        key=line.key,
        number=line.number,
        description=line.description,
        quantity=line.quantity,
        unit_price=line.unit_price,
        gross=gross,
        discount=gross - net,
        net=net,
        reductions=tuple(Reduction(words, from_units(units, currency)) for words, units in line.cuts)
        if line.cuts
        else (),
        shares=_decimals(line.shares, currency) if len(line.shares) > 1 else ((next(iter(line.shares)), net),),
        why=line.why,
    )


def _decimals(shares: Mapping[Payer, int], currency: Currency) -> tuple[tuple[Payer, Decimal], ...]:
    return tuple((payer, from_units(units, currency)) for payer, units in shares.items())


def _payers(
    lines: Sequence[Working], rules: Sequence[TaxRule], taxes: Taxes, exemption: Exemption | None, currency: Currency
) -> tuple[PayerTotal, ...]:
    rates = tuple(TaxRate(rule.name, rule.percent, rule.brackets) for rule in rules)
    stack = TaxStack(rates, taxes.basis, taxes.stacking, taxes.inclusive)
    found = []
    for payer in Payer:
        mine = [line for line in lines if payer in line.shares]
        if not mine:
            continue
        spared = exemption if exemption is not None and payer in exemption.payers else None
        units = [line.shares[payer] for line in mine]
        tax_lines, per_line = tax_units(units, _falling(mine, payer, rules, spared), stack, currency)
        total, tax = from_units(sum(units), currency), from_units(sum(per_line), currency)
        net = total - tax if taxes.inclusive else total
        why = f"Exempt by certificate {spared.certificate}" if spared else ""
        found.append(PayerTotal(payer, total, net, tax, net + tax, tax_lines, why))
    return tuple(found)


def _falling(
    lines: Sequence[Working], payer: Payer, rules: Sequence[TaxRule], spared: Exemption | None
) -> list[frozenset[str]]:
    """The names of the taxes that fall on the payer's share of each line."""
    applying = [rule for rule in rules if payer in rule.payers]
    if spared is not None:
        applying = [rule for rule in applying if spared.names and rule.name not in spared.names]
    with_parts = {line.job for line in lines if line.kind is Kind.PART and line.shares[payer]}
    names: dict[tuple[Kind, bool], frozenset[str]] = {}
    for line in lines:
        case = (line.kind, line.job in with_parts)
        if case not in names:
            names[case] = frozenset(
                rule.name for rule in applying if case[0] in rule.kinds and (case[1] or case[0] not in rule.with_parts)
            )
    return [names[line.kind, line.job in with_parts] for line in lines]


def _all_taxes(payers: Sequence[PayerTotal]) -> tuple[TaxLine, ...]:
    """One line a tax over all payers."""
    found: dict[str, TaxLine] = {}
    for line in (line for total in payers for line in total.taxes):
        known = found.get(line.name)
        if known is not None:
            exact = Fraction(known.exact + line.exact)
            line = TaxLine(line.name, line.percent, known.base + line.base, exact, known.amount + line.amount, line.how)
        found[line.name] = line
    return tuple(found.values())
