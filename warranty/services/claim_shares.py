"""What a claim asks where several payers share its job: the warranty's part, by the very rules that price the job."""

from __future__ import annotations

from decimal import Decimal

from orders.models import Job
from orders.rules.pricing import FeeLine, Kind, Payer, price
from orders.rules.pricing import Job as PricedJob
from orders.services.splits import payer_words, shared_of
from shopdocs.documents.press.words import Say
from shopdocs.money import Currency


def shared(job: Job) -> bool:
    """Whether somebody else bears a part of the job."""
    return bool(job.shares or job.payer_of)


def share_words(job: Job, say: Say) -> str:
    """How it is shared, '' where the warranty pays it all."""
    payers = payer_words(job.payer, job.shares, job.payer_of, say)
    return say("shared: {payers}").format(payers=payers) if shared(job) else ""


def warrantys_part(
    job: Job, labour: Decimal | None, parts: list[Decimal | None], currency: Currency
) -> tuple[Decimal | None, list[Decimal | None]]:
    """Labour and each part as far as the warranty bears them; None where an amount that the shares rest on is not known."""
    of = shared_of({"payer": job.payer, "shares": job.shares, "payer_of": job.payer_of})
    kinds = {Kind.LABOUR: of.by_kind.get(Kind.LABOUR), Kind.PART: of.by_kind.get(Kind.PART)}
    unknown = (labour is None and not kinds[Kind.LABOUR]) or (None in parts and not kinds[Kind.PART])
    if unknown and job.shares:
        return None, [None for _ in parts]
    listed = [(Kind.LABOUR, labour), *((Kind.PART, part) for part in parts)]
    lines = tuple(
        FeeLine(description=str(at), amount=amount or Decimal(0), kind=kind, paid_by=kinds[kind])
        for at, (kind, amount) in enumerate(listed)
    )
    priced = price(
        [PricedJob(key="1", title=job.title, fees=lines, payer=of.whole)], currency=currency, on=job.shop.today()
    )
    borne = [line.paid_by(Payer.WARRANTY) for line in priced.jobs[0].lines]
    known = [
        None if amount is None and not kinds[kind] else part for (kind, amount), part in zip(listed, borne, strict=True)
    ]
    return known[0], known[1:]
