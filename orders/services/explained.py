"""How every figure of an invoice came about, out of its frozen facts: the steps of a figure add up to it, to the cent."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from orders.models import Invoice
from shopdocs.money import round_money

from .amounts import currency_of
from .balances import standing
from .invoice_lines import Line, all_lines, lines_of
from .priced import said

Facts = dict[str, Any]
Steps = Iterable[tuple[str, Decimal]]


def explained(facts: Facts) -> list[Facts]:
    """Every figure: lines, jobs, who pays them, taxes by jurisdiction and what each is charged on, net, total, and what deposits leave to pay.

    Each is `figure` (a name such as 'line:ID', 'whole:ID' for a line that others pay of, 'tax:NAME'), `words`, `amount` and `steps` of `text` and `amount`.
    """
    mine = lines_of(facts)
    return [
        *(figure(f"line:{line.key}", line.words, line.amount, line_steps(line)) for line in mine),
        *_printed_whole(facts, mine),
        *jobs_explained(facts),
        *_others(facts),
        *taxes_explained(facts["taxes"], mine, facts.get("exempt_by", "")),
        *_ended(facts.get("taxes_ended", ())),
        figure("net", "Before tax", Decimal(facts["net"]), _net_steps(mine)),
        figure("total", "Total", Decimal(facts["total"]), _total_steps(facts)),
        figure("due", "Due after deposits", Decimal(facts["due"]), _due_steps(facts)),
    ]


def balance_explained(invoice: Invoice) -> Facts:
    """What is open now, and what led to it."""
    money, currency = standing(invoice), currency_of(invoice.shop)
    steps = [(step.text, round_money(step.amount, currency)) for step in money.steps if step.amount]
    return figure("balance", "Open now", round_money(money.open, currency), steps)


def figure(name: str, words: str, amount: Decimal, steps: Steps) -> Facts:
    told = [{"text": text, "amount": said(part)} for text, part in steps]
    return {"figure": name, "words": words, "amount": said(amount), "steps": told}


def _printed_whole(facts: Facts, mine: list[Line]) -> Iterable[Facts]:
    """The lines that are printed at another amount than the customer's part: shared with others, or wholly theirs."""
    parts = {line.key: line.amount for line in mine}
    for line in (line for job in facts["jobs"] for line in all_lines(job)):
        amount = Decimal(line.frozen["amount"])
        if parts.get(line.key) != amount:
            yield figure(f"whole:{line.key}", line.words, amount, line_steps(line, whole=True))


def line_steps(line: Line, *, whole: bool = False) -> Steps:
    """Quantity times price, less what was taken off, less what others pay of it (not of a `whole` line)."""
    frozen = line.frozen
    cuts = [(f"Less {cut['words']}", -Decimal(cut["amount"])) for cut in frozen.get("less", ())]
    net = Decimal(frozen["amount"])
    gross = net - sum((cut for _, cut in cuts), Decimal(0))
    each = frozen.get("rate") or frozen.get("unit_price")
    quantity = f"{line.quantity:f}{' h' if line.hours else ''} at {each}" if each and line.quantity is not None else ""
    others = [("Less what others pay of it", line.amount - net)] if line.amount != net and not whole else []
    return [(quantity or frozen.get("why") or line.words, gross), *cuts, *others]


def jobs_explained(facts: Facts) -> Iterable[Facts]:
    """Each job's sum before tax, and each payer's part of it."""
    for job in facts["jobs"]:
        net, pays = Decimal(job["net"]), Decimal(job["customer_pays"])
        lines = [(line.words, Decimal(line.frozen["amount"])) for line in all_lines(job)]
        yield figure(f"job:{job['number']}", job["title"], net, lines)
        yield figure(
            f"share:{job['number']}", f"Your part: {job['title']}", pays, [(job["title"], net), *_paid(job, "customer")]
        )
        for one in job["paid"]:
            if one["payer"] != "customer":
                steps = [(job["title"], net), *_paid(job, one["payer"])]
                words = f"{one['payer']} pays of it: {job['title']}"
                yield figure(f"share:{job['number']}:{one['payer']}", words, Decimal(one["amount"]), steps)


def _paid(job: Facts, who: str) -> Steps:
    """What the other payers than this one bear of the job, taken off."""
    return [(f"Less what {one['payer']} pays", -Decimal(one["amount"])) for one in job["paid"] if one["payer"] != who]


def _others(facts: Facts) -> Iterable[Facts]:
    """What each other payer bears, before tax."""
    by_payer: dict[str, list[tuple[str, Decimal]]] = {}
    for one in facts["others"]:
        by_payer.setdefault(one["payer"], []).append((one["why"], Decimal(one["amount"])))
    for payer, steps in by_payer.items():
        yield figure(f"payer:{payer}", payer, sum((amount for _, amount in steps), Decimal(0)), steps)


def taxes_explained(taxes: Iterable[Facts], lines: list[Line], exempt: str = "") -> Iterable[Facts]:
    """Each jurisdiction's tax and what it is charged on, line by line; a certificate that spared them is a tax of nothing."""
    for tax in taxes:
        yield _base(tax, lines)
        yield _tax(tax, lines)
    if exempt:
        words = f"Exempt by certificate {exempt}"
        yield figure("exempt", words, Decimal(0), [(words, Decimal(0))])


def _ended(taxes: Iterable[Facts]) -> Iterable[Facts]:
    """A tax of the estimate that is gone is a tax of nothing."""
    for tax in taxes:
        yield figure(f"ended:{tax['name']}", tax["name"], Decimal(0), [(f"{tax['name']}: {tax['why']}", Decimal(0))])


def _base(tax: Facts, lines: list[Line]) -> Facts:
    """What one tax is charged on: the lines that it falls on, without the taxes that their prices hold."""
    steps = []
    for line in lines:
        if any(_same(one, tax) for one in line.frozen["taxes"]):
            steps.append((line.words, line.amount))
            inside = sum((Decimal(one["amount"]) for one in line.frozen["taxes"]), Decimal(0))
            if line.frozen["inclusive"] and inside:
                steps.append((f"Less the tax in {line.words}", -inside))
    base = Decimal(tax["base"])
    cents = base - sum((amount for _, amount in steps), Decimal(0))
    if cents:  # a tax is rounded on the whole, and what one line holds of it is not
        steps.append(("Rounded on the whole", cents))
    return figure(f"base:{tax['name']}:{tax['percent']}", f"{tax['name']} is charged on", base, steps)


def _tax(tax: Facts, lines: list[Line]) -> Facts:
    """One jurisdiction's tax: its part on every line."""
    steps = [
        (f"{line.words}: {tax['percent']} %, {tax['how']}", Decimal(one["amount"]))
        for line in lines
        for one in line.frozen["taxes"]
        if _same(one, tax)
    ]
    words = f"{tax['name']}, {tax['percent']} % of {tax['base']}" + (f": {tax['why']}" if tax.get("why") else "")
    return figure(f"tax:{tax['name']}:{tax['percent']}", words, Decimal(tax["amount"]), steps)


def _same(one: Facts, tax: Facts) -> bool:
    return (one["name"], one["percent"]) == (tax["name"], tax["percent"])


def _net_steps(lines: list[Line]) -> Steps:
    """The customer's lines; where prices hold their tax it is taken out of them."""
    inside = [
        (f"Less {tax['name']} in {line.words}", -Decimal(tax["amount"]))
        for line in lines
        if line.frozen["inclusive"]
        for tax in line.frozen["taxes"]
    ]
    return [*((line.words, line.amount) for line in lines), *inside]


def _total_steps(facts: Facts) -> Steps:
    taxes = [(f"{tax['name']}, {tax['percent']} %", Decimal(tax["amount"])) for tax in facts["taxes"]]
    return [("Before tax", Decimal(facts["net"])), *taxes]


def _due_steps(facts: Facts) -> Steps:
    paid = [
        (f"{'Less' if Decimal(one['amount']) > 0 else 'Plus'} {one['how']}, {one['on']}", -Decimal(one["amount"]))
        for one in facts["payments"]
    ]
    return [("Total", Decimal(facts["total"])), *paid]
