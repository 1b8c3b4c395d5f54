"""What the distributor does not pay: goodwill of the shop, or the customer's as far as the customer chose beforehand.

It is always somebody's spoken act. Without a choice of the customer nothing ever moves to the customer.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import F

from orders.models import RefusalChoice
from orders.services.card_numbers import refuse_card_numbers
from orders.services.refusal_choices import standing_choices
from orders.services.turned_over import bill_turned_over
from orders.services.wording import paper_language
from shopdocs.documents.press.values import day_words
from shopdocs.documents.press.words import words
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event
from warranty.models import Claim, ClaimAnswer, TurnOver

from .claim_answers import locked, standing
from .claim_beside import jobs_left_to, jobs_that_left
from .lookups import whole_cents

Outcome = ClaimAnswer.Outcome
Choice = RefusalChoice.Choice
GOODWILL = "Turn it over to goodwill instead."


@dataclass(frozen=True)
class Allowed:
    """How much the customer may be asked for at most, tax included, and the choice that says so."""

    up_to: Decimal
    choice: RefusalChoice


@transaction.atomic
def turn_over(
    *, shop: Shop, by: Staff, claim: Claim, version: int, to: str, reason: str, amount: Decimal | None = None
) -> TurnOver:
    """Turns what a distributor refused over: `to` 'goodwill' or 'customer', with a reason.

    `amount` (to the customer only, tax included): less than what the choice allows. Conflict before a refusal, twice, or
    where the customer's choice does not allow it; Refused for an amount beyond it.
    """
    row = locked(shop, claim, version)
    refuse_card_numbers(reason=reason)
    refusal = _refusal(row)
    if TurnOver.objects.for_shop(shop).filter(claim=row).exists():
        raise Conflict("", f"Claim {row.number} was turned over already.", "Nothing is left to turn over.")
    if not reason.strip():
        raise Refused("reason", "The reason is missing.", "Say why, for whoever reads the books later.")
    money = standing(row)
    # What came already is nobody else's to pay, whatever the refusal says.
    paid = max(money.approved or Decimal(0), money.credited)
    lost = max((row.expected or Decimal(0)) - paid, Decimal(0))
    invoice = None
    if to == TurnOver.To.CUSTOMER:
        allowed = allowed_of(row, refusal)
        most = _most(shop, allowed, amount)
        invoice = bill_turned_over(
            job=row.job, by=by, most=most, paid=paid, ground=_ground(row, allowed),
            borne=jobs_left_to(row), later=jobs_that_left(row),
        )  # fmt: skip
    elif amount is not None:
        raise Refused("amount", "Goodwill asks the customer for nothing.", "Leave the amount out.")
    made: TurnOver = TurnOver.objects.create(
        shop=shop, by=by.user, claim=row, to=to, amount=lost, turned_on=shop.today(), reason=reason.strip()[:400],
        invoice=invoice,
    )  # fmt: skip
    _close(row, made)
    told = f"{row.number}: {lost} to {made.get_to_display()}; {made.reason}"
    facts = {"invoice": invoice.number if invoice else "", "total": f"{invoice.total:f}" if invoice else ""}
    record_event(shop=shop, subject=row.subject, verb="turned over", by=by, words=told, facts=facts)
    return made


def _refusal(claim: Claim) -> ClaimAnswer:
    """The first answer that refused, in whole or in part; Conflict while the newest one does not."""
    answers = sorted(claim.answers.all(), key=lambda one: (one.created_at, str(one.pk)))
    deciding = [one for one in answers if one.outcome != Outcome.MORE_ASKED]
    if not deciding or deciding[-1].outcome not in (Outcome.REFUSED, Outcome.IN_PART):
        raise Conflict(
            "", f"Claim {claim.number} was not refused.", "Wait for the distributor's answer, and record it."
        )
    return next(one for one in deciding if one.outcome in (Outcome.REFUSED, Outcome.IN_PART))


def allowed_of(claim: Claim, refusal: ClaimAnswer) -> Allowed:
    """What the customer's choice allows. Conflict when there was none before the refusal, or when it allows nothing.

    A refusal that was written down later counts from the day on which it came. 'Ask me' allows what the customer then
    answered, after the refusal.
    """
    choices = standing_choices(claim.job)
    before = [one for one in choices if _beforehand(claim.shop, one, refusal)]
    after = choices[len(before) :]
    if not before:
        problem = "The customer chose nothing for the case of a refusal, so nothing of it is theirs to pay."
        raise Conflict("to", problem, GOODWILL)
    chosen = before[-1]
    if chosen.choice == Choice.RETURN_UNREPAIRED:
        problem = "The customer chose to have the machine back unrepaired, and to pay nothing for this job."
        raise Conflict("to", problem, GOODWILL)
    if chosen.choice == Choice.ASK_ME:
        if not after or after[-1].choice != Choice.PAY_UP_TO:
            problem = "The customer chose to be asked, and has not agreed to pay."
            remedy = "Ask, and record the answer at the job's refusal choices; or turn it over to goodwill."
            raise Conflict("to", problem, remedy)
        chosen = after[-1]
    assert chosen.up_to is not None, "the database keeps an amount with 'pay up to'"
    return Allowed(chosen.up_to, chosen)


def _beforehand(shop: Shop, one: RefusalChoice, refusal: ClaimAnswer) -> bool:
    return one.at < refusal.created_at and shop.local(one.at).date() <= refusal.answered_on


def _most(shop: Shop, allowed: Allowed, amount: Decimal | None) -> Decimal:
    if amount is None:
        return allowed.up_to
    whole_cents(shop, "amount", amount)
    if amount <= 0:
        raise Refused("amount", f"{amount} is not above zero.", "Give what the customer is to pay, or choose goodwill.")
    if amount > allowed.up_to:
        problem = f"The customer chose to pay {allowed.up_to.normalize():f} at most, tax included."
        raise Refused("amount", problem, "Ask for that or less.")
    return amount


def _ground(claim: Claim, allowed: Allowed) -> str:
    """What the invoice says about it, in the customer's language."""
    say = words(paper_language(claim.shop, claim.job.order.customer))
    upto = f"{claim.shop.currency_symbol}{allowed.up_to.quantize(Decimal(1).scaleb(-claim.shop.currency_decimals)):f}"
    return say("the claim {number} was refused; chosen by {who} on {day}: pay up to {amount}").format(
        number=claim.number,
        who=allowed.choice.said_by,
        day=day_words(claim.shop.local(allowed.choice.at).date(), say),
        amount=upto,
    )


def _close(claim: Claim, made: TurnOver) -> None:
    """With nothing more to come the claim is closed; what was approved in part may still be credited."""
    state = claim.state
    fresh: Claim = Claim.objects.for_shop(claim.shop).prefetch_related("answers", "credits").get(pk=claim.pk)
    changes: dict[str, object] = {"version": F("version") + 1}
    if not standing(fresh).owed and state != Claim.State.SETTLED:
        changes |= {"state": Claim.State.CLOSED, "closed_note": f"turned over: {made.reason}"[:400]}
        changes |= {"closed_on": made.turned_on}
    Claim.objects.for_shop(claim.shop).filter(pk=claim.pk).update(**changes)
