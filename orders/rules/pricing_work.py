"""The working of pricing: lines, discounts, payers' shares, supplies. One function for each stage.

A job under work is a set of columns, one entry a line, not an object a line: what nobody asks for is never made. Amounts
are whole numbers of cents, or of whatever the currency's smallest amount is.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple

from orders.rules.messages import IN_ENGLISH, Message, told
from orders.rules.pricing_input import (
    PRICE_DECIMALS,
    QUANTITY_DECIMALS,
    ZERO,
    Discount,
    FeeLine,
    Job,
    Kind,
    LabourLine,
    PartLine,
    Payer,
    Split,
    Supplies,
)
from shopdocs.money import (
    LARGEST,
    Currency,
    Step,
    allocate_units,
    divide_half_up,
    from_units,
    plain,
    round_money,
    to_units,
)
from shopdocs.problems import BadInput

EVERYBODY = frozenset(Payer)


@dataclass(frozen=True, slots=True)
class Added:
    """A line that pricing itself adds (supplies, a minimum charge), with the reason."""

    description: str
    amount: Decimal
    units: int
    told: tuple[Message, ...]
    key: str = ""
    paid_by: Payer | None = None
    discount: None = None

    @property
    def why(self) -> str:
        """The reason, in English."""
        return told(self.told, IN_ENGLISH)


Source = LabourLine | PartLine | FeeLine | Added


@dataclass(slots=True)
class Worked:
    """A job while it is priced: columns of kinds, sources and amounts.

    `net` is the very list `gross` until a discount comes off. `shares` is None while `job.payer` alone pays all lines.
    `owners` are the lines with a payer of their own, `cuts` what discounts and returns took off, both by place. `passed_on` are the
    places that no discount touches. `split` and the third of a cut are the working, for whoever asks how it came about.
    """

    job: Job
    kinds: list[Kind]
    sources: list[Source]
    gross: list[int]
    net: list[int]
    payers: frozenset[Payer]
    cent: Decimal
    owners: dict[int, Payer] = field(default_factory=dict)
    cuts: dict[int, list[tuple[str, int, Taken | TakenOut | CameBack]]] = field(default_factory=dict)
    passed_on: frozenset[int] = frozenset()
    shares: list[dict[Payer, int]] | None = None
    how: tuple[Step, ...] = ()
    split: Shared | None = None

    def payers_at(self, at: int) -> frozenset[Payer]:
        """Who pays for the line."""
        return frozenset({self.owners[at]}) if at in self.owners else self.payers

    def shares_at(self, at: int) -> dict[Payer, int]:
        """The payers' parts of the line."""
        return self.shares[at] if self.shares is not None else {self.sole: self.net[at]}

    @property
    def sole(self) -> Payer:
        """The one payer of all lines, where `shares` is None."""
        assert isinstance(self.job.payer, Payer)
        return self.job.payer

    def add(self, kind: Kind, line: Added) -> None:
        """Appends a line."""
        self.kinds.append(kind)
        self.sources.append(line)
        self.gross.append(line.units)
        if self.net is not self.gross:
            self.net.append(line.units)

    def cut_share(self, at: int, words: str, units: int, out: TakenOut) -> None:
        """Takes something off one payer's part of a line."""
        self.cut(at, words, units, out)
        if self.shares is not None:
            self.shares[at][out.payer] -= units

    def cut(self, at: int, words: str, units: int, of: Taken | TakenOut | CameBack) -> None:
        """Takes something off a line."""
        if self.net is self.gross:
            self.net = list(self.gross)
        self.net[at] -= units
        self.cuts.setdefault(at, []).append((words, units, of))


class Taken(NamedTuple):
    """One discount as it came off: the lines that it fell on, what they came to before it, and its whole, in cents."""

    discount: Discount
    lines: list[tuple[Worked, int]]
    before: list[int]
    total: int


class CameBack(NamedTuple):
    """What came back of a line: the cents charged for it, and the pieces that had come back before, that have by now, and all.

    Pieces are in thousandths.
    """

    charged: int
    earlier: int
    by_now: int
    pieces: int


class TakenOut(NamedTuple):
    """Tax that was inside one payer's parts of lines (`held`, by the taxes' names), and that which they bear (`kept`)."""

    payer: Payer
    lines: list[tuple[Worked, int]]
    before: list[int]
    held: list[frozenset[str]]
    kept: list[frozenset[str]]


class Shared(NamedTuple):
    """A split at work: the places of the lines it falls on, what they come to, and each payer's cents of that in order.

    `left` is what the fixed amounts leave for percentages and rest.
    """

    split: Split
    common: list[int]
    nets: list[int]
    left: int
    targets: list[tuple[Payer, int]]


class Supplied(NamedTuple):
    """The shop supplies of all jobs: what each job and payer bears them on, the percentage alone, and the whole in bounds."""

    supplies: Supplies
    bases: dict[tuple[int, Payer], int]
    uncut: int
    total: int
    parts: list[int]


def extend(job: Job, currency: Currency) -> Worked:
    """The job's lines with their own amounts, each rounded once, and their own discounts."""
    kinds, sources, gross = _columns(job, currency.decimals)
    # Fees alone can be negative, and none of them is so large that it hides an amount that is.
    if sum(gross) >= LARGEST * currency.units:
        raise BadInput("amount", f"The lines of '{job.title}' come to too much.", f"Stay below {LARGEST:,f}.")
    payers = job.payer.payers if isinstance(job.payer, Split) else frozenset((job.payer,))
    made = Worked(job, kinds, sources, gross, gross, payers, currency.quantum)
    if any(fee.passed_on for fee in job.fees):
        first = len(sources) - len(job.fees)
        made.passed_on = frozenset([first + at for at, fee in enumerate(job.fees) if fee.passed_on])
    for at, line in enumerate(sources) if job.has_own else ():
        if line.paid_by is not None:
            made.owners[at] = line.paid_by
        if line.discount is not None and kinds[at] is not Kind.CORE:
            take_off([(made, at)], line.discount, currency, every_kind=True)
    if job.minimum_labour and job.labour:
        _raise_labour(made, currency)
    return made


def _columns(job: Job, decimals: int) -> tuple[list[Kind], list[Source], list[int]]:
    """The hot loops, in whole numbers: labour, parts each followed by its core charge, fees."""
    labour, parts, fees = job.labour, job.parts, job.fees
    # Tenths of an hour times a rate have five decimals in all, quantities times prices seven; half-up, none negative.
    per_hour: int = 10 ** (1 + PRICE_DECIMALS - decimals)
    half_hour = per_hour // 2
    per_piece: int = 10 ** (QUANTITY_DECIMALS + PRICE_DECIMALS - decimals)
    half_piece = per_piece // 2
    gross = [(line.hour_parts * line.rate_parts + half_hour) // per_hour for line in labour]
    charges = [(part.quantity_parts * part.price_parts + half_piece) // per_piece for part in parts]
    cores = [at for at, part in enumerate(parts) if part.core_parts]
    goods: list[Source] = [*parts]
    kinds = [Kind.PART] * len(parts)
    for at in reversed(cores):
        goods.insert(at + 1, parts[at])
        kinds.insert(at + 1, Kind.CORE)
        charges.insert(at + 1, (parts[at].quantity_parts * parts[at].core_parts + half_piece) // per_piece)
    per_fee: int = 10 ** (PRICE_DECIMALS - decimals)
    return (
        [Kind.LABOUR] * len(labour) + kinds + [fee.kind for fee in fees],
        [*labour, *goods, *fees],
        gross + charges + [divide_half_up(fee.amount_parts, per_fee) for fee in fees],
    )


def _raise_labour(made: Worked, currency: Currency) -> None:
    least = made.job.minimum_labour
    charged = sum([units for kind, units in zip(made.kinds, made.gross, strict=True) if kind is Kind.LABOUR])
    short = to_units(round_money(least, currency), currency) - charged
    if short > 0:
        why = (Message("Labour of the job is raised to the minimum of {least}", {"least": plain(least)}),)
        payer = made.job.labour[0].paid_by
        if payer is not None:
            made.owners[len(made.kinds)] = payer
        made.add(Kind.LABOUR, Added(MINIMUM, from_units(short, currency), short, why, paid_by=payer))


def take_off(
    lines: Iterable[tuple[Worked, int]], discount: Discount, currency: Currency, *, every_kind: bool = False
) -> None:
    """Takes one discount off the lines of its kinds that still cost something, in proportion to what they cost.

    What is passed on is left alone, but where the discount is of all.
    """
    every_kind = every_kind or discount.of_all
    anybody = discount.payers == EVERYBODY
    meant = [
        (job, at)
        for job, at in lines
        if job.net[at] > 0
        and (discount.of_all or at not in job.passed_on)
        and (every_kind or job.kinds[at] in discount.kinds)
        and (anybody or job.payers_at(at) <= discount.payers)
    ]
    nets = [job.net[at] for job, at in meant]
    base = sum(nets)
    if discount.percent is not None:
        total = divide_half_up(base * int(discount.percent * 10**6), 10**8)
        words = f"{discount.words} ({plain(discount.percent)} %)"
    else:
        total = to_units(round_money(discount.amount or ZERO, currency), currency)
        words = discount.words
        if total > base:
            problem = f"'{discount.words}' takes off more than the {from_units(base, currency)} that it applies to."
            remedy = f"Give {from_units(base, currency)} at most, or take the discount away."
            raise BadInput("discount.amount", problem, remedy)
    taken = Taken(discount, meant, nets, total)
    for (job, at), part in zip(meant, allocate_units(total, nets), strict=True):
        if part:
            job.cut(at, words, part, taken)


def come_back(made: Worked) -> None:
    """Takes what came back off its lines: the share of what is charged for a line, all its discounts taken off.

    Shares are rounded against what came back before, so that all pieces together are the line, exactly.
    """
    for at, line in enumerate(made.sources):
        match line:
            case PartLine():
                back = line.cores_returned if made.kinds[at] is Kind.CORE else line.returned
                pieces = line.quantity_parts
            case FeeLine():
                back, pieces = line.returned, line.piece_parts
            case _:
                continue
        charged, so_far, before = made.net[at], 0, 0
        for one in back:
            earlier, so_far = so_far, so_far + one.quantity_parts
            now = divide_half_up(charged * so_far, pieces)
            if now != before:
                made.cut(at, one.words, now - before, CameBack(charged, earlier, so_far, pieces))
            before = now


def share_out(made: Worked, currency: Currency) -> None:
    """Gives each line of the job its payers, and the job the words for how a split came about."""
    payer, net, owners = made.job.payer, made.net, made.owners
    if isinstance(payer, Payer):
        if owners:
            made.shares = [{owners.get(at, payer): units} for at, units in enumerate(net)]
        return
    shares: list[dict[Payer, int]] = [{owners[at]: units} if at in owners else {} for at, units in enumerate(net)]
    common = [at for at in range(len(net)) if at not in owners]
    left = [net[at] for at in common]
    targets, unfixed, steps = _targets(payer, sum(left), currency)
    made.split = Shared(payer, common, left, unfixed, targets)
    for who, target in targets[:-1]:
        parts = allocate_units(target, left)
        for at, part in zip(common, parts, strict=True):
            shares[at][who] = part
        left = [rest - part for rest, part in zip(left, parts, strict=True)]
    for at, rest in zip(common, left, strict=True):
        shares[at][targets[-1][0]] = rest
    made.shares, made.how = shares, tuple(steps)


def _targets(split: Split, whole: int, currency: Currency) -> tuple[list[tuple[Payer, int]], int, list[Step]]:
    """Each payer's cents of the job, amounts first, then percentages of what is left (the second), the rest last."""
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
    return list(found.items()), left, steps


def supply(supplies: Supplies, jobs: Sequence[Worked], currency: Currency) -> Supplied | None:
    """Adds a supplies line for each job and payer that they are charged to; in all within floor and cap. None: nowhere.

    A credit of a kind that bears supplies lessens what they are taken of. A job with a bound of its own (`Job.supplies_most`) bears no more than that; what it is spared nobody else bears.
    """
    bases: dict[tuple[int, Payer], int] = {}
    for number, job in enumerate(jobs):
        for at, kind in enumerate(job.kinds):
            if kind in supplies.of:
                for payer, share in job.shares_at(at).items():
                    if payer in supplies.payers and share:
                        bases[number, payer] = bases.get((number, payer), 0) + share
    bases = {whose: units for whose, units in bases.items() if units > 0}
    base = sum(bases.values())
    if not base:
        return None
    uncut, total, message = _supplies_total(supplies, base, currency)
    parts = allocate_units(total, list(bases.values()))
    for (number, payer), part in zip(bases, parts, strict=True):
        job = jobs[number]
        part_of_it = Message("this job's share of {total}", {"total": f"{from_units(total, currency)}"})
        why: tuple[Message, ...] = (message,) if len(bases) == 1 else (message, part_of_it)
        part, why = _bounded(job, part, why, currency)
        if part:
            job.add(Kind.SUPPLIES, Added(supplies.words, from_units(part, currency), part, why, paid_by=payer))
            if job.shares is not None:
                job.shares.append({payer: part})
    return Supplied(supplies, bases, uncut, total, parts)


def _bounded(job: Worked, part: int, why: tuple[Message, ...], currency: Currency) -> tuple[int, tuple[Message, ...]]:
    most = job.job.supplies_most
    bound = part if most is None else to_units(round_money(most, currency), currency)
    if bound >= part:
        return part, why
    told_bound = {"bound": f"{from_units(bound, currency)}"}
    return bound, (*why, Message("no more than the share agreed to for this job, {bound}", told_bound))


MINIMUM = "Minimum labour charge"
PERCENTAGE = "{supplies}: {percent} % of {base}"
RAISED = "{supplies}: {percent} % of {base}, raised to the least charged, {limit}"
CUT = "{supplies}: {percent} % of {base}, limited to the most charged, {limit}"


def _supplies_total(supplies: Supplies, base: int, currency: Currency) -> tuple[int, int, Message]:
    """The cents of all supplies, as a percentage alone and within the bounds, and how they came about."""
    uncut = total = divide_half_up(base * int(supplies.percent * 10**6), 10**8)
    text = PERCENTAGE
    values: dict[str, str | list[str]] = {
        "supplies": supplies.words,
        "percent": plain(supplies.percent),
        "base": f"{from_units(base, currency)}",
    }
    for limit, raises in ((supplies.floor, True), (supplies.cap, False)):
        bound = to_units(round_money(limit or ZERO, currency), currency)
        if limit is not None and (total < bound if raises else total > bound):
            total = bound
            text = RAISED if raises else CUT
            values["limit"] = plain(limit)
    return uncut, total, Message(text, values)
