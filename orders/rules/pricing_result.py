"""What pricing gives back: lines, jobs, payers, taxes and totals, each able to say how it came about."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from orders.rules.pricing_input import Kind, Payer
from orders.rules.taxes import TaxLine
from shopdocs.money import Currency, Step, plain


@dataclass(frozen=True, slots=True)
class Reduction:
    """What one discount took off a line (zero or more)."""

    words: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class PricedLine:
    """One line. `quantity` is hours for labour, 1 where there is only an amount; net = gross - discount.

    `shares` are the payers' parts of `net` and add up to it. With tax-inclusive prices all of these hold their tax.
    """

    job: str
    kind: Kind
    key: str
    number: str
    description: str
    quantity: Decimal
    unit_price: Decimal
    gross: Decimal
    discount: Decimal
    net: Decimal
    reductions: tuple[Reduction, ...]
    shares: tuple[tuple[Payer, Decimal], ...]
    why: str = ""

    def paid_by(self, payer: Payer) -> Decimal:
        """The payer's part of the line, zero if none."""
        return next((amount for who, amount in self.shares if who is payer), self.net * 0)

    @property
    def steps(self) -> tuple[Step, ...]:
        """How the line's amount came about, and who pays it."""
        if self.why:
            first = self.why
        elif self.kind is Kind.LABOUR:
            first = f"{self.description}: {plain(self.quantity)} h at {plain(self.unit_price)}"
        else:
            first = f"{self.description}: {plain(self.quantity)} at {plain(self.unit_price)}"
        steps = [Step(first, self.gross)]
        steps += [Step(f"Less {cut.words}", -cut.amount) for cut in self.reductions]
        if self.reductions:
            steps.append(Step(f"{self.description}, after discounts", self.net))
        if len(self.shares) > 1:
            steps += [Step(f"Of this {payer} pays", amount) for payer, amount in self.shares]
        return tuple(steps)


@dataclass(frozen=True, slots=True)
class PricedJob:
    """One job: its lines, their sums, its labour hours, and who pays how much of `net` (`how` says by which split)."""

    key: str
    title: str
    lines: tuple[PricedLine, ...]
    hours: Decimal
    gross: Decimal
    discount: Decimal
    net: Decimal
    shares: tuple[tuple[Payer, Decimal], ...]
    how: tuple[Step, ...] = ()

    def paid_by(self, payer: Payer) -> Decimal:
        """The payer's part of the job, zero if none."""
        return next((amount for who, amount in self.shares if who is payer), self.net * 0)

    @property
    def steps(self) -> tuple[Step, ...]:
        """The lines, what they add up to, and how the payers share it."""
        lines = tuple(Step(line.description, line.net) for line in self.lines)
        shared = tuple(Step(f"{payer} pays", amount) for payer, amount in self.shares)
        return (*lines, Step(f"{self.title}, in all", self.net), *self.how, *shared)


@dataclass(frozen=True, slots=True)
class PayerTotal:
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


@dataclass(frozen=True, slots=True)
class Priced:
    """The whole: jobs, payers (those that pay or owe nothing but have lines), taxes over all payers, and grand totals.

    Always: jobs' nets = payers' lines; payers' totals = `total` = `net` + `tax`. `order` states how it was worked out.
    """

    currency: Currency
    jobs: tuple[PricedJob, ...]
    payers: tuple[PayerTotal, ...]
    taxes: tuple[TaxLine, ...]
    hours: Decimal
    net: Decimal
    tax: Decimal
    total: Decimal
    order: tuple[str, ...]

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
