"""How the hours of labour came about: minutes of work, rounded once to tenths by the payer's rule, and each line's part. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from orders.rules.figures import HALF_EVEN, HALF_UP, NEXT_UP, Told, shared, sum_of, went_up, worked
from orders.rules.labour import ROUNDING_WORDS, TENTH, Rounding, are_rounded
from shopdocs.money import plain

ROUNDED = {Rounding.UP: NEXT_UP, Rounding.HALF_UP: HALF_UP, Rounding.HALF_EVEN: HALF_EVEN}
LINES = "the lines, by their minutes; tenths left over go to the largest remainders"


def rounded_once(minutes: Decimal, hours: Decimal, rounding: Rounding, rule: str) -> Told:
    """Minutes in hours, rounded once. `rule`: whose rule of rounding that is."""
    text = f"In hours, rounded once {ROUNDING_WORDS[rounding]}"
    return worked(text, hours, sum_of("{} ÷ 60", plain(minutes)), ROUNDED[rounding], rule)


def parts_told(
    hours: Decimal, parts: Mapping[str, Decimal], minutes: Mapping[str, Decimal], of: str
) -> dict[str, Told]:
    """Each line's part of the figure `of`, by key; hours in tenths.

    As a share of its own minutes, or in proportion to them where the whole is not their sum rounded (as in `in_tenths`).
    """
    whole = sum(minutes.values(), Decimal(0))
    found = {}
    for key, part in parts.items():
        own, exact = plain(minutes[key]), Fraction(minutes[key]) / Fraction(TENTH)
        text, working = f"Its {own} min of the work together", sum_of("{} ÷ 60", own)
        if not are_rounded(whole, hours):
            working = sum_of("{} × {} ÷ {}", hours, own, plain(whole))
            exact = Fraction(hours) * 10 * Fraction(minutes[key]) / Fraction(whole)
        found[key] = shared(text, part, working, of, LINES, up=went_up(int(part * 10), exact, int(hours * 10)))
    return found
