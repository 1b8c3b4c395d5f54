"""The exemption that counts is that of the invoice's day: a certificate may have expired since the estimate, or come since.

Tax that nobody agreed to is asked anew where it goes beyond what the laws and the shop's own rule allow.
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

Facts = dict[str, Any]
CONSENT = "tax_consent"


def on_tax_day(facts: Facts, customer: Customer, day: dt.date, say: Say) -> Facts:
    """The terms of an estimate with the exemption that holds on `day`, and in `tax_why` why tax has come since."""
    was, record = facts["customer"]["tax_exempt"], exemption_facts(customer)
    holds = record is not None and (record["expires"] is None or record["expires"] >= day.isoformat())
    if not was and not holds:
        return facts
    terms = facts.get("pricing") or {}
    why = "" if holds else _why(record or terms.get("exemption") or {}, day, say)
    return {
        **facts,
        "customer": {**facts["customer"], "tax_exempt": holds},
        "pricing": {**terms, "exemption": record if holds else None},
        "tax_why": why,
    }


def _why(exemption: Facts, day: dt.date, say: Say) -> str:
    number, expires = exemption.get("certificate", ""), exemption.get("expires")
    if expires and expires < day.isoformat():
        until = day_words(dt.date.fromisoformat(expires), say)
        return say("certificate {number} expired on {day}").format(number=number, day=until)
    return say("certificate {number} is not valid any more").format(number=number)


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
