"""What pricing gives back: lines, jobs, payers, taxes and totals, each able to say how it came about.

Lines and jobs are views of the columns that pricing worked on: figures and words are made when somebody asks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from itertools import repeat
from typing import NamedTuple

from orders.rules.messages import Message
from orders.rules.pricing_input import Exemption, FeeLine, Kind, LabourLine, PartLine, Payer, TaxRule
from orders.rules.pricing_work import Added, Supplied, Taken, Worked
from orders.rules.taxes import TaxLine, TaxStack
from shopdocs.money import Currency, Step, plain

ONE = Decimal(1)
CORE_CHARGE = "Core charge: {part}"
NO_HOURS = Decimal("0.0")


@dataclass(frozen=True, slots=True)
class Reduction:
    """What one discount took off a line (zero or more), or tax that was inside the price of a payer who bears none."""

    words: str
    amount: Decimal
    name: str = ""
    percent: Decimal | None = None


def _reduction(words: str, amount: Decimal, by: object) -> Reduction:
    """`name` and `percent` are the discount's own, of which `words` are made."""
    if isinstance(by, Taken):
        return Reduction(words, amount, by.discount.words, by.discount.percent)
    return Reduction(words, amount, words)


class PricedLine(tuple[Worked, int]):
    """One line. `quantity` is hours for labour, 1 where there is only an amount; net = gross - discount.

    `shares` are the payers' parts of `net` and add up to it. With tax-inclusive prices all of these hold their tax. It is
    the pair of a worked job and a place in its columns, for nothing smaller can be made.
    """

    __slots__ = ()

    @property
    def _of(self) -> Worked:
        return self[0]

    @property
    def _at(self) -> int:
        return self[1]

    @property
    def job(self) -> str:
        """The key of its job."""
        return self._of.job.key

    @property
    def kind(self) -> Kind:
        return self._of.kinds[self._at]

    @property
    def _is_core(self) -> bool:
        return self.kind is Kind.CORE and isinstance(self._of.sources[self._at], PartLine)

    @property
    def key(self) -> str:
        """The caller's own reference; a part's core charge has ':core' after it."""
        key = self._of.sources[self._at].key
        return f"{key}:core" if key and self._is_core else key

    @property
    def number(self) -> str:
        """The part's number, '' for what is no part."""
        line = self._of.sources[self._at]
        return line.number if isinstance(line, PartLine) else ""

    @property
    def description(self) -> str:
        words = self._of.sources[self._at].description
        return CORE_CHARGE.format(part=words) if self._is_core else words

    @property
    def quantity(self) -> Decimal:
        line = self._of.sources[self._at]
        if isinstance(line, LabourLine):
            return line.hours
        return line.quantity if isinstance(line, PartLine) else ONE

    @property
    def unit_price(self) -> Decimal:
        match self._of.sources[self._at]:
            case LabourLine(rate=rate):
                return rate
            case PartLine(unit_price=price, core=core):
                return core if self._is_core else price
            case FeeLine(amount=amount) | Added(amount=amount):
                return amount

    @property
    def gross(self) -> Decimal:
        """Before discounts."""
        of, at = self
        return of.gross[at] * of.cent

    @property
    def discount(self) -> Decimal:
        """What all discounts took off, and tax inside the price that is not borne."""
        return self.gross - self.net

    @property
    def net(self) -> Decimal:
        """After discounts."""
        of, at = self
        return of.net[at] * of.cent

    @property
    def reductions(self) -> tuple[Reduction, ...]:
        """The discounts, in the order in which they came off."""
        of, at = self
        return tuple(_reduction(words, units * of.cent, by) for words, units, by in of.cuts.get(at, ()))

    @property
    def shares(self) -> tuple[tuple[Payer, Decimal], ...]:
        of, at = self
        return tuple((payer, units * of.cent) for payer, units in of.shares_at(at).items())

    @property
    def why(self) -> str:
        """For a line that pricing added: the reason."""
        line = self._of.sources[self._at]
        return line.why if isinstance(line, Added) else ""

    @property
    def told(self) -> tuple[Message, ...]:
        """What pricing added, or a core, as messages: `why` or `description` before they are said. Empty for other lines."""
        source = self._of.sources[self._at]
        if isinstance(source, Added):
            return source.told
        return (Message(CORE_CHARGE, {"part": source.description}),) if self._is_core else ()

    def paid_by(self, payer: Payer) -> Decimal:
        """The payer's part of the line, zero if none."""
        of, at = self
        return of.shares_at(at).get(payer, 0) * of.cent

    @property
    def steps(self) -> tuple[Step, ...]:
        """How the line's amount came about, and who pays it."""
        per = "h at" if self.kind is Kind.LABOUR else "at"
        first = self.why or f"{self.description}: {plain(self.quantity)} {per} {plain(self.unit_price)}"
        steps = [Step(first, self.gross)]
        steps += [Step(f"Less {cut.words}", -cut.amount) for cut in self.reductions]
        if self.reductions:
            steps.append(Step(f"{self.description}, after discounts", self.net))
        if len(self.shares) > 1:
            steps += [Step(f"Of this {payer} pays", amount) for payer, amount in self.shares]
        return tuple(steps)


class PricedJob:
    """One job: its lines, their sums, its labour hours, and who pays how much of `net` (`how` says by which split)."""

    __slots__ = ("_of",)

    def __init__(self, of: Worked) -> None:
        self._of = of

    @property
    def worked(self) -> Worked:
        """What pricing worked on."""
        return self._of

    @property
    def key(self) -> str:
        return self._of.job.key

    @property
    def title(self) -> str:
        return self._of.job.title

    @property
    def how(self) -> tuple[Step, ...]:
        """The steps of a split."""
        return self._of.how

    @property
    def lines(self) -> tuple[PricedLine, ...]:
        """The lines, those that pricing added last."""
        return tuple(map(PricedLine, zip(repeat(self._of), range(len(self._of.kinds)))))

    @property
    def nets(self) -> tuple[Decimal, ...]:
        """Each line's `net`, in the order of the lines, without making the lines."""
        cent = self._of.cent
        return tuple([units * cent for units in self._of.net])

    @property
    def hours(self) -> Decimal:
        """Hours of labour, as charged."""
        return sum([labour.hours for labour in self._of.job.labour], NO_HOURS)

    @property
    def gross(self) -> Decimal:
        """Before discounts."""
        return sum(self._of.gross) * self._of.cent

    @property
    def discount(self) -> Decimal:
        """What all discounts took off."""
        return self.gross - self.net

    @property
    def net(self) -> Decimal:
        """After discounts."""
        return sum(self._of.net) * self._of.cent

    @property
    def shares(self) -> tuple[tuple[Payer, Decimal], ...]:
        """The payers' parts of `net`."""
        found: dict[Payer, int] = {}
        for at in range(len(self._of.kinds)):
            for payer, units in self._of.shares_at(at).items():
                found[payer] = found.get(payer, 0) + units
        return tuple((payer, units * self._of.cent) for payer, units in found.items())

    def paid_by(self, payer: Payer) -> Decimal:
        """The payer's part of the job, zero if none."""
        return dict(self.shares).get(payer, 0 * self._of.cent)

    @property
    def steps(self) -> tuple[Step, ...]:
        """The lines, what they add up to, and how the payers share it."""
        lines = tuple(Step(line.description, line.net) for line in self.lines)
        shared = tuple(Step(f"{payer} pays", amount) for payer, amount in self.shares)
        return (*lines, Step(f"{self.title}, in all", self.net), *self.how, *shared)


class PayerTotal(NamedTuple):
    """What one payer pays: `lines` as printed on the lines, `net` before tax, `tax`, and `total` = net + tax.

    `lines` equals `net` unless prices hold their tax; then it equals `total`.
    """

    payer: Payer
    lines: Decimal
    net: Decimal
    tax: Decimal
    total: Decimal
    taxes: tuple[TaxLine, ...]
    why: str = ""

    @property
    def steps(self) -> tuple[Step, ...]:
        """From the lines by way of the taxes to the total."""
        taxes = tuple(step for line in self.taxes for step in line.steps)
        remark = (Step(self.why),) if self.why else ()
        return (
            Step(f"Lines for {self.payer}", self.lines),
            *taxes,
            *remark,
            Step(f"{self.payer} pays in all", self.total),
        )


class Behind(NamedTuple):
    """What pricing worked with, for whoever asks how a figure came about: supplies, how tax is rounded, the taxes of the day."""

    supplied: Supplied | None
    stack: TaxStack
    rules: Sequence[TaxRule]
    exemption: Exemption | None


@dataclass(frozen=True)
class Priced:
    """The whole: jobs, payers (those that pay or owe nothing but have lines), taxes over all payers, and grand totals.

    Always: jobs' nets = payers' lines; payers' totals = `total` = `net` + `tax`. `order` states how it was worked out.
    """

    currency: Currency
    jobs: tuple[PricedJob, ...]
    payers: tuple[PayerTotal, ...]
    net: Decimal
    tax: Decimal
    total: Decimal
    order: tuple[str, ...]
    behind: Behind

    @property
    def hours(self) -> Decimal:
        """Hours of labour of all jobs."""
        return sum((job.hours for job in self.jobs), NO_HOURS)

    @cached_property
    def taxes(self) -> tuple[TaxLine, ...]:
        """One line a tax over all payers."""
        found: dict[str, TaxLine] = {}
        for line in (line for total in self.payers for line in total.taxes):
            known = found.get(line.name)
            if known is not None:
                exact = Fraction(known.exact + line.exact)
                base, amount = known.base + line.base, known.amount + line.amount
                line = TaxLine(line.name, line.percent, base, exact, amount, line.how)
            found[line.name] = line
        return tuple(found.values())

    def payer(self, payer: Payer) -> PayerTotal:
        """The payer's totals, zeros if there is nothing for them."""
        zero = self.total * 0
        nothing = PayerTotal(payer, zero, zero, zero, zero, ())
        return next((total for total in self.payers if total.payer is payer), nothing)

    @property
    def steps(self) -> tuple[Step, ...]:
        """The order of working, then jobs, taxes and the total."""
        said = tuple(Step(words) for words in self.order)
        jobs = tuple(Step(job.title, job.net) for job in self.jobs)
        taxes = tuple(step for total in self.payers for line in total.taxes for step in line.steps)
        return (*said, *jobs, *taxes, Step("In all", self.total))
