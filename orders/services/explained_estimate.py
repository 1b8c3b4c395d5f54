"""How every figure of an estimate came about. It is frozen with the version, so that years later the answer is the same."""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Collection, Iterable
from decimal import Decimal
from typing import Any

from orders.models import Estimate
from orders.rules.figures import figure, given, same

from .as_done import bounded
from .explained import figures_of_jobs, taxes_over, totals_over
from .explained_lines import Sources
from .labour_together import put_beside
from .priced import price_told
from .scope import CUSTOMER

Facts = dict[str, Any]
BESIDE = {
    "if_alone": ("alone", "if only it is agreed to"),
    "at_most": ("dearest", "where it comes to the most"),
}


def estimate_figures(facts: Facts, sources: Sources) -> list[Facts]:
    """Every figure of a version, out of its frozen facts; `sources`: where rates and prices are from.

    Beside those of `price_figures` the customer's 'net', 'tax', 'total', 'tax:NAME:PERCENT', 'base:NAME:PERCENT'; for each way to
    choose 'option:ID' what the customer pays, its own figures as 'option:ID:NAME', and what was entered of its worth; of a job that
    shares work 'alone:NUMBER' and 'dearest:NUMBER', with ':customer' and their own figures likewise.
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
        *(one for job in facts["jobs"] for name in BESIDE for one in _beside(facts, job, name, sources)),
    ]


def figures_of_version(estimate: Estimate) -> list[Facts]:
    """The figures that were frozen with a version. One that is older than such lists is told out of its facts, as far as
    pricing would make the very same of them today; otherwise it has none.
    """
    if estimate.figures:
        return list(estimate.figures)
    try:
        return estimate_figures(estimate.facts, {})
    except ValueError:  # the steps do not add up to what stands on the paper
        return []


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
    mine = f"{name}:payer:{CUSTOMER}:total"
    told = list(_chosen(facts, way["jobs"], name, sources))
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


def _chosen(facts: Facts, chosen: Collection[str], name: str, sources: Sources) -> Iterable[Facts]:
    """The figures of some of the jobs, by id, under a name of their own, as if nothing else were agreed to."""
    jobs = bounded([job for job in facts["jobs"] if job["id"] in chosen])
    put_beside(jobs, facts.get("labour_done", ()))
    for job in jobs:
        job.pop("customer_most", None)  # it is promised of the estimate, not of a choice
    return (_within(name, one) for one in _priced(facts, jobs, sources)) if jobs else ()


def _beside(facts: Facts, job: Facts, what: str, sources: Sources) -> Iterable[Facts]:
    """What a job that shares work comes to where other jobs are chosen than all of them, and the customer's part of it."""
    told, number = job.get(what), job["number"]
    if told is None:
        return
    name, words = f"{BESIDE[what][0]}:{number}", f"Job {number}, {BESIDE[what][1]}"
    yield from _chosen(facts, {job["id"], *told["with"]}, name, sources)
    for mark, part, of in (("", "net", f"job:{number}"), (":customer", "customer_pays", f"share:{number}:{CUSTOMER}")):
        amount = Decimal(told[part])
        yield figure(f"{name}{mark}", words, amount, [same("With the labour of that choice", amount, f"{name}:{of}")])


def _within(name: str, one: Facts) -> Facts:
    """A figure under the name of its way to choose."""
    steps = [
        {key: f"{name}:{value}" if key in ("of", "share_of") else value for key, value in step.items()}
        for step in one["steps"]
    ]
    return {**one, "figure": f"{name}:{one['figure']}", "steps": steps}
