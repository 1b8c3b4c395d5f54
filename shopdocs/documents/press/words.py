"""Our own words in the language of a paper.

Labels and sentences are written in English in the code and looked up here by that text, so that a further language
needs a catalogue and no new drawing: catalogues/LANGUAGE.po, in the format of GNU gettext, read once a process. What
a person typed is never translated, and what a sheet holds was frozen as it was said.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from pathlib import Path

from shopdocs.documents.press.catalogue import read
from shopdocs.documents.press.errors import PressError

Say = Callable[[str], str]

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
ENGLISH = "en"
FOLDER = Path(__file__).parent / "catalogues"


@functools.cache
def languages() -> tuple[str, ...]:
    """English, and every language that has a catalogue."""
    return (ENGLISH, *sorted(path.stem for path in FOLDER.glob("*.po")))


@functools.cache
def catalogue(language: str) -> Mapping[str, str]:
    """English text -> the same in `language`; empty for English. Raises PressError for a language without words."""
    if language not in languages():
        known = ", ".join(languages())
        raise PressError(f"language: the press has no words in {language!r}; choose one of {known}")
    return {} if language == ENGLISH else read(FOLDER / f"{language}.po")


def speaks(language: str) -> str:
    """The language of ours that serves `language`: 'es' for 'es' and 'es-MX'; '' when there is none."""
    base = language.replace("_", "-").partition("-")[0].lower()
    return base if base in languages() else ""


@functools.cache
def words(language: str) -> Say:
    """The function that says a text of ours in `language`. Raises PressError for a language without words."""
    known = catalogue(language)
    return lambda label: known.get(label, label)
