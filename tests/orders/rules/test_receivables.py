"""Open items: ageing at its edges, and accounts that add up on every day."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.rules.receivables import Entry, Item, Posted, account, ageing, can_be_refunded, reconcile
from shopdocs.problems import BadInput

D = Decimal
DUE = date(2026, 3, 31)


def item(payer: str = "customer", asked: str = "100.00", posted: tuple[Posted, ...] = ()) -> Item:
    """An item issued on 1 March and due on the 31st."""
    return Item("R-1", payer, D(asked), date(2026, 3, 1), DUE, posted)


@pytest.mark.parametrize(
    ("late", "column"),
    [
        (-1, "not_due"),
        (0, "not_due"),
        (1, "to_30"),
        (30, "to_30"),
        (31, "to_60"),
        (60, "to_60"),
        (61, "to_90"),
        (90, "to_90"),
        (91, "over_90"),
    ],
)
def test_ageing_at_its_edges(late: int, column: str) -> None:
    (found,) = ageing([item()], DUE + timedelta(days=late))
    assert getattr(found, column) == found.total == D("100.00")


def test_payers_are_kept_apart_and_settled_ones_left_out() -> None:
    paid = Posted(Entry.PAYMENT, D("100.00"), date(2026, 3, 5))
    found = ageing([item("warranty", "40.00"), item("customer", posted=(paid,)), item("goodwill", "5.00")], DUE)
    assert [(age.payer, age.total) for age in found] == [("goodwill", D("5.00")), ("warranty", D("40.00"))]


def test_an_item_is_not_owed_before_it_is_issued() -> None:
    assert item().open_on(date(2026, 2, 28)) == 0
    assert item().open_on(date(2026, 3, 1)) == D("100.00")
    assert ageing([item()], date(2026, 2, 28)) == ()


def test_a_refund_undoes_a_payment() -> None:
    posted = (Posted(Entry.PAYMENT, D("120"), DUE), Posted(Entry.REFUND, D("20"), DUE + timedelta(days=1)))
    account = item(posted=posted)
    assert account.open_on(DUE) == D("-20.00")
    assert account.open_on(DUE + timedelta(days=1)) == 0
    found = reconcile([account], "customer", DUE + timedelta(days=1))
    assert (found.paid, found.open) == (D("100"), D("0.00"))


DAYS = st.integers(0, 200).map(lambda n: date(2026, 3, 1) + timedelta(days=n))
POSTED = st.builds(Posted, st.sampled_from(Entry), st.integers(1, 9999).map(lambda cents: D(cents) / 100), DAYS)
ITEMS = st.builds(
    Item,
    st.just("R"),
    st.sampled_from(["customer", "warranty"]),
    st.integers(0, 99999).map(lambda cents: D(cents) / 100),
    st.just(date(2026, 3, 1)),
    DAYS,
    st.lists(POSTED, max_size=5).map(tuple),
)


@given(st.lists(ITEMS, max_size=8), DAYS)
def test_asked_is_paid_credited_written_off_or_open_on_every_day(items: list[Item], day: date) -> None:
    for payer in ("customer", "warranty"):
        found = reconcile(items, payer, day)
        assert found.asked == found.paid + found.credited + found.written_off + found.open
        assert sum(step.amount or 0 for step in found.steps[:-1]) == found.steps[-1].amount == found.open
        aged = next((age.total for age in ageing(items, day) if age.payer == payer), D(0))
        assert aged == found.open


@pytest.mark.parametrize("amount", ["0", "-1", "NaN", "1e400"])
def test_refuses_an_entry_of_nothing(amount: str) -> None:
    with pytest.raises(BadInput):
        Posted(Entry.PAYMENT, D(amount), DUE)


def test_money_held_before_the_invoice_lessens_no_column() -> None:
    ahead = Posted(Entry.PAYMENT, D("30.00"), date(2026, 2, 20))
    early = item(posted=(ahead,))
    assert early.open_on(date(2026, 2, 19)) == 0
    assert early.open_on(date(2026, 2, 20)) == D("-30.00")
    found = reconcile([early], "customer", date(2026, 2, 20))
    assert (found.asked, found.paid, found.open) == (D(0), D("30.00"), D("-30.00"))
    (aged,) = ageing([early, item(asked="50.00")], date(2026, 2, 28))
    assert (aged.held, aged.not_due, aged.total) == (D("-30.00"), D(0), D("-30.00"))
    (aged,) = ageing(
        [item(posted=(Posted(Entry.PAYMENT, D("130"), DUE),)), item(asked="50.00")], DUE + timedelta(days=1)
    )
    assert (aged.held, aged.to_30, aged.overdue, aged.total) == (D("-30"), D("50.00"), D("50.00"), D("20.00"))


def test_a_refund_never_reaches_beyond_what_had_come_by_then_or_later() -> None:
    first, second = Posted(Entry.PAYMENT, D(40), DUE), Posted(Entry.PAYMENT, D(60), DUE + timedelta(days=5))
    back = Posted(Entry.REFUND, D(30), DUE + timedelta(days=2))
    written = Posted(Entry.WRITE_OFF, D(7), DUE)
    for day, most in ((-1, 0), (0, 10), (1, 10), (2, 10), (4, 10), (5, 70), (9, 70)):
        assert can_be_refunded([first, back, second, written], DUE + timedelta(days=day)) == most, day
    assert can_be_refunded([], DUE) == 0


@given(st.lists(POSTED, max_size=8), DAYS)
def test_what_can_be_refunded_leaves_no_day_below_zero(posted: list[Posted], day: date) -> None:
    most = can_be_refunded(posted, day)
    everything = [*posted, *((Posted(Entry.REFUND, most, day),) if most else ())]
    signs = {Entry.PAYMENT: 1, Entry.REFUND: -1}

    def held(rows: list[Posted], on: date) -> Decimal:
        return sum((signs.get(one.what, 0) * one.amount for one in rows if one.on <= on), D(0))

    later = [day, *(one.on for one in posted if one.on >= day)]
    if min(held(posted, on) for on in later) >= 0:
        assert min(held(everything, on) for on in later) == 0
    else:
        assert most == 0


def test_a_statement_line_by_line() -> None:
    posted = (
        Posted(Entry.PAYMENT, D("30"), date(2026, 2, 27), "Deposit", "cash"),
        Posted(Entry.PAYMENT, D("50"), date(2026, 3, 10), "Payment", "check"),
        Posted(Entry.REFUND, D("50"), date(2026, 3, 12), "Paid back", "it bounced"),
        Posted(Entry.CREDIT, D("5"), date(2026, 3, 20), "Credit note CN-1"),
        Posted(Entry.WRITE_OFF, D("65"), date(2026, 5, 2), "Written off", "moved away"),
    )
    one = Item("I-1", "customer", D("100"), date(2026, 3, 1), DUE, posted, "Invoice I-1", "RO-7")
    found = account([one], date(2026, 3, 1), date(2026, 4, 30))
    assert (found.carried, found.asked, found.received, found.open) == (D("-30"), D("100"), D("5"), D("65"))
    assert [(line.title, line.words, line.asked, line.received, line.balance) for line in found.lines] == [
        ("Invoice I-1", "RO-7", D("100"), None, D("70")),
        ("Payment", "I-1 · check", None, D("50"), D("20")),
        ("Paid back", "I-1 · it bounced", None, D("-50"), D("70")),
        ("Credit note CN-1", "I-1", None, D("5"), D("65")),
    ]
    assert (found.overdue, found.items) == (D("65"), (one,))
    assert sum(step.amount or 0 for step in found.steps[:-1]) == found.open
    later = account([one], date(2026, 5, 1), date(2026, 5, 31))
    assert (later.carried, later.open, later.overdue, later.items) == (D("65"), D(0), D(0), ())
    with pytest.raises(BadInput, match="lies after"):
        account([one], date(2026, 3, 2), date(2026, 3, 1))
    assert account([], DUE, DUE).open == 0


@given(st.lists(ITEMS, max_size=5), DAYS, DAYS)
def test_statements_carry_on_where_the_last_one_ended(items: list[Item], one: date, other: date) -> None:
    first, last = min(one, other), max(one, other)
    whole = account(items, date(2026, 1, 1), last)
    early = account(items, date(2026, 1, 1), first)
    late = account(items, first + timedelta(days=1), last) if first < last else None
    assert whole.carried == 0
    for made in (whole, early, late):
        if made is not None:
            assert made.carried + made.asked - made.received == made.open
            assert [line.balance for line in made.lines[-1:]] in ([made.open], [])
    if late is not None:
        assert (late.carried, late.open) == (early.open, whole.open)
        assert late.asked + early.asked == whole.asked
