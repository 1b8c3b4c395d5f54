"""Parts: chains of replacement, kits, tiers, cores."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.rules.parts import KitItem, PriceTier, contents, cores_back, current_number, left_of, price_from_cost
from shopdocs.money import JPY, USD
from shopdocs.problems import BadInput

D = Decimal
TIERS = (PriceTier(D(5), D(100)), PriceTier(D(50), D(60)), PriceTier(None, D(35)))


def test_a_chain_of_replacements_is_followed_to_its_end() -> None:
    replaced = {"A-1": "A-2", "A-2": "A-3", "B-1": "A-2"}
    found = current_number("A-1", replaced)
    assert (found.number, found.words) == ("A-3", "A-1 is replaced by A-2, then by A-3")
    assert current_number("B-1", replaced).chain == ("B-1", "A-2", "A-3")
    assert current_number("A-3", replaced).words == ""


@pytest.mark.parametrize("replaced", [{"A": "A"}, {"A": "B", "B": "A"}, {"A": "B", "B": "C", "C": "B"}])
def test_a_loop_of_replacements_is_refused(replaced: dict[str, str]) -> None:
    with pytest.raises(BadInput, match="loop"):
        current_number("A", replaced)


@given(st.integers(1, 400))
def test_long_chains_end(length: int) -> None:
    replaced = {str(n): str(n + 1) for n in range(length)}
    found = current_number("0", replaced)
    assert found.number == str(length) and len(found.chain) == length + 1


def test_kits_within_kits_are_opened() -> None:
    kits = {
        "TUNE": [KitItem("PLUG", D(1)), KitItem("FUEL", D(2))],
        "FUEL": [KitItem("LINE", D("0.5")), KitItem("FILTER", D(1))],
    }
    assert contents("TUNE", D(3), kits) == {"PLUG": D(3), "LINE": D("3.0"), "FILTER": D(6)}
    assert contents("PLUG", D(2), kits) == {"PLUG": D(2)}
    assert contents("FUEL", D("0.5"), kits) == {"LINE": D("0.25"), "FILTER": D("0.5")}


def test_a_kit_in_itself_and_empty_quantities_are_refused() -> None:
    looped = {"A": [KitItem("B", D(1))], "B": [KitItem("A", D(1))]}
    for kits, quantity in ((looped, D(1)), ({"A": [KitItem("B", D(0))]}, D(1)), ({}, D(-1)), ({}, D("NaN"))):
        with pytest.raises(BadInput) as refused:
            contents("A", quantity, kits)
        assert refused.value.remedy


@pytest.mark.parametrize(
    ("cost", "price"),
    [("0", "0.00"), ("5.00", "10.00"), ("5.01", "8.02"), ("50.00", "80.00"), ("50.01", "67.51"), ("1000", "1350.00")],
)
def test_a_price_takes_the_markup_of_its_tier(cost: str, price: str) -> None:
    found = price_from_cost(D(cost), TIERS, USD)
    assert found.price == D(price)
    assert found.steps[0].amount == D(cost) and found.steps[-1].amount == D(price)


def test_a_price_stays_at_or_below_list() -> None:
    found = price_from_cost(D("4.00"), TIERS, USD, list_price=D("7.49"))
    assert (found.price, found.steps[-1].text) == (D("7.49"), "Not above the list price")
    assert price_from_cost(D("4.00"), TIERS, USD, list_price=D("8.00")).price == D("8.00")
    assert price_from_cost(D("3"), TIERS, JPY).price == D("6")


@pytest.mark.parametrize(
    "tiers",
    [
        (),
        (PriceTier(D(5), D(10)),),
        (PriceTier(D(5), D(10)), PriceTier(D(5), D(9)), PriceTier(None, D(8))),
        (PriceTier(D(9), D(10)), PriceTier(D(5), D(9)), PriceTier(None, D(8))),
        (PriceTier(None, D(10)), PriceTier(D(5), D(9)), PriceTier(None, D(8))),
        (PriceTier(None, D(-1)),),
        (PriceTier(None, D(1001)),),
    ],
)
def test_tiers_that_leave_a_gap_are_refused(tiers: tuple[PriceTier, ...]) -> None:
    with pytest.raises(BadInput):
        price_from_cost(D(1), tiers, USD)


def test_a_core_comes_off_once_with_its_old_core_or_with_the_unused_part() -> None:
    assert cores_back(D(2), [(False, D(1)), (True, D(1))]) == (D(1), D(1))
    assert cores_back(D(2), [(False, D(2)), (True, D(1))]) == (D(2), D(0))
    assert cores_back(D(3), [(True, D(2)), (False, D(2))]) == (D(2), D(1))
    assert left_of(D(3), [(True, D(1)), (False, D(1))]) == (D(2), D(1))
    assert left_of(D("1.5"), []) == (D("1.5"), D("1.5"))
