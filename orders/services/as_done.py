"""An agreed job as it is billed: cut down to what was done, with whatever came off it since, and never above what was agreed.

The law's check and the invoice both read a job through here, so that they hold the same numbers.
"""

from __future__ import annotations

import copy
import datetime as dt
import json
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from orders.models import Job
from orders.models.jobs import JobFee
from orders.rules.pricing import Kind
from shopdocs.documents.press.words import Say, words

from . import frozen
from .came_back import returned_facts, returns_since
from .charges import job_charges
from .labour_agreed import Agreed, put_time_done
from .priced import price, said
from .scope import other_payers
from .wording import paper_language

Facts = dict[str, Any]
SHARE = "supplies_most"
SHARED_BY = ("supplies", "class_discount", "minimum_labour")


def as_done(rows: Sequence[Agreed], grown: Mapping[Any, Facts] | None = None) -> list[Facts]:
    """The agreed facts of jobs with what they have become since, wherever that is less: lines, prices, discounts, credits.

    All of them at once, because they bear what they share together. `grown`: the facts of jobs, by id, that may be
    charged at more than was agreed. Who pays is as it stands now, but for what moved to the customer.
    """
    more = grown or {}
    done = [_cut(row.job, more.get(row.job.pk, row.facts)) for row in rows]
    put_time_done(rows, done, more)
    return done


def _cut(job: Job, agreed: Facts) -> Facts:
    labour = {str(line.pk): line for line in job.labour.all()}
    parts = {str(part.pk): part for part in job.parts.all()}
    fees = list(job.fees.all())
    as_fees = {fee["id"] for fee in agreed.get("fees", ())}  # older facts hold a return as a credit of its own
    back = [fee for fee in fees if fee.returned_id is not None and str(fee.pk) not in as_fees]
    say = words(paper_language(job.shop, job.order.customer)) if back else str
    now = {"payer": job.payer, "shares": list(job.shares), "payer_of": dict(job.payer_of)}
    return {
        **agreed,
        **({} if other_payers(job, agreed) else now),
        "if_alone": None,  # it was a question of choosing
        "at_most": None,
        "labour": [_labour(line, labour[line["id"]]) for line in agreed["labour"] if line["id"] in labour],
        "parts": [_part(line, parts[line["id"]], back, say) for line in agreed["parts"] if line["id"] in parts],
        **_charges(job, agreed),
    }


def _labour(line: Facts, now: Any) -> Facts:
    rate = line["rate"] if now.rate is None else min(line["rate"], frozen.trimmed(now.rate), key=Decimal)
    tenths = _tenths_done(line, int(now.hours * 10))
    return {**line, "tenths": tenths, "rate": rate, "discount_percent": _larger(line, now)}


def _tenths_done(line: Facts, now: int) -> int:
    """What was agreed, or less where the line was shortened since; its own time stands beside its part of the set."""
    agreed = int(line["tenths"])
    return agreed if now >= int(line.get("guide_tenths", agreed)) else min(agreed, now)


def _part(line: Facts, now: Any, back: list[JobFee], say: Say) -> Facts:
    more = max(now.quantity - Decimal(line["quantity"]), Decimal(0))
    return {
        **line,
        "waiting": "",  # what is billed is here
        "condition": now.condition,
        "original": now.original,
        "quantity": frozen.trimmed(min(Decimal(line["quantity"]), now.quantity)),
        "unit_price": min(line["unit_price"], frozen.trimmed(now.unit_price), key=Decimal),
        "core_charge": _smaller(line, "core_charge", now.core_charge),
        "environment_charge": _smaller(line, "environment_charge", now.environment_charge),
        "discount_percent": _larger(line, now),
        "returned": returns_since(line, returned_facts(now, back, say), more),
    }


def _smaller(line: Facts, name: str, now: Decimal) -> str | None:
    was = line.get(name)
    return was if was is None or Decimal(was) <= now else (frozen.trimmed(now) if now else None)


def _larger(line: Facts, now: Any) -> str | None:
    was, percent = line.get("discount_percent"), now.discount_percent or Decimal(0)
    return was if percent <= Decimal(was or 0) else frozen.trimmed(percent)


def _charges(job: Job, agreed: Facts) -> Facts:
    """Agreed fees that are still there, every credit that came since, and the larger discount of the two."""
    now = job_charges(job)
    kept = {fee["id"]: fee for fee in now["fees"]}
    before = {fee["id"] for fee in agreed.get("fees", ())}
    fees = [
        {**fee, "price": min(fee["price"], kept.get(fee["id"], fee)["price"], key=Decimal)}
        for fee in agreed.get("fees", ())
        if fee["id"] in kept or Decimal(fee["price"]) < 0
    ]
    fees += [fee for fee in now["fees"] if fee["id"] not in before and Decimal(fee["price"]) < 0]
    was, given = agreed.get("discounts") or [], now["discounts"]
    covered = given and (not was or all(_figure(given[0], of) >= _figure(was[0], of) for of in ("percent", "amount")))
    return {"fees": fees, "discounts": given if covered else was}


def _figure(discount: Facts, name: str) -> Decimal:
    return Decimal(discount.get(name) or 0)


def bound_supplies(pairs: Sequence[tuple[Facts, Facts]]) -> None:
    """Says on each job that stood on an estimate how much of the shop supplies it bears at most.

    That is its share on that estimate, or its share among all these (terms, job) pairs where that is less: cap and floor
    hold for all of them together, however many versions they were agreed on.
    """
    pools: dict[str, list[tuple[Facts, Facts]]] = {}
    for terms, job in pairs:
        shared = terms.get("pricing") or {}
        if shared.get("supplies"):
            mark = [terms["money"], *(shared.get(name) for name in SHARED_BY)]
            pools.setdefault(json.dumps(mark, sort_keys=True), []).append((terms, job))
    for pool in pools.values():
        terms = pool[0][0]
        if terms["pricing"].get("inclusive") and any(one["customer"]["tax_exempt"] for one, _ in pool):
            continue  # the share on the estimate stands there without the tax that is in the prices
        copies = [copy.deepcopy(job) for _, job in pool]
        on = dt.date.fromisoformat(terms["issued_on"])
        price(copies, [], terms["money"], exempt=False, on=on, terms=terms["pricing"])
        for (_, job), alone in zip(pool, copies, strict=True):
            if "extras" in job:
                job[SHARE] = said(min(supplies_of(job), supplies_of(alone)))


def supplies_of(job: Mapping[str, Any]) -> Decimal:
    """The customer's supplies on a priced job."""
    return sum((Decimal(one["customer"]) for one in job["extras"] if one["kind"] == Kind.SUPPLIES), Decimal(0))


def bounded(jobs: Sequence[Facts]) -> list[Facts]:
    """Copies of priced jobs that bear no more of the shop supplies alone than the estimate shows beside them."""
    copies = copy.deepcopy(list(jobs))
    for job in copies:
        job[SHARE] = said(supplies_of(job))
    return copies
