"""The estimate: what was found, what each job would cost, who would pay, and how to answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from orders.papers.legal import LegalPaper, draw_legal
from orders.papers.lines import LabourLine, PartLine, TaxLine, job_tables, tax_rows
from shopdocs.documents.press import blocks
from shopdocs.documents.press import page as types
from shopdocs.documents.press.facts import Party, Photo, Signed, Unit
from shopdocs.documents.press.flow import Flow
from shopdocs.documents.press.pictures import grid, signed
from shopdocs.documents.press.render import Drawn, render
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.tables import Column, Row, Table
from shopdocs.documents.press.values import Figures, apart

ADVICE = (
    "What a warranty covers is this shop's advice on the facts known today. The maker decides, and may decide otherwise; "
    "then nothing is done at your cost before you have agreed to it."
)
CHOOSE = (
    "By choosing one way you accept its jobs and decline those of the others. The totals of this estimate count every job; "
    "what you pay follows from what you choose."
)


@dataclass(frozen=True, kw_only=True)
class EstimateJob:
    """One job: what was found, why now, what happens if not; the work; who pays on what basis.

    `unsafe`: the machine must not be run like this. `if_refused`: the question for a refused claim, then what to choose.
    `customer_pays`: the customer's part before tax, where several payers share the job; None where one pays it all.
    `if_alone`: what it comes to where jobs that share work with it are not chosen.
    """

    number: int
    title: str
    found: str
    labour: tuple[LabourLine, ...]
    parts: tuple[PartLine, ...]
    payer: str
    basis: str
    subtotal: Decimal
    customer_pays: Decimal | None = None
    why_now: str = ""
    if_not: str = ""
    unsafe: bool = False
    photos: tuple[Photo, ...] = ()
    if_refused: tuple[str, ...] = ()
    if_alone: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Way:
    """One way to choose. `jobs`: their numbers. `customer_pays`: tax included. Values None: not known."""

    name: str
    kind: str
    jobs: str
    customer_pays: Decimal
    value_after: Decimal | None
    price_new: Decimal | None
    note: str


@dataclass(frozen=True, kw_only=True)
class Choice:
    """What is chosen between; one of the ways is picked."""

    between: str
    ways: tuple[Way, ...]


@dataclass(frozen=True, kw_only=True)
class PayerTotal:
    """What one payer would pay: before tax, tax, and in all."""

    payer: str
    net: Decimal
    tax: Decimal
    total: Decimal


@dataclass(frozen=True, kw_only=True)
class SaidLine:
    """What was said to one job: 'accepted' or 'declined', in the words that were agreed to; `more` follows them."""

    job: int
    said: str
    words: str
    more: str


@dataclass(frozen=True, kw_only=True)
class AnswerGiven:
    """One answer: how and when it came ('by telephone 555-0133, read back'), from whom, to which jobs, signed or not."""

    how: str
    who: str
    when: str
    remark: str
    lines: tuple[SaidLine, ...]
    consent: str
    signed: Signed | None


@dataclass(frozen=True, kw_only=True)
class EstimateSheet(Sheet):
    """Everything an estimate prints. `valid_until` None: no end is promised. `terms`: the shop's own conditions.

    `given`: the answers, on the copy that shows them; the estimate itself has none. `seen`: the SHA-256 of what was
    answered.
    """

    customer: Party
    unit: Unit
    repair_order: str
    valid_until: date | None
    request: str
    jobs: tuple[EstimateJob, ...]
    taxes: tuple[TaxLine, ...]
    payers: tuple[PayerTotal, ...]
    customer_total: Decimal
    answer_how: str
    answer_link: str
    terms: tuple[str, ...]
    cautions: tuple[str, ...]
    options: tuple[Choice, ...] = ()
    legal: tuple[LegalPaper, ...] = ()
    given: tuple[AnswerGiven, ...] = ()
    seen: str = ""


def draw(sheet: EstimateSheet, pictures: Mapping[str, bytes]) -> Drawn:
    """The estimate as PDF. Raises PressError for a signature without picture or a sheet that cannot be printed."""
    flow, figures = blocks.start(sheet)
    blocks.opening(
        flow,
        [("For", sheet.customer)],
        [("Repair order", sheet.repair_order), ("Customer pays", figures.money(sheet.customer_total))],
        [("Valid until", figures.day(sheet.valid_until) if sheet.valid_until else "")],
    )
    blocks.unit(flow, figures, sheet.unit)
    if sheet.request:
        flow.section(flow.say("Asked for"))
        flow.paragraph(sheet.request, types.QUOTE)
    for job in sheet.jobs:
        _job(flow, figures, job, pictures)
    for choice in sheet.options:
        _choice(flow, figures, choice)
    _totals(flow, figures, sheet)
    draw_legal(flow, sheet.legal)
    for answer in sheet.given:
        _given(flow, answer, pictures)
    if sheet.given:
        flow.paragraph(f"{flow.say('SHA-256 of the estimate that was answered')}: {sheet.seen}", types.NOTE, after=4)
        blocks.cautions(flow, sheet.cautions)
        return render(sheet, flow, pictures)
    flow.section(flow.say("Your answer"), keep=70)
    flow.paragraph(sheet.answer_how)
    if sheet.answer_link:
        flow.paragraph(sheet.answer_link, types.STRONG)
    for term in sheet.terms:
        flow.paragraph(term, types.NOTE, after=4)
    flow.paragraph(flow.say(ADVICE), types.NOTE)
    blocks.cautions(flow, sheet.cautions)
    return render(sheet, flow, pictures)


def _job(flow: Flow, figures: Figures, job: EstimateJob, pictures: Mapping[str, bytes]) -> None:
    say = flow.say
    flow.section(f"{say('Job')} {job.number}", f"{say('paid by')} {job.payer}", keep=110)
    flow.paragraph(job.title, types.LEAD, after=2)
    if job.found:
        flow.paragraph(job.found, after=4)
    if job.unsafe:
        flow.paragraph(say("Do not run the machine like this."), types.STRONG, after=4)
    blocks.facts(flow, [("Why now", job.why_now)], columns=1, after=0)
    blocks.facts(flow, [("If it is not done", job.if_not)], columns=1, after=0)
    if job.photos:
        flow.y -= 4
        grid(flow, job.photos, pictures, columns=3, height=84)
    if job.basis:
        flow.paragraph(f"{job.payer}: {job.basis}", types.NOTE, after=4)
    job_tables(flow, figures, job.labour, job.parts, tail=22)
    rows = [(f"{say('Job')} {job.number}, {say('before tax')}", figures.money(job.subtotal), False)]
    if job.customer_pays is not None:
        rows.append((say("of which you pay"), figures.money(job.customer_pays), False))
    blocks.sums(flow, rows, after=2)
    for told in job.if_alone:
        flow.paragraph(told, types.NOTE, after=2)
    if job.if_refused:
        asked, *choices, none = job.if_refused
        flow.paragraph(asked, types.STRONG, after=1)
        for choice in choices:
            flow.paragraph(f"\u2610 {choice}", after=1)
        flow.paragraph(none, types.NOTE, after=4)


def _choice(flow: Flow, figures: Figures, choice: Choice) -> None:
    """Section: the ways between which the customer chooses, with what each costs and what the machine is worth after it."""
    say = flow.say
    flow.section(say("To choose from"), choice.between, keep=110)
    columns = (
        Column("Way", 0),
        Column("Jobs", 44),
        Column("You pay, with tax", 66, "right"),
        Column("Machine is worth after it", 72, "right"),
        Column("New machine", 66, "right"),
    )
    Table(flow, columns).draw(
        [
            Row(
                (
                    f"\u2610 {way.name}",
                    way.jobs or say("none"),
                    figures.bare(way.customer_pays),
                    figures.bare(way.value_after),
                    figures.bare(way.price_new),
                ),
                way.note,
            )
            for way in choice.ways
        ]
    )
    flow.y -= 4
    flow.paragraph(say(CHOOSE), types.NOTE, after=4)


def _given(flow: Flow, answer: AnswerGiven, pictures: Mapping[str, bytes]) -> None:
    """Section: one answer as it was given, job by job in the words that were agreed to."""
    say = flow.say
    flow.section(say("Answer given"), answer.how, keep=90)
    flow.paragraph(f"{apart(answer.who)}, {answer.when}", types.STRONG, after=4)
    for line in answer.lines:
        flow.paragraph(f"{say('Job')} {line.job}: {say(line.said)}", types.STRONG, after=1)
        flow.paragraph(line.words, after=2 if line.more else 5)
        if line.more:
            flow.paragraph(line.more, after=5)
    if answer.remark:
        flow.paragraph(answer.remark, types.QUOTE)
    if answer.signed is not None:
        signed(flow, answer.signed, pictures)
    if answer.consent:
        flow.paragraph(answer.consent, types.NOTE, after=4)


def _totals(flow: Flow, figures: Figures, sheet: EstimateSheet) -> None:
    say = flow.say
    flow.section(say("Totals"), keep=90)
    columns = (
        Column("Who pays", 0),
        Column("Before tax", 74, "right"),
        Column("Tax", 66, "right"),
        Column("Total", 74, "right"),
    )
    pays = (say("Customer pays"), figures.money(sheet.customer_total), True)
    sums = [*tax_rows(flow, figures, sheet.taxes), pays]
    Table(flow, columns).draw(
        [
            Row((one.payer, figures.bare(one.net), figures.bare(one.tax), figures.bare(one.total)))
            for one in sheet.payers
        ],
        tail=4 + blocks.sums_height(flow, sums),
    )
    flow.y -= 4
    blocks.sums(flow, sums)
