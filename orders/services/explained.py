"""How every figure of an invoice came about, frozen with it: the sum of each step can be done again, to the cent."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from orders.models import Invoice
from orders.rules.figures import figure, given, same, shared, sum_of, went_up
from orders.rules.price_figures import JobNames, price_figures
from orders.rules.pricing import Priced
from orders.rules.taxes import Basis
from shopdocs.money import Currency, round_money

from .amounts import currency_of
from .balances import standing
from .explained_lines import Sources, entered, first_steps
from .invoice_lines import Line, lines_of
from .priced import keys_of
from .scope import CUSTOMER

Facts = dict[str, Any]
MINE = f"payer:{CUSTOMER}"


def figures_of_jobs(jobs: Sequence[Facts], priced: Priced, sources: Sources, mark: str = "") -> list[Facts]:
    """The figures of frozen jobs that were priced together; `sources`: where their rates and prices are from."""
    names = [JobNames(job["number"], keys_of(job, done)) for job, done in zip(jobs, priced.jobs, strict=True)]
    first = {key: steps for job in jobs for key, steps in first_steps(job, priced.currency).items()}
    told = price_figures(priced, names, mark=mark, first=first)
    return [*(one for job in jobs for one in entered(job, sources, _where(job))), *told]


def _where(job: Facts) -> str:
    """Where a line's rate and price are from, unless that is known better."""
    agreed = job.get("agreed")
    return f"{agreed['estimate']} version {agreed['edition']}, as agreed or less" if agreed else "entered on the job"


def invoice_figures(facts: Facts, groups: Sequence[tuple[list[Facts], Priced]]) -> list[Facts]:
    """Every figure of an invoice: of each group of jobs that was priced apart, then of the customer over all of them.

    Beside those of `price_figures`: 'tax:NAME:PERCENT' and 'base:NAME:PERCENT', 'tax:NAME:PERCENT:line:KEY' a line's part of a
    tax, 'net', 'tax', 'total', 'payment:N' and 'due'.
    """
    told: list[Facts] = []
    marks = [mark_of(at) for at in range(len(groups))]
    for mark, (jobs, priced) in zip(marks, groups, strict=True):
        told += figures_of_jobs(jobs, priced, {}, mark)
    known = {one["figure"]: one for one in told}
    zero = Decimal(facts["total"]) * 0
    return [
        *told,
        *taxes_over(facts["taxes"], known, marks, facts.get("exempt_by", ""), zero),
        *_ended(facts.get("taxes_ended", ()), zero),
        *_line_taxes(facts, known),
        *totals_over(known, marks, {what: Decimal(facts[what]) for what in ("net", "tax", "total")}),
        *_due(facts),
    ]


def mark_of(at: int) -> str:
    """What stands before the names of figures of the group at that place."""
    return f"{at + 1}:" if at else ""


def totals_over(known: dict[str, Facts], marks: Sequence[str], amounts: dict[str, Decimal]) -> Iterable[Facts]:
    """The customer's net, tax and total over all groups."""
    for what, words in (("net", "Before tax"), ("tax", "Tax"), ("total", "Total")):
        names = [name for mark in marks if (name := f"{mark}{MINE}:{what}") in known]
        steps = [same(known[name]["words"], Decimal(known[name]["amount"]), name) for name in names]
        nothing = given("Nothing of it is the customer's to pay", amounts[what], "who pays for the jobs")
        yield figure(what, words, amounts[what], steps or [nothing])


def taxes_over(
    taxes: Iterable[Facts], known: dict[str, Facts], marks: Sequence[str], exempt: str, zero: Decimal
) -> Iterable[Facts]:
    """Each of the customer's taxes and what it is charged on, over all groups; a certificate is a tax of nothing."""
    for tax in taxes:
        name = f"{tax['name']}:{tax['percent']}"
        for what, words in (("base", f"{tax['name']} is charged on"), ("tax", f"{tax['name']}, {tax['percent']} %")):
            parts = [one for mark in marks if (one := f"{mark}{MINE}:{what}:{name}") in known]
            steps = [same(known[part]["words"], Decimal(known[part]["amount"]), part) for part in parts]
            why = f": {tax['why']}" if what == "tax" and tax.get("why") else ""
            yield figure(f"{what}:{name}", words + why, Decimal(tax["base" if what == "base" else "amount"]), steps)
    if exempt:
        words = f"Exempt by certificate {exempt}"
        yield figure("exempt", words, zero, [given(words, zero, f"certificate {exempt}")])


def _ended(taxes: Iterable[Facts], zero: Decimal) -> Iterable[Facts]:
    """A tax of the estimate that is gone is a tax of nothing."""
    for tax in taxes:
        step = given(f"{tax['name']}: {tax['why']}", zero, "the taxes of the invoice's day")
        yield figure(f"ended:{tax['name']}", tax["name"], zero, [step])


def _line_taxes(facts: Facts, known: dict[str, Facts]) -> Iterable[Facts]:
    """Each line's part of each tax: as it was rounded on the line, or its share of the tax of the whole group."""
    money = facts["money"]
    currency = Currency(money["code"], money["decimals"], money["symbol"])
    groups: dict[str, list[tuple[Line, Facts]]] = {}
    for line in lines_of(facts):
        for tax in line.frozen["taxes"]:
            groups.setdefault(f"{line.frozen['group']}{MINE}:tax:{tax['name']}:{tax['percent']}", []).append(
                (line, tax)
            )
    for whole, fallen in groups.items():
        for at, (line, tax) in enumerate(fallen):
            amount, words = Decimal(tax["amount"]), f"{tax['name']} in {line.words}"
            name = f"tax:{tax['name']}:{tax['percent']}:line:{line.key}"
            if money["tax_basis"] == Basis.ITEM:
                own = f"{whole}:{line.key}"
                step = (
                    same("As it was rounded on the line", amount, own)
                    if own in known
                    else given("Nothing", amount, "the line")
                )
            else:
                lines = [one.amount for one, _ in fallen]
                weights, total = sum(lines, Decimal(0)), Decimal(known[whole]["amount"])
                if weights:
                    working = sum_of("{} × {} ÷ {}", total, line.amount, weights)
                    cents = Fraction(total) * Fraction(line.amount) / Fraction(weights) * Fraction(currency.units)
                    up = went_up(Fraction(amount * currency.units), cents, Fraction(total))
                    step = shared(words, amount, working, whole, "the lines of the invoice", up=up)
                else:  # lines that cancel out: whatever rounding left stays with the first
                    step = same(words, amount, whole) if at == 0 else given(words, amount, "lines that cancel out")
            yield figure(name, words, amount, [step])


def _due(facts: Facts) -> Iterable[Facts]:
    """What deposits leave to pay."""
    steps = [same("Total", Decimal(facts["total"]), "total")]
    for at, one in enumerate(facts["payments"], 1):
        amount, words = Decimal(one["amount"]), f"{one['how']}, {one['on']}"
        yield figure(f"payment:{at}", words, amount, [given(words, amount, "a deposit before the invoice")])
        steps.append(same(f"{'Less' if amount > 0 else 'Plus'} {words}", -amount, f"payment:{at}"))
    yield figure("due", "Due after deposits", Decimal(facts["due"]), steps)


def balance_explained(invoice: Invoice) -> list[Facts]:
    """What was paid, credited and written off, and what is open now, entry by entry."""
    money, currency = standing(invoice), currency_of(invoice.shop)
    total = round_money(invoice.total, currency)
    listed = {
        "came": [(f"{row.get_kind_display()}, {row.received_on}", row.amount) for row in invoice.payments.all() if row.amount and row.kind != "refund"],
        "given_back": [(f"Paid back, {row.received_on}", row.amount) for row in invoice.payments.all() if row.kind == "refund"],
        "credited": [(f"Credit note {row.number}", row.total) for row in invoice.credit_notes.all()],
        "written_off": [(f"Written off, {row.written_on}: {row.reason}", row.amount) for row in invoice.write_offs.all()],
    }  # fmt: skip
    words = {
        "came": "Deposits and payments",
        "given_back": "Paid back",
        "credited": "Credited",
        "written_off": "Written off",
    }
    found = []
    for name, rows in listed.items():
        steps = [given(text, round_money(amount, currency), "the books") for text, amount in rows]
        amount = round_money(getattr(money, name), currency)
        found.append(figure(name, words[name], amount, steps or [given("Nothing", amount, "the books")]))
    came, back, credited, off = (Decimal(one["amount"]) for one in found)
    paid = figure(
        "paid", "Paid", came - back, [same(words["came"], came, "came"), same("Less paid back", -back, "given_back")]
    )
    steps = [
        same("Total of the invoice", total, "total"), same("Less paid", -(came - back), "paid"),
        same("Less credited", -credited, "credited"), same("Less written off", -off, "written_off"),
    ]  # fmt: skip
    return [*found, paid, figure("balance", "Open now", round_money(money.open, currency), steps)]
