"""The labour of a claim: the time of the set of operations by the distributor's own rounding, its limits, three times.

Never the sum of the operations: a work step that two of them share is asked for once, and so is one that another claim
of the order has asked the distributor for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from orders.models import Job, JobLabour, TimeEntry
from orders.rules.clocked import ThreeTimes, limited, most_paid
from orders.rules.labour import Rounding
from orders.rules.labour_jobs import JobTime, JobWork, order_labour
from orders.rules.messages import IN_ENGLISH, told
from orders.services.labour_sets import job_work, shop_steps, standard
from orders.services.labour_together import frozen_work
from shopdocs.documents.press.words import Say, Words
from shopdocs.problems import BadInput
from shopdocs.rest.refusals import Refused
from warranty.models import DistributorTerms

from . import claim_hours
from .claim_beside import Asked

TENTHS = Decimal(10)
GUIDE = DistributorTerms.TimeBasis.GUIDE
CLOCKED = DistributorTerms.TimeBasis.CLOCKED
ALLOWED = DistributorTerms.TimeBasis.ALLOWED


@dataclass(frozen=True)
class LabourLine:
    """One line of labour in tenths of an hour, how the time was come by, and the figure that tells it."""

    code: str
    words: str
    tenths: int
    basis: str
    figure: str


@dataclass(frozen=True)
class Labour:
    """The lines, and the tenths that are asked for in all. `times`: guide, allowed and clocked, with what that says.

    `work`: what is asked for by the guide, frozen for claims that come after, and the claims that what it shares is left to;
    None where it is asked for otherwise.
    `left_out`: what another claim has asked for, in words. `figures`: how the hours came about.
    """

    lines: list[LabourLine]
    tenths: int
    times: ThreeTimes
    figures: list[dict[str, Any]]
    work: dict[str, Any] | None = None
    left_out: str = ""


def tenths_of(hours: Decimal) -> int:
    """Hours as tenths, half up."""
    return int((hours * TENTHS).quantize(Decimal(1), rounding=ROUND_HALF_UP))


def clocked_tenths(entries: Sequence[TimeEntry]) -> int:
    """All closed entries together in tenths of an hour, rounded half up once, over the job."""
    seconds = sum(int((e.ended_at - e.started_at).total_seconds()) for e in entries if e.ended_at is not None)
    return int((Decimal(seconds) / 360).quantize(Decimal(1), rounding=ROUND_HALF_UP))


def claimed_labour(job: Job, terms: DistributorTerms | None, say: Words, asked: Sequence[Asked] = ()) -> Labour:
    """By the time that the distributor pays: guide (as a set), what it allowed for this job, or the clock.

    Of guide time, what other claims have `asked` for is left out.
    """
    rows = sorted(job.labour.all(), key=lambda row: (row.created_at, str(row.pk)))
    basis = terms.time_basis if terms else ""
    entries = list(job.time_entries.all())
    work, set_times = _guide_time(rows, terms, asked)
    guide = _guide_lines(rows, terms, set_times[-1], say)
    in_guide = sum(line.tenths for line in guide)
    clock = clocked_tenths(entries)
    times = ThreeTimes(_hours(in_guide), job.allowed_hours, _hours(clock) if clock else None)
    words = "; ".join(row.words for row in rows) or job.title
    if basis == CLOCKED and terms is not None:
        line = LabourLine("", words, clock, say("time clocked on the job"), claim_hours.CLOCK)
        return _labour([line], times, claim_hours.clocked_figures(job.shop, entries, clock, terms))
    if basis == ALLOWED and terms is not None and job.allowed_hours is not None:
        allowed = tenths_of(job.allowed_hours)
        line = LabourLine("", words, allowed, say("time the distributor allows"), claim_hours.ALLOWED)
        return _labour([line], times, claim_hours.allowed_figures(job, _hours(allowed), terms))
    frozen = {**frozen_work(work), "left_to": [asked[number].claim for number in set_times[-1].shared]}
    told = claim_hours.guide_figures(
        [(row, line.tenths, _basis(row, IN_ENGLISH)) for row, line in zip(rows, guide, strict=True)],
        set_times, [one.claim for one in asked], terms,
    )  # fmt: skip
    return replace(_labour(guide, times, told), work=frozen, left_out=_left_out(set_times[-1], asked, say))


def _labour(lines: list[LabourLine], times: ThreeTimes, told: list[dict[str, Any]]) -> Labour:
    in_all = claim_hours.in_all([(line.figure, line.words, line.tenths) for line in lines])
    return Labour(lines, sum(line.tenths for line in lines), times, [*told, in_all])


def _hours(tenths: int) -> Decimal:
    return Decimal(tenths) / TENTHS


def _guide_time(
    rows: list[JobLabour], terms: DistributorTerms | None, asked: Sequence[Asked]
) -> tuple[JobWork, tuple[JobTime, ...]]:
    """The rows that stand in the guide as a set; the times of those that were asked for before, and its own after them."""
    lines = standard(rows)
    steps = shop_steps(rows[0].shop) if any(line.operation and line.operation.steps for line in lines) else {}
    rounding = Rounding(terms.distributor.labour_rounding) if terms else Rounding.HALF_UP
    try:
        work = job_work(len(asked), lines, steps)
        return work, order_labour([*(one.work for one in asked), work], rounding)
    except BadInput as bad:
        raise Refused(bad.field, bad.problem, bad.remedy) from bad


def _left_out(time: JobTime, asked: Sequence[Asked], say: Words) -> str:
    """'0.3 h left out: cover off once, asked for with claim C-1001'; '' where nothing is."""
    if time.saved <= 0:
        return ""
    with_claim = say("{reasons}, asked for with claim {claim}")
    why = [
        with_claim.format(reasons=told(shared, say, ", "), claim=asked[number].claim)
        for number, shared in time.shared.items()
    ]
    because = "; ".join(why) or say("rounded once with the claims before")
    return say("{hours} h left out: {reasons}").format(hours=time.saved, reasons=because)


def _guide_lines(rows: list[JobLabour], terms: DistributorTerms | None, time: JobTime, say: Words) -> list[LabourLine]:
    """Each row with its part of the set, diagnosis within the distributor's limit."""
    left = terms.diagnosis_limit if terms else None
    found = []
    for row in rows:
        hours, told = time.parts.get(str(row.pk), row.hours), [_basis(row, say)]
        if hours != row.hours:
            alone = say("{hours} h by itself, the rest is shared with the other work")
            told.append(alone.format(hours=f"{row.hours:f}"))
        if row.is_diagnosis and left is not None:
            paid, cut = limited(hours, left)
            if cut:
                told.append(most_paid(hours, left).said(say))
            hours, left = paid, left - paid
        found.append(LabourLine(row.code, row.words, tenths_of(hours), "; ".join(told), claim_hours.name_of(row)))
    return found


def in_guide(row: JobLabour) -> bool:
    """Whether the row stands in a guide."""
    return bool(row.operation_id or row.code)


def _basis(row: JobLabour, say: Say) -> str:
    if row.operation is not None:
        return say("guide time ({source})").format(source=say(row.operation.source))
    return say("guide time") if row.code else say("the shop's own time, in no guide")
