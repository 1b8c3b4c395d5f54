"""The one decoding of a picture: every part of it read, and only as much of it kept as its copies need."""

from collections.abc import Callable
from io import BytesIO

import pillow_heif
from PIL import Image, ImageFile

from . import jpeg
from .colour import plain, to_srgb
from .facts import orientation_of
from .limits import Limits
from .memory import refuse_heavy
from .wholeness import whole

_TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
_STRIP_PIXELS = 1_000_000

Strip = Callable[[int, int], Image.Image]
"""The rows of a decoded picture from the first to before the second."""


def read_upright(
    kind: str, image: ImageFile.ImageFile, data: bytes, *, within: tuple[int, int], limits: Limits, name: str
) -> Image.Image:
    """The picture that `opened` gave, as RGB in sRGB, turned by its Exif note, fitted into (width, height) pixels.

    Raises PictureRefused for one that needs too much memory, before it is decoded, and any error for one that is not whole.
    """
    told = jpeg.layout(data) if kind == "jpeg" else None
    refuse_heavy(kind, data, image.size, image.mode, limits=limits, name=name, layout=told)
    if told is None and not whole(kind, data):
        raise jpeg.NotWhole
    orientation = orientation_of(image)
    goal = _fitted(image.size, (within[1], within[0]) if orientation >= 5 else within)
    profile = image.info.get("icc_profile")
    if told is not None:
        image.draft(None, goal)
        jpeg.decode(image, data, told)
    size, strip = _heic(data) if kind == "heic" else _loaded(image)
    small = to_srgb(_shrunk(size, strip, goal), profile)
    turn = _TURNS.get(orientation)
    return small.transpose(turn) if turn is not None else small


def _loaded(image: ImageFile.ImageFile) -> tuple[tuple[int, int], Strip]:
    image.load()

    def strip(start: int, stop: int) -> Image.Image:
        # A crop of all of it would be a second picture in memory.
        return image if (start, stop) == (0, image.height) else image.crop((0, start, image.width, stop))

    return image.size, strip


def _heic(data: bytes) -> tuple[tuple[int, int], Strip]:
    """Strips out of the decoder's own bytes: Pillow's picture of all of them would need as much again."""
    picture = pillow_heif.open_heif(BytesIO(data), convert_hdr_to_8bit=True, remove_stride=False)
    pixels, (width, height), mode, stride = memoryview(picture.data), picture.size, picture.mode, picture.stride

    def strip(start: int, stop: int) -> Image.Image:
        rows = pixels[start * stride : stop * stride]
        return Image.frombytes(mode, (width, stop - start), rows, "raw", mode, stride)

    return (width, height), strip


def _fitted(size: tuple[int, int], box: tuple[int, int]) -> tuple[int, int]:
    scale = min(1.0, box[0] / size[0], box[1] / size[1])
    return max(1, round(size[0] * scale)), max(1, round(size[1] * scale))


def _shrunk(size: tuple[int, int], strip: Strip, goal: tuple[int, int]) -> Image.Image:
    factor = min(size[0] // goal[0], size[1] // goal[1]) // 2
    small = _averaged(size, strip, factor) if factor >= 2 else plain(strip(0, size[1]))
    # The letters of a plate read as well as by the widest filter, in half its time.
    return small if small.size == goal else small.resize(goal, Image.Resampling.HAMMING)


def _averaged(size: tuple[int, int], strip: Strip, factor: int) -> Image.Image:
    """The picture in plain colours at one part in factor, made strip by strip: a clear or palette
    picture of 50 million pixels would else need several times its own memory."""
    tall = factor * max(1, _STRIP_PIXELS // (size[0] * factor))
    strips = [plain(strip(y, min(y + tall, size[1]))).reduce(factor) for y in range(0, size[1], tall)]
    whole_picture = Image.new(strips[0].mode, (strips[0].width, sum(strip.height for strip in strips)))
    y = 0
    for one in strips:
        whole_picture.paste(one, (0, y))
        y += one.height
    return whole_picture
