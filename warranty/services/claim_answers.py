"""What came back: the distributor's answers and credits. A refusal never moves the job to the customer by itself."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import F

from orders.rules.receivables import Entry, Posted, can_be_refunded
from orders.services.amounts import currency_of
from orders.services.card_numbers import refuse_card_numbers
from shopdocs.documents.press.words import Say
from shopdocs.money import format_money, round_money
from shopdocs.rest.refusals import Conflict, Refused, Stale
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event
from warranty.models import Claim, ClaimAnswer, Credit, TurnOver

from .lookups import mine, not_ahead, whole_cents

Outcome = ClaimAnswer.Outcome
SLIP = 10
AT_REST = (Outcome.PAID_IN_FULL, Outcome.IN_PART, Outcome.REFUSED)


@dataclass(frozen=True)
class Standing:
    """Where a claim's money stands. `approved` and `owed` are None while no answer says an amount."""

    approved: Decimal | None
    credited: Decimal
    owed: Decimal | None


def standing(claim: Claim) -> Standing:
    """Approved by the newest answer that decides, credited so far, and what is still owed (never below zero)."""
    answers = sorted(claim.answers.all(), key=lambda one: (one.created_at, str(one.pk)))
    deciding = [one for one in answers if one.outcome in AT_REST]
    credited = sum((one.amount for one in claim.credits.all()), Decimal(0))
    if not deciding:
        return Standing(None, credited, None)
    last = deciding[-1]
    approved = (last.labour_approved or Decimal(0)) + (last.parts_approved or Decimal(0))
    return Standing(approved, credited, max(approved - credited, Decimal(0)))


def locked(shop: Shop, claim: Claim, version: int, *, closed: bool = False) -> Claim:
    """The claim under its row's lock, as it is now; Conflict when it was changed since `version`, or is closed and may not be."""
    row: Claim = mine(shop, Claim, claim.pk, lock=True)
    if row.state == Claim.State.CLOSED and not closed:
        raise Conflict(
            "", f"Claim {row.number} is closed.", "A closed claim stays as it is; file the job again if more is asked."
        )
    if row.version != version:
        raise Stale(current_version=row.version, changed=_now(row))
    return row


def _now(claim: Claim) -> dict[str, str]:
    """What somebody else may have recorded, as it is now: the state, the newest answer, the money. None: not known, left out."""
    money = standing(claim)
    last = max(claim.answers.all(), key=lambda one: (one.created_at, str(one.pk)), default=None)
    told = {
        "state": claim.state,
        "outcome": last and last.outcome,
        "answered_on": last and last.answered_on,
        "approved": money.approved,
        "credited": money.credited,
        "owed": money.owed,
    }
    return {name: str(value) for name, value in told.items() if value is not None}


def _settle(claim: Claim) -> Claim:
    """The state that follows from answers and credits."""
    fresh: Claim = Claim.objects.for_shop(claim.shop).prefetch_related("answers", "credits").get(pk=claim.pk)
    now = standing(fresh)
    state = Claim.State.FILED if now.approved is None else Claim.State.ANSWERED
    if now.approved and now.credited >= now.approved:
        state = Claim.State.SETTLED
    if claim.state == Claim.State.CLOSED:
        state = Claim.State.CLOSED
    Claim.objects.for_shop(claim.shop).filter(pk=claim.pk).update(state=state, version=F("version") + 1)
    saved: Claim = Claim.objects.for_shop(claim.shop).prefetch_related("answers", "credits").get(pk=claim.pk)
    return saved


@transaction.atomic
def record_answer(
    *, shop: Shop, by: Staff, claim: Claim, version: int, outcome: str, answered_on: dt.date,
    labour_approved: Decimal | None = None, parts_approved: Decimal | None = None, reference: str = "", words: str = "",
) -> Claim:  # fmt: skip
    """Records an answer; a later one is a new row and the newest decides. Raises Refused for amounts that do not fit it."""
    row = locked(shop, claim, version)
    refuse_card_numbers(reference=reference, words=words)
    if TurnOver.objects.for_shop(shop).filter(claim=row).exists():
        problem = f"What claim {row.number} did not bring was turned over already."
        raise Conflict("", problem, "Credit what was turned over first, then record the answer as a credit.")
    not_ahead(shop, "answered_on", answered_on)
    if answered_on < row.filed_on:
        raise Refused(
            "answered_on", f"{answered_on} lies before the claim was filed ({row.filed_on}).", "Correct the day."
        )
    labour, parts = _amounts(shop, row, outcome, labour_approved, parts_approved)
    answer = ClaimAnswer.objects.create(
        shop=shop, by=by.user, claim=row, outcome=outcome, answered_on=answered_on, labour_approved=labour,
        parts_approved=parts, reference=reference, words=words,
    )  # fmt: skip
    record_event(
        shop=shop, subject=row.subject, verb="answered", by=by, words=f"{row.number}: {answer.get_outcome_display()}",
        facts={"answer": str(answer.pk), "labour": _text(labour), "parts": _text(parts)},
    )  # fmt: skip
    return _settle(row)


def _text(amount: Decimal | None) -> str | None:
    return None if amount is None else format(amount, "f")


def _amounts(
    shop: Shop, claim: Claim, outcome: str, labour: Decimal | None, parts: Decimal | None
) -> tuple[Decimal | None, Decimal | None]:
    """The approved amounts as recorded, after every check that they fit the outcome and what was asked."""
    whole_cents(shop, "labour_approved", labour)
    whole_cents(shop, "parts_approved", parts)
    if outcome == Outcome.MORE_ASKED:
        _none_given(labour, parts, "An answer that asks for more approves nothing yet.")
        return None, None
    if outcome == Outcome.REFUSED:
        _none_given(labour or None, parts or None, "A refusal approves nothing.")
        return Decimal(0), Decimal(0)
    if outcome == Outcome.PAID_IN_FULL:
        labour = claim.labour_expected if labour is None else labour
        parts = claim.parts_expected if parts is None else parts
    for name, amount in (("labour_approved", labour), ("parts_approved", parts)):
        if amount is None:
            raise Refused(
                name, "What was approved is not known.", "Enter the amount of the distributor's answer; 0 if none."
            )
    assert labour is not None and parts is not None
    _plausible(claim, outcome, labour, parts)
    return labour, parts


def _none_given(labour: Decimal | None, parts: Decimal | None, problem: str) -> None:
    for name, amount in (("labour_approved", labour), ("parts_approved", parts)):
        if amount is not None:
            raise Refused(name, problem, "Leave the amount out, or choose 'in_part' or 'in_full'.")


def _plausible(claim: Claim, outcome: str, labour: Decimal, parts: Decimal) -> None:
    total = labour + parts
    if total == 0:
        raise Refused("outcome", "Nothing was approved.", "Choose 'refused', or enter what was approved.")
    pairs: tuple[tuple[str, Decimal, Decimal | None], ...] = (
        ("labour_approved", labour, claim.labour_expected), ("parts_approved", parts, claim.parts_expected),
    )  # fmt: skip
    for name, amount, asked in pairs:
        if asked and amount > SLIP * asked:
            raise Refused(
                name,
                f"{_said(claim, amount)} is over {SLIP} times what was asked ({_said(claim, asked)}).",
                "Look at the point in the amount.",
            )
    if outcome == Outcome.PAID_IN_FULL and claim.expected is not None and total < claim.expected:
        raise Refused(
            "outcome",
            f"{_said(claim, total)} is less than was asked ({_said(claim, claim.expected)}).",
            "Choose 'in_part'.",
        )


@transaction.atomic
def record_credit(
    *, shop: Shop, by: Staff, claim: Claim, version: int, amount: Decimal, received_on: dt.date, reference: str = ""
) -> Claim:
    """Records money that came or, below zero, that the distributor took back of it.

    The claim is settled when the credits reach what was approved. Money may come late on a closed claim, which stays closed:
    what was written off with it is taken back.
    """
    row = locked(shop, claim, version, closed=amount > 0)
    refuse_card_numbers(reference=reference)
    whole_cents(shop, "amount", abs(amount))
    not_ahead(shop, "received_on", received_on)
    if not amount:
        raise Refused("amount", "A credit of nothing is none.", "Enter what came; below zero what was taken back.")
    if received_on < row.filed_on:
        raise Refused(
            "received_on", f"{received_on} lies before the claim was filed ({row.filed_on}).", "Correct the day."
        )
    if row.state == Claim.State.CLOSED:
        _refuse_settled_elsewhere(row)
    now = standing(row)
    if amount > 0:
        _fits(row, now, amount)
    else:
        _came_before(row, -amount, received_on)
    Credit.objects.create(shop=shop, by=by.user, claim=row, amount=amount, received_on=received_on, reference=reference)
    record_event(
        shop=shop,
        subject=row.subject,
        verb="credited" if amount > 0 else "credit taken back",
        by=by,
        words=f"{row.number}: {amount}",
        facts={"amount": _text(amount)},
    )
    return _settle(row)


def _said(claim: Claim, amount: Decimal) -> str:
    """An amount in words, in the decimals of the shop's currency."""
    currency = currency_of(claim.shop)
    return format_money(round_money(amount, currency), currency)


def _refuse_settled_elsewhere(claim: Claim) -> None:
    """Conflict where what a closed claim did not bring was asked of somebody else since."""
    turned = TurnOver.objects.for_shop(claim.shop).filter(claim=claim, to=TurnOver.To.CUSTOMER).first()
    if turned is not None:
        problem = f"What claim {claim.number} did not bring was asked of the customer."
        raise Conflict("", problem, "Give the customer a credit note, file the job again and record the money there.")
    later = Claim.objects.for_shop(claim.shop).filter(job=claim.job_id, created_at__gt=claim.created_at)
    anew = later.order_by("created_at").last()
    if anew is not None:
        problem = f"Claim {claim.number} is closed, and its job was claimed anew as {anew.number}."
        raise Conflict("", problem, "Record the money on that claim.")


def _came_before(claim: Claim, back: Decimal, on: dt.date) -> None:
    """Refused where more is taken back than had come by that day, or would have been taken back later."""
    most = can_be_refunded(came(claim), on)
    if back > most:
        problem = (
            f"{_said(claim, back)} is more than the {_said(claim, most)} that came by {on} and was not taken back."
        )
        raise Refused("amount", problem, "Look at the amount and the day.")


def came(claim: Claim, say: Say = str) -> list[Posted]:
    """What came for a claim and what was taken back of it, in the order of its days, as entries of the books."""
    return [
        Posted(Entry.PAYMENT, row.amount, row.received_on, say("Credit received"), row.reference)
        if row.amount > 0
        else Posted(Entry.REFUND, -row.amount, row.received_on, say("Credit taken back"), row.reference)
        for row in sorted(claim.credits.all(), key=lambda one: (one.received_on, one.created_at))
    ]


def _fits(claim: Claim, now: Standing, amount: Decimal) -> None:
    total = now.credited + amount
    if claim.state == Claim.State.CLOSED and claim.expected is not None:
        most = max(claim.expected, now.approved or Decimal(0))
        if total > most:
            problem = f"With it the credits come to {_said(claim, total)}, over the {_said(claim, most)} of the claim."
            raise Refused("amount", problem, "Look at the amount.")
        return
    if now.approved is not None and total > now.approved:
        remedy = "Look at the amount; if more was approved, record that answer first."
        raise Refused(
            "amount",
            f"With it the credits come to {_said(claim, total)}, over the {_said(claim, now.approved)} approved.",
            remedy,
        )
    if now.approved is None and claim.expected and total > SLIP * claim.expected:
        raise Refused(
            "amount",
            f"{_said(claim, total)} is over {SLIP} times what was asked ({_said(claim, claim.expected)}).",
            "Look at the point in the amount.",
        )


@transaction.atomic
def close_claim(*, shop: Shop, by: Staff, claim: Claim, version: int, note: str) -> Claim:
    """Closes a claim that brings no (more) credit. Who pays for the job is a separate, spoken decision of the shop."""
    row = locked(shop, claim, version)
    refuse_card_numbers(note=note)
    if row.state == Claim.State.SETTLED:
        raise Conflict("", f"Claim {row.number} is settled.", "Nothing is left to close.")
    Claim.objects.for_shop(shop).filter(pk=row.pk).update(
        state=Claim.State.CLOSED, closed_note=note, closed_on=shop.today(), version=F("version") + 1
    )
    record_event(shop=shop, subject=row.subject, verb="closed", by=by, words=f"{row.number}: {note}")
    saved: Claim = Claim.objects.for_shop(shop).prefetch_related("answers", "credits").get(pk=row.pk)
    return saved


def overdue(claim: Claim, today: dt.date) -> bool:
    """Whether the distributor should have answered by now. Not known counts as not overdue."""
    return claim.state == Claim.State.FILED and claim.answer_due is not None and claim.answer_due < today
