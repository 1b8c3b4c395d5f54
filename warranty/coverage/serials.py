"""Serial numbers read by a rule that is data: a layout of letters, each run of one letter a field.

A layout such as 'PYYWWNNNNN' says: plant letter, two digits of year, two of week, five of count. `kinds` says what a
field holds: 'letters', 'digits', 'alnum', or 'fixed:TEXT'. Ranges compare the fields named in `order`, in that order.
No pattern language is run on a serial, so a hostile one costs nothing.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

MOST = 64
MINUS = "\u2212"  # written for a dash, though it is none to Unicode
Key = tuple[str, ...]


@dataclass(frozen=True)
class SerialLayout:
    """One serial format of a maker: `name`, `layout`, the kind of each field letter, and the fields that order it."""

    name: str
    layout: str
    kinds: tuple[tuple[str, str], ...]
    order: tuple[str, ...]

    def __post_init__(self) -> None:
        letters = [letter for letter, _ in groupby(self.layout)]
        if not 0 < len(self.layout) <= MOST or len(letters) != len(set(letters)):
            raise ValueError(f"the layout '{self.layout[:MOST]}' is empty, too long, or uses a field twice")
        kinds = dict(self.kinds)
        for letter in letters:
            kind = kinds.get(letter, "")
            fixed = kind.removeprefix("fixed:")
            if kind not in ("letters", "digits", "alnum") and (
                fixed == kind or len(fixed) != self.layout.count(letter)
            ):
                raise ValueError(
                    f"the field '{letter}' of layout '{self.layout}' needs a kind: letters, digits, alnum or fixed:TEXT"
                )
        if not self.order or not set(self.order) <= set(letters):
            raise ValueError(f"the layout '{self.layout}' is ordered by fields that it does not have")

    def fields(self, serial: str) -> Mapping[str, str] | None:
        """The fields of a serial, or None when it is not of this format. Spaces, dashes and capitals do not matter."""
        text = clean(serial)
        if len(text) != len(self.layout):
            return None
        kinds, found, at = dict(self.kinds), {}, 0
        for letter, run in groupby(self.layout):
            part = text[at : at + len(list(run))]
            at += len(part)
            if not _fits(part, kinds[letter]):
                return None
            found[letter] = part
        return found

    def key(self, serial: str) -> Key | None:
        """What a serial is compared by, or None when it is not of this format.

        A field has one width, so that texts compare as numbers do; where a count goes on in letters, 9 stands before A.
        """
        fields = self.fields(serial)
        return None if fields is None else tuple(fields[one] for one in self.order)


def clean(serial: str) -> str:
    """A serial as it is compared: capitals, without spaces and dashes of any kind; wide letters and digits (NFKC) are the plain ones."""
    if len(serial) > MOST * 4:
        return serial
    plain = "".join(unicodedata.normalize("NFKC", serial).split()).upper()
    return "".join(one for one in plain if one not in MINUS and unicodedata.category(one) not in ("Pd", "Cf"))


def _fits(part: str, kind: str) -> bool:
    if kind.startswith("fixed:"):
        return part == kind.removeprefix("fixed:").upper()
    if not part.isascii():
        return False
    return {"letters": part.isalpha(), "digits": part.isdecimal(), "alnum": part.isalnum()}[kind]


@dataclass(frozen=True)
class SerialRange:
    """Serials from `first` to `last` of one layout, both inside; None is open to that side."""

    layout: str
    first: str | None
    last: str | None


def inside(serial: str, ranges: Sequence[SerialRange], layouts: Sequence[SerialLayout]) -> str:
    """'yes', 'no' or 'cannot tell': no layout or several fit, and they differ."""
    outcomes: set[str] = set()
    for layout in layouts:
        key = layout.key(serial)
        if key is None:
            continue
        within = [one for one in ranges if one.layout == layout.name and _within(key, one, layout)]
        outcomes.add("yes" if within else "no")
    return outcomes.pop() if len(outcomes) == 1 else "cannot tell"


def _within(key: Key, one: SerialRange, layout: SerialLayout) -> bool:
    low = layout.key(one.first) if one.first is not None else None
    high = layout.key(one.last) if one.last is not None else None
    return (low is None or key >= low) and (high is None or key <= high)


def check_range(one: SerialRange, layouts: Sequence[SerialLayout]) -> str:
    """Why a range makes no sense, or ''."""
    layout = next((each for each in layouts if each.name == one.layout), None)
    if layout is None:
        return f"there is no serial layout '{one.layout}'"
    keys = []
    for end in (one.first, one.last):
        if end is not None:
            key = layout.key(end)
            if key is None:
                return f"'{end[:MOST]}' is not a serial of layout '{one.layout}'"
            keys.append(key)
    return "the range ends before it starts" if len(keys) == 2 and keys[1] < keys[0] else ""
