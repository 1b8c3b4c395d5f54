"""Jobs: one concern each, from findings or straight from the customer's request, and who pays for it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from orders.models import Finding, Job, RepairOrder
from orders.rules import trade
from orders.rules.work import Work
from shopdocs.documents.press.words import Say, words
from shopdocs.rest.refusals import Conflict, NotYours, Problem, Refused
from shopdocs.rest.roles import COUNTER
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, refuse_no_change, save_changes

from . import amounts
from .card_numbers import refuse_card_numbers
from .discounts import refuse_below_nothing
from .house_rules import refuse_forbidden
from .lines import add_labour_line, add_part_line
from .reach import lock_job, lock_open_order, refuse_ended
from .records import given_in_address
from .scope import refuse_billed_twice, settle
from .wording import paper_language

CHARGES = ("discount_words", "discount_percent", "discount_amount", "allowed_hours")
PAYERS = tuple(str(value) for value in Job.Payer.values)


@transaction.atomic
def add_job(
    *,
    shop: Shop,
    by: Staff,
    order_id: UUID,
    title: str = "",
    complaint: str = "",
    cause: str = "",
    why_now: str = "",
    if_not: str = "",
    payer: str = "customer",
    findings: list[UUID] | None = None,
    labour: list[dict[str, Any]] | None = None,
    parts: list[dict[str, Any]] | None = None,
    share_findings: bool = False,
) -> Job:
    """Proposes a job on an open order.

    `labour` and `parts` hold the keyword arguments of `add_labour` and `add_part`. Without a title the findings give it;
    with neither it is refused. Conflict when a finding stands in another job already, because the same fault would be
    billed twice; `share_findings` says that it is meant.
    """
    if payer_by_hand(payer) != Job.Payer.CUSTOMER and not COUNTER & set(by.roles):
        raise NotYours("payer", "Who pays is the counter's to say.", "Leave it out, or ask the writer.")
    order = lock_open_order(shop, order_id)
    grounds = findings_of(order, findings or [])
    if not share_findings:
        refuse_billed_twice(grounds)
    # A title is the shop's own words from then on, as if typed; a cause is said by each paper in its reader's language.
    title = title.strip() or title_from(grounds, words(paper_language(shop)))
    if not title:
        raise Refused("title", "The job has no title and no finding.", "Say in a line what is to be done.")
    refuse_forbidden(order.unit, Work("title", title))
    last = Job.objects.for_shop(shop).filter(order=order).aggregate(last=Max("number"))["last"] or 0
    job: Job = Job.objects.create(
        shop=shop,
        order=order,
        number=last + 1,
        title=title[:400],
        complaint=complaint,
        cause=cause or cause_from(grounds),
        why_now=why_now,
        if_not=if_not,
        payer=payer,
    )
    job.findings.set(grounds)
    for index, line in enumerate(labour or []):
        _naming(f"labour[{index}]", add_labour_line, job=job, **line)
    for index, line in enumerate(parts or []):
        _naming(f"parts[{index}]", add_part_line, job=job, **line)
    both = {"share_findings": [row.number for row in grounds]} if share_findings and grounds else {}
    record_event(shop=shop, subject=job.subject, verb="proposed", words=job.title, facts=both, by=by)
    return job


def _naming(path: str, add: Any, **given: Any) -> None:
    """Adds a line; a refusal names where in the request it stood."""
    try:
        add(**given)
    except Refused as refusal:
        renamed = [Problem(f"{path}.{one.field}", one.problem, one.remedy) for one in refusal.problems]
        raise type(refusal)(problems=renamed) from refusal


def findings_of(order: RepairOrder, ids: list[UUID]) -> list[Finding]:
    """The findings of this order, in their order. Refused when unknown or of another order."""
    rows = {row.pk: row for row in Finding.objects.for_shop(order.shop_id).filter(pk__in=ids)}
    for at, one in enumerate(ids):
        field = f"findings[{at}]"
        if one not in rows:
            raise Refused(field, "No such finding in your shop.", "Use the id of a finding of this order.")
        if rows[one].order_id != order.pk:
            raise Refused(field, f"Finding {rows[one].number} belongs to another order.", "Use this order's findings.")
        if one in ids[:at]:
            raise Refused(field, f"Finding {rows[one].number} is named twice.", "Name each finding once.")
    return sorted(rows.values(), key=lambda row: row.number)


def title_from(findings: list[Finding], say: Say) -> str:
    """'fuel line: cracked; air filter: blocked', out of the findings."""
    said = (
        f"{say(trade.component(row.component).name)}: {say(trade.condition(row.condition).name)}" for row in findings
    )
    return "; ".join(said)


def cause_from(findings: list[Finding]) -> str:
    """The causes that the findings name; an unknown one is not said."""
    named = dict.fromkeys(row.cause for row in findings if row.cause != "unknown")
    return "; ".join(trade.cause(code).name for code in named)


def known_payer(payer: str) -> str:
    if payer not in PAYERS:
        raise Refused("payer", f"'{payer[:40]}' is not a payer.", f"Choose one of: {', '.join(PAYERS)}.")
    return payer


def payer_by_hand(payer: str) -> str:
    """A payer that a person may simply say. A warranty pays only on a ground, which `set_payer_basis` brings."""
    if known_payer(payer) == Job.Payer.WARRANTY:
        raise Refused(
            "payer",
            "A warranty pays only where a decision says so.",
            "Ask for the order's coverage decisions, then send the one that holds to jobs/{id}/basis/.",
        )
    return payer


def check_charges(shop: Shop, changes: dict[str, Any]) -> None:
    """Refuses a discount beyond 100 % or below zero, and hours that are no tenths."""
    refuse_card_numbers(discount_words=changes.get("discount_words"))
    if changes.get("discount_percent") is not None:
        amounts.percent(changes["discount_percent"])
    if changes.get("discount_amount") is not None:
        amounts.figure(changes["discount_amount"], "discount_amount", decimals=shop.currency_decimals)
    if changes.get("allowed_hours") is not None:
        amounts.figure(changes["allowed_hours"], "allowed_hours", decimals=1, most=Decimal(100))


@transaction.atomic
def change_job(*, shop: Shop, by: Staff, job_id: UUID, version: int, changes: dict[str, Any]) -> Job:
    """Changes title, complaint, cause, correction, reasons or payer of a job that was read at `version`.

    Who pays is the counter's to say. A payer that moves to the customer, and words other than those that the customer
    agreed to, need a new version of the estimate; the correction says what was done and is always the bench's to write.
    """
    allowed = {"title", "complaint", "cause", "correction", "why_now", "if_not", "payer", *CHARGES}
    if not changes or not set(changes) <= allowed:
        job = given_in_address(Job, shop=shop, pk=job_id)
        remedy = f"Send at least one of: {', '.join(sorted(allowed))}."
        refuse_no_change(job, version=version, fields=sorted(allowed), remedy=remedy)
    theirs = sorted({"title", "payer", *CHARGES} & set(changes))
    if theirs and not COUNTER & set(by.roles):
        raise NotYours(theirs[0], "Title, payer and charges are the counter's.", "Ask the writer.")
    check_charges(shop, changes)
    job = lock_job(shop, job_id)
    refuse_ended(job)
    refuse_forbidden(
        job.order.unit, *(Work(name, changes[name]) for name in ("title", "correction") if name in changes)
    )
    before = job.payer
    changes = dict(changes)
    if "payer" in changes and changes["payer"] != before:
        payer_by_hand(changes["payer"])
        # The old ground speaks of the old payer.
        changes |= {"basis_kind": "", "basis_id": "", "basis_words": "", "basis_hash": "", "shares": [], "payer_of": {}}
    saved: Job = save_changes(job, version=version, changes=changes)
    if saved.discount_percent is not None and saved.discount_amount is not None:
        raise Refused("discount_amount", "A discount is either a percentage or an amount.", "Give one of the two.")
    refuse_below_nothing(saved)
    said = saved.state != Job.State.DECLINED and {"title", "complaint", "cause", "why_now", "if_not"} & set(changes)
    if saved.payer != before or said or set(CHARGES) & set(changes):
        settle(saved)
    words = f"payer {before} -> {saved.payer}" if saved.payer != before else ", ".join(sorted(set(changes) & allowed))
    record_event(shop=shop, subject=saved.subject, verb="changed", words=words, by=by)
    return saved


@transaction.atomic
def set_payer_basis(
    *, job: Job, kind: str, id: str, words: str, hash: str, payer: str = "warranty", by: Staff | None = None
) -> Job:
    """Says on what ground somebody else pays for the job; warranty calls it, orders only prints it.

    `id` and `hash` are opaque. With payer 'customer' the ground is taken away again, and the job needs a new answer
    unless the customer has agreed to pay it.
    """
    fresh = lock_job(job.shop, job.pk)
    refuse_ended(fresh)
    lengths = {"kind": (kind, 40), "id": (id, 80), "words": (words, 500), "hash": (hash, 64)}
    for field, (text, most) in lengths.items():
        if len(text) > most:
            raise Refused(field, f"This is longer than {most} characters.", "Shorten it.")
    basis = {"basis_kind": kind, "basis_id": id, "basis_words": words, "basis_hash": hash}
    changes: dict[str, Any] = {"payer": known_payer(payer), **basis}
    if payer == Job.Payer.CUSTOMER:
        changes = {"payer": payer, **dict.fromkeys(basis, "")}
    if payer != fresh.payer:  # the shares were agreed beside the old payer
        changes |= {"shares": [], "payer_of": {}}
    saved: Job = save_changes(fresh, version=fresh.version, changes=changes)
    refuse_below_nothing(saved)  # another payer has another rate
    settle(saved)
    record_event(
        shop=job.shop,
        subject=saved.subject,
        verb="payer set",
        words=f"{payer}: {words}"[:500],
        by=by,
        facts={"kind": kind, "id": id, "hash": hash},
    )
    return saved


@transaction.atomic
def propose_again(*, shop: Shop, by: Staff, job_id: UUID, share_findings: bool = False) -> Job:
    """Puts a declined job before the customer again, in the next version of the estimate.

    Conflict when a finding of it stands in another job by now, unless `share_findings` says that both are needed.
    """
    job = lock_job(shop, job_id)
    if job.state != Job.State.DECLINED:
        raise Conflict(
            "job", f"Job {job.number} is {job.get_state_display()}.", "Only a declined job is proposed again."
        )
    if not share_findings:
        refuse_billed_twice(list(job.findings.order_by("number")))
    saved: Job = save_changes(job, version=job.version, changes={"state": str(Job.State.PROPOSED)})
    both = {"share_findings": True} if share_findings else {}
    record_event(shop=shop, subject=saved.subject, verb="proposed again", facts=both, by=by)
    return saved
