"""The records that a claim speaks of, as plain JSON: shop, distributor, unit, assemblies, proof, findings, causal part."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from orders.models import Assembly, Distributor, Finding, HourReading, Job, JobPart
from orders.rules.shown_units import for_reader
from orders.rules.trade import trade
from orders.services.wording import paper_language
from shopdocs.documents.press.values import sentence
from shopdocs.documents.press.words import Say
from shopdocs.money import plain
from shopdocs.shops.models import Shop
from warranty.models import CoverageDecision, DistributorTerms

from .decision_words import spoken


def text(value: Decimal | None) -> str | None:
    """A number as its digits, None as None."""
    return None if value is None else format(value, "f")


def price(value: Decimal | None, decimals: int) -> str | None:
    """A rate or price as its digits: the currency's decimals, and more only where it has them."""
    if value is None:
        return None
    whole, _, part = format(value, "f").partition(".")
    part = part.rstrip("0").ljust(decimals, "0")
    return f"{whole}.{part}" if part else whole


def iso(day: dt.date | None) -> str | None:
    """A date as ISO 8601, None as None."""
    return day.isoformat() if day else None


def shop_facts(shop: Shop, distributor: Distributor) -> dict[str, Any]:
    """The shop as the paper names it, with its currency and paper size, and the language in which this distributor is asked."""
    return {
        "name": shop.name, "address": shop.address_lines(), "phone": shop.phone, "email": shop.email,
        "accent": shop.accent, "currency": shop.currency, "symbol": shop.currency_symbol,
        "decimals": shop.currency_decimals, "paper": shop.paper, "language": paper_language(shop, distributor),
    }  # fmt: skip


def distributor_facts(distributor: Distributor, terms: DistributorTerms | None) -> dict[str, Any]:
    """Who is asked; the claims address is the terms', else the distributor's own."""
    return {
        "id": str(distributor.pk), "name": distributor.name, "lines": distributor.address_lines(),
        "phone": distributor.phone, "account": distributor.account,
        "claims_email": (terms.claims_email if terms else "") or distributor.email,
    }  # fmt: skip


def unit_as_claimed(job: Job, say: Say) -> dict[str, Any]:
    """The machine with the hours read for this order, and how they were read or why not."""
    unit, reading = job.order.unit, job.order.reading
    if reading is None:
        note = say("no hour meter") if unit.has_hour_meter is False else say("not read")
    else:
        note = _read(reading, say)
    family = trade().families.get(unit.model.family)
    return {
        "id": str(unit.pk), "family": sentence(say(family.name) if family else unit.model.family), "maker": unit.model.maker.name,
        "model": unit.model.name, "serial": unit.serial, "serial_note": unit.no_serial_reason,
        "built_on": iso(unit.build_date), "hours": text(reading.hours) if reading else None, "hours_note": note,
        "use_class": say(unit.get_use_class_display() or "not known"), "power_source": say(unit.get_power_source_display()),
    }  # fmt: skip


def _read(reading: HourReading, say: Say) -> str:
    """'read on 9 Nov 2026, meter changed at 120 h'."""
    day = spoken(reading.read_on, say)
    if not reading.meter_changed:
        return say("read on {day}").format(day=day)
    if reading.hours_before_change is not None:
        hours = plain(reading.hours_before_change)
        return say("read on {day}, meter changed at {hours} h").format(day=day, hours=hours)
    if reading.no_hours_before_reason:
        unread = say("read on {day}, meter changed; the old one could not be read: {reason}")
        return unread.format(day=day, reason=reading.no_hours_before_reason)
    return say("read on {day}, meter changed").format(day=day)


def assembly_facts(one: Assembly, say: Say) -> dict[str, Any]:
    """An assembly with what its emission label shows."""
    distributor = one.distributor or (one.maker.distributor if one.maker else None)
    label = say("not read")
    if one.label_read:
        parts = [
            say(one.emission_rule.replace("_", " ")),
            one.emission_family,
            f"{one.label_hours} h" if one.label_hours else "",
        ]
        label = ", ".join(part for part in parts if part) or say("read, nothing noted")
    return {
        "name": _called(one, say), "maker": one.maker.name if one.maker else "", "model": one.model_name,
        "serial": one.serial, "built_on": iso(one.build_date), "emission_label": label,
        "distributor": distributor.name if distributor else "",
    }  # fmt: skip


def _called(one: Assembly, say: Say) -> str:
    """The role in words; what somebody named themselves stays."""
    return sentence(one.role_words or say(one.role.replace("_", " ")))


def purchase_facts(job: Job, say: Say) -> dict[str, Any]:
    """The day of purchase and what shows it."""
    proofs = sorted(job.order.unit.proofs.all(), key=lambda proof: proof.created_at)
    return {
        "on": iso(job.order.unit.purchased_on),
        "proof": ", ".join(dict.fromkeys(say(p.get_kind_display()) for p in proofs)),
    }


def _name(table: Any, code: str, say: Say) -> str:
    return sentence(say(table[code].name)) if code in table else code


def _measured(finding: Finding, units: str) -> str:
    """In the units of the claim's reader, with what was recorded beside them."""
    if finding.measured is None:
        return ""
    return for_reader(finding.measured, finding.measured_unit, units)


def finding_as_claimed(one: Finding, say: Say, units: str) -> dict[str, Any]:
    """A finding in the words of the trade, with its mark on the paper."""
    known = trade()
    return {
        "id": str(one.pk), "mark": f"F{one.number}", "component": _name(known.components, one.component, say),
        "condition": _name(known.conditions, one.condition, say), "cause": _name(known.causes, one.cause, say),
        "measured": _measured(one, units), "note": one.note, "caused_by": str(one.caused_by_id) if one.caused_by_id else "",
    }  # fmt: skip


def causal_facts(job: Job, findings: list[Finding], decision: CoverageDecision, say: Say, units: str) -> dict[str, Any]:
    """The part marked as failed first, with the finding that the decision speaks of."""
    part: JobPart | None = next((row for row in job.parts.all() if row.causal), None)
    finding = next((one for one in findings if one.pk == decision.finding_id), decision.finding)
    told = finding_as_claimed(finding, say, units)
    assembly = _called(finding.assembly, say) if finding.assembly else sentence(say("machine"))
    return {
        "part": str(part.pk) if part else "", "number": part.number if part else "",
        "what": part.words if part else told["component"], "assembly": assembly, "condition": told["condition"],
        "cause": told["cause"], "measurement": told["measured"], "held_as": "",
    }  # fmt: skip
