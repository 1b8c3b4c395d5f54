"""Our own words in the language of a paper.

Labels and sentences are written in English in the code and looked up here by that text, so that a further language
needs a catalogue and no new drawing: catalogues/LANGUAGE.po, in the format of GNU gettext, read once a process. What
a person typed is never translated, and what a sheet holds was frozen as it was said. A text is a whole message with
named places for what changes, and one with a number in it has a form for each kind of number that a language knows.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path

from shopdocs.documents.press.catalogue import Catalogue, read
from shopdocs.documents.press.errors import PressError

Say = Callable[[str], str]

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
ENGLISH = "en"
FOLDER = Path(__file__).parent / "catalogues"


@functools.cache
def languages() -> tuple[str, ...]:
    """English, and every language that has a catalogue."""
    return (ENGLISH, *sorted(path.stem for path in FOLDER.glob("*.po")))


class Words:
    """Says our texts in one language."""

    def __init__(self, known: Catalogue) -> None:
        self._known = known

    def __call__(self, text: str) -> str:
        """The text in this language; in English where the catalogue lacks it."""
        return self._known.texts.get(text, text)

    def counted(self, one: str, many: str, number: int) -> str:
        """The form of a text that goes with `number`: `one` and `many` are the English ones. The number is put in by the caller."""
        said = self._known.forms.get(one)
        if said is None:
            return one if number == 1 else many
        return said[self._known.form(number)]


@functools.cache
def catalogue(language: str) -> Catalogue:
    """The words of `language`; none for English, which is written in the code. Raises PressError for a language without words."""
    if language not in languages():
        known = ", ".join(languages())
        raise PressError(f"language: the press has no words in {language!r}; choose one of {known}")
    return Catalogue() if language == ENGLISH else read(FOLDER / f"{language}.po")


def speaks(language: str) -> str:
    """The language of ours that serves `language`: 'es' for 'es' and 'es-MX'; '' when there is none."""
    base = language.replace("_", "-").partition("-")[0].lower()
    return base if base in languages() else ""


def first_spoken(accepted: str, otherwise: str = ENGLISH) -> str:
    """The first language of ours in a header Accept-Language, which browsers send in order of liking; else `otherwise`."""
    wanted = (one.partition(";")[0].strip() for one in accepted.split(","))
    return next((known for known in map(speaks, wanted) if known), otherwise)


@functools.cache
def words(language: str) -> Words:
    """Says texts of ours in `language`. Raises PressError for a language without words."""
    return Words(catalogue(language))
