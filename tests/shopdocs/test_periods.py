"""Windows, deadlines, business days, week codes and ages, each at its edges."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from shopdocs.periods import (
    Window,
    add_business_days,
    add_months,
    add_period,
    age,
    deadline,
    is_business_day,
    next_business_day,
    parse_week_code,
    window_of_days,
    window_of_hours,
    window_of_months,
)
from shopdocs.problems import BadInput

DAYS = st.dates(date(1950, 1, 1), date(2150, 12, 31))
MONTHS = st.integers(-600, 600)


@given(DAYS, MONTHS)
def test_adding_months_agrees_with_another_library(start: date, months: int) -> None:
    assert add_months(start, months) == start + relativedelta(months=months)


@given(DAYS, st.integers(0, 20), st.integers(0, 30), st.integers(0, 400))
def test_years_and_months_before_days(start: date, years: int, months: int, days: int) -> None:
    expected = start + relativedelta(years=years, months=months) + timedelta(days=days)
    assert add_period(start, years=years, months=months, days=days) == expected


@given(DAYS, st.integers(1, 240))
def test_a_window_of_months_holds_its_edges_and_nothing_beyond(start: date, months: int) -> None:
    inside = window_of_months(start, months)
    outside = window_of_months(start, months, anniversary_inside=False)
    assert inside.last is not None and outside.last == inside.last - timedelta(days=1)
    assert inside.contains(start) and inside.contains(inside.last)
    assert not inside.contains(start - timedelta(days=1)) and not inside.contains(inside.last + timedelta(days=1))
    assert inside.days_left(inside.last) == 0 and inside.days_left(inside.last + timedelta(days=3)) == -3


def test_a_window_of_days_does_not_count_the_event() -> None:
    window = window_of_days(date(2026, 3, 1), 30)
    assert window.last == date(2026, 3, 31)
    assert window_of_days(date(2026, 3, 1), 30, anniversary_inside=False).last == date(2026, 3, 30)


def test_a_window_without_end_holds_every_later_day() -> None:
    window = Window(date(2026, 1, 1))
    assert window.contains(date(9999, 12, 31)) and not window.contains(date(2025, 12, 31))
    assert window.days_left(date(2026, 1, 1)) is None


def test_hours_hold_exactly_at_the_limit() -> None:
    window = window_of_hours(Decimal("12.5"), Decimal("112.5"))
    assert window.contains(Decimal("125.0")) and not window.contains(Decimal("125.1"))
    assert window.contains(Decimal("12.5")) and not window.contains(Decimal("12.4"))
    assert window.hours_left(Decimal("100")) == Decimal("25.0")


@given(DAYS, st.integers(0, 60), st.sets(st.integers(0, 90)))
def test_a_rolled_deadline_is_the_first_open_day_not_before_the_plain_one(
    event: date, days: int, shut: set[int]
) -> None:
    holidays = {event + timedelta(days=n) for n in shut}
    found = deadline(event, days, roll=True, holidays=holidays)
    assert found.raw == event + timedelta(days=days)
    assert is_business_day(found.last, holidays)
    between = (found.last - found.raw).days
    assert between >= 0
    assert not any(is_business_day(found.raw + timedelta(days=n), holidays) for n in range(between))
    assert deadline(event, days).last == found.raw
    assert ("weekend or holiday" in found.words) == (between > 0)


@given(DAYS, st.integers(1, 40), st.sets(st.integers(0, 30)))
def test_business_days_are_counted_one_by_one(start: date, count: int, shut: set[int]) -> None:
    holidays = {start + timedelta(days=n) for n in shut}
    end = add_business_days(start, count, holidays)
    passed = [start + timedelta(days=n) for n in range(1, (end - start).days + 1)]
    assert sum(is_business_day(day, holidays) for day in passed) == count
    assert is_business_day(end, holidays)


def test_a_period_of_nothing_is_the_day_itself() -> None:
    assert add_period(date(2026, 1, 31)) == date(2026, 1, 31)
    assert add_period(date(2026, 1, 31), months=1) == date(2026, 2, 28)


def test_another_weekend_can_be_given() -> None:
    friday = date(2026, 11, 20)
    assert next_business_day(friday, weekend={4, 5}) == date(2026, 11, 22)
    assert add_business_days(friday, 0) == friday


@given(DAYS)
def test_every_week_code_of_a_day_holds_that_day(day: date) -> None:
    year, week, _ = day.isocalendar()
    code = parse_week_code(f"{year % 100:02}{week:02}", century=year // 100 * 100)
    assert code.first <= day <= code.last and (code.year, code.week) == (year, week)
    assert (code.first.isoweekday(), code.last.isoweekday(), (code.last - code.first).days) == (1, 7, 6)


@given(DAYS, st.integers(0, 20000))
def test_age_adds_up_again(start: date, days: int) -> None:
    day = start + timedelta(days=days)
    found = age(start, day)
    assert add_period(start, months=found.months, days=found.days) == day
    assert add_months(start, found.months + 1) > day


@pytest.mark.parametrize(
    ("start", "day", "words"),
    [
        (date(2026, 1, 1), date(2026, 1, 1), "0 days"),
        (date(2024, 2, 29), date(2025, 2, 28), "1 year"),
        (date(2024, 1, 31), date(2024, 2, 29), "1 month"),
        (date(2024, 1, 15), date(2026, 2, 18), "2 years, 1 month, 3 days"),
    ],
)
def test_age_in_words(start: date, day: date, words: str) -> None:
    assert age(start, day).words == words


def test_refuses_what_is_no_period() -> None:
    some_day = date(2026, 1, 1)
    wrong = [
        lambda: Window(some_day, date(2025, 12, 31)),
        lambda: window_of_months(some_day, 0),
        lambda: window_of_days(some_day, -1),
        lambda: window_of_hours(Decimal("NaN"), Decimal(1)),
        lambda: window_of_hours(Decimal(5), Decimal(0)),
        lambda: deadline(some_day, -1),
        lambda: add_business_days(some_day, -1),
        lambda: add_months(some_day, 12 * 9000),
        lambda: window_of_days(some_day, 10**9),
        lambda: next_business_day(some_day, weekend=set(range(7))),
        lambda: age(some_day, date(2025, 12, 31)),
        lambda: parse_week_code("2600"),
        lambda: parse_week_code("26-1"),
        lambda: parse_week_code("٢٠٥٣"),
    ]
    for call in wrong:
        with pytest.raises(BadInput) as refused:
            call()
        assert refused.value.field and refused.value.problem and refused.value.remedy
