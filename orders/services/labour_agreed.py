"""The labour of a job that was agreed as a set, and has changed since: the union of what is on it now, told as it is billed."""

from __future__ import annotations

import copy
from decimal import Decimal
from typing import Any

from orders.models import Job, JobLabour

from .labour_sets import put_time, shop_steps, standard

Facts = dict[str, Any]


def own_tenths(line: Facts) -> int:
    """A frozen line's own time, which stands beside its part of the set."""
    return int(line["guide_tenths"] if "guide_tenths" in line else line["tenths"])


def put_time_now(job: Job, facts: Facts, agreed: Facts) -> None:
    """Writes the time of the set that is on the job now into its facts. Lines agreed to take part at their agreed time.

    What a line was lengthened or shortened by since then is added to its part, or taken off it.
    """
    known = {line["id"]: line for line in agreed["labour"]}
    own = {line["id"]: int(line["tenths"]) for line in facts["labour"]}
    for line in facts["labour"]:
        before = known.get(line["id"])
        line["tenths"] = own[line["id"]] if before is None else own_tenths(before)
    in_set = _put(job, facts, known)
    for line in facts["labour"]:
        before = known.get(line["id"])
        line["guide_tenths"] = own[line["id"]]
        if before is None:
            continue
        part = int(line["tenths"]) if line["id"] in in_set else int(before["tenths"])
        if before.get("limited"):
            part, line["limited"] = min(part, int(before["tenths"])), before["limited"]
        more = own[line["id"]] - own_tenths(before)
        line["tenths"] = max(0, part + min(0, more)) + max(0, more)
    _tell(facts, in_set)


def put_time_left(job: Job, facts: Facts, agreed: Facts) -> None:
    """Brings the set's time in line with the lines that are left of it: a step goes to the work that needs it still.

    Never more than was agreed for the labour in all; where it would be, each line stays at its agreed part.
    """
    if facts.get("labour_time") is None or facts["labour"] == agreed["labour"]:
        return
    known = {line["id"]: line for line in agreed["labour"]}
    facts["labour"] = [dict(line) for line in facts["labour"]]
    tried: Facts = {"labour": [{**line, "tenths": own_tenths(known[line["id"]])} for line in facts["labour"]]}
    in_set = _put(job, tried, known)
    if len(facts["labour"]) < len(known):
        for line, one in zip(facts["labour"], tried["labour"], strict=True):
            before = int(known[line["id"]]["tenths"])
            part = before if line["id"] not in in_set or line.get("limited") else int(one["tenths"])
            one["tenths"] = max(int(line["tenths"]), part - (before - int(line["tenths"])))
        if _cost(tried["labour"]) <= _cost(agreed["labour"]):
            facts["labour_time"] = tried["labour_time"]
            for line, one in zip(facts["labour"], tried["labour"], strict=True):
                line["tenths"] = one["tenths"]
    _tell(facts, in_set)


def _put(job: Job, facts: Facts, known: dict[str, Facts]) -> set[str]:
    """The set's time with the lines at their agreed hours; the ids of the lines that are in the set."""
    here = {line["id"] for line in facts["labour"]}
    rows: list[JobLabour] = []
    for row in job.labour.all():
        if str(row.pk) in here:
            stood = copy.copy(row)
            if str(row.pk) in known:
                stood.hours = Decimal(own_tenths(known[str(row.pk)])) / 10
            rows.append(stood)
    put_time(job, facts, shop_steps(job.shop), rows)
    return {str(row.pk) for row in standard(rows)}


def _cost(labour: list[Facts]) -> Decimal:
    return sum((int(line["tenths"]) * Decimal(line["rate"]) for line in labour), Decimal(0))


def _tell(facts: Facts, in_set: set[str]) -> None:
    """What is told of the set agrees with what its lines are billed at."""
    time = facts.get("labour_time")
    if time is None:
        return
    billed = Decimal(sum(int(line["tenths"]) for line in facts["labour"] if line["id"] in in_set)) / 10
    if billed == Decimal(time["hours"]):
        return
    hours = f"{billed:.1f}"
    how = [*time["how"], {"text": "Billed, after what was agreed and changed since", "amount": hours}]
    facts["labour_time"] = {
        **time,
        "hours": hours,
        "separate": hours,
        "saved": "0.0",
        "saving": "",
        "shared": [],
        "how": how,
    }
