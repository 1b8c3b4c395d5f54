"""Signatures drawn on a screen: a small PNG, or the strokes of the pen. What holds no ink signs nothing."""

from collections.abc import Sequence
from io import BytesIO

from PIL import Image, ImageDraw

from .examine import Picture, examine_and_show
from .kinds import kind_of, quoted, refuse_size
from .limits import Limits
from .refusal import PictureRefused

LIMITS = Limits(max_bytes=1_000_000, max_pixels=4_000_000)
"""A signature is a few lines; a screen full of them is far below this."""
MOST_POINTS = 20_000
SMALLEST, LARGEST = 40, 2000
_SPECK = 8  # pixels of the view; who taps a screen has not signed
_INK = 48  # how much darker (of 255) the pen must be than the paper
_DRAW_AGAIN = "Ask for the signature once more, and send what was drawn."

Stroke = Sequence[tuple[int, int]]


def examine_signature(data: bytes, *, declared_name: str = "") -> Picture:
    """Describes a signature's PNG; raises PictureRefused for another kind, one too large, or an empty sheet."""
    name = quoted(declared_name)
    refuse_size(data, LIMITS.max_bytes, name)
    if kind_of(data) != "png":
        raise PictureRefused(f"{name} is no PNG.", "Send what was drawn as PNG, or send its strokes.")
    seen, sheet = examine_and_show(data, within=(600, 600), limits=LIMITS, declared_name=declared_name)
    grey = sheet.convert("L")
    low, high = (int(value) for value in grey.getextrema())  # type: ignore[arg-type]
    if high - low < _INK:
        raise PictureRefused(f"{name} is an empty sheet: nothing is drawn on it.", _DRAW_AGAIN)
    left, top, right, bottom = grey.point([255 * (value <= high - _INK) for value in range(256)]).getbbox() or (0,) * 4
    if max(right - left, bottom - top) < _SPECK:
        raise PictureRefused(f"{name} shows a speck: nothing is drawn on it.", _DRAW_AGAIN)
    return seen


def drawn(strokes: Sequence[Stroke], *, width: int, height: int) -> bytes:
    """The strokes as a PNG, black on white; the same strokes give the same bytes.

    A stroke is a list of points (x, y) in pixels from the upper left corner of a sheet of `width` times `height`.
    Raises PictureRefused for a point off the sheet, too many points, or a pen that never moved.
    """
    if not (SMALLEST <= width <= LARGEST and SMALLEST <= height <= LARGEST):
        problem = f"A sheet of {width} x {height} pixels is no place to sign."
        raise PictureRefused(problem, f"Send {SMALLEST} to {LARGEST} pixels each way.", field="width")
    points = [point for stroke in strokes for point in stroke]
    if len(points) > MOST_POINTS:
        raise PictureRefused(f"{len(points)} points are no signature.", _DRAW_AGAIN, field="strokes")
    if any(not (0 <= x <= width and 0 <= y <= height) for x, y in points):
        raise PictureRefused("A point lies off the sheet.", "Send points inside width and height.", field="strokes")
    if all(len(set(stroke)) < 2 for stroke in strokes):
        raise PictureRefused("The pen never moved: nothing is drawn.", _DRAW_AGAIN, field="strokes")
    image = Image.new("L", (width, height), 255)
    pen = ImageDraw.Draw(image)
    for stroke in strokes:
        pen.line([tuple(point) for point in stroke], fill=0, width=3, joint="curve")
    out = BytesIO()
    image.save(out, "PNG", optimize=True)
    return out.getvalue()
