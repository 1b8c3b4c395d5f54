"""The page: sizes, margins, the two columns, the styles of type, the colours.

Every page has a narrow side column, where a section is named, and a wide main column, where it is
told. Lengths are points, y counts upwards from the lower edge as in PDF.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from shopdocs.documents.press.errors import PressError
from shopdocs.documents.press.fonts import ITALIC, REGULAR, SEMIBOLD

SIZES = {"letter": (612.0, 792.0), "a4": (595.28, 841.89)}
INK, GREY, HAIR, WASH = "#1b1f23", "#565e66", "#cfd4d9", "#f3f4f5"
HEX = re.compile(r"#[0-9a-fA-F]{6}\Z")


class Style(NamedTuple):
    """A face key, a size, the distance of lines, a colour, and how far the baseline is moved down."""

    face: str
    size: float
    leading: float
    colour: str
    shift: float = 0.0

    @property
    def drop(self) -> float:
        """From the top of a line's box down to its baseline: capitals sit in the middle of the box."""
        return (self.leading + self.size * 0.66) / 2 + self.shift


BODY = Style(REGULAR, 9.5, 13.0, INK)
STRONG = Style(SEMIBOLD, 9.5, 13.0, INK)
QUOTE = Style(ITALIC, 10.5, 14.5, INK)
NOTE = Style(REGULAR, 8.2, 11.0, GREY)
NOTE_INK = Style(REGULAR, 8.2, 11.0, INK)
LABEL_HEAD = Style(SEMIBOLD, 19.0, 24.0, INK)
PROOF = Style(SEMIBOLD, 8.2, 11.0, INK)
# A note behind words on one line: shifted onto the baseline of BODY.
ASIDE = Style(REGULAR, 8.2, 13.0, GREY, 0.429)
LABEL = Style(REGULAR, 7.8, 10.5, GREY)
GAP = Style(REGULAR, 5.0, 5.0, GREY)
SIDE = Style(SEMIBOLD, 9.5, 13.0, INK)
LEAD = Style(SEMIBOLD, 11.0, 15.0, INK)
SUM = Style(SEMIBOLD, 12.5, 18.0, INK)
TITLE = Style(SEMIBOLD, 25.0, 30.0, INK)
SUBTITLE = Style(REGULAR, 11.0, 15.0, GREY)
SHOP = Style(SEMIBOLD, 12.0, 16.0, INK)
WARN = Style(SEMIBOLD, 14.0, 19.0, INK)


class Page(NamedTuple):
    """Where things stand on every page of one paper."""

    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    main: float
    accent: str

    @property
    def side_width(self) -> float:
        """Room for words in the side column."""
        return self.main - self.left - 14

    @property
    def main_width(self) -> float:
        """Width of the main column."""
        return self.right - self.main


def label_page(accent: str) -> Page:
    """A label of 4 by 3 inches, for a tag on a part. Raises PressError for an unknown colour."""
    if not HEX.match(accent):
        raise PressError(f"shop.accent: {accent!r} is no colour; write it as #rrggbb")
    return Page(288.0, 216.0, 14.0, 274.0, 202.0, 14.0, 14.0, accent)


def page_for(paper: str, accent: str, foot: float) -> Page:
    """The page of a paper size with a footer `foot` points high. Raises PressError for an unknown size or colour."""
    if paper not in SIZES:
        raise PressError(f"paper: {paper!r} is no size of ours; choose one of {', '.join(SIZES)}")
    if not HEX.match(accent):
        raise PressError(f"shop.accent: {accent!r} is no colour; write it as #rrggbb")
    width, height = SIZES[paper]
    left = 50.0
    return Page(width, height, left, width - left, height - 46, 40 + foot + 12, left + 98, accent)
