"""What a claim asks where several payers share its job: the warranty's part, by the very rules that price the job."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from orders.models import Job
from orders.rules.pricing import FeeLine, Kind, Payer, price
from orders.rules.pricing import Job as PricedJob
from orders.services.splits import payer_words, shared_of
from shopdocs.documents.press.words import Say
from shopdocs.money import Currency

from .claim_figures import LABOUR, Borne, Claimed


def shared(job: Job) -> bool:
    """Whether somebody else bears a part of the job."""
    return bool(job.shares or job.payer_of)


def share_words(job: Job, say: Say) -> str:
    """How it is shared, '' where the warranty pays it all."""
    payers = payer_words(job.payer, job.shares, job.payer_of, say)
    return say("shared: {payers}").format(payers=payers) if shared(job) else ""


def warrantys_part(job: Job, claimed: Sequence[Claimed], currency: Currency) -> Borne:
    """Labour (the first) and each part as far as the warranty bears them, and how pricing shared them.

    None where an amount that the shares rest on is not known.
    """
    of = shared_of({"payer": job.payer, "shares": job.shares, "payer_of": job.payer_of})
    listed = [(of.by_kind.get(Kind.LABOUR if one.key == LABOUR else Kind.PART), one) for one in claimed]
    if job.shares and any(one.amount is None and not alone for alone, one in listed):
        return Borne([None for _ in claimed], None, job.number)
    lines = tuple(
        FeeLine(
            description=one.words, amount=one.amount or Decimal(0), paid_by=alone, key=one.key,
            kind=Kind.LABOUR if one.key == LABOUR else Kind.PART,
        )
        for alone, one in listed
    )  # fmt: skip
    priced = price(
        [PricedJob(key="1", title=job.title, fees=lines, payer=of.whole)], currency=currency, on=job.shop.today()
    )
    amounts = [
        None if one.amount is None and not alone else line.paid_by(Payer.WARRANTY)
        for (alone, one), line in zip(listed, priced.jobs[0].lines, strict=True)
    ]
    return Borne(amounts, priced, job.number)
