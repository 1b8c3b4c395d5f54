"""Where a picture was taken and by which camera, as the camera wrote it: for claims of shops that tell it, and nothing else.

Tag numbers and the shape of their values are those of the Exif standard (Exif 2.31 and later; from memory).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from .facts import EXIF_IFD, FIRST_SERIAL, GPS_IFD
from .limits import Limits
from .opening import opened

_BODY_SERIAL = 0xA431
_LATITUDE, _LONGITUDE = (1, 2, "NS", 90), (3, 4, "EW", 180)
_LONGEST_SERIAL = 60


@dataclass(frozen=True, slots=True)
class CameraTold:
    """place: '41.40837, -93.10321', degrees north and east to a metre; serial: the body's serial number; '' for not written."""

    place: str
    serial: str


def told_by_camera(data: bytes, *, limits: Limits) -> CameraTold:
    """Reads what the camera wrote into a picture that was taken in. A damaged note counts as none."""
    with opened(data, limits=limits) as (_, image):
        try:
            exif = image.getexif()
            inner, place = exif.get_ifd(EXIF_IFD), exif.get_ifd(GPS_IFD)
            return CameraTold(_place(place), _serial(inner.get(_BODY_SERIAL)) or _serial(exif.get(FIRST_SERIAL)))
        except Exception:  # noqa: BLE001  (any built-in error, as in opening.py)
            return CameraTold("", "")


def _place(gps: Mapping[int, Any]) -> str:
    north, east = _degrees(gps, *_LATITUDE), _degrees(gps, *_LONGITUDE)
    return f"{north}, {east}" if north and east else ""


def _degrees(gps: Mapping[int, Any], side: int, tag: int, letters: str, most: int) -> str:
    """Degrees with five decimals, south and west below zero; '' for what is no place on earth."""
    letter, parts = str(gps.get(side, "")).strip("\0 ").upper(), gps.get(tag)
    if letter not in tuple(letters) or not isinstance(parts, tuple) or len(parts) != 3:
        return ""
    try:
        degrees, minutes, seconds = (Fraction(part.numerator, part.denominator) for part in parts)
    except (AttributeError, TypeError, ValueError, ZeroDivisionError):
        return ""
    found = degrees + minutes / 60 + seconds / 3600
    if min(degrees, minutes, seconds) < 0 or max(minutes, seconds) > 60 or found > most:
        return ""
    return f"{float(-found if letter == letters[1] else found):.5f}"


def _serial(value: object) -> str:
    text = value.decode("ascii", "replace") if isinstance(value, bytes) else value
    return "".join(one for one in text if one.isprintable()).strip()[:_LONGEST_SERIAL] if isinstance(text, str) else ""
