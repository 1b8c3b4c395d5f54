"""What distributors owe: every filed claim's expected money, until it came or somebody settled it otherwise.

An answer alone changes nothing that is asked: what a distributor refuses stays open until it is turned over, or the
claim is closed, by a spoken act. What it approves beyond what was asked is asked from that day on.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal
from uuid import UUID

from orders.rules.receivables import Entry, Item, Posted
from orders.services.receivables import DISTRIBUTOR, Owed, payer_of
from shopdocs.documents.press.words import Say
from shopdocs.shops.models import Shop
from warranty.models import Claim, TurnOver

from .claim_answers import AT_REST, came


def claims_owed(shop: Shop, payer: str, say: Say) -> Iterable[Owed]:
    """The distributors' side of the books: a claim each, and a second item for what was approved beyond it."""
    rows = (
        Claim.objects.for_shop(shop)
        .defer("facts")
        .select_related("distributor", "turn_over")
        .prefetch_related("credits", "answers")
        .order_by("filed_on", "number")
    )
    kind, _, pk = payer.partition(":")
    if payer:
        rows = rows.filter(distributor=UUID(pk)) if kind == DISTRIBUTOR else rows.none()
    for claim in rows:
        yield from _of(claim, say)


def _of(claim: Claim, say: Say) -> Iterable[Owed]:
    who = payer_of(claim.distributor)
    asked = claim.expected or Decimal(0)
    posted = came(claim, say)
    more = _approved_beyond(claim, asked)
    turned: TurnOver | None = getattr(claim, "turn_over", None)
    if turned is not None and turned.amount > 0:
        posted.append(_turned_over(turned, say))
    if claim.state == Claim.State.CLOSED:
        on = claim.closed_on or claim.shop.local(claim.updated_at).date()
        rest = asked + (more.asked if more else 0) + sum(one.moved for one in posted if one.on <= on)
        if rest > 0:
            posted.append(Posted(Entry.WRITE_OFF, rest, on, say("Claim closed, no more expected")))
        posted += _written_back(posted, on, say)
    own, beyond = _shared_out(posted, asked if more is not None else None)
    item = Item(
        claim.number, who.key, asked, claim.filed_on, claim.answer_due or claim.filed_on, tuple(own),
        f"{say('Claim')} {claim.number}",
    )  # fmt: skip
    settled = claim.expected is not None or more is not None or claim.state == Claim.State.CLOSED
    yield Owed(who, "claim", str(claim.pk), item, known=settled, due_known=claim.answer_due is not None)
    if more is not None:
        title = f"{say('Claim')} {claim.number}"
        words = say("approved beyond what was asked")
        yield Owed(
            who, "claim", str(claim.pk),
            Item(claim.number, who.key, more.asked, more.issued, more.due, tuple(beyond), title, words if asked else ""),
        )  # fmt: skip


def _written_back(posted: Sequence[Posted], closed_on: dt.date, say: Say) -> list[Posted]:
    """What came after the claim was closed takes back what was written off with it, as far as that goes."""
    left = sum((one.amount for one in posted if one.what is Entry.WRITE_OFF), Decimal(0))
    found = []
    for one in posted:
        if one.what is Entry.PAYMENT and one.on > closed_on and left:
            back = min(one.amount, left)
            left -= back
            found.append(Posted(Entry.WRITTEN_BACK, back, one.on, say("Taken back of what was written off")))
    return found


def _shared_out(posted: Sequence[Posted], first: Decimal | None) -> tuple[list[Posted], list[Posted]]:
    """The entries of a claim's two items, day by day: up to `first` those of what was asked, the rest of what came on top.

    None: there is one item. What was taken back is taken of what came on top first.
    """
    if first is None:
        return list(posted), []
    own, beyond = list[Posted](), list[Posted]()
    open_, over = first, Decimal(0)  # of the first item what is still open; what is settled of the second
    for one in sorted(posted, key=lambda one: one.on):
        part = min(one.amount, open_) if one.moved < 0 else one.amount - min(one.amount, over)
        rest = one.amount - part
        open_ += part if one.moved > 0 else -part
        over += rest if one.moved < 0 else -rest
        own += [replace(one, amount=part)] if part else []
        beyond += [replace(one, amount=rest)] if rest else []
    return own, beyond


def _approved_beyond(claim: Claim, asked: Decimal) -> Item | None:
    """What the newest answer that decides approves beyond what was asked, from its day on."""
    answers = sorted(claim.answers.all(), key=lambda one: (one.created_at, str(one.pk)))
    deciding = [one for one in answers if one.outcome in AT_REST]
    if not deciding:
        return None
    last = deciding[-1]
    beyond = (last.labour_approved or Decimal(0)) + (last.parts_approved or Decimal(0)) - asked
    return Item(claim.number, "", beyond, last.answered_on, last.answered_on) if beyond > 0 else None


def _turned_over(turned: TurnOver, say: Say) -> Posted:
    """Why is the shop's own, and not on the distributor's statement."""
    if turned.to == TurnOver.To.CUSTOMER:
        return Posted(Entry.CREDIT, turned.amount, turned.turned_on, say("Turned over to the customer"))
    return Posted(Entry.WRITE_OFF, turned.amount, turned.turned_on, say("Taken as goodwill of the shop"))
