"""Freezing: records as plain facts (JSON), with every name, rate and term as it stands at this moment."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from orders.models import Customer, Finding, HourReading, Job, RepairOrder, Unit
from orders.rules import trade
from orders.rules.shown_units import for_reader
from shopdocs.documents.press.values import day_words, sentence
from shopdocs.documents.press.words import Say
from shopdocs.shops.models import Shop
from shopdocs.shops.services import labour_rate, tax_rates

from .came_back import returned_facts
from .charges import job_charges
from .splits import payer_words

Facts = dict[str, Any]


def trimmed(number: Decimal, least: int = 0) -> str:
    """A number without needless zeros, but with at least `least` decimals: 12.500 -> '12.50'."""
    text = f"{number:f}"
    whole, _, part = text.partition(".")
    part = part.rstrip("0").ljust(least, "0")
    return f"{whole}.{part}" if part else whole


def shop_facts(shop: Shop, language: str, units: str = "") -> Facts:
    """The shop as papers name it. `language`: the one in which this paper is written; `units`: those of its reader."""
    return {
        "name": shop.name,
        "address": shop.address_lines(),
        "phone": shop.phone,
        "email": shop.email,
        "accent": shop.accent,
        "paper": shop.paper,
        "language": language,
        "units": units,
    }


def money_facts(shop: Shop) -> Facts:
    return {
        "code": shop.currency,
        "decimals": shop.currency_decimals,
        "symbol": shop.currency_symbol,
        "tax_basis": str(shop.tax_basis),
    }


def customer_facts(customer: Customer) -> Facts:
    reach = [line for line in (customer.phone, customer.email) if line]
    return {
        "name": customer.name,
        "lines": [*customer.address_lines(), *reach],
        "email": customer.email,
        "tax_exempt": customer.tax_exempt,
        "tax_certificate": customer.tax_certificate,
    }


def power_name(code: str) -> str:
    try:
        return trade.power_source(code).name
    except trade.UnknownCode:
        return "not known"


def unit_facts(unit: Unit, reading: HourReading | None, say: Say) -> Facts:
    """The machine as papers name it; an hour count that nobody read is None with the reason."""
    note = say("no hour meter" if unit.has_hour_meter is False else "not read")
    return {
        "family": sentence(say(trade.family(unit.model.family).name)),
        "family_code": unit.model.family,
        "maker": unit.model.maker.name,
        "model": unit.model.name,
        "serial": unit.serial,
        "serial_note": unit.no_serial_reason,
        "built_on": unit.build_date and unit.build_date.isoformat(),
        "hours": f"{reading.hours:f}" if reading else None,
        "hours_note": f"{say('read on')} {day_words(reading.read_on, say)}" if reading else note,
        "use_class": say(unit.get_use_class_display() if unit.use_class else "not known"),
        "power_source": say(power_name(unit.power_source)),
        "power_code": unit.power_source,
    }


def measured(finding: Finding, units: str | None) -> str:
    """'0.075 in (1.9 mm)' for a reader of US units, '1.9 mm' as it was recorded, or nothing.

    `units`: 'us', 'metric', '' for as recorded; None for a paper that was frozen before papers knew their reader's.
    """
    if finding.measured is None:
        return ""
    if units is None:
        return f"{trimmed(finding.measured)} {finding.measured_unit}".rstrip()
    return for_reader(finding.measured, finding.measured_unit, units)


def finding_words(finding: Finding, say: Say, units: str | None) -> str:
    """'Fuel line: cracked. Cause: wear. Measured: 1.9 mm. Note.' in one line; `units` as in `measured`."""
    part, seen = trade.component(finding.component).name, trade.condition(finding.condition).name
    said = [sentence(f"{say(part)}: {say(seen)}")]
    if finding.cause != "unknown":
        said.append(f"{say('Cause')}: {say(trade.cause(finding.cause).name)}")
    if finding.measured is not None:
        said.append(f"{say('Measured')}: {measured(finding, units)}")
    if finding.note:
        said.append(finding.note.rstrip("."))
    return ". ".join(said) + "."


def found_words(job: Job, say: Say, units: str | None) -> str:
    """What was found, as papers say it: the job's findings in their order, or the cause where there are none."""
    rows = sorted(job.findings.all(), key=lambda row: row.number)
    return " ".join(finding_words(row, say, units) for row in rows) or job.cause


def payer_facts(job: Job, say: Say) -> Facts:
    """Who pays for the job, and how several payers share it."""
    shared = {"shares": list(job.shares), "payer_of": dict(job.payer_of)}
    return {"payer": job.payer, "payer_words": payer_words(job.payer, job.shares, job.payer_of, say), **shared}


def job_facts(job: Job, rate_of: Callable[[str, str], Decimal], decimals: int, say: Say, units: str = "") -> Facts:
    """A job with its lines and the rate and price of each, still without amounts."""
    hourly = job.payer_of.get("labour", job.payer)  # each payer has a rate of their own
    labour = [
        {
            "id": str(line.pk),
            "code": line.code,
            "words": line.words,
            "tenths": int(line.hours * 10),
            "rate": trimmed(line.rate if line.rate is not None else rate_of(hourly, line.skill), decimals),
            "discount_percent": line.discount_percent and trimmed(line.discount_percent),
            "skill": line.skill,
            "diagnosis": line.is_diagnosis,
        }
        for line in job.labour.all()
    ]
    parts = [
        {
            "id": str(part.pk),
            "number": part.number,
            "words": part.words,
            "quantity": trimmed(part.quantity),
            "unit_price": trimmed(part.unit_price, decimals),
            "core_charge": trimmed(part.core_charge, decimals) if part.core_charge else None,
            "discount_percent": part.discount_percent and trimmed(part.discount_percent),
            "customers_own": part.customers_own,
            "condition": part.condition,
            "original": part.original,
            "environment_charge": trimmed(part.environment_charge, decimals) if part.environment_charge else None,
            "contents": list(part.contents),
            "waiting": part.state if part.state in ("ordered", "back_ordered") and not part.fitted_at else "",
            "expected_on": part.expected_on and part.expected_on.isoformat(),
            "returned": returned_facts(part, job.fees.all(), say),
        }
        for part in job.parts.all()
    ]
    return {
        "id": str(job.pk),
        "number": job.number,
        "title": job.title,
        "complaint": job.complaint,
        "found": found_words(job, say, units),
        "why_now": job.why_now,
        "if_not": job.if_not,
        "unsafe": any(row.unsafe for row in job.findings.all()),
        **payer_facts(job, say),
        "basis": job.basis_words,
        "basis_kind": job.basis_kind,
        "basis_id": job.basis_id,
        "basis_hash": job.basis_hash,
        "state": job.state,
        "labour": labour,
        "parts": parts,
        **job_charges(job),
    }


def rate_facts(shop: Shop, day: dt.date) -> list[Facts]:
    """The taxes in force on that day, as the shop entered them."""
    return [
        {
            "name": rate.name,
            "percent": trimmed(rate.percent),
            "on_kinds": list(rate.on_kinds),
            "on_payers": list(rate.on_payers),
            "with_parts": list(rate.with_parts),
            "brackets": rate.brackets,
        }
        for rate in tax_rates(shop=shop, day=day)
    ]


def rates_on(shop: Shop, day: dt.date) -> Callable[[str, str], Decimal]:
    """The shop's labour rate by payer and skill on that day, asked for once each."""
    known: dict[tuple[str, str], Decimal] = {}

    def rate_of(payer: str, skill: str) -> Decimal:
        if (payer, skill) not in known:
            known[payer, skill] = labour_rate(shop=shop, payer=payer, day=day, skill=skill)
        return known[payer, skill]

    return rate_of


def jobs_of(order: RepairOrder, states: tuple[str, ...], *, only: Job | None = None) -> list[Job]:
    """The order's jobs in these states (or `only` one of them) with all that is on them, in their order.

    They share the very `order`, so that its unit, customer and shop are read once for all of them.
    """
    rows = Job.objects.for_shop(order.shop).filter(order=order, state__in=states).order_by("number")
    rows = rows if only is None else rows.filter(pk=only.pk)
    found = list(rows.prefetch_related("labour__operation", "parts", "findings", "fees"))
    for job in found:
        job.order = order
    return found
