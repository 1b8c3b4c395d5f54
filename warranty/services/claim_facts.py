"""Everything a claim says, gathered once into plain JSON: the claim, its paper and its letter are made from it alone."""

from __future__ import annotations

import datetime as dt
from typing import Any

from orders.models import Distributor, Finding, Job, Maker
from orders.services.wording import paper_language, paper_units
from shopdocs.documents.press.values import sentence
from shopdocs.documents.press.words import Say, Words, words
from shopdocs.money import plain
from shopdocs.periods import add_days, deadline
from shopdocs.rest.refusals import Conflict
from warranty.models import CoverageDecision, DistributorTerms

from .claim_beside import asked_before
from .claim_money import Expected, expected_money, price_words
from .claim_records import (
    assembly_facts,
    causal_facts,
    distributor_facts,
    finding_as_claimed,
    iso,
    price,
    purchase_facts,
    shop_facts,
    text,
    unit_as_claimed,
)
from .decision_words import decision_facts, spoken, term_pays
from .distributor_terms import terms_on
from .evidence import Lack, claim_photos, job_findings, missing_for_claim
from .lookups import currency_of


def declaration(say: Say) -> list[str]:
    """What whoever files the claim signs for."""
    return [
        say("The work was done and the parts listed here were fitted as stated."),
        say("The failed parts are kept, tagged, until they are released, where any are named above."),
        say("The coverage answer is the shop's reading of the terms; the maker or distributor decides."),
    ]


def repaired_day(job: Job) -> dt.date:
    """The shop's calendar day on which the job was finished."""
    assert job.finished_at is not None
    return job.shop.local(job.finished_at).date()


def distributor_of(job: Job, finding: Finding | None) -> Distributor:
    """Who receives the claim: the assembly's distributor, else the assembly maker's, else the machine maker's."""
    assembly = finding.assembly if finding else None
    if assembly is not None and assembly.distributor is not None:
        return assembly.distributor
    maker = maker_of(job, finding)
    if maker.distributor is None:
        raise Conflict(
            "distributor", f"No distributor is recorded for {maker.name}.",
            "Record the maker's distributor, or name the distributor in this request.",
        )  # fmt: skip
    return maker.distributor


def maker_of(job: Job, finding: Finding | None) -> Maker:
    """Whose promise it is, as far as records go: the assembly's maker, else the machine's."""
    assembly = finding.assembly if finding else None
    return assembly.maker if assembly is not None and assembly.maker is not None else job.order.unit.model.maker


def _approval(job: Job, decision: CoverageDecision, approval: str) -> list[Lack]:
    maker = maker_of(job, decision.finding)
    if maker.authorised is False and not approval:
        told = f"This shop is not authorised by {maker.name}, and no approval is given."
        return [Lack("authorisation", told, "Enter the approval that was given: without one the claim is not filed.")]
    if not maker.approval_before_work or approval:
        return []
    told = f"{maker.name} asks for approval before work, and none is given."
    return [Lack("approval", told, "Enter the approval that was given, or ask for it now.")]


def claim_facts(
    *, job: Job, decision: CoverageDecision, distributor: Distributor, filed_on: dt.date, approval: str = ""
) -> dict[str, Any]:
    """The claim as it would be filed on that day, in the words and units of its reader. Reads records only; writes nothing."""
    order, day = job.order, repaired_day(job)
    say, units = words(paper_language(job.shop, distributor)), paper_units(job.shop, distributor)
    terms = terms_on(distributor=distributor, day=day)
    money = expected_money(
        job=job, terms=terms, currency=currency_of(job.shop), say=say, pays=term_pays(decision),
        asked=asked_before(job, distributor),
    )  # fmt: skip
    findings = job_findings(job)
    return {
        "shop": shop_facts(job.shop, distributor),
        "filed_on": iso(filed_on),
        "order": {"id": str(order.pk), "number": order.number, "received_on": iso(order.received_on)},
        "job": _job(job, say),
        "owner": {"name": order.customer.name, "lines": order.customer.address_lines()},
        "distributor": distributor_facts(distributor, terms),
        "approval": approval,
        "approval_before_work": maker_of(job, decision.finding).approval_before_work,
        "unit": unit_as_claimed(job, say),
        "assemblies": [assembly_facts(one, say) for one in order.unit.assemblies.all()],
        "purchase": purchase_facts(job, say),
        # The day it was brought in stands for the failure: common practice, no source.
        "failed_on": iso(order.received_on),
        "repaired_on": iso(day),
        "findings": [finding_as_claimed(one, say, units) for one in findings],
        "causal": causal_facts(job, findings, decision, say, units),
        "decision": decision_facts(decision, say),
        "terms": _terms(terms, job.shop.currency_decimals, say),
        "deadline": _deadline(day, terms, filed_on, say),
        **_money(money, terms, job.shop.currency_decimals),
        "missing": [vars(lack) for lack in (*missing_for_claim(job=job), *_approval(job, decision, approval))],
        "photos": claim_photos(job, say),
        "declaration": declaration(say),
    }


def _job(job: Job, say: Say) -> dict[str, Any]:
    return {
        "id": str(job.pk), "number": job.number, "title": job.title, "complaint": job.complaint or job.order.complaint,
        "cause": sentence("; ".join(say(part) for part in job.cause.split("; "))), "correction": job.correction,
        "finished_by": job.finished_by.shown_name if job.finished_by else "",
        "basis": {"kind": job.basis_kind, "id": job.basis_id, "words": job.basis_words, "hash": job.basis_hash},
    }  # fmt: skip


def _terms(terms: DistributorTerms | None, decimals: int, say: Say) -> dict[str, Any] | None:
    if terms is None:
        return None
    return {
        "id": str(terms.pk), "starts_on": iso(terms.starts_on), "labour_rate": price(terms.labour_rate, decimals),
        "time_basis": say(terms.get_time_basis_display()), "parts_percent": text(terms.parts_percent),
        "parts_base": terms.parts_base, "filing_days": terms.filing_days, "parts_hold_days": terms.parts_hold_days,
        "answer_days": terms.answer_days, "diagnosis_limit": text(terms.diagnosis_limit), "source": terms.source,
    }  # fmt: skip


def _deadline(day: dt.date, terms: DistributorTerms | None, filed_on: dt.date, say: Words) -> dict[str, Any]:
    due = add_days(filed_on, terms.answer_days) if terms and terms.answer_days is not None else None
    if terms is None or terms.filing_days is None:
        unknown = "not known: the distributor's filing time is not recorded"
        return {"day": None, "words": unknown, "late": False, "late_words": "", "answer_due": iso(due)}
    counted = deadline(day, terms.filing_days)
    late = filed_on > counted.last
    days = (filed_on - counted.last).days
    past = say.counted(
        "Filed {days} day after the last day, {last}.", "Filed {days} days after the last day, {last}.", days
    )
    said = past.format(days=days, last=spoken(counted.last, say)) if late else ""
    return {"day": iso(counted.last), "words": counted.words, "late": late, "late_words": said, "answer_due": iso(due)}


def _times(money: Expected) -> dict[str, Any]:
    """Guide time, what the distributor allows and the clock, in hours, None where not known; and what that says."""
    three = money.times
    hours = {name: text(getattr(three, name)) for name in ("guide", "allowed", "clocked")}
    return {**hours, "remarks": list(three.remarks)}


def _money(money: Expected, terms: DistributorTerms | None, decimals: int) -> dict[str, Any]:
    return {
        "labour": {
            "lines": [vars(line) for line in money.labour], "tenths": money.tenths,
            "amount": text(money.labour_amount), "rate": price(terms.labour_rate, decimals) if terms else None,
            "left_out": money.left_out,
        },
        "labour_set": money.work,
        "parts": {
            "lines": [
                {"id": p.id, "number": p.number, "words": p.words, "quantity": plain(p.quantity), "each": price(p.each, decimals),
                 "amount": text(p.amount), "causal": p.causal}
                for p in money.parts
            ],
            "basis": price_words(terms), "amount": text(money.parts_amount),
        },
        "promise": money.promise,
        "times": _times(money),
        "expected": text(money.total),
        "not_known": money.why_not,
        "figures": money.figures,
    }  # fmt: skip
