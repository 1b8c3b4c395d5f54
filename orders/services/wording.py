"""Our letters and sentences to the customer: plain, friendly, no marketing."""

from __future__ import annotations

import datetime as dt
from typing import Any

from orders.models import Estimate, Invoice
from shopdocs.shops.models import Shop


def agreement(shop_name: str) -> str:
    """What accepting a job means; shown with the estimate and frozen in it."""
    return (
        f"By accepting a job you ask {shop_name} to do it at the price shown here, and not for more. "
        "By declining it you ask us to leave it. Nothing else is agreed."
    )


def answer_how(shop: Shop) -> str:
    """How the customer can answer, as the paper says it."""
    by_phone = f", call us on {shop.phone}" if shop.phone else ""
    return (
        f"Please tell us job by job what we shall do: by the link in our letter{by_phone}, or here in the shop. "
        "We do no work on a job before you have agreed to it."
    )


def _day(moment: dt.date) -> str:
    return f"{moment.day} {moment:%B %Y}"


def _machine(facts: dict[str, Any]) -> str:
    unit = facts["unit"]
    return f"{unit['maker']} {unit['model']}"


def _foot(shop: Shop) -> str:
    reach = ", ".join(line for line in (*shop.address_lines(), shop.phone) if line)
    return f"Kind regards\n{shop.name}\n{reach}\n"


def estimate_letter(estimate: Estimate, address: str, expires_at: dt.datetime) -> str:
    """The letter with the customer's link: the only place where the link stands."""
    shop, facts = estimate.shop, estimate.facts
    until = shop.local(expires_at)
    newer = ""
    if estimate.edition > 1:
        newer = f"It is version {estimate.edition} and replaces the earlier one, which can no longer be answered.\n\n"
    return (
        f"Hello {facts['customer']['name']},\n\n"
        f"we have looked at your {_machine(facts)} (repair order {facts['order']}). "
        f"Our estimate {estimate.number} is attached.\n\n{newer}"
        "Please tell us job by job what we shall do. This link shows the estimate and takes your answer, once:\n\n"
        f"{address}\n\n"
        f"The link works until {_day(until)}, {until:%H:%M}. "
        f"You can also call us{f' on {shop.phone}' if shop.phone else ''} or come by. "
        "We do no work on a job before you have agreed to it.\n\n"
        f"{_foot(shop)}"
    )


def invoice_letter(invoice: Invoice) -> str:
    """The letter that brings the invoice."""
    shop, facts = invoice.shop, invoice.facts
    money = facts["money"]
    total = f"{money['symbol']}{facts['total']}"
    return (
        f"Hello {facts['customer']['name']},\n\n"
        f"the work on your {_machine(facts)} is done (repair order {facts['order']}). "
        f"Our invoice {invoice.number} over {total} is attached, due by {_day(invoice.due_on)}.\n\n"
        f"Please name the invoice number when you pay. If something is not clear, call us"
        f"{f' on {shop.phone}' if shop.phone else ''}.\n\n"
        f"{_foot(shop)}"
    )


def pay_how(shop: Shop, number: str) -> str:
    """How to pay, as the invoice says it."""
    reach = f" Questions: {shop.phone}." if shop.phone else ""
    return f"Please name {number} when you pay.{reach}"
