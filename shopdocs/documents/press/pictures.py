"""Photos on paper: checked, sized, and placed with who, when and what they prove."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from io import BytesIO

from PIL import Image, UnidentifiedImageError

from shopdocs.documents.press import page as types
from shopdocs.documents.press.errors import PressError
from shopdocs.documents.press.facts import Photo
from shopdocs.documents.press.flow import Cell, Flow

EVIDENCE_HEIGHT = 226.0
PAIR_HEIGHT = 150.0


def size_of(photo: Photo, pictures: Mapping[str, bytes]) -> tuple[int, int]:
    """Width and height in pixels of the print picture of `photo`.

    Raises PressError when it is missing, no JPEG, cut off, or in a colour space papers do not carry:
    ReportLab would embed such bytes without a word, and the reader would see nothing.
    """
    data = pictures.get(photo.sha256)
    if data is None:
        raise PressError(f"photo {photo.number}: no picture was given for {photo.sha256}; make its print size first")
    try:
        with Image.open(BytesIO(data), formats=["JPEG"]) as image:
            size, mode = image.size, image.mode
    except (UnidentifiedImageError, OSError, Image.DecompressionBombError) as problem:
        raise PressError(f"photo {photo.number}: not a readable JPEG ({problem})") from problem
    if mode not in ("RGB", "L"):
        raise PressError(f"photo {photo.number}: colour mode {mode}; print pictures are RGB or grey")
    if b"\xff\xd9" not in data[-64:]:
        raise PressError(f"photo {photo.number}: the JPEG is cut off; make its print size again")
    return size


def evidence(flow: Flow, photos: Sequence[Photo], pictures: Mapping[str, bytes]) -> None:
    """Each photo large, its number, moment, author and time in the side column, caption and finding below."""
    say = flow.say
    for photo in photos:
        pixels = size_of(photo, pictures)
        width, height = _fit(pixels, flow.page.main_width, EVIDENCE_HEIGHT)
        words = flow.lines(photo.caption, types.STRONG, flow.page.main_width)
        words += flow.lines(_proves(flow, photo), types.NOTE, flow.page.main_width)
        told = sum(style.leading for _, style in words)
        side = [say(photo.moment), photo.when, photo.who]
        flow.section(f"{say('Photo')} {photo.number}", "\n".join(side), keep=height + min(told, 70) + 10)
        flow.y -= 2
        flow.picture(flow.page.main, flow.y - height, width, height, photo.sha256, _alt(flow, photo))
        flow.y -= height + 5
        flow.band([Cell(flow.page.main, flow.page.main_width, words)], whole=told > 70)
    flow.close()


def pairs(flow: Flow, photos: Sequence[Photo], pictures: Mapping[str, bytes]) -> None:
    """Photos two in a row, each with its number and facts below."""
    say = flow.say
    width = (flow.page.main_width - 14) / 2
    for at in range(0, len(photos), 2):
        row = photos[at : at + 2]
        sizes = [_fit(size_of(photo, pictures), width, PAIR_HEIGHT) for photo in row]
        tall = max(height for _, height in sizes)
        cells = []
        for place, photo in enumerate(row):
            facts = [f"{say('Photo')} {photo.number}", say(photo.moment), photo.when, photo.who, _proves(flow, photo)]
            lines = flow.lines(photo.caption, types.STRONG, width)
            lines += flow.lines(" · ".join(fact for fact in facts if fact), types.NOTE, width)
            cells.append(Cell(flow.page.main + place * (width + 14), width, lines))
        told = max(cell.height() for cell in cells)
        flow.need(tall + min(told, 70) + 14)
        for cell, photo, (wide, high) in zip(cells, row, sizes, strict=True):
            flow.picture(cell.x, flow.y - high, wide, high, photo.sha256, _alt(flow, photo))
        flow.y -= tall + 4
        flow.band(cells, after=12, whole=told > 70)


def _alt(flow: Flow, photo: Photo) -> str:
    return f"{flow.say('Photo')} {photo.number}: {photo.caption}"


def _proves(flow: Flow, photo: Photo) -> str:
    parts = [flow.say(photo.shows)] if photo.shows else []
    if photo.finding:
        parts.append(f"{flow.say('shows finding')} {photo.finding}")
    return " · ".join(parts)


def _fit(pixels: tuple[int, int], width: float, height: float) -> tuple[float, float]:
    """The size in points of a picture fitted into a box, its shape kept, at least a point each way."""
    scale = min(width / pixels[0], height / pixels[1])
    return max(1.0, pixels[0] * scale), max(1.0, pixels[1] * scale)
