"""Copies for paper and screen: small, upright, sRGB, and free of everything the camera wrote.

The original is never changed. The same bytes in give the same bytes out under one lock file.
"""

from io import BytesIO

from PIL import Image

from .colour import plain, to_srgb
from .facts import orientation_of
from .limits import Limits
from .opening import opened

_TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
_QUALITY = 82
_WORKING_QUALITY = 92
# 20 inches at 200 dpi: wider than any paper of ours.
_LONGEST = 4096
_STRIP_PIXELS = 1_000_000


def for_print(
    data: bytes, *, width_mm: float, height_mm: float | None = None, dpi: int = 200, limits: Limits | None = None
) -> bytes:
    """A JPEG with dpi pixels to the inch at width_mm (and within height_mm, when given); never enlarged.

    Raises PictureRefused when data is no sound picture, ValueError for a width that is no width.
    """
    sides = (width_mm, dpi) if height_mm is None else (width_mm, height_mm, dpi)
    if not all(0 < side < 10_000 for side in sides):
        raise ValueError(f"width, height and dpi must be above 0 and below 10000, not {sides}")
    width = max(1, round(width_mm / 25.4 * dpi))
    height = _LONGEST if height_mm is None else max(1, round(height_mm / 25.4 * dpi))
    return _jpeg(upright(data, within=(min(width, _LONGEST), min(height, _LONGEST)), limits=limits), _QUALITY)


def for_screen(data: bytes, *, longest: int = 1600, limits: Limits | None = None) -> bytes:
    """A JPEG of at most `longest` pixels on its longer side; never enlarged. Errors as for_print."""
    if not 0 < longest <= _LONGEST:
        raise ValueError(f"longest must be 1 to {_LONGEST} pixels, not {longest}")
    return _jpeg(upright(data, within=(longest, longest), limits=limits), _QUALITY)


def working_copy(data: bytes, *, limits: Limits | None = None) -> bytes:
    """What other sizes are made from: a HEIC turned into one good JPEG, anything else as it is.

    Reading a HEIC costs many times a JPEG, so it is read once, on arrival.
    """
    with opened(data, limits=limits or Limits()) as (kind, _):
        if kind != "heic":
            return data
    return _jpeg(upright(data, within=(_LONGEST, _LONGEST), limits=limits), _WORKING_QUALITY)


def upright(data: bytes, *, within: tuple[int, int], limits: Limits | None = None) -> Image.Image:
    """The picture as RGB in sRGB, turned by its Exif note, fitted into (width, height) pixels."""
    with opened(data, limits=limits or Limits()) as (_, image):
        orientation = orientation_of(image)
        box = (within[1], within[0]) if orientation >= 5 else within
        goal = _fitted(image.size, box)
        profile = image.info.get("icc_profile")
        image.draft(None, goal)
        image.load()
        small = to_srgb(_shrunk(image, goal), profile)
        turn = _TURNS.get(orientation)
        return small.transpose(turn) if turn is not None else small


def _fitted(size: tuple[int, int], box: tuple[int, int]) -> tuple[int, int]:
    scale = min(1.0, box[0] / size[0], box[1] / size[1])
    return max(1, round(size[0] * scale)), max(1, round(size[1] * scale))


def _shrunk(image: Image.Image, goal: tuple[int, int]) -> Image.Image:
    factor = min(image.width // goal[0], image.height // goal[1]) // 2
    small = _averaged(image, factor) if factor >= 2 else plain(image)
    return small if small.size == goal else small.resize(goal, Image.Resampling.LANCZOS)


def _averaged(image: Image.Image, factor: int) -> Image.Image:
    """The picture in plain colours at one part in factor, made strip by strip: a clear or palette
    picture of 50 million pixels would else need several times its own memory."""
    tall = factor * max(1, _STRIP_PIXELS // (image.width * factor))
    strips = [
        plain(image.crop((0, y, image.width, min(y + tall, image.height)))).reduce(factor)
        for y in range(0, image.height, tall)
    ]
    whole = Image.new(strips[0].mode, (strips[0].width, sum(strip.height for strip in strips)))
    y = 0
    for strip in strips:
        whole.paste(strip, (0, y))
        y += strip.height
    return whole


def _jpeg(image: Image.Image, quality: int) -> bytes:
    out = BytesIO()
    image.save(out, "JPEG", quality=quality, optimize=True, subsampling="4:2:0")
    return out.getvalue()
