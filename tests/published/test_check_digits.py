"""Check digits: the double-add-double formula (modulus 10; ISO/IEC 7812-1, Annex B), by which a payment card's number is refused.

It is the one check digit that the product itself computes. The rule was read as the health authority's "Requirements for NPI
Check Digit" is quoted at https://forums.studentdoctor.net/threads/npi-check-digit-validation.406385 : double alternate digits from
the rightmost on, add the digits of all, and what lacks to the next ten is the check digit; a total that ends in zero gives zero.
"""

from __future__ import annotations

import pytest

from shopdocs.card_numbers import holds_card_number, luhn_passes

# Body, check digit, where it was read.
EXAMPLES = [
    ("80840123456789", "3", "the same requirements, example with prefix; body read, the digit from memory and computed"),
    ("80840155859879", "7", "http://makdns.blogspot.com/search/label/algorithm?m=0 , worked step by step; read"),
    ("876", "3", "https://gist.github.com/reol224/starred , 'total ends in 0', worked; read"),
    ("1234", "4", "https://app.unpkg.com/cdigit@2.6.6/files/example.js ; read"),
    ("7894", "9", "https://app.unpkg.com/stdnum@1.11.3/files/src/util/checksum.spec.ts ; read"),
    ("8667046", "0", "the same list: a total that is a multiple of ten; read"),
    ("3028037833100", "5", "https://docs.rs/codes-check-digits/latest/codes_check_digits/luhn/ , US0378331005 with U = 30, S = 28; read"),
    ("7992739871", "3", "U.S. patent 2,950,048 names the formula; the worked number is from memory"),
]  # fmt: skip


@pytest.mark.parametrize(("body", "check", "source"), EXAMPLES, ids=[row[0] for row in EXAMPLES])
def test_the_published_check_digit_is_the_only_one_that_passes(body: str, check: str, source: str) -> None:
    assert [digit for digit in "0123456789" if luhn_passes(body + digit)] == [check], source


def test_a_number_that_is_published_as_wrong_is_wrong() -> None:
    """1111: total 6, not a multiple of ten (the third source above)."""
    assert not luhn_passes("1111")


@pytest.mark.parametrize("body", [row[0] for row in EXAMPLES if len(row[0]) >= 12])
def test_a_text_is_refused_for_the_published_digit_and_for_no_other(body: str) -> None:
    """As the doors ask it: a number as long as a card's, alone or in groups, with its own check digit and no other."""
    check = next(row[1] for row in EXAMPLES if row[0] == body)
    for digit in "0123456789":
        number = body + digit
        groups = " ".join(number[at : at + 4] for at in range(0, len(number), 4))
        # Fewer of its groups may make a card's number too; so the bare number is what the digit alone decides.
        assert holds_card_number(f"paid with {number}") is (digit == check)
        assert digit != check or holds_card_number(f"paid with {groups}, thank you")
