"""What a camera wrote beside the picture: turn, time, place, serial numbers.

Tag numbers are those of the Exif standard (Exif 2.31 and later for the offset tags; from memory).
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from PIL import Image

_ORIENTATION = 0x0112
EXIF_IFD, GPS_IFD = 0x8769, 0x8825
_CHANGED = 0x0132
# Which clock, its tag, and the tag of its offset: DateTimeOriginal, DateTimeDigitized, DateTime (in the first directory).
_CLOCKS = (("original", 0x9003, 0x9011), ("digitized", 0x9004, 0x9012), ("changed", _CHANGED, 0x9010))
# Body and lens serial number, and the one that raw converters write into the first directory.
_SERIALS, FIRST_SERIAL = (0xA431, 0xA435), 0xC62F
_CLOCK = re.compile(r"(\d{4}):(\d\d):(\d\d) (\d\d):(\d\d):(\d\d)")
_OFFSET = re.compile(r"([+-])(\d\d):(\d\d)")


@dataclass(frozen=True, slots=True)
class CameraFacts:
    """orientation: 1 to 8. taken_at: the camera's clock, naive. taken_offset: that clock minus UTC, if written.

    taken_from: which clock that is: 'original' (when it was taken), else 'digitized', else 'changed' (the file), else ''.
    """

    orientation: int
    taken_at: datetime | None
    taken_offset: timedelta | None
    taken_from: str
    has_gps: bool
    has_camera_serial: bool


def camera_facts(image: Image.Image) -> CameraFacts:
    """Reads what it can. A damaged note beside a sound picture counts as no note."""
    try:
        exif = image.getexif()
        inner, place = exif.get_ifd(EXIF_IFD), exif.get_ifd(GPS_IFD)
        first = dict(exif)
    except Exception:  # noqa: BLE001  (any built-in error, as in opening.py)
        first, inner, place = {}, {}, {}
    packet = _xmp(image)
    taken_at, taken_offset, taken_from = _taken({**inner, _CHANGED: first.get(_CHANGED)})
    serial = any(inner.get(tag) for tag in _SERIALS) or bool(first.get(FIRST_SERIAL))
    return CameraFacts(
        orientation=_orientation(first.get(_ORIENTATION)),
        taken_at=taken_at,
        taken_offset=taken_offset,
        taken_from=taken_from,
        # Tag 0 is the version alone, which some cameras write without knowing where they are.
        has_gps=any(tag != 0 for tag in place) or b"GPSLatitude" in packet,
        has_camera_serial=serial or b"SerialNumber" in packet,
    )


def orientation_of(image: Image.Image) -> int:
    """The turn that the camera noted, 1 to 8; 1 when it noted none."""
    return camera_facts(image).orientation


def _orientation(value: object) -> int:
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _taken(tags: Mapping[int, object]) -> tuple[datetime | None, timedelta | None, str]:
    """The first of the clocks that tells a time, with its own offset: what edits or scans a photo writes later ones."""
    for name, clock, offset in _CLOCKS:
        if (at := _clock(tags.get(clock))) is not None:
            return at, _offset(tags.get(offset)), name
    return None, None, ""


def _clock(value: object) -> datetime | None:
    match = _CLOCK.match(value) if isinstance(value, str) else None
    if match is None:
        return None
    try:
        # Naive on purpose: a camera's clock knows no zone unless the offset tag says so.
        return datetime(*(int(part) for part in match.groups()))  # type: ignore[arg-type]  # noqa: DTZ001
    except ValueError:
        return None


def _offset(value: object) -> timedelta | None:
    match = _OFFSET.match(value) if isinstance(value, str) else None
    if match is None:
        return None
    span = timedelta(hours=int(match[2]), minutes=int(match[3]))
    if span > timedelta(hours=14):  # no zone on earth lies further out
        return None
    return -span if match[1] == "-" else span


def _xmp(image: Image.Image) -> bytes:
    packet = image.info.get("xmp") or b""
    return packet.encode("utf-8", "replace") if isinstance(packet, str) else bytes(packet)
