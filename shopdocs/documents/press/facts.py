"""Facts that several papers print alike: people, the machine, its assemblies, photos."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from shopdocs.documents.press.words import Say


@dataclass(frozen=True, kw_only=True)
class Party:
    """Somebody named on a paper, with the lines under the name (address, phone, e-mail)."""

    name: str
    lines: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Unit:
    """One machine. `hours` None: no meter, or not read; `hours_note` says which, or how it was read.

    An empty `serial` prints `serial_note`, the reason why none could be read.
    """

    family: str
    maker: str
    model: str
    serial: str
    serial_note: str
    built_on: date | None
    hours: Decimal | None
    hours_note: str
    use_class: str
    power_source: str


@dataclass(frozen=True, kw_only=True)
class Assembly:
    """A part of a unit with a maker, serial and promise of its own, such as the engine."""

    name: str
    maker: str
    model: str
    serial: str
    built_on: date | None
    emission_label: str
    distributor: str


@dataclass(frozen=True, kw_only=True)
class PhotoMark:
    """An arrow, circle or scale bar over a picture.

    kind: 'arrow' (from its tail to its point), 'circle' (centre, and a point on its edge) or 'scale' (its two ends).
    x and y: ten-thousandths of the upright picture's width and height, from its upper left corner. length: what the
    scale bar measures, such as '12 mm'; '' for the others.
    """

    kind: str
    x1: int
    y1: int
    x2: int
    y2: int
    length: str = ""


@dataclass(frozen=True, kw_only=True)
class Photo:
    """One picture on a paper. `sha256` is the key into the pictures given to the press.

    when: the moment in the shop's zone, already in words. moment: 'before', 'after' or 'check-in'.
    shows: '', 'serial plate', 'hour meter' or 'emission label'; those come first in a claim. finding: the mark it
    proves. marks: drawn over the picture, which itself stays as it came.
    """

    sha256: str
    number: int
    caption: str
    who: str
    when: str
    moment: str
    shows: str
    finding: str
    marks: tuple[PhotoMark, ...] = ()

    def by_the_camera(self, say: Say) -> str:
        """What the camera wrote beside the picture, in words: no paper but a claim can tell any of it."""
        return ""


@dataclass(frozen=True, kw_only=True)
class Signed:
    """A signature drawn on a screen. `sha256` is the key into the pictures given to the press; when: already in words."""

    sha256: str
    name: str
    when: str
