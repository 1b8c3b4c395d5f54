"""Plans and campaigns of a unit: recorded under the codes that terms of the shop ask for, and handed to the engine."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import Unit
from orders.services.records import given_in_address, store, taken
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, save_changes
from warranty.models import CampaignMark, KnownDefectRecord, MakerTerm, PlanHeld

DAYS: dict[type[PlanHeld] | type[CampaignMark], tuple[str, str, str]] = {
    PlanHeld: ("plan", "held", "bought_on"), CampaignMark: ("campaign", "done", "done_on"),
}  # fmt: skip
"""Of each record: its kind, the field that says yes or no, and the field of its day."""


def plans_known(unit: Any, day: dt.date) -> dict[str, bool]:
    """Whether each plan that somebody looked for is held on that day. One bought later was not."""
    return {row.code: row.held and (row.bought_on is None or row.bought_on <= day) for row in unit.plans_held.all()}


def campaigns_known(unit: Any, day: dt.date) -> dict[str, bool]:
    """Whether each campaign that somebody looked up was done by that day."""
    return {row.code: row.done and (row.done_on is None or row.done_on <= day) for row in unit.campaign_marks.all()}


def codes_of_terms(shop: Shop, kind: str) -> list[str]:
    """The codes of 'plan' or 'campaign' that some term (or, of campaigns, a known defect) of the shop names, sorted."""
    terms = MakerTerm.objects.for_shop(shop).values_list(f"term__requires__{kind}", flat=True)
    found = {code for code in terms if isinstance(code, str)}
    if kind == "campaign":
        found |= _codes_of_known_defects(shop)
    return sorted(found)


def _codes_of_known_defects(shop: Shop) -> set[str]:
    """Campaigns that known defects name, and the code under which each that is once per unit is done (`KnownDefect.done_as`)."""
    rows = KnownDefectRecord.objects.for_shop(shop).values_list(
        "pattern__campaign", "pattern__bulletin", "pattern__id", "pattern__once_per_unit"
    )
    codes = (campaign or (bulletin or own if once else "") for campaign, bulletin, own, once in rows)
    return {code for code in codes if code}


def known_to_terms(shop: Shop, kind: str, code: str, field: str) -> None:
    """Refuses a code that no term of the shop asks for: a slip of the pen would settle nothing, and nobody would see it."""
    known = codes_of_terms(shop, kind)
    if code not in known:
        there = f"Known are: {', '.join(known[:20])}." if known else f"No term of your shop asks for a {kind} yet."
        raise Refused(
            field, f"No term of your shop asks for the {kind} '{code[:60]}'.",
            f"{there} Record the {kind}'s term first (terms/), or correct the code.",
        )  # fmt: skip


@transaction.atomic
def record_plan(*, shop: Shop, by: Staff, unit_id: UUID, code: str, held: bool, **facts: Any) -> PlanHeld:
    """Says whether a plan is held on a unit; `bought_on`, `number`, `note`. Conflict where it is said already."""
    return _record(PlanHeld, shop, by, unit_id, code, {"held": held, **facts})


@transaction.atomic
def record_campaign(*, shop: Shop, by: Staff, unit_id: UUID, code: str, done: bool, **facts: Any) -> CampaignMark:
    """Says whether a campaign was done on a unit; `done_on`, `number`, `note`. Conflict where it is said already."""
    return _record(CampaignMark, shop, by, unit_id, code, {"done": done, **facts})


def _record(model: Any, shop: Shop, by: Staff, unit_id: UUID, code: str, facts: dict[str, Any]) -> Any:
    unit = given_in_address(Unit, shop=shop, pk=unit_id, lock=True)
    kind = DAYS[model][0]
    known_to_terms(shop, kind, code, "code")
    row = model(shop=shop, unit=unit, code=code, by=by.user, **facts)
    _refuse_impossible(row, shop.today())
    there = model.objects.for_shop(shop).filter(unit=unit, code=code).first()
    if there is not None:
        raise taken(
            "code",
            f"The {kind} '{code}' is recorded on this unit already.",
            "Change that record.",
            record=str(there.pk),
        )
    store(row, clash=lambda: Conflict("code", f"The {kind} '{code}' was just recorded.", "Read the unit's list again."))
    record_event(shop=shop, subject=f"unit:{unit.pk}", verb=f"{kind} recorded", by=by, words=_words(row))
    return row


@transaction.atomic
def change_entry(*, shop: Shop, by: Staff, row: Any, version: int, changes: Mapping[str, Any]) -> Any:
    """Changes what is known of a plan or campaign, read at `version`. Decisions already made keep what they knew."""
    kind, _, _ = DAYS[type(row)]
    before = {name: str(getattr(row, name)) for name in changes}
    for name, value in changes.items():
        setattr(row, name, value)
    _refuse_impossible(row, shop.today())
    saved = save_changes(row, version=version, changes=dict(changes))
    record_event(
        shop=shop,
        subject=f"unit:{row.unit_id}",
        verb=f"{kind} changed",
        by=by,
        words=_words(saved),
        facts={"before": before},
    )
    return saved


def _words(row: Any) -> str:
    _, flag, _ = DAYS[type(row)]
    return f"{row.code}: {'' if getattr(row, flag) else 'not '}{flag}"


def _refuse_impossible(row: Any, today: dt.date) -> None:
    _, flag, field = DAYS[type(row)]
    day: dt.date | None = getattr(row, field)
    if day is None:
        return
    if not getattr(row, flag):
        raise Refused(
            field, f"It is said not to be {flag}, and yet on which day.", "Leave the day out, or correct the other."
        )
    if day > today:
        raise Refused(field, f"{day} has not come yet; today is {today}.", "Correct the date.")
    built = row.unit.build_date
    if built is not None and day < built:
        raise Refused(field, f"{day} is before the build date ({built}).", "Correct one of the two dates.")
