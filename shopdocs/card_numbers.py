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


def luhn_passes(digits: str) -> bool:
    """Whether the last digit is the check digit of the others: every second digit from the right is doubled."""
    total = 0
    for place, digit in enumerate(int(one) for one in reversed(digits)):
        doubled = digit * 2 if place % 2 else digit
        total += doubled - 9 if doubled > 9 else doubled
    return total % 10 == 0


def holds_card_number(text: str) -> bool:
    """Whether neighbouring groups of digits, joined, make a card number by length and check digit."""
    for found in _DIGITS.finditer(text):
        groups = _GROUP.findall(found.group())
        for first in range(len(groups)):
            digits = ""
            for group in groups[first:]:
                digits += group
                if len(digits) > LONGEST:
                    break
                if len(digits) >= SHORTEST and any(digit != "0" for digit in digits) and luhn_passes(digits):
                    return True
    return False
