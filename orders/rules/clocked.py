"""Clocked time: several sessions of several people, over midnight and clock changes, beside guide and allowed time. Pure.

Moments are aware; what counts is the time that really passed, not the difference of two wall clocks.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import pairwise

from orders.rules.labour import Rounding, tenths
from orders.rules.messages import Message
from shopdocs.money import Step, exact
from shopdocs.problems import BadInput

LONGEST = timedelta(hours=16)  # a longer session is a clock that nobody stopped; common practice, no source


@dataclass(frozen=True, slots=True)
class Session:
    """One stretch of work by one person, from `start` to `end`; both carry their zone."""

    person: str
    start: datetime
    end: datetime

    def __post_init__(self) -> None:
        if self.start.utcoffset() is None or self.end.utcoffset() is None:
            raise BadInput("start", "A moment without a zone could be any hour.", "Give it with its zone.")
        if self.passed <= timedelta(0):
            raise BadInput("end", f"The session ends at {self.end}, not after its start.", "Correct one of the two.")
        if self.passed > LONGEST:
            problem = f"{self.passed} at one stretch: somebody forgot to clock off."
            raise BadInput("end", problem, "Enter when the work really ended, or split the session.")

    @property
    def passed(self) -> timedelta:
        """The time that passed. Both ends go to UTC first: Python subtracts wall clocks within one zone."""
        return self.end.astimezone(UTC) - self.start.astimezone(UTC)


@dataclass(frozen=True, slots=True)
class Clocked:
    """The sum of sessions: exact minutes in all and per person, and hours rounded once."""

    minutes: Decimal
    hours: Decimal
    people: tuple[tuple[str, Decimal], ...]

    @property
    def steps(self) -> tuple[Step, ...]:
        """Who worked how many minutes, and the hours that makes."""
        return (*(Step(f"{who}, minutes", minutes) for who, minutes in self.people), Step("Clocked hours", self.hours))


def clocked_time(sessions: Iterable[Session], rounding: Rounding = Rounding.HALF_UP) -> Clocked:
    """Adds up the sessions. Raises BadInput where one person's sessions overlap: nobody works twice at a time."""
    by_person: dict[str, list[Session]] = defaultdict(list)
    for session in sessions:
        by_person[session.person].append(session)
    people = []
    for person, own in by_person.items():
        own.sort(key=lambda session: session.start.astimezone(UTC))
        for before, after in pairwise(own):
            if after.start.astimezone(UTC) < before.end.astimezone(UTC):
                problem = f"{person} is clocked on twice from {after.start}."
                raise BadInput("start", problem, "Correct one of the two sessions.")
        passed = sum((session.passed for session in own), timedelta(0))
        people.append((person, Decimal(passed // timedelta(microseconds=1)) / 60_000_000))
    minutes = sum((share for _, share in people), Decimal(0))
    return Clocked(minutes, tenths(minutes, rounding), tuple(people))


@dataclass(frozen=True, slots=True)
class ThreeTimes:
    """Guide time, time that the payer allows, and time clocked, in hours; None where it is not known."""

    guide: Decimal | None
    allowed: Decimal | None
    clocked: Decimal | None

    @property
    def remarks(self) -> tuple[str, ...]:
        """What the comparison says, in words; nothing is said about what is not known."""
        said = []
        if self.guide is not None and self.allowed is not None and self.allowed < self.guide:
            said.append(f"The payer allows {self.guide - self.allowed} h less than the guide.")
        if self.clocked is not None and self.allowed is not None and self.clocked > self.allowed:
            said.append(f"The work took {self.clocked - self.allowed} h more than the payer allows.")
        if self.clocked is not None and self.guide is not None and self.clocked > self.guide:
            said.append(f"The work took {self.clocked - self.guide} h more than the guide.")
        return tuple(said)


def limited(hours: Decimal, limit: Decimal | None) -> tuple[Decimal, str]:
    """Hours cut to a payer's limit (for diagnosis, say) with the words for it; no limit known leaves them."""
    if limit is None or exact(hours, "hours") <= exact(limit, "limit"):
        return hours, ""
    return limit, most_paid(hours, limit).said()


def most_paid(hours: Decimal, limit: Decimal) -> Message:
    """That of these hours no more than the payer's limit are paid."""
    return Message(
        "{hours} h, of which {limit} h is the most that is paid.", {"hours": str(hours), "limit": str(limit)}
    )
