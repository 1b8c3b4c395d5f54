"""The blocks that our papers share: masthead, facts, banner, sums, cautions, signature."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from shopdocs.documents.press import page as types
from shopdocs.documents.press.cautions import DEFER, caution
from shopdocs.documents.press.facts import Assembly, Party, Unit
from shopdocs.documents.press.flow import TOGETHER, Cell, Flow
from shopdocs.documents.press.page import page_for
from shopdocs.documents.press.render import foot_height
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.values import Figures, apart, sentence
from shopdocs.documents.press.words import words

Fact = tuple[str, str]
SUM_LABEL = 300.0
TALLEST = 5
"""Lines that a fact may have beside others; more of them read better over the whole width."""


def start(sheet: Sheet) -> tuple[Flow, Figures]:
    """The flow of a new paper with its masthead, and the figures of its currency."""
    say = words(sheet.language)
    page = page_for(sheet.paper, sheet.shop.accent, foot_height(sheet.code))
    version = f" · {say('version')} {sheet.version}" if sheet.version else ""
    flow = Flow(page, say, (sheet.shop.name, f"{sheet.title} {sheet.number}{version}"))
    figures = Figures(sheet.currency, say)
    half = (page.right - page.left) * 0.6
    contact = [
        line for part in (sheet.shop.phone, sheet.shop.email) for line in flow.lines(part, types.NOTE, half * 0.6)
    ]
    address = [line for part in sheet.shop.address for line in flow.lines(part, types.NOTE, half)]
    flow.band(
        [
            Cell(page.left, half, flow.lines(sheet.shop.name, types.SHOP, half) + address),
            Cell(page.left + half, page.right - page.left - half, [("", types.SHOP), *contact], "right"),
        ],
        after=26,
    )
    flow.fill(page.left, flow.y - types.TITLE.drop, 64, 4, page.accent)
    flow.paragraph(sheet.title, types.TITLE, after=4)
    flow.paragraph(f"{sheet.number}{version} · {figures.day(sheet.issued_on)}", types.SUBTITLE, after=16)
    return flow, figures


def facts(flow: Flow, items: Sequence[Fact], columns: int = 3, after: float = 4) -> None:
    """Labelled facts in columns, row by row; a long one has a row of its own. An empty value leaves its fact out."""
    for cells in _fact_rows(flow, items, columns):
        flow.band(cells, after=5)
    flow.y -= after


def facts_height(flow: Flow, items: Sequence[Fact], columns: int = 3) -> float:
    """The room that `facts` takes without what follows it: for a section that is to stay on one page."""
    return sum(max(cell.height() for cell in cells) + 5 for cells in _fact_rows(flow, items, columns))


def _fact_rows(flow: Flow, items: Sequence[Fact], columns: int) -> list[list[Cell]]:
    width = (flow.page.main_width - 14 * (columns - 1)) / columns
    rows: list[list[Cell]] = [[]]
    for label, value in items:
        if not value:
            continue
        told = flow.lines(value, types.BODY, width)
        if len(told) > TALLEST and columns > 1:
            head = flow.lines(flow.say(label), types.LABEL, flow.page.main_width)
            told = flow.lines(value, types.BODY, flow.page.main_width)
            rows += [[Cell(flow.page.main, flow.page.main_width, head + told)], []]
            continue
        if len(rows[-1]) == columns:
            rows.append([])
        x = flow.page.main + len(rows[-1]) * (width + 14)
        rows[-1].append(Cell(x, width, flow.lines(flow.say(label), types.LABEL, width) + told))
    return [row for row in rows if row]


def opening(flow: Flow, people: Sequence[tuple[str, Party]], *stacks: Sequence[Fact]) -> None:
    """People, each under a label, and beside them stacks of facts; a column each."""
    count = len(people) + len(stacks)
    width = (flow.page.main_width - 14 * (count - 1)) / count
    columns = []
    for label, party in people:
        lines = flow.lines(flow.say(label), types.LABEL, width) + flow.lines(party.name, types.STRONG, width)
        for line in party.lines:
            lines += flow.lines(line, types.BODY, width)
        columns.append(lines)
    for stack in stacks:
        lines = []
        for label, value in stack:
            if value:
                lines += flow.lines(flow.say(label), types.LABEL, width) + flow.lines(value, types.BODY, width)
                lines.append(("", types.GAP))
        columns.append(lines)
    flow.band([Cell(flow.page.main + at * (width + 14), width, lines) for at, lines in enumerate(columns)], after=4)


def unit(flow: Flow, figures: Figures, machine: Unit, assemblies: Sequence[Assembly] = ()) -> None:
    """Section: the machine, and its assemblies as a line each."""
    say = flow.say
    flow.section(say("Machine"), machine.family, keep=80)
    flow.paragraph(f"{apart(machine.maker)} {apart(machine.model)}", types.LEAD, after=4)
    if machine.hours is None:
        noted = machine.hours_note or say("not known")
    else:
        hours = f"{figures.number(machine.hours)} h"
        noted = f"{hours} ({machine.hours_note})" if machine.hours_note else hours
    facts(
        flow,
        [
            ("Serial number", machine.serial or f"{say('none')}: {machine.serial_note}"),
            ("Built", figures.day(machine.built_on)),
            ("Hour meter", noted),
            ("Use", sentence(machine.use_class)),
            ("Power source", sentence(machine.power_source)),
        ],
    )
    for one in assemblies:
        facts(
            flow,
            [
                (f"{say(one.name)}, {say('maker')}", one.maker or say("not known")),
                ("Model", one.model),
                ("Serial number", one.serial or say("not known")),
                ("Built", figures.day(one.built_on) if one.built_on else ""),
                ("Emission label", one.emission_label),
                ("Distributor", one.distributor),
            ],
        )


def banner(flow: Flow, title: str, lines: Sequence[str]) -> None:
    """A warning nobody overlooks: black bar, large words, no colour needed."""
    page = flow.page
    width = page.main_width - 26
    body = flow.lines(title, types.WARN, width)
    for line in lines:
        body += flow.lines(line, types.BODY, width)
    height = sum(style.leading for _, style in body) + 14
    if height > flow.capacity:
        flow.band([Cell(page.main, width, body)], after=10)
        return
    flow.need(height)
    top = flow.y
    flow.fill(page.main, top - height, 6, height, types.INK)
    flow.frame(page.main, top - height, page.main_width, height, types.INK)
    flow.y -= 7
    flow.band([Cell(page.main + 18, width, body)])
    flow.y = top - height - 12


def holds(flow: Flow, figures: Figures, tagged: Sequence[tuple[str, date, str]]) -> None:
    """The banner of a unit that must not run: reason, day and who tagged it, for each hold that is open."""
    if tagged:
        say = flow.say
        told = [f"{apart(reason)} ({figures.day(on)}, {apart(by)})" for reason, on, by in tagged]
        last = say("Do not start it. It leaves the shop only with a signed note.")
        banner(flow, say("UNSAFE TO RUN \u2014 tagged"), [*told, last])


def sums_height(flow: Flow, rows: Sequence[tuple[str, str, bool]]) -> float:
    """The room that `sums` takes for `rows`: what a table above them keeps free below its last row."""
    tall = 0.0
    for label, _, strong in rows:
        style = types.SUM if strong else types.BODY
        tall += max(1, len(flow.lines(label, style, SUM_LABEL))) * style.leading + (7 if strong else 1)
    return tall


def sums(flow: Flow, rows: Sequence[tuple[str, str, bool]], after: float = 8) -> None:
    """Sums at the right edge, on one page: label, amount, and whether it is the sum that counts."""
    page = flow.page
    flow.need(min(sums_height(flow, rows), flow.capacity * 0.5))
    wide = max((flow.width(amount, types.SUM if strong else types.BODY) for _, amount, strong in rows), default=0)
    amount_width = min(max(80.0, wide + 1), 200.0)
    label_width = min(page.main_width - amount_width - 10, SUM_LABEL)
    edge = page.right - amount_width - 10
    for label, amount, strong in rows:
        style = types.SUM if strong else types.BODY
        if strong:
            flow.y -= 3
            flow.fill(page.right - 230, flow.y, 230, 0.8, types.INK)
            flow.y -= 3
        flow.band(
            [
                Cell(edge - label_width, label_width, flow.lines(label, style, label_width), "right"),
                Cell(page.right - amount_width, amount_width, flow.lines(amount, style, amount_width), "right"),
            ],
            after=1,
        )
    flow.y -= after


def cautions(flow: Flow, codes: Sequence[str], *, last: bool = True) -> None:
    """Section: the cautions of a sheet, two or three side by side, and whom they defer to.

    `last`: nothing follows. Such a section does not stand on a page of its own: the one before it comes along.
    """
    if not codes:
        return
    say = flow.say
    columns = 3 if len(codes) in (3, 5, 6) else 2
    width = (flow.page.main_width - 18 * (columns - 1)) / columns
    told = [caution(code) for code in codes]
    rows = []
    for at in range(0, len(told), columns):
        cells = []
        for place, (head, text) in enumerate(told[at : at + columns]):
            lines = flow.lines(say(head), types.STRONG, width) + flow.lines(say(text), types.NOTE, width)
            cells.append(Cell(flow.page.main + place * (width + 18), width, lines))
        rows.append(cells)
    # Read in one go: on one page, unless they fill more than half of one.
    tall = sum(max(cell.height() for cell in cells) + 6 for cells in rows) + 3 * types.NOTE.leading
    flow.section(say("Please take care"), keep=tall if tall < flow.capacity / 2 else 70, along=last)
    for cells in rows:
        last = cells is rows[-1]
        flow.band(cells, after=6, tail=6 + TOGETHER * types.NOTE.leading if last else 0)
    flow.paragraph(say(DEFER), types.NOTE, after=4)


def signature(flow: Flow, label: str, texts: Sequence[str], name: str) -> None:
    """Section: what is declared, and a line to sign and date, kept together at its end."""
    say = flow.say
    flow.section(label, keep=100)
    for at, text in enumerate(texts, 1):
        flow.paragraph(text, types.BODY, after=5, tail=63 if at == len(texts) else 0)
    flow.need(58)
    flow.y -= 34
    page = flow.page
    sign = page.main_width * 0.6
    flow.fill(page.main, flow.y, sign, 0.7, types.INK)
    flow.fill(page.main + sign + 16, flow.y, page.main_width - sign - 16, 0.7, types.INK)
    flow.y -= 2
    left = f"{say('Signature')} · {name}" if name else say("Signature")
    flow.band(
        [
            Cell(page.main, sign, flow.lines(left, types.LABEL, sign)),
            Cell(page.main + sign + 16, page.main_width - sign - 16, flow.lines(say("Date"), types.LABEL, 100)),
        ],
        after=6,
    )
