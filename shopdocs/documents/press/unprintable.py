"""What of somebody's words a paper cannot show, told before it goes out: the character, and where it stands."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from typing import Any

from shopdocs.documents.press.fonts import clean

MOST = 20
"""Characters that are named one by one."""


def cannot_print(facts: Any) -> list[str]:
    """A sentence for each character in the texts of `facts` (a sheet as JSON) that papers show as '?', where it is met first.

    "Runic letter fehu feoh fe f (U+16A0) in customer, name". Lists are counted from 1. No sentence: all of it prints.
    """
    found: dict[str, str] = {}
    for place, text in _texts(facts, ()):
        if not text.isascii() or not text.isprintable():
            for character in clean(text)[1]:
                found.setdefault(character, ", ".join(place))
    told = [f"{_named(character)} in {place}" if place else _named(character) for character, place in found.items()]
    return [*told[:MOST], f"and {len(told) - MOST} more characters"] if len(told) > MOST else told


def _named(character: str) -> str:
    name = unicodedata.name(character, "a character without a name").lower().capitalize()
    return f"{name} (U+{ord(character):04X})"


def _texts(facts: Any, place: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], str]]:
    """Every text of `facts` with the words that lead to it."""
    if isinstance(facts, str):
        yield place, facts
    elif isinstance(facts, dict):
        # A database may keep the names of a JSON object in an order of its own: a record's own texts first, then by name.
        for key, value in sorted(facts.items(), key=lambda one: (not isinstance(one[1], str), str(one[0]))):
            yield from _texts(value, (*place, str(key).replace("_", " ")))
    elif isinstance(facts, list | tuple):
        for at, value in enumerate(facts, 1):
            yield from _texts(value, (*place[:-1], f"{place[-1]} {at}") if place else (str(at),))
