"""Figures as papers print them: money, hours, dates, quantities. Exact, and the same everywhere."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from shopdocs.documents.press.errors import PressError
from shopdocs.documents.press.sheets import Currency
from shopdocs.documents.press.turning import runs_rightward
from shopdocs.documents.press.words import MONTHS, Say

LEFT_TO_RIGHT = "\u200e"


def day_words(value: date, say: Say) -> str:
    """'9 Nov 2026': day, month in letters, year, so that no reader swaps day and month."""
    return f"{value.day} {say(MONTHS[value.month - 1])} {value.year}"


def moment_words(value: datetime, say: Say) -> str:
    """'9 Nov 2026, 10:12', in whatever zone `value` is."""
    return f"{day_words(value.date(), say)}, {value:%H:%M}"


def sentence(text: str) -> str:
    """`text` with a capital at its beginning; the rest, names above all, stays as it was written."""
    return text[:1].upper() + text[1:]


def apart(typed: str) -> str:
    """What a person typed, to stand in a line of ours before a figure, a day or a telephone number.

    A name that runs from right to left would draw a number behind it into its own direction, part by part: '802-555-0142'
    would be seen as '0142-555-802' (UAX #9, W2). A mark of no width on either side keeps the turn to the name.
    """
    return f"{LEFT_TO_RIGHT}{typed}{LEFT_TO_RIGHT}" if runs_rightward(typed) else typed


class Figures:
    """Writes values for one paper: its currency, its words."""

    def __init__(self, currency: Currency, say: Say) -> None:
        if not 0 <= currency.decimals <= 4:
            raise PressError(f"currency.decimals: {currency.decimals} is not between 0 and 4")
        self.symbol, self.decimals, self.say = currency.symbol, currency.decimals, say
        self._step = Decimal(1).scaleb(-currency.decimals)

    def bare(self, amount: Decimal | None) -> str:
        """'1,234.50', or 'not known'. Refuses an amount finer than the currency: rounding is not ours to do."""
        if amount is None:
            return self.say("not known")
        if not amount.is_finite() or abs(amount) >= Decimal(10) ** 20:
            raise PressError(f"amount {amount} cannot be printed: give a finite amount below 10^20")
        exact = amount.quantize(self._step)
        if exact != amount:
            raise PressError(f"amount {amount} has more than {self.decimals} decimals: round it before it is frozen")
        return f"{exact if exact else abs(exact):,f}"

    def money(self, amount: Decimal | None) -> str:
        """'$1,234.50', '-$3.00', or 'not known'."""
        text = self.bare(amount)
        if amount is None:
            return text
        return f"-{self.symbol}{text[1:]}" if text.startswith("-") else self.symbol + text

    def rate(self, amount: Decimal | None) -> str:
        """A price per hour or piece: the currency's decimals, more only where the price needs them (0.1250 -> '0.125')."""
        if amount is None:
            return self.say("not known")
        if not amount.is_finite():
            raise PressError(f"amount {amount} cannot be printed: give a finite amount")
        text = f"{amount:f}".rstrip("0")
        needed = len(text.partition(".")[2]) if "." in text else 0
        return f"{amount:,.{needed}f}" if needed > self.decimals else self.bare(amount)

    def price(self, amount: Decimal | None) -> str:
        """A rate with the currency's symbol, for where no table names the unit."""
        return self.rate(amount) if amount is None else f"{self.symbol}{self.rate(amount)}"

    def tenths(self, tenths: int | None) -> str:
        """Tenths of an hour: 7 -> '0.7'."""
        return self.say("not known") if tenths is None else f"{tenths // 10}.{tenths % 10}"

    def clock(self, minutes: int | None) -> str:
        """Time on the clock: 95 -> '1:35'; nothing clocked prints nothing."""
        return "" if minutes is None else f"{minutes // 60}:{minutes % 60:02d}"

    def number(self, value: Decimal | None) -> str:
        """A quantity as it was given, without trailing zeros: 2.50 -> '2.5'."""
        if value is None:
            return self.say("not known")
        text = f"{value:,f}"
        return text.rstrip("0").rstrip(".") if "." in text else text

    def percent(self, value: Decimal | None) -> str:
        """'7.25 %', or 'not known'."""
        return self.number(value) if value is None else f"{self.number(value)} %"

    def day(self, value: date | None) -> str:
        """'9 Nov 2026', or 'not known'."""
        return self.say("not known") if value is None else day_words(value, self.say)
