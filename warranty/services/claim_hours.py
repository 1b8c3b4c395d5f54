"""How the hours that a claim asks for came about: work steps, what other claims asked for, the clock, limits, one rounding."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from orders.models import Job, JobLabour, TimeEntry
from orders.rules.figures import HALF_UP, Told, figure, given, in_unit, same, sum_of, worked
from orders.rules.labour import LabourTime, Rounding
from orders.rules.labour_figures import parts_told, rounded_once
from orders.rules.labour_jobs import JobTime
from shopdocs.money import plain
from shopdocs.shops.models import Shop
from warranty.models import DistributorTerms

from .distributor_terms import terms_words

Facts = dict[str, Any]
TEN = Decimal(10)
ALL = "hours"
GUIDE = "hours:guide"
CLOCK = "hours:clocked"
ALLOWED = "hours:allowed"


def name_of(row: JobLabour) -> str:
    """The figure of a row's hours."""
    return f"hours:{row.pk}"


def clocked_figures(shop: Shop, entries: Iterable[TimeEntry], tenths: int, terms: DistributorTerms) -> list[Facts]:
    """Every stretch on the clock in seconds, and the hours that they make."""
    steps = [
        given(_stretch(shop, one), _seconds(one), "the clock of the job")
        for one in sorted(entries, key=lambda one: one.started_at)
        if one.ended_at is not None
    ]
    seconds = sum((step.amount for step in steps), Decimal(0))
    hours = worked(
        "In hours, rounded once to the nearest tenth, half a tenth up", Decimal(tenths) / TEN,
        sum_of("{} ÷ 3600", plain(seconds)), HALF_UP, terms_words(terms),
    )  # fmt: skip
    nothing = given("Nothing was clocked", seconds, "the clock of the job")
    return [
        in_unit("s", figure("seconds", "Time clocked on the job", seconds, steps or [nothing])),
        in_unit("h", figure(CLOCK, "Hours clocked", hours.amount, [hours])),
    ]


def _seconds(entry: TimeEntry) -> Decimal:
    assert entry.ended_at is not None
    return Decimal(int((entry.ended_at - entry.started_at).total_seconds()))


def _stretch(shop: Shop, entry: TimeEntry) -> str:
    assert entry.ended_at is not None
    start, end = shop.local(entry.started_at), shop.local(entry.ended_at)
    return f"{entry.technician.shown_name}, {start:%Y-%m-%d %H:%M} to {end:%H:%M}"


def allowed_figures(job: Job, hours: Decimal, terms: DistributorTerms) -> list[Facts]:
    """What the distributor allowed for this job."""
    step = given("What it allows for this job", hours, terms.distributor.name, terms_words(terms))
    return [in_unit("h", figure(ALLOWED, f"Hours allowed for job {job.number}", hours, [step]))]


def guide_figures(
    rows: Sequence[tuple[JobLabour, int, str]],
    times: Sequence[JobTime],
    asked: Sequence[str],
    terms: DistributorTerms | None,
) -> list[Facts]:
    """Hours by the guide. `rows`: each with the tenths that are asked for and where its own time is from.

    `times`: of the claims before by number (`asked`), then of this one, as one set. 'minutes', 'hours:together' and
    'hours:guide' are of the operations in the guide, 'minutes:before' and 'hours:before' what was asked for before, and
    'hours:ID' is a row.
    """
    parts: dict[str, Told] = {}
    time = times[-1]
    found = []
    if time.parts:
        found = [*_set(times, asked, terms)]
        parts = parts_told(time.hours, time.parts, time.minutes, GUIDE)
    for row, tenths, source in rows:
        own, paid = parts.get(str(row.pk)) or given("Its own time", row.hours, source), Decimal(tenths) / TEN
        steps = [own]
        if paid != own.amount and terms is not None:
            text = f"No more than is left of the {terms.diagnosis_limit} h of diagnosis that are paid"
            steps.append(worked(text, paid - own.amount, sum_of("{} - {}", paid, own.amount), rule=terms_words(terms)))
        found.append(in_unit("h", figure(name_of(row), row.words, paid, steps)))
    return found


def _set(times: Sequence[JobTime], asked: Sequence[str], terms: DistributorTerms | None) -> Iterable[Facts]:
    together = times[-1].together
    yield from _rounded("minutes", "hours:together", "The work together", together, terms)
    steps = [same("The work together", together.hours, "hours:together")]
    if asked:
        before = times[-2].together
        named = f"Asked for before with {', '.join(asked)}"
        yield from _rounded("minutes:before", "hours:before", named, before, terms)
        if before.hours <= together.hours:
            steps.append(same(f"Less what was asked for before with {', '.join(asked)}", -before.hours, "hours:before"))
        else:  # work that includes what was asked for before may be timed shorter
            steps.append(same("Less the same: as much was asked for before", -together.hours, "hours:together"))
    yield in_unit("h", figure(GUIDE, "Hours by the guide", times[-1].hours, steps))


def _rounded(minutes: str, hours: str, words: str, time: LabourTime, terms: DistributorTerms | None) -> Iterable[Facts]:
    steps = [given(step.text, step.amount or Decimal(0), "the guide") for step in time.in_minutes]
    yield in_unit("min", figure(minutes, f"{words}, in minutes", time.minutes, steps))
    rule = "no terms of the distributor are recorded"
    if terms is not None:
        rule = f"the rounding rule of {terms.distributor.name}"
    told = rounded_once(time.minutes, time.hours, Rounding(time.rounding), rule)
    yield in_unit("h", figure(hours, words, time.hours, [told]))


def in_all(lines: Iterable[tuple[str, str, int]]) -> Facts:
    """The hours that are asked for: the lines by figure, words and tenths."""
    steps = [same(words, Decimal(tenths) / TEN, name) for name, words, tenths in lines]
    hours = sum((step.amount for step in steps), Decimal("0.0"))
    return in_unit("h", figure(ALL, "Hours asked for", hours, steps or [given("No labour", hours, "the job")]))
