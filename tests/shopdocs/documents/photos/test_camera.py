"""Place and serial number as cameras write them, and what is no place at all."""

from __future__ import annotations

from typing import Any

import piexif
import pytest

from shopdocs.documents.photos.camera import CameraTold, told_by_camera
from shopdocs.documents.photos.limits import Limits
from tests.shopdocs.documents.photos.conftest import bench, camera_exif, encoded

GPS = piexif.GPSIFD
SOUTH = {GPS.GPSLatitudeRef: b"S", GPS.GPSLatitude: ((33, 1), (51, 1), (0, 1))}
EAST = {GPS.GPSLongitudeRef: b"E", GPS.GPSLongitude: ((151, 1), (1250, 100), (0, 1))}


def told(exif: bytes, form: str = "JPEG") -> CameraTold:
    return told_by_camera(encoded(bench(), form, exif=exif), limits=Limits())


def gps(**changes: Any) -> CameraTold:
    return told(
        piexif.dump({"GPS": {**SOUTH, **EAST, **{getattr(GPS, name): value for name, value in changes.items()}}})
    )


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_it_is_read_from_every_format(form: str) -> None:
    assert told(camera_exif(), form) == CameraTold("41.40837, -93.10321", "CAM-SECRET-4471")


def test_south_and_east() -> None:
    assert gps().place == "-33.85000, 151.20833"


@pytest.mark.parametrize(
    "changes",
    [
        {"GPSLatitude": ((91, 1), (0, 1), (0, 1))},
        {"GPSLatitude": ((90, 1), (0, 1), (1, 1))},
        {"GPSLatitude": ((33, 0), (51, 1), (0, 1))},
        {"GPSLatitude": ((33, 1), (61, 1), (0, 1))},
        {"GPSLatitude": ((33, 1), (51, 1))},
        {"GPSLatitudeRef": b"E"},
        {"GPSLatitudeRef": b""},
        {"GPSLongitudeRef": b"N"},
        {"GPSLongitude": ((181, 1), (0, 1), (0, 1))},
    ],
)
def test_what_is_no_place_on_earth_is_not_told(changes: dict[str, Any]) -> None:
    assert gps(**changes).place == ""


def test_a_camera_that_wrote_nothing() -> None:
    assert told(b"") == CameraTold("", "")
    assert told(piexif.dump({"GPS": SOUTH})) == CameraTold("", "")


def test_a_serial_number_is_one_short_line() -> None:
    written = {"Exif": {piexif.ExifIFD.BodySerialNumber: b"A\n1\x07" + b"9" * 200}}
    assert told(piexif.dump(written)).serial == "A1" + "9" * 58
