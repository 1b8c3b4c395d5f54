"""How a customer's word is shown to have been given: a signature, or who was called when, and that it was read back."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any
from uuid import UUID

from django.utils import timezone

from orders.models import Answer, RepairOrder
from shopdocs.rest.refusals import Problem, Refused
from shopdocs.shops.models import Staff

from .card_numbers import refuse_card_number
from .holds import owners_word
from .records import refuse_all
from .signatures import use_signature

BY_STAFF = (str(Answer.Channel.IN_PERSON), str(Answer.Channel.PHONE))
FEWEST_DIGITS, MOST_DIGITS = 6, 15  # a number of ITU-T E.164 has 15 at most (from memory); below 6 it is an extension
PHONE_FACTS = {
    "phone_number": "Say which number was called.",
    "called_at": "Say when the customer was on the telephone.",
    "read_back": "Read back what was agreed, then record it.",
}


def by_staff(
    *,
    order: RepairOrder,
    by: Staff,
    channel: str,
    said_by: str,
    since: dt.datetime,
    used_for: str,
    words: str = "",
    signature: UUID | None = None,
    phone_number: str = "",
    called_at: dt.datetime | None = None,
    read_back: bool | None = None,
) -> dict[str, Any]:
    """The fields of a `Given` for what somebody said at the counter or on the telephone; uses the signature up.

    Nobody who works here gives the customer's word. `since`: when it could first be answered. `used_for`: kind:id of what is signed. Raises Refused with every problem
    at once: by telephone number, time and 'read back' are needed, in person a drawn signature or where the paper is.
    """
    if channel not in BY_STAFF:
        raise Refused(
            "channel", f"'{channel[:40]}' is not how staff take answers.", f"Say one of: {', '.join(BY_STAFF)}."
        )
    refuse_card_number("words", words)
    told = {"phone_number": phone_number.strip(), "called_at": called_at, "read_back": read_back}
    problems = [] if said_by.strip() else [Problem("said_by", "Nobody is named.", "Say who gave the answer.")]
    if channel == Answer.Channel.PHONE:
        problems += _by_phone(told, since)
        if signature is not None:
            problems.append(Problem("signature", "Nobody signs over the telephone.", "Leave it out."))
    else:
        problems += [
            Problem(name, "This belongs to an answer by telephone.", "Leave it out.")
            for name, value in told.items()
            if value
        ]
        if signature is None and not words.strip():
            remedy = "Let the customer sign on the screen, or say in 'words' where the signed paper is kept."
            problems.append(Problem("signature", "Nothing shows that the customer said so.", remedy))
    refuse_all(problems)
    said_by = owners_word(order, said_by, "said_by")
    signed = None
    if signature is not None:
        signed = use_signature(order=order, pk=signature, used_for=used_for, shown_at=since)
    return {
        "channel": channel,
        "said_by": said_by[:200],
        "words": words,
        "signature": signed,
        **told,
        "taken_by": by.user,
        "at": timezone.now(),
    }


def _by_phone(told: dict[str, Any], since: dt.datetime) -> list[Problem]:
    problems = [
        Problem(name, "An answer by telephone needs its record.", remedy)
        for name, remedy in PHONE_FACTS.items()
        if not told[name]
    ]
    digits = re.sub(r"[^0-9]", "", told["phone_number"])
    if told["phone_number"] and not FEWEST_DIGITS <= len(digits) <= MOST_DIGITS:
        problems.append(Problem("phone_number", "This is no telephone number.", "Give all its digits."))
    if told["called_at"] and told["called_at"] > timezone.now():
        problems.append(Problem("called_at", "The call lies in the future.", "Record it when it has been."))
    if told["called_at"] and told["called_at"] < since.replace(second=0, microsecond=0):
        problem = "The call was before there was anything to answer."
        problems.append(Problem("called_at", problem, "Correct the time, or call about what there is now."))
    return problems


def by_link(*, said_by: str, words: str) -> dict[str, Any]:
    """The fields of a `Given` for what the customer wrote behind the link."""
    if not said_by.strip():
        raise Refused("said_by", "Nobody is named.", "Say who gives the answer.")
    refuse_card_number("words", words)  # a customer who offers to pay at once writes it here
    return {
        "channel": str(Answer.Channel.LINK),
        "said_by": said_by.strip()[:200],
        "words": words,
        "taken_by": None,
        "at": timezone.now(),
    }
