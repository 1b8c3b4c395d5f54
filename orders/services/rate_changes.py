"""The tax rates of the day of sale, and how they differ from those of the estimate.

A customer agrees to work and its price; tax is the law's, owed by the day on which the work is billed. So a bill takes the
rates of its own day and says what changed. Where prices hold their tax the price is what was agreed: it stays, and holds
another tax. Rates stay those of the estimate where the customer bears no tax and it is only taken out of such prices, since
a lower rate would make them dearer, and where a bracket table came since, which cannot be taken out of a price.
(Common practice, no source: which day's rate a jurisdiction takes where it changed between order and sale is the shop's to confirm.)
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from shopdocs.documents.press.values import day_words
from shopdocs.documents.press.words import Say
from shopdocs.shops.models import Shop
from shopdocs.shops.services import tax_rates

Facts = dict[str, Any]


def taxed_anew(terms: Facts, now: list[Facts]) -> Facts:
    """The terms of an estimate with the tax rates `now`, those of the day of sale."""
    pricing = terms.get("pricing") or {}
    if pricing.get("inclusive") and (terms["customer"]["tax_exempt"] or any(rate["brackets"] for rate in now)):
        return terms
    return {**terms, "rates": now}


def changes(terms: Facts, now: list[Facts], shop: Shop, day: dt.date, say: Say) -> dict[str, str]:
    """In words, how each tax of `now` differs from the estimate's, by name; equal ones are left out."""
    before = {rate["name"]: rate for rate in terms["rates"]}
    starts = {rate.name: rate.starts_on for rate in tax_rates(shop=shop, day=day)}
    issued = dt.date.fromisoformat(terms["issued_on"])
    return {
        rate["name"]: _told(before.get(rate["name"]), rate, starts.get(rate["name"]), issued, say)
        for rate in now
        if rate["name"] not in before or _plain(before[rate["name"]]) != _plain(rate)
    }


def ended(terms: Facts, now: list[Facts], say: Say) -> dict[str, str]:
    """In words, the taxes that the customer bore on the estimate and that are gone since, by name."""
    names = {rate["name"] for rate in now}
    told = say("not charged any more; the estimate said {was} %")
    return {
        tax["name"]: told.format(was=tax["percent"]) for tax in terms.get("customer_taxes", ()) if tax["name"] not in names
    }  # fmt: skip


def _told(was: Facts | None, now: Facts, since: dt.date | None, issued: dt.date, say: Say) -> str:
    later = since is not None and since > issued
    day = day_words(since, say) if since is not None else ""
    if was is None:
        return say("since {day}; it is not on the estimate").format(day=day)
    table = was.get("brackets") or now["brackets"]
    if was["percent"] == now["percent"] or table:
        told = say("changed on {day}, since the estimate") if later else say("corrected since the estimate")
    elif later:
        told = say("rate since {day}: {now} %; the estimate said {was} %")
    else:
        told = say("corrected since the estimate: {now} %; the estimate said {was} %")
    return told.format(day=day, now=now["percent"], was=was["percent"])


def _plain(rate: Facts) -> Facts:
    """What of a rate makes a sum: its reach in no order."""
    reach = {name: sorted(rate.get(name) or ()) for name in ("on_kinds", "on_payers", "with_parts")}
    return {"percent": rate["percent"], "brackets": rate.get("brackets"), **reach}
