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


ISSUED = [number for number in PUBLISHED if len(number) in (14, 15, 16) and not number.startswith("6304")]


@pytest.mark.parametrize("number", ISSUED)
def test_pairs_ones_and_digits_of_any_shape_are_found(number: str) -> None:
    pairs = [number[at : at + 2] for at in range(0, len(number), 2)]
    odd = [number[:2], number[2:6], number[6:10], number[10:11], number[11:]]
    circled = number.translate({48: "\u24ea"} | {48 + digit: chr(0x2460 + digit - 1) for digit in range(1, 10)})
    boxed = "".join(f"{digit}\ufe0f\u20e3" for digit in number)
    for written in (
        " ".join(pairs), "-".join(pairs), ".".join(pairs), ",".join(pairs), " - ".join(pairs), " ".join(number), ",".join(number),
        "/".join(number), " ".join(odd), circled, " ".join(circled), boxed, f"card {' '.join(pairs)} 05 27",
        "".join(chr(0x2080 + int(digit)) for digit in number), "".join(chr(0x0660 + int(digit)) for digit in number),
        "".join(chr(0x2775 + int(digit)) if digit != "0" else "\u24ff" for digit in number),
        "".join(chr(0x1D7CE + int(digit)) for digit in number), "\u200b".join(number),
    ):  # fmt: skip
        assert holds_card_number(written), written
    wrong = str((int(number[-1]) + 1) % 10)
    assert not holds_card_number(" ".join([*number[:-1], wrong]))


@pytest.mark.parametrize(
    "text",
    [
        "+49 151 12 34 56 78", "0049 30 12 34 56 78 90", "06 12 34 56 78, 06 87 65 43 21", "+52 55 12 34 56 78 ext 41",
        "+44 20 79 46 09 58", "25.11.2026 26.11.2026 27.11.2026", "26-11-25 26-11-26 26-11-27", "22:30 23:15 23:20 23:40",
        "41, 11, 11, 11, 11, 11, 11, 11", "40 42 44 46 48 50 52 54", "2\u00bd h, 4\u00bd h", "45 50 55 60 65 70 75 80",
        "compression 41 43 40 42", "5/8 3/4 7/16 1/2 3/8", "4 1 1 1 1 1 1 1 1 1 1 1",
    ],
)  # fmt: skip
def test_telephones_days_and_lists_in_small_groups_are_left_alone(text: str) -> None:
    assert not holds_card_number(text)


def test_readings_in_pairs_are_rarely_taken_for_a_card() -> None:
    chance = random.Random(12)
    texts = [" ".join(str(chance.randint(10, 99)) for _ in range(8)) for _ in range(2_000)]
    assert (
        sum(map(holds_card_number, texts)) == 70
    )  # of 2,000 lists of exactly eight; by the check digit alone it would be 200


@pytest.mark.parametrize(
    ("figures", "written", "least", "most"),
    [(8, "{}", 41, 59), (6, "{}", 101, 180), (5, "{}", 101, 190), (8, "{:.1f}", 4.1, 5.9), (4, "{:.2f}", 51.5, 58.5)],
)
def test_measurements_of_one_thing_are_no_card(figures: int, written: str, least: float, most: float) -> None:
    """Compression, temperatures, voltages: before they were told by their closeness, one list in ten was taken for a card."""
    chance = random.Random(13)
    for _ in range(2_000):
        readings = [chance.uniform(least, most) for _ in range(figures)]
        text = " ".join(written.format(one if "." in written else round(one)) for one in readings)
        if len(set(text.split())) > 2:
            assert not holds_card_number(f"readings {text}"), text


def test_cards_in_twos_and_threes_are_hardly_ever_as_close_together() -> None:
    chance, missed = random.Random(14), 0
    for number in (f"4{chance.randrange(10**14):014}" for _ in range(3_000)):
        whole = next(number + digit for digit in "0123456789" if luhn_passes(number + digit))
        for size in (2, 3):
            written = " ".join(whole[at : at + size] for at in range(0, len(whole), size))
            missed += not holds_card_number(written)
    assert missed <= 1
    assert holds_card_number("55 55 55 55 55 55 44 44")
    assert holds_card_number("4321 8765 4321 8769") and holds_card_number("5555 5555 5555 4444")


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


@pytest.mark.parametrize("sign", ["1", "\u2460", "1 ", "12-", "1_", "4111 "])
def test_a_text_of_a_hundred_thousand_digits_is_read_once(sign: str) -> None:
    """Read again from each digit it would take minutes."""
    assert not holds_card_number(sign * (100_000 // len(sign)))


def test_telephone_numbers_side_by_side_are_never_taken_for_one() -> None:
    chance = random.Random(10)
    for _ in range(300):
        short = [f"{chance.randint(200, 999)} {chance.randint(0, 9999):04}" for _ in range(chance.randint(2, 4))]
        assert not holds_card_number(f"call {' '.join(short)}")
        assert not holds_card_number(f"call {' '.join(f'330 {one}' for one in short)}")
