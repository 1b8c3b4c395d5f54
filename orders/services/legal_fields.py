"""What each estimate law that binds wants on a paper, with what the order says to it: frozen with the paper's facts."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from orders.models import Estimate, Job, RepairOrder
from orders.rules.authorisation import Allowance
from orders.rules.legal_fields import WARRANTY, wanted_by
from shopdocs.documents.press.values import apart
from shopdocs.documents.press.words import Say, words
from shopdocs.money import plain

from . import frozen
from .binding_laws import asked_of, laws_of, told_sum
from .scope import latest_answer

Facts = dict[str, Any]
INVOICE, SUMMARY = "invoice", "repair_summary"
OTHER = ("fee", "part", "core", "supplies", "sublet", "disposal")  # beside labour, parts, and bringing goods or parts


def legal_fields(order: RepairOrder, facts: Facts, paper: str = "estimate") -> list[Facts]:
    """What each binding law wants on the paper, with what the order says to it ('' is to be filled in by hand).

    A law that does not speak of this price, or of what this customer asked for, wants nothing and is not claimed.
    """
    if paper == INVOICE and not any(job.get("agreed") for job in facts["jobs"]):
        return []  # a bill of storage alone is no bill of a repair
    listed = []
    total = facts["total"] if paper == INVOICE else facts["customer_total"]
    known = Decimal(total) if total else None  # there may be no estimate yet
    payers = frozenset(payer for job in facts["jobs"] for payer in _payers(job))
    for law in laws_of(order):
        wanted = wanted_by(law.key, paper)
        if wanted is None or not wanted.speaks_of(law, known, asked=asked_of(order), payers=payers):
            continue
        say = words(facts["shop"]["language"])
        fields = [
            {
                "name": one.name,
                "answer": one.answer,
                "value": _answer(one.answer, order, facts, say),
                **({"drawn": one.drawn} if one.drawn else {}),
                **({"bold": True} if one.bold else {}),
                **({"told": told} if one.answer == "choice" and (told := told_sum(order)) else {}),
            }
            for one in wanted.fields
        ]
        # What is done is the bill: no more is to come, so that no limit is told.
        over = law.over if paper not in (INVOICE, SUMMARY) else None
        limit = _limit(over, facts["money"]["symbol"], say) if over else ""
        listed.append(
            {
                "law": law.key,
                "binds": law.binds,
                "source": _cited(wanted.source, law.citation) if limit else wanted.source,
                "edition": wanted.edition,
                "seen": wanted.confidence,
                "limit": limit,
                "limit_seen": law.source if limit else "",
                "fields": fields,
            }
        )
    return listed


def _payers(job: Facts) -> set[str]:
    """Who pays for a frozen job, or for a part of it."""
    if job.get("shares") or job.get("payer_of"):
        return {*(one["payer"] for one in job.get("shares", ())), *job.get("payer_of", {}).values(), job["payer"]}
    return {job["payer"]}


def _cited(wanted: str, over: str) -> str:
    """Where both duties stand, each section once: the paper cites the law, and the record says how it was seen."""
    section = over.split(", as ")[0]
    return wanted if section.startswith(wanted) or wanted.startswith(section) else f"{wanted}; {section}"


def _limit(over: Allowance, symbol: str, say: Say) -> str:
    """'10 % over the estimate, at least $10', in the paper's words."""
    if over == Allowance():
        return say("this estimate")
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


def summary_legal_fields(order: RepairOrder, jobs: Iterable[Job], language: str) -> list[Facts]:
    """What a law wants on the summary of these done jobs, where nothing of them is billed to the customer."""
    told = [_done_facts(job) for job in jobs]
    facts = {**_facts_at_first_contact(order, words(language)), "issued_on": "", "jobs": told}
    facts["shop"] = {**facts["shop"], "language": language}
    return legal_fields(order, facts, SUMMARY)


def _done_facts(job: Job) -> Facts:
    """A done job without its prices: whose it is, when its estimate was issued, and the time of each stage of its labour."""
    answer = latest_answer(job)
    agreed = {"issued_on": answer.estimate.issued_on.isoformat()} if answer is not None else None
    return {
        "title": job.title,
        "payer": job.payer,
        "shares": job.shares,
        "payer_of": job.payer_of,
        "labour": [{"words": line.words, "tenths": int(line.hours * 10), "amount": "0"} for line in job.labour.all()],
        "parts": [],
        "agreed": agreed,
    }


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
    reach = [facts["shop"]["phone"]] if facts["shop"]["phone"] else []

    def charged(*kinds: str) -> str:
        amount = _fees(facts, kinds)
        return f"{symbol}{amount:f}" if amount else say("none")

    said: dict[str, str] = {
        "shop": _listed(facts["shop"]["name"], *facts["shop"]["address"]),
        "dealer": _listed(facts["shop"]["name"], *facts["shop"]["address"], *reach),
        "customer": _listed(facts["customer"]["name"], *facts["customer"]["lines"]),
        "total": facts["customer_total"] if "customer_total" in facts else facts["total"],
        "tax": facts["customer_tax"] if "customer_tax" in facts else facts["tax"],
        "request": facts.get("request") or order.complaint,
        "issued_on": facts["issued_on"],
        "estimate_on": _estimated_on(facts),
        "finished_on": facts.get("finished_on") or "",
        "received_on": order.received_on.isoformat(),
        "choice": order.estimate_asked,
        "promised_on": order.promised_on.isoformat() if order.promised_on else "",
        "unit": " ".join(
            apart(part) for part in (facts["unit"]["maker"], facts["unit"]["model"], facts["unit"]["serial"]) if part
        ),
        "jobs": "; ".join(apart(job["title"]) for job in facts["jobs"]),
        "authorised": say("those that you accept of it, job by job"),
        "labour": each.format(amount=symbol + _sum_of(facts, "labour")),
        "hours": "; ".join(
            f"{apart(line['words'])}: {line['tenths'] / 10:.1f} h" for job in facts["jobs"] for line in job["labour"]
        ),
        "parts": each.format(amount=symbol + _sum_of(facts, "parts")),
        "conditions": say("{amount}, with the condition of each below it").format(
            amount=symbol + _sum_of(facts, "parts")
        ),
        "not_new": "; ".join(
            f"{apart(line['words'])}: {say(line['condition'] + ' part')}"
            for job in facts["jobs"]
            for line in job["parts"]
            if line.get("condition", "new") != "new"
        ),
        "no_charge": say("none: the warranty pays")
        if all(_payers(job) == {WARRANTY} for job in facts["jobs"])
        else say("none: nothing of it is billed to you"),
        "delivery": charged("delivery", "freight"),
        "service_call": say("none"),
        "other": charged(*OTHER),
        "estimate_charge": _estimate_charge(facts, say),
        "on_top": say("come on top of this estimate where they are charged"),
        "storage": say("none")
        if per_day is None or shop.storage_free_days is None
        else say("{amount} a day, {days} days after completion").format(
            amount=symbol + frozen.trimmed(per_day, shop.currency_decimals), days=shop.storage_free_days
        ),
    }
    return said.get(name, "")


def _listed(*typed: str) -> str:
    """Name, address and reach in a line; a name that runs from right to left turns no house number behind it."""
    return ", ".join(map(apart, typed))


def _estimated_on(facts: Facts) -> str:
    """The day of the newest estimate that the billed jobs were agreed on; '' on a paper that bills none."""
    return max((job["agreed"]["issued_on"] for job in facts["jobs"] if job.get("agreed")), default="")


def _estimate_charge(facts: Facts, say: Say) -> str:
    """What finding the fault costs: the labour that is marked as diagnosis, which stands among the labour too."""
    told = [line for job in facts["jobs"] for line in job["labour"] if line.get("diagnosis")]
    if not told:
        return say("none")
    amount = sum(Decimal(line["amount"]) for line in told)
    return say("{amount}, in the labour: {what}").format(
        amount=f"{facts['money']['symbol']}{amount:f}", what="; ".join(apart(line["words"]) for line in told)
    )


def _fees(facts: Facts, kinds: tuple[str, ...]) -> Decimal:
    """What fees of these kinds, and what pricing added of them, come to."""
    listed = [one for job in facts["jobs"] for one in (*job.get("fees", ()), *job.get("extras", ()))]
    return sum((Decimal(one["amount"]) for one in listed if one["kind"] in kinds), Decimal(0))


def _sum_of(facts: Facts, kind: str) -> str:
    zero = Decimal(0).scaleb(-facts["money"]["decimals"])
    return f"{sum((Decimal(line['amount']) for job in facts['jobs'] for line in job[kind]), zero):f}"
