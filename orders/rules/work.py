"""What a piece of work does to which parts, in closed words: for rules that other rooms have about work. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

ACTIONS: Final = {
    "replace": "replace",
    "repair": "repair",
    "rebuild": "rebuild",
    "clean": "clean",
    "adjust": "adjust",
    "refit": "take off and put back",
    "remove": "take off for good",
    "leave_out": "leave out",
    "disable": "put out of action",
    "bypass": "lead past it",
    "alter": "change how it works",
}


@dataclass(frozen=True)
class Work:
    """Work as it is about to be written down: `action` ('' : not said) on `components`, and its words.

    `field` is where it stands in the request.
    """

    field: str
    words: str = ""
    action: str = ""
    components: tuple[str, ...] = ()
