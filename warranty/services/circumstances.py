"""Circumstances of an order: merged change by change, checked fact by fact, and handed to the engine."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import fields, replace
from typing import Any

from django.db import IntegrityError, transaction

from orders.models import Finding, Job, RepairOrder
from orders.services.reach import lock_order
from shopdocs.rest.refusals import Conflict, Problem, Refused, Stale
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, save_changes
from warranty.coverage.codec import unit_from
from warranty.coverage.facts import RepairFacts, UnitFacts
from warranty.models import Circumstances, Claim

from .circumstance_words import FINDING, UNIT, UPKEEP, Wrong, upkeep
from .plans import known_to_terms

Facts = dict[str, Any]
AS_THEY_ARE = frozenset(UNIT) - {
    "no_proof_can_be_had", "first_sold_on", "first_sale_kind", "repairs_elsewhere", "own_repairs",
}  # fmt: skip
KNOWN = frozenset(each.name for each in fields(UnitFacts))
assert AS_THEY_ARE <= KNOWN, "what is handed over by name is a fact of the engine"


def circumstances_of(order: RepairOrder) -> Circumstances | None:
    """What was found out for this order, None when nothing was."""
    found: Circumstances | None = Circumstances.objects.for_shop(order.shop).filter(order=order).first()
    return found


@transaction.atomic
def record_circumstances(
    *, shop: Shop, by: Staff, order: RepairOrder, version: int, changes: Mapping[str, Any]
) -> Circumstances:
    """Merges `changes` into the order's circumstances read at `version` (0: there were none); null clears a fact.

    `changes` holds facts of the machine by name, `upkeep` item by item, and `findings` by a finding's id. The order may be
    finished: a claim is decided later. From the moment a claim is filed Conflict names it. Raises Refused with every path.
    """
    locked = lock_order(shop, order.pk)
    _refuse_claimed(shop, locked)
    row = circumstances_of(locked)
    if not changes:
        if version != (row.version if row else 0):
            now = {"unit": row.unit, "findings": row.findings} if row else {}
            raise Stale(current_version=row.version if row else 0, changed=now)
        raise Refused("", "Nothing is to be changed.", "Send at least one fact beside the version.")
    before = {"unit": row.unit, "findings": row.findings} if row else {}
    unit, findings = merged(row, changes, _findings_of(locked), shop.today(), locked.unit.build_date)
    _refuse_other_jobs(locked, changes.get("own_repairs") or {})
    for name, kind in (("plans", "plan"), ("campaigns_done", "campaign")):
        for at, code in enumerate(changes.get(name) or ()):
            known_to_terms(shop, kind, code, f"{name}[{at}]")
    if row is None:
        saved = _first(shop, by, locked, version, unit, findings)
    else:
        saved = save_changes(row, version=version, changes={"unit": unit, "findings": findings, "by": by.user})
    record_event(
        shop=shop, subject=locked.subject, verb="circumstances recorded", by=by,
        words=", ".join(sorted(set(changes) - {"findings"} | {f"findings.{key}" for key in changes.get("findings") or {}})),
        facts={"before": before},
    )  # fmt: skip
    return saved


def claim_to_file(order: RepairOrder) -> bool:
    """Whether a job that a warranty pays was done, and no claim of it is under way."""
    under_way = Claim.objects.for_shop(order.shop).filter(job__order=order).exclude(state=Claim.State.CLOSED)
    jobs = Job.objects.for_shop(order.shop).filter(order=order, state=Job.State.DONE, payer=Job.Payer.WARRANTY)
    found: bool = jobs.exclude(pk__in=under_way.values("job")).exists()
    return found


def _refuse_claimed(shop: Shop, order: RepairOrder) -> None:
    claim = Claim.objects.for_shop(shop).filter(job__order=order).exclude(state=Claim.State.CLOSED).first()
    if claim is not None:
        raise Conflict(
            "order", f"Claim {claim.number} of this order was filed on these facts.",
            "Answer the distributor there; to claim anew, close that claim with a note first.",
        )  # fmt: skip
    if order.state == RepairOrder.State.GIVEN_BACK and not claim_to_file(order):
        raise Conflict(
            "order", f"{order.number} was given back, and no claim of it is to be filed: what was found out stays as it is.",
            "Check the machine in again, and record it there.",
        )  # fmt: skip


def _refuse_other_jobs(order: RepairOrder, told: Mapping[str, Any]) -> None:
    """Own repairs are jobs that this shop finished on this unit in an earlier visit."""
    rows = Job.objects.for_shop(order.shop).filter(order__unit=order.unit_id, state=Job.State.DONE).exclude(order=order)
    known = {str(pk) for pk in rows.values_list("pk", flat=True)} if told else set()
    problems = [
        Problem(
            f"own_repairs.{str(job)[:60]}",
            "This is no job that was done here on this machine in an earlier visit.",
            "Use the id of such a job; repairs by others go to repairs_elsewhere.",
        )
        for job in told
        if str(job) not in known
    ]
    if problems:
        raise Refused(problems=problems)


def _first(shop: Shop, by: Staff, order: RepairOrder, version: int, unit: Facts, findings: Facts) -> Circumstances:
    if version != 0:
        raise Stale(current_version=0, changed={})
    try:
        with transaction.atomic():
            made: Circumstances = Circumstances.objects.create(
                shop=shop, order=order, unit=unit, findings=findings, by=by.user
            )
    except IntegrityError as error:  # the order is locked, so only a writer that went past it comes here
        raise Stale(current_version=1, changed={}) from error
    return made


def _findings_of(order: RepairOrder) -> dict[str, Finding]:
    return {str(row.pk): row for row in Finding.objects.for_shop(order.shop).filter(order=order)}


def merged(
    row: Circumstances | None,
    changes: Mapping[str, Any],
    findings: Mapping[str, Finding],
    today: dt.date,
    built: dt.date | None,
) -> tuple[Facts, Facts]:
    """The facts after the change, as they are stored. Raises Refused with every wrong path at once."""
    problems: list[Problem] = []
    unit, per_finding = (deepcopy(row.unit), deepcopy(row.findings)) if row else ({}, {})
    for name, value in changes.items():
        try:
            if name == "findings":
                _merge_findings(per_finding, value, findings, problems)
            elif name == UPKEEP:
                _merge(unit.setdefault(UPKEEP, {}), {} if value is None else upkeep(value, UPKEEP))
                if value is None or not unit[UPKEEP]:
                    del unit[UPKEEP]
            elif name not in UNIT:
                raise Wrong(
                    str(name)[:60],
                    "This fact is not known here.",
                    f"Known are: {', '.join([*UNIT, UPKEEP, 'findings'])}.",
                )
            else:
                _merge(unit, {name: None if value is None else UNIT[name](value, name)})
        except Wrong as error:
            problems.append(error.problem)
    problems += _impossible(unit, today, built)
    if problems:
        raise Refused(problems=problems)
    return unit, {key: one for key, one in per_finding.items() if one}


def _merge(into: Facts, new: Mapping[str, Any]) -> None:
    for name, value in new.items():
        if value is None:
            into.pop(name, None)
        else:
            into[name] = value


def _merge_findings(into: Facts, given: Any, findings: Mapping[str, Finding], problems: list[Problem]) -> None:
    if not isinstance(given, Mapping):
        raise Wrong("findings", "This is no object.", "Send facts by the id of a finding.")
    for key, facts in given.items():
        path = f"findings.{str(key)[:60]}"
        try:
            if str(key) not in findings:
                raise Wrong(path, "This order has no such finding.", "Use the id of a finding of this order.")
            if facts is None:
                into.pop(str(key), None)
                continue
            if not isinstance(facts, Mapping):
                raise Wrong(path, "This is no object.", "Send names of facts with values.")
            _merge(
                into.setdefault(str(key), {}), {name: _of_finding(name, value, path) for name, value in facts.items()}
            )
            _fits(findings[str(key)], into[str(key)], path)
        except Wrong as error:
            problems.append(error.problem)


def _of_finding(name: Any, value: Any, path: str) -> Any:
    if name not in FINDING:
        raise Wrong(f"{path}.{str(name)[:60]}", "This fact is not known here.", f"Known are: {', '.join(FINDING)}.")
    return None if value is None else FINDING[name](value, f"{path}.{name}")


def _fits(finding: Finding, facts: Facts, path: str) -> None:
    """Facts that the finding itself contradicts."""
    if facts.get("stands_alone") and finding.caused_by_id is not None:
        raise Wrong(
            f"{path}.stands_alone", "The finding says that another one caused it.",
            "Take 'caused_by' off the finding first, or leave this out.",
        )  # fmt: skip
    if facts.get("belongs_to") and finding.assembly_id is not None:
        raise Wrong(
            f"{path}.belongs_to",
            "The finding names an assembly.",
            "Take the assembly off the finding first, or leave this out.",
        )


def _impossible(unit: Facts, today: dt.date, built: dt.date | None) -> list[Problem]:
    found = []
    days = [("first_sold_on", unit.get("first_sold_on"))]
    days += [(f"repairs_elsewhere[{at}].day", row["day"]) for at, row in enumerate(unit.get("repairs_elsewhere", []))]
    for path, day in days:
        if day is not None and dt.date.fromisoformat(day) > today:
            found.append(Problem(path, f"{day} has not come yet; today is {today}.", "Correct the date."))
    sold = unit.get("first_sold_on")
    if sold and built is not None and dt.date.fromisoformat(sold) < built:
        found.append(
            Problem(
                "first_sold_on", f"{sold} is before the unit's build date ({built}).", "Correct one of the two dates."
            )
        )
    if sold and unit.get("first_sale_kind") == "unsold":
        found.append(Problem("first_sale_kind", "It was sold, and it is unsold.", "Clear one of the two."))
    return found


def with_circumstances(facts: UnitFacts, unit: Mapping[str, Any], as_of: dt.date) -> UnitFacts:
    """The unit's facts with what was found out. What the shop's own records say of sale and proof goes first."""
    known = unit_from({name: value for name, value in unit.items() if name in AS_THEY_ARE or name == UPKEEP})
    new: dict[str, Any] = {name: getattr(known, name) for name in AS_THEY_ARE if name in unit}
    if UPKEEP in unit:
        new[UPKEEP] = known.upkeep
    if facts.registered_on is not None:
        new.pop("registered", None)  # a day of registration is on record
    if facts.sold_on is None and "first_sold_on" in unit:
        new["sold_on"] = dt.date.fromisoformat(unit["first_sold_on"])
    if facts.sale_kind is None and "first_sale_kind" in unit:
        new["sale_kind"] = unit["first_sale_kind"]
    if unit.get("no_proof_can_be_had") and facts.purchase_proof is None:
        new["purchase_proof"] = "none"
    if "repairs_elsewhere" in unit:
        new["repairs"] = _with_repairs(facts.repairs or (), unit["repairs_elsewhere"], as_of)
    return replace(facts, **new)


def _with_repairs(own: tuple[RepairFacts, ...], elsewhere: list[Facts], as_of: dt.date) -> tuple[RepairFacts, ...]:
    others = unit_from({"repairs": elsewhere}).repairs or ()
    return tuple(
        sorted((*own, *(one for one in others if one.day <= as_of)), key=lambda one: (one.day, one.components))
    )
