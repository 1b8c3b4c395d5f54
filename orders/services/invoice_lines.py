"""The lines of an invoice that the customer pays, out of its frozen facts: what each was charged, and the tax on it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from orders.models import Invoice
from orders.rules.credits import Charged, share_tax
from orders.rules.tax_sums import compute_tax
from orders.rules.taxes import Basis, Stacking, TaxedItem, TaxStack
from shopdocs.money import Currency

from .priced import tax_rule
from .scope import CUSTOMER

Facts = dict[str, Any]


@dataclass(frozen=True)
class Line:
    """One line. `hours`: the quantity is hours of labour; None: only an amount. `frozen` is the line in the facts."""

    key: str
    job: int
    code: str
    words: str
    quantity: Decimal | None
    hours: bool
    amount: Decimal
    frozen: Facts


def put_taxes(jobs: list[Facts], terms: Facts, totals: Facts, money: Facts, group: str) -> None:
    """Writes on each line of the customer the part of each tax that fell on it; the parts add up to the taxes charged.

    Where each line is rounded by itself, its part is the tax of the line. `group` marks the jobs that were priced together.
    """
    currency = Currency(money["code"], money["decimals"], money["symbol"])
    inclusive = bool((terms.get("pricing") or {}).get("inclusive"))
    charged = [(job, kind, line) for job in jobs for kind, line in kinds_of(job) if _charged(job, line)]
    for _, _, line in charged:
        line["taxes"] = []
        line["inclusive"] = inclusive
        line["group"] = group
    if money["tax_basis"] == Basis.ITEM:
        _put_each(charged, terms, totals, currency)
        return
    for tax in totals["customer_taxes"]:
        rate = next(one for one in terms["rates"] if one["name"] == tax["name"])
        fallen = [line for job, kind, line in charged if _falls(rate, kind, job)]
        shares = share_tax(Decimal(tax["amount"]), [Decimal(line["customer"]) for line in fallen], currency)
        for line, share in zip(fallen, shares, strict=True):
            line["taxes"].append({"name": tax["name"], "percent": tax["percent"], "amount": f"{share:f}"})


def _put_each(charged: list[tuple[Facts, str, Facts]], terms: Facts, totals: Facts, currency: Currency) -> None:
    """The tax of each line as it was charged, by the very rule that charged it."""
    names = {tax["name"] for tax in totals["customer_taxes"]}
    listed = [rate for rate in terms["rates"] if rate["name"] in names]
    stacking = Stacking((terms.get("pricing") or {}).get("stacking", Stacking.AGGREGATED))
    stack = TaxStack(tuple(tax_rule(rate, currency).rate for rate in listed), Basis.ITEM, stacking)
    for job, kind, line in charged:
        fallen = [rate for rate in listed if _falls(rate, kind, job)]
        item = TaxedItem(Decimal(line["customer"]), frozenset(rate["name"] for rate in fallen))
        own = {
            one.name: one.amount
            for one in compute_tax([item], replace(stack, inclusive=line["inclusive"]), currency).lines
        }
        nothing = Decimal(0).scaleb(-currency.decimals)
        for rate in fallen:
            amount = f"{own.get(rate['name'], nothing):f}"
            line["taxes"].append({"name": rate["name"], "percent": rate["percent"], "amount": amount})


def _falls(rate: Facts, kind: str, job: Facts) -> bool:
    """Whether the tax falls on this kind of line in this job; the customer is one of its payers, or it was not charged."""
    if kind not in rate["on_kinds"]:
        return False
    if kind not in (rate.get("with_parts") or ()):
        return True
    return any(one == "part" and Decimal(line["customer"]) > 0 for one, line in kinds_of(job))


def _charged(job: Facts, line: Facts) -> bool:
    """Whether the customer is asked for a part of the line; a line of nothing is printed where the job is theirs alone."""
    alone = job["payer"] == CUSTOMER and not job.get("shares") and not job.get("payer_of")
    return alone or bool(Decimal(line["customer"]))


def kinds_of(job: Facts) -> Iterable[tuple[str, Facts]]:
    """Each line of the job with its kind, in the order in which they are printed."""
    yield from (("labour", line) for line in job["labour"])
    yield from (("part", line) for line in job["parts"])
    yield from ((line["kind"], line) for line in job.get("fees", ()))
    yield from ((line["kind"], line) for line in job.get("extras", ()))


def lines_of(facts: Facts) -> list[Line]:
    """The customer's lines as they were printed; `amount` is the customer's part of each."""
    return [line for job in facts["jobs"] for line in all_lines(job) if _charged(job, line.frozen)]


def all_lines(job: Facts) -> Iterable[Line]:
    """Every line of a job, whoever pays it."""
    added = 0
    for _, line in kinds_of(job):
        key = line.get("id")
        if key is None:
            added += 1
            key = f"{job['id']}:{added}"
        hours = "tenths" in line  # what a minimum adds is labour too, and has none
        quantity = Decimal(line["tenths"]) / 10 if hours else line.get("quantity")
        yield Line(
            key=key,
            job=job["number"],
            code=line.get("code") or line.get("number") or "",
            words=line.get("why") or line["words"],
            quantity=None if quantity is None else Decimal(quantity),
            hours=hours,
            amount=Decimal(line["customer"]),
            frozen=line,
        )


def charged_lines(invoice: Invoice) -> list[Charged]:
    """The lines with what earlier credit notes took back of them."""
    taken: dict[str, Decimal] = {}
    for note in invoice.credit_notes.all():
        for line in note.facts["lines"]:
            taken[line["line"]] = taken.get(line["line"], Decimal(0)) + Decimal(line["amount"])
    return [
        Charged(
            line.key,
            line.amount,
            tuple(((tax["name"], tax["percent"]), Decimal(tax["amount"])) for tax in line.frozen["taxes"]),
            line.frozen["inclusive"],
            taken.get(line.key, Decimal(0)),
        )
        for line in lines_of(invoice.facts)
    ]
