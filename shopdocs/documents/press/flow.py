"""The flow of a paper down its pages: sections, bands of cells, page turns.

Nothing is drawn here: a flow collects marks (placed text, filled boxes, pictures), page by page,
so that 'page x of y' is known before the first byte is written. A band is a row of cells; each
cell holds its lines already broken. A band that fits a page is never split; a taller one is split
between lines. Each page takes at least one line, so that every flow ends.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from shopdocs.documents.press import page as types
from shopdocs.documents.press.breaking import break_lines, shorten
from shopdocs.documents.press.fonts import clean, faces
from shopdocs.documents.press.page import Page, Style
from shopdocs.documents.press.setting import SetLine
from shopdocs.documents.press.structure import ARTIFACT, Node
from shopdocs.documents.press.words import Say

SHORT = 48
SIDE_LINES = 6
CUT = "…"
HEADINGS = {types.TITLE: "H1", types.LEAD: "H3"}
TOGETHER = 2
"""Lines of one text that stand together at the foot of a page and at the head of the next, at the least."""
TEXT, FILL, PICTURE, OUTLINE, STROKES = 0, 1, 2, 3, 4
Mark = tuple[int, float, float, float, float, str, Style | None, Node]
Line = tuple[str, Style]


class Cell(NamedTuple):
    """Lines in a column: x and width in points, `tail` points kept free at the right.

    `align`: 'left', 'right', or 'start': where the text's own direction begins.

    `node`: what the cell is in the structure of the paper; None makes it a paragraph.
    """

    x: float
    width: float
    lines: list[Line]
    align: str = "left"
    tail: float = 0.0
    node: Node | None = None

    def height(self) -> float:
        """Height of all lines."""
        return sum(style.leading for _, style in self.lines)


class Heading(NamedTuple):
    """A heading below which nothing stands yet: the number of its page, where its marks begin and end, and how to place it again."""

    page: int
    begin: int
    end: int
    cell: Cell
    height: float


class Opened(NamedTuple):
    """Where a section begins: the number of its page, its first mark there, its upper edge, whether something stands above it."""

    page: int
    begin: int
    top: float
    below: bool


class Flow:
    """A cursor that fills pages. `y` is the upper edge of what comes next."""

    def __init__(self, page: Page, say: Say, running: tuple[str, str]) -> None:
        self.page, self.say, self._running = page, say, running
        self.pages: list[list[Mark]] = []
        self.outline: list[tuple[int, float, str]] = []
        self.root = Node("Document")
        self.parent = self.root
        self.replaced: dict[str, None] = {}
        # Long texts are measured and then drawn, running ones stand on every page: they are set once.
        self._long: dict[tuple[str, Style, float], Sequence[str]] = {}
        self._shortened: dict[tuple[str, Style, float], str] = {}
        # A label has no footer, and says itself where its code stands: x and y of the lower left corner, points a module.
        self.code_at: tuple[float, float, float] | None = None
        self._section: tuple[str, str] | None = None
        self._side_end = 0.0
        # Where the name of the open section begins and ends among the marks of its page; whether it is a 'continued'.
        self._named = (0, -1, False)
        self._heading: Heading | None = None
        self._opened: Opened | None = None
        self.y = 0.0
        self._first = 0.0
        self._turn()

    # Words

    def clean(self, text: str) -> str:
        """`text` as it can be printed; what had to be replaced is remembered."""
        printed, missing = clean(text)
        if missing:
            self.replaced.update(dict.fromkeys(missing))
        return printed

    def lines(self, text: str, style: Style, width: float) -> list[Line]:
        """`text` broken to `width` in `style`."""
        if len(text) < SHORT:
            broken: Sequence[str] = _known(self.clean(text), style.face, style.size, width)
        elif (key := (text, style, width)) in self._long:
            broken = self._long[key]
        else:
            broken = self._long[key] = break_lines(self.clean(text), faces()[style.face], style.size, width)
        return [(line, style) for line in broken]

    def width(self, text: str, style: Style) -> float:
        """Printed width of `text` in points."""
        return faces()[style.face].width(self.clean(text), style.size)

    def short(self, text: str, style: Style, width: float) -> str:
        """One line of `text`, shortened; only for words that stand in full elsewhere on the paper."""
        key = (text, style, width)
        if key not in self._shortened:
            self._shortened[key] = shorten(self.clean(text), faces()[style.face], style.size, width)
        return self._shortened[key]

    # Marks

    def text(self, x: float, top: float, text: str, style: Style, node: Node = ARTIFACT) -> None:
        """Clean `text` in a line box whose upper edge is `top`."""
        if text:
            self.pages[-1].append((TEXT, x, top - style.drop, 0, 0, text, style, node))

    def text_right(self, right: float, top: float, text: str, style: Style) -> None:
        """As `text`, ending at `right`."""
        self.text(right - faces()[style.face].width(text, style.size), top, text, style)

    def fill(self, x: float, y: float, width: float, height: float, colour: str) -> None:
        """A filled box by its lower left corner; all our rules are such boxes."""
        self.pages[-1].append((FILL, x, y, width, height, colour, None, ARTIFACT))

    def frame(self, x: float, y: float, width: float, height: float, colour: str) -> None:
        """An empty box with a thin line around it."""
        self.pages[-1].append((OUTLINE, x, y, width, height, colour, None, ARTIFACT))

    def picture(
        self, x: float, y: float, width: float, height: float, sha256: str, alt: str, strokes: str = ""
    ) -> None:
        """A picture by its key, fitted into the box; `alt` says in words what it shows.

        `strokes`: PDF path operators drawn over it, in points of the page, cut off at the picture's edge.
        """
        node = Node("Figure", self.parent, self.clean(alt))
        node.box = (x, y, x + width, y + height)
        self.pages[-1].append((PICTURE, x, y, width, height, sha256, None, node))
        if strokes:
            self.pages[-1].append((STROKES, x, y, width, height, strokes, None, node))

    # Pages

    @property
    def room(self) -> float:
        """Points left on this page."""
        return self.y - self.page.bottom

    @property
    def capacity(self) -> float:
        """Points that a fresh page offers to a band."""
        return self.page.top - 34 - self.page.bottom

    def need(self, height: float) -> bool:
        """Turn the page unless `height` points are left. True if it turned; a fresh page never turns."""
        if height <= self.room or self.y >= self._first:
            return False
        self.turn()
        return True

    def turn(self) -> None:
        """Start a page; an open section is named again there as continued, or moves there if it is still empty.

        A heading with nothing below it goes along.
        """
        heading = self._loose_heading()
        first, last, again = self._named
        moved = self._section is not None and last == len(self.pages[-1]) and not again
        if moved:
            del self.pages[-1][first:]
        self._turn()
        if self._section:
            label, note = self._section
            if moved:
                self.outline[-1] = (len(self.pages) - 1, self.y, self.outline[-1][2])
            self._name(label, note, continued=not moved)
        if heading:
            self._place([heading.cell])
            self.y -= heading.height
            self._first = self.y  # a page that holds nothing but a heading is still fresh

    def _loose_heading(self) -> Heading | None:
        """Takes the heading off the foot of the page if nothing followed it there."""
        heading, marks = self._heading, self.pages[-1]
        self._heading = None
        if heading is None or (heading.page, heading.end) != (len(self.pages), len(marks)):
            return None
        del marks[heading.begin :]
        return heading

    def _turn(self) -> None:
        self.pages.append([])
        self.y = self.page.top
        if len(self.pages) > 1:
            left, right = self._running
            head = types.NOTE
            self.text(self.page.left, self.y, self.short(left, head, self.page.main_width * 0.6), head)
            self.text_right(self.page.right, self.y, self.short(right, head, self.page.main_width * 0.6), head)
            self.y -= 34
        self._first = self.y
        self._side_end = self.y

    # Sections

    def section(self, label: str, note: str = "", keep: float = 60, *, along: bool = False) -> None:
        """Open a section: a thin rule over both columns, its name in the side column, `keep` points kept below.

        `along`: what would stand alone on a last page. If it has to turn the page, the section before it comes along.
        """
        self.close()
        gap = 0.0 if self.y >= self._first else 13.0
        beside = sum(style.leading for _, style in self._side_lines(label, note, continued=False))
        wanted = max(keep, beside) + gap + 14
        if (along and wanted > self.room and self._bring_along(wanted)) or not self.need(wanted):
            self.y -= gap
        self._opened = Opened(len(self.pages), len(self.pages[-1]), self.y, self.y < self._first)
        self._section = (label, note)
        self.parent = Node("Sect", self.root)
        self.outline.append((len(self.pages) - 1, self.y, self.clean(label)))
        if self._name(label, note, continued=False):
            self.paragraph(f"{label}: {note}" if note else label, types.NOTE)

    def _bring_along(self, height: float) -> bool:
        """Turn the page and take the closed section over, if something stays where it was and `height` fits below it.

        A section with drawn strokes stays: those are in points of the page.
        """
        opened, marks = self._opened, self.pages[-1]
        if opened is None or opened.page != len(self.pages) or not opened.below:
            return False
        tall = opened.top - self.y
        taken = marks[opened.begin :]
        if tall + height > self.capacity or any(kind == STROKES for kind, *_ in taken):
            return False
        del marks[opened.begin :]
        self._heading = None
        self.turn()
        up = self.y - opened.top
        for kind, x, y, width, high, text, style, node in taken:
            self.pages[-1].append((kind, x, y + up, width, high, text, style, node))
            if kind == PICTURE:
                node.box = (x, y + up, x + width, y + up + high)
        self.outline[-1] = (len(self.pages) - 1, self.y, self.outline[-1][2])
        self.y -= tall
        return True

    @property
    def beside(self) -> float:
        """Points from here down to the end of the open section's name: closing the section takes them."""
        return max(0.0, self.y - self._side_end) if self._section else 0.0

    def close(self) -> None:
        """End the open section: nothing may stand beside its name any more."""
        self._section = None
        self.parent = self.root
        self.y = min(self.y, self._side_end)

    def _name(self, label: str, note: str, *, continued: bool) -> bool:
        """Write a section's name in the side column. True if it was too long and had to be cut there."""
        page, fresh = self.page, self.y >= self._first
        begin = len(self.pages[-1])
        self.fill(page.left, self.y - 0.6, page.right - page.left, 0.6, types.HAIR)
        self.fill(page.left, self.y - 1.8, 26, 1.8, page.accent)
        self.y -= 9
        top = self.y
        lines = self._side_lines(label, note, continued=continued)
        heads = ARTIFACT if continued else Node("H2", self.parent)
        notes = ARTIFACT if continued or not note else Node("P", self.parent)
        for text, style in lines:
            node = ARTIFACT if text == CUT else heads if style is types.SIDE else notes
            self.text(page.left, top, text, style, node)
            top -= style.leading
        self._side_end = top
        self._named = (begin, len(self.pages[-1]), continued)
        if fresh:
            self._first = self.y
        return lines[-1][0] == CUT

    def _side_lines(self, label: str, note: str, *, continued: bool) -> list[Line]:
        """What stands in the side column: the name, and a note or 'continued'; cut off after a few lines."""
        width = self.page.side_width
        lines = self.lines(label, types.SIDE, width)
        lines += self.lines(self.say("continued") if continued else note, types.NOTE, width)
        return [*lines[:SIDE_LINES], (CUT, types.NOTE)] if len(lines) > SIDE_LINES else lines

    # Bands

    def cell(self, text: str, style: Style, x: float | None = None, width: float | None = None) -> Cell:
        """A cell of the main column, or of a part of it."""
        x = self.page.main if x is None else x
        width = self.page.right - x if width is None else width
        return Cell(x, width, self.lines(text, style, width))

    def paragraph(self, text: str, style: Style = types.BODY, after: float = 6, tail: float = 0) -> None:
        """Text over the main column, split between lines where a page ends. `tail`: room that must follow its last lines.

        A heading stays on the page of what comes below it.
        """
        cell = self.cell(text, style)._replace(align="start", node=Node(HEADINGS.get(style, "P"), self.parent))
        height = cell.height()
        if style not in HEADINGS or not height or height > self.capacity * 0.2:
            self.band([cell], after=after, tail=tail, whole=False)
            return
        self.band([cell], after=after, tail=after + TOGETHER * types.BODY.leading)
        end = len(self.pages[-1])
        if self.y + height + after >= self._first:
            self._first = self.y
        else:
            self._heading = Heading(
                len(self.pages), end - sum(1 for line, _ in cell.lines if line), end, cell, height + after
            )

    def band(
        self,
        cells: Sequence[Cell],
        *,
        after: float = 0,
        tail: float = 0,
        whole: bool = True,
        again: Callable[[], None] | None = None,
    ) -> None:
        """Place cells side by side. `tail`: room that must follow on the same page.

        `whole`: keep the band on one page if any page can hold it. `again` is called on each page
        that the band turns to, before it goes on there (a table repeats its header).
        """
        cells = [cell if cell.node else cell._replace(node=Node("P", self.parent)) for cell in cells]
        height = max((cell.height() for cell in cells), default=0.0)
        if height + tail <= self.room:
            self._place(cells)
            self.y -= height + after
            return
        if whole and height + tail <= self.capacity * 0.7:
            self.turn()
            if again:
                again()
            self._place(cells)
            self.y -= height + after
            return
        self._split(cells, tail, again)
        self.y -= after

    def _split(self, cells: Sequence[Cell], tail: float, again: Callable[[], None] | None) -> None:
        """Lines as far as they go, then the rest on the next page, until nothing is left.

        Two lines at least stand on each side of the turn, unless a fresh page has no room for them.
        """
        rest = list(cells)
        fresh = self.y >= self._first
        while any(cell.lines for cell in rest):
            taken = [_take(cell, self.room, tail) for cell in rest]
            if not fresh and not all(part.lines for part, cell in zip(taken, rest, strict=True) if cell.lines):
                self._over(again)
                fresh = True
                continue
            taken = [part if part.lines else _fill(cell, self.room) for part, cell in zip(taken, rest, strict=True)]
            self._place(taken)
            self.y -= max(cell.height() for cell in taken)
            rest = [c._replace(lines=c.lines[len(t.lines) :]) for c, t in zip(rest, taken, strict=True)]
            if any(cell.lines for cell in rest):
                self._over(again)
                fresh = True

    def _over(self, again: Callable[[], None] | None) -> None:
        self.turn()
        if again:
            again()

    def _place(self, cells: Iterable[Cell]) -> None:
        marks = self.pages[-1]
        for x, width, lines, align, tail, owner in cells:
            node = owner or ARTIFACT
            top = self.y
            for text, style in lines:
                at = x
                if align == "right" or (align == "start" and isinstance(text, SetLine) and text.base):
                    at = x + width - tail - faces()[style.face].width(text, style.size)
                if text:
                    marks.append((TEXT, at, top - style.drop, 0, 0, text, style, node))
                top -= style.leading


def _take(cell: Cell, room: float, tail: float) -> Cell:
    """The whole cell with `tail` below it, or lines of it such that two at least are left and taken; none if that fails."""
    if cell.height() + tail <= room:
        return cell
    count = min(len(_fill(cell, room).lines), len(cell.lines) - TOGETHER)
    return cell._replace(lines=cell.lines[:count] if count >= TOGETHER else [])


def _fill(cell: Cell, room: float) -> Cell:
    """The first lines of a cell that fit `room`; at least one, so that a split always goes on."""
    used, count = 0.0, 0
    for _, style in cell.lines:
        if used + style.leading > room and count:
            break
        used += style.leading
        count += 1
    return cell._replace(lines=cell.lines[:count])


@functools.lru_cache(maxsize=4096)
def _known(text: str, face: str, size: float, width: float) -> tuple[str, ...]:
    """Short texts are mostly labels and come again, on other papers too; long ones are not worth the memory."""
    return tuple(break_lines(text, faces()[face], size, width))
