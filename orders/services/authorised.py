"""What the customer authorised beside what it comes to now, by the laws that bind, and by the shop's own rule.

A law binds only for its goods and customers: a crew's or a rental machine is no household's. The shop's own rule always
holds. With an own rule of 0 percent every change beyond what was agreed asks again, whatever a law would allow.
"""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from orders.models import Customer, Estimate, Job, RepairOrder
from orders.rules.authorisation import (
    OWN_RULE,
    Allowance,
    EstimateLaw,
    Goods,
    Sums,
    Verdict,
    consent_needed,
    describe,
    laws_for,
    laws_in,
    may_charge,
)
from orders.rules.legal_fields import wanted_by
from orders.rules.regions import region_code
from shopdocs.documents.press.words import Say, words
from shopdocs.money import plain
from shopdocs.rest.refusals import Conflict, Problem
from shopdocs.shops.models import Shop

from . import frozen
from .amounts import currency_of
from .as_done import as_done, bound_supplies
from .labour_agreed import put_time_now
from .priced import price
from .scope import CUSTOMER, exceeds, frozen_job, latest_answer

Facts = dict[str, Any]
COUNTED = (str(Job.State.PROPOSED), str(Job.State.AGREED), str(Job.State.DONE))
OF_THE_JOB = ("labour", "labour_time", "parts", "fees", "discounts", "payer", "shares", "payer_of")
OF_A_TRADE = ("commercial", "rental")
REGION_UNKNOWN = "the shop's region is not known, so that no state's law could be looked up"


@dataclass(frozen=True, slots=True)
class Compared:
    """Both sums with the verdict on them; `changed`: what goes beyond what was agreed, in words, by job number."""

    estimate: Sums
    bill: Sums
    laws: tuple[EstimateLaw, ...]
    own: Allowance
    verdict: Verdict
    changed: tuple[tuple[int, str], ...]


def of_a_household(order: RepairOrder) -> bool:
    """Whether the machine is in personal, family or household use, as far as the records say."""
    return order.customer.kind == Customer.Kind.HOUSEHOLD and order.unit.use_class not in OF_A_TRADE


def laws_of(order: RepairOrder) -> tuple[EstimateLaw, ...]:
    """The estimate laws of the shop's state that bind for this order."""
    shop = order.shop
    place = region_code(shop.region, shop.country) or ""
    return laws_for(place, Goods.OUTDOOR, household=of_a_household(order))


def not_looked_up(order: RepairOrder) -> str:
    """Why no law could be looked up where one of the shop's country might bind: its region is not known. '' otherwise."""
    shop = order.shop
    place = region_code(shop.region, shop.country) if shop.region.strip() else None
    if place is not None and "-" in place:
        return ""
    might_bind = laws_in(shop.country, Goods.OUTDOOR, household=of_a_household(order))
    return REGION_UNKNOWN if might_bind else ""


def own_rule(order: RepairOrder) -> Allowance:
    """The shop's own rule; not a cent over what was agreed where no law could be looked up."""
    return Allowance() if not_looked_up(order) else Allowance(percent=Decimal(order.shop.own_overrun_percent))


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
    put_time_now(job, now, agreed)
    return {**agreed, **{name: now[name] for name in now if name in OF_THE_JOB}}


def compare(order: RepairOrder) -> Compared:
    """The customer's share of every job they agreed to, as agreed and as it is now, and whether it may be charged."""
    shop = order.shop
    pairs: list[tuple[Facts, Facts, Facts]] = []  # terms, as agreed, as it would be billed
    changed: list[tuple[int, str]] = []
    for job in frozen.jobs_of(order, COUNTED):
        answer = latest_answer(job)
        agreed = frozen_job(answer.estimate.facts, job) if answer is not None and answer.accepted else None
        if answer is None or agreed is None:
            continue
        more = exceeds(job, agreed)
        if more and (job.state != Job.State.DONE or shop.own_overrun_percent):
            changed.append((job.number, more))
            pairs.append((answer.estimate.facts, agreed, as_done(job, as_it_is_now(job, agreed))))
        else:
            pairs.append((answer.estimate.facts, agreed, as_done(job, agreed)))
    laws, own = laws_of(order), own_rule(order)
    estimate, bill = _sums(shop, pairs, 1), _sums(shop, pairs, 2)
    verdict = may_charge(estimate, bill, laws=laws, own=own, currency=currency_of(shop), own_words=own_words(order))
    return Compared(estimate, bill, laws, own, verdict, tuple(changed))


def _sums(shop: Shop, pairs: list[tuple[Facts, Facts, Facts]], side: int) -> Sums:
    """The customer's sum over jobs, each priced with the terms under which it was agreed."""
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
    return Sums(net, total)


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
        "own_rule": describe(compared.own),
        "laws": [
            {"law": law.key, "binds": law.binds, "source": law.source, "address": law.address, "note": _note(law)}
            for law in compared.laws
        ],
        "steps": [
            {"text": step.text, "amount": None if step.amount is None else f"{step.amount:f}"}
            for step in compared.verdict.steps
        ],
        "changed": [{"job": number, "what": what} for number, what in compared.changed],
    }


def _note(law: EstimateLaw) -> str:
    """What is to be known of the law, also that nobody recorded whether the customer asked for what binds on request."""
    asked = (
        "it binds where the customer asks for a written estimate, and is applied as if they had" if law.request else ""
    )
    return "; ".join(part for part in (law.note, asked) if part)


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


def legal_fields(order: RepairOrder, facts: Facts, paper: str = "estimate") -> list[Facts]:
    """What each binding law wants on the paper, with what this estimate says to it ('' is to be filled in by hand)."""
    listed = []
    for law in laws_of(order):
        wanted = wanted_by(law.key)
        if wanted is None or paper not in wanted.papers:
            continue
        say = words(facts["shop"]["language"])
        fields = [
            {"name": one.name, "answer": one.answer, "value": _answer(one.answer, order, facts, say)}
            for one in wanted.fields
        ]
        limit = _limit(law.over, facts["money"]["symbol"], say) if law.over else ""
        listed.append(
            {
                "law": law.key,
                "binds": law.binds,
                "source": _cited(wanted.source, law.citation) if limit else wanted.source,
                "seen": wanted.confidence,
                "limit": limit,
                "limit_seen": law.source if limit else "",
                "fields": fields,
            }
        )
    return listed


def _cited(wanted: str, over: str) -> str:
    """Where both duties stand, each section once: the paper cites the law, and the record says how it was seen."""
    section = over.split(", as ")[0]
    return wanted if section.startswith(wanted) or wanted.startswith(section) else f"{wanted}; {section}"


def _limit(over: Allowance, symbol: str, say: Say) -> str:
    """'10 % over the estimate, at least $10', in the paper's words."""
    told = [say("{percent} % over the estimate").format(percent=plain(over.percent))]
    told += [say("at least {amount}").format(amount=symbol + plain(over.at_least))] if over.at_least is not None else []
    told += [say("at most {amount}").format(amount=symbol + plain(over.at_most))] if over.at_most is not None else []
    return ", ".join(told)


def order_legal_fields(order: RepairOrder, language: str) -> list[Facts]:
    """What each binding law wants on the repair order; the cost is the newest estimate's, or open before there is one."""
    shop = order.shop
    newest = Estimate.objects.for_shop(shop).filter(order=order).order_by("-edition").first()
    facts = newest.facts if newest is not None else _facts_at_first_contact(order, words(language))
    facts = {**facts, "issued_on": order.received_on.isoformat(), "shop": {**facts["shop"], "language": language}}
    return legal_fields(order, facts, "repair_order")


def _facts_at_first_contact(order: RepairOrder, say: Say) -> Facts:
    shop = order.shop
    return {
        "shop": frozen.shop_facts(shop, ""),
        "customer": frozen.customer_facts(order.customer),
        "unit": frozen.unit_facts(order.unit, order.reading, say),
        "request": order.complaint,
        "customer_total": "",
        "customer_tax": "",
        "money": frozen.money_facts(shop),
        "jobs": [],
    }


def _answer(name: str, order: RepairOrder, facts: Facts, say: Say) -> str:
    shop = order.shop
    per_day = shop.storage_per_day
    symbol, each = facts["money"]["symbol"], say("{amount}, line by line with each job")
    said: dict[str, str] = {
        "shop": ", ".join([facts["shop"]["name"], *facts["shop"]["address"]]),
        "customer": ", ".join([facts["customer"]["name"], *facts["customer"]["lines"]]),
        "total": facts["customer_total"],
        "tax": facts["customer_tax"],
        "request": facts["request"],
        "issued_on": facts["issued_on"],
        "received_on": order.received_on.isoformat(),
        "promised_on": order.promised_on.isoformat() if order.promised_on else "",
        "unit": " ".join(
            part for part in (facts["unit"]["maker"], facts["unit"]["model"], facts["unit"]["serial"]) if part
        ),
        "jobs": "; ".join(job["title"] for job in facts["jobs"]),
        "labour": each.format(amount=symbol + _sum_of(facts, "labour")),
        "parts": each.format(amount=symbol + _sum_of(facts, "parts")),
        "storage": say("none")
        if per_day is None or shop.storage_free_days is None
        else say("{amount} a day, {days} days after completion").format(
            amount=symbol + frozen.trimmed(per_day, shop.currency_decimals), days=shop.storage_free_days
        ),
    }
    return said.get(name, "")


def _sum_of(facts: Facts, kind: str) -> str:
    zero = Decimal(0).scaleb(-facts["money"]["decimals"])
    return f"{sum((Decimal(line['amount']) for job in facts['jobs'] for line in job[kind]), zero):f}"
