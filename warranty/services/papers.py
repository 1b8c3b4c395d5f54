"""The claim's paper: from the claim's frozen facts to its typed sheet. Reads no record, so nothing later changes it."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from shopdocs.documents.press.facts import Assembly, Party, PhotoMark, Unit
from shopdocs.documents.press.sheets import Currency, ShopBlock
from shopdocs.documents.press.words import Say, Words, words
from warranty.models import PartsHold
from warranty.papers.claim import CausalPart, ClaimLabour, ClaimPart, ClaimPhoto, ClaimSheet, DecisionStep
from warranty.papers.part_tag import PartTagSheet

from .decision_words import spoken

TITLE = "Warranty claim"


def _day(value: str | None) -> dt.date | None:
    return dt.date.fromisoformat(value) if value else None


def _number(value: str | None) -> Decimal | None:
    return None if value is None else Decimal(value)


def claim_sheet(facts: dict[str, Any], *, number: str, code: str) -> ClaimSheet:
    """The sheet of a claim. `code` is what the QR code holds; every other word and figure comes from `facts`."""
    shop, terms, decision = facts["shop"], facts["terms"], facts["decision"]
    say = words(shop["language"])
    filed_on = _day(facts["filed_on"])
    assert filed_on is not None
    return ClaimSheet(
        paper=shop["paper"], language=shop["language"], shop=_shop(shop), number=number, version=0, issued_on=filed_on,
        title=say(TITLE), code=code, currency=Currency(symbol=shop["symbol"], decimals=shop["decimals"]),
        distributor=_distributor(facts["distributor"]), account=facts["distributor"]["account"],
        approval=_approval(facts, say),
        repair_order=say("{order}, job {job}").format(order=facts["order"]["number"], job=facts["job"]["number"]),
        owner=Party(name=facts["owner"]["name"], lines=tuple(facts["owner"]["lines"])),
        unit=_unit(facts["unit"]), assemblies=tuple(_assembly(one) for one in facts["assemblies"]),
        purchased_on=_day(facts["purchase"]["on"]), purchase_proof=facts["purchase"]["proof"],
        failed_on=_day(facts["failed_on"]), repaired_on=_day(facts["repaired_on"]),
        causal=CausalPart(**{key: value for key, value in facts["causal"].items() if key != "part"}),
        complaint=facts["job"]["complaint"], cause=facts["job"]["cause"], correction=facts["job"]["correction"],
        found=tuple(_found(one) for one in facts["findings"]),
        answer=say("{answer} (as of {day}; advice, not a ruling)").format(
            answer=decision["answer_words"], day=spoken(decision["as_of"], say)
        ),
        term=decision["term"] or facts["job"]["basis"]["words"],
        also=tuple(decision["also"]),
        steps=tuple(DecisionStep(**step) for step in decision["steps"]),
        labour=tuple(
            ClaimLabour(code=line["code"], what=line["words"], tenths=line["tenths"], basis=line["basis"])
            for line in facts["labour"]["lines"]
        ),
        labour_tenths=facts["labour"]["tenths"], labour_rate=_number(facts["labour"]["rate"]),
        time_basis=_time_basis(facts, say), left_out=facts["labour"].get("left_out", ""), labour_amount=_number(facts["labour"]["amount"]),
        parts=_parts(facts), parts_percent=_number(terms["parts_percent"]) if terms else None,
        parts_amount=_number(facts["parts"]["amount"]), expected=_number(facts["expected"]),
        deadline=_day(facts["deadline"]["day"]), deadline_basis=_deadline_words(facts, say),
        photos=tuple(_photo(photo) for photo in facts["photos"]), declaration=tuple(facts["declaration"]),
        declared_by=facts["declared_by"], cautions=(),
    )  # fmt: skip


def part_tag_sheet(facts: dict[str, Any], *, hold: PartsHold, code: str, on: dt.date) -> PartTagSheet:
    """The tag of one kept part, from the frozen facts of its claim and the hold."""
    shop = facts["shop"]
    return PartTagSheet(
        paper=shop["paper"], language=shop["language"], shop=_shop(shop), number=hold.tag, version=0, issued_on=on,
        title=words(shop["language"])("Failed part"), code=code, currency=Currency(symbol=shop["symbol"], decimals=shop["decimals"]),
        part=hold.words, claim=facts["number"], repair_order=facts["order"]["number"],
        distributor=facts["distributor"]["name"], unit=_unit(facts["unit"]), repaired_on=_day(facts["repaired_on"]),
        keep_until=hold.keep_until,
    )  # fmt: skip


def _shop(shop: dict[str, Any]) -> ShopBlock:
    return ShopBlock(
        name=shop["name"],
        address=tuple(shop["address"]),
        phone=shop["phone"],
        email=shop["email"],
        accent=shop["accent"],
    )


def _distributor(one: dict[str, Any]) -> Party:
    lines = (*one["lines"], *(part for part in (one["phone"], one["claims_email"]) if part))
    return Party(name=one["name"], lines=lines)


def _photo(one: dict[str, Any]) -> ClaimPhoto:
    """A claim frozen before photos had marks has none."""
    return ClaimPhoto(**{**one, "marks": tuple(PhotoMark(**mark) for mark in one.get("marks", []))})


def _unit(unit: dict[str, Any]) -> Unit:
    return Unit(
        family=unit["family"], maker=unit["maker"], model=unit["model"], serial=unit["serial"],
        serial_note=unit["serial_note"], built_on=_day(unit["built_on"]), hours=_number(unit["hours"]),
        hours_note=unit["hours_note"], use_class=unit["use_class"], power_source=unit["power_source"],
    )  # fmt: skip


def _assembly(one: dict[str, Any]) -> Assembly:
    return Assembly(
        name=one["name"], maker=one["maker"], model=one["model"], serial=one["serial"], built_on=_day(one["built_on"]),
        emission_label=one["emission_label"], distributor=one["distributor"],
    )  # fmt: skip


def _time_basis(facts: dict[str, Any], say: Say) -> str:
    """By which time is paid, and what the term itself leaves out; '' prints 'not known'."""
    basis = facts["terms"]["time_basis"] if facts["terms"] else ""
    three = facts.get("times") or {}
    named = {"guide": say("guide {hours} h"), "allowed": say("allowed {hours} h"), "clocked": say("clocked {hours} h")}
    hours = [told.format(hours=three[name]) for name, told in named.items() if three.get(name) is not None]
    side_by_side = ", ".join(hours) if len(hours) > 1 else ""
    parts = (basis or ((facts["promise"] or side_by_side) and say("not known")), side_by_side, facts["promise"])
    return "; ".join(part for part in parts if part)


def _parts(facts: dict[str, Any]) -> tuple[ClaimPart, ...]:
    return tuple(
        ClaimPart(
            number=line["number"], what=line["words"], quantity=Decimal(line["quantity"]), each=_number(line["each"]),
            amount=_number(line["amount"]),
        )
        for line in facts["parts"]["lines"]
    )  # fmt: skip


def _approval(facts: dict[str, Any], say: Say) -> str:
    """The approval that was given; without one, whether the maker asks for it at all ('' where it does)."""
    if facts["approval"] or facts.get("approval_before_work") is not False:
        return str(facts["approval"])
    return say("the maker asks for none")


def _found(one: dict[str, Any]) -> str:
    """'F1 Ignition module, dead; 1.9 Mohm. No spark at a new plug.': what the technician saw, in their words."""
    measured = f"; {one['measured']}" if one["measured"] else ""
    note = f". {one['note']}" if one["note"] else ""
    return f"{one['mark']} {one['component']}, {one['condition'].lower()}{measured}{note}"


def _deadline_words(facts: dict[str, Any], say: Words) -> str:
    """How the last day was counted, and that it has passed where it has."""
    last, terms = facts["deadline"], facts["terms"]
    if not last["day"]:
        return say("the distributor's filing time is not recorded")
    days = terms["filing_days"]
    counted = say.counted(
        "{days} day after the repair of {day}; that day itself is not counted",
        "{days} days after the repair of {day}; that day itself is not counted",
        days,
    ).format(days=days, day=spoken(facts["repaired_on"], say))
    return f"{counted}. {last['late_words']}" if last["late_words"] else counted
