"""A JPEG by its own markers, and a decoding that sees whether the coded picture goes on to its end.

libjpeg fills with grey what a file lacks and passes over what is too much, and Pillow hears of neither. So the decoder is
handed the file piece by piece: at the end of each scan it must be done with it, no earlier and no later. Pieces that say
nothing (`_ONES`, bits that are no code) are put behind the scan: a decoder that still waits for the picture holds them back,
one that is done with it runs past them. Markers and segments are those of ITU-T T.81, annex B (from memory).
"""

import re
from dataclasses import dataclass, field
from typing import Any

from PIL import Image, ImageFile

_SEGMENT = re.compile(rb"\xff[\x01-\xfe]")
_SCAN_END = re.compile(rb"\xff[\x01-\xcf\xd8-\xfe]")  # 00 is a stuffed byte, D0 to D7 are restarts, FF only fills
_RESTART = re.compile(rb"\xff[\xd0-\xd7]")
_ALONE = frozenset({0x01, *range(0xD0, 0xD9)})
_FRAMES = frozenset({*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC})
_BASELINE, _EXTENDED, _PROGRESSIVE, _TABLES, _END, _SCAN, _INTERVAL = 0xC0, 0xC1, 0xC2, 0xC4, 0xD9, 0xDA, 0xDD
_ONES = b"\xff\x00"
# The decoder looks up to eight bytes ahead; sixteen let it finish what it has, and are no more than three blocks of picture.
_LOOKED_AHEAD, _TRIED = 16, 8
# Bytes behind the picture and before the end of its scan that are let pass: some cameras fill up to the next sector.
_PADDING = 4096
_TAIL, _FILLING = 64, 256
_BLANK = bytes(512)
_PIECE = 65_536


class NotWhole(ValueError):
    """The file ends, or is blank, before the picture does; or it is coded in a way that is not taken."""


@dataclass(frozen=True, slots=True)
class Scan:
    """One pass over the picture. start, stop: where its coded data lie. components: which colours, by their number.

    first, last: which of the 64 frequencies; low: down to which bit (0: all). interval: units between restarts, 0 for none.
    """

    start: int
    stop: int
    components: tuple[int, ...]
    first: int
    last: int
    low: int
    interval: int


@dataclass(slots=True)
class Layout:
    """What the markers say. sampling: of each colour, by its number, across and down."""

    progressive: bool = False
    width: int = 0
    height: int = 0
    sampling: dict[int, tuple[int, int]] = field(default_factory=dict)
    scans: list[Scan] = field(default_factory=list)
    blank_codes: bool = True
    """Whether a run of zeros can be coded picture: every table begins with the code of an empty block."""

    @property
    def in_passes(self) -> bool:
        """Whether several scans make up the picture, so that the decoder must hold all of it."""
        return self.progressive or len(self.scans[0].components) < len(self.sampling)

    @property
    def held(self) -> int:
        """Bytes that the decoder holds for such a picture: two for each of the 64 frequencies of every block."""
        if not self.in_passes:
            return 0
        across, down = self._units()
        return sum(128 * across * down * h * v for h, v in self.sampling.values())

    def units(self, scan: Scan) -> int:
        """How many units (blocks of one colour, or groups of blocks of several) a scan holds."""
        if len(scan.components) > 1:
            across, down = self._units()
            return across * down
        h, v = self.sampling[scan.components[0]]
        wide, tall = self._most()
        return -(-self.width * h // (wide * 8)) * -(-self.height * v // (tall * 8))

    def _most(self) -> tuple[int, int]:
        return max(h for h, _ in self.sampling.values()), max(v for _, v in self.sampling.values())

    def _units(self) -> tuple[int, int]:
        wide, tall = self._most()
        return -(-self.width // (8 * wide)), -(-self.height // (8 * tall))


def layout(data: bytes) -> Layout:
    """Reads the markers up to the end of the picture. Raises NotWhole when there is none, or one coded in a rare way."""
    found, interval, at, ended = Layout(), 0, 2, False
    while (mark := _SEGMENT.search(data, at)) is not None:
        code, at = data[mark.start() + 1], mark.end()
        if code == _END:
            ended = True
            break
        if code in _ALONE:
            continue
        size = int.from_bytes(data[at : at + 2], "big")
        body, at = data[at + 2 : at + size], at + max(2, size)
        if code in _FRAMES:
            if code not in (_BASELINE, _EXTENDED, _PROGRESSIVE) or found.sampling:
                raise NotWhole
            _frame(found, body, code == _PROGRESSIVE)
        elif code == _TABLES:
            found.blank_codes &= _blank_first(body)
        elif code == _INTERVAL:
            interval = int.from_bytes(body[:2], "big")
        elif code == _SCAN:
            end = _SCAN_END.search(data, at)
            stop = end.start() if end else len(data)
            found.scans.append(_scan(body, at, stop, interval))
            at = stop
    known = set(found.sampling)
    if not ended or not known or not found.scans or not all(known.issuperset(scan.components) for scan in found.scans):
        raise NotWhole
    return found


def decode(image: ImageFile.ImageFile, data: bytes, told: Layout) -> None:
    """Decodes the opened picture in place, at the scale that `draft` chose. Raises NotWhole when some of it is missing."""
    _refuse_missing_passes(told)
    for scan in told.scans:
        _refuse_blank(scan, data, told)
    image.load_prepare()
    name, extents, _, given = image.tile[0]
    decoder = Image._getdecoder(image.mode, name, given, image.decoderconfig)  # as ImageFile.Parser does
    try:
        decoder.setimage(image.im, extents)
        _Feed(decoder).picture(data, told)
    finally:
        decoder.cleanup()
    image.tile = []


class _Feed:
    """Hands a file to Pillow's decoder and sees how much of it the decoder holds back."""

    def __init__(self, decoder: Any) -> None:
        self._decoder, self._rest, self.done = decoder, b"", False

    def give(self, piece: bytes) -> int:
        """How many bytes the decoder could not use yet."""
        if not self.done:
            self._rest += piece
            used, problem = self._decoder.decode(self._rest)
            self.done = used < 0
            if self.done and problem:
                raise NotWhole
            self._rest = b"" if self.done else self._rest[used:]
        return len(self._rest)

    def stretch(self, data: bytes, start: int, stop: int) -> None:
        for at in range(start, stop, _PIECE):
            self.give(data[at : min(at + _PIECE, stop)])

    def picture(self, data: bytes, told: Layout) -> None:
        at = 0
        for scan in told.scans:
            self._pass_over(data, at, scan, in_passes=told.in_passes)
            at = scan.stop
            if self.done:
                break
        self.stretch(data, at, len(data))
        if not self.done:
            raise NotWhole

    def _pass_over(self, data: bytes, at: int, scan: Scan, *, in_passes: bool) -> None:
        """One scan, from where the decoder stands. It must need what comes before `filled`, and nothing behind the scan."""
        filled = _filled_from(data, scan)
        near = max(scan.start, filled - _PADDING)
        self.stretch(data, at, near)
        if near > scan.start and not self._waits(data, near, near + _TAIL, in_passes):
            raise NotWhole
        begun = min(near + _TAIL, filled) if near > scan.start else near
        if filled < scan.stop:
            self.stretch(data, begun, filled + _LOOKED_AHEAD)
            begun = filled + _LOOKED_AHEAD + _TAIL
            if self._waits(
                data, begun - _TAIL, begun, in_passes
            ):  # zeros in place of the picture, or a plain one's codes
                self.stretch(data, begun, scan.stop - _TAIL)
                if not self._waits(data, scan.stop - _TAIL, scan.stop, in_passes):
                    raise NotWhole
            else:
                self.stretch(data, begun, scan.stop)
        else:
            self.stretch(data, begun, scan.stop)
        self.give(_ONES * _LOOKED_AHEAD)
        if self._waits(_ONES * _TRIED, 0, 2 * _TRIED, in_passes, step=2):
            raise NotWhole

    def _waits(self, data: bytes, start: int, stop: int, in_passes: bool, step: int = 1) -> bool:
        """Gives a stretch: whether the decoder still waits for the picture of its scan.

        Of a picture in one scan it knows when it is done with it. Of several it runs past what it does not need any more,
        but holds back the beginning of what it needs: those get the stretch in small steps.
        """
        if not in_passes:
            self.give(data[start:stop])
            return not self.done
        held = [self.give(data[at : at + step]) for at in range(start, stop, step)]
        return any(held)


def _filled_from(data: bytes, scan: Scan) -> int:
    """Where a scan's last bytes begin to be all alike, when they are many; its end otherwise."""
    if scan.stop - scan.start < _FILLING:
        return scan.stop
    last = data[scan.stop - 1 : scan.stop]
    if data[scan.stop - _FILLING : scan.stop] != last * _FILLING:
        return scan.stop
    return scan.start + len(data[scan.start : scan.stop].rstrip(last))


def _frame(found: Layout, body: bytes, progressive: bool) -> None:
    found.progressive = progressive
    found.height, found.width = int.from_bytes(body[1:3], "big"), int.from_bytes(body[3:5], "big")
    for at in range(6, 6 + 3 * body[5], 3):
        h, v = body[at + 1] >> 4, body[at + 1] & 15
        if not (1 <= h <= 4 and 1 <= v <= 4):
            raise NotWhole
        found.sampling[body[at]] = h, v


def _scan(body: bytes, start: int, stop: int, interval: int) -> Scan:
    count = body[0]
    first, last, bits = body[1 + 2 * count : 4 + 2 * count]
    return Scan(start, stop, tuple(body[1 : 1 + 2 * count : 2]), first, last, bits & 15, interval)


def _blank_first(body: bytes) -> bool:
    """Whether each table of codes gives its first code, all zeros, to an empty block: no step, or nothing more."""
    at = 0
    while at + 17 <= len(body):
        count = sum(body[at + 1 : at + 17])
        if count and body[at + 17] != 0:
            return False
        at += 17 + count
    return True


def _refuse_blank(scan: Scan, data: bytes, told: Layout) -> None:
    """Sectors that were never written read as zeros, which no camera writes where they would stand for noise."""
    if not told.progressive and not told.blank_codes and data.find(_BLANK, scan.start, _filled_from(data, scan)) >= 0:
        raise NotWhole
    if scan.interval:
        restarts = sum(1 for _ in _RESTART.finditer(data, scan.start, scan.stop))
        if restarts < -(-told.units(scan) // scan.interval) - 1:
            raise NotWhole


def _refuse_missing_passes(told: Layout) -> None:
    """Every colour must have come, and what was begun coarsely must have been told to its last bit."""
    low: dict[tuple[int, int], int] = {}
    for scan in told.scans:
        for component in scan.components:
            low.update(((component, frequency), scan.low) for frequency in range(scan.first, min(scan.last, 63) + 1))
    brightness = next(iter(told.sampling))
    whole = all((brightness, frequency) in low for frequency in range(64))
    if not whole or any((component, 0) not in low for component in told.sampling) or any(low.values()):
        raise NotWhole
