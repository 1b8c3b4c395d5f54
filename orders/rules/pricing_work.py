"""The working of pricing, in whole cents: lines, discounts, payers' shares, supplies. One function for each stage."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from orders.rules.pricing_input import ZERO, Discount, FeeLine, Job, Kind, LabourLine, PartLine, Payer, Split, Supplies
from shopdocs.money import Currency, Step, allocate_units, divide_half_up, from_units, plain, round_money, to_units
from shopdocs.problems import BadInput

ONE = Decimal(1)


@dataclass(slots=True)
class Working:
    """A line while it is being priced; amounts in cents."""

    job: int
    kind: Kind
    key: str
    number: str
    description: str
    quantity: Decimal
    unit_price: Decimal
    gross: int
    net: int
    paid_by: Payer | None
    payers: frozenset[Payer]
    cuts: list[tuple[str, int]] = field(default_factory=list)
    shares: dict[Payer, int] = field(default_factory=dict)
    why: str = ""


def extend(index: int, job: Job, currency: Currency) -> list[Working]:
    """The job's lines with their own amounts, each rounded once, and their own discounts."""
    lines = []
    payers = job.payer.payers if isinstance(job.payer, Split) else frozenset({job.payer})
    for line, kind, number, quantity, price in _raw_lines(job):
        who = frozenset({line.paid_by}) if line.paid_by is not None else payers
        gross = to_units(round_money(quantity * price, currency), currency)
        made = Working(
            index, kind, line.key, number, line.description, quantity, price, gross, gross, line.paid_by, who
        )
        if kind is Kind.CORE and isinstance(line, PartLine):
            made.description = f"Core charge: {line.description}"
            made.key = f"{line.key}:core" if line.key else ""
        elif line.discount is not None:
            take_off([made], line.discount, currency, every_kind=True)
        lines.append(made)
    short = to_units(round_money(job.minimum_labour, currency), currency) - sum(
        line.gross for line in lines if line.kind is Kind.LABOUR
    )
    if job.labour and short > 0:
        amount = from_units(short, currency)
        added = Working(index, Kind.LABOUR, "", "", "Minimum labour charge", ONE, amount, short, short, None, payers)
        added.why = f"Labour of the job is raised to the minimum of {plain(job.minimum_labour)}"
        lines.append(added)
    return lines


def _raw_lines(
    job: Job,
) -> Iterator[tuple[LabourLine | PartLine | FeeLine, Kind, str, Decimal, Decimal]]:
    for labour in job.labour:
        yield labour, Kind.LABOUR, "", labour.hours, labour.rate
    for part in job.parts:
        yield part, Kind.PART, part.number, part.quantity, part.unit_price
        if part.core:
            yield part, Kind.CORE, part.number, part.quantity, part.core
    for fee in job.fees:
        yield fee, fee.kind, "", ONE, fee.amount


def take_off(lines: Sequence[Working], discount: Discount, currency: Currency, *, every_kind: bool = False) -> None:
    """Takes one discount off the lines of its kinds that still cost something, in proportion to what they cost."""
    meant = [
        line
        for line in lines
        if line.net > 0 and line.payers <= discount.payers and (every_kind or line.kind in discount.kinds)
    ]
    base = sum(line.net for line in meant)
    if discount.percent is not None:
        total = divide_half_up(base * int(discount.percent * 10**6), 10**8)
        words = f"{discount.words} ({plain(discount.percent)} %)"
    else:
        total = to_units(round_money(discount.amount or ZERO, currency), currency)
        words = discount.words
        if total > base:
            problem = f"'{discount.words}' takes off more than the {from_units(base, currency)} that it applies to."
            raise BadInput("discount.amount", problem, "Lower the discount.")
    for line, part in zip(meant, allocate_units(total, [line.net for line in meant]), strict=True):
        if part:
            line.net -= part
            line.cuts.append((words, part))


def share_out(job: Job, lines: Sequence[Working], currency: Currency) -> tuple[Step, ...]:
    """Gives each line of the job its payers; returns how a split came about."""
    common = [line for line in lines if line.paid_by is None]
    for line in lines:
        if line.paid_by is not None:
            line.shares[line.paid_by] = line.net
    if isinstance(job.payer, Payer):
        for line in common:
            line.shares[job.payer] = line.net
        return ()
    whole = sum(line.net for line in common)
    targets, steps = _targets(job.payer, whole, currency)
    left = [line.net for line in common]
    for payer, target in targets[:-1]:
        parts = allocate_units(target, left)
        for line, part in zip(common, parts, strict=True):
            line.shares[payer] = part
        left = [rest - part for rest, part in zip(left, parts, strict=True)]
    for line, rest in zip(common, left, strict=True):
        line.shares[targets[-1][0]] = rest
    return tuple(steps)


def _targets(split: Split, whole: int, currency: Currency) -> tuple[list[tuple[Payer, int]], list[Step]]:
    """Each payer's cents of the job, amounts first, then percentages of what is left, the rest last."""
    found: dict[Payer, int] = {}
    steps = []
    left = whole
    for share in split.shares:
        if share.amount is not None:
            found[share.payer] = max(0, min(to_units(round_money(share.amount, currency), currency), left))
            left -= found[share.payer]
            text = f"{share.payer} pays the first {plain(share.amount)}"
            steps.append(Step(text, from_units(found[share.payer], currency)))
    percents = [share for share in split.shares if share.percent is not None]
    rest = next((share.payer for share in split.shares if share.percent is None and share.amount is None), None)
    weights = [int((share.percent or ZERO) * 10**6) for share in percents]
    parts = allocate_units(left, [*weights, 10**8 - sum(weights)])
    for share, part in zip(percents, parts, strict=False):
        found[share.payer] = part
        steps.append(
            Step(f"{share.payer} pays {plain(share.percent or ZERO)} % of what is left", from_units(part, currency))
        )
    if rest is not None:
        found[rest] = parts[-1]
        steps.append(Step(f"{rest} pays the rest", from_units(parts[-1], currency)))
    return list(found.items()), steps


def supply(supplies: Supplies, lines: Sequence[Working], currency: Currency) -> list[Working]:
    """A supplies line for each job and payer that they are charged to; in all within floor and cap."""
    bases: dict[tuple[int, Payer], int] = {}
    for line in lines:
        if line.kind in supplies.of:
            for payer, share in line.shares.items():
                if payer in supplies.payers and share > 0:
                    bases[line.job, payer] = bases.get((line.job, payer), 0) + share
    base = sum(bases.values())
    if not base:
        return []
    total = divide_half_up(base * int(supplies.percent * 10**6), 10**8)
    words = f"{supplies.words}: {plain(supplies.percent)} % of {from_units(base, currency)}"
    for limit, raises in ((supplies.floor, True), (supplies.cap, False)):
        bound = to_units(round_money(limit or ZERO, currency), currency)
        if limit is not None and (total < bound if raises else total > bound):
            total = bound
            words += f", {'raised to the least' if raises else 'limited to the most'} charged, {plain(limit)}"
    made = []
    for (job, payer), part in zip(bases, allocate_units(total, list(bases.values())), strict=True):
        if part:
            price = from_units(part, currency)
            line = Working(
                job, Kind.SUPPLIES, "", "", supplies.words, ONE, price, part, part, payer, frozenset({payer})
            )
            line.why = words if len(bases) == 1 else f"{words}; this job's share of {from_units(total, currency)}"
            line.shares[payer] = part
            made.append(line)
    return made
