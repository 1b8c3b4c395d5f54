"""What a job that shares work comes to where the customer chooses otherwise: told beforehand, frozen with the estimate."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import Any

from orders.rules.labour_jobs import dearest_beside

from .as_done import bounded
from .labour_together import rounding_of, sets_of, work_of

Facts = dict[str, Any]


def put_choices(jobs: Sequence[Facts], done: Sequence[Facts], price_of: Callable[[list[Facts]], Facts]) -> None:
    """Puts on each priced job what it comes to as the only one that is agreed to (`if_alone`), and at most (`at_most`).

    Each with its `hours` of labour, `net` and `customer_pays`, and the ids of the jobs that are chosen `with` it; None where
    the labour is no other than what stands on the job, and `at_most` where that or `if_alone` is as much. `done`: whose work is
    done already and counts in any case; `price_of` prices some of the jobs by the estimate's own terms.
    """
    for job in jobs:
        job["if_alone"] = job["at_most"] = None
    before = {one["id"] for one in done}
    for together in sets_of(sorted([*done, *jobs], key=lambda one: int(one["number"]))):
        works = [work_of(one) for one in together]
        sure = {at for at, one in enumerate(together) if one["id"] in before}
        for at, job in enumerate(together):
            if at in sure or len(together) - len(sure) < 2:
                continue
            job["if_alone"] = _comes_to(job, [], price_of)
            rates = {line["id"]: Decimal(line["rate"]) for line in job["labour"]}
            beside = dearest_beside(works, at, rounding_of(together[0]), rates, sure)
            most = _comes_to(job, [together[one] for one in beside if one not in sure], price_of)
            told = max(Decimal(one["net"]) for one in (job, job["if_alone"]) if one is not None)
            job["at_most"] = most if most is not None and Decimal(most["net"]) > told else None


def _comes_to(job: Facts, others: Sequence[Facts], price_of: Callable[[list[Facts]], Facts]) -> Facts | None:
    """What the job comes to where it is chosen with these others; None where its labour is the same."""
    chosen = bounded(sorted([job, *others], key=lambda one: int(one["number"])))
    price_of(chosen)
    (told,) = [one for one in chosen if one["id"] == job["id"]]
    if [line["tenths"] for line in told["labour"]] == [line["tenths"] for line in job["labour"]]:
        return None
    hours = Decimal(sum(int(line["tenths"]) for line in told["labour"])) / 10
    return {
        "hours": f"{hours:.1f}",
        "net": told["net"],
        "customer_pays": told["customer_pays"],
        "with": [one["id"] for one in others],
    }
