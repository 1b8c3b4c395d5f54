"""What the customer authorised beside what it comes to now, by the laws that bind, and by the shop's own rule.

A law binds only for its goods and customers: a crew's or a rental machine is no household's. The shop's own rule always
holds. With an own rule of 0 percent every change beyond what was agreed asks again, whatever a law would allow.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from orders.models import Job, RepairOrder
from orders.rules.authorisation import (
    OWN_RULE,
    Allowance,
    Asked,
    EstimateLaw,
    Promise,
    Sums,
    Verdict,
    consent_needed,
    describe,
    may_charge,
)
from shopdocs.documents.press.words import words
from shopdocs.rest.refusals import Conflict, Problem
from shopdocs.shops.models import Shop

from . import frozen
from .agreement import tax_words
from .amounts import currency_of
from .as_done import as_done, bound_supplies
from .binding_laws import asked_of, law_notes, laws_of, not_looked_up
from .labour_agreed import agreed_jobs, freeze_set_now
from .payments import own_invoice
from .priced import price, said
from .rate_changes import taxed_anew
from .scope import CUSTOMER, exceeds

Facts = dict[str, Any]
COUNTED = (str(Job.State.PROPOSED), str(Job.State.AGREED), str(Job.State.DONE))
OF_THE_JOB = ("labour", "labour_set", "parts", "fees", "discounts", "payer", "shares", "payer_of")


@dataclass(frozen=True, slots=True)
class Compared:
    """Both sums with the verdict on them; `changed`: what goes beyond what was agreed, in words, by job number.

    `promises`: what was said of each of these jobs beside what it comes to. `asked`: what the customer said about an
    estimate; `notes`: what the staff is to know of the laws.
    """

    estimate: Sums
    bill: Sums
    laws: tuple[EstimateLaw, ...]
    own: Allowance
    verdict: Verdict
    changed: tuple[tuple[int, str], ...]
    promises: tuple[Promise, ...]
    asked: Asked
    notes: tuple[str, ...]


def own_rule(order: RepairOrder) -> Allowance:
    """The shop's own rule; not a cent over what was agreed where no law could be looked up."""
    return Allowance() if not_looked_up(order) else Allowance(percent=Decimal(order.shop.own_overrun_percent))


def promised(order: RepairOrder, priced: Facts) -> Allowance:
    """What may be said of each job: the shop's own rule, or the share that a binding law allows where that is less.

    `priced`: the version's `jobs` and `customer_total`. A law counts where it speaks of anything that some of these jobs may
    come to by the shop's own rule; beside work that is done already, whatever they come to.
    """
    own = own_rule(order)
    laws = [law for law in laws_of(order) if law.over]
    if not Job.objects.for_shop(order.shop).filter(order=order, state=Job.State.DONE).exists():
        least = min(Decimal(job["customer_pays"]) for job in priced["jobs"])
        most = own.limit(Decimal(priced["customer_total"]), currency_of(order.shop))
        laws = [law for law in laws if law.speaks_between(least, most)]
    return Allowance(percent=min([own.percent, *(law.over.percent for law in laws if law.over)]))


def own_words(order: RepairOrder) -> str:
    """What decides where it is the shop's own rule."""
    unknown = not_looked_up(order)
    return f"no more than was agreed, because {unknown}" if unknown else OWN_RULE


def as_it_is_now(job: Job, agreed: Facts) -> Facts:
    """The job at what is on it now, with the rates that were agreed for what was on it then."""
    shop = job.shop
    agreed_rates = {line.get("skill", ""): Decimal(line["rate"]) for line in reversed(agreed["labour"])}
    today = frozen.rates_on(shop, job.shop.today())

    def rate_of(payer: str, skill: str) -> Decimal:
        return agreed_rates[skill] if skill in agreed_rates else today(payer, skill)

    now = frozen.job_facts(job, rate_of, shop.currency_decimals, words(shop.language))
    freeze_set_now(job, now, agreed)
    return {**agreed, **{name: now[name] for name in now if name in OF_THE_JOB}}


def compare(order: RepairOrder) -> Compared:
    """The customer's share of every job they agreed to, as agreed and as it is now, and whether it may be charged."""
    shop = order.shop
    rows = agreed_jobs(frozen.jobs_of(order, COUNTED))
    changed: list[tuple[int, str]] = []
    grown: dict[Any, Facts] = {}
    for row in rows:
        more = exceeds(row.job, row.facts)
        if more and (row.job.state != Job.State.DONE or shop.own_overrun_percent):
            changed.append((row.job.number, more))
            grown[row.job.pk] = as_it_is_now(row.job, row.facts)
    # terms, as agreed, as it would be billed
    pairs = [(row.terms, row.facts, done) for row, done in zip(rows, as_done(rows, grown), strict=True)]
    laws, own = laws_of(order), own_rule(order)
    rates = frozen.rate_facts(shop, _day_of_sale(order))
    anew = [(taxed_anew(terms, rates), *sides) for terms, *sides in pairs]
    bill, asked = _sums(shop, anew, 2)
    agreed, told = _sums(shop, pairs, 1)
    estimate = replace(agreed, anew=_sums(shop, anew, 1)[0].total)
    promises = tuple(
        _promise(row.terms, row.facts, told[at], asked[at]) for at, row in enumerate(rows) if row.job.pk in grown
    )
    verdict = may_charge(
        estimate, bill, laws=laws, own=own, currency=currency_of(shop), own_words=own_words(order), promises=promises
    )
    notes = tuple(law_notes(order, estimate.total if pairs else None))
    return Compared(estimate, bill, laws, own, verdict, tuple(changed), promises, asked_of(order), notes)


def _promise(terms: Facts, agreed: Facts, told: Decimal, asked: Decimal) -> Promise:
    """What the customer read of their part of a job, as they chose, and what it comes to.

    Facts that are older name the agreed amount alone.
    """
    most = Decimal(agreed.get("customer_most") or agreed["customer_pays"])
    return Promise(agreed["number"], told, asked, max(most, told), tax_words(terms))


def _day_of_sale(order: RepairOrder) -> dt.date:
    """The day of the order's invoice, or today while there is none."""
    invoice = own_invoice(order)
    return order.shop.today() if invoice is None else invoice.issued_on


def _sums(shop: Shop, pairs: Sequence[tuple[Facts, ...]], side: int) -> tuple[Sums, list[Decimal]]:
    """The customer's sum over jobs, each priced with the terms beside it, and their part of each job before tax."""
    groups: dict[str, tuple[Facts, list[Facts]]] = {}
    copies = [(row[0], json.loads(json.dumps(row[side]))) for row in pairs]  # pricing writes into what it is given
    bound_supplies(copies)
    for terms, job in copies:
        mark = [terms["rates"], terms["money"], terms["customer"]["tax_exempt"], terms.get("pricing")]
        groups.setdefault(json.dumps(mark, sort_keys=True), (terms, []))[1].append(job)
    zero = Decimal(0).scaleb(-shop.currency_decimals)
    net, total = zero, zero
    for terms, jobs in groups.values():
        done = price(
            jobs,
            terms["rates"],
            terms["money"],
            exempt=terms["customer"]["tax_exempt"],
            on=dt.date.fromisoformat(terms["issued_on"]),
            terms=terms.get("pricing"),
        )
        net += Decimal(done["customer_net"])
        total += Decimal(done["customer_total"])
    return Sums(net, total), [Decimal(job["customer_pays"]) for _, job in copies]


def tolerated(job: Job, agreed: Facts) -> bool:
    """Whether what is now on an agreed job may be charged without asking again: within the shop's own rule and every law.

    Never when the bill moves to the customer.
    """
    if not job.shop.own_overrun_percent or (job.payer == CUSTOMER and agreed["payer"] != CUSTOMER):
        return False
    return compare(job.order).verdict.allowed


def shown(compared: Compared) -> Facts:
    """The comparison for an answer: both sums, the laws with their sources, the limits that were tried, what to do."""
    allowed = compared.verdict.allowed
    return {
        "authorised": {"net": f"{compared.estimate.net:f}", "total": f"{compared.estimate.total:f}"},
        "now": {"net": f"{compared.bill.net:f}", "total": f"{compared.bill.total:f}"},
        "allowed": allowed,
        "decided_by": compared.verdict.decided_by,
        "remedy": consent_needed(compared.verdict),
        "own_rule": f"{describe(compared.own)}, of the order and of each job",
        "laws": [
            {
                "law": law.key,
                "binds": law.binds,
                "source": law.source,
                "address": law.address,
                "note": _note(law, compared.asked),
            }
            for law in compared.laws
        ],
        "steps": [
            {"text": step.text, "amount": None if step.amount is None else f"{step.amount:f}"}
            for step in compared.verdict.steps
        ],
        "changed": [
            {"job": number, "what": what, "agreed": said(one.agreed), "now": said(one.asked), "most": said(one.most)}
            for (number, what), one in zip(compared.changed, compared.promises, strict=True)
        ],
        "notes": list(compared.notes),
    }


def _note(law: EstimateLaw, asked: Asked) -> str:
    """What is to be known of the law, also what was recorded of the customer's wish where it binds on request."""
    wish = ""
    if law.request and asked == Asked.NOT_RECORDED:
        wish = "it binds where the customer asks for a written estimate, and is applied as if they had"
    elif law.request and asked == Asked.IN_WRITING:
        wish = "the customer asked for a written estimate"
    elif law.request:
        wish = "the customer asked for no written estimate; it limits the bill because one was given"
    return "; ".join(part for part in (law.note, wish) if part)


def beyond(order: RepairOrder) -> tuple[list[Problem], Facts]:
    """One problem for each changed job that may not be charged as it is, and the comparison; no problem: ([], {})."""
    compared = compare(order)
    if compared.verdict.allowed or not compared.changed:
        return [], {}
    remedy = consent_needed(compared.verdict)
    problems = [
        Problem("jobs", f"Job {number} goes beyond what the customer agreed to: {what}.", remedy)
        for number, what in compared.changed
    ]
    return problems, shown(compared)


def refuse_beyond(order: RepairOrder) -> None:
    """Conflict, with the law and the steps, when the order has come to more than may be charged."""
    problems, comparison = beyond(order)
    if problems:
        conflict = Conflict(problems=problems)
        conflict.extra = {"authorisation": comparison}
        raise conflict
