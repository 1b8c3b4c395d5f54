"""The door: what a picture is, and whether it is taken in."""

import hashlib
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

from PIL import Image

from .facts import camera_facts
from .kinds import MEDIA_TYPES, quoted
from .limits import Limits
from .opening import opened
from .reading import read_upright
from .refusal import PictureRefused

_LYING = frozenset({5, 6, 7, 8})
_GLANCE = (256, 256)
_LONGEST_BY_SHORTEST = 30  # a panorama of a whole fence is some 10 to 1


@dataclass(frozen=True, slots=True)
class Picture:
    """What is known of a picture that was taken in; the bytes themselves stay as sent.

    kind: 'jpeg', 'png', 'webp' or 'heic'. width, height: pixels after turning it upright.
    sha256: of the original bytes, hex. size: bytes. taken_at: the camera's own clock, naive, or
    None; taken_offset: that clock minus UTC where the camera wrote it; taken_from: which clock, as
    in CameraFacts. orientation: the Exif turn
    still to be made, 1 to 8 (1 for HEIC, whose container turns it).
    """

    kind: str
    media_type: str
    width: int
    height: int
    sha256: str
    size: int
    taken_at: datetime | None
    taken_offset: timedelta | None
    taken_from: str
    has_gps: bool
    has_camera_serial: bool
    orientation: int
    has_colour_profile: bool

    @property
    def taken_moment(self) -> datetime | None:
        """When it was taken as an aware datetime; None when the camera wrote no offset."""
        if self.taken_at is None or self.taken_offset is None:
            return None
        return self.taken_at.replace(tzinfo=timezone(self.taken_offset))


def examine(data: bytes, *, limits: Limits, declared_name: str = "") -> Picture:
    """Describes the picture in data, read to its last pixel; raises PictureRefused with the reason.

    declared_name is quoted in the reason and otherwise ignored.
    """
    return examine_and_show(data, within=_GLANCE, limits=limits, declared_name=declared_name)[0]


def examine_and_show(
    data: bytes, *, within: tuple[int, int], limits: Limits, declared_name: str = ""
) -> tuple[Picture, Image.Image]:
    """`examine`, and the picture upright in sRGB within (width, height) pixels: it is decoded once for both."""
    with opened(data, limits=limits, declared_name=declared_name) as (kind, image):
        width, height = image.size
        _refuse_tiny(width, height, limits.min_side)
        _refuse_thin(width, height)
        shown = read_upright(kind, image, data, within=within, limits=limits, name=quoted(declared_name))
        facts = camera_facts(image)
        if facts.orientation in _LYING:
            width, height = height, width
        picture = Picture(
            kind=kind,
            media_type=MEDIA_TYPES[kind],
            width=width,
            height=height,
            sha256=hashlib.sha256(data).hexdigest(),
            size=len(data),
            taken_at=facts.taken_at,
            taken_offset=facts.taken_offset,
            taken_from=facts.taken_from,
            has_gps=facts.has_gps,
            has_camera_serial=facts.has_camera_serial,
            orientation=facts.orientation,
            has_colour_profile=bool(image.info.get("icc_profile")),
        )
        return picture, shown


def _refuse_tiny(width: int, height: int, least: int) -> None:
    if max(width, height) < least:
        raise PictureRefused(
            f"The picture has {width} x {height} pixels; on paper it would show nothing.",
            f"Take it anew: at least {least} pixels on the longer side. A preview or icon is no proof.",
        )


def _refuse_thin(width: int, height: int) -> None:
    """A strip shows nothing at any printed size, and what is made smaller of it first would need many times its own memory."""
    if max(width, height) > _LONGEST_BY_SHORTEST * min(width, height):
        raise PictureRefused(
            f"The picture is a strip of {width} x {height} pixels; on paper it would show nothing.",
            f"Cut out the part that matters: the longer side at most {_LONGEST_BY_SHORTEST} times the shorter.",
        )
