"""What we write to a customer whose machine is ready and was not picked up: friendly, exact, and no law of our own making."""

from __future__ import annotations

import datetime as dt

from orders.models import RepairOrder
from orders.rules.storage import Terms
from shopdocs.documents.press.values import day_words
from shopdocs.documents.press.words import Say

from .frozen import trimmed
from .wording import foot


def lien_words(place: str) -> str:
    """What is said wherever somebody may think of keeping or selling a machine: ask the law, for we do not know it."""
    return (
        f"Whether and how a shop may keep or sell a machine over an unpaid bill is set by the law of {place}. Nothing of it "
        "is worked out here: read that law, or ask a lawyer, before any notice of a lien."
    )


def reminder_heading(order: RepairOrder, say: Say) -> str:
    """The subject of the reminder."""
    return say("Your {machine} is ready to be picked up").format(machine=str(order.unit.model.name))


def reminder(order: RepairOrder, finished: dt.date, terms: Terms | None, begins: dt.date | None, say: Say) -> str:
    """The letter: since when it is ready, what storage costs from when (by what was told beforehand), and nothing more."""
    shop = order.shop
    machine = f"{order.unit.model.maker.name} {order.unit.model.name}"
    told = [
        say("Hello {name},").format(name=order.customer.name),
        say("the work on your {machine} (repair order {order}) was finished on {day}. It is ready for you.").format(
            machine=machine, order=order.number, day=day_words(finished, say)
        ),
    ]
    if terms is not None and begins is not None:
        per_day = f"{shop.currency_symbol}{trimmed(terms.per_day, shop.currency_decimals)}"
        charged = say("As our estimate said, storage costs {amount} a day from {day} on.")
        told.append(charged.format(amount=per_day, day=day_words(begins, say)))
    told.append(say("Please come by, or tell us when you will. This is a reminder and no notice of a lien."))
    return "\n\n".join([*told, foot(shop, say)])
