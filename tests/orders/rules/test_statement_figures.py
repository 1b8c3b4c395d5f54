"""Every figure of a statement, done again in fractions: random books in currencies of 0, 2 and 3 decimals."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from orders.rules.receivables import COLUMNS, Entry, Item, Posted, account
from orders.rules.statement_figures import statement_figures
from shopdocs.money import JPY, KWD, USD, Currency
from tests.sums import done_again

D = Decimal
FIRST = date(2026, 1, 1)
days = st.integers(0, 150).map(lambda days: FIRST + timedelta(days=days))


def amounts(currency: Currency) -> st.SearchStrategy[Decimal]:
    return st.integers(1, 99_999).map(lambda units: units * currency.quantum)


@st.composite
def books(draw: st.DrawFn) -> tuple[Currency, list[Item], date, date]:
    currency = draw(st.sampled_from([USD, JPY, KWD]))
    items = []
    for at in range(draw(st.integers(0, 4))):
        issued = draw(days)
        posted = tuple(
            Posted(draw(st.sampled_from(Entry)), draw(amounts(currency)), draw(days), "Moved")
            for _ in range(draw(st.integers(0, 3)))
        )
        asked = draw(amounts(currency) | st.just(D(0)))
        # A claim that was approved beyond what was asked stands there twice by one number.
        items.append(
            Item(f"I-{at // 2}", "customer:1", asked, issued, issued + timedelta(days=draw(st.integers(0, 40))), posted)
        )
    since = draw(days)
    return currency, items, since, since + timedelta(days=draw(st.integers(0, 90)))


@settings(max_examples=60, deadline=None)
@given(books())
def test_every_figure_of_an_account_is_done_again(case: tuple[Currency, list[Item], date, date]) -> None:
    currency, items, since, until = case
    made = account(items, since, until)
    found = done_again(statement_figures(items, made, currency), currency.decimals)
    for name in ("carried", "asked", "received", "open", "overdue"):
        assert found[name] == getattr(made, name), name
    assert found["total"] == made.open == sum(found[name] for name in COLUMNS)
    for at, line in enumerate(made.lines, 1):
        moved = line.asked if line.asked is not None else line.received
        assert (found[f"entry:{at}"], found[f"balance:{at}"]) == (moved, line.balance)
    for item in made.items:
        keys = [name for name in found if name in (f"open:{item.number}", f"open:{item.number}:2")]
        assert item.open_on(until) in [found[name] for name in keys]


def test_the_checker_sees_what_is_wrong() -> None:
    """A sum that does not come out, a circle, a reference into nothing, and a cent that went to the wrong share."""
    ok = {"figure": "a", "words": "A", "amount": "1.00", "steps": [{"text": "x", "amount": "1.00", "given": "us"}]}
    assert done_again([ok], 2) == {"a": D("1.00")}

    def step(**changes: str) -> dict[str, str]:
        return {"text": "x", "amount": "1.00", **changes}

    def wrong(*steps: dict[str, str], beside: tuple[dict[str, object], ...] = ()) -> None:
        with pytest.raises((AssertionError, ValueError)):
            done_again([{**ok, "steps": list(steps)}, *beside], 2)

    wrong(step(working="0.8 × 1.00"))
    wrong(step(working="0.994", rounding="half up"))
    wrong(step(amount="0.99", given="us"))
    wrong(step(of="nothing"))
    wrong(step())
    wrong(step(of="a"))
    other = {"figure": "b", "words": "B", "amount": "1.00", "steps": [step(of="a")]}
    wrong(step(of="b"), beside=(other,))
    parts = [
        step(text="one", amount="0.33", working="1.00 × 1 ÷ 3", rounding="down", share_of="b", among="us"),
        step(text="two", amount="0.67", working="1.00 × 2 ÷ 3", rounding="up", share_of="b", among="us"),
    ]
    whole = {"figure": "b", "words": "B", "amount": "1.00", "steps": [step(given="us")]}
    assert done_again([{**ok, "steps": parts}, whole], 2)
    swapped = [{**parts[0], "amount": "0.34", "rounding": "up"}, {**parts[1], "amount": "0.66", "rounding": "down"}]
    wrong(*swapped, beside=(whole,))
