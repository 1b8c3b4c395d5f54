"""Further papers of a visit: the copy for the bench, and the summary that the customer takes home."""

from __future__ import annotations

from dataclasses import replace

from orders.models import Finding, Job, JobPart, RepairOrder
from orders.papers.bench_copy import BenchCopySheet, BenchJob, BenchPoint
from orders.papers.repair_summary import Mended, RepairSummarySheet
from orders.rules import cautions, points, trade
from orders.rules.shown_units import in_order
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.words import Say, words

from . import frozen, wording
from .legal_fields import summary_legal_fields
from .order_sheet import jobs_of_order, repair_order_sheet
from .sheets import conditions_told, legal_sheet, part_condition

DO = {str(Job.State.AGREED), str(Job.State.DONE)}
NOT_DONE = {str(Job.State.DECLINED), str(Job.State.STRUCK)}


def _frame(sheet: Sheet, title: str) -> dict[str, object]:
    """What every sheet carries, as the order's own sheet has it, under another title."""
    same = {name: getattr(sheet, name) for name in Sheet.__dataclass_fields__}
    return same | {"title": words(sheet.language)(title)}


def bench_copy_sheet(order: RepairOrder) -> BenchCopySheet:
    """The bench copy, in the shop's language: it names no customer and no price."""
    language = wording.paper_language(order.shop)
    units = wording.paper_units(order.shop)
    told = repair_order_sheet(order, language, units)
    try:
        listed = points.points_for(order.unit.model.family, order.unit.power_source)
    except trade.UnknownCode:
        listed = ()
    return BenchCopySheet(
        **_frame(told, "Bench copy"),  # type: ignore[arg-type]
        received_on=told.received_on,
        promised_on=told.promised_on,
        unit=told.unit,
        assemblies=told.assemblies,
        complaint=told.complaint,
        accessories=told.accessories,
        holds=told.holds,
        points=tuple(
            # The instruction is needed at the bench, be it in English.
            BenchPoint(check=replace(c, look=c.look or p.look), units=in_order(p.units, units))
            for c, p in zip(told.checks, listed, strict=True)
        ),
        findings=told.findings,
        jobs=tuple(_bench_job(job) for job in jobs_of_order(order) if job.state not in NOT_DONE),
        cautions=cautions.for_work(order.unit.model.family, order.unit.power_source),
    )


def _bench_job(job: Job) -> BenchJob:
    return BenchJob(
        number=job.number,
        title=job.title,
        agreed=job.state in DO,
        work=tuple(f"{line.code} {line.words}, {line.hours} h".strip() for line in job.labour.all()),
        parts=tuple(f"{frozen.trimmed(part.quantity)} x {part.number} {part.words}" for part in job.parts.all()),
    )


def repair_summary_sheet(order: RepairOrder) -> RepairSummarySheet:
    """The summary, in the customer's language: what was done, what was left and must be watched; no prices."""
    told = repair_order_sheet(order)
    say, units = words(told.language), wording.paper_units(order.shop, order.customer)
    jobs = list(jobs_of_order(order))
    done = [job for job in jobs if job.state == Job.State.DONE]
    listed = summary_legal_fields(order, done, told.language)
    conditions = conditions_told({"legal_fields": listed})
    left = [row for job in jobs if job.state != Job.State.DONE for row in job.findings.all()]
    return RepairSummarySheet(
        **_frame(told, "Repair summary"),  # type: ignore[arg-type]
        customer=told.customer,
        unit=told.unit,
        repair_order=order.number,
        finished_on=order.shop.local(order.finished_at).date() if order.finished_at else None,
        complaint=told.complaint,
        jobs=tuple(_mended(job, say, units, conditions) for job in jobs),
        photos=tuple(photo for photo in told.photos if photo.moment in ("before", "after")),
        watch=tuple(_watch(row, say, units) for row in left),
        upkeep=wording.upkeep(order.unit.power_source, say),
        cautions=told.cautions,
        legal=legal_sheet(listed, order.shop.currency_symbol, say),
    )


def _mended(job: Job, say: Say, units: str, conditions: bool) -> Mended:
    done = job.state == Job.State.DONE
    why = {
        str(Job.State.DECLINED): say("You asked us to leave it."),
        str(Job.State.STRUCK): job.strike_reason or say("It was not needed."),
    }
    return Mended(
        title=job.title,
        found=tuple(frozen.finding_words(row, say, units) for row in job.findings.all()),
        done=job.correction if done else "",
        parts=tuple(_fitted(part, say, conditions) for part in job.parts.all() if part.fitted_at and done),
        left="" if done else why.get(job.state, say("It is not done yet.")),
    )


def _fitted(part: JobPart, say: Say, told: bool) -> str:
    """A part as the customer reads it; one that is not new says so, and with `told` a new one too."""
    named = f"{part.words} {part.number}".strip()
    line = {"condition": part.condition, "original": part.original}
    said = say("customer's own") if part.customers_own else part_condition(line, say, told=told)
    return f"{named} ({said})" if said else named


def _watch(row: Finding, say: Say, units: str) -> str:
    words_of = frozen.finding_words(row, say, units)
    return f"{words_of} {say('Do not run the machine like this.')}" if row.unsafe else words_of
