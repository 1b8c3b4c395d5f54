"""Warns of a certificate of tax exemption that runs out: the tax that counts is that of the invoice's day (`tax_day`)."""

from __future__ import annotations

import datetime as dt

from orders.models import Customer, Estimate
from shopdocs.documents.press.values import day_words
from shopdocs.documents.press.words import words
from shopdocs.periods import add_days
from shopdocs.shops.models import Shop

SOON = 30  # days in which a new certificate can be had: common practice, no source


def runs_out(customer: Customer, *, shop: Shop, until: dt.date | None = None) -> str:
    """What the staff is to know of the customer's certificate today, in the language of their shop; '' where there is nothing.

    It is told once it has run out, in the last 30 days of it, and where its last day lies before `until`, up to which an
    estimate can be answered.
    """
    last = customer.tax_exempt_until
    if not customer.tax_exempt or last is None:
        return ""
    say, today = words(shop.language), shop.today()
    named = {"number": customer.tax_certificate, "day": day_words(last, say)}
    if last < today:
        told = say("Certificate {number} ran out on {day}: without a new one the invoice charges tax.")
    elif until is not None and last < until:
        named["until"] = day_words(until, say)
        told = say(
            "Certificate {number} runs out on {day}, and the estimate can be answered until {until}: an invoice after "
            "that day charges tax. Ask for the new one now."
        )
    elif last <= add_days(today, SOON):
        told = say(
            "Certificate {number} runs out on {day}: an invoice after that day charges tax. Ask for the new one now."
        )
    else:
        return ""
    return told.format(**named)


def runs_out_for(estimate: Estimate) -> str:
    """The same beside an estimate; of one that was replaced nothing is told."""
    if estimate.replaced_by_id is not None:
        return ""
    return runs_out(estimate.order.customer, shop=estimate.order.shop, until=estimate.valid_until)
