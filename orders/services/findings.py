"""Findings: what a technician saw, checked against the words of the trade; an unsafe one holds the unit."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from orders.models import Assembly, Check, Finding, Job, RepairOrder
from orders.rules import points, trade, units
from shopdocs.rest.refusals import Conflict, Problem, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, refuse_no_change, save_changes

from .catalogue import UNKNOWN_POWER
from .holds import FOUND_LATE, hold_for
from .orders import order_to_change
from .reach import further_work, lock_order
from .records import given_in_address, given_in_body, known_code
from .scope import settle

Facts = Mapping[str, Any]
OPEN_JOBS = (str(Job.State.PROPOSED), str(Job.State.AGREED))


@transaction.atomic
def create_finding(*, shop: Shop, by: Staff, order_id: UUID, facts: Facts) -> Finding:
    """Records a finding; fields as in the model, `assembly` and `caused_by` as ids.

    Unsafe by the rules, or marked so by the technician, it places a hold in the same moment. What is unsafe is taken until
    the unit leaves, the work finished or not; anything else needs an open order.
    """
    order = lock_order(shop, order_id)
    finished = order.state == RepairOrder.State.FINISHED
    if not finished:
        order = order_to_change(shop=shop, pk=order_id)
    last = Finding.objects.for_shop(shop).filter(order=order).aggregate(last=Max("number"))["last"] or 0
    finding = Finding(shop=shop, order=order, number=last + 1, by=by.user, found_on=shop.today())
    _fill(finding, _records(shop, order, facts))
    _check_words(finding)
    _check_fit(finding)
    _check_chain(finding)
    _check_day(finding, shop.today())
    finding.unsafe = finding.unsafe or trade.unsafe(finding.component, finding.condition)
    if finished and not finding.unsafe:
        raise Conflict(
            "state",
            f"{order.number} is {order.get_state_display()}; only what makes the unit unsafe is still recorded here.",
            f"Mark the finding unsafe if it is. {further_work(order)}",
        )
    finding.save(force_insert=True)
    if finding.point and not finished:  # the checks of finished work stay as they were sent
        _mark_point(finding, by)
    late = f", {FOUND_LATE}" if finished else ""
    record_event(shop=shop, subject=order.subject, verb="finding recorded", words=_words(finding) + late, by=by)
    if finding.unsafe:
        hold_for(shop=shop, by=by, finding=finding)
    return finding


@transaction.atomic
def update_finding(*, shop: Shop, by: Staff, pk: UUID, version: int, changes: Facts, reason: str = "") -> Finding:
    """Changes a finding of an open order, or one that was found after the work was finished. An unsafe one becomes harmless only with a `reason`, which the history keeps;
    even that releases no hold: that needs a signed note.

    Where a customer agreed to a job on the ground of what it said, the job waits for a new answer.
    """
    finding = given_in_address(Finding, shop=shop, pk=pk)
    order = lock_order(shop, finding.order_id)
    if order.state != RepairOrder.State.FINISHED or not finding.after_finish:
        order = order_to_change(shop=shop, pk=finding.order_id)
    finding.refresh_from_db()
    if not changes:
        remedy = "Send what is to be changed beside the reason."
        refuse_no_change(finding, version=version, fields=("component", "condition", "cause", "unsafe"), remedy=remedy)
    before = {name: str(getattr(finding, name)) for name in changes}
    said, was = (finding.component, finding.condition), finding.unsafe
    changed = _records(shop, order, changes)
    _fill(finding, changed)
    _check_words(finding)
    if "component" in changes:  # after a correction of the unit an old component may stand; a warning says so
        _check_fit(finding)
    _check_chain(finding)
    _check_day(finding, shop.today())
    by_rule = trade.unsafe(finding.component, finding.condition)
    if by_rule and changes.get("unsafe") is False:
        raise Refused(
            "unsafe",
            f"{finding.component} that is '{finding.condition}' is unsafe by the trade's own rule, whatever is said beside it.",
            "Correct component or condition if they are wrong; once it is mended, release the hold with a signed note.",
        )
    finding.unsafe = changed["unsafe"] = finding.unsafe or by_rule
    if was and not finding.unsafe and not reason.strip():
        raise Refused("reason", "An unsafe finding is called harmless without a reason.", "Say why it is harmless.")
    saved = save_changes(finding, version=version, changes=changed)
    facts = {"before": before} | ({"reason": reason.strip()} if reason.strip() else {})
    record_event(shop=shop, subject=order.subject, verb="finding changed", words=_words(saved), facts=facts, by=by)
    if saved.unsafe and (not was or said != (saved.component, saved.condition)):
        hold_for(shop=shop, by=by, finding=saved)
    _settle_jobs(saved, by)
    return saved


def _settle_jobs(finding: Finding, by: Staff) -> None:
    """A diagnosis that the customer read and agreed to, and that says something else now, is put to them again."""
    for job in Job.objects.for_shop(finding.shop).filter(findings=finding, state__in=OPEN_JOBS).order_by("number"):
        before = job.state
        if settle(job) != before:
            needs = ": needs a new version of the estimate" if job.state == Job.State.PROPOSED else ""
            words = f"finding {finding.number} (now {job.state}{needs})"
            record_event(shop=finding.shop, subject=job.subject, verb="finding changed", words=words, by=by)


def _fill(finding: Finding, facts: Facts) -> None:
    for name, value in facts.items():
        setattr(finding, name, value)


def _records(shop: Shop, order: RepairOrder, facts: Facts) -> dict[str, Any]:
    """The facts with `assembly` and `caused_by` as records of this unit and this order."""
    filled = dict(facts)
    if isinstance(filled.get("assembly"), UUID):
        filled["assembly"] = given_in_body(Assembly, shop=shop, pk=filled["assembly"], field="assembly")
        if filled["assembly"].unit_id != order.unit_id:
            raise Refused("assembly", "This assembly belongs to another unit.", "Name an assembly of the order's unit.")
    if isinstance(filled.get("caused_by"), UUID):
        filled["caused_by"] = given_in_body(Finding, shop=shop, pk=filled["caused_by"], field="caused_by")
        if filled["caused_by"].order_id != order.pk:
            raise Refused("caused_by", "That finding is of another order.", "Name a finding of the same order.")
    return filled


def _check_words(finding: Finding) -> None:
    known_code(trade.component, finding.component, field="component")
    known_code(trade.condition, finding.condition, field="condition")
    known_code(trade.cause, finding.cause, field="cause")
    unit = finding.order.unit
    if finding.point:
        if unit.power_source == UNKNOWN_POWER:
            raise Refused(
                "point", "The unit's power source is not known.", "Record it at the unit first, or leave the point out."
            )
        known_code(points.point_for, unit.model.family, unit.power_source, finding.point, field="point")
    if (finding.measured is None) != (finding.measured_unit == ""):
        field = "measured" if finding.measured is None else "measured_unit"
        raise Refused(
            field, "A measurement is a number and its unit.", "Send both 'measured' and 'measured_unit', or neither."
        )
    if finding.measured is not None:
        check_measurement(finding.measured, finding.measured_unit)


def _check_fit(finding: Finding) -> None:
    """Refuses a component that no unit of this family and power source has, with the list of those that it can have."""
    unit, part = finding.order.unit, trade.component(finding.component)
    fitting = [one.code for one in trade.components_for(unit.model.family, unit.power_source)]
    if part.code in fitting:
        return
    kind, power = trade.family(unit.model.family), trade.trade().powers.get(unit.power_source)
    lacks = f"A {kind.name}" if power is None or kind.code not in part.families else f"A unit driven by {power.name}"
    raise Refused(
        "component",
        f"{lacks} has no {part.name}.",
        f"Correct the unit's model or power source, or choose one of: {', '.join(fitting)}.",
    )


def check_measurement(value: Decimal, unit: str) -> None:
    """Refuses an unknown unit of measurement and a value that the unit cannot have."""
    known_code(units.measurement_unit, unit, field="measured_unit")
    try:
        units.measured(value, unit)
    except units.BadMeasurement as error:
        words = str(error)
        raise Refused("measured", f"{words[:1].upper()}{words[1:]}.", "Correct the value or its unit.") from error


def _check_chain(finding: Finding) -> None:
    """Follows 'caused by' to its root; refuses a chain that comes back to where it began."""
    numbers, at = [finding.number], finding.caused_by
    while at is not None:
        numbers.append(at.number)
        if at.pk == finding.pk:
            circle = " <- ".join(str(number) for number in numbers)
            raise Refused(
                "caused_by",
                f"Findings would cause each other in a circle: {circle}.",
                "Name the finding that came first.",
            )
        at = at.caused_by


def _check_day(finding: Finding, today: dt.date) -> None:
    problem = ""
    if finding.found_on > today:
        problem = f"{finding.found_on} lies in the future; today is {today}."
    elif finding.found_on < finding.order.received_on:
        problem = f"{finding.found_on} is before the unit was received ({finding.order.received_on})."
    if problem:
        raise Refused(problems=[Problem("found_on", problem, "Correct the date.")])


def _mark_point(finding: Finding, by: Staff) -> None:
    """A finding at a point means that the point was looked at; a check that is there already stays as it is."""
    Check.objects.for_shop(finding.shop).get_or_create(
        order=finding.order,
        point=finding.point,
        defaults={"shop": finding.shop, "result": Check.Result.FOUND, "by": by.user},
    )


def _words(finding: Finding) -> str:
    part, seen = trade.component(finding.component), trade.condition(finding.condition)
    return f"{finding.number}: {part.name}, {seen.name}"
