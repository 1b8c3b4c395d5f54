"""What a claim is expected to bring, from the distributor's own terms. None is 'not known', and says why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from orders.models import Job, JobPart
from orders.rules.clocked import ThreeTimes
from orders.services.came_back import still_charged
from shopdocs.documents.press.words import Say, Words
from shopdocs.money import Currency, plain, round_money
from warranty.models import DistributorTerms

from .claim_beside import Asked
from .claim_figures import (
    LABOUR,
    Claimed,
    claim_figures,
    labour_claimed,
    part_claimed,
    part_figures,
    rate_figure,
    unpaid,
)
from .claim_shares import share_words, shared, warrantys_part
from .claim_times import ALLOWED, GUIDE, Labour, LabourLine, claimed_labour, in_guide
from .decision_words import TermPays

NOT_KNOWN = ThreeTimes(None, None, None)


@dataclass(frozen=True)
class PartLine:
    """One part: the price it is claimed at (None: not recorded) and the amount expected (None: not known)."""

    id: str
    number: str
    words: str
    quantity: Decimal
    each: Decimal | None
    amount: Decimal | None
    causal: bool


@dataclass
class Expected:
    """Labour, parts and their sum; `why_not` tells in words what is not known, and why; `figures` how all of it came about."""

    labour: list[LabourLine]
    tenths: int
    labour_amount: Decimal | None
    parts: list[PartLine]
    parts_amount: Decimal | None
    why_not: list[str] = field(default_factory=list)
    promise: str = ""
    times: ThreeTimes = NOT_KNOWN
    work: dict[str, Any] | None = None
    left_out: str = ""
    figures: list[dict[str, Any]] = field(default_factory=list)

    @property
    def total(self) -> Decimal | None:
        if self.labour_amount is None or self.parts_amount is None:
            return None
        return self.labour_amount + self.parts_amount


def expected_money(
    *,
    job: Job,
    terms: DistributorTerms | None,
    currency: Currency,
    say: Words,
    pays: TermPays | None = None,
    asked: Sequence[Asked] = (),
) -> Expected:
    """What the distributor should pay for this job under `terms` (None: it has recorded none).

    `pays`: what the covering term promises; of labour or parts that it does not pay, nothing is expected. `asked`: what
    other claims have asked for.
    """
    why: list[str] = []
    promised = pays or TermPays()
    if terms is None:
        why.append("no terms of the distributor are recorded for the day of the repair")
    labour, worked = _labour(job, terms, currency, why, say, asked, promised)
    told, parts, priced = _parts(job, terms, currency, why, promised)
    claimed = [worked, *priced]
    amounts: Sequence[Decimal | None] = [one.amount for one in claimed]
    borne = None
    if shared(job):
        borne = warrantys_part(job, claimed, currency)
        amounts = borne.amounts
    parts = [replace(part, amount=mine) for part, mine in zip(parts, amounts[1:], strict=True)]
    known = [amount for amount in amounts[1:] if amount is not None]
    promise = "; ".join(words for words in (_promise(promised, say), share_words(job, say)) if words)
    figures = [*(rate_figure(terms) if terms is not None else ()), *told, *claim_figures(claimed, borne, why, currency)]
    return Expected(
        labour.lines,
        labour.tenths,
        amounts[0],
        parts,
        sum(known, round_money(Decimal(0), currency)) if len(known) == len(parts) else None,
        why,
        promise,
        labour.times,
        labour.work,
        labour.left_out,
        [*labour.figures, *figures],
    )


def _promise(pays: TermPays, say: Say) -> str:
    """In words what the term does not pay in full, '' when it pays all."""
    said = []
    for paid, percent, nothing, some in (
        (pays.labour, pays.labour_percent, say("the term pays no labour"), say("the term pays {percent} % of labour")),
        (pays.parts, pays.parts_percent, say("the term pays no parts"), say("the term pays {percent} % of parts")),
    ):
        if not paid:
            said.append(nothing)
        elif percent is not None and percent != 100:
            said.append(some.format(percent=plain(percent)))
    return "; ".join(said)


def _labour(
    job: Job, terms: DistributorTerms | None, currency: Currency, why: list[str], say: Words, asked: Sequence[Asked],
    pays: TermPays,
) -> tuple[Labour, Claimed]:  # fmt: skip
    labour = claimed_labour(job, terms, say, asked)
    basis = terms.time_basis if terms else ""
    known = terms is not None
    if terms is not None and terms.labour_rate is None:
        why.append("the distributor's labour rate is not recorded")
        known = False
    if terms is not None and not basis:
        why.append("it is not recorded by which time the distributor pays")
        known = False
    if basis == ALLOWED and job.allowed_hours is None:
        why.append("the distributor pays the time it allows, which is not known here")
        known = False
    if basis == GUIDE and any(not in_guide(row) for row in job.labour.all()):
        why.append("some labour stands in no guide, so its guide time is not known")
        known = False
    if not pays.labour:
        return labour, unpaid(LABOUR, "Labour", pays, currency)
    if not known or terms is None:
        return labour, Claimed(LABOUR, "Labour", None)
    return labour, labour_claimed(labour.tenths, terms, pays, currency)


def _parts(
    job: Job, terms: DistributorTerms | None, currency: Currency, why: list[str], pays: TermPays
) -> tuple[list[dict[str, Any]], list[PartLine], list[Claimed]]:
    """What each part starts from as figures, the lines, and what is asked for each of them."""
    fitted = sorted((p for p in job.parts.all() if p.fitted_at is not None), key=lambda p: (not p.causal, p.created_at))
    base = terms.parts_base if terms else ""
    percent = terms.parts_percent if terms else None
    told, lines, claimed = list[dict[str, Any]](), list[PartLine](), list[Claimed]()
    fees = list(job.fees.all())
    for row in fitted:
        pieces, _ = still_charged(row, fees)
        each = _price(row, base)
        if not pays.parts:
            one = unpaid(str(row.pk), row.words, pays, currency)
        elif terms is not None and each is not None and percent is not None and base:
            one = part_claimed(row, pieces, each, terms, pays, currency)
        else:
            one = Claimed(str(row.pk), row.words, None)
        told += part_figures(row, pieces, each, base)
        claimed.append(one)
        lines.append(PartLine(str(row.pk), row.number, row.words, pieces, each, one.amount, row.causal))
    if terms is not None and fitted and pays.parts and (percent is None or not base):
        why.append("what part of the price the distributor pays for parts is not recorded")
    for line in lines:
        if line.each is None and pays.parts:
            why.append(f"the shop's cost of {line.number or line.words} is not recorded")
    return told, lines, claimed


def _price(row: JobPart, base: str) -> Decimal | None:
    """The price that the percentage is of: cost, or list (the catalogue's, else what stands on the job)."""
    if base == DistributorTerms.PartsBase.COST:
        return row.unit_cost
    return row.part.list_price if row.part is not None else row.unit_price


def price_words(terms: DistributorTerms | None) -> str:
    """'90 % of list price', or 'not known'."""
    if terms is None or terms.parts_percent is None or not terms.parts_base:
        return "not known"
    return f"{plain(terms.parts_percent)} % {terms.get_parts_base_display()}"
