"""Calendar windows, deadlines, business days, week codes and ages. Dates are calendar dates in the shop's zone.

Pure: no clock (the caller says which day it is) and no Django. Holidays are passed in; none is shipped.
"""

from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from shopdocs.problems import BadInput

WEEKEND = frozenset({5, 6})  # date.weekday() of Saturday and Sunday
NO_HOLIDAYS: frozenset[date] = frozenset()


def add_months(start: date, months: int) -> date:
    """The same-numbered day `months` later (or earlier), pinned to the month's last day where it is too large.

    Always add to the original date: 31 January plus two months is 31 March; adding one month twice is 29 March.
    """
    year, month = divmod(start.year * 12 + start.month - 1 + months, 12)
    if not date.min.year <= year <= date.max.year:
        raise BadInput("months", f"{start} and {months} months leave the calendar.", "Give a shorter period.")
    return date(year, month + 1, min(start.day, monthrange(year, month + 1)[1]))


def add_days(start: date, days: int) -> date:
    """`days` later; raises BadInput where the calendar ends."""
    try:
        return start + timedelta(days=days)
    except OverflowError:
        raise BadInput("days", f"{start} and {days} days leave the calendar.", "Give a shorter period.") from None


def add_period(start: date, *, years: int = 0, months: int = 0, days: int = 0) -> date:
    """Years and months first, day pinned, then days (the order of XML Schema's Appendix E; the reverse can differ)."""
    return add_days(add_months(start, years * 12 + months), days)


@dataclass(frozen=True, slots=True)
class Window:
    """Days from `first` to `last`, both inside; `last` None never ends."""

    first: date
    last: date | None = None

    def __post_init__(self) -> None:
        if self.last is not None and self.last < self.first:
            raise BadInput(
                "last", f"The period ends on {self.last}, before it starts on {self.first}.", "Correct one of them."
            )

    def contains(self, day: date) -> bool:
        """Whether `day` is inside; the first and the last day are."""
        return self.first <= day and (self.last is None or day <= self.last)

    def days_left(self, day: date) -> int | None:
        """Days from `day` to the last day: 0 on the last day itself, negative after it, None without an end."""
        return None if self.last is None else (self.last - day).days


def window_of_months(start: date, months: int, *, anniversary_inside: bool = True) -> Window:
    """The window of a term of `months` from `start`.

    By the corresponding-date rule the anniversary is the last day inside; `anniversary_inside=False` makes it the first
    day outside. `months` is at least 1.
    """
    return Window(start, _last(add_months(start, _at_least_one(months, "months")), anniversary_inside))


def window_of_days(start: date, days: int, *, anniversary_inside: bool = True) -> Window:
    """As `window_of_months`, in days: the event day is not counted, so 30 days from the 1st end on the 31st."""
    return Window(start, _last(add_days(start, _at_least_one(days, "days")), anniversary_inside))


def _last(anniversary: date, inside: bool) -> date:
    return anniversary if inside else anniversary - timedelta(days=1)


def _at_least_one(count: int, field: str) -> int:
    if count < 1:
        raise BadInput(field, f"A period of {count} {field} is none.", "Give 1 or more.")
    return count


@dataclass(frozen=True, slots=True)
class HourWindow:
    """Hours on a meter from `first` to `last`, both inside. Exactly at the limit is inside; a tenth above is not."""

    first: Decimal
    last: Decimal

    def contains(self, reading: Decimal) -> bool:
        """Whether a reading lies inside."""
        return self.first <= reading <= self.last

    def hours_left(self, reading: Decimal) -> Decimal:
        """Hours from `reading` to the limit, negative beyond it."""
        return self.last - reading


def window_of_hours(start: Decimal, hours: Decimal) -> HourWindow:
    """The window of `hours` of running from the reading `start`; `start` is zero or more, `hours` above zero."""
    if not (start.is_finite() and hours.is_finite()) or start < 0 or hours <= 0:
        raise BadInput("hours", f"{hours} hours from a reading of {start} is no period.", "Give hours above zero.")
    return HourWindow(start, start + hours)


def is_business_day(day: date, holidays: Collection[date] = NO_HOLIDAYS, weekend: Collection[int] = WEEKEND) -> bool:
    """Neither on a weekend nor a holiday that was passed in."""
    return day.weekday() not in weekend and day not in holidays


def next_business_day(day: date, holidays: Collection[date] = NO_HOLIDAYS, weekend: Collection[int] = WEEKEND) -> date:
    """`day` itself if it is one, else the next that is. Refuses a calendar that has none within a year."""
    for ahead in range(367):
        if is_business_day(add_days(day, ahead), holidays, weekend):
            return day + timedelta(days=ahead)
    raise BadInput("holidays", f"There is no business day in the year after {day}.", "Correct the shop's holidays.")


def add_business_days(
    start: date, count: int, holidays: Collection[date] = NO_HOLIDAYS, weekend: Collection[int] = WEEKEND
) -> date:
    """The `count`-th business day after `start` (`start` itself is not counted; 0 gives `start`)."""
    if count < 0:
        raise BadInput("count", f"{count} business days cannot be counted.", "Give zero or more.")
    day = start
    for _ in range(count):
        day = next_business_day(add_days(day, 1), holidays, weekend)
    return day


@dataclass(frozen=True, slots=True)
class Deadline:
    """A counted deadline: the plain last day, the day after rolling forward, and why, in words."""

    event: date
    days: int
    raw: date
    last: date
    words: str


def deadline(
    event: date,
    days: int,
    *,
    roll: bool = False,
    holidays: Collection[date] = NO_HOLIDAYS,
    weekend: Collection[int] = WEEKEND,
) -> Deadline:
    """Last day to act within `days` calendar days of `event`, which is itself not counted.

    With `roll` a last day on a weekend or holiday runs on to the next day that is neither. `days` is zero or more.
    """
    if days < 0:
        raise BadInput("days", f"A deadline of {days} days lies in the past of its event.", "Give zero or more.")
    raw = add_days(event, days)
    last = next_business_day(raw, holidays, weekend) if roll else raw
    words = f"{days} days after {event} is {raw:%A} {raw}; the day of the event is not counted."
    if last != raw:
        words += f" That is a weekend or holiday, so it runs to {last:%A} {last}."
    return Deadline(event, days, raw, last, words)


@dataclass(frozen=True, slots=True)
class WeekCode:
    """An ISO 8601 week of a build code, with its Monday and Sunday."""

    year: int
    week: int
    first: date
    last: date


def parse_week_code(code: str, *, century: int = 2000) -> WeekCode:
    """The week of a four-digit build code, two of the ISO year and two of the week: '2053' is 2020-W53.

    Raises BadInput for another form and for a week that the year does not have ('2153': 2021 has 52 weeks).
    """
    if not re.fullmatch(r"[0-9]{4}", code):
        raise BadInput(
            "build_code", f"'{code[:20]}' is not a week code.", "Give four digits: year and week, such as 2053."
        )
    year, week = century + int(code[:2]), int(code[2:])
    weeks = date(year, 12, 28).isocalendar().week  # 28 December always lies in the last week of its ISO year
    if not 1 <= week <= weeks:
        raise BadInput(
            "build_code", f"{year} has no week {week}.", f"Read the plate again: its weeks run from 01 to {weeks}."
        )
    first = date.fromisocalendar(year, week, 1)
    return WeekCode(year, week, first, first + timedelta(days=6))


@dataclass(frozen=True, slots=True)
class Age:
    """Whole months, and the days after the last of them."""

    months: int
    days: int

    @property
    def words(self) -> str:
        """'2 years, 1 month, 3 days'; '0 days' on the day itself."""
        years, months = divmod(self.months, 12)
        counts = ((years, "year"), (months, "month"), (self.days, "day"))
        said = [f"{count} {name}{'' if count == 1 else 's'}" for count, name in counts if count]
        return ", ".join(said) or "0 days"


def age(start: date, day: date) -> Age:
    """How old something that began on `start` is on `day`; raises BadInput when `day` lies before `start`."""
    if day < start:
        raise BadInput("day", f"{day} lies before {start}.", "Give a day on or after it.")
    months = (day.year - start.year) * 12 + day.month - start.month
    while add_months(start, months) > day:
        months -= 1
    return Age(months, (day - add_months(start, months)).days)
