"""How every figure of a credit note came about: out of the lines as they were charged, and what was taken back before."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from orders.rules.credits import Charged, Taken, TaxName
from orders.rules.figures import HALF_UP, Told, figure, given, less, same, sum_of, worked
from shopdocs.money import Currency

from .balances import Standing

Facts = dict[str, Any]
RULE = "tax goes back with its line, in proportion to what is taken back of it"


def credit_figures(
    facts: Facts, charged: Iterable[Charged], back: Taken, before: Standing, currency: Currency
) -> list[Facts]:
    """Each line and the tax in it, net, taxes, total, what is set off or paid back, and what is left of the invoice.

    `facts` are the note's; `charged` its invoice's lines before the note, `before` the invoice's money before it.
    """
    known = {line.key: line for line in charged}
    words = {one["line"]: one["what"] for one in facts["lines"]}
    lines = [(known[key], words[key], amount) for key, amount in back.lines]
    amount_of = {name: Decimal(facts[name]) for name in ("net", "tax", "total", "set_off", "to_pay_back", "left")}
    taxes = {(tax["name"], tax["percent"]): tax for tax in facts["taxes"]}
    in_taxes = [
        same(f"{name}, {percent} %", Decimal(tax["amount"]), f"tax:{name}:{percent}")
        for (name, percent), tax in taxes.items()
    ]
    return [
        *(one for line, said, amount in lines for one in _line(line, said, amount, facts["invoice"], currency)),
        *(one for name, tax in taxes.items() for one in _tax(name, tax, lines, currency)),
        figure("net", "Before tax", amount_of["net"], [same(said, _net(line, part, currency), f"net:{line.key}") for line, said, part in lines]),
        figure("tax", "Tax", amount_of["tax"], in_taxes or [given("No tax was charged on it", amount_of["tax"], facts["invoice"])]),
        figure(
            "total", "Taken back", amount_of["total"],
            [same("Before tax", amount_of["net"], "net"), same("Tax", amount_of["tax"], "tax")],
        ),
        *_settled(facts, amount_of, before),
    ]  # fmt: skip


def _net(line: Charged, part: Decimal, currency: Currency) -> Decimal:
    """What is taken back of a line before tax."""
    inside = sum((line.tax_on(tax, part, currency) for _, tax in line.taxes), Decimal(0))
    return part - inside if line.inclusive else part


def _line(line: Charged, words: str, part: Decimal, invoice: str, currency: Currency) -> Iterable[Facts]:
    """What is taken back of one line, its part of each tax, and what that leaves before tax."""
    key = line.key
    yield figure(
        f"charged:{key}", f"{words}, as charged", line.amount, [given(f"Charged by {invoice}", line.amount, invoice)]
    )
    if part == line.left:
        steps = [same(f"All of it as charged by {invoice}", line.amount, f"charged:{key}")]
        if line.credited:
            steps.append(given("Less what was taken back before", -line.credited, "earlier credit notes"))
    else:
        text = f"Of {line.amount:f} as charged; {line.left:f} of it was not taken back yet"
        steps = [given(text, part, "the amount that was asked for")]
    yield figure(f"line:{key}", words, part, steps)
    inside = []
    for (name, percent), tax in line.taxes:
        share = line.tax_on(tax, part, currency)
        yield figure(
            f"tax:{name}:{percent}:line:{key}",
            f"{name} in {words}",
            share,
            _share(line, name, tax, part, invoice, currency),
        )
        inside.append(less(same(f"Less {name} in it", share, f"tax:{name}:{percent}:line:{key}")))
    steps = [same(words, part, f"line:{key}"), *(inside if line.inclusive else ())]
    yield figure(f"net:{key}", f"{words}, before tax", _net(line, part, currency), steps)


def _share(line: Charged, name: str, tax: Decimal, part: Decimal, invoice: str, currency: Currency) -> list[Told]:
    """The tax on all that is taken back by now, rounded, less that on what was taken back before, rounded."""

    def on(taken: Decimal, text: str) -> Told:
        working = sum_of("{} × {} ÷ {}", tax, taken, line.amount)
        return worked(text, line.tax_so_far(tax, taken, currency), working, HALF_UP, RULE)

    by_now = line.credited + part
    steps = [
        on(
            by_now,
            f"Of {tax:f} of {name} that {invoice} charged on {line.amount:f}, for the {by_now:f} taken back by now",
        )
    ]
    if line.credited:
        steps.append(less(on(line.credited, f"Less what went back with the {line.credited:f} before")))
    return steps


def _tax(name: TaxName, tax: Facts, lines: list[tuple[Charged, str, Decimal]], currency: Currency) -> Iterable[Facts]:
    """One tax over all lines, and what it had been charged on."""
    said, percent = name
    fallen = [(line, words, part) for line, words, part in lines if name in dict(line.taxes)]
    bases = [same(words, _net(line, part, currency), f"net:{line.key}") for line, words, part in fallen]
    yield figure(f"base:{said}:{percent}", f"{said} had been charged on", Decimal(tax["base"]), bases)
    shares = [
        same(words, line.tax_on(dict(line.taxes)[name], part, currency), f"tax:{said}:{percent}:line:{line.key}")
        for line, words, part in fallen
    ]
    yield figure(f"tax:{said}:{percent}", f"{said}, {percent} %", Decimal(tax["amount"]), shares)


def _settled(facts: Facts, amount_of: dict[str, Decimal], before: Standing) -> Iterable[Facts]:
    """What is set off against what was open, what is paid back, and what is left of the invoice."""
    total, set_off, zero = amount_of["total"], amount_of["set_off"], amount_of["total"] * 0
    asked, credited = Decimal(facts["invoice_total"]), (before.credited + zero).quantize(total)
    opened, invoice = before.open.quantize(total), facts["invoice"]
    yield figure("invoice_total", f"{invoice}, in all", asked, [given(f"Total of {invoice}", asked, invoice)])
    yield figure(
        "open_before", f"Open on {invoice} before", opened,
        [given(step.text, (step.amount or zero).quantize(total), f"the books of {invoice}") for step in before.steps],
    )  # fmt: skip
    if opened >= total:
        steps = [same("All of it: as much is open", total, "total")]
    elif opened > 0:
        steps = [same("No more than what is open", opened, "open_before")]
    else:
        steps = [given("Nothing of it is open", set_off, f"the books of {invoice}")]
    yield figure("set_off", f"Set off against {invoice}", set_off, steps)
    rest = [same("Taken back", total, "total"), same("Less what is set off", -set_off, "set_off")]
    yield figure("to_pay_back", "To be paid back", amount_of["to_pay_back"], rest)
    yield figure(
        "left", f"Left of {invoice}", amount_of["left"],
        [
            same(f"Total of {invoice}", asked, "invoice_total"),
            *([given("Less what was taken back before", -credited, "earlier credit notes")] if credited else ()),
            same("Less what is taken back now", -total, "total"),
        ],
    )  # fmt: skip
