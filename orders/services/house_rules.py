"""Rules about work that another room knows. It registers them when it is ready; this room asks, and never interprets."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any
from uuid import UUID

from orders.models import Job, RepairOrder, Unit
from orders.rules.contradictions import Contradiction
from orders.rules.work import Work
from shopdocs.rest.refusals import Conflict, Problem, Refused

Objection = Callable[[Unit | None, Sequence[Work]], Iterable[Problem]]
Duties = Callable[[Job], Iterable[dict[str, Any]]]
Payers = Callable[[RepairOrder], Iterable[Problem]]
Doubts = Callable[[RepairOrder], Mapping[UUID, Sequence[Contradiction]]]

_OBJECTIONS: dict[str, Objection] = {}
_DUTIES: dict[str, Duties] = {}
_DOUBTS: dict[str, Doubts] = {}
_PAYERS: dict[str, Payers] = {}


def register(
    name: str,
    *,
    objection: Objection | None = None,
    duties: Duties | None = None,
    doubts: Doubts | None = None,
    payers: Payers | None = None,
) -> None:
    """Called once per name when an app is ready; another rule under the same name is a mistake of ours.

    `objection` says why work on a unit (None: in the catalogue, for any unit) is never to be written down; `duties` what a
    job that is done leaves to be done, each with `rule`, `says`, `source` and `at`, the address where it is done;
    `doubts` what does not fit in the findings of an order; `payers` which jobs of an order have a payer that lost its ground.
    """
    given: tuple[tuple[dict[str, Any], Any], ...] = (
        (_OBJECTIONS, objection), (_DUTIES, duties), (_DOUBTS, doubts), (_PAYERS, payers),
    )  # fmt: skip
    for kept, rule in given:
        if rule is not None:
            if kept.get(name, rule) != rule:
                raise ValueError(f"the house rule '{name}' is registered twice")
            kept[name] = rule


def refuse_forbidden(unit: Unit | None, *works: Work) -> None:
    """Raises one Refused with every objection to this work."""
    said = [work for work in works if work.words.strip() or (work.action and work.components)]
    problems = [problem for objection in _OBJECTIONS.values() for problem in objection(unit, said)] if said else []
    if problems:
        raise Refused(problems=problems)


def duties_of(job: Job) -> list[dict[str, Any]]:
    """What this job leaves to be done, by every rule that is registered."""
    return [duty for rule in _DUTIES.values() for duty in rule(job)]


def doubts_of(order: RepairOrder) -> dict[UUID, list[Contradiction]]:
    """What does not fit in the order's findings, by finding and by every rule that is registered."""
    found: dict[UUID, list[Contradiction]] = {}
    for rule in _DOUBTS.values():
        for key, told in rule(order).items():
            found.setdefault(key, []).extend(told)
    return found


def refuse_fallen_payers(order: RepairOrder) -> None:
    """Raises one Conflict with every job of the order whose payer lost its ground, before its price is frozen."""
    problems = [problem for rule in _PAYERS.values() for problem in rule(order)]
    if problems:
        raise Conflict(problems=problems)
