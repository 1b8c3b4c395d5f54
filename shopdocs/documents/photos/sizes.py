"""Copies for paper and screen: small, upright, sRGB, and free of everything the camera wrote.

The original is never changed. The same bytes in give the same bytes out under one lock file.
"""

from io import BytesIO

from PIL import Image

from .kinds import quoted
from .limits import Limits
from .opening import opened
from .reading import read_upright

_QUALITY = 82
# 20 inches at 200 dpi: wider than any paper of ours.
_LONGEST = 4096


def for_print(
    data: bytes, *, width_mm: float, height_mm: float | None = None, dpi: int = 200, limits: Limits | None = None
) -> bytes:
    """A JPEG with dpi pixels to the inch at width_mm (and within height_mm, when given); never enlarged.

    Raises PictureRefused when data is no sound picture, ValueError for a width that is no width.
    """
    return as_jpeg(upright(data, within=print_box(width_mm, height_mm, dpi), limits=limits))


def for_screen(data: bytes, *, longest: int = 1600, limits: Limits | None = None) -> bytes:
    """A JPEG of at most `longest` pixels on its longer side; never enlarged. Errors as for_print."""
    if not 0 < longest <= _LONGEST:
        raise ValueError(f"longest must be 1 to {_LONGEST} pixels, not {longest}")
    return as_jpeg(upright(data, within=(longest, longest), limits=limits))


def print_box(width_mm: float, height_mm: float | None = None, dpi: int = 200) -> tuple[int, int]:
    """Pixels across and down that a picture may have on paper; the height is free when none is given."""
    sides = (width_mm, dpi) if height_mm is None else (width_mm, height_mm, dpi)
    if not all(0 < side < 10_000 for side in sides):
        raise ValueError(f"width, height and dpi must be above 0 and below 10000, not {sides}")
    width = max(1, round(width_mm / 25.4 * dpi))
    height = _LONGEST if height_mm is None else max(1, round(height_mm / 25.4 * dpi))
    return min(width, _LONGEST), min(height, _LONGEST)


def upright(data: bytes, *, within: tuple[int, int], limits: Limits | None = None) -> Image.Image:
    """The picture as RGB in sRGB, turned by its Exif note, fitted into (width, height) pixels."""
    limits = limits or Limits()
    with opened(data, limits=limits) as (kind, image):
        return read_upright(kind, image, data, within=within, limits=limits, name=quoted(""))


def as_jpeg(image: Image.Image) -> bytes:
    """The file of a copy."""
    out = BytesIO()
    image.save(out, "JPEG", quality=_QUALITY, optimize=True, subsampling="4:2:0")
    return out.getvalue()
