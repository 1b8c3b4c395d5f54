"""Whether a text holds the number of a payment card: 12 to 19 digits, written in groups or not, that pass the check digit.

Lengths and check digit: ISO/IEC 7812-1 (Luhn formula; the shortest issued numbers have 12 digits), from memory. Pure.
"""

from __future__ import annotations

import re

SHORTEST, LONGEST = 12, 19
# Digits of any script, in groups that people part by spaces, dashes (of any length), points, slashes or underscores.
_BETWEEN = r"[\s._/\-\u00ad\u2010-\u2015\u2212\u00b7]{1,3}"
_DIGITS = re.compile(rf"\d+(?:{_BETWEEN}\d+)*")
_GROUP = re.compile(r"\d+")
# Parted by anything else, it must look like a card: four-four-four and the rest, or four-six and the rest, with one and the
# same sign between. Any list of amounts would else be one by chance, one time in ten.
_AS_ON_A_CARD = re.compile(r"(?<!\d)\d{4}([^\w]{1,4}|_|[xX])(?:\d{4}\1\d{4}\1\d{1,7}|\d{6}\1\d{4,5})(?!\d)")


def luhn_passes(digits: str) -> bool:
    """Whether the last digit is the check digit of the others: every second digit from the right is doubled."""
    total = 0
    for place, digit in enumerate(int(one) for one in reversed(digits)):
        doubled = digit * 2 if place % 2 else digit
        total += doubled - 9 if doubled > 9 else doubled
    return total % 10 == 0


def holds_card_number(text: str) -> bool:
    """Whether neighbouring groups of digits, joined, make a card number by length and check digit."""
    for written in _AS_ON_A_CARD.finditer(text):
        if luhn_passes("".join(_GROUP.findall(written.group()))):
            return True
    for found in _DIGITS.finditer(text):
        groups = _GROUP.findall(found.group())
        for first in range(len(groups)):
            digits = ""
            for group in groups[first:]:
                digits += group if digits else group.lstrip("0")  # no card number begins with a nought
                if len(digits) > LONGEST:
                    break
                if len(digits) >= SHORTEST and any(digit != "0" for digit in digits) and luhn_passes(digits):
                    return True
                if (
                    len(group) < 3
                ):  # nobody writes a card in ones and twos: these are readings, and only the last may be short
                    break
    return False
