"""Whether the coded picture of a PNG, WebP or HEIC is all there: what its decoder would pass over.

Pillow leaves the check sums of a PNG's picture unread; a WebP or HEIC has none, and sectors that were never written read as
zeros, which their decoders take for picture. JPEG has a room of its own (jpeg.py).
"""

import zlib
from collections.abc import Iterator
from io import BytesIO

from PIL import Image

_ZEROS = 64
_PIECE = 1 << 20
# First column and step, first row and step of each pass of an interlaced PNG (PNG 1.2, 2.6; from memory).
_PASSES = (
    (0, 8, 0, 8), (4, 8, 0, 8), (0, 4, 4, 8), (2, 4, 0, 4), (0, 2, 2, 4), (1, 2, 0, 2), (0, 1, 1, 2),
)  # fmt: skip
_NO_PICTURE = bytes(16)


def whole(kind: str, data: bytes) -> bool:
    """False when data of this kind ('png', 'webp' or 'heic') lack a part of the picture or hold zeros in its place.

    Raises nearly any built-in error on hostile bytes; opening.py turns it into a refusal.
    """
    return {"png": _every_row, "webp": _needs_its_end, "heic": _no_blank_items}.get(kind, bool)(data)


def _every_row(data: bytes) -> bool:
    """Check sums of the chunks that the picture needs, those with a capital first; and that they hold every row of it.

    A stream that ends early, yet ends as it should, would be filled up with black (PNG 1.2, 3.3 and 4.1; from memory).
    """
    at, view, packed = 8, memoryview(data), list[memoryview]()
    while at + 12 <= len(data):
        stop = at + 8 + int.from_bytes(data[at : at + 4], "big")
        mark = data[at + 4 : at + 8]
        if mark[:1].isupper() and zlib.crc32(view[at + 4 : stop]) != int.from_bytes(data[stop : stop + 4], "big"):
            return False
        if mark == b"IDAT":
            packed.append(view[at + 8 : stop])
        if mark == b"IEND":
            wanted = _size_of_rows(data[16:29])
            return _unpacked(packed, wanted) >= wanted
        at = stop + 4
    return False


def _unpacked(packed: list[memoryview], wanted: int) -> int:
    """How many bytes come out of a stream, a piece at a time so that none of them is kept; 0 where its check sum is wrong.

    Beyond those that are `wanted` nothing is read: a decoder passes over them too, and there may be a thousand times as many.
    """
    stream, size = zlib.decompressobj(), 0
    try:
        for piece in packed:
            rest: bytes | memoryview = piece
            while rest:
                size += len(stream.decompress(rest, _PIECE))
                rest = stream.unconsumed_tail
                if size > wanted:
                    return size
        size += len(stream.flush())
    except zlib.error:
        return 0
    return size if stream.eof else 0


def _size_of_rows(header: bytes) -> int:
    """The bytes of all rows by a PNG's header, each row with the sign of its filter, in seven passes where it is interlaced."""
    width, height = int.from_bytes(header[:4], "big"), int.from_bytes(header[4:8], "big")
    bits = header[8] * {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}[header[9]]
    found = 0
    for left, right, top, down in _PASSES if header[12] else ((0, 1, 0, 1),):
        across, rows = -(-(width - left) // right), -(-(height - top) // down)
        found += rows * (1 + -(-across * bits // 8)) if across > 0 and rows > 0 else 0
    return found


def _needs_its_end(data: bytes) -> bool:
    """A picture that ends in many zeros is whole if it cannot do without the last of them: a plain wall is coded so."""
    for at, size in _chunks(data):
        if data[at : at + 4] not in (b"VP8 ", b"VP8L"):
            continue
        body = data[at + 8 : at + 8 + size]
        zeros = size - len(body.rstrip(b"\0"))
        if zeros >= _ZEROS and _decodes(data, at, body[: size - _ZEROS // 2]):
            return False
    return True


def _chunks(data: bytes) -> Iterator[tuple[int, int]]:
    """Where each chunk of a WebP begins, and how many bytes its body has."""
    at = 12
    while at + 8 <= len(data):
        size = int.from_bytes(data[at + 4 : at + 8], "little")
        yield at, size
        at += 8 + size + size % 2


def _decodes(data: bytes, at: int, body: bytes) -> bool:
    shorter = data[12 : at + 4] + len(body).to_bytes(4, "little") + body + b"\0" * (len(body) % 2)
    head = b"RIFF" + (len(shorter) + 4).to_bytes(4, "little") + b"WEBP"
    try:
        with Image.open(BytesIO(head + shorter), formats=["WEBP"]) as image:
            image.load()
    except (OSError, EOFError, ValueError):
        return False
    return True


def _no_blank_items(data: bytes) -> bool:
    """Coded pictures in a HEIC hold no three zeros in a row, save in the length before each piece (ITU-T H.265, 7.4.2)."""
    meta = _box(data, 0, len(data), b"meta")
    if meta is None:
        return True
    start, stop = meta[0] + 4, meta[1]
    coded = set(_coded_items(data, start, stop))
    return all(
        data.find(_NO_PICTURE, at, at + size) < 0 for item, at, size in _extents(data, start, stop) if item in coded
    )


def _box(data: bytes, start: int, stop: int, name: bytes) -> tuple[int, int] | None:
    """Where the body of the first box of this name begins and ends (ISO/IEC 14496-12, 4.2; from memory)."""
    for found, body, end in _boxes(data, start, stop):
        if found == name:
            return body, end
    return None


def _boxes(data: bytes, start: int, stop: int) -> Iterator[tuple[bytes, int, int]]:
    while start + 8 <= stop:
        size, head = int.from_bytes(data[start : start + 4], "big"), 8
        if size == 1:
            size, head = int.from_bytes(data[start + 8 : start + 16], "big"), 16
        end = stop if size == 0 else start + max(size, head)
        yield data[start + 4 : start + 8], start + head, min(end, stop)
        start = end


def _coded_items(data: bytes, start: int, stop: int) -> Iterator[int]:
    """The numbers of the items that are pictures coded by H.265."""
    table = _box(data, start, stop, b"iinf")
    if table is None:
        return
    first = table[0] + (6 if data[table[0]] == 0 else 8)
    for name, at, _ in _boxes(data, first, table[1]):
        wide = 4 if data[at] >= 3 else 2
        if name == b"infe" and data[at + 6 + wide : at + 10 + wide] == b"hvc1":
            yield int.from_bytes(data[at + 4 : at + 4 + wide], "big")


def _extents(data: bytes, start: int, stop: int) -> Iterator[tuple[int, int, int]]:
    """Each stretch of the file that belongs to an item: its number, where it begins, how many bytes it has."""
    table = _box(data, start, stop, b"iloc")
    if table is None:
        return
    reader = _Reader(data, *table)
    version = reader.take(4) >> 24
    sizes = reader.take(2)
    wide = [sizes >> 12, sizes >> 8 & 15, sizes >> 4 & 15, sizes & 15 if version else 0]
    for _ in range(reader.take(4 if version == 2 else 2)):
        item = reader.take(4 if version == 2 else 2)
        inside = reader.take(2) & 15 if version else 0
        reader.take(2)
        base = reader.take(wide[2])
        for _ in range(reader.take(2)):
            reader.take(wide[3])
            at, size = base + reader.take(wide[0]), reader.take(wide[1])
            if inside == 0:
                yield item, at, size


class _Reader:
    """Numbers, one after the other. Raises EOFError behind the end."""

    def __init__(self, data: bytes, at: int, stop: int) -> None:
        self._data, self._at, self._stop = data, at, stop

    def take(self, wide: int) -> int:
        if self._at + wide > self._stop:
            raise EOFError
        self._at += wide
        return int.from_bytes(self._data[self._at - wide : self._at], "big")
