"""How every figure of a statement came about: what was carried over, each movement, each open document, and its age. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from orders.rules.figures import Told, figure, given, same
from orders.rules.receivables import BOUNDS, COLUMNS, Account, Item, Posted, ageing, column_of
from shopdocs.money import Currency, round_money

Facts = dict[str, Any]
AGES = ("Not due yet", *(f"Due for up to {days} days" for days in BOUNDS[1:]), "Due for longer", "Held for the payer")


def statement_figures(items: Sequence[Item], made: Account, currency: Currency) -> list[Facts]:
    """Every figure of an account out of the `items` that it was made from.

    'before:NUMBER' and 'open:NUMBER' are a document's, 'entry:N' and 'balance:N' the movements in their order, and
    'not_due', 'to_30' and so on the ages at the end of the account. A number that stands twice has ':2' after it.
    """
    money = _Money(currency)
    known = dict(zip(_keys(items), items, strict=True))
    begun = {key: item for key, item in known.items() if _begun(item, made.until)}
    eve = made.since - timedelta(days=1)
    before = {key: item for key, item in begun.items() if _begun(item, eve)}
    return [
        *(_standing(f"before:{key}", item, eve, money) for key, item in before.items()),
        figure(
            "carried", "Carried over", money(made.carried),
            [same(_name(item), money(item.open_on(eve)), f"before:{key}") for key, item in before.items()]
            or [given("Nothing was open before", money(Decimal(0)), "the books")],
        ),
        *_movements(made, money),
        *(_asked(key, item, made.until, money) for key, item in begun.items()),
        *(_standing(f"open:{key}", item, made.until, money) for key, item in begun.items()),
        *_ages(begun, made, money),
    ]  # fmt: skip


class _Money:
    """Amounts in the currency's own decimals."""

    def __init__(self, currency: Currency) -> None:
        self._currency = currency

    def __call__(self, amount: Decimal) -> Decimal:
        return round_money(amount, self._currency)


def _keys(items: Sequence[Item]) -> list[str]:
    """A key for each item: its number, and which time it is where one number stands again."""
    times: dict[str, int] = {}
    found = []
    for item in items:
        times[item.number] = times.get(item.number, 0) + 1
        found.append(item.number if times[item.number] == 1 else f"{item.number}:{times[item.number]}")
    return found


def _begun(item: Item, day: date) -> bool:
    return item.issued <= day or any(entry.on <= day for entry in item.posted)


def _name(item: Item) -> str:
    return item.title or item.number


def _asked(key: str, item: Item, day: date, money: _Money) -> Facts:
    asked = money(item.asked_on(day))
    return figure(
        f"asked:{key}", f"Asked with {_name(item)}", asked, [given(f"Asked on {item.issued}", asked, item.number)]
    )


def _standing(name: str, item: Item, day: date, money: _Money) -> Facts:
    """What is open of one document at the end of a day: what it asks, and every entry on it up to then."""
    steps = [given(f"Asked on {item.issued}", money(item.asked_on(day)), item.number)] if item.issued <= day else []
    steps += [_entry(entry, money) for entry in item.posted if entry.on <= day]
    return figure(name, f"Open of {_name(item)} on {day}", money(item.open_on(day)), steps)


def _entry(entry: Posted, money: _Money) -> Told:
    text = f"{entry.title or entry.what}, {entry.on}"
    return given(f"{text}: {entry.words}" if entry.words else text, money(entry.moved), "the books")


def _movements(made: Account, money: _Money) -> Iterable[Facts]:
    """Each movement and what is open after it; then the sums of both columns, and what is open in the end."""
    last, amount = "carried", money(made.carried)
    asked: list[Told] = []
    received: list[Told] = []
    for at, line in enumerate(made.lines, 1):
        name, text = f"entry:{at}", f"{line.title}, {line.on}"
        moved = money(line.asked if line.asked is not None else line.received or Decimal(0))
        yield figure(name, text, moved, [given(line.words or text, moved, "the books")])
        (asked if line.asked is not None else received).append(same(text, moved, name))
        change = same(text, moved if line.asked is not None else -moved, name)
        carried = same("Open before it", amount, last)
        last, amount = f"balance:{at}", money(line.balance)
        yield figure(last, f"Open after: {text}", amount, [carried, change])
    nothing = money(Decimal(0))
    yield figure("asked", "Asked", money(made.asked), asked or [given("Nothing was asked", nothing, "the books")])
    came = received or [given("Nothing came", nothing, "the books")]
    yield figure("received", "Received, credited and written off", money(made.received), came)
    steps = [
        same("Carried over", money(made.carried), "carried"),
        same("Asked", money(made.asked), "asked"),
        same("Less received, credited and written off", -money(made.received), "received"),
    ]
    yield figure("open", "Open", money(made.open), steps)


def _ages(begun: dict[str, Item], made: Account, money: _Money) -> Iterable[Facts]:
    """What is open by how long it is due, all that is overdue, and all together, document by document."""
    day = made.until
    found = next(iter(ageing([*begun.values()], day)), None)
    still = {key: item for key, item in begun.items() if item.open_on(day)}
    nothing = [given("Nothing is open so", money(Decimal(0)), "the books")]
    for at, (name, words) in enumerate(zip(COLUMNS, AGES, strict=True)):
        steps = [
            same(f"{_name(item)}, due on {item.due}", money(item.open_on(day)), f"open:{key}")
            for key, item in still.items()
            if column_of(item, day) == at
        ]
        amount = money(getattr(found, name)) if found is not None else money(Decimal(0))
        yield figure(name, words, amount, steps or nothing)
    late = [(name, words) for name, words in zip(COLUMNS, AGES, strict=True) if name.startswith(("to_", "over_"))]
    amounts = {name: money(getattr(found, name)) if found is not None else money(Decimal(0)) for name in COLUMNS}
    yield figure("overdue", "Overdue", money(made.overdue), [same(words, amounts[name], name) for name, words in late])
    steps = [same(words, amounts[name], name) for name, words in zip(COLUMNS, AGES, strict=True)]
    yield figure("total", "Open, by age", money(made.open), steps)
