"""Time per estimate paper over a bare canvas that writes the same words at the same places.

The bare canvas does no layout at all: `drawString` at positions that are known beforehand, the same embedded faces, sizes
and colours, the same rules, the code's path handed to it. Before anything is timed, both draw one sheet, and the run fails
unless the two files have the same words on each page, as many strings, the same font subsets, and compressed pages.

Every paper of the run has words and a code of its own, so that nothing is answered from a cache that a shop's next paper
would not find filled; labels that stand on every paper are, as in a worker. The two are drawn in turns; the minimum counts.

Ours may come out below one and still lays out: `drawString` looks every character up in the font's subset and opens a text
object for each string, which the pen does for strings beyond ASCII only. So a second baseline is stricter: the pen itself,
writing marks that are known beforehand. What is above one there is the layout.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from decimal import Decimal
from io import BytesIO
from typing import TypeVar

import pikepdf
from pypdf import PdfReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import Canvas

from orders.papers import estimate
from orders.papers.estimate import EstimateJob, EstimateSheet, PayerTotal
from orders.papers.lines import TaxLine
from shopdocs.documents.press import flow as flows
from shopdocs.documents.press import render as rendering
from shopdocs.documents.press.codes import MODULE, qr
from shopdocs.documents.press.fonts import faces
from shopdocs.documents.press.render import Drawn
from shopdocs.documents.press.sheets import Sheet
from tests.bench.registry import Result, benchmark
from tests.papers_samples import CUSTOMER, SAW, labour, part
from tests.papers_samples import estimate as sample

ROUNDS = 60
D = Decimal


def sheet(seed: int) -> EstimateSheet:
    """An estimate of 20 lines on two pages, none of its words shared with another seed's."""
    jobs = tuple(
        EstimateJob(
            number=at,
            title=f"Job {seed}-{at}: put the fuel system right",
            found=f"Seen {seed} times {at}: the line between tank and carburettor is hard and leaks when it is bent.",
            labour=tuple(labour(f"L-{seed}-{line}", f"Take apart stage {seed + line}", 3 + line) for line in range(4)),
            parts=tuple(part(f"P-{seed}-{line}", f"Hose piece {seed * 7 + line}", "2", "4.25") for line in range(6)),
            payer="Customer",
            basis="",
            subtotal=D("222.00"),
        )
        for at in (1, 2)
    )
    return sample(
        number=f"E-{seed}",
        code=f"https://desk.brindlehollow.example/r/e-{seed}",
        jobs=jobs,
        customer=replace(CUSTOMER, name=f"Customer {seed}"),
        unit=replace(SAW, serial=f"KL7-{seed:07}"),
        request=f"Bought second hand in week {seed}; runs rough when warm.",
        taxes=(TaxLine(name="State sales tax", percent=D("6.00"), base=D("102.00"), amount=D("6.12")),),
        payers=(PayerTotal(payer="Customer", net=D("444.00"), tax=D("6.12"), total=D("450.12")),),
        customer_total=D("450.12"),
        cautions=(),
    )


Shade = tuple[float, float, float]
# x, y, width, height, colour, font name, size, words; a box has no words.
Placed = tuple[float, float, float, float, Shade, str, float, str]
Positions = tuple[tuple[float, float], list[list[Placed]], float]


def _shade(colour: str) -> Shade:
    return int(colour[1:3], 16) / 255, int(colour[3:5], 16) / 255, int(colour[5:7], 16) / 255


def _flat(mark: flows.Mark) -> list[Placed]:
    kind, x, y, width, height, text, style, _ = mark
    if style is None:
        assert kind == flows.FILL
        return [(x, y, width, height, _shade(text), "", 0.0, "")]
    return [(x, y, 0, 0, _shade(style.colour), faces()[style.face].font.fontName, style.size, text)]


@contextmanager
def rendered_by(function: Callable[..., Drawn]) -> Iterator[None]:
    """The estimate's drawing with another last step."""
    before, estimate.render = estimate.render, function  # type: ignore[attr-defined]
    try:
        yield
    finally:
        estimate.render = before  # type: ignore[attr-defined]


def plain(made: Sheet, flow: flows.Flow, pictures: Mapping[str, bytes]) -> Drawn:
    """Drawn, and not yet tagged or made ready for the archive."""
    return Drawn(rendering.write(made, flow, pictures), len(flow.pages), "", ())


def positions(made: EstimateSheet) -> Positions:
    """Page size, placed words and the QR code's upper edge, as our layout has them: the baseline's hand-made figures."""
    kept: list[Positions] = []

    def keep(sheet: Sheet, flow: flows.Flow, pictures: Mapping[str, bytes]) -> Drawn:
        drawn = plain(sheet, flow, pictures)
        pages = [[flat for mark in marks for flat in _flat(mark)] for marks in flow.pages]
        kept.append(((flow.page.width, flow.page.height), pages, flow.page.bottom - 12))
        return drawn

    with rendered_by(keep):
        estimate.draw(made, {})
    return kept[0]


def bare(made: EstimateSheet, placed: Positions) -> bytes:
    """The same paper by `drawString` alone."""
    size, pages, qr_top = placed
    out = BytesIO()
    canvas = Canvas(out, pagesize=size, pageCompression=1, invariant=1, lang="en")
    side, path = qr(made.code)
    code = f"q {MODULE} 0 0 {MODULE} 50 {qr_top - side * MODULE:.2f} cm 0 g\n{path}\nf Q"
    for marks in pages:
        now: tuple[str, float] = ("", 0.0)
        colour: Shade = (0, 0, 0)
        for x, y, width, height, shade, font, points, words in marks:
            if shade != colour:
                colour = shade
                canvas.setFillColorRGB(*shade)
            if not words:
                canvas.rect(x, y, width, height, stroke=0, fill=1)
                continue
            if (font, points) != now:
                now = (font, points)
                canvas.setFont(font, points)
            canvas.drawString(x, y, words)
        canvas.addLiteral(code)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def laid_out(made: EstimateSheet) -> tuple[Sheet, flows.Flow]:
    """A sheet with its marks in place and nothing written yet."""
    kept: list[tuple[Sheet, flows.Flow]] = []

    def keep(sheet: Sheet, flow: flows.Flow, pictures: Mapping[str, bytes]) -> Drawn:
        kept.append((sheet, flow))
        return Drawn(b"", 0, "", ())

    with rendered_by(keep):
        estimate.draw(made, {})
    return kept[0]


def content(pdf: bytes) -> tuple[list[str], list[int], list[bytes]]:
    """Words and strings of each page, and the embedded font subsets. Raises AssertionError when a page is not compressed."""
    words = [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages]
    strings, fonts = [], {}
    with pikepdf.open(BytesIO(pdf)) as file:
        for page in file.pages:
            assert "/FlateDecode" in str(page.Contents.get("/Filter")), "an uncompressed page"
            strings.append(sum(str(step.operator) == "Tj" for step in pikepdf.parse_content_stream(page)))
            for font in page.Resources.Font.values():
                embedded = font.get("/FontDescriptor", {}).get("/FontFile2")
                if embedded is not None:
                    fonts[embedded.objgen] = embedded.read_bytes()
    return words, strings, sorted(fonts.values())


def same(made: EstimateSheet) -> None:
    """Ours and the bare canvas' file of one sheet hold the same, or the run ends."""
    with rendered_by(plain):
        ours = content(estimate.draw(made, {}).pdf)
    theirs = content(bare(made, positions(made)))
    for what, mine, other in zip(("words", "strings", "font subsets"), ours, theirs, strict=True):
        if mine != other:
            raise AssertionError(f"the bare canvas draws other {what} than the paper")


Made = TypeVar("Made")


def timed(work: Callable[[], Made]) -> tuple[float, Made]:
    """Seconds of this process, whatever else the machine does, and what was made. Each way makes the code of its paper itself: finding the places has made it once."""
    qr.cache_clear()
    start = time.process_time()
    made = work()
    return time.process_time() - start, made


@benchmark("paper")
def paper() -> list[Result]:
    """One estimate, layout and all, against the bare canvas; and what tags and archive pass add to it."""
    for face in faces().values():
        pdfmetrics.registerFont(face.font)
    same(sheet(1))
    first = estimate.draw(sheet(1), {})
    ours, whole, pens, theirs = [], [], [], []
    for seed in range(1000, 1000 + ROUNDS):
        made, full, penned, other = (sheet(seed + 3000 * way) for way in range(4))
        placed, (titled, flow) = positions(other), laid_out(penned)
        with rendered_by(plain):
            took, drawn = timed(lambda made=made: estimate.draw(made, {}))  # type: ignore[misc]
        ours.append(took)
        whole.append(timed(lambda full=full: estimate.draw(full, {}))[0])  # type: ignore[misc]
        pens.append(timed(lambda titled=titled, flow=flow: rendering.write(titled, flow, {}))[0])  # type: ignore[misc]
        took, baseline = timed(lambda other=other, placed=placed: bare(other, placed))  # type: ignore[misc]
        theirs.append(took)
    sizes = (
        f"20 lines, {first.pages} pages, {len(drawn.pdf)} against {len(baseline)} bytes, "
        f"{min(ours) * 1000:.2f} against {min(theirs) * 1000:.2f} ms, {ROUNDS} papers"
    )
    added = min(whole) - min(ours)
    return [
        Result("paper", min(ours) / min(theirs), 1.6, "the same words by drawString, same faces", sizes),
        Result(
            "paper, over its own pen",
            min(ours) / min(pens),
            1.6,
            "the same marks written by the pen without layout",
            f"{min(ours) * 1000:.2f} against {min(pens) * 1000:.2f} ms",
        ),
        Result(
            "paper, tags and archive pass",
            added / min(theirs),
            1.3,
            "the same bare canvas",
            f"{added * 1000:.2f} ms more, {len(first.pdf)} bytes in all",
        ),
    ]
