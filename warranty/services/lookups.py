"""Finding the record that a caller named, in the caller's shop and nowhere else."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import Model

from shopdocs.money import Currency, decimals_of
from shopdocs.rest.refusals import Missing, Refused
from shopdocs.shops.models import Shop


def mine(shop: Shop, model: type[Model], pk: UUID | str, field: str = "", *, lock: bool = False) -> Any:
    """The record `pk` of `model` in this shop. Raises Refused naming the body's `field`, Missing where none is said. `lock` holds its row."""
    manager: Any = model._default_manager
    rows = manager.for_shop(shop)
    found = (rows.select_for_update() if lock else rows).filter(pk=pk).first()
    if found is None and field:
        raise Refused(field, "No such record in your shop.", "Use the id of a record of your shop.")
    if found is None:
        raise Missing("", "No such record in your shop.", "Check the id.")
    return found


def currency_of(shop: Shop) -> Currency:
    """The shop's currency as exact money rounds and prints it."""
    return Currency(shop.currency, shop.currency_decimals, shop.currency_symbol)


def whole_cents(shop: Shop, field: str, amount: Decimal | None) -> None:
    """Refuses an amount finer than the shop's currency: it could not be printed or paid."""
    if amount is not None and decimals_of(amount) > shop.currency_decimals:
        remedy = f"Round it to {shop.currency_decimals} decimals."
        raise Refused(field, f"{amount} is finer than {shop.currency} can pay.", remedy)


def not_ahead(shop: Shop, field: str, day: dt.date) -> None:
    """Refuses a day that has not come yet at the shop."""
    if day > shop.today():
        raise Refused(field, f"{day} has not come yet.", "Give the day on which it happened.")
