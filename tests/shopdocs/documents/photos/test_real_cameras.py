"""Files as real cameras wrote them (cameras/README.md): their time is read, and nothing of their notes gets out."""

import datetime as dt
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from shopdocs.documents.photos.examine import examine
from shopdocs.documents.photos.limits import Limits
from shopdocs.documents.photos.sizes import for_print, for_screen

CAMERAS = Path(__file__).parent / "cameras"
TAKEN = {
    "a": dt.datetime(2013, 12, 17, 14, 4, 24),
    "b": dt.datetime(2007, 9, 15, 13, 15, 57),
    "c": dt.datetime(2013, 4, 13, 10, 22, 18),
    "d": dt.datetime(2013, 3, 29, 10, 6, 41),
    "e": dt.datetime(2006, 2, 15, 23, 39, 7),
}


@pytest.mark.parametrize("name", sorted(TAKEN))
def test_a_camera_file_is_taken_in_with_its_time(name: str) -> None:
    data = (CAMERAS / f"{name}.jpg").read_bytes()
    with Image.open(BytesIO(data)) as image:
        maker = str(image.getexif()[271]).strip("\0 ")
    picture = examine(data, limits=Limits(), declared_name=f"{name}.jpg")
    assert (picture.kind, picture.taken_at, picture.size) == ("jpeg", TAKEN[name], len(data))
    assert maker and maker.encode() in data
    for copy in (for_print(data, width_mm=90), for_screen(data)):
        assert maker.encode() not in copy, "the camera's notes stay with the original"
        with Image.open(BytesIO(copy)) as image:
            assert not image.getexif() and "exif" not in image.info


@pytest.mark.parametrize("name", sorted(TAKEN))
def test_a_camera_file_cut_off_anywhere_is_refused(name: str) -> None:
    from shopdocs.documents.photos.refusal import PictureRefused

    data = (CAMERAS / f"{name}.jpg").read_bytes()
    for share in (0.1, 0.5, 0.9):
        with pytest.raises(PictureRefused):
            examine(data[: int(len(data) * share)], limits=Limits())
