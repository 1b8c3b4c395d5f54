"""How a service says no: field, problem, remedy. Knows HTTP only by the number on the class."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

Say = Callable[[str], str]
"""An English sentence of ours -> the same in another language; itself where that has none."""


class Told(str):
    """A sentence of a refusal that remembers what it was made of, so that a door can say it in its reader's language.

    As a text it is the English. `values` go into the places of `text`; one that is a `Told` is said in the same language, any
    other stands as it is: a number, a name, what somebody typed.
    """

    text: str
    values: dict[str, Any]

    def __new__(cls, text: str, **values: Any) -> Told:
        made = super().__new__(cls, text.format(**values) if values else text)
        made.text, made.values = text, values
        return made

    def said(self, say: Say) -> str:
        """The sentence in the language of `say`."""
        told = {name: value.said(say) if isinstance(value, Told) else value for name, value in self.values.items()}
        return say(self.text).format(**told) if told else say(self.text)


def said(text: str, say: Say) -> str:
    """A sentence of a refusal in the language of `say`, whether something stands in its places or it has none."""
    return text.said(say) if isinstance(text, Told) else say(text)


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong: which field (dotted path, '' for the whole request: the door names which part of it), what, and what to do.

    What changes in `problem` or `remedy` makes it a `Told` wherever a customer may read it.
    """

    field: str
    problem: str
    remedy: str


class Refused(Exception):
    """The request cannot be carried out as it stands; nothing was written.

    Takes one (field, problem, remedy) or a list of `Problem`.
    """

    status = 400
    title = "The request was not carried out"

    def __init__(
        self, field: str = "", problem: str = "", remedy: str = "", *, problems: list[Problem] | None = None
    ) -> None:
        self.problems = problems or [Problem(field, problem, remedy)]
        self.extra: dict[str, Any] = {}
        super().__init__("; ".join(f"{p.field}: {p.problem}" for p in self.problems))


class Conflict(Refused):
    """The request is well formed, but what is already true forbids it (a finished order, a number taken)."""

    status = 409
    title = "What is already recorded forbids this"


class Stale(Conflict):
    """Somebody saved the same record first. Carries what changed, so that the person can decide."""

    title = "Somebody else saved this first"

    def __init__(self, *, current_version: int, changed: dict[str, Any], problem: str = "") -> None:
        super().__init__(
            "version",
            problem or f"This record is at version {current_version} now.",
            "Read it again, look at what changed, and save with the new version.",
        )
        self.extra = {"current_version": current_version, "changed": changed}


class Missing(Refused):
    """No such record in the caller's shop (or none at all: the answer does not tell which)."""

    status = 404
    title = "Not found"


class NotYours(Refused):
    """Known caller, but this is another role's work, or another shop's."""

    status = 403
    title = "Not yours to do"


def unknown_shop(slugs: list[str]) -> Refused:
    """For a caller who works at several shops and did not say which."""
    return Refused(
        problems=[
            Problem("Shop", "You work at several shops.", f"Send the header 'Shop' with one of: {', '.join(slugs)}.")
        ]
    )


def not_your_shop(slug: str, slugs: list[str]) -> Refused:
    """For a caller who does not work at the shop that was named, whether there is one or not; or at no shop at all."""
    if not slugs:
        return NotYours("Authorization", "You work at no shop.", "Ask the owner of the shop to add you to its people.")
    remedy = f"Send the header 'Shop' with one of: {', '.join(slugs)}."
    if len(slugs) == 1:
        remedy = f"Send '{slugs[0]}' in the header 'Shop', or leave the header out."
    return NotYours("Shop", f"You do not work at a shop '{slug[:60]}'.", remedy)
