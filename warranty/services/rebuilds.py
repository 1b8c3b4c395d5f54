"""The record that the rebuild of an engine leaves: whether it is owed, what it lacks, and keeping it (40 CFR 1068.120)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction

from orders.models import Assembly, Job, RepairOrder
from orders.services.reach import lock_order
from shopdocs.rest.refusals import Conflict, Refused, Stale
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, save_changes
from warranty.coverage.operations import Duty, duties
from warranty.models import RebuildRecord

TEXTS = ("work", "parts", "adjustments", "codes")
LACKS = {
    "hours": "the hours at the rebuild; about how many, where the engine has no meter",
    "work": "the work done on the engine and on its emission controls",
    "parts": "the parts and components used",
    "adjustments": "the settings made, or that none was needed",
    "codes": "the codes answered and reset, or that the engine stores none",
}
"""What the record has to contain, by field: 1068.120(j)(1) to (4)."""
FETCHED = ("labour__operation", "parts__part", "order__unit__assemblies")


@dataclass(frozen=True)
class Standing:
    """How a job stands to the duty. `duty` None: it owes no record. `lacking` names what the record still lacks, in words."""

    job: Job
    duty: Duty | None
    record: RebuildRecord | None
    lacking: dict[str, str]
    keep_until: dt.date | None

    @property
    def owed(self) -> bool:
        """Whether something is still to be written down."""
        return self.duty is not None and bool(self.lacking)


def rebuild_standing(job: Job) -> Standing:
    """The duty of a job by the work on it, and how far its record is."""
    record = RebuildRecord.objects.for_shop(job.shop).filter(job=job).first()
    duty = _duty(job)
    until = None
    if duty is not None and job.finished_at is not None:
        done = job.shop.local(job.finished_at).date()
        until = _years_on(done, duty.keep_years)
    return Standing(job, duty, record, lacking(record), until)


def lacking(record: RebuildRecord | None) -> dict[str, str]:
    """What the record has to contain and does not yet, by field, in words."""
    if record is None:
        return dict(LACKS)
    found = {name: LACKS[name] for name in TEXTS if not getattr(record, name).strip()}
    return ({"hours": LACKS["hours"]} if record.hours is None else {}) | found


def _years_on(day: dt.date, years: int) -> dt.date:
    """The same day some years later; of 29 February the 1 March, so that the record is kept no day too short."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return day.replace(year=day.year + years, month=3, day=1)


def _duty(job: Job) -> Duty | None:
    unit = job.order.unit
    engine: Assembly | None = next((one for one in unit.assemblies.all() if one.role == "engine"), None)
    if engine is not None and engine.label_read and engine.emission_rule == "none":
        return None  # the section speaks of engines that are subject to the part
    size = engine.displacement_cc if engine is not None and engine.displacement_cc is not None else None
    power = None if unit.power_source == "unknown" else unit.power_source
    found = duties(work_of(job), power, unit.model.displacement_cc if size is None else size)
    return found[0] if found else None


def work_of(job: Job) -> set[tuple[str, str]]:
    """What was done to which components: by the labour lines, and by the parts that were fitted."""
    done = {(line.action, component) for line in job.labour.all() if line.action for component in line.components}
    fitted = {part.part.component for part in job.parts.all() if part.fitted_at is not None and part.part is not None}
    return done | {("replace", component) for component in fitted if component}


@transaction.atomic
def record_rebuild(*, shop: Shop, by: Staff, job: Job, version: int, changes: Mapping[str, Any]) -> RebuildRecord:
    """Writes the record of a job, read at `version` (0: there was none), part by part; it may be completed later.

    Raises Conflict for a job that is not done at all, Refused for hours below zero.
    """
    locked = lock_order(shop, job.order_id)
    if job.state in (Job.State.STRUCK, Job.State.DECLINED):
        raise Conflict(
            "job",
            f"Job {job.number} is {job.get_state_display()}: nothing was rebuilt.",
            "Record it at the job that was done.",
        )
    if not changes:
        raise Refused("", "Nothing is to be recorded.", "Send at least one part of the record.")
    hours: Decimal | None = changes.get("hours")
    if hours is not None and hours < 0:
        raise Refused("hours", "The hours are below zero.", "Send the hours run at the rebuild.")
    record = RebuildRecord.objects.for_shop(shop).filter(job=job).first()
    if record is None:
        saved = _first(shop, by, job, version, changes)
    else:
        saved = save_changes(record, version=version, changes={**changes, "by": by.user})
    record_event(
        shop=shop, subject=job.subject, verb="rebuild recorded", by=by, words=", ".join(sorted(changes)),
        facts={"order": locked.number, "lacking": sorted(lacking(saved))},
    )  # fmt: skip
    return saved


def _first(shop: Shop, by: Staff, job: Job, version: int, changes: Mapping[str, Any]) -> RebuildRecord:
    if version != 0:
        raise Stale(current_version=0, changed={})
    try:
        with transaction.atomic():
            made: RebuildRecord = RebuildRecord.objects.create(shop=shop, job=job, by=by.user, **changes)
    except IntegrityError as error:  # the order is locked, so only a writer that went past it comes here
        raise Stale(current_version=1, changed={}) from error
    return made


def standings(order: RepairOrder) -> list[Standing]:
    """The jobs of an order that owe a record of a rebuild, or have one, by number."""
    rows = Job.objects.for_shop(order.shop).filter(order=order)
    rows = rows.select_related("shop", "order__unit__model").prefetch_related(*FETCHED).order_by("number")
    found = [rebuild_standing(job) for job in rows if job.state not in (Job.State.STRUCK, Job.State.DECLINED)]
    return [one for one in found if one.duty is not None or one.record is not None]


def rebuild_duties(job: Job) -> list[dict[str, Any]]:
    """What orders passes on when a job is done: the record that is owed, and where it is written."""
    standing = rebuild_standing(job)
    if not standing.owed or standing.duty is None:
        return []
    return [
        {
            "rule": standing.duty.rule, "says": says(standing.duty), "source": standing.duty.source,
            "lacking": list(standing.lacking.values()), "at": f"/api/v1/jobs/{job.pk}/rebuild-record/",
        }
    ]  # fmt: skip


DOUBTS = {
    "": "",
    "displacement": " The engine's size is not known: it is owed from 225 cc on, and below that for no spark-ignition engine. Keep it to be safe.",
    "power": " What drives the engine is not known: below 225 cc it is owed for a diesel, and for no spark-ignition engine. Keep it to be safe.",
    "extent": " Whether this is so much work as a rebuild is yours to judge: it is, where it lengthens the engine's service life a great deal.",
}


def says(duty: Duty) -> str:
    """The duty in words, with the doubt where there is one."""
    words = f"{duty.says[:1].upper()}{duty.says[1:]}, for at least {duty.keep_years} years."
    return words + DOUBTS[duty.doubt]
