"""Grounds a written consumer warranty may not rest on: 16 CFR 700.10 (with the 2015 changes) and 700.7.

Text of title 16, paragraphs 2693 and 2690 of github.com/codexstanford/markdown-chunk-of-the-usa-code-of-federal-regulation, read.
"""

from __future__ import annotations

from datetime import date

import pytest

from tests.warranty.coverage.kit import LAW, decided, finding, unit
from warranty.coverage.terms import Term, term_from_dict
from warranty.coverage.words import words


def promise(**more: object) -> Term:
    return term_from_dict({
        "id": "booklet", "version": 1, "title": "a maker's booklet", "giver": "maker", "giver_name": "Fernhollow",
        "components": {"all": True}, "period": {"months": 12}, "consumer_product": True,
        "source": {"cite": "booklet", "edition": "2024", "address": "shop file", "confidence": "invented"}, **more,
    })  # fmt: skip


TIE = {"excludes": [
    {"ground": "service_elsewhere", "when": {"serviced_by": ["independent", "owner"]}},
    {"ground": "other_parts", "when": {"other_parts": True}},
]}  # fmt: skip
BLADE = finding(component="blade", assembly="unit", found_on=date(2024, 9, 1))


@pytest.mark.parametrize("facts", [{"serviced_by": "independent"}, {"serviced_by": "owner"}, {"other_parts": True}])
def test_a_tie_to_service_or_parts_is_void_on_a_consumer_product(facts: dict[str, object]) -> None:
    """700.10(a) to (c)."""
    terms = (*LAW, promise(**TIE))
    assert decided(unit(**facts), BLADE, terms).by == ("booklet",)


@pytest.mark.parametrize("facts", [{"serviced_by": "independent"}, {"other_parts": True}])
def test_a_commercial_term_is_judged_by_its_own_words(facts: dict[str, object]) -> None:
    terms = (*LAW, promise(**{**TIE, "consumer_product": False}))
    assert decided(unit(**facts), BLADE, terms).answer == "not_covered"


@pytest.mark.parametrize("facts", [{"serviced_by": "independent"}, {"other_parts": True}])
def test_a_promise_that_does_not_say_what_it_is_leaves_it_open(facts: dict[str, object]) -> None:
    """Whether the law binds it is not guessed: it is asked for, with what each answer means, and the ground says so."""
    terms = (*LAW, promise(**{**TIE, "consumer_product": None}))
    decision = decided(unit(**facts), BLADE, terms)
    assert (decision.answer, decision.missing_proof) == ("cannot_say_yet", ())
    (asked,) = decision.settling
    assert (asked.fact, asked.of, asked.terms) == ("term.consumer_product", "booklet", ("booklet",))
    assert asked.values == ((True, "covered"), (False, "not_covered"))
    notes = {one.note for one in decision.forbidden if "700.10" in one.source}
    assert notes and all("whether this is one is not recorded" in note for note in notes)
    said = " ".join(words(decision))
    assert "(whether the promise is one on a consumer product). yes: covered; no: not covered." in said
    # It is asked only where something turns on it.
    plain = {"serviced_by": "authorised", "other_parts": False}
    assert decided(unit(**plain), BLADE, terms).answer == "covered"
    assert decided(unit(sold_on=date(2019, 1, 1)), BLADE, terms).answer == "not_covered"


def test_damage_that_the_service_caused_may_still_be_refused() -> None:
    """700.10(c): what the warrantor can show to be caused by an unauthorised part or service."""
    found = finding(
        component="blade", assembly="unit", found_on=date(2024, 9, 1), cause="assembly", done_by="other_shop"
    )
    assert decided(unit(serviced_by="independent"), found, (*LAW, promise(**TIE))).answer == "not_covered"


def test_the_ban_is_named_with_the_term_it_binds() -> None:
    decision = decided(unit(serviced_by="independent"), BLADE, (*LAW, promise(**TIE)))
    (named,) = [one for one in decision.forbidden if one.used and one.ground == "service_elsewhere"]
    assert (named.term, "700.10" in named.source) == ("booklet", True)


@pytest.mark.parametrize(("full", "answer"), [(True, "covered"), (False, "not_covered"), (None, "cannot_say_yet")])
def test_a_registration_card_is_no_condition_of_a_full_warranty(full: bool | None, answer: str) -> None:
    """700.7; it says nothing against one under a limited warranty."""
    terms = (*LAW, promise(full=full, requires={"registered_within_days": 30}))
    assert decided(unit(registered=False, registered_on=None), BLADE, terms).answer == answer


@pytest.mark.parametrize(
    ("day", "answer"), [(date(2024, 6, 1), "covered"), (date(2024, 6, 2), "covered"), (date(2024, 6, 3), "not_covered")]
)
def test_registration_within_thirty_days_of_the_sale(day: date, answer: str) -> None:
    """The event day is not counted: sold 3 May, the thirtieth day is 2 June (published.md 3.4)."""
    terms = (promise(requires={"registered_within_days": 30}),)
    assert decided(unit(registered_on=day), BLADE, terms).answer == answer
