"""Opens a picture with one named decoder, after its stated size was found bearable.

Pillow is told which format to try: left to guess, it would start other programs for some files.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO

import pillow_heif
from PIL import Image, ImageFile

from .kinds import PNG_MARK, SEND_PICTURE, kind_of, quoted, refuse_size, stranger
from .limits import Limits
from .memory import refuse_heavy
from .refusal import PictureRefused

pillow_heif.register_heif_opener(thumbnails=False, depth_images=False, aux_images=False)

_FORMATS = {"jpeg": "JPEG", "png": "PNG", "webp": "WEBP", "heic": "HEIF"}
_BOMBS = (Image.DecompressionBombError, Image.DecompressionBombWarning)
# A camera writes one scan, a progressive file about ten. Thousands keep a decoder busy for minutes.
_MAX_SCANS = 200
# Each scan passes over every pixel once more: twenty of the largest picture are still read within ten seconds.
_MAX_SCANNED_PIXELS = 1_000_000_000


@contextmanager
def opened(data: bytes, *, limits: Limits, declared_name: str = "") -> Iterator[tuple[str, ImageFile.ImageFile]]:
    """Yields (kind, picture), the picture opened but not decoded.

    Whatever a decoder raises inside the block becomes PictureRefused: on hostile bytes decoders
    raise nearly every built-in error, and to the sender all of them mean the same.
    """
    name = quoted(declared_name)
    kind, scans = _admitted(data, limits, name)
    most = limits.max_pixels
    try:
        with Image.open(BytesIO(data), formats=[_FORMATS[kind]]) as image:
            _refuse_pixels(image.size, most, name)
            if scans * image.width * image.height > _MAX_SCANNED_PIXELS:
                raise _too_long(name)
            if kind in {"png", "webp"} and getattr(image, "is_animated", False):
                # A JPEG or HEIC of several frames is one photo with its depth or brightness map.
                raise PictureRefused(f"{name} is a moving picture.", "Send a single still picture of it.")
            yield kind, image
    except PictureRefused:
        raise
    except _BOMBS as bomb:
        raise _too_many(name, most) from bomb
    except Exception as fault:
        problem = f"{name} is damaged or cut off: it starts like a picture but cannot be read to its end."
        raise PictureRefused(problem, "Copy it from the camera again, or take the photo again.") from fault


def _admitted(data: bytes, limits: Limits, name: str) -> tuple[str, int]:
    """What it is, and how many scans a JPEG has at most."""
    refuse_size(data, limits.max_bytes, name)
    kind = kind_of(data)
    if kind not in _FORMATS:
        raise PictureRefused(f"{name} is {stranger(data)}, not a picture that can be used.", SEND_PICTURE)
    assert kind is not None
    size = _stated_size(kind, data)
    if size is not None:
        _refuse_pixels(size, limits.max_pixels, name)
        if kind == "webp":
            refuse_heavy(kind, data, size, "RGBA", limits=limits, name=name)
    if _cut_off(kind, data):
        raise PictureRefused(f"{name} is cut off before its end.", "Send it again, over a steadier connection.")
    scans = data.count(b"\xff\xda") if kind == "jpeg" else 0
    if scans > _MAX_SCANS:
        raise _too_long(name)
    return kind, scans


def _too_long(name: str) -> PictureRefused:
    return PictureRefused(f"{name} is built to take very long to read.", "Save it as an ordinary JPEG first.")


def _stated_size(kind: str, data: bytes) -> tuple[int, int] | None:
    """Width and height from the header of a PNG or WebP, whose openers reserve memory early; else None."""
    if kind == "png" and data[12:16] == b"IHDR":
        return int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    if kind != "webp":
        return None
    form = data[12:16]
    if form == b"VP8X":
        return int.from_bytes(data[24:27], "little") + 1, int.from_bytes(data[27:30], "little") + 1
    if form == b"VP8L":
        bits = int.from_bytes(data[21:25], "little")
        return (bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1
    return int.from_bytes(data[26:28], "little") & 0x3FFF, int.from_bytes(data[28:30], "little") & 0x3FFF


def _cut_off(kind: str, data: bytes) -> bool:
    """True when the file itself says that more should follow (its decoder may not mind)."""
    if kind == "png":
        end = data.rfind(b"IEND")  # four letters, then four bytes of check sum
        return end < len(PNG_MARK) or len(data) < end + 8
    return kind == "webp" and len(data) < int.from_bytes(data[4:8], "little") + 8


def _refuse_pixels(size: tuple[int, int], most: int, name: str) -> None:
    if size[0] * size[1] > most:
        raise _too_many(name, most, size)


def _too_many(name: str, most: int, size: tuple[int, int] | None = None) -> PictureRefused:
    stated = f"{size[0]} x {size[1]} pixels" if size else "too many pixels"
    problem = f"{name} states {stated}; at most {most / 1e6:.4g} million are taken."
    return PictureRefused(problem, "Send it in a smaller size; 12 million pixels show every scratch.")
