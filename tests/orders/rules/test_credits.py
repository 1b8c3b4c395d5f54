"""Taking back parts of an invoice: each with its tax, all of them together the whole, never more."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.rules.credits import Charged, TakenTax, share_tax, take_back
from shopdocs.money import JPY, USD
from shopdocs.problems import BadInput

D = Decimal
STATE, TOWN = ("State", "6"), ("Town", "1")
PLUG = Charged("plug", D("6.25"), ((STATE, D("0.38")), (TOWN, D("0.06"))))
WORK = Charged("work", D("76.00"))


def test_a_whole_line_goes_back_with_the_tax_that_was_on_it() -> None:
    back = take_back([PLUG, WORK], {"plug": None}, USD)
    assert back.lines == (("plug", D("6.25")),)
    assert back.taxes == (TakenTax(STATE, D("6.25"), D("0.38")), TakenTax(TOWN, D("6.25"), D("0.06")))
    assert (back.net, back.total) == (D("6.25"), D("6.69"))


def test_untaxed_work_goes_back_alone_and_all_lines_make_the_whole() -> None:
    assert take_back([PLUG, WORK], {"work": None}, USD).total == D("76.00")
    assert take_back([PLUG, WORK], {"work": None, "plug": None}, USD).total == D("82.69")


def test_prices_that_hold_their_tax() -> None:
    line = Charged("plug", D("10.70"), ((STATE, D("0.60")), (TOWN, D("0.10"))), inclusive=True)
    back = take_back([line], {"plug": None}, USD)
    assert (back.net, back.total) == (D("10.00"), D("10.70"))
    assert [tax.base for tax in back.taxes] == [D("10.00"), D("10.00")]


@pytest.mark.parametrize(
    ("wanted", "said"),
    [
        ({"nut": None}, "no such line"),
        ({"plug": D("0")}, "takes nothing"),
        ({"plug": D("-1")}, "takes nothing"),
        ({"plug": D("6.26")}, r"more than is left of the line \(6.25\)"),
        ({"plug": D("1.001")}, "more decimals"),
        ({"plug": D("NaN")}, "not an amount"),
        ({"plug": D("1e400")}, "too large"),
        ({"core": D("5")}, "takes nothing"),
        ({"gone": None}, "taken back already"),
    ],
)
def test_refuses(wanted: dict[str, Decimal | None], said: str) -> None:
    lines = [PLUG, Charged("core", D("-12.00")), Charged("gone", D("3.00"), credited=D("3.00"))]
    with pytest.raises(BadInput, match=said) as bad:
        take_back(lines, wanted, USD)
    assert bad.value.field == next(iter(wanted))


def test_a_tax_is_shared_out_to_the_cent() -> None:
    assert share_tax(D("0.10"), [D("1.00"), D("1.00"), D("1.00")], USD) == (D("0.04"), D("0.03"), D("0.03"))
    assert share_tax(D("-1"), [D("-3"), D("-4")], JPY) == (D("0"), D("-1"))
    assert share_tax(D("0.01"), [D("5.00"), D("-5.00")], USD) == (D("0.01"), D("0.00"))
    assert share_tax(D("0.00"), [], USD) == ()


CENTS = st.integers(-20_000, 90_000).filter(bool).map(lambda units: D(units) / 100)


@given(
    st.lists(CENTS, min_size=1, max_size=5),
    st.integers(0, 9_999).map(lambda units: D(units) / 100),
    st.lists(st.tuples(st.integers(0, 4), st.integers(1, 99)), max_size=8),
    st.booleans(),
)
def test_parts_in_any_order_add_up_to_what_was_charged(
    amounts: list[Decimal], tax: Decimal, parts: list[tuple[int, int]], inclusive: bool
) -> None:
    shares = share_tax(tax, amounts, USD)
    assert sum(shares) == tax
    lines = [
        Charged(str(at), amount, ((STATE, share),), inclusive)
        for at, (amount, share) in enumerate(zip(amounts, shares, strict=True))
    ]
    nets, taxes, totals = D(0), D(0), D(0)

    def take(key: str, amount: Decimal | None) -> None:
        nonlocal nets, taxes, totals
        back = take_back(lines, {key: amount}, USD)
        assert back.total == back.net + sum(one.amount for one in back.taxes)
        assert sum(part for _, part in back.lines) == (back.total if inclusive else back.net)
        nets, taxes, totals = nets + back.net, taxes + sum(one.amount for one in back.taxes), totals + back.total
        ((_, part),) = back.lines
        old = lines[int(key)]
        lines[int(key)] = Charged(old.key, old.amount, old.taxes, inclusive, old.credited + part)

    for at, percent in parts:
        left = lines[at].left if at < len(lines) else D(0)
        part = (left * percent / 100).quantize(D("0.01"))
        if part:
            take(str(at), part)
    for line in list(lines):
        if line.left:
            take(line.key, None)
    assert all(not line.left for line in lines)
    assert taxes == tax
    assert totals == (sum(amounts) if inclusive else sum(amounts) + tax)
    assert nets == totals - tax
