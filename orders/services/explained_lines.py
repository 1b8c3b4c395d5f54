"""What a line's figures start from: hours, rates, prices, fees, as they were entered, agreed to, or made by the shop's own rules."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from orders.models import Job, RepairOrder
from orders.rules.figures import CUT_OFF, HALF_UP, Told, given, in_unit, less, same, sum_of, worked
from orders.rules.figures import figure as told_figure
from orders.rules.labour import IN_ALL, Rounding
from orders.rules.labour_figures import rounded_once
from orders.rules.messages import IN_ENGLISH
from shopdocs.money import Currency, plain, round_money
from shopdocs.shops.models import Shop
from shopdocs.shops.services import rate_in_force

from .authorised import promised
from .labour_agreed import own_tenths
from .labour_together import beside_words, rule_of

Facts = dict[str, Any]
TEN = Decimal(10)
Sources = Mapping[str, list[Facts]]  # 'rate:KEY' and 'price:KEY' -> their steps


def sources_of(order: RepairOrder, jobs: Iterable[Job], day: dt.date, priced: Facts) -> Sources:
    """Where each line's rate or price is from: whose rate since when, or cost with the markup of its tier.

    'more': by how much a job may cost more without a new answer, as `promised` takes it from the `priced` jobs.
    """
    shop = order.shop
    found: dict[str, list[Facts]] = {"more": [{"percent": f"{promised(order, priced).percent:f}"}]}
    known: dict[tuple[str, str], str] = {}
    for job in jobs:
        payer = job.payer_of.get("labour", job.payer)
        for line in job.labour.all():
            if line.rate is None:
                if (payer, line.skill) not in known:
                    known[payer, line.skill] = _rate_words(shop, payer, line.skill, day)
                found[f"rate:{line.pk}"] = [{"given": known[payer, line.skill]}]
        for part in job.parts.all():
            if part.price_steps and sum(Decimal(one["amount"]) for one in part.price_steps) == part.unit_price:
                found[f"price:{part.pk}"] = part.price_steps
            elif part.part is not None and part.unit_price == part.part.list_price:
                found[f"price:{part.pk}"] = [{"given": f"list price of {part.part.number} in the catalogue"}]
    return found


def _rate_words(shop: Shop, payer: str, skill: str, day: dt.date) -> str:
    row = rate_in_force(shop=shop, payer=payer, day=day, skill=skill)
    whose = f"the rate for {row.payer}" if row.payer else "the rate for all payers"
    return f"{whose}{f', {row.skill}' if row.skill else ''}, since {row.starts_on}"


def entered(job: Facts, sources: Sources, otherwise: str) -> Iterable[Facts]:
    """Hours, rate or price of each line of a frozen job. `otherwise`: where what `sources` do not name is from."""
    yield from _minutes(job)
    time = job.get("labour_time") or {}
    shared = " ".join(one for one in (time.get("saving"), beside_words(time.get("beside"), IN_ENGLISH)) if one)
    for line in job["labour"]:
        yield _hours(line, shared)
        rate = Decimal(line["rate"])
        steps = _steps(sources.get(f"rate:{line['id']}"), rate, f"An hour of {line['words']}", otherwise)
        yield _figure(f"rate:{line['id']}", f"Labour rate: {line['words']}", rate, steps)
    for line in job["parts"]:
        price = Decimal(line["unit_price"])
        steps = _steps(sources.get(f"price:{line['id']}"), price, f"One of {line['words']}", otherwise)
        yield _figure(f"price:{line['id']}", f"Price: {line['words']}", price, steps)
    if "customer_most" in job:
        yield _most(job, sources, otherwise)


def _most(job: Facts, sources: Sources, otherwise: str) -> Facts:
    """What may be asked for a job without a new answer; a bill repeats what stood on the estimate."""
    most, pays = Decimal(job["customer_most"]), Decimal(job["customer_pays"])
    steps = [given("As it stood on the estimate", most, otherwise)]
    if "more" in sources:
        percent = sources["more"][0]["percent"]
        working = sum_of("{} × {} ÷ 100", pays, plain(Decimal(percent)))
        text = f"{plain(Decimal(percent))} % more, a fraction of the smallest amount left out"
        more = worked(
            text, most - pays, working, CUT_OFF, "the shop's own rule, or a law that binds it and allows less"
        )
        steps = [same("The customer's part", pays, f"share:{job['number']}:customer"), more]
    return told_figure(
        f"most:{job['number']}", f"May be asked of job {job['number']} without a new answer", most, steps
    )


def _figure(name: str, words: str, amount: Decimal, steps: list[Facts]) -> Facts:
    return {"figure": name, "words": words, "amount": f"{amount:f}", "steps": steps}


def _steps(found: list[Facts] | None, amount: Decimal, text: str, otherwise: str) -> list[Facts]:
    if found and all("amount" in one for one in found) and sum(Decimal(one["amount"]) for one in found) == amount:
        return found
    by = found[0].get("given", otherwise) if found else otherwise
    return [given(text, amount, by).facts()]


def _minutes(job: Facts) -> Iterable[Facts]:
    """The work steps of the job's operations, each once, in minutes; and the hours that they make by the payer's rule."""
    time: Facts = job.get("labour_time") or {}
    how, n = time.get("how", ()), job["number"]
    at = max((at for at, step in enumerate(how) if step["text"] == IN_ALL), default=None)
    if not at:  # none, or nothing before it
        return
    steps = [given(step["text"], Decimal(step["amount"]), "the guide") for step in how[:at]]
    minutes, hours = (Decimal(step["amount"]) for step in how[at : at + 2])
    yield in_unit("min", told_figure(f"minutes:{n}", "Minutes of work", minutes, steps))
    told = rounded_once(minutes, hours, Rounding(time["rounding"]), rule_of(job)["by"])
    yield in_unit("h", told_figure(f"rounded:{n}", "Hours of that work by itself", hours, [told]))


def _hours(line: Facts, saving: str) -> Facts:
    """A line's hours: its own time, less what it shares with other work, cut to the most diagnosis that is charged."""
    charged, own = Decimal(line["tenths"]) / TEN, Decimal(own_tenths(line)) / TEN
    steps = [given("Its own time", own, "the guide" if line.get("code") else "the job")]
    if charged != own:
        shared = saving or "its steps, each once and rounded once with the others, or as it was changed since"
        why = line.get("limited") or f"Its part of the work together: {shared}"
        steps.append(worked(why, charged - own, sum_of("{} - {}", charged, own)))
    return in_unit("h", told_figure(f"hours:{line['id']}", f"Hours: {line['words']}", charged, steps))


def first_steps(job: Facts, currency: Currency) -> dict[str, list[Told]]:
    """More of a line's amount than pricing knows, by pricing's key: a charge for each piece, a fee, days of storage."""
    found: dict[str, list[Told]] = {}
    for line in job["parts"]:
        if line.get("environment_charge"):
            each, count = Decimal(line["environment_charge"]), Decimal(line["quantity"])
            text, working = f"{plain(count)} at {plain(each)}", sum_of("{} × {}", plain(count), plain(each))
            step = worked(
                text, round_money(count * each, currency), working, HALF_UP, "the environment charge of the part"
            )
            found[f"{line['id']}:environment"] = [step]
    for fee in job.get("fees", ()):
        amount = round_money(Decimal(fee["price"]), currency)
        if "days" in fee:
            found[fee["id"]] = _storage(fee, amount, currency)
        else:
            found[fee["id"]] = [given(f"{fee['words']}, as entered", amount, f"a {fee['kind']} line of the job")]
    return found


def _storage(fee: Facts, amount: Decimal, currency: Currency) -> list[Told]:
    """Days of storage: with those that were billed before they are rounded once, and what was billed is taken off that."""
    rule, before, per_day = "the storage terms that were agreed to", int(fee.get("days_before", 0)), fee["per_day"]
    days = sum_of("{} × {}", str(before + fee["days"]), per_day)
    if not before:
        return [worked(fee["counted"], amount, days, HALF_UP, rule)]
    billed = round_money(before * Decimal(per_day), currency)
    earlier = worked(
        f"Less {before} days billed before", billed, sum_of("{} × {}", str(before), per_day), HALF_UP, rule
    )
    return [worked(f"{fee['counted']} All days are rounded once", amount + billed, days, HALF_UP, rule), less(earlier)]
