"""What each estimate law that binds wants on a paper, with what the order says to it: frozen with the paper's facts."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from orders.models import Estimate, RepairOrder
from orders.rules.authorisation import Allowance
from orders.rules.legal_fields import wanted_by
from shopdocs.documents.press.words import Say, words
from shopdocs.money import plain

from . import frozen
from .authorised import laws_of

Facts = dict[str, Any]


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
