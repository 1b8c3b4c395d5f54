"""Who pays when one of several terms covers, and which of them depends on a fact that is not known."""

from __future__ import annotations

from typing import Any

import pytest

from tests.warranty.coverage.kit import decided, unit
from warranty.coverage.terms import Term, term_from_dict
from warranty.coverage.words import words


def promise(name: str, giver: str, use: list[str], **more: Any) -> Term:
    """Two years on the carburettor for some uses."""
    record: dict[str, Any] = {
        "id": name, "version": 1, "title": f"Promise {name}", "giver": giver, "components": {"codes": ["carburettor"]},
        "source": {"cite": "card", "edition": "1", "address": "shop file", "confidence": "invented"}, "start": {"from": "sale"},
        "period": {"months": 24}, "causes": ["defect"], **({"use_classes": use} if use else {}), "pays": {"parts": True, "labour": True},
    }  # fmt: skip
    if giver == "maker":
        record["giver_name"] = "Fernhollow"
    return term_from_dict(record | more)


def for_home(giver: str) -> Term:
    return promise("home", giver, ["residential"])


def for_work(giver: str) -> Term:
    return promise("work", giver, ["commercial", "rental"])


UNKNOWN_USE = unit(use_class=None)


def test_two_promises_of_the_shop_make_the_shop_pay_whichever_of_them_it_is() -> None:
    decision = decided(UNKNOWN_USE, terms=(for_home("shop"), for_work("shop")))
    assert (decision.answer, decision.by, decision.by_one_of) == ("covered", (), ("home", "work"))
    assert decision.payer == "shop"
    assert "warranty" not in decision.could_pay
    assert decision.route.way == "repair_and_claim"
    assert "The shop should pay, under its own warranty." in "\n".join(words(decision))


def test_two_promises_of_others_are_a_warranty() -> None:
    decision = decided(UNKNOWN_USE, terms=(for_home("maker"), for_work("maker")))
    assert (decision.answer, decision.payer) == ("covered", "warranty")


@pytest.mark.parametrize(("home", "work"), [("shop", "maker"), ("maker", "shop")])
def test_the_shops_promise_or_a_makers_leaves_open_who_pays_and_names_both(home: str, work: str) -> None:
    decision = decided(UNKNOWN_USE, terms=(for_home(home), for_work(work)))
    assert (decision.answer, decision.payer) == ("covered", "open")
    assert set(decision.could_pay) >= {"shop", "warranty"}
    assert decision.route.maker == "Fernhollow"  # the one that may need approval
    assert "a warranty or the shop, under its own" in "\n".join(words(decision))


def test_once_the_use_is_known_the_payer_is_too() -> None:
    terms = (for_home("shop"), for_work("maker"))
    assert decided(unit(use_class="residential"), terms=terms).payer == "shop"
    assert decided(unit(use_class="rental"), terms=terms).payer == "warranty"


@pytest.mark.parametrize("written", ["Fernhollow", "FERNHOLLOW", "  fernhollow", "Fernhollow "])
@pytest.mark.parametrize(("allowed", "way"), [(True, "repair_and_claim"), (False, "send_on")])
def test_the_shops_standing_with_a_maker_is_found_however_the_name_is_written(
    written: str, allowed: bool, way: str
) -> None:
    machine = unit(authorised={written: allowed}, approval_needed={written.upper(): False})
    assert decided(machine, terms=(for_home("maker"),)).route.way == way


def test_two_ways_to_write_a_maker_with_two_answers_are_none() -> None:
    machine = unit(authorised={"Fernhollow": True, "FERNHOLLOW": False})
    assert decided(machine, terms=(for_home("maker"),)).route.way == "not_known"
    assert decided(unit(authorised={"Fernhill": True}), terms=(for_home("maker"),)).route.way == "not_known"


def test_a_name_with_another_number_of_spaces_is_the_same_maker_to_terms_too() -> None:
    spaced = promise("home", "maker", [], giver_name="Fern  Hollow", machines={"models": ["FW  53"]})
    machine = unit(maker="fern hollow ", model="FW 53")
    assert decided(machine, terms=(spaced,)).answer == "covered"
    assert decided(unit(maker="Fern Hill", model="FW 53"), terms=(spaced,)).answer == "not_covered"


@pytest.mark.parametrize(
    ("better", "plain"),
    [
        ({"labour_percent": "110"}, {}),
        ({"parts_percent": "110"}, {"labour_percent": "100"}),
        ({"labour_percent": "10"}, {"diagnosis": True, "freight": True, "pick_up": True}),
    ],
)
def test_the_best_paid_for_the_shop_goes_by_recorded_percentages_before_the_number_of_kinds_and_the_id(
    better: dict[str, Any], plain: dict[str, Any]
) -> None:
    """'a' loses every tie by its id, and pays for no more kinds of cost: only what it pays of them tells it apart."""
    pays: dict[str, Any] = {"parts": True, "labour": True}
    paid = promise("a", "maker", [], pays=pays | better)
    rest = promise("z", "maker", [], pays=pays | plain)
    for terms in ((paid, rest), (rest, paid)):
        decision = decided(unit(), terms=terms)
        assert (decision.answer, decision.best_for_customer, decision.best_paid) == ("covered", "z", "a")
    level = decided(unit(), terms=(promise("a", "maker", [], pays=pays), rest))
    assert level.best_paid == "z"
