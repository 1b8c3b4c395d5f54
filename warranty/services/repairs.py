"""What this shop did to its units before: the engine's repair facts, out of the shop's own history."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any
from uuid import UUID

from orders.models import Job, RepairOrder, Unit
from shopdocs.shops.models import Shop
from warranty.coverage.facts import RepairFacts
from warranty.models import CoverageDecision

from .decision_words import carrying_term, frozen_record

BASIS = "coverage_decision"
Told = Mapping[str, Mapping[str, Any]]
NOTHING: Told = {}


def earlier_repairs(
    *, shop: Shop, units: Sequence[Unit], as_of: dt.date, but: RepairOrder | None = None, told: Told = NOTHING
) -> dict[UUID, tuple[RepairFacts, ...]]:
    """Jobs done on these units until that day, oldest first, by unit; those of the order `but` left out.

    `told` is what somebody found out about some of them, by the job's id; it goes before what the job tells. A unit without
    any is not in the answer. Takes a fixed number of queries.
    """
    rows = Job.objects.for_shop(shop).filter(order__unit__in=units, state=Job.State.DONE, finished_at__isnull=False)
    if but is not None:
        rows = rows.exclude(order=but)
    jobs = rows.select_related("order__reading").prefetch_related("findings", "parts__part__maker")
    kept = [(shop.local(job.finished_at).date(), job) for job in jobs.order_by("finished_at", "pk") if job.finished_at]
    kept = [(day, job) for day, job in kept if day <= as_of]
    paid = _terms_that_paid(shop, [job.basis_id for _, job in kept if job.basis_kind == BASIS])
    found: dict[UUID, tuple[RepairFacts, ...]] = {}
    for day, job in kept:
        repair = with_told(_repair(day, job, paid), told.get(str(job.pk), {}))
        found[job.order.unit_id] = (*found.get(job.order.unit_id, ()), repair)
    return found


def with_told(repair: RepairFacts, told: Mapping[str, Any]) -> RepairFacts:
    """The repair with what somebody found out about it, as circumstances hold it."""
    new = dict(told)
    if "hours" in new:
        new["hours"] = Decimal(new["hours"])
    return replace(repair, **new)


def _terms_that_paid(shop: Shop, ids: list[str]) -> dict[str, str | None]:
    if not ids:
        return {}
    rows = CoverageDecision.objects.for_shop(shop).filter(pk__in=ids)
    tried = {str(row.pk): carrying_term(frozen_record(row)) for row in rows}
    return {pk: term["term"] if term else None for pk, term in tried.items()}


def _repair(day: dt.date, job: Job, paid: dict[str, str | None]) -> RepairFacts:
    parts = [part for part in job.parts.all() if part.fitted_at is not None]
    codes = {one.component for one in job.findings.all()} | {p.part.component for p in parts if p.part is not None}
    makers = {p.part.maker.name for p in parts if p.part is not None and p.part.maker is not None}
    under = "" if job.payer != Job.Payer.WARRANTY else paid.get(job.basis_id)
    return RepairFacts(
        day=day, components=tuple(sorted(code for code in codes if code)), done_by="this_shop",
        hours=job.order.reading.hours if job.order.reading else None, under=under,
        part_maker=makers.pop() if len(makers) == 1 else None, new_part=bool(parts),
    )  # fmt: skip
