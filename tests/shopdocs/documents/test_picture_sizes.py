"""Papers carry what print needs, 200 dots to the inch at the printed size, and no more."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pdfplumber
import pytest
from PIL import Image

from orders.papers import condition_report, repair_order, repair_summary
from shopdocs.documents.photos.sizes import for_print
from shopdocs.documents.services.photos import PRINT_MM, SMALL_MM
from tests import papers_samples as samples
from tests.shopdocs.documents.photos.conftest import bench, encoded
from warranty.papers import claim

MAKERS: list[tuple[Any, Any, tuple[int, int]]] = [
    (claim, samples.claim, PRINT_MM),
    (condition_report, samples.condition_report, PRINT_MM),
    (repair_summary, samples.repair_summary, PRINT_MM),
    (repair_order, samples.repair_order, SMALL_MM),
]


def copies(size: tuple[int, int], within: tuple[int, int]) -> dict[str, bytes]:
    made = for_print(encoded(bench(3, size), "JPEG"), width_mm=within[0], height_mm=within[1])
    return dict.fromkeys(samples.PICTURES, made)


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("size", [(4000, 3000), (3000, 4000)])
@pytest.mark.parametrize(("module", "make", "within"), MAKERS)
def test_pictures_have_200_dots_to_the_inch_at_their_printed_size(
    module: Any, make: Any, within: tuple[int, int], size: tuple[int, int], paper: str
) -> None:
    drawn = module.draw(make(paper), copies(size, within))
    seen = []
    with pdfplumber.open(BytesIO(drawn.pdf)) as document:
        for image in (image for page in document.pages for image in page.images):
            seen.append(image["srcsize"][0] / ((image["x1"] - image["x0"]) / 72))
    assert seen
    assert all(195 <= dots <= 300 for dots in seen), seen


@pytest.mark.django_db
def test_both_copies_are_made_once_when_a_picture_comes_in(shop: Any, owner: Any) -> None:
    from shopdocs.documents.services.files import read_file
    from shopdocs.documents.services.photos import take_in_photo

    data = encoded(bench(4, (2400, 1800)), "JPEG")
    photo = take_in_photo(shop=shop, by=owner, data=data, name="a.jpg", subject="order:1", moment="before")
    sides = [Image.open(BytesIO(read_file(copy))).size for copy in (photo.printable, photo.small)]
    assert sides == [(709, 532), (315, 236)]
    assert read_file(photo.original) == data
