"""What cannot be printed is told in words, before a paper is drawn."""

from __future__ import annotations

from dataclasses import replace

from orders.papers import estimate
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.press.unprintable import MOST, cannot_print
from tests import papers_samples as samples


def test_each_character_is_told_once_with_its_place() -> None:
    facts = {
        "customer": {"name": "Łukasz ᚠ", "lines": ["fine", "ᚠ\x00"]},
        "jobs": [{"found_by": "é中"}, {"found_by": "\ue000"}],
    }
    assert cannot_print(facts) == [
        "Runic letter fehu feoh fe f (U+16A0) in customer, name",
        "A character without a name (U+0000) in customer, lines 2",
        "A character without a name (U+E000) in jobs 2, found by",
    ]
    assert cannot_print({"name": "محمد हिन्दी 中 😀"}) == cannot_print(None) == cannot_print([1, 2.5, True]) == []
    assert cannot_print("ⵣ") == ["Tifinagh letter yaz (U+2D63)"]


def test_the_place_is_the_same_in_whatever_order_a_database_keeps_the_names() -> None:
    texts: list[tuple[str, object]] = [("legal", [{"value": "ᚠ"}]), ("customer", {"name": "ᚠ"})]
    told = ["Runic letter fehu feoh fe f (U+16A0) in customer, name"]
    assert cannot_print(dict(texts)) == cannot_print(dict(reversed(texts))) == told


def test_a_whole_strange_alphabet_is_not_told_letter_by_letter() -> None:
    told = cannot_print({"note": "".join(chr(0x16A0 + at) for at in range(MOST + 5))})
    assert len(told) == MOST + 1 and told[-1] == "and 5 more characters"


def test_the_sheet_tells_what_the_drawn_paper_replaces() -> None:
    sheet = samples.estimate(customer=replace(samples.CUSTOMER, name="Freya ᚠ"), request="\x07 stalls ⵣ, 中 hot")
    drawn = estimate.draw(sheet, {})
    told = " ".join(cannot_print(to_json(sheet)))
    assert len(drawn.replaced) == 3
    assert all(f"U+{ord(one):04X}" in told for one in drawn.replaced)
    assert "in customer, name" in told and "in request" in told
