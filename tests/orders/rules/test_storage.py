"""Storage by a shop's own terms, at the edges of its days."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from orders.rules.storage import Terms, charge
from shopdocs.money import JPY, USD, Currency
from shopdocs.problems import BadInput

D = Decimal
DONE = dt.date(2026, 3, 1)


def day(number: int) -> dt.date:
    return DONE + dt.timedelta(days=number)


@pytest.mark.parametrize(
    ("today", "days", "amount"), [(0, 0, "0"), (10, 0, "0"), (11, 1, "2.50"), (12, 2, "5.00"), (375, 365, "912.50")]
)
def test_free_days_are_free(today: int, days: int, amount: str) -> None:
    due = charge(Terms(10, D("2.50"), False), finished=DONE, today=day(today), currency=USD, notice=None)
    assert (due.days, due.amount) == (days, D(amount))
    assert (due.first, due.last) == ((day(11), day(today)) if days else (None, None))


@pytest.mark.parametrize(
    ("notice", "today", "days"),
    [(None, 400, 0), (20, 20, 0), (20, 21, 1), (20, 25, 5), (3, 11, 1), (3, 10, 0), (10, 11, 1)],
)
def test_notice_comes_first_where_the_terms_say_so(notice: int | None, today: int, days: int) -> None:
    told = None if notice is None else day(notice)
    due = charge(Terms(10, D("2.50"), True), finished=DONE, today=day(today), currency=USD, notice=told)
    assert due.days == days
    assert due.why


def test_a_day_is_billed_once() -> None:
    terms = Terms(10, D("2.50"), False)
    first = charge(terms, finished=DONE, today=day(15), currency=USD, notice=None)
    later = charge(terms, finished=DONE, today=day(18), currency=USD, notice=None, billed=first.last)
    assert (first.days, later.days, later.first) == (5, 3, day(16))
    assert charge(terms, finished=DONE, today=day(18), currency=USD, notice=None, billed=day(18)).days == 0
    assert charge(terms, finished=DONE, today=day(18), currency=USD, notice=None, billed=day(2)).days == 8


def test_terms_below_zero_are_none() -> None:
    for free, each in ((-1, "1"), (1, "-0.01")):
        with pytest.raises(BadInput):
            Terms(free, D(each), True)


@pytest.mark.parametrize(
    ("per_day", "currency", "days", "amount"),
    [("0.125", USD, 1, "0.13"), ("0.125", USD, 2, "0.25"), ("0.125", USD, 3, "0.38"), ("2.5", JPY, 1, "3"), ("2.5", JPY, 3, "8")],
)  # fmt: skip
def test_a_charge_finer_than_the_currency_is_rounded_once_half_up(
    per_day: str, currency: Currency, days: int, amount: str
) -> None:
    terms = Terms(0, D(per_day), False)
    due = charge(terms, finished=DONE, today=day(days), notice=None, currency=currency)
    assert due.amount == D(amount) and due.amount.as_tuple().exponent == -currency.decimals
    parts = [
        charge(terms, finished=DONE, today=day(one), notice=None, currency=currency, billed=day(one - 1) if one > 1 else None)
        for one in range(1, days + 1)
    ]  # fmt: skip
    assert sum(one.amount for one in parts) == due.amount
