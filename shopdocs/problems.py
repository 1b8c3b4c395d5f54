"""One error for the pure rooms: bad input told as field, problem and remedy.

Imports nothing of ours, so that every pure room may use it; the doors translate it into a 400 answer.
"""

from __future__ import annotations


class BadInput(ValueError):
    """A value that cannot be used. `field` names where it stands, `remedy` what the person can do about it."""

    def __init__(self, field: str, problem: str, remedy: str) -> None:
        super().__init__(f"{field}: {problem} {remedy}")
        self.field = field
        self.problem = problem
        self.remedy = remedy
