"""Soft warnings while the machine is still on the bench, and a fingerprint that finds doubles.

Thresholds are ours (common practice, no source), chosen so that a sharp photo of a workbench passes
and the same photo blurred by five pixels in 512 does not.
"""

from dataclasses import dataclass

from PIL import Image, ImageFilter, ImageStat

_LAPLACE = ImageFilter.Kernel((3, 3), (0, 1, 0, 1, -4, 1, 0, 1, 0), scale=1, offset=128)
_SIDE = 512
_BLURRED_BELOW = 12.0
_DARK_BELOW = 45.0
_LIT, _SPOT = 100, 0.03  # a plate in the lamp's light on dark ground: so much of the picture is as bright as that
_ALIKE_WITHIN = 12
"""Of 128 bits: copies of painted and made-up pictures differ in at most 9, two pictures of different things in 19 or more."""
_SQUARE = 144
_SPANS = ((0, _SQUARE), (0, _SQUARE * 0.9), (_SQUARE * 0.05, _SQUARE * 0.95), (_SQUARE * 0.1, _SQUARE))
# A wall in uneven light has steps too, but small ones.
_STEP, _STEPS = 4, 32


@dataclass(frozen=True, slots=True)
class Warning_:
    """A hint, never a refusal. code: 'blurred' or 'dark'. measured: the figure it rests on."""

    code: str
    text: str
    measured: float


def look(view: Image.Image) -> tuple[Warning_, ...]:
    """What a person should check before the machine is put together again; empty when all is well.

    view: the picture upright in sRGB, best no smaller than 512 pixels on its longer side unless it is.
    """
    grey = _grey(view)
    warnings = []
    light = ImageStat.Stat(grey).mean[0]
    if light < _DARK_BELOW and sum(grey.histogram()[_LIT:]) < _SPOT * grey.width * grey.height:
        warnings.append(Warning_("dark", "The picture is very dark. Take it again with more light.", light))
    edges = sharpness(grey)
    if edges < _BLURRED_BELOW:
        text = "The picture looks blurred. Hold still, let the camera focus, and take it again."
        warnings.append(Warning_("blurred", text, edges))
    return tuple(warnings)


def sharpness(grey: Image.Image) -> float:
    """Variance of the Laplacian of a grey picture: high where there are crisp edges, 0 on a plain wall."""
    if min(grey.size) < 3:
        return 0.0
    # The filter leaves the outermost pixels as they were.
    edges = grey.filter(_LAPLACE).crop((1, 1, grey.width - 1, grey.height - 1))
    return float(ImageStat.Stat(edges).var[0])


def fingerprint(view: Image.Image) -> str:
    """Hex that stays nearly the same when a picture is re-saved, resized or slightly brightened; '' for a plain one.

    Sixteen windows of the picture, the whole first and then without a tenth of its width or height or both, each with 128
    bits: whether brightness rises from a cell to its right neighbour (grid of 9 x 8) and to the one below it (8 x 9).
    A plain picture has no such steps but noise: it would be like every other plain one.
    """
    return _of_windows(_square(view))


def fingerprints_turned(view: Image.Image) -> tuple[str, ...]:
    """The picture's fingerprint, then those of its seven other turns and mirrorings; empty for a plain picture."""
    square = _square(view)
    found = (_of_windows(square), *(_of_windows(square.transpose(turn)) for turn in Image.Transpose))
    return found if all(found) else ()


def distance(one: str, other: str) -> int:
    """In how many of 128 bits two fingerprints differ: 0 the same, about 64 unrelated.

    The whole of either is held against every window of the other, so that one may be cut out of the other.
    """
    ones, others = _windows(one), _windows(other)
    pairs = [(ones[0], window) for window in others] + [(others[0], window) for window in ones]
    return min((a ^ b).bit_count() for a, b in pairs)


def alike(one: str, other: str) -> bool:
    """Whether two fingerprints are probably of the same photo; those of plain pictures and of another make never are."""
    if len(one) != len(other) or not one:
        return False
    return distance(one, other) <= _ALIKE_WITHIN


def _square(view: Image.Image) -> Image.Image:
    return view.convert("L").resize((_SQUARE, _SQUARE), Image.Resampling.BOX)


def _of_windows(square: Image.Image) -> str:
    steps = _steps(square, (0, 0, _SQUARE, _SQUARE))
    if sum(abs(step) >= _STEP for step in steps) < _STEPS:
        return ""
    boxes = [(left, upper, right, lower) for left, right in _SPANS for upper, lower in _SPANS]
    return "".join(f"{_bits(_steps(square, box)):032x}" for box in boxes)


def _steps(square: Image.Image, box: tuple[float, float, float, float]) -> list[int]:
    """By how much brightness rises to the right, and downwards, between cells of the window."""
    across = square.resize((9, 8), Image.Resampling.BOX, box=box).tobytes()
    down = square.resize((8, 9), Image.Resampling.BOX, box=box).tobytes()
    rises = [across[row * 9 + column + 1] - across[row * 9 + column] for row in range(8) for column in range(8)]
    return rises + [down[at + 8] - down[at] for at in range(64)]


def _bits(steps: list[int]) -> int:
    return int("".join("1" if step > 0 else "0" for step in steps), 2)


def _windows(mark: str) -> list[int]:
    return [int(mark[at : at + 32], 16) for at in range(0, len(mark), 32)]


def _grey(view: Image.Image) -> Image.Image:
    small = view.convert("L")
    small.thumbnail((_SIDE, _SIDE), Image.Resampling.LANCZOS, reducing_gap=None)
    return small
