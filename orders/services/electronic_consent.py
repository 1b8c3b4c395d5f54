"""Consent to electronic records: when it was given for an order, and that the customer took it back. From then on it is paper.

15 USC 7001(c)(1): affirmative consent that was not withdrawn (second-hand; `agreement.consent` says the words).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from orders.models import Answer, AnswerLink, RepairOrder
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import Event, Shop, Staff
from shopdocs.shops.services import record_event

from . import given
from .agreement import consent_of
from .reach import lock_order

TAKEN_BACK = "consent taken back"


@dataclass(frozen=True, slots=True)
class Consent:
    """The newest consent of an order with its words, and when one was last taken back; None: never."""

    version: str
    words: str
    given_at: dt.datetime | None
    taken_back_at: dt.datetime | None

    @property
    def stands(self) -> bool:
        return self.given_at is not None and not self.is_taken_back

    @property
    def is_taken_back(self) -> bool:
        """Whether the last word of the customer was that they want paper."""
        back, said = self.taken_back_at, self.given_at
        return back is not None and (said is None or said <= back)


def consent_on(order: RepairOrder) -> Consent:
    """How it stands with the consent of an order's customer."""
    answers = Answer.objects.for_shop(order.shop).filter(estimate__order=order).exclude(consented_at=None)
    answer = answers.select_related("estimate").order_by("-consented_at").first()
    events = Event.objects.filter(shop=order.shop, subject=order.subject, verb=TAKEN_BACK)
    back = events.order_by("-at").values_list("at", flat=True).first()
    if answer is None:
        return Consent("", "", None, back)
    words = (consent_of(answer.estimate.facts) or {}).get("words", "")
    return Consent(answer.consent_version, words, answer.consented_at, back)


@transaction.atomic
def take_back_consent(*, shop: Shop, by: Staff, order_id: UUID, **how: Any) -> RepairOrder:
    """Writes down that the customer takes the consent back; links that wait for an answer end. `how` as for `given.by_staff`.

    Conflict where none stands. What was answered before stays.
    """
    order = lock_order(shop, order_id)
    consent = consent_on(order)
    if consent.given_at is None or not consent.stands:
        problem = f"No consent to electronic records stands for {order.number}."
        raise Conflict("consent", problem, "Nothing is left to take back.")
    told = given.by_staff(order=order, by=by, since=consent.given_at, used_for=order.subject, **how)
    now = timezone.now()
    links = AnswerLink.objects.for_shop(shop).filter(estimate__order=order, used_at=None, expires_at__gt=now)
    links.update(expires_at=now)
    facts = {name: told[name] for name in ("channel", "phone_number", "words")}
    facts["called_at"] = told["called_at"].isoformat() if told["called_at"] else ""
    said = f"{told['said_by']}, {told['channel']} {told['phone_number']}".strip()
    record_event(shop=shop, subject=order.subject, verb=TAKEN_BACK, words=said, facts=facts, by=by)
    return order


def refuse_on_paper_only(order: RepairOrder) -> None:
    """Conflict before an estimate or invoice is e-mailed to a customer who has taken the consent back."""
    consent = consent_on(order)
    if consent.is_taken_back and consent.taken_back_at is not None:
        day = order.shop.local(consent.taken_back_at).date()
        problem = f"The customer took the consent to electronic records back on {day}."
        raise Conflict("consent", problem, "Give it on paper, or let the customer agree again on a screen in the shop.")
