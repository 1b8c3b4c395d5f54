"""The README's pictures: a page becomes a palette PNG of the width asked for, and small."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

from PIL import Image, ImageChops

from orders.papers import estimate
from shopdocs.demo import front_pages
from tests import papers_samples as samples

SHOWN = Path(front_pages.__file__).parent / "shown"


def test_a_front_page_is_a_small_palette_picture_with_ink_on_it() -> None:
    data = front_pages.front_page(estimate.draw(samples.estimate(), {}).pdf)
    image = Image.open(BytesIO(data), formats=["PNG"])
    assert (image.width, image.mode) == (700, "P")
    assert abs(image.height - 700 * 792 / 612) < 4
    assert len(data) < 120_000
    low, high = image.convert("L").getextrema()
    assert low < 60 and high > 240
    assert green(image) > 40, "the accent keeps its colour beside all the greys"


def green(image: Image.Image) -> int:
    """By how much the greenest pixel is more green than red."""
    red, more, _ = image.convert("RGB").split()
    return ImageChops.subtract(more, red).getextrema()[1]


def test_the_pictures_of_the_four_papers_are_there_and_light() -> None:
    names = {path.name for path in SHOWN.glob("*.png")}
    assert {"repair-order.png", "estimate.png", "claim.png", "invoice.png"} <= names
    for path in SHOWN.glob("*.png"):
        assert path.stat().st_size < 120_000, path.name
        with Image.open(path, formats=["PNG"]) as image:
            assert image.width == 700 and image.mode == "P", path.name
            assert green(image) > 40, path.name
