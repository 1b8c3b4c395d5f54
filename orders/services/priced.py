"""Amounts for frozen jobs: hands the JSON of an estimate's facts to the pricing rules and writes the figures back.

An invoice is priced from what was agreed by the very same steps as the estimate was.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from orders.rules import pricing
from orders.rules.messages import Message
from orders.rules.pricing import Kind, Payer
from shopdocs.brackets import read_table
from shopdocs.money import Currency, Step, plain, round_money
from shopdocs.problems import BadInput
from shopdocs.rest.refusals import Refused

from .came_back import parts_and_cores
from .splits import shared_of

Facts = dict[str, Any]
TEN = Decimal(10)


ENVIRONMENT_CHARGE = "Environment charge: {part}"
DISCOUNT = "discount"


def said(amount: Decimal) -> str:
    """An amount as facts keep it: plain digits, never an exponent."""
    return f"{amount:f}"


def price(
    jobs: list[Facts],
    rates: Sequence[Facts],
    money: Facts,
    *,
    exempt: bool,
    on: dt.date,
    terms: Facts | None = None,
) -> Facts:
    """The totals of `price_told`, for whoever does not ask how they came about."""
    return price_told(jobs, rates, money, exempt=exempt, on=on, terms=terms)[0]


def price_told(
    jobs: list[Facts],
    rates: Sequence[Facts],
    money: Facts,
    *,
    exempt: bool,
    on: dt.date,
    terms: Facts | None = None,
) -> tuple[Facts, pricing.Priced]:
    """Puts amounts on the jobs and their lines, and returns taxes and totals as facts, with how they came about;
    and the priced jobs themselves.

    `rates` are the shop's taxes with the kinds of line and payers they fall on; `exempt`: the customer pays none.
    `terms` are `charges.terms_facts`: supplies, minimum, class discount, how tax is rounded, the certificate.
    Raises Refused for what the rules refuse, an expired certificate among it.
    """
    terms = terms or {}
    certificate = terms.get("exemption") or {"certificate": "kept by the shop", "expires": None}
    currency = Currency(money["code"], money["decimals"], money["symbol"])
    try:
        priced = pricing.price(
            [_job(job, terms, currency) for job in jobs],
            currency=currency,
            on=on,
            taxes=pricing.Taxes(
                rules=tuple(tax_rule(rate, currency) for rate in rates),
                basis=pricing.Basis(money["tax_basis"]),
                stacking=pricing.Stacking(terms.get("stacking", "aggregated")),
                inclusive=terms.get("inclusive", False),
            ),
            discounts=_class_discount(terms),
            supplies=_supplies(terms),
            exemption=_exemption(certificate) if exempt and rates else None,
        )
    except BadInput as bad:
        raise Refused(bad.field, bad.problem, bad.remedy) from bad
    for job, done in zip(jobs, priced.jobs, strict=True):
        _put_amounts(job, done, (terms.get("supplies") or {}).get("of", ()))
    customer = priced.payer(Payer.CUSTOMER)
    totals = {
        "payers": [_payer(one) for one in priced.payers],
        "net": said(priced.net),
        "tax": said(priced.tax),
        "total": said(priced.total),
        "customer_net": said(customer.net),
        "customer_tax": said(customer.tax),
        "customer_total": said(customer.total),
        "customer_taxes": _payer(customer)["taxes"],
        "exempt_by": certificate["certificate"] if customer.why else "",
        "how": _steps(priced.steps),
    }
    return totals, priced


def _put_amounts(job: Facts, done: pricing.PricedJob, supplied: Sequence[str]) -> None:
    """Each line's amount, what was taken off it, and the lines that pricing added (cores, supplies, a minimum).

    `of` is the line that an added one hangs on, with what it is of it; `on` are the kinds that supplies are a percentage of.
    """
    by_key = {line.key: line for line in done.lines if line.key}
    for line in (*job["labour"], *job["parts"], *job.get("fees", ())):
        found = by_key[line["id"]]
        line["amount"] = said(found.net)
        line["customer"] = said(found.paid_by(Payer.CUSTOMER))
        line["less"] = _less(found)
    environment = {f"{line['id']}:environment": line["words"] for line in job["parts"]}
    own = _ids(job)
    added = [line for line in done.lines if line.key not in own]
    job["extras"] = [
        {
            "kind": str(line.kind),
            "words": line.description,
            "amount": said(line.net),
            "customer": said(line.paid_by(Payer.CUSTOMER)),
            "why": line.why,
            "told": [list(one) for one in _told(line, environment)],
            "less": _less(line),
            "of": line.key,
            "on": list(supplied) if line.kind is Kind.SUPPLIES else [],
        }
        for line in added
    ]
    job.pop("supplies_most", None)
    job["net"] = said(done.net)
    job["paid"] = [{"payer": str(payer), "amount": said(amount)} for payer, amount in done.shares]
    job["customer_pays"] = said(done.paid_by(Payer.CUSTOMER))
    job["paid_how"] = _steps(done.how)


def _told(line: pricing.PricedLine, environment: dict[str, str]) -> tuple[Message, ...]:
    """What an added line is, as messages, for a paper in any language."""
    if line.key in environment:
        return (Message(ENVIRONMENT_CHARGE, {"part": environment[line.key]}),)
    return line.told


def _ids(job: Facts) -> set[str]:
    """The ids of the job's own lines; pricing adds others, and some go with a part."""
    return {one["id"] for one in (*job["labour"], *job["parts"], *job.get("fees", ()))}


def keys_of(job: Facts, done: pricing.PricedJob) -> list[str]:
    """The key of each line of a priced job, as `invoice_lines.all_lines` has it: its id, or the job's and which extra it is."""
    own, extras, found = _ids(job), 0, []
    for line in done.lines:
        extra = line.key not in own
        extras += extra
        found.append(f"{job['id']}:{extras}" if extra else line.key)
    return found


def _less(line: pricing.PricedLine) -> list[Facts]:
    """What came off: in English, and the discount by which, for a paper in any language."""
    return [
        {
            "words": cut.words,
            "amount": said(cut.amount),
            "name": cut.name,
            "percent": None if cut.percent is None else plain(cut.percent),
        }
        for cut in line.reductions
    ]


def _class_discount(terms: Facts) -> tuple[pricing.Discount, ...]:
    """The customer class's discount comes off last, and never off what somebody else pays."""
    given = terms.get("class_discount")
    if not given:
        return ()
    percent = Decimal(given["percent"])
    return (pricing.Discount(words=given["words"], percent=percent, payers=frozenset({Payer.CUSTOMER})),)


def _supplies(terms: Facts) -> pricing.Supplies | None:
    given = terms.get("supplies")
    if not given:
        return None
    return pricing.Supplies(
        words=given["words"],
        percent=Decimal(given["percent"]),
        of=frozenset(Kind(kind) for kind in given["of"]),
        floor=_maybe(given["floor"]),
        cap=_maybe(given["cap"]),
    )


def _exemption(certificate: Facts) -> pricing.Exemption:
    expires = certificate["expires"]
    until = dt.date.fromisoformat(expires) if expires else None
    return pricing.Exemption(certificate=certificate["certificate"], expires=until)


def _maybe(figure: str | None) -> Decimal | None:
    return None if figure is None else Decimal(figure)


def _line_discount(line: Facts) -> pricing.Discount | None:
    percent = line.get("discount_percent")
    return pricing.Discount(words=DISCOUNT, percent=Decimal(percent)) if percent else None


def _job(job: Facts, terms: Facts, currency: Currency) -> pricing.Job:
    shared = shared_of(job)
    labour_payer = shared.by_kind.get(Kind.LABOUR)
    labour = tuple(
        pricing.LabourLine(
            paid_by=labour_payer,
            description=line["words"],
            hours=Decimal(line["tenths"]) / TEN,
            rate=Decimal(line["rate"]),
            key=line["id"],
            discount=_line_discount(line),
        )
        for line in job["labour"]
    )
    came = [parts_and_cores(line) for line in job["parts"]]
    parts = tuple(
        pricing.PartLine(
            paid_by=shared.by_kind.get(Kind.PART),
            number=line["number"],
            description=line["words"],
            quantity=Decimal(line["quantity"]),
            unit_price=Decimal(line["unit_price"]),
            core=Decimal(line.get("core_charge") or 0),
            key=line["id"],
            discount=_line_discount(line),
            returned=back,
            cores_returned=cores,
        )
        for line, (back, cores) in zip(job["parts"], came, strict=True)
    )
    environment = tuple(
        pricing.FeeLine(
            description=ENVIRONMENT_CHARGE.format(part=line["words"]),
            amount=round_money(Decimal(line["quantity"]) * Decimal(line["environment_charge"]), currency),
            key=f"{line['id']}:environment",
            paid_by=shared.by_kind.get(Kind.PART),
            pieces=Decimal(line["quantity"]),
            returned=back,
            passed_on=True,  # common practice, no source
        )
        for line, (back, _) in zip(job["parts"], came, strict=True)
        if line.get("environment_charge")
    )
    fees = tuple(
        pricing.FeeLine(
            description=fee["words"],
            amount=Decimal(fee["price"]),
            kind=Kind(fee["kind"]),
            key=fee["id"],
            paid_by=shared.by_kind.get(Kind.PART if fee["kind"] == Kind.CORE else Kind(fee["kind"])),
        )
        for fee in job.get("fees", ())
    )
    discounts = tuple(
        pricing.Discount(
            words=one["words"],
            percent=_maybe(one["percent"]),
            amount=_maybe(one["amount"]),
            of_all=one.get("of_all", False),
        )
        for one in job.get("discounts", ())
    )
    least_charged = (labour_payer or shared.payer) is Payer.CUSTOMER
    return pricing.Job(
        key=job["id"],
        title=job["title"],
        labour=labour,
        parts=parts,
        fees=(*fees, *environment),
        payer=shared.whole,
        discounts=discounts,
        minimum_labour=Decimal(terms.get("minimum_labour") or 0) if least_charged else Decimal(0),
        supplies_most=_maybe(job.get("supplies_most")),
    )


def tax_rule(rate: Facts, money: Currency) -> pricing.TaxRule:
    """A frozen tax as the pricing rules take it."""
    unknown = sorted(set(rate["on_kinds"]) - set(Kind)) + sorted(set(rate["on_payers"]) - set(Payer))
    if unknown:
        raise BadInput(
            "tax_rates", f"'{rate['name']}' falls on '{unknown[0]}', which is not known.", "Correct the tax."
        )
    return pricing.TaxRule(
        name=rate["name"],
        percent=Decimal(rate["percent"]),
        kinds=frozenset(Kind(kind) for kind in rate["on_kinds"]),
        payers=frozenset(Payer(payer) for payer in rate["on_payers"]),
        with_parts=frozenset(Kind(kind) for kind in rate.get("with_parts") or ()),
        brackets=read_table(rate["brackets"], money) if rate.get("brackets") else None,
    )


def _payer(one: pricing.PayerTotal) -> Facts:
    return {
        "payer": str(one.payer),
        "net": said(one.net),
        "tax": said(one.tax),
        "total": said(one.total),
        "taxes": [
            {
                "name": tax.name,
                "percent": said(tax.percent),
                "base": said(tax.base),
                "amount": said(tax.amount),
                "how": tax.how,
            }
            for tax in one.taxes
        ],
        "why": one.why,
    }


def _steps(steps: Iterable[Step]) -> list[Facts]:
    return [{"text": step.text, "amount": None if step.amount is None else said(step.amount)} for step in steps]
