"""What storage of a machine that is not picked up comes to by a shop's own terms. Whole days; no law is in it. Pure."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from shopdocs.money import Currency, round_money
from shopdocs.problems import BadInput

DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Terms:
    """Days free of charge after the work is finished, the charge a day, and whether notice must come first."""

    free_days: int
    per_day: Decimal
    after_notice: bool

    def __post_init__(self) -> None:
        if self.free_days < 0 or self.per_day < 0:
            raise BadInput("storage", "Storage is below zero.", "Give zero or more.")


@dataclass(frozen=True, slots=True)
class Charge:
    """Days charged from `first` to `last`, both counted (None: none yet), the amount, and why in a sentence.

    `before`: how many days were charged before them, with which these are rounded.
    """

    days: int
    first: dt.date | None
    last: dt.date | None
    amount: Decimal
    why: str
    before: int = 0


def charge(
    terms: Terms,
    *,
    finished: dt.date,
    today: dt.date,
    notice: dt.date | None,
    currency: Currency,
    billed: dt.date | None = None,
) -> Charge:
    """The charge up to and with `today`. `notice`: when the customer was told; `billed`: the last day charged before.

    The day on which the work was finished, and that of the notice, are not counted. The charge a day may be finer than the
    currency: all days together are rounded once, half up, and what was billed before is taken off that.
    """
    none = Decimal(0) * currency.quantum
    if terms.after_notice and notice is None:
        return Charge(0, None, None, none, "No notice was given, so nothing is charged.")
    first = finished + (terms.free_days + 1) * DAY
    why = f"{terms.free_days} days are free after {finished}"
    if terms.after_notice and notice is not None and notice + DAY > first:
        first, why = notice + DAY, f"notice was given on {notice}"
    counted = first
    if billed is not None and billed + DAY > first:
        first, why = billed + DAY, f"the days up to {billed} were billed"
    days = (today - first).days + 1
    if days <= 0:
        return Charge(0, None, None, none, f"Nothing is charged before {first}: {why}.")
    before = (first - counted).days
    amount = round_money((before + days) * terms.per_day, currency) - round_money(before * terms.per_day, currency)
    return Charge(days, first, today, amount, f"{days} x {terms.per_day} from {first}: {why}.", before)
