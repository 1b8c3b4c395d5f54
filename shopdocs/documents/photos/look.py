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
_ALIKE_WITHIN = 6


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
    if light < _DARK_BELOW:
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


def fingerprint(view: Image.Image) -> int:
    """64 bits that stay nearly the same when a picture is re-saved, resized or slightly brightened.

    Each bit says whether brightness rises from one cell to its right neighbour, in a grid of 9 x 8.
    """
    cells = _grey(view).resize((9, 8), Image.Resampling.BOX).tobytes()
    bits = 0
    for row in range(8):
        for column in range(8):
            here = cells[row * 9 + column]
            bits = bits << 1 | (cells[row * 9 + column + 1] > here)
    return bits


def _grey(view: Image.Image) -> Image.Image:
    small = view.convert("L")
    small.thumbnail((_SIDE, _SIDE), Image.Resampling.LANCZOS, reducing_gap=None)
    return small


def distance(one: int, other: int) -> int:
    """In how many of the 64 bits two fingerprints differ: 0 the same, about 32 unrelated."""
    return (one ^ other).bit_count()


def alike(one: int, other: int) -> bool:
    """Whether two fingerprints are probably of the same photo."""
    return distance(one, other) <= _ALIKE_WITHIN
