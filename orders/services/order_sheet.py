"""The repair order's sheet: everything the records know of one visit, at the moment it is asked for."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.conf import settings

from orders.models import Assembly, Check, Finding, Job, JobPart, PurchaseProof, RepairOrder
from orders.models import Hold as HoldRecord
from orders.papers.repair_order import (
    CheckLine,
    FindingLine,
    FittedPart,
    Hold,
    OrderJob,
    RepairOrderSheet,
    WorkLine,
)
from orders.rules import cautions, points, trade
from orders.rules.labour import saving_words
from shopdocs.documents.models import Photo
from shopdocs.documents.press import facts as press
from shopdocs.documents.press.sheets import Currency, ShopBlock, to_json
from shopdocs.documents.press.values import day_words, moment_words, sentence
from shopdocs.documents.press.words import Say, Words, words
from shopdocs.documents.services.marks import drawn_marks

from . import frozen, wording
from .frozen import money_facts
from .holds import told_reason
from .labour_sets import three_times
from .legal_fields import order_legal_fields
from .safety import signed_note
from .sheets import legal_sheet, party, unit
from .signed_copies import signed_on_paper
from .splits import payer_words
from .time import minutes

STAGES = {"outside": "Outside", "covers_off": "Covers off"}
MOMENTS = {"before": "before", "after": "after"}
PLAIN, SEE = "good", "found"
RESULTS = {"good": "good", "found": "see findings", "not_possible": "no access"}
SHOWS = {"serial_plate": "serial plate", "hour_meter": "hour meter", "label": "emission label"}
SHOWN_WITH_A_JOB = 3
# The proof ladder, strongest first: the paper names the strongest proof that is there.
LADDER = [str(kind) for kind in PurchaseProof.Kind.values]


def repair_order_sheet(order: RepairOrder, language: str = "", units: str | None = None) -> RepairOrderSheet:
    """The sheet of the order with its findings, photos, holds and jobs; in the customer's language and units unless said."""
    shop, machine = order.shop, order.unit
    language = language or wording.paper_language(shop, order.customer)
    units = wording.paper_units(shop, order.customer) if units is None else units
    say = words(language)
    findings = list(Finding.objects.for_shop(shop).filter(order=order).select_related("caused_by").order_by("number"))
    marks = {finding.subject: f"F{finding.number}" for finding in findings}
    return RepairOrderSheet(
        paper=shop.paper,
        language=language,
        shop=ShopBlock(
            name=shop.name,
            address=tuple(shop.address_lines()),
            phone=shop.phone,
            email=shop.email,
            accent=shop.accent,
        ),
        number=order.number,
        version=0,
        issued_on=shop.today(),
        title=say("Repair order"),
        code=f"{settings.PUBLIC_URL}/api/v1/orders/{order.pk}/",
        currency=Currency(symbol=shop.currency_symbol, decimals=shop.currency_decimals),
        customer=party(frozen.customer_facts(order.customer)),
        received_on=order.received_on,
        received_by=order.taken_in_by.shown_name,
        promised_on=order.promised_on,
        unit=unit(frozen.unit_facts(machine, order.reading, say)),
        assemblies=tuple(_assembly(row, say) for row in _assemblies(order)),
        purchased_on=machine.purchased_on,
        purchase_proof=_proof(order, say),
        complaint=order.complaint,
        accessories=tuple(str(item) for item in order.accessories),
        holds=tuple(_hold(order, row, say) for row in _holds(order)),
        checks=_checks(order, findings, say),
        findings=tuple(_finding(finding, say, units) for finding in findings),
        jobs=tuple(_job(job, say) for job in jobs_of_order(order)),
        photos=_photos(order, marks, say),
        conditions=wording.conditions(shop, say),
        legal=legal_sheet(order_legal_fields(order, language), money_facts(shop)["symbol"], say),
        cautions=cautions.for_use(machine.model.family, machine.power_source),
    )


def _assemblies(order: RepairOrder) -> Any:
    rows = Assembly.objects.for_shop(order.shop).filter(unit=order.unit)
    return rows.select_related("maker", "distributor").order_by("role")


def _assembly(row: Assembly, say: Say) -> press.Assembly:
    label = row.emission_family or say("read" if row.label_read else "not read")
    return press.Assembly(
        name=sentence(say(row.called.replace("_", " "))),
        maker=row.maker.name if row.maker else "",
        model=row.model_name,
        serial=row.serial,
        built_on=row.build_date,
        emission_label=label,
        distributor=row.distributor.name if row.distributor else "",
    )


def _proof(order: RepairOrder, say: Say) -> str:
    rows = PurchaseProof.objects.for_shop(order.shop).filter(unit=order.unit)
    best = min(rows, key=lambda row: LADDER.index(row.kind), default=None)
    return say(best.get_kind_display()) if best else ""


def _holds(order: RepairOrder) -> Any:
    rows = HoldRecord.objects.for_shop(order.shop).filter(order=order)
    return rows.select_related("placed_by", "released_by", "finding__order").order_by("created_at", "id")


def _hold(order: RepairOrder, row: HoldRecord, say: Say) -> Hold:
    released = ""
    if row.released_at is not None:
        day = day_words(order.shop.local(row.released_at).date(), say)
        made = say("made safe" if row.made_safe else "leaves as it is")
        released = f"{day}, {made}, {say('signed')} {row.signed_name}: {row.release_note}"
    return Hold(
        reason=f"{row.tag}: {told_reason(row, say)}",
        tagged_on=order.shop.local(row.created_at).date(),
        tagged_by=row.placed_by.shown_name,
        released=released,
    )


def _checks(order: RepairOrder, findings: list[Finding], say: Say) -> tuple[CheckLine, ...]:
    """The points of the unit's family in their order; those that nobody looked at yet print open."""
    done = {row.point: row for row in Check.objects.for_shop(order.shop).filter(order=order)}
    try:
        listed = points.points_for(order.unit.model.family, order.unit.power_source)
    except trade.UnknownCode:
        return ()  # a unit whose power source is not known has no list
    return tuple(_check(point, done.get(point.code), _marks(point, findings), say) for point in listed)


def _marks(point: points.InspectionPoint, findings: list[Finding]) -> list[str]:
    """Findings at this point: those that name it, else those that name no point and a component of it."""
    named = [row for row in findings if row.point == point.code]
    seen = named or [row for row in findings if not row.point and row.component in point.components]
    return [f"F{row.number}" for row in seen]


def _check(point: points.InspectionPoint, row: Check | None, marks: list[str], say: Say) -> CheckLine:
    result = say(RESULTS[row.result]) if row else ""
    if row and row.result == SEE and marks:
        result = f"{say('see')} {', '.join(marks)}"
    return CheckLine(
        stage=STAGES[point.stage],
        name=say(point.name),
        look=_instruction(point.look, say),
        precautions=tuple(say(one) for one in point.precautions),
        result=result,
        plain=row is not None and row.result == PLAIN,
        note=row.note if row else "",
    )


def _instruction(look: str, say: Say) -> str:
    """What to look for, in the paper's language; nothing where it is only known in English and the paper is not."""
    told = say(look)
    return told if told != look or say("Machine") == "Machine" else ""


def _finding(row: Finding, say: Say, units: str) -> FindingLine:
    cause = row.caused_by
    because = f"F{cause.number}: {frozen.finding_words(cause, say, units)}" if cause else ""
    return FindingLine(
        mark=f"F{row.number}",
        component=sentence(say(trade.component(row.component).name)),
        condition=sentence(say(trade.condition(row.condition).name)),
        cause=sentence(say(trade.cause(row.cause).name)),
        measurement=frozen.measured(row, units),
        because_of=because,
        note=row.note,
    )


def jobs_of_order(order: RepairOrder) -> Any:
    """The order's jobs by number, with what is on them."""
    rows = Job.objects.for_shop(order.shop).filter(order=order).order_by("number")
    return rows.prefetch_related(
        "labour", "parts", "time_entries__technician", "findings", "safety_notes__signature__file"
    )


def _job(job: Job, say: Words) -> OrderJob:
    return OrderJob(
        number=job.number,
        title=job.title,
        complaint=job.complaint,
        cause=sentence("; ".join(say(part) for part in job.cause.split("; "))),
        correction=job.correction or (f"{say('Struck')}: {job.strike_reason}" if job.strike_reason else ""),
        payer=payer_words(job.payer, job.shares, job.payer_of, say),
        state=say(job.get_state_display()),
        safety=_safety(job, say),
        safety_signed=_safety_signed(job, say),
        work=_work(job, say),
        parts=tuple(
            FittedPart(
                number=part.number,
                what=part.words,
                condition=", ".join(
                    told
                    for told in (
                        say(f"{part.condition} part") if part.condition != JobPart.Condition.NEW else "",
                        say("failed first") if part.causal else "",
                    )
                    if told
                ),
                quantity=part.quantity,
                state=say("fitted" if part.fitted_at else "planned"),
            )
            for part in job.parts.all()
        ),
    )


LEFT = (Job.State.DECLINED, Job.State.STRUCK)


def _safety(job: Job, say: Say) -> str:
    """The signed safety note of a job that was left, or nothing."""
    note = signed_note(job) if job.state in LEFT else None
    if note is None:
        return ""
    return f"{note.words} {say('Signed')}: {note.signed_name}, {moment_words(job.shop.local(note.signed_at), say)}."


def _safety_signed(job: Job, say: Say) -> press.Signed | None:
    """The signature that was drawn under the note; on a note that was signed on paper there is none."""
    note = signed_note(job) if job.state in LEFT else None
    if note is None:
        return None
    return signed_on_paper(job.shop, note.signature, say)


def _work(job: Job, say: Words) -> tuple[WorkLine, ...]:
    """Guide time by operation; the clock beside the time of all of them together, and what the payer allows below.

    Time is clocked on the job, not split by guess; steps that operations share are in the time of all of them once.
    """
    three = three_times(job, {})
    clocked: dict[str, int] = {}
    for entry in job.time_entries.all():
        if entry.ended_at is not None:
            name = entry.technician.shown_name
            clocked[name] = clocked.get(name, 0) + minutes(entry)
    guide = [(line.code, line.words, int(line.hours * 10)) for line in job.labour.all()]
    total = int(Decimal(three["guide"]) * 10)
    allowed: tuple[WorkLine, ...] = ()
    if three["allowed"] is not None:
        hours = int(Decimal(three["allowed"]) * 10)
        allowed = (
            WorkLine(code="", what=say("Allowed by the payer"), tenths=hours, clocked_minutes=None, technician=""),
        )
    who = "; ".join(f"{name} {spent // 60}:{spent % 60:02d}" for name, spent in sorted(clocked.items()))
    who = who if len(clocked) > 1 else "".join(clocked)
    spent = sum(clocked.values()) if clocked else None
    if len(guide) == 1:
        ((code, what, tenths),) = guide
        return (WorkLine(code=code, what=what, tenths=tenths, clocked_minutes=spent, technician=who), *allowed)
    listed = [
        WorkLine(code=code, what=what, tenths=tenths, clocked_minutes=None, technician="")
        for code, what, tenths in guide
    ]
    if clocked or three["saving"]:
        saving = saving_words(three["saved"], three["shared"], say)
        what = " · ".join(part for part in (say("All work on this job"), saving) if part)
        listed.append(WorkLine(code="", what=what, tenths=total, clocked_minutes=spent, technician=who))
    return (*listed, *allowed)


def _photos(order: RepairOrder, marks: dict[str, str], say: Say) -> tuple[press.Photo, ...]:
    """The order's pictures in the order they came; a PDF proof is no picture and stays out."""
    rows = Photo.objects.for_shop(order.shop).filter(subject=order.subject, printable__isnull=False)
    rows = rows.select_related("original", "by").order_by("created_at", "id")
    return tuple(
        press.Photo(
            sha256=row.original.sha256,
            number=number,
            caption=row.caption,
            who=row.by.shown_name if row.by else "",
            when=moment_words(order.shop.local(row.taken_at or row.created_at), say),
            moment=MOMENTS.get(row.moment, "check-in"),
            shows=SHOWS.get(row.moment, ""),
            finding=marks.get(row.about, ""),
            marks=drawn_marks(row),
        )
        for number, row in enumerate(rows, start=1)
    )


def put_photos(order: RepairOrder, jobs: list[Job], listed: list[dict[str, Any]], say: Say) -> None:
    """Puts on each frozen job the photos of its findings, as papers show them; the first few of each."""
    rows = Finding.objects.for_shop(order.shop).filter(order=order)
    photos = _photos(order, {row.subject: f"F{row.number}" for row in rows}, say)
    for job, facts in zip(jobs, listed, strict=True):
        marks = {f"F{row.number}" for row in job.findings.all()}
        facts["photos"] = [to_json(one) for one in photos if one.finding in marks][:SHOWN_WITH_A_JOB]
