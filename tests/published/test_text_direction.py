"""UAX #9, Unicode Bidirectional Algorithm: rows of Unicode's own conformance file, and an independent implementation.

The rows are those of BidiCharacterTest.txt (Unicode Character Database) without formatting characters, which no text of
ours keeps: code points; direction asked (0, 1, 2: found by P2 and P3); paragraph level; levels; visual order.
"""

from __future__ import annotations

import random
import unicodedata

import pytest

from shopdocs.documents.press.turning import MIRRORED, base_level, levels, seen_order

ROWS = """
05D0 05D1 0028 05D2 05D3 005B 0026 0065 0066 005D 002E 0029 0067 0068;0;0;1 1 0 1 1 0 0 0 0 0 0 0 0 0;1 0 2 4 3 5 6 7 8 9 10 11 12 13
05D0 05D1 0028 05D2 05D3 005B 0026 0065 0066 005D 002E 0029 0067 0068;1;1;1 1 1 1 1 1 1 2 2 1 1 1 2 2;12 13 11 10 9 7 8 6 5 4 3 2 1 0
0061 0062 0063 0020 0028 0064 0065 0066 0020 0627 0628 062C 0029 0020 05D0 05D1 05D2;0;0;0 0 0 0 0 0 0 0 0 1 1 1 0 0 1 1 1;0 1 2 3 4 5 6 7 8 11 10 9 12 13 16 15 14
0061 0062 0063 0020 0028 0064 0065 0066 0020 0627 0628 062C 0029 0020 05D0 05D1 05D2;1;1;2 2 2 1 1 2 2 2 1 1 1 1 1 1 1 1 1;16 15 14 13 12 11 10 9 8 5 6 7 4 3 0 1 2
05D0 05D1 05D2 0020 0028 0064 0065 0066 0020 0627 0628 062C 0029 0020 0061 0062 0063;0;0;1 1 1 0 0 0 0 0 0 1 1 1 0 0 0 0 0;2 1 0 3 4 5 6 7 8 11 10 9 12 13 14 15 16
05D0 05D1 05D2 0020 0028 0064 0065 0066 0020 0627 0628 062C 0029 0020 0061 0062 0063;1;1;1 1 1 1 1 2 2 2 1 1 1 1 1 1 2 2 2;14 15 16 13 12 11 10 9 8 5 6 7 4 3 2 1 0
0061 0062 0063 0020 0028 0627 0628 062C 0020 0064 0065 0066 0029 0020 05D0 05D1 05D2;1;1;2 2 2 1 1 1 1 1 1 2 2 2 1 1 1 1 1;16 15 14 13 12 9 10 11 8 7 6 5 4 3 0 1 2
0627 0628 062C 0020 0062 006F 006F 006B 0028 0073 0029;0;0;1 1 1 0 0 0 0 0 0 0 0;2 1 0 3 4 5 6 7 8 9 10
0627 0628 062C 0020 0062 006F 006F 006B 0028 0073 0029;1;1;1 1 1 1 2 2 2 2 2 2 2;4 5 6 7 8 9 10 3 2 1 0
062A 0031 002F 0032;2;1;1 2 2 2;1 2 3 0
062A 0031 002F 0032;0;0;1 2 2 2;1 2 3 0
05D0 0020 0031 002D 0032;0;0;1 1 2 2 2;2 3 4 1 0
0028 05D0 0029 0028 0029 0061;0;0;0 1 0 0 0 0;0 1 2 3 4 5
0061 0028 2680 0062 0029 0028 0063 0029;0;0;0 0 0 0 0 0 0 0;0 1 2 3 4 5 6 7
05D0 0028 0028 05D1 0029 0061 0029 2680;0;0;1 0 0 1 0 0 0 0;0 1 2 3 4 5 6 7
0028 2680 0029 05D0 005B 0061 05D1 005D;0;0;0 0 0 1 0 0 1 0;0 1 2 3 4 5 6 7
0028 05D0 0029 0061 05D1 005B 005D 05D2;0;0;0 1 0 0 1 1 1 1;0 1 2 3 7 6 5 4
2680 0028 2681 05D0 0029 0028 0061 0029;1;1;1 1 1 1 1 1 2 1;7 6 5 4 3 2 1 0
0028 2680 0028 2681 0029 2682 05D0 0029;1;1;1 1 1 1 1 1 1 1;7 6 5 4 3 2 1 0
0028 0061 05D0 0028 05D1 0029 0062 0029;1;1;1 2 1 1 1 1 2 1;7 6 5 4 3 2 1 0
0028 0029 0061 05D0 0062 005B 2680 005D;1;1;1 1 2 1 2 1 1 1;7 6 5 4 3 2 1 0
0028 0061 005B 05D0 005D 2680 0029 0062;1;1;1 2 1 1 1 1 1 2;7 6 5 4 3 2 1 0
"""
TYPED = "אבגاب12٣٤,.:+-%$()[]<>«»abc?!/ \u0301\u064b€#"


@pytest.mark.parametrize("row", ROWS.split("\n")[1:-1])
def test_rows_of_the_conformance_file(row: str) -> None:
    points, asked, base, wanted, order = row.split(";")
    text = "".join(chr(int(point, 16)) for point in points.split())
    own = base_level(text) if asked == "2" else int(asked)
    assert own == int(base)
    found = levels(text, own)
    assert found == [int(level) for level in wanted.split()]
    assert seen_order(text, found, own) == [int(place) for place in order.split()]


def test_another_implementation_turns_random_lines_alike() -> None:
    from bidi import get_display

    rng = random.Random(9)
    for _ in range(4000):
        text = "".join(rng.choice(TYPED) for _ in range(rng.randrange(1, 16)))
        base = base_level(text)
        seen = "".join(text[at] for at in seen_order(text, levels(text, base), base))
        assert seen == get_display(text, base_dir="LR"[base]), ascii(text)


@pytest.mark.parametrize(
    ("lines", "seen"),
    [
        (["the saw of", "שרה לוי and", "Ana"], ["the saw of", "יול הרש and", "Ana"]),
        (["מסור של", "Ana Ruiz", "12 שנים"], ["לש רוסמ", "Ana Ruiz", "םינש 12"]),
        (["see (אב", "גד) now"], ["see (בא", "דג) now"]),
        (["אב (גד", "הו)"], ["דג) בא", "(וה"]),
        (["call", "אב 12-15", "then"], ["call", "12-15 בא", "then"]),
    ],
)
def test_lines_keep_the_direction_that_their_paragraph_has(lines: list[str], seen: list[str]) -> None:
    """UAX #9, 3 and 3.4: the direction is the paragraph's; lines are turned one by one after they are broken."""
    paragraph, at = " ".join(lines), 0
    base = base_level(paragraph)
    found = levels(paragraph, base)
    for line, wanted in zip(lines, seen, strict=True):
        own = found[at : at + len(line)]
        at += len(line) + 1
        order = seen_order(line, own, base)
        assert "".join(MIRRORED.get(line[one], line[one]) if own[one] % 2 else line[one] for one in order) == wanted


def test_spaces_at_the_end_of_a_line_stay_at_its_end() -> None:
    """UAX #9, L1: they take the paragraph's level, wherever the line was broken."""
    found = levels("a אב   גד", 0)
    assert seen_order("a אב   ", found[:7], 0) == [0, 1, 3, 2, 4, 5, 6]
    found = levels("אב abc   def", 1)
    assert seen_order("אב abc   ", found[:9], 1) == [8, 7, 6, 3, 4, 5, 2, 1, 0]


def test_signs_that_face_a_side_face_the_other_when_they_are_turned() -> None:
    """UAX #9, L4."""
    assert (MIRRORED["("], MIRRORED["»"], MIRRORED["「"], MIRRORED["≤"]) == (")", "«", "」", "≥")
    assert all(MIRRORED[MIRRORED[one]] == one for one in MIRRORED)
    assert {one for one in MIRRORED if not unicodedata.mirrored(one)} <= set("⦃⦄")
