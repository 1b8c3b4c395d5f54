"""How every figure of an estimate came about. It is frozen with the version, so that years later the answer is the same."""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from orders.rules.figures import figure, given, same

from .explained import figures_of_jobs, taxes_over, totals_over
from .explained_lines import Sources
from .options import bounded
from .priced import price_told
from .scope import CUSTOMER

Facts = dict[str, Any]


def estimate_figures(facts: Facts, sources: Sources) -> list[Facts]:
    """Every figure of a version, out of its frozen facts; `sources`: where rates and prices are from.

    Beside those of `price_figures` the customer's 'net', 'tax', 'total', 'tax:NAME:PERCENT', 'base:NAME:PERCENT'; for each way to
    choose 'option:ID' what the customer pays, its own figures as 'option:ID:NAME', and what was entered of its worth.
    """
    jobs = copy.deepcopy(facts["jobs"])
    told = _priced(facts, jobs, sources)
    known = {one["figure"]: one for one in told}
    zero = Decimal(facts["customer_total"]) * 0
    return [
        *told,
        *taxes_over(facts["customer_taxes"], known, [""], facts.get("exempt_by", ""), zero),
        *totals_over(known, [""], {what: Decimal(facts[f"customer_{what}"]) for what in ("net", "tax", "total")}),
        *(
            one
            for group in facts.get("options", ())
            for way in group["options"]
            for one in _option(facts, way, sources)
        ),
    ]


def _priced(facts: Facts, jobs: list[Facts], sources: Sources) -> list[Facts]:
    """The figures of some of the jobs by the estimate's own terms."""
    on = dt.date.fromisoformat(facts["issued_on"])
    _, priced = price_told(
        jobs, facts["rates"], facts["money"], exempt=facts["customer"]["tax_exempt"], on=on, terms=facts.get("pricing")
    )
    return figures_of_jobs(jobs, priced, sources)


def _option(facts: Facts, way: Facts, sources: Sources) -> Iterable[Facts]:
    """What the customer pays if this way is chosen: its jobs alone, with no more of the supplies than the estimate shows."""
    name, amount = f"option:{way['id']}", Decimal(way["customer_total"])
    jobs = bounded([job for job in facts["jobs"] if job["id"] in way["jobs"]])
    for job in jobs:
        job.pop("customer_most", None)  # it is promised of the estimate, not of a way
    mine = f"{name}:payer:{CUSTOMER}:total"
    told = [_within(name, one) for one in _priced(facts, jobs, sources)] if jobs else []
    yield from told
    if any(one["figure"] == mine for one in told):
        step = same("What the customer pays of its jobs", amount, mine)
    else:
        step = given("None of its jobs is the customer's to pay", amount, "the way that is chosen")
    yield figure(name, way["name"], amount, [step])
    for what, words in (("value_after", "worth after it"), ("price_new", "price of a replacement")):
        if way.get(what) is not None:
            entered = Decimal(way[what])
            yield figure(
                f"{name}:{what}", f"{way['name']}: {words}", entered, [given(words, entered, "the shop's estimate")]
            )


def _within(name: str, one: Facts) -> Facts:
    """A figure under the name of its way to choose."""
    steps = [
        {key: f"{name}:{value}" if key in ("of", "share_of") else value for key, value in step.items()}
        for step in one["steps"]
    ]
    return {**one, "figure": f"{name}:{one['figure']}", "steps": steps}
