"""The press's own words in the language of a paper.

Labels are written in English in the code and looked up here, so that a further language needs a
catalogue and no new drawing. What a sheet holds is never translated: it was frozen as it was said.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from shopdocs.documents.press.errors import PressError

Say = Callable[[str], str]

CATALOGUES: dict[str, Mapping[str, str]] = {"en": {}}
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def words(language: str) -> Say:
    """The function that says a label in `language`. Raises PressError for a language without words."""
    catalogue = CATALOGUES.get(language)
    if catalogue is None:
        known = ", ".join(sorted(CATALOGUES))
        raise PressError(f"language: the press has no words in {language!r}; choose one of {known}")
    return lambda label: catalogue.get(label, label)
