"""Which estimate laws bind for an order, and what the staff is to know of them: no legal advice, and the shop confirms it."""

from __future__ import annotations

from decimal import Decimal

from orders.models import Answer, Customer, RepairOrder
from orders.rules.authorisation import Asked, EstimateLaw, Goods, estimate_owed, laws_for, laws_in
from orders.rules.regions import region_code

from .frozen import trimmed

OF_A_TRADE = ("commercial", "rental")
REGION_UNKNOWN = "the shop's region is not known, so that no state's law could be looked up"


def of_a_household(order: RepairOrder) -> bool:
    """Whether the machine is in personal, family or household use, as far as the records say."""
    return order.customer.kind == Customer.Kind.HOUSEHOLD and order.unit.use_class not in OF_A_TRADE


def laws_of(order: RepairOrder) -> tuple[EstimateLaw, ...]:
    """The estimate laws of the shop's state that bind for this order."""
    return laws_for(_place(order), Goods.OUTDOOR, household=of_a_household(order))


def _place(order: RepairOrder) -> str:
    """Where the shop is: 'US-OH', or '' where its region is not known."""
    return region_code(order.shop.region, order.shop.country) or ""


def asked_of(order: RepairOrder) -> Asked:
    """What the customer said about an estimate."""
    return Asked(order.estimate_asked)


def told_sum(order: RepairOrder) -> str:
    """The sum that the customer was told, or up to which work may begin without an estimate; '' for none."""
    limit = order.estimate_limit
    return "" if limit is None else trimmed(limit, order.shop.currency_decimals)


def not_looked_up(order: RepairOrder) -> str:
    """Why no law could be looked up where one of the shop's country might bind: its region is not known. '' otherwise."""
    shop = order.shop
    place = region_code(shop.region, shop.country) if shop.region.strip() else None
    if place is not None and "-" in place:
        return ""
    might_bind = laws_in(shop.country, Goods.OUTDOOR, household=of_a_household(order))
    return REGION_UNKNOWN if might_bind else ""


def signed_first(order: RepairOrder, price: Decimal | None) -> EstimateLaw | None:
    """The law that wants the customer's authorisation in writing before work of this price; None where none does."""
    asked = asked_of(order)
    return next((law for law in laws_of(order) if law.signed and estimate_owed(law, price, asked=asked).owed), None)


def authorised_in_writing(order: RepairOrder) -> bool:
    """Whether the customer has accepted a job of the order by the link, or signed for one in the shop."""
    answers = Answer.objects.for_shop(order.shop).filter(estimate__order=order, accepted=True)
    return bool(answers.exclude(channel=Answer.Channel.PHONE).exists())


def law_notes(order: RepairOrder, price: Decimal | None) -> list[str]:
    """What the staff is told beside an estimate of this price (None: not known): what a law asks for, or that none is known."""
    unknown = not_looked_up(order)
    if unknown:
        return [f"{unknown[0].upper()}{unknown[1:]}. Enter the shop's region."]
    laws = laws_of(order)
    if not laws:
        return [_no_law(order)]
    notes = []
    for law in laws:
        owed = estimate_owed(law, price, asked=asked_of(order))
        if owed.ask:
            notes.append(f"{owed.words} Ask, and record it at orders/{order.pk}/estimate-asked/. {owed.source}.")
        elif owed.owed and owed.written:
            signed = " The customer authorises it in writing: by the link, or signed in the shop." if law.signed else ""
            notes.append(f"A written estimate is owed before the work: hand it over or send it.{signed} {owed.source}.")
        elif owed.owed:
            notes.append(f"An estimate is owed before the work. {owed.source}.")
    if order.estimate_limit is not None and price is not None and price > order.estimate_limit:
        asked = trimmed(price, order.shop.currency_decimals)
        notes.append(f"{asked} is more than the {told_sum(order)} that the customer was told: ask before the work.")
    return notes


def _no_law(order: RepairOrder) -> str:
    """Why no law is applied, which is no promise that there is none."""
    place, yours = _place(order), "What binds you is yours to confirm; your own rule holds."
    if laws_for(place, Goods.OUTDOOR, household=True):
        return f"The law on repair estimates that we know of in {place} is for household machines, which this is not. {yours}"
    return f"We know of no law on repair estimates in {place or order.shop.country} that reaches this machine. {yours}"
