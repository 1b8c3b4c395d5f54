"""How much memory a picture needs on its way in, told from its header before anything is decoded.

What a decoder holds for each pixel is measured (python -m tests.bench pictures prints it beside what is told here).
"""

from PIL import Image

from .jpeg import Layout
from .limits import Limits
from .refusal import PictureRefused

WORK = 24_000_000
"""Strips, the small copies, and what an allocator keeps."""
_WEBP = 16.3
"""Two canvases of the whole picture, the bytes handed over, and Pillow's picture of them: four bytes each."""
_PNG = {"1": 1, "L": 1, "P": 1, "I;16": 2, "I;16B": 2}
_PLANES = {0: 1.0, 1: 1.5, 2: 6.0, 3: 6.0}
"""Bytes for each pixel of a HEIC by its chroma format; what is not 4:2:0 is turned into colours in a further copy."""

_CLEAR = 2.2
"""What an alpha channel of eight bits takes beside its byte in the picture handed over."""


def needed(kind: str, data: bytes, size: tuple[int, int], mode: str, layout: Layout | None = None) -> int:
    """Bytes at the peak, the file itself included. mode: as Pillow names it. layout: of a JPEG."""
    pixels = size[0] * size[1]
    if kind == "jpeg":
        own = layout.held if layout else 0
    elif kind == "png":
        own = pixels * _PNG.get(mode, 4)
    elif kind == "webp":
        own = round(pixels * _WEBP) + len(data)
    else:
        own = round(pixels * _heic(data, mode)) + len(data)
    return own + len(data) + WORK


def refuse_heavy(
    kind: str, data: bytes, size: tuple[int, int], mode: str, *, limits: Limits, name: str, layout: Layout | None = None
) -> None:
    """Raises PictureRefused when the picture would need more than limits.max_memory. name: as made by `quoted`."""
    need = needed(kind, data, size, mode, layout)
    if need <= limits.max_memory:
        return
    what = "JPEG in several passes" if kind == "jpeg" else {"png": "PNG", "webp": "WebP"}.get(kind, "HEIC")
    problem = (
        f"{name} is a {what} of {size[0]} x {size[1]} pixels that takes {need / 1e6:.0f} MB of memory to read; "
        f"{limits.max_memory / 1e6:.0f} MB are given."
    )
    raise PictureRefused(problem, "Save it as a baseline JPEG (not progressive), or send it in a smaller size.")


def _heic(data: bytes, mode: str) -> float:
    """Bytes for each pixel; chroma format and depth stand in the decoder's configuration (`hvcC` of ISO/IEC 14496-15; from memory)."""
    chroma, deep, at = 0, 1, data.find(b"hvcC")
    while 0 <= at < len(data) - 23:
        chroma = max(chroma, data[at + 20] & 3)
        deep = max(deep, 2 if (data[at + 21] | data[at + 22]) & 7 else 1)
        at = data.find(b"hvcC", at + 4)
    clear = mode in {"RGBA", "RGBa", "LA", "La"}
    return _PLANES[chroma] * deep + (deep - 1) * 1.5 + deep * clear * _CLEAR + Image.getmodebands(mode) + 0.7
