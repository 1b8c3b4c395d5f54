"""Whether a text holds the number of a payment card: 12 to 19 digits, written in groups or not, that pass the check digit.

Lengths and check digit: ISO/IEC 7812-1 (Luhn formula; the shortest issued numbers have 12 digits), from memory. Pure.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from itertools import pairwise

SHORTEST, LONGEST = 12, 19
# Digits of any script, in groups that people part by spaces, dashes (of any length), points, slashes or underscores.
_BETWEEN = r"[\s._/\-\u00ad\u2010-\u2015\u2212\u00b7]{1,3}"
_DIGITS = re.compile(rf"\d+(?:{_BETWEEN}\d+)*")
_GROUP = re.compile(r"\d+")
# Parted by anything else, it must look like a card: four-four-four and the rest, or four-six and the rest, with one and the
# same sign between. Any list of amounts would else be one by chance, one time in ten.
_AS_ON_A_CARD = re.compile(r"(?<!\d)\d{4}([^\w]{1,4}|_|[xX])(?:\d{4}\1\d{4}\1\d{1,7}|\d{6}\1\d{4,5})(?!\d)")
# In ones and twos a list of readings would be a card one time in ten, so there it must also be a number that is issued:
# first digits and lengths of the large card schemes, as commonly published (from memory).
_ISSUED = re.compile(
    r"4(?:\d{15}|\d{18})|5[1-5]\d{14}|2(?:22[1-9]|2[3-9]\d|[3-6]\d\d|7[01]\d|720)\d{12}|3[47]\d{13}|3(?:0[0-5]|[689]\d)\d{11}"
    r"|35(?:2[89]|[3-8]\d)\d{12}|6(?:011|4[4-9]\d|5\d\d|2\d\d)\d{12,15}|(?:5[06-8]|6[037-9])\d{14}"
)
_AFTER_IT = re.compile(r"(?:(?:0[1-9]|1[0-2])(?:20)?\d\d(?:\d{3,4})?)?")  # the month in which it ends, the code on it
_RUN = re.compile(r"(?<!\d)\d++(?:[^\w]{1,3}\d++|_\d++)+")  # each digit is looked at once, however long the text
_PLAIN_BREAK = re.compile(_BETWEEN)
_DATE = re.compile(r"(?<![\d./-])(?:\d{4}-\d{1,2}-\d{1,2}|\d{1,2}([./-])\d{1,2}\1(?:\d{4}|\d{2}))(?![./-]?\d)")
# How far apart measurements of one thing lie, as digits of so many places (with a point inside up to four). Of the card numbers
# that somebody writes in twos or threes, fewer than one in 200 keep so close together: eight groups of two, one in 10,000.
_APART = {2: 20, 3: 100, 4: 1000}
_NO_DIGIT_BREAK = "\n" * 4  # longer than what parts the groups of one number
_UNSEEN = ("Cf", "Mn", "Me")  # zero-width signs, and the marks that draw a box or a circle round a digit


def _plain(text: str) -> str:
    """The text with every digit of whatever script or shape (circled, raised, full-width, in a box) as 0 to 9."""
    if text.isascii():
        return text
    signs = (sign for sign in text if unicodedata.category(sign) not in _UNSEEN)
    return "".join(_digits(sign) for sign in signs)


def _digits(sign: str) -> str:
    digit = unicodedata.digit(sign, None)
    if digit is not None:
        return str(digit)
    spelled = unicodedata.normalize("NFKC", sign)
    if unicodedata.category(sign) == "No" and not spelled.strip("(),.").isdecimal():
        return sign  # a fraction is no two numbers
    return spelled


def luhn_passes(digits: str) -> bool:
    """Whether the last digit is the check digit of the others: every second digit from the right is doubled."""
    total = 0
    for place, digit in enumerate(int(one) for one in reversed(digits)):
        doubled = digit * 2 if place % 2 else digit
        total += doubled - 9 if doubled > 9 else doubled
    return total % 10 == 0


def holds_card_number(text: str) -> bool:
    """Whether neighbouring groups of digits, joined, make a card number by length and check digit."""
    text = _plain(text)
    for written in _AS_ON_A_CARD.finditer(text):
        if luhn_passes("".join(_GROUP.findall(written.group()))):
            return True
    for found in _DIGITS.finditer(text):
        groups, breaks = _GROUP.findall(found.group()), re.findall(r"\D+", found.group())
        if _are_readings(groups, breaks) or _are_telephones(groups):
            continue
        for first in range(len(groups)):
            digits = ""
            for group in groups[first:]:
                digits += group if digits else group.lstrip("0")  # no card number begins with a nought
                if len(digits) > LONGEST:
                    break
                if len(digits) >= SHORTEST and any(digit != "0" for digit in digits) and luhn_passes(digits):
                    return True
                if len(group) < 3:  # of ones and twos more is asked, below; here only the last may be short
                    break
    return _in_small_groups(text)


def _in_small_groups(text: str) -> bool:
    """Whether a run of groups, some of one or two digits, is a number as card schemes issue them, with its month or without.

    Telephone numbers are shorter, days are left out, and so are lists: what rises or falls all along, and what a comma or
    another sign with a space after it parts.
    """
    for found in _RUN.finditer(_DATE.sub(_NO_DIGIT_BREAK, text)):
        groups, breaks = _GROUP.findall(found.group()), re.findall(r"\D+", found.group())
        if all(len(group) > 2 for group in groups) or not _parted_as_one(breaks) or _are_readings(groups, breaks):
            continue
        for end in range(2, len(groups) + 1):
            digits = "".join(groups[:end])
            if len(digits) > LONGEST:
                break
            if not _AFTER_IT.fullmatch("".join(groups[end:])):
                continue
            if _ISSUED.fullmatch(digits) and luhn_passes(digits) and not _rises_or_falls(groups[:end]):
                return True
    return False


def _parted_as_one(breaks: list[str]) -> bool:
    """Spaces, dashes, points and slashes as they come; any other sign only if it is the same all along, without a space."""
    if all(_PLAIN_BREAK.fullmatch(one) for one in breaks):
        return True
    return len(set(breaks)) == 1 and not any(sign.isspace() for sign in breaks[0])


def _rises_or_falls(groups: list[str]) -> bool:
    if any(len(group) != 2 for group in groups):
        return False
    steps = [int(later) - int(earlier) for earlier, later in pairwise(groups)]
    return all(step > 0 for step in steps) or all(step < 0 for step in steps)


def _are_telephones(groups: Sequence[str]) -> bool:
    """Whether it is telephone numbers side by side, each of three, three and four digits or of three and four: no card is written so."""
    sizes = [len(group) for group in groups]
    return any(len(sizes) > len(one) and sizes == one * (len(sizes) // len(one)) for one in ([3, 3, 4], [3, 4]))


def _are_readings(groups: Sequence[str], breaks: Sequence[str]) -> bool:
    """Whether at least four figures of one length lie as close together as measurements of one thing do: '41 43 40 42', '12.6 12.4'.

    Two values that only repeat are none: numbers for trials look so. Figures of four digits have a point inside: a card
    is mostly written in fours.
    """
    with_point = bool(breaks) and set(breaks[::2]) == {"."} and all(one.isspace() for one in breaks[1::2])
    figures = list(groups)
    if with_point and not len(groups) % 2:
        figures = [whole + part for whole, part in zip(groups[::2], groups[1::2], strict=True)]
    sizes = {len(figure) for figure in figures}
    if len(figures) < 4 or len(sizes) > 1 or len(set(figures)) < 3:
        return False
    size = sizes.pop()
    if size not in _APART or (size == 4 and figures == list(groups)):
        return False
    numbers = [int(figure) for figure in figures]
    return max(numbers) - min(numbers) <= _APART[size]
