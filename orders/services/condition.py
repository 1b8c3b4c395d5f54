"""The condition report of a used machine: points, findings, and what it would cost to put them right."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from uuid import UUID

from orders.models import Estimate, Finding, Job, RepairOrder
from orders.papers.condition_report import ConditionReportSheet, Remedy
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.words import Say, words

from . import frozen
from .order_sheet import repair_order_sheet

PRICED = (str(Job.State.PROPOSED), str(Job.State.AGREED), str(Job.State.DECLINED))


def condition_report_sheet(order: RepairOrder) -> ConditionReportSheet:
    """The report as the records stand now, in the customer's language. A finding without a job has no cost yet."""
    told = repair_order_sheet(order)
    say = words(told.language)
    findings = list(Finding.objects.for_shop(order.shop).filter(order=order).order_by("number"))
    remedies = _remedies(order, findings, say)
    mended = _mended(order, say)
    by_mark = {f"F{row.number}": mended[row.pk] for row in findings if row.pk in mended}
    return ConditionReportSheet(
        **{name: getattr(told, name) for name in Sheet.__dataclass_fields__} | {"title": say("Condition report")},
        customer=told.customer,
        unit=told.unit,
        assemblies=told.assemblies,
        safe_to_run=not any(one.must for one in remedies),
        summary=_summary(findings, mended, say),
        checks=told.checks,
        findings=tuple(
            replace(one, note=" ".join(part for part in (one.note, by_mark.get(one.mark, "")) if part))
            for one in told.findings
        ),
        remedies=tuple(remedies),
        must_cost=_sum([one for one in remedies if one.must], order),
        cost=_sum(remedies, order),
        photos=told.photos,
        looked_at_by=", ".join(_lookers(order)),
        cautions=told.cautions,
    )


def _remedies(order: RepairOrder, findings: list[Finding], say: Say) -> list[Remedy]:
    """A row for each job that is not done and comes from findings, then one for each finding that no job mends."""
    from .estimates import facts_of  # it asks for papers, and this is one

    jobs = [job for job in frozen.jobs_of(order, PRICED) if job.findings.all()]
    today = order.shop.today()
    draft = Estimate(shop=order.shop, order=order, number="", edition=0, issued_on=today, valid_until=today)
    priced = {one["id"]: Decimal(one["net"]) for one in facts_of(draft, order, jobs)["jobs"]} if jobs else {}
    rows = []
    for job in jobs:
        mends = sorted(job.findings.all(), key=lambda row: row.number)
        mark = ", ".join(f"F{row.number}" for row in mends)
        must = any(row.unsafe for row in mends)
        rows.append(Remedy(mark=mark, what=job.title, must=must, amount=priced[str(job.pk)]))
    mended = set(Finding.objects.for_shop(order.shop).filter(jobs__in=_taken(order)).values_list("pk", flat=True))
    rows += [
        Remedy(mark=f"F{row.number}", what=say("not priced yet"), must=row.unsafe, amount=None)
        for row in findings
        if row.pk not in mended and (row.unsafe or row.cause != "normal")
    ]
    return rows


def _taken(order: RepairOrder) -> list[Job]:
    return frozen.jobs_of(order, (*PRICED, str(Job.State.DONE)))


def _sum(rows: list[Remedy], order: RepairOrder) -> Decimal | None:
    """The sum of the rows; None when one of them is not known."""
    amounts = [row.amount for row in rows]
    zero = Decimal(0).scaleb(-order.shop.currency_decimals)
    return None if None in amounts else sum((one for one in amounts if one is not None), zero)


def _mended(order: RepairOrder, say: Say) -> dict[UUID, str]:
    """By finding that a finished job of the order put right: the words that say so, or its buyer would take it for open."""
    told = say("Put right since, with job {number}: {title}.")
    jobs = frozen.jobs_of(order, (str(Job.State.DONE),))
    return {row.pk: told.format(number=job.number, title=job.title) for job in jobs for row in job.findings.all()}


def _summary(findings: list[Finding], mended: Mapping[UUID, str], say: Say) -> str:
    if not findings:
        return say("Nothing was found.")
    unsafe = sum(row.unsafe for row in findings if row.pk not in mended)
    if mended:
        text = say("Findings: {found}. Put right since: {mended}. Of the others unsafe to run: {unsafe}.")
        return text.format(found=len(findings), mended=len(mended), unsafe=unsafe)
    return f"{say('Findings')}: {len(findings)}. {say('Of these unsafe to run')}: {unsafe}."


def _lookers(order: RepairOrder) -> list[str]:
    """Who looked, each once, in the order in which they began."""
    rows = [(row.created_at, row.by.shown_name) for row in order.checks.all()]
    rows += [(row.created_at, row.by.shown_name) for row in order.findings.all()]
    return list(dict.fromkeys(name for _, name in sorted(rows)))
