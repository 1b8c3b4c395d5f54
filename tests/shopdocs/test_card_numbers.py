"""Card numbers in what people type: found in any spelling; other numbers are left alone."""

import random

import pytest

from shopdocs.card_numbers import LONGEST, SHORTEST, holds_card_number, luhn_passes

# Numbers that payment processors publish for tests, from memory; 12 to 19 digits.
PUBLISHED = (
    "4111111111111111", "5555555555554444", "2223003122003222", "378282246310005", "6011111111111117",
    "30569309025904", "38520000023237", "3530111333300000", "4222222222222", "501800000009", "6304000000000000",
    "6759649826438453", "6799990100000000019",
)  # fmt: skip


@pytest.mark.parametrize("number", PUBLISHED)
def test_published_test_numbers_are_found_in_every_spelling(number: str) -> None:
    fours = [number[at : at + 4] for at in range(0, len(number), 4)]
    for written in (
        number, " ".join(fours), "-".join(fours), " - ".join(fours), "\u2013".join(fours), "\u00a0".join(fours),
        ".".join(fours), f"paid with {' '.join(fours)} 05/27", f"card:{number}.", f"({number})",
        "".join(chr(0xFF10 + int(digit)) for digit in number),
    ):  # fmt: skip
        assert holds_card_number(written), written


@pytest.mark.parametrize("between", [",", ", ", ":", "|", "+", "*", "x", ")(", "    ", "\u200b", " / ", "_"])
def test_whatever_stands_between_the_groups_of_a_card_it_is_found(between: str) -> None:
    for number in ("4111111111111111", "378282246310005"):
        groups = (
            [number[:4], number[4:10], number[10:]]
            if len(number) == 15
            else [number[at : at + 4] for at in (0, 4, 8, 12)]
        )
        assert holds_card_number(f"pay with {between.join(groups)}"), groups
        assert not holds_card_number(f"pay with {between.join([*groups[:-1], '0009'])}")


def test_noughts_before_a_card_hide_nothing() -> None:
    assert holds_card_number("00004111111111111111")
    assert holds_card_number("0000 4111 1111 1111 1111")


def test_lists_of_amounts_days_and_telephones_are_rarely_taken_for_one() -> None:
    chance, taken = random.Random(11), 0
    for _ in range(3_000):
        amounts = ", ".join(f"{chance.randint(1, 999)}.{chance.randint(0, 99):02}" for _ in range(6))
        days = ", ".join(f"2026-{chance.randint(1, 12):02}-{chance.randint(1, 28):02}" for _ in range(2))
        phones = f"802-555-{chance.randint(0, 9999):04}; 555-{chance.randint(0, 9999):04}"
        taken += any(holds_card_number(text) for text in (amounts, days, phones))
    assert taken == 0


@pytest.mark.parametrize("number", PUBLISHED)
def test_another_last_digit_is_no_card_number(number: str) -> None:
    for digit in "0123456789":
        assert holds_card_number(number[:-1] + digit) == (digit == number[-1])


def test_lengths_at_their_edges() -> None:
    def with_check_digit(start: str) -> str:
        return next(start + digit for digit in "0123456789" if luhn_passes(start + digit))

    for length in range(8, 24):
        number = with_check_digit("7" * (length - 1))
        assert holds_card_number(number) == (SHORTEST <= length <= LONGEST), length
    assert not holds_card_number("0" * 16)


def test_the_check_digit_formula() -> None:
    """The Luhn formula as published: U.S. patent 2,950,048; the worked number 7992739871 takes the check digit 3.

    From memory, and checked by doubling by hand: 7 9 9 2 7 3 9 8 7 1 -> 67, and 67 + 3 = 70.
    """
    assert [digit for digit in range(10) if luhn_passes(f"7992739871{digit}")] == [3]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "order 1001, 0.8 h, 82.70",
        "call 555-0142 after 14:30",
        "receipt 0042 of 2026-11-25",
        "transfer 123456789012",
        "Readings 12.6 12.4 14.1 13.9 13.8 12.2",
    ],
)
def test_what_a_shop_writes_is_left_alone(text: str) -> None:
    assert not holds_card_number(text)


def test_one_changed_digit_or_two_swapped_ones_are_let_through_only_as_the_formula_allows() -> None:
    chance = random.Random(7)
    for _ in range(300):
        number = list(chance.choice(PUBLISHED))
        at = chance.randrange(len(number))
        number[at] = str((int(number[at]) + chance.randint(1, 9)) % 10)
        assert not luhn_passes("".join(number))  # the formula finds every single wrong digit
