"""What a customer chooses beforehand for the case that a warranty refuses to pay: pay up to, ask me, return unrepaired."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import Answer, Estimate, Job, RefusalChoice
from shopdocs.rest.refusals import Conflict, Problem, Refused, Told
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event

from . import amounts, given, scope
from .agreement import WARRANTY, chosen_words
from .frozen import trimmed
from .reach import lock_order
from .records import given_in_address, refuse_all

Facts = dict[str, Any]
Choice = RefusalChoice.Choice
CHOICES = tuple(str(one) for one in Choice.values)


def choice_of(given_choice: Facts, at: str, decimals: int) -> tuple[str, Decimal | None]:
    """The choice and its amount, checked; `at`: where they stand in the request, such as 'answers[0].'.

    Raises Refused: an amount belongs to 'pay_up_to' and to nothing else.
    """
    choice, up_to = given_choice["choice"], given_choice.get("up_to")
    if choice not in CHOICES:
        problem = Told("'{choice}' is no choice.", choice=str(choice)[:40])
        raise Refused(f"{at}choice", problem, Told("Choose one of: {known}.", known=", ".join(CHOICES)))
    if choice != Choice.PAY_UP_TO:
        if up_to is not None:
            raise Refused(f"{at}up_to", "An amount belongs to 'pay_up_to'.", "Leave it out, or choose that.")
        return choice, None
    if up_to is None:
        raise Refused(f"{at}up_to", "Up to what amount is not said.", "Give the most, tax included.")
    return choice, amounts.figure(up_to, f"{at}up_to", decimals=decimals, above=Decimal(0))


def check_choices(estimate: Estimate, answers: list[Facts]) -> list[tuple[Facts, str, Decimal | None]]:
    """The choices among the answers: (frozen job, choice, amount). Refused where the job is not a warranty's to pay."""
    by_id = {job["id"]: job for job in estimate.facts["jobs"]}
    found, problems = [], []
    for index, one in enumerate(answers):
        wanted = one.get("if_refused")
        if wanted is None:
            continue
        field, job = f"answers[{index}].if_refused", by_id[str(one["job"])]
        if job["payer"] != WARRANTY:
            problem = Told("Job {number} is paid by: {payer}.", number=job["number"], payer=job["payer_words"])
            problems.append(Problem(field, problem, "Choose only for a job that a warranty is to pay."))
        elif not one["accepted"]:
            problem = Told("Job {number} is declined.", number=job["number"])
            problems.append(Problem(field, problem, "Choose only for an accepted job."))
        else:
            found.append((job, *choice_of(wanted, f"{field}.", estimate.facts["money"]["decimals"])))
    refuse_all(problems)
    return found


def keep_choices(
    estimate: Estimate, choices: list[tuple[Facts, str, Decimal | None]], how: Facts, *, by: Staff | None
) -> list[RefusalChoice]:
    """Writes the choices down, each with the words that were agreed to."""
    rows = []
    for frozen, choice, up_to in choices:
        shown = None if up_to is None else trimmed(up_to, estimate.facts["money"]["decimals"])
        row = RefusalChoice.objects.create(
            shop=estimate.shop,
            job_id=UUID(frozen["id"]),
            estimate=estimate,
            choice=choice,
            up_to=up_to,
            agreed_words=chosen_words(estimate.facts, frozen, choice, shown),
            **how,
        )
        rows.append(row)
        record_event(
            shop=estimate.shop,
            subject=f"job:{frozen['id']}",
            verb="chosen if refused",
            words=f"{row.get_choice_display()}{f' {shown}' if shown else ''}, {how['channel']}, said by {how['said_by']}",
            by=by,
            by_name=how["said_by"],
        )
    return rows


@transaction.atomic
def take_choice(
    *,
    shop: Shop,
    by: Staff,
    job_id: UUID,
    choice: str,
    channel: str,
    said_by: str,
    up_to: Any = None,
    words: str = "",
    signature: UUID | None = None,
    phone_number: str = "",
    called_at: dt.datetime | None = None,
    read_back: bool | None = None,
) -> RefusalChoice:
    """Writes down a choice that the customer made at the counter or on the telephone; the newest counts.

    Conflict unless the customer has accepted the job on an estimate in which a warranty pays for it. After a refusal it
    is the answer of a customer who had chosen to be asked; what it then allows is for the turn-over to say.
    """
    peek = given_in_address(Job, shop=shop, pk=job_id)
    lock_order(shop, peek.order_id)
    job = given_in_address(Job, shop=shop, pk=job_id)
    answer = accepted_answer(job)
    frozen = scope.frozen_job(answer.estimate.facts, job) if answer is not None else None
    if answer is None or frozen is None or frozen["payer"] != WARRANTY:
        problem = f"Job {job.number} was not accepted as a warranty's to pay."
        raise Conflict("job", problem, "Send the estimate first; the choice is asked with it.")
    chosen = choice_of({"choice": choice, "up_to": up_to}, "", shop.currency_decimals)
    how = given.by_staff(
        order=job.order, by=by, channel=channel, said_by=said_by, since=answer.estimate.created_at, used_for=job.subject,
        words=words, signature=signature, phone_number=phone_number, called_at=called_at, read_back=read_back,
    )  # fmt: skip
    (row,) = keep_choices(answer.estimate, [(frozen, *chosen)], how, by=by)
    return row


def accepted_answer(job: Job) -> Answer | None:
    """The newest answer with which the customer accepted the job."""
    answer = scope.latest_answer(job)
    return answer if answer is not None and answer.accepted else None


def choices_of(job: Job) -> list[RefusalChoice]:
    """The choices on a job, oldest first."""
    return list(RefusalChoice.objects.for_shop(job.shop).filter(job=job).order_by("at", "created_at", "id"))


def standing_choices(job: Job) -> list[RefusalChoice]:
    """The choices beside the newest version on which the job was accepted, oldest first; those before it are void.

    Each version says that without a choice nothing of the job is ever charged, so that its acceptance alone chooses nothing.
    """
    answer = accepted_answer(job)
    return [one for one in choices_of(job) if answer is not None and one.estimate_id == answer.estimate_id]
