"""The words that a customer agrees to, made from frozen facts and frozen with them: shown, answered and stored alike."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from orders.rules.authorisation import Allowance
from shopdocs.documents.press.values import day_words
from shopdocs.documents.press.words import Say, words
from shopdocs.money import Currency
from shopdocs.shops.models import Shop

from .scope import CUSTOMER

Facts = dict[str, Any]
CONSENT_VERSION = "2026-11"
WARRANTY = "warranty"
CHOICES = ("pay_up_to", "ask_me", "return_unrepaired")


def consent(shop: Shop, say: Say) -> Facts:
    """What a customer is told before agreeing to electronic records; another text gets another version.

    15 USC 7001(c)(1): paper, withdrawal, scope, contact details, what is needed to read it (second-hand; see the tests).
    """
    reach = " / ".join(part for part in (shop.phone, shop.email) if part) or ", ".join(shop.address_lines())
    told = (
        say("I agree to get this estimate, its later versions, my answer and the invoice for this repair by e-mail."),
        say("I can have each of them on paper from {shop}, free of charge.").format(shop=shop.name),
        say(
            "I can take this back at any time, or give another address: {reach}. What was answered before stays; "
            "from then on I get paper."
        ).format(reach=reach),
        say("I need a browser and a program that shows PDF files; that I read this shows that the browser works."),
    )
    return {"version": CONSENT_VERSION, "words": " ".join(told)}


def tax_words(facts: Facts) -> str:
    """How the amounts of an estimate's jobs stand to tax."""
    inside = (facts.get("pricing") or {}).get("inclusive") and not facts["customer"]["tax_exempt"]
    return "tax included" if inside else "before tax"


def put_words(facts: Facts, jobs: list[Facts], more: Allowance, say: Say) -> None:
    """Puts the words of accepting and declining on each frozen job, and of what to choose where a warranty is to pay.

    `more` is what may be asked beyond the price of a job without a new answer: it is said with the job and frozen
    (`customer_most`), so that `authorised` holds it.
    """
    money = facts["money"]
    currency = Currency(money["code"], money["decimals"], money["symbol"])
    for job in jobs:
        job["customer_most"] = f"{more.limit(Decimal(job['customer_pays']), currency):f}"
        job["agree"] = _agree(facts, job, say)
        job["if_refused"] = _if_refused(job, say)


def _agree(facts: Facts, job: Facts, say: Say) -> Facts:
    shop, named = facts["shop"]["name"], {"number": job["number"], "title": job["title"]}
    where = say("(estimate {number}, version {edition}, {day})").format(
        number=facts["number"],
        edition=facts["edition"],
        day=day_words(dt.date.fromisoformat(facts["issued_on"]), say),
    )
    symbol = facts["money"]["symbol"]
    pays = job.get("customer_pays", "")
    most = job.get("customer_most", pays)
    if job.get("shares") or job.get("payer_of"):
        accept = say(
            "I ask {shop} to do job {number}, {title}. Of its {amount} {tax} I pay {mine}, and not more ({payer})."
        )
        if most != pays:
            accept = say(
                "I ask {shop} to do job {number}, {title}. Of its {amount} {tax} I pay {mine}. Up to {most} may be asked of me "
                "without a new answer, and not more ({payer})."
            )
    elif job["payer"] == CUSTOMER:
        accept = say("I ask {shop} to do job {number}, {title}, for {amount} {tax}, and not for more.")
        if most != pays:
            accept = say(
                "I ask {shop} to do job {number}, {title}, for {amount} {tax}. Up to {most} may be asked of me without a new "
                "answer, and not more."
            )
    else:
        accept = say("I ask {shop} to do job {number}, {title}. {payer} is to pay for it ({amount}), not I.")
    accept = accept.format(
        shop=shop, amount=f"{symbol}{job['net']}", mine=f"{symbol}{pays}", most=f"{symbol}{most}", tax=say(tax_words(facts)),
        payer=job["payer_words"], **named,
    )  # fmt: skip
    shared = most_beside(job)
    if shared is not None and (job["payer"] == CUSTOMER or job.get("shares") or job.get("payer_of")):
        told = say("Where a job that shares work with it is left or paid by another, I pay {most} {tax} at most.")
        accept += " " + told.format(most=f"{symbol}{shared}", tax=say(tax_words(facts)))
    decline = say("I ask {shop} to leave job {number}, {title}.").format(shop=shop, **named)
    return {"accept": f"{accept} {where}", "decline": f"{decline} {where}"}


def most_beside(job: Facts) -> str | None:
    """What the customer pays of the job at most, whichever others are chosen; None where that is what stands on it."""
    pays = [one["customer_pays"] for one in (job.get("if_alone"), job.get("at_most")) if one is not None]
    most = max(pays, key=Decimal, default=None)
    return most if most is not None and Decimal(most) > Decimal(job["customer_pays"]) else None


def _if_refused(job: Facts, say: Say) -> Facts | None:
    """What the customer chooses between for the case that the claim is refused; None for other payers."""
    if job["payer"] != WARRANTY:
        return None
    return {
        "asked": say("If the warranty does not pay for job {number}, what shall we do?").format(number=job["number"]),
        "pay_up_to": say("I pay for it myself, up to the amount that I enter here, tax included."),
        "ask_me": say("Ask me first. Until I have answered, nothing is done at my cost."),
        "return_unrepaired": say("Give me the machine back unrepaired. I pay nothing for this job."),
        "none": say("If I choose nothing, nothing beyond my own share of this job is ever charged to me.")
        if job.get("shares") or job.get("payer_of")
        else say("If I choose nothing, nothing of this job is ever charged to me."),
    }


def agreed_words(facts: Facts, job: Facts, *, accepted: bool) -> str:
    """The words of this answer, as they stand in the frozen facts (made anew for facts that are older than the words)."""
    agree = job.get("agree") or _agree(facts, job, words(facts["shop"]["language"]))
    said: str = agree["accept" if accepted else "decline"]
    return said


def chosen_words(facts: Facts, job: Facts, choice: str, up_to: str | None) -> str:
    """The words of a choice on a refused claim, with the amount."""
    told = job.get("if_refused") or _if_refused(job, words(facts["shop"]["language"])) or {}
    amount = f" {facts['money']['symbol']}{up_to}" if up_to is not None else ""
    return f"{told.get('asked', '')} {told.get(choice, '')}{amount}".strip()


def consent_of(facts: Facts) -> Facts | None:
    """The consent that the frozen facts ask for; None in facts that are older than it."""
    asked: Facts | None = facts.get("consent")
    return asked
