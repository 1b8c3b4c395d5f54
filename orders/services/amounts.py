"""Figures that people type, checked once for every way in: finite, not negative, no more decimals than are kept."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from shopdocs.money import Currency, decimals_of, exact
from shopdocs.problems import BadInput
from shopdocs.rest.refusals import Refused, Told
from shopdocs.shops.models import Shop

LONGEST_LINE = Decimal(24)
TENTH = Decimal("0.1")


def figure(
    value: Any, field: str, *, decimals: int, above: Decimal | None = None, most: Decimal | None = None
) -> Decimal:
    """`value` as an exact number of zero or more; `above` must be exceeded, `most` must not. Raises Refused."""
    try:
        number = exact(value, field)
    except BadInput as bad:
        raise Refused(field, bad.problem, bad.remedy) from bad
    if decimals_of(number) > decimals:
        problem = Told("{number} has more than {decimals} decimals.", number=number, decimals=decimals)
        raise Refused(field, problem, Told("Round it to {decimals} decimals.", decimals=decimals))
    if number < 0:
        raise Refused(field, Told("{number} is negative.", number=number), "Give zero or more.")
    if above is not None and number <= above:
        problem = Told("{number} is not above {limit}.", number=number, limit=above)
        raise Refused(field, problem, Told("Give more than {limit}.", limit=above))
    if most is not None and number > most:
        problem = Told("{number} is more than {most}.", number=number, most=most)
        raise Refused(field, problem, Told("Give {most} at most, or split it.", most=most))
    return number


def tenths(value: Any, field: str = "hours") -> Decimal:
    """Hours of one labour line: above zero, in tenths; more than a day in one line is a slip of the point."""
    return figure(value, field, decimals=1, above=Decimal(0), most=LONGEST_LINE).quantize(TENTH)


def quantity(value: Any, field: str = "quantity") -> Decimal:
    """Pieces, feet or litres: above zero, three decimals at most."""
    return figure(value, field, decimals=3, above=Decimal(0), most=Decimal(100_000))


def price(value: Any, field: str = "unit_price") -> Decimal:
    """A price of one piece: three decimals at most, since a line by the foot may cost less than a cent."""
    return figure(value, field, decimals=3, most=Decimal(100_000_000))


def rate(value: Any, field: str = "rate") -> Decimal:
    """What an hour costs: four decimals at most."""
    return figure(value, field, decimals=4, most=Decimal(1_000_000))


def percent(value: Any, field: str = "discount_percent") -> Decimal:
    """A percentage from 0 to 100 with four decimals at most."""
    return figure(value, field, decimals=4, most=Decimal(100))


def signed(value: Any, field: str, *, decimals: int) -> Decimal:
    """An amount that may be a credit, below zero."""
    try:
        number = exact(value, field)
    except BadInput as bad:
        raise Refused(field, bad.problem, bad.remedy) from bad
    size = figure(abs(number), field, decimals=decimals, most=Decimal(100_000_000))
    return size if number >= 0 else -size


def currency_of(shop: Shop) -> Currency:
    """The shop's currency as the money room takes it."""
    return Currency(shop.currency, shop.currency_decimals, shop.currency_symbol)
