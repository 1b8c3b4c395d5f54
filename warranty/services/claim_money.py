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
from .claim_shares import share_words, shared, warrantys_part
from .claim_times import ALLOWED, GUIDE, Labour, LabourLine, claimed_labour, in_guide
from .decision_words import TermPays

TENTHS = Decimal(10)
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
    """Labour, parts and their sum; `why_not` tells in words what is not known, and why."""

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
    labour, amount = _labour(job, terms, currency, why, say, asked)
    parts, parts_amount = _parts(job, terms, currency, why, promised)
    share = Decimal(100) if promised.labour_percent is None else promised.labour_percent
    if not promised.labour:
        amount = Decimal(0)
    elif amount is not None and terms is not None and terms.labour_rate is not None:
        amount = round_money(Decimal(labour.tenths) / TENTHS * terms.labour_rate * share / 100, currency)
    if shared(job):
        amount, borne = warrantys_part(job, amount, [part.amount for part in parts], currency)
        parts = [replace(part, amount=mine) for part, mine in zip(parts, borne, strict=True)]
        parts_amount = None if None in borne else sum((mine for mine in borne if mine is not None), Decimal(0))
    promise = "; ".join(words for words in (_promise(promised, say), share_words(job, say)) if words)
    return Expected(
        labour.lines,
        labour.tenths,
        amount,
        parts,
        parts_amount,
        why,
        promise,
        labour.times,
        labour.work,
        labour.left_out,
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
    job: Job, terms: DistributorTerms | None, currency: Currency, why: list[str], say: Words, asked: Sequence[Asked]
) -> tuple[Labour, Decimal | None]:
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
    if not known or terms is None or terms.labour_rate is None:
        return labour, None
    return labour, round_money(Decimal(labour.tenths) / TENTHS * terms.labour_rate, currency)


def _parts(
    job: Job, terms: DistributorTerms | None, currency: Currency, why: list[str], pays: TermPays
) -> tuple[list[PartLine], Decimal | None]:
    fitted = sorted((p for p in job.parts.all() if p.fitted_at is not None), key=lambda p: (not p.causal, p.created_at))
    base = terms.parts_base if terms else ""
    percent = terms.parts_percent if terms else None
    share = Decimal(100) if pays.parts_percent is None else pays.parts_percent
    lines = []
    fees = list(job.fees.all())
    for row in fitted:
        pieces, _ = still_charged(row, fees)
        each = _price(row, base)
        amount = None if pays.parts else Decimal(0)
        if pays.parts and each is not None and percent is not None and base:
            amount = round_money(pieces * each * percent * share / 10_000, currency)
        lines.append(PartLine(str(row.pk), row.number, row.words, pieces, each, amount, row.causal))
    if terms is not None and fitted and pays.parts and (percent is None or not base):
        why.append("what part of the price the distributor pays for parts is not recorded")
    for line in lines:
        if line.each is None and pays.parts:
            why.append(f"the shop's cost of {line.number or line.words} is not recorded")
    if any(line.amount is None for line in lines):
        return lines, None
    return lines, sum((line.amount for line in lines if line.amount is not None), Decimal(0))


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
