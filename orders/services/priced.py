"""Amounts for frozen jobs: hands the JSON of an estimate's facts to the pricing rules and writes the figures back.

An invoice is priced from what was agreed by the very same steps as the estimate was.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from orders.rules import pricing
from orders.rules.pricing import Kind, Payer
from shopdocs.money import Currency, Step
from shopdocs.problems import BadInput
from shopdocs.rest.refusals import Refused

Facts = dict[str, Any]
TEN = Decimal(10)


def said(amount: Decimal) -> str:
    """An amount as facts keep it: plain digits, never an exponent."""
    return f"{amount:f}"


def price(jobs: list[Facts], rates: Sequence[Facts], money: Facts, *, exempt: bool, on: dt.date) -> Facts:
    """Puts amounts on the jobs and their lines, and returns taxes and totals as facts, with how they came about.

    `rates` are the shop's taxes with the kinds of line and payers they fall on; `exempt`: the customer pays none.
    Raises Refused for what the rules refuse.
    """
    try:
        priced = pricing.price(
            [_job(job) for job in jobs],
            currency=Currency(money["code"], money["decimals"], money["symbol"]),
            on=on,
            taxes=pricing.Taxes(
                rules=tuple(_rule(rate) for rate in rates), basis=pricing.Basis(money["tax_basis"])
            ),
            exemption=pricing.Exemption(certificate="kept by the shop") if exempt and rates else None,
        )
    except BadInput as bad:
        raise Refused(bad.field, bad.problem, bad.remedy) from bad
    for job, done in zip(jobs, priced.jobs, strict=True):
        amounts = {line.key: said(line.net) for line in done.lines}
        for line in (*job["labour"], *job["parts"]):
            line["amount"] = amounts[line["id"]]
        job["net"] = said(done.net)
    customer = priced.payer(Payer.CUSTOMER)
    return {
        "payers": [_payer(one) for one in priced.payers],
        "net": said(priced.net),
        "tax": said(priced.tax),
        "total": said(priced.total),
        "customer_net": said(customer.net),
        "customer_tax": said(customer.tax),
        "customer_total": said(customer.total),
        "customer_taxes": _payer(customer)["taxes"],
        "how": _steps(priced.steps),
    }


def _job(job: Facts) -> pricing.Job:
    labour = tuple(
        pricing.LabourLine(
            description=line["words"], hours=Decimal(line["tenths"]) / TEN, rate=Decimal(line["rate"]), key=line["id"]
        )
        for line in job["labour"]
    )
    parts = tuple(
        pricing.PartLine(
            number=line["number"],
            description=line["words"],
            quantity=Decimal(line["quantity"]),
            unit_price=Decimal(line["unit_price"]),
            key=line["id"],
        )
        for line in job["parts"]
    )
    return pricing.Job(key=job["id"], title=job["title"], labour=labour, parts=parts, payer=Payer(job["payer"]))


def _rule(rate: Facts) -> pricing.TaxRule:
    unknown = sorted(set(rate["on_kinds"]) - set(Kind)) + sorted(set(rate["on_payers"]) - set(Payer))
    if unknown:
        raise BadInput("tax_rates", f"'{rate['name']}' falls on '{unknown[0]}', which is not known.", "Correct the tax.")
    return pricing.TaxRule(
        name=rate["name"],
        percent=Decimal(rate["percent"]),
        kinds=frozenset(Kind(kind) for kind in rate["on_kinds"]),
        payers=frozenset(Payer(payer) for payer in rate["on_payers"]),
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
