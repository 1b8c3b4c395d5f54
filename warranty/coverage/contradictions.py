"""Facts that cannot all be true. They are named as warnings; only those that make judging impossible stop an answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal

from warranty.coverage.case import total_hours
from warranty.coverage.facts import ON_THE_LABEL, FindingFacts, UnitFacts
from warranty.evidence.contradictions import set_up_parts, too_soon_for_wear

USED_BEFORE = ("demonstrator", "ex_rental")  # run before its sale, which then says nothing about its wear


def contradictions(
    unit: UnitFacts,
    findings: Sequence[FindingFacts],
    as_of: date,
    all_findings: Mapping[str, FindingFacts] | None = None,
) -> tuple[str, ...]:
    """Codes of contradictions of the unit and of these findings, sorted; empty when all fits together.

    `all_findings` are those of the whole order, when `findings` is only a part of it.
    """
    found = set(_of_unit(unit, as_of))
    by_id = all_findings if all_findings is not None else {finding.id: finding for finding in findings}
    for finding in findings:
        found.update(_of_finding(unit, finding, by_id, as_of))
    return tuple(sorted(found))


def _of_unit(unit: UnitFacts, as_of: date) -> list[str]:
    found: list[str] = []
    build, sold, served = unit.build_date, unit.sold_on, unit.first_service_on
    if sold is not None and sold > as_of:
        found.append("sold_in_the_future")
    if build is not None and sold is not None and build > sold:
        found.append("built_after_it_was_sold")
    if sold is not None and served is not None and unit.sale_kind in ("new", "floor_stock") and served < sold:
        found.append("used_before_it_was_sold_new")
    if unit.registered and unit.registered_on is not None and sold is not None and unit.registered_on < sold:
        found.append("registered_before_it_was_sold")
    if unit.hour_meter is False and unit.hours is not None:
        found.append("hours_without_a_meter")
    if _ran_backwards(unit):
        found.append("meter_ran_backwards")
    if unit.modified is False and unit.other_parts is True:
        found.append("other_parts_but_not_modified")
    if any(
        one.label_read is False and any(getattr(one, fact) is not None for fact in ON_THE_LABEL)
        for one in unit.assemblies
    ):
        found.append("label_told_but_not_read")
    return found


def _ran_backwards(unit: UnitFacts) -> bool:
    """Whether a meter shows less than when it was fitted. What the next one shows when fitted has no bound: it may be a used one."""
    began = Decimal(0)
    for change in sorted(unit.meter_changes or (), key=lambda one: one.day):
        if change.removed_at is not None and change.removed_at < began:
            return True
        began = change.fitted_at
    return unit.hours is not None and unit.hours < began


def new_since(unit: UnitFacts) -> date | None:
    """The day since which it has been its first owner's, to use: of the sale, or of a delivery later than that; None where neither is known.

    A machine first used before it was delivered, and a delivery to a later owner, leave it at the sale.
    """
    sold, delivered, served = unit.sold_on, unit.delivered_on, unit.first_service_on
    if sold is None or delivered is None:
        return sold or (delivered if unit.owner != "later" else None)
    used_before = served is not None and served < delivered
    return sold if used_before or unit.owner == "later" else max(sold, delivered)


def days_in_use(unit: UnitFacts, day: date) -> int | None:
    """For how many days its first owner had had it; None where that says nothing of its wear, or is not known."""
    since = None if unit.sale_kind in USED_BEFORE else new_since(unit)
    return None if since is None else (day - since).days


def _of_finding(unit: UnitFacts, finding: FindingFacts, by_id: Mapping[str, FindingFacts], as_of: date) -> list[str]:
    found: list[str] = []
    day = finding.found_on or as_of
    if finding.cause == "wear" and too_soon_for_wear(days_in_use(unit, day), total_hours(unit)[0]):
        found.append("worn_though_new")
    sealed = finding.never_opened and finding.component not in set_up_parts()
    if sealed and finding.cause == "assembly":
        found.append("never_opened_but_wrongly_assembled")
    if finding.cause == "modification" and unit.modified is False:
        found.append("modified_though_said_not_to_be")
    if unit.sold_on is not None and day < unit.sold_on and unit.sale_kind == "new":
        found.append("found_before_it_was_sold")
    if finding.cause == "normal" and finding.caused_by in by_id:
        found.append("normal_but_caused")
    if finding.condition == "ok" and finding.cause not in (None, "normal", "unknown"):
        found.append("in_order_but_with_a_cause")
    return found
