"""How every figure of an estimate came about, out of its frozen facts: the steps of a figure add up to it, to the cent."""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from .explained import figure, jobs_explained, line_steps, taxes_explained
from .invoice_lines import all_lines, lines_of, put_taxes
from .priced import price
from .scope import CUSTOMER

Facts = dict[str, Any]


def estimate_explained(facts: Facts) -> list[Facts]:
    """Lines, jobs and the customer's part of them, what each payer bears with its taxes, the ways to choose from, the total."""
    lines = [line for job in facts["jobs"] for line in all_lines(job)]
    return [
        *(
            figure(f"line:{line.key}", line.words, Decimal(line.frozen["amount"]), line_steps(line, whole=True))
            for line in lines
        ),
        *jobs_explained(facts),
        *_your_taxes(facts),
        *(one for payer in facts["payers"] for one in _payer(facts, payer)),
        *(_option(facts, one) for group in facts.get("options", ()) for one in group["options"]),
        figure("total", "What you pay", Decimal(facts["customer_total"]), _total_steps(facts)),
    ]


def _your_taxes(facts: Facts) -> Iterable[Facts]:
    """The customer's taxes and what they are charged on, line by line, as the invoice will show them."""
    taxed = {**facts, "jobs": copy.deepcopy(facts["jobs"])}
    put_taxes(taxed["jobs"], facts, facts, facts["money"])
    return taxes_explained(facts["customer_taxes"], lines_of(taxed), facts.get("exempt_by", ""))


def _payer(facts: Facts, payer: Facts) -> Iterable[Facts]:
    """What one payer bears: before tax, each tax, all taxes, and with tax."""
    name = payer["payer"]
    shares = [
        (f"Job {job['number']}: {job['title']}", Decimal(one["amount"]))
        for job in facts["jobs"]
        for one in job["paid"]
        if one["payer"] == name
    ]
    net, tax = Decimal(payer["net"]), Decimal(payer["tax"])
    inclusive = (facts.get("pricing") or {}).get("inclusive")
    inside = [(f"Less {one['name']} in the prices", -Decimal(one["amount"])) for one in payer["taxes"]]
    yield figure(f"payer:{name}:net", f"{name}, before tax", net, [*shares, *(inside if inclusive else ())])
    for one in payer["taxes"]:
        words = f"{one['name']}, {one['percent']} % of {one['base']}"
        amount = Decimal(one["amount"])
        told = [(f"{words}, {one['how']}", amount)]
        yield figure(f"payer:{name}:tax:{one['name']}:{one['percent']}", words, amount, told)
    taxes = [(one["name"], Decimal(one["amount"])) for one in payer["taxes"]]
    yield figure(f"payer:{name}:tax", f"{name}, tax", tax, taxes or [(payer["why"] or "No tax falls on it", tax)])
    yield figure(f"payer:{name}:total", name, Decimal(payer["total"]), [("Before tax", net), ("Tax", tax)])


def _option(facts: Facts, option: Facts) -> Facts:
    """What the customer pays if this way is chosen: its jobs alone, by the estimate's own terms."""
    jobs = [copy.deepcopy(job) for job in facts["jobs"] if job["id"] in option["jobs"]]
    amount = Decimal(option["customer_total"])
    if not jobs:
        return figure(f"option:{option['id']}", option["name"], amount, [("None of its jobs is done", amount)])
    terms = facts.get("pricing") or {}
    priced = price(
        jobs, facts["rates"], facts["money"], exempt=facts["customer"]["tax_exempt"],
        on=dt.date.fromisoformat(facts["issued_on"]), terms=terms,
    )  # fmt: skip
    shares = [(f"Job {job['number']}: {job['title']}", Decimal(job["customer_pays"])) for job in jobs]
    taxes = (
        [] if terms.get("inclusive") else [(one["name"], Decimal(one["amount"])) for one in priced["customer_taxes"]]
    )
    return figure(f"option:{option['id']}", option["name"], amount, [*shares, *taxes])


def _total_steps(facts: Facts) -> list[tuple[str, Decimal]]:
    mine = next((one for one in facts["payers"] if one["payer"] == CUSTOMER), None)
    if mine is None:
        return [("Nothing of it is yours to pay", Decimal(facts["customer_total"]))]
    taxes = [(f"{one['name']}, {one['percent']} %", Decimal(one["amount"])) for one in mine["taxes"]]
    return [("Before tax", Decimal(mine["net"])), *taxes]
