"""The labour of a claim: the time of the set of operations by the distributor's own rounding, its limits, three times.

Never the sum of the operations: a work step that two of them share is asked for once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from orders.models import Job, JobLabour, TimeEntry
from orders.rules.clocked import ThreeTimes, limited, most_paid
from orders.rules.labour import Rounding
from orders.services.labour_sets import set_time, shop_steps, standard
from shopdocs.documents.press.words import Say, Words
from warranty.models import DistributorTerms

TENTHS = Decimal(10)
GUIDE = DistributorTerms.TimeBasis.GUIDE
CLOCKED = DistributorTerms.TimeBasis.CLOCKED
ALLOWED = DistributorTerms.TimeBasis.ALLOWED


@dataclass(frozen=True)
class LabourLine:
    """One line of labour in tenths of an hour, and how the time was come by."""

    code: str
    words: str
    tenths: int
    basis: str


@dataclass(frozen=True)
class Labour:
    """The lines, and the tenths that are asked for in all. `times`: guide, allowed and clocked, with what that says."""

    lines: list[LabourLine]
    tenths: int
    times: ThreeTimes


def tenths_of(hours: Decimal) -> int:
    """Hours as tenths, half up."""
    return int((hours * TENTHS).quantize(Decimal(1), rounding=ROUND_HALF_UP))


def clocked_tenths(entries: Sequence[TimeEntry]) -> int:
    """All closed entries together in tenths of an hour, rounded half up once, over the job."""
    seconds = sum(int((e.ended_at - e.started_at).total_seconds()) for e in entries if e.ended_at is not None)
    return int((Decimal(seconds) / 360).quantize(Decimal(1), rounding=ROUND_HALF_UP))


def claimed_labour(job: Job, terms: DistributorTerms | None, say: Words) -> Labour:
    """By the time that the distributor pays: guide (as a set), what it allowed for this job, or the clock."""
    rows = sorted(job.labour.all(), key=lambda row: (row.created_at, str(row.pk)))
    basis = terms.time_basis if terms else ""
    guide = _guide_lines(rows, terms, say)
    in_guide = sum(line.tenths for line in guide)
    clock = clocked_tenths(list(job.time_entries.all()))
    times = ThreeTimes(_hours(in_guide), job.allowed_hours, _hours(clock) if clock else None)
    words = "; ".join(row.words for row in rows) or job.title
    if basis == CLOCKED:
        return Labour([LabourLine("", words, clock, say("time clocked on the job"))], clock, times)
    if basis == ALLOWED and job.allowed_hours is not None:
        allowed = tenths_of(job.allowed_hours)
        return Labour([LabourLine("", words, allowed, say("time the distributor allows"))], allowed, times)
    return Labour(guide, in_guide, times)


def _hours(tenths: int) -> Decimal:
    return Decimal(tenths) / TENTHS


def _guide_lines(rows: list[JobLabour], terms: DistributorTerms | None, say: Words) -> list[LabourLine]:
    """Each row with its part of the set, diagnosis within the distributor's limit."""
    lines = standard(rows)
    steps = shop_steps(rows[0].shop) if any(line.operation and line.operation.steps for line in lines) else {}
    time = set_time(lines, Rounding(terms.distributor.labour_rounding) if terms else Rounding.HALF_UP, steps)
    counted = {}
    if time is not None:
        counted = {line.pk: one for line, one in zip(lines, time.operations, strict=True)}
    left = terms.diagnosis_limit if terms else None
    found = []
    for row in rows:
        hours, told = row.hours, [_basis(row, say)]
        part = counted.get(row.pk)
        if part is not None and part.counted != hours:
            hours = part.counted
            alone = say("{hours} h by itself, the rest is shared with the other work")
            told.append(alone.format(hours=f"{row.hours:f}"))
        if row.is_diagnosis and left is not None:
            paid, cut = limited(hours, left)
            if cut:
                told.append(most_paid(hours, left).said(say))
            hours, left = paid, left - paid
        found.append(LabourLine(row.code, row.words, tenths_of(hours), "; ".join(told)))
    return found


def in_guide(row: JobLabour) -> bool:
    """Whether the row stands in a guide."""
    return bool(row.operation_id or row.code)


def _basis(row: JobLabour, say: Say) -> str:
    if row.operation is not None:
        return say("guide time ({source})").format(source=say(row.operation.source))
    return say("guide time") if row.code else say("the shop's own time, in no guide")
