"""Photos on paper: checked, sized, and placed with who, when and what they prove."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from io import BytesIO
from typing import NamedTuple

from PIL import Image, UnidentifiedImageError

from shopdocs.documents.press import page as types
from shopdocs.documents.press.errors import PressError
from shopdocs.documents.press.facts import Photo, Signed
from shopdocs.documents.press.flow import Cell, Flow, Line
from shopdocs.documents.press.strokes import strokes
from shopdocs.documents.press.structure import ARTIFACT
from shopdocs.documents.press.values import apart, sentence

PAIR_HEIGHT = 150.0
GAP = 14.0
WORDS_KEPT = 70.0
"""Points of words below a photo that stay on its page."""


def size_of(photo: Photo, pictures: Mapping[str, bytes]) -> tuple[int, int]:
    """Width and height in pixels of the print picture of `photo`.

    Raises PressError when it is missing, no JPEG, cut off, or in a colour space papers do not carry:
    ReportLab would embed such bytes without a word, and the reader would see nothing.
    """
    return _size(photo.sha256, f"photo {photo.number}", pictures)


def _size(sha256: str, what: str, pictures: Mapping[str, bytes]) -> tuple[int, int]:
    data = pictures.get(sha256)
    if data is None:
        raise PressError(f"{what}: no picture was given for {sha256}; make its print size first")
    try:
        with Image.open(BytesIO(data), formats=["JPEG"]) as image:
            size, mode = image.size, image.mode
    except (UnidentifiedImageError, OSError, Image.DecompressionBombError) as problem:
        raise PressError(f"{what}: not a readable JPEG ({problem})") from problem
    if mode not in ("RGB", "L"):
        raise PressError(f"{what}: colour mode {mode}; print pictures are RGB or grey")
    if b"\xff\xd9" not in data[-64:]:
        raise PressError(f"{what}: the JPEG is cut off; make its print size again")
    return size


def signed(flow: Flow, signature: Signed, pictures: Mapping[str, bytes]) -> None:
    """A drawn signature over its line, with name and moment. Raises PressError when its picture is missing."""
    size = _size(signature.sha256, f"signature of {signature.name}", pictures)
    across, high = _fit(size, 200.0, 64.0)
    flow.need(high + 40)
    low = flow.y - high
    flow.picture(flow.page.main, low, across, high, signature.sha256, f"{flow.say('Signature')} · {signature.name}")
    flow.y = low - 2
    flow.fill(flow.page.main, flow.y, 220, 0.7, types.INK)
    flow.y -= 3
    told = f"{flow.say('Signature')} · {apart(signature.name)}, {signature.when}"
    flow.band(
        [Cell(flow.page.main, flow.page.main_width, flow.lines(told, types.LABEL, flow.page.main_width))], after=6
    )


def grid(
    flow: Flow,
    photos: Sequence[Photo],
    pictures: Mapping[str, bytes],
    *,
    columns: int = 2,
    height: float = PAIR_HEIGHT,
    wide: bool = False,
    name: str = "",
    begin: Collection[int] = (),
) -> None:
    """Photos side by side, each with number, caption, moment, time, author and finding below. Raises PressError.

    `begin`: the numbers of photos that begin a row though the one before has room.

    `wide`: over both columns of the page, below the name of the section, which is then closed; `name` stands again, as
    continued, over the photos of each further page. No photo stands alone on a page if those before it can share theirs.
    """
    left = flow.page.left if wide else flow.page.main
    if wide and photos:
        below = flow.beside + 6
        first = _next(flow, _until(photos, begin), pictures, left, columns, height, flow.room - below)
        flow.need(below + first.kept)  # the name goes to the page of its photos
        section = flow.parent
        flow.close()
        flow.parent = section
        flow.y -= 6
    rest = list(photos)
    while rest:
        row = _next(flow, _until(rest, begin), pictures, left, columns, height, flow.room)
        rest = rest[len(row.photos) :]
        if flow.need(row.kept) and name:
            width = flow.page.right - left
            again = flow.lines(f"{name}, {flow.say('continued')}", types.SIDE, width)
            flow.band([Cell(left, width, again, node=ARTIFACT)], after=6)
        low = flow.y - row.tall  # they stand on one line, each over its own words
        for cell, photo, (across, high) in zip(row.cells, row.photos, row.sizes, strict=True):
            drawn = strokes(photo.marks, (cell.x, low, across, high))
            flow.picture(cell.x, low, across, high, photo.sha256, _alt(flow, photo), drawn)
        flow.y -= row.tall + 4
        flow.band(row.cells, after=12, whole=row.told > WORDS_KEPT)
    if wide:
        flow.parent = flow.root


def _until(rest: Sequence[Photo], begin: Collection[int]) -> Sequence[Photo]:
    """What is left up to the next photo that begins a row."""
    stop = next((at for at, photo in enumerate(rest) if at and photo.number in begin), len(rest))
    return rest[:stop]


class _Row(NamedTuple):
    """Photos side by side, with their sizes in points, the height of the tallest, and the words below each."""

    photos: Sequence[Photo]
    sizes: list[tuple[float, float]]
    tall: float
    cells: list[Cell]

    @property
    def told(self) -> float:
        """Height of the longest words below a photo."""
        return max(cell.height() for cell in self.cells)

    @property
    def height(self) -> float:
        return self.tall + 16 + self.told

    @property
    def kept(self) -> float:
        """What must stand on one page: the photos, and their words unless they are long."""
        return self.tall + min(self.told, WORDS_KEPT) + 14


def _next(
    flow: Flow,
    rest: Sequence[Photo],
    pictures: Mapping[str, bytes],
    left: float,
    columns: int,
    height: float,
    room: float,
) -> _Row:
    """The next row of what is left, where `room` points are left for it. Where one photo would be left alone in a row of many, or on a page of its own,
    the last rows share theirs otherwise: halves, or three in the place of two.
    """

    def row(photos: Sequence[Photo], across: int) -> _Row:
        width = (flow.page.right - left - GAP * (across - 1)) / across
        sizes = [_fit(size_of(photo, pictures), width, height) for photo in photos]
        cells = [
            Cell(left + place * (width + GAP), width, _told(flow, photo, width, small=across > 3))
            for place, photo in enumerate(photos)
        ]
        return _Row(photos, sizes, max(high for _, high in sizes), cells)

    if len(rest) != columns + 1 or columns == 1:
        return row(rest[:columns], columns)
    if columns > 2:
        return row(rest[: (len(rest) + 1) // 2], columns)
    pair, alone = row(rest[:2], 2), row(rest[2:], 2)
    here = room if pair.height <= room else flow.capacity - 30
    return pair if pair.height + alone.height <= here else row(rest, 3)


def _told(flow: Flow, photo: Photo, width: float, *, small: bool) -> list[Line]:
    """The words below a photo: number and caption; what it shows; moment, time, author."""
    say = flow.say
    lines = flow.lines(_called(flow, photo), types.PROOF if small else types.STRONG, width)
    lines += flow.lines(_proves(flow, photo), types.NOTE if small else types.PROOF, width)
    lines += flow.lines(_scale(flow, photo), types.NOTE_INK, width)
    facts = (say(photo.moment), photo.when, photo.who)
    lines += flow.lines(" \u00b7 ".join(fact for fact in facts if fact), types.NOTE, width)
    return lines + flow.lines(photo.by_the_camera(say), types.NOTE, width)


def _called(flow: Flow, photo: Photo) -> str:
    """'Photo 4: Module, measured open'; without a caption the number alone."""
    return f"{flow.say('Photo')} {photo.number}" + (f": {photo.caption}" if photo.caption else "")


def _alt(flow: Flow, photo: Photo) -> str:
    told = [_called(flow, photo), _scale(flow, photo)]
    told += [flow.say(kind) for kind in ("arrow", "circle") if any(mark.kind == kind for mark in photo.marks)]
    return "; ".join(part for part in told if part)


def _scale(flow: Flow, photo: Photo) -> str:
    """'Scale bar: 12 mm', '' without one."""
    return "; ".join(f"{flow.say('Scale bar')}: {mark.length}" for mark in photo.marks if mark.kind == "scale")


def _proves(flow: Flow, photo: Photo) -> str:
    parts = [flow.say(photo.shows)] if photo.shows else []
    if photo.finding:
        parts.append(f"{flow.say('shows finding')} {photo.finding}")
    return sentence(" · ".join(parts))


def _fit(pixels: tuple[int, int], width: float, height: float) -> tuple[float, float]:
    """The size in points of a picture fitted into a box, its shape kept, at least a point each way."""
    scale = min(width / pixels[0], height / pixels[1])
    return max(1.0, pixels[0] * scale), max(1.0, pixels[1] * scale)
