"""Tables: columns with a head that is repeated, rows that stay whole, figures that line up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from shopdocs.documents.press import page as types
from shopdocs.documents.press.flow import TOGETHER, Cell, Flow, Line
from shopdocs.documents.press.fonts import faces
from shopdocs.documents.press.page import Style
from shopdocs.documents.press.structure import ARTIFACT, Node

GUTTER = 10.0
WIDEST = 104.0


class Column(NamedTuple):
    """A column: its label, its width (0: what is left), and 'left', 'right' or 'decimal'.

    Columns of figures grow beyond their width when a figure needs it, up to `WIDEST`.
    """

    label: str
    width: float
    align: str = "left"


class Row(NamedTuple):
    """One row: a text for each column, a small note in the widest column, strong or not, and which columns are faint."""

    cells: tuple[str, ...]
    note: str = ""
    strong: bool = False
    faint: tuple[int, ...] = ()


class Table:
    """Rows in columns. Every row is set out before the first is placed, so that decimals meet."""

    def __init__(self, flow: Flow, columns: Sequence[Column], *, tight: bool = False) -> None:
        """`tight`: rows follow each other without a line between them."""
        self.flow = flow
        self._gap, self._lined = (0.0, False) if tight else (3.0, True)
        self._asked = columns
        self.columns: list[tuple[Column, float, float]] = []
        self._wide = 0

    def _set_out(self, rows: Sequence[Row]) -> None:
        """Give each column its x and width: figures what they need, the column of width 0 the rest."""
        flow, widths = self.flow, []
        for at, column in enumerate(self._asked):
            wide = column.width
            if column.align != "left":
                wide = max([wide, *(_width(row.cells[at], types.STRONG) for row in rows)])
            if column.align == "decimal":  # the longest before the point may stand over the longest behind it
                ends = [_end(row.cells[at]) for row in rows]
                heads = [row.cells[at].removesuffix(end) for row, end in zip(rows, ends, strict=True)]
                wide = max(wide, sum(max(_width(one, types.STRONG) for one in some) for some in (heads, ends)))
            widths.append(min(wide, max(WIDEST, column.width)))
        rest = flow.page.main_width - sum(widths) - GUTTER * (len(widths) - 1)
        start = flow.page.main
        for column, wide in zip(self._asked, widths, strict=True):
            wide = wide or max(20.0, rest)
            self.columns.append((column, start, wide))
            start += wide + GUTTER
        self._wide = next((at for at, column in enumerate(self._asked) if not column.width), 0)

    def head(self, row: Node | None = None) -> None:
        """The labels over a hairline; again on each page that the table turns to, where they are no part of the story."""
        cells = []
        for column, x, width in self.columns:
            lines = self.flow.lines(self.flow.say(column.label), types.LABEL, width)
            node = Node("TH", row) if row else ARTIFACT
            cells.append(Cell(x, width, lines, "left" if column.align == "left" else "right", 0.0, node))
        self.flow.band(cells, after=2)
        self._rule()
        self.flow.y -= 4

    def draw(self, rows: Sequence[Row], tail: float = 0) -> None:
        """Head and rows. `tail`: room for what must stay on the page of the last row (a sum).

        Two rows at least stand below the head on each page, unless they are too tall for that.
        """
        if not rows:
            return
        self._set_out(rows)
        tails = self._tails(rows)
        short = len(rows) < 2 * TOGETHER  # too short to be parted in two
        first = self._together(rows if short else rows[:TOGETHER], tails)
        whole = first if first <= self.flow.capacity * 0.6 else 60
        self.flow.need(28 + whole + (tail if short else 0))
        last = 0 if short else self._together(rows[-TOGETHER:], tails)
        last = last if last + tail <= self.flow.capacity * 0.6 else 0
        table = Node("Table", self.flow.parent)
        self.head(Node("TR", Node("THead", table)))
        body = Node("TBody", table)
        for at, row in enumerate(rows):
            left = len(rows) - 1 - at
            if left == TOGETHER - 1 and last > self.flow.room - tail:
                self.flow.turn()
                self.head()
            self.flow.band(
                self._cells(row, tails, Node("TR", body)), after=self._gap, tail=0 if left else tail, again=self.head
            )
            if left and self._lined:
                self._rule()
                self.flow.y -= self._gap

    def _together(self, rows: Sequence[Row], tails: Sequence[float]) -> float:
        """Height of rows that follow each other."""
        heights = [max(cell.height() for cell in self._cells(row, tails, ARTIFACT)) for row in rows]
        return sum(heights) + (len(rows) - 1) * 2 * self._gap

    def _rule(self) -> None:
        page = self.flow.page
        left = self.columns[0][1]
        self.flow.fill(left, self.flow.y, page.right - left, 0.4, types.HAIR)

    def _tails(self, rows: Sequence[Row]) -> list[float]:
        """For each decimal column the width of the longest text from its decimal point on."""
        face, size = faces()[types.BODY.face], types.BODY.size
        out = []
        for at, (column, _, _) in enumerate(self.columns):
            ends = {_end(row.cells[at]) for row in rows} if column.align == "decimal" else {""}
            out.append(max(face.width(end, size) for end in ends))
        return out

    def _cells(self, row: Row, tails: Sequence[float], owner: Node) -> list[Cell]:
        flow = self.flow
        usual = types.STRONG if row.strong else types.BODY
        cells = []
        for at, (column, x, width) in enumerate(self.columns):
            style = types.ASIDE if at in row.faint else usual
            lines = flow.lines(row.cells[at], style, width)
            aside: Cell | None = None
            if row.note and at == self._wide:
                aside = self._aside(row.note, lines, x, width)
                if aside is None:
                    lines = lines + flow.lines(row.note, types.NOTE, width)
            align, tail = "left", 0.0
            if column.align != "left":
                align = "right"
            if column.align == "decimal":
                tail = max(0.0, tails[at] - _width(_end(row.cells[at]), style))
            node = ARTIFACT if owner is ARTIFACT else Node("TD", owner)
            cells.append(Cell(x, width, lines, align, tail, node))
            if aside:
                cells.append(aside._replace(node=node))
        return cells

    def _aside(self, note: str, lines: list[Line], x: float, width: float) -> Cell | None:
        """The note behind the last line, where it fits on that line; otherwise None."""
        if not lines or "\n" in note:
            return None
        text, style = lines[-1]
        used = _width(text, style) + 7
        words = self.flow.lines(note, types.ASIDE, max(1.0, width - used))
        if len(words) != 1:
            return None
        return Cell(x + used, width - used, [("", style)] * (len(lines) - 1) + words)


def _width(text: str, style: Style) -> float:
    return faces()[style.face].width(text, style.size) if text else 0.0


def _end(text: str) -> str:
    """'.5' of '12.5'; nothing for whole numbers and words."""
    head, point, rest = text.rpartition(".")
    return point + rest if point and rest.isdigit() and head[-1:].isdigit() else ""
