"""The tax that counts is that of the invoice's day: a rate may have changed since the estimate, a certificate expired or come.

Tax that nobody agreed to is asked anew where it goes beyond what the laws and the shop's own rule allow. A changed rate
is told on the invoice, and counts against these limits only where a law was seen to count it (`rules/authorisation.py`).
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from orders.models import Customer, RepairOrder
from orders.rules.authorisation import Sums, may_charge
from shopdocs.documents.press.values import day_words
from shopdocs.documents.press.words import Say
from shopdocs.rest.refusals import Conflict, Problem, Refused

from .amounts import currency_of
from .authorised import compare, own_words
from .charges import exemption_facts
from .frozen import rate_facts
from .rate_changes import changes, ended, taxed_anew

Facts = dict[str, Any]
CONSENT = "tax_consent"


def on_tax_day(facts: Facts, customer: Customer, day: dt.date, say: Say) -> Facts:
    """The terms of an estimate with the exemption and the rates of `day`.

    `tax_why` says why tax has come since, `rates_why` how each tax is another than on the estimate, and `rates_ended` which
    are gone. Once found they stay: terms may go through here twice.
    """
    if "rates_why" in facts:
        return facts
    rates = rate_facts(customer.shop, day)
    was, record = facts["customer"]["tax_exempt"], exemption_facts(customer)
    holds = record is not None and (record["expires"] is None or record["expires"] >= day.isoformat())
    if not was and not holds:
        anew = taxed_anew(facts, rates)
        why = changes(facts, anew["rates"], customer.shop, day, say)
        return {**anew, "rates_why": why, "rates_ended": ended(facts, anew["rates"], say)}
    terms = facts.get("pricing") or {}
    exempt = {
        **facts,
        "customer": {**facts["customer"], "tax_exempt": holds},
        "pricing": {**terms, "exemption": record if holds else None},
        "tax_why": "" if holds else _why(record or terms.get("exemption") or {}, day, say),
    }
    return {**taxed_anew(exempt, rates), "rates_why": {}, "rates_ended": {}}


def _why(exemption: Facts, day: dt.date, say: Say) -> str:
    number, expires = exemption.get("certificate", ""), exemption.get("expires")
    if expires and expires < day.isoformat():
        until = day_words(dt.date.fromisoformat(expires), say)
        return say("certificate {number} expired on {day}").format(number=number, day=until)
    return say("certificate {number} is not valid any more").format(number=number)


def reasoned(taxes: list[Facts], terms: list[Facts], consent: Facts | None, say: Say) -> Facts:
    """The taxes of an invoice, each with why it is another than was agreed; `tax_why` is all of that; and those that ended."""
    came = next((one["tax_why"] for one in terms if one.get("tax_why")), "")
    agreed = say("agreed to by {name}").format(name=consent["said_by"]) if consent is not None else ""
    told, why = [], {came: None} if came else {}
    for tax in taxes:
        own = came or "; ".join(_each(terms, "rates_why", tax["name"]))
        why |= {} if came or not own else {f"{tax['name']}: {own}": None}
        told.append({**tax, "why": f"{own}; {agreed}" if agreed else own} if own else tax)
    charged = {tax["name"] for tax in taxes}
    gone = dict.fromkeys(name for one in terms for name in one["rates_ended"] if name not in charged)
    listed = [{"name": name, "why": "; ".join(_each(terms, "rates_ended", name))} for name in gone]
    return {"taxes": told, "taxes_ended": listed, "tax_why": "; ".join([*why, *([agreed] if why and agreed else [])])}


def _each(terms: list[Facts], which: str, name: str) -> list[str]:
    """What the several estimates say of one tax, each once."""
    return list(dict.fromkeys(one[which][name] for one in terms if name in one[which]))


def rate_steps(reasons: Facts) -> list[Facts]:
    """Every tax that is another than on the estimate, as steps of the whole invoice."""
    listed = [*reasons["taxes"], *reasons["taxes_ended"]]
    return [{"text": f"{one['name']}: {one['why']}", "amount": None} for one in listed if one.get("why")]


def refuse_unagreed_tax(order: RepairOrder, facts: Facts, consent: Facts | None) -> None:
    """Conflict where tax that came since the estimate goes beyond what was agreed and nobody agreed to it anew.

    `facts` are the invoice's. Refused for a consent that nothing asks for.
    """
    compared = compare(order)
    bill = Sums(Decimal(facts["net"]), Decimal(facts["total"]))
    verdict = may_charge(
        compared.estimate,
        bill,
        laws=compared.laws,
        own=compared.own,
        currency=currency_of(order.shop),
        own_words=own_words(order),
    )
    asked = bool(facts["tax_why"]) and not verdict.allowed
    if consent is not None and not asked:
        raise Refused(CONSENT, "No tax goes beyond what the customer agreed to.", "Leave it out.")
    if not asked or consent is not None:
        return
    problem = (
        f"Tax is due: {facts['tax_why']}. The customer agreed to {compared.estimate.total:f}, "
        f"and {facts['total']} would be charged."
    )
    remedy = f"Record a valid certificate, or tell the customer and send {CONSENT}: {verdict.decided_by}."
    conflict = Conflict(problems=[Problem(CONSENT, problem, remedy)])
    conflict.extra = {
        "authorisation": {
            "authorised": {"net": f"{compared.estimate.net:f}", "total": f"{compared.estimate.total:f}"},
            "now": {"net": facts["net"], "total": facts["total"]},
            "decided_by": verdict.decided_by,
            "steps": [
                {"text": step.text, "amount": None if step.amount is None else f"{step.amount:f}"}
                for step in verdict.steps
            ],
        }
    }
    raise conflict
