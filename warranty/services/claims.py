"""Claims: what would be asked, and asking it. Only a finished job that warranty pays for can be claimed."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import IntegrityError, transaction

from orders.models import Distributor, Job
from orders.services.reach import lock_order
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.press.values import day_words
from shopdocs.documents.press.words import words
from shopdocs.documents.services.letters import request_letter
from shopdocs.documents.services.papers import request_document
from shopdocs.money import format_money
from shopdocs.rest.refusals import Conflict, Missing
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import next_number, record_event
from warranty.models import Claim, CoverageDecision, TurnOver

from .claim_facts import claim_facts, distributor_of, maker_of, repaired_day
from .claim_how import currency_told
from .evidence import enclosed_proofs
from .kinds import CLAIM
from .lookups import mine
from .papers import TITLE, claim_sheet
from .parts_holds import hold_failed_parts
from .repairs import BASIS
from .standing import standing_decision


def job_to_claim(*, shop: Shop, pk: UUID | str, lock: bool = False) -> Job:
    """The job with everything that a claim reads; raises Missing."""
    rows = Job.objects.for_shop(shop).filter(pk=pk)
    if lock:
        rows.select_for_update(of=("self",)).first()
    found: Job | None = (
        rows.select_related(
            "shop", "order__customer", "order__reading", "order__unit__model__maker__distributor", "finished_by"
        )
        .prefetch_related(
            "findings__assembly__distributor", "findings__assembly__maker__distributor", "labour__operation",
            "parts__part", "time_entries__technician", "order__unit__assemblies__maker__distributor",
            "order__unit__assemblies__distributor", "order__unit__proofs__photo__original", "order__unit__proofs__photo__by",
        )
        .first()
    )  # fmt: skip
    if found is None:
        raise Missing("", "No such job in your shop.", "Check the id.")
    return found


def decision_of(job: Job) -> CoverageDecision:
    """The newest decision that carries what the job's payer was set by; raises Conflict when the job cannot be claimed."""
    if job.state != Job.State.DONE or job.finished_at is None:
        raise Conflict(
            "job",
            f"Job {job.number} is {job.get_state_display()}, not done.",
            "Finish the repair, then file the claim.",
        )
    if job.payer != Job.Payer.WARRANTY:
        raise Conflict(
            "job", f"Job {job.number} is paid by {job.get_payer_display()}.",
            "Only a job that warranty pays for is claimed: set its basis from a coverage decision first.",
        )  # fmt: skip
    rows = CoverageDecision.objects.for_shop(job.shop).select_related(
        "finding__assembly__distributor", "finding__assembly__maker__distributor"
    )
    decision: CoverageDecision | None = rows.filter(pk=job.basis_id).first() if job.basis_kind == BASIS else None
    if decision is None:
        remedy = "Decide the findings of the order, then set the job's basis from the decision."
        raise Conflict("job", f"Job {job.number} names no coverage decision.", remedy)
    if decision.sha256 != job.basis_hash:
        remedy = "Set the job's basis from the decision again."
        raise Conflict("job", f"The decision that job {job.number} names is not the one it was set from.", remedy)
    return standing_decision(job, decision)


def _nothing_filed(job: Job) -> None:
    other = Claim.objects.for_shop(job.shop).filter(job=job).exclude(state=Claim.State.CLOSED).first()
    if other is not None:
        remedy = "Record the distributor's answer there, or close it with a note before filing again."
        raise Conflict("job", f"Claim {other.number} for this job is {other.get_state_display()}.", remedy)
    asked = TurnOver.objects.for_shop(job.shop).filter(claim__job=job, to=TurnOver.To.CUSTOMER).first()
    if asked is not None:
        problem = "What the distributor refused was turned over to the customer: nobody pays for one job twice."
        raise Conflict("job", problem, "Write the customer a credit note first, and file outside of this book.")


def preview_claim(*, job: Job, distributor: Distributor | None = None, approval: str = "") -> dict[str, Any]:
    """What would be asked if the claim were filed today. Writes nothing. Raises Conflict as filing would."""
    decision = decision_of(job)
    to = distributor or distributor_of(job, decision.finding)
    return claim_facts(job=job, decision=decision, distributor=to, filed_on=job.shop.today(), approval=approval)


@transaction.atomic
def file_claim(
    *,
    shop: Shop,
    by: Staff,
    job: UUID | str,
    distributor: UUID | None = None,
    approval: str = "",
    filed_on: dt.date | None = None,
) -> Claim:
    """Files the claim: freezes what is asked, keeps the failed parts, requests the paper and the letter.

    `filed_on` is today unless a claim is entered afterwards; never ahead. Without a claims address no letter is made.
    """
    row = job_to_claim(shop=shop, pk=job, lock=True)
    lock_order(shop, row.order_id)  # claims of one order leave out what the others ask for: one at a time
    decision = decision_of(row)
    _nothing_filed(row)
    _may_claim(row, decision, approval)
    to = mine(shop, Distributor, distributor, "distributor") if distributor else distributor_of(row, decision.finding)
    day = filed_on or shop.today()
    _filed_day(shop, row, day)
    facts = claim_facts(job=row, decision=decision, distributor=to, filed_on=day, approval=approval)
    claim = _record(shop, by, row, decision, to, facts)
    holds = hold_failed_parts(claim=claim, facts=facts)
    facts["holds"] = [{"tag": hold.tag, "words": hold.words, "keep_until": _iso(hold.keep_until)} for hold in holds]
    facts["causal"]["held_as"] = holds[0].tag if holds and facts["causal"]["part"] else ""
    _send(shop, by, claim, facts)
    record_event(
        shop=shop, subject=claim.subject, verb="filed", by=by, words=f"{claim.number} to {to.name}",
        facts={"job": str(row.pk), "expected": facts["expected"], "deadline": facts["deadline"]["day"], "late": claim.late},
    )  # fmt: skip
    return claim


def _may_claim(job: Job, decision: CoverageDecision, approval: str) -> None:
    """A shop that a maker has not authorised claims only with an approval."""
    maker = maker_of(job, decision.finding)
    if maker.authorised is False and not approval.strip():
        raise Conflict(
            "approval", f"This shop is not authorised by {maker.name}: a claim is paid only where that was agreed before.",
            "Enter the approval that was given, or send the owner to an authorised centre.",
        )  # fmt: skip


def _iso(day: dt.date | None) -> str | None:
    return day.isoformat() if day else None


def _filed_day(shop: Shop, job: Job, day: dt.date) -> None:
    if day > shop.today():
        raise Conflict("filed_on", f"{day} has not come yet.", "Leave the day out to file today.")
    if day < repaired_day(job):
        raise Conflict(
            "filed_on", f"{day} lies before the repair was finished ({repaired_day(job)}).", "Correct the day."
        )


def _record(
    shop: Shop, by: Staff, job: Job, decision: CoverageDecision, to: Distributor, facts: dict[str, Any]
) -> Claim:
    deadline = facts["deadline"]

    def number(value: str | None) -> Decimal | None:
        return None if value is None else Decimal(value)

    def day(value: str | None) -> dt.date | None:
        return dt.date.fromisoformat(value) if value else None

    repaired, filed = (dt.date.fromisoformat(facts[name]) for name in ("repaired_on", "filed_on"))
    try:
        with transaction.atomic():
            claim: Claim = Claim.objects.create(
                shop=shop, by=by.user, number=next_number(shop=shop, series="claim"), job=job, decision=decision,
                distributor=to, repaired_on=repaired, filed_on=filed,
                deadline=day(deadline["day"]), late=deadline["late"], answer_due=day(deadline["answer_due"]),
                approval=facts["approval"], facts={}, labour_expected=number(facts["labour"]["amount"]),
                parts_expected=number(facts["parts"]["amount"]), expected=number(facts["expected"]),
            )  # fmt: skip
    except IntegrityError as error:
        remedy = "Open that claim instead."
        raise Conflict("job", "Somebody else filed a claim for this job in the same moment.", remedy) from error
    return claim


def _send(shop: Shop, by: Staff, claim: Claim, facts: dict[str, Any]) -> None:
    """Freezes the facts, then requests paper and letter from them alone."""
    facts["number"] = claim.number
    facts["declared_by"] = by.user.shown_name
    sheet = claim_sheet(facts, number=claim.number, code=f"{settings.PUBLIC_URL}/api/v1/claims/{claim.pk}/")
    enclosed = enclosed_proofs(claim.job)
    facts["enclosed"] = [proof.get_kind_display() for proof in enclosed]
    claim.facts = facts
    claim.document = request_document(
        shop=shop, kind=CLAIM, subject=claim.subject, number=claim.number, title=TITLE, sheet=to_json(sheet), by=by
    )
    to = facts["distributor"]
    if to["claims_email"]:
        claim.letter = request_letter(
            shop=shop, kind=CLAIM, subject=claim.subject, to_address=to["claims_email"], to_name=to["name"],
            heading=f"{words(facts['shop']['language'])(TITLE)} {claim.number}: {facts['unit']['maker']} {facts['unit']['model']}",
            body=letter_words(facts), documents=[claim.document], by=by,
            enclosures=[proof.photo.original for proof in enclosed if proof.photo is not None],
        )  # fmt: skip
    claim.save(update_fields=["facts", "document", "letter"])


def letter_words(facts: dict[str, Any]) -> str:
    """The letter to the distributor, from the frozen facts, in the language of the claim's paper."""
    unit, shop = facts["unit"], facts["shop"]
    say = words(shop["language"])
    serial = unit["serial"] or f"{say('no serial number')} ({unit['serial_note']})"
    finished = day_words(dt.date.fromisoformat(facts["repaired_on"]), say)
    lines = [
        say("Hello {name},").format(name=facts["distributor"]["name"]),
        "",
        say("Please find attached our claim {number} for a repair under warranty.").format(number=facts["number"]),
        "",
        f"{say('Machine')}: {unit['maker']} {unit['model']}, {say('serial')} {serial}",
        say("Repair order: {order}, job {job}, finished {day}").format(
            order=facts["order"]["number"], job=facts["job"]["number"], day=finished
        ),
        f"{say('Part that failed first')}: {facts['causal']['what']}",
        f"{say('Our account with you')}: {facts['distributor']['account'] or say('not known')}",
        f"{say('Amount expected')}: {_money(facts) or say('not known')}",
    ]
    if facts["approval"]:
        lines.append(f"{say('Your approval before work')}: {facts['approval']}")
    if facts["deadline"]["late"]:
        lines.append(f"{facts['deadline']['late_words']} {say('We ask you to consider it nevertheless.')}")
    if facts["enclosed"]:
        lines.append(f"{say('Enclosed as it came in')}: {', '.join(map(say, facts['enclosed']))}")
    kept = say("Failed part kept under tag {tag}")
    lines += [f"{kept.format(tag=hold['tag'])}: {hold['words']}" for hold in facts["holds"]]
    return "\n".join([*lines, "", facts["declared_by"], shop["name"], *shop["address"], shop["phone"]]).rstrip() + "\n"


def _money(facts: dict[str, Any]) -> str:
    return format_money(Decimal(facts["expected"]), currency_told(facts)) if facts["expected"] is not None else ""
