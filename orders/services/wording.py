"""Our letters and sentences to the customer: plain, friendly, no marketing; in the customer's language where we have it."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from orders.models import Customer, Distributor, Estimate, Invoice
from orders.rules.receivables import Account
from shopdocs.documents.press.values import day_words
from shopdocs.documents.press.words import Say, speaks, words
from shopdocs.money import format_money, plain
from shopdocs.shops.models import Shop

from .amounts import currency_of

Reader = Customer | Distributor


def paper_language(shop: Shop, reader: Reader | None = None) -> str:
    """The language of a paper: its reader's, else the shop's, else English; each only where the press has its words."""
    wanted = [reader.language] if reader is not None else []
    found = (speaks(language) for language in (*wanted, shop.language))
    return next((language for language in found if language), "en")


def paper_units(shop: Shop, reader: Reader | None = None) -> str:
    """The units of a paper: its reader's, else the shop's; '' for as they were recorded."""
    return (reader.measures if reader is not None else "") or shop.measures


def conditions(shop: Shop, say: Say) -> tuple[str, ...]:
    """What the customer signs when a machine is left here."""
    return (
        say("I leave this machine with {shop} to be looked at and repaired as written here.").format(shop=shop.name),
        say("No work is done and nothing is charged beyond what I agree to in an estimate."),
        say("A machine that is tagged unsafe to run leaves only against a signed note."),
    )


def agreement(shop_name: str, overrun: Decimal, say: Say) -> str:
    """What accepting a job means; shown with the estimate and frozen in it. `overrun`: the percentage that needs no new answer."""
    if overrun:
        return say(
            "By accepting a job you ask {shop} to do it at the price shown here. Up to {percent} % more of each job may be "
            "asked of you without a new answer, and not more than that. By declining it you ask us to leave it. Nothing else "
            "is agreed."
        ).format(shop=shop_name, percent=plain(overrun))
    return say(
        "By accepting a job you ask {shop} to do it at the price shown here, and not for more. "
        "By declining it you ask us to leave it. Nothing else is agreed."
    ).format(shop=shop_name)


def answer_how(shop: Shop, say: Say, *, by_telephone: bool = True) -> str:
    """How the customer can answer, as the paper says it; not `by_telephone` where a law wants it in writing."""
    with_phone = say(
        "Please tell us job by job what we shall do: by the link in our letter, by telephone on {phone}, or here in "
        "the shop. We do no work on a job before you have agreed to it."
    )
    without = say(
        "Please tell us job by job what we shall do: by the link in our letter, or here in the shop. "
        "We do no work on a job before you have agreed to it."
    )
    return (with_phone if shop.phone and by_telephone else without).format(phone=shop.phone)


def _machine(facts: dict[str, Any]) -> str:
    unit = facts["unit"]
    return f"{unit['maker']} {unit['model']}"


def foot(shop: Shop, say: Say) -> str:
    """The end of every letter: regards, and how to reach the shop."""
    reach = ", ".join(line for line in (*shop.address_lines(), shop.phone) if line)
    return f"{say('Kind regards')}\n{shop.name}\n{reach}\n"


def estimate_heading(estimate: Estimate) -> str:
    """The subject of the letter that brings an estimate."""
    say = words(estimate.facts["shop"]["language"])
    heading = say("Estimate {number} from {shop}").format(number=estimate.number, shop=estimate.shop.name)
    return heading if estimate.edition == 1 else f"{heading}, {say('version')} {estimate.edition}"


def estimate_letter(estimate: Estimate, address: str, expires_at: dt.datetime, *, by_telephone: bool = True) -> str:
    """The letter with the customer's link: the only place where the link stands. `by_telephone` as for `answer_how`."""
    shop, facts = estimate.shop, estimate.facts
    say = words(facts["shop"]["language"])
    until = shop.local(expires_at)
    paragraphs = [
        say("Hello {name},").format(name=facts["customer"]["name"]),
        say("we have looked at your {machine} (repair order {order}). Our estimate {number} is attached.").format(
            machine=_machine(facts), order=facts["order"], number=estimate.number
        ),
    ]
    if estimate.edition > 1:
        newer = say("It is version {edition} and replaces the earlier one, which can no longer be answered.")
        paragraphs.append(newer.format(edition=estimate.edition))
    paragraphs += [
        say("Please tell us job by job what we shall do. This link shows the estimate and takes your answer, once:"),
        address,
        " ".join(
            (
                _works_until(until, say),
                say("You can also call us on {phone} or come by.").format(phone=shop.phone)
                if shop.phone and by_telephone
                else say("You can also come by."),
                say("We do no work on a job before you have agreed to it."),
            )
        ),
        foot(shop, say),
    ]
    return "\n\n".join(paragraphs)


def _works_until(until: dt.datetime, say: Say) -> str:
    """Midnight is told by the day that ends with it, which is the last of the estimate too."""
    if until.time() == dt.time():
        day = day_words(until.date() - dt.timedelta(days=1), say)
        return say("The link works until the end of {day}.").format(day=day)
    return say("The link works until {moment}.").format(moment=f"{day_words(until, say)}, {until:%H:%M}")


def invoice_heading(invoice: Invoice) -> str:
    """The subject of the letter that brings an invoice."""
    say = words(invoice.facts["shop"]["language"])
    return say("Invoice {number} from {shop}").format(number=invoice.number, shop=invoice.shop.name)


def invoice_letter(invoice: Invoice) -> str:
    """The letter that brings the invoice."""
    shop, facts = invoice.shop, invoice.facts
    say = words(facts["shop"]["language"])
    total = f"{facts['money']['symbol']}{facts['total']}"
    return "\n\n".join(
        (
            say("Hello {name},").format(name=facts["customer"]["name"]),
            say(
                "the work on your {machine} is done (repair order {order}). Our invoice {number} over {total} is "
                "attached, due by {day}."
            ).format(
                machine=_machine(facts), order=facts["order"], number=invoice.number, total=total,
                day=day_words(invoice.due_on, say),
            )
            + _already_paid(facts, say),
            say("Please name the invoice number when you pay.")
            + " "
            + (
                say("If something is not clear, call us on {phone}.").format(phone=shop.phone)
                if shop.phone
                else say("If something is not clear, ask us.")
            ),
            foot(shop, say),
        )
    )  # fmt: skip


def credit_settled(shop: Shop, invoice: str, set_off: Decimal, back: Decimal, say: Say) -> str:
    """How the customer gets what a credit note takes back: set against what is open, and the rest paid back."""
    currency = currency_of(shop)
    said = []
    if set_off:
        text = say("{amount} is set against what is open on {invoice}.")
        said.append(text.format(amount=format_money(set_off, currency), invoice=invoice))
    if back:
        text = say("{amount} was paid already: we give it back to you.")
        said.append(text.format(amount=format_money(back, currency)))
    return " ".join(said)


def credit_heading(shop: Shop, facts: dict[str, Any]) -> str:
    """The subject of the letter that brings a credit note."""
    say = words(facts["shop"]["language"])
    return say("Credit note {number} from {shop}").format(number=facts["number"], shop=shop.name)


def credit_letter(shop: Shop, facts: dict[str, Any]) -> str:
    """The letter that brings a credit note."""
    say = words(facts["shop"]["language"])
    total = format_money(Decimal(facts["total"]), currency_of(shop))
    text = say(
        "we take back {total} of our invoice {invoice} of {day} ({order}, your {machine}). "
        "Our credit note {number} is attached."
    )
    said = text.format(
        total=total, invoice=facts["invoice"], order=facts["order"], machine=_machine(facts), number=facts["number"],
        day=day_words(dt.date.fromisoformat(facts["invoice_on"]), say),
    )  # fmt: skip
    return "\n\n".join(
        (
            say("Hello {name},").format(name=facts["customer"]["name"]),
            f"{said} {facts['settled']}",
            say("If something is not clear, call us on {phone}.").format(phone=shop.phone)
            if shop.phone
            else say("If something is not clear, ask us."),
            foot(shop, say),
        )
    )


def statement_heading(shop: Shop, number: str, language: str) -> str:
    """The subject of the letter that brings a statement."""
    return words(language)("Statement {number} from {shop}").format(number=number, shop=shop.name)


def statement_letter(shop: Shop, name: str, found: Account, number: str, language: str) -> str:
    """The letter that brings a statement."""
    say, currency = words(language), currency_of(shop)

    def money(amount: Decimal) -> str:
        return format_money(amount, currency)

    said = say("our statement {number} from {since} until {until} is attached.").format(
        number=number, since=day_words(found.since, say), until=day_words(found.until, say)
    )
    if found.open > 0:
        left = say("{open} is still open, {overdue} of it overdue.")
        if found.held:
            left = say("{overdue} is overdue; less {held} to your credit, {open} is still open in all.")
        left = left.format(open=money(found.open), overdue=money(found.overdue), held=money(-found.held))
        left += " " + say("Please name the number when you pay.")
    elif found.open < 0:
        left = say("You have {held} to your credit with us.").format(held=money(-found.open))
    else:
        left = say("Nothing is open.")
    return "\n\n".join(
        (
            say("Hello {name},").format(name=name),
            f"{said} {left}",
            say("If something is not clear, call us on {phone}.").format(phone=shop.phone)
            if shop.phone
            else say("If something is not clear, ask us."),
            foot(shop, say),
        )
    )


def _already_paid(facts: dict[str, Any], say: Say) -> str:
    """What deposits leave to pay, as a sentence; '' without one."""
    if not facts.get("payments"):
        return ""
    due, symbol = Decimal(facts["due"]), facts["money"]["symbol"]
    paid = f"{symbol}{Decimal(facts['total']) - due}"
    if due < 0:
        said = say("Your deposit of {paid} is more than that: you get {rest} back.")
    else:
        said = say("Your deposit of {paid} is taken off, which leaves {rest} to pay.")
    return " " + said.format(paid=paid, rest=f"{symbol}{abs(due)}")


def upkeep(power: str, say: Say) -> tuple[str, ...]:
    """What keeps such a machine well until the next season. Common practice, no source; the manual comes first."""
    lines = []
    if power in ("two_stroke", "four_stroke"):
        lines.append(say("Use fresh petrol, no older than 30 days, mixed as the manual says where it is mixed."))
        lines.append(say("Before a long rest empty the tank outdoors, or fill it with fuel made for storage."))
    if power == "four_stroke":
        lines.append(say("Check the engine oil before each use and change it as the manual says."))
    if power == "battery":
        lines.append(say("Store the battery pack dry and cool, half charged, and out of the machine."))
    if power not in ("battery", "mains"):
        lines.append(say("Keep the air filter and the cooling fins clean."))
    lines.append(say("Before each use look at guards, switches and fasteners. Do not run it with one missing."))
    lines.append(say("The maker's manual comes first, here as everywhere."))
    return tuple(lines)


def pay_how(shop: Shop, number: str, say: Say) -> str:
    """How to pay, as the invoice says it."""
    asked = say("Please name {number} when you pay.").format(number=number)
    return f"{asked} {say('Questions')}: {shop.phone}." if shop.phone else asked
