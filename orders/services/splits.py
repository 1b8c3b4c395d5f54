"""Several payers of one job: a percentage, an amount first (a deductible), the rest; or another payer for a kind of line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import Job
from orders.rules.pricing_input import Payer
from orders.rules.splits import Shared, read_shares
from shopdocs.documents.press.values import sentence
from shopdocs.documents.press.words import Say
from shopdocs.problems import BadInput
from shopdocs.rest.refusals import Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, save_changes

from . import amounts
from .reach import lock_job, refuse_ended
from .scope import settle

Facts = dict[str, Any]


@transaction.atomic
def set_split(
    *, shop: Shop, by: Staff, job_id: UUID, version: int, shares: Sequence[Facts] = (), payer_of: Facts | None = None
) -> Job:
    """Says how several payers share a job that was read at `version`; without shares and kinds its payer pays all.

    Warranty takes part only where it is the job's payer already, on its ground. Where the customer comes to pay more
    than they agreed to, the job is proposed again.
    """
    from .discounts import refuse_below_nothing  # it prices, and what is priced stands above this module

    job = lock_job(shop, job_id)
    refuse_ended(job)
    kinds = dict(payer_of or {})
    rows = [_checked(shop, dict(share)) for share in shares]
    try:
        shared = read_shares(job.payer, rows, kinds) if rows or kinds else None
        if shared is not None:
            _ = shared.whole
    except BadInput as bad:
        raise Refused(bad.field, bad.problem, bad.remedy) from bad
    if shared is not None and Payer.WARRANTY in shared.payers and job.payer != Payer.WARRANTY:
        problem = "A warranty takes a share only of a job that stands on its ground."
        raise Refused("shares", problem, "Set the job's basis from a coverage decision first.")
    saved: Job = save_changes(job, version=version, changes={"shares": rows, "payer_of": kinds})
    refuse_below_nothing(saved, "payer_of")  # another payer has another rate
    settle(saved)
    words = payer_words(saved.payer, rows, kinds, lambda text: text)
    record_event(shop=shop, subject=saved.subject, verb="payers set", words=words, by=by)
    return saved


def _checked(shop: Shop, share: Facts) -> Facts:
    """A share with its figures as plain digits: a percentage, or an amount of the shop's currency."""
    row: Facts = {"payer": share["payer"], "percent": None, "amount": None}
    if share.get("percent") is not None:
        row["percent"] = f"{amounts.percent(share['percent'], 'shares.percent').normalize():f}"
    if share.get("amount") is not None:
        amount = amounts.figure(share["amount"], "shares.amount", decimals=shop.currency_decimals)
        row["amount"] = f"{amount:.{shop.currency_decimals}f}"
    return row


def shared_of(facts: Mapping[str, Any]) -> Shared:
    """A frozen job's payers; facts that are older than splits have one payer."""
    return read_shares(facts["payer"], facts.get("shares") or (), facts.get("payer_of") or {})


def bears(payer: str, shares: Sequence[Facts], payer_of: Mapping[str, str], who: str = "customer") -> bool:
    """Whether `who` may have to pay a part of the job."""
    return who in read_shares(payer, shares, payer_of).payers


def customer_bears(job: Job) -> bool:
    """Whether the customer may have to pay a part of the job as it is now."""
    return bears(job.payer, job.shares, job.payer_of)


def payer_words(payer: str, shares: Sequence[Facts], payer_of: Mapping[str, str], say: Say) -> str:
    """'Warranty', 'Customer the first 50.00, warranty the rest', 'Warranty 80 %, customer 20 %; labour: customer'."""
    listed = [f"{say(one['payer'])} {_share(one, say)}" for one in shares]
    kinds = kind_words(say)
    others = [f"{kinds[kind]}: {say(who)}" for kind, who in payer_of.items()]
    return sentence("; ".join([", ".join(listed) or say(payer), *others]))


def _share(one: Facts, say: Say) -> str:
    if one["amount"] is not None:
        return f"{say('the first')} {one['amount']}"
    return say("the rest") if one["percent"] is None else f"{Decimal(one['percent']).normalize():f} %"


def kind_words(say: Say) -> dict[str, str]:
    """Kinds of line as a paper names them."""
    return {
        "labour": say("labour"),
        "part": say("parts"),
        "fee": say("fees"),
        "freight": say("freight"),
        "sublet": say("sublet work"),
        "delivery": say("pick-up and delivery"),
        "disposal": say("disposal"),
    }
