"""Calendar arithmetic against standards, a library's documentation, a decided case and a procedural rule."""

from datetime import date, timedelta

import pytest

from shopdocs.periods import (
    add_days,
    add_months,
    add_period,
    age,
    deadline,
    parse_week_code,
    window_of_days,
    window_of_months,
)
from shopdocs.problems import BadInput


def day(text: str) -> date:
    """A date from its ISO form."""
    return date.fromisoformat(text)


# W3C XML Schema Part 2, Appendix E (E.3.3 in XSD 1.1),
# http://www.w3.org/TR/xmlschema-2/#adding-durations-to-dateTimes ; second-hand (rows seen in conformance test files).
# Date parts of its rows: 12:13:14 plus 7:10:03.3 stays inside the day.
def test_schema_adds_years_and_months_before_days() -> None:
    assert add_period(day("2000-01-12"), years=1, months=3, days=5) == day("2001-04-17")
    assert add_months(day("2000-01-01"), -3) == day("1999-10-01")


def test_schema_addition_does_not_commute() -> None:
    start = day("2000-03-30")
    assert add_months(add_days(start, 1), 1) == day("2000-04-30")
    assert add_days(add_months(start, 1), 1) == day("2000-05-01")


# Same appendix: a month against 30 days has no order; both ways occur.
def test_a_month_is_neither_more_nor_less_than_thirty_days() -> None:
    def difference(start: str) -> int:
        by_month = window_of_months(day(start), 1).last
        by_days = window_of_days(day(start), 30).last
        assert by_month and by_days
        return (by_month - by_days).days

    assert (difference("2026-01-15"), difference("2026-04-15"), difference("2026-02-15")) == (1, 0, -2)


# python-dateutil, docs/relativedelta.rst and tests, repository state Mar 3, 2026,
# https://github.com/dateutil/dateutil ; read.
@pytest.mark.parametrize(
    ("start", "months", "result"),
    [
        ("2003-01-27", 1, "2003-02-27"),
        ("2003-01-30", 1, "2003-02-28"),
        ("2003-01-31", 1, "2003-02-28"),
        ("2003-01-31", 2, "2003-03-31"),
        ("2003-05-31", -1, "2003-04-30"),
        ("2000-02-28", 12, "2001-02-28"),
        ("2000-02-29", 12, "2001-02-28"),
        ("1999-02-28", 12, "2000-02-28"),
        ("1999-03-01", 12, "2000-03-01"),
        ("2001-02-28", -12, "2000-02-28"),
        ("2001-03-01", -12, "2000-03-01"),
        ("2003-09-17", 11, "2004-08-17"),
    ],
)
def test_months_are_added_as_the_library_documents(start: str, months: int, result: str) -> None:
    assert add_months(day(start), months) == day(result)


# Computed with the same library: add to the original date, never chain.
def test_chained_months_differ_from_months_added_once() -> None:
    assert add_months(add_months(day("2024-01-31"), 1), 1) == day("2024-03-29")
    assert add_months(day("2024-01-31"), 2) == day("2024-03-31")
    chained = day("2024-02-29")
    for _ in range(4):
        chained = add_months(chained, 12)
    assert chained == day("2028-02-28")
    assert add_months(day("2024-02-29"), 48) == day("2028-02-29")


# Anniversaries: corresponding-date rule, Dodds v Walker [1981] 1 WLR 1027 (HL),
# https://vlex.co.uk/vid/dodds-v-walker-793845349 ; opening read, holding second-hand. The other column is the
# convention that lets the anniversary out. Computed.
@pytest.mark.parametrize(
    ("bought", "months", "inside", "outside"),
    [
        ("2024-02-29", 12, "2025-02-28", "2025-02-27"),
        ("2024-02-29", 24, "2026-02-28", "2026-02-27"),
        ("2024-02-29", 48, "2028-02-29", "2028-02-28"),
        ("2023-08-31", 6, "2024-02-29", "2024-02-28"),
        ("2023-01-31", 1, "2023-02-28", "2023-02-27"),
        ("2023-12-31", 18, "2025-06-30", "2025-06-29"),
        ("2024-03-31", 24, "2026-03-31", "2026-03-30"),
    ],
)
def test_last_covered_day(bought: str, months: int, inside: str, outside: str) -> None:
    for last, window in (
        (day(inside), window_of_months(day(bought), months)),
        (day(outside), window_of_months(day(bought), months, anniversary_inside=False)),
    ):
        assert window.last == last
        assert window.contains(last - timedelta(days=1)) and window.contains(last)
        assert not window.contains(last + timedelta(days=1))
    assert age(day(bought), day(inside)).months == months


# Dodds v Walker's own dates: notice on Sept 30, 1978, four months; Jan 30 in time, Jan 31 a day late.
def test_the_notice_of_the_decided_case() -> None:
    window = window_of_months(day("1978-09-30"), 4)
    assert window.last == day("1979-01-30")
    assert window.contains(day("1979-01-30")) and not window.contains(day("1979-01-31"))


# Stated there too: a month's notice in a 30-day month is a day shorter than in one of 31, in February three.
def test_a_months_notice_is_as_long_as_its_month() -> None:
    lengths = [(add_months(day(start), 1) - day(start)).days for start in ("2023-01-15", "2023-04-15", "2023-02-15")]
    assert lengths == [31, 30, 28]


# "Not less than two months after" March 23: May 23 is in time. E J Riley Investments v Eurostile Holdings,
# https://www.estatesgazette.co.uk/legal/e-j-riley-investments-ltd-v-eurostile-holdings-ltd ; headnote read.
def test_two_months_after() -> None:
    assert window_of_months(day("1984-03-23"), 2).last == day("1984-05-23")


# Federal Rules of Civil Procedure 6(a), text since 2009, http://federal-rules.laws-info.com/frcp/rule_6 ; read; dates
# computed.
@pytest.mark.parametrize(
    ("trigger", "days", "raw", "rolled"),
    [
        ("2026-11-20", 14, "2026-12-04", "2026-12-04"),
        ("2026-11-20", 30, "2026-12-20", "2026-12-21"),
        ("2026-12-25", 40, "2027-02-03", "2027-02-03"),
        ("2024-02-01", 30, "2024-03-02", "2024-03-04"),
    ],
)
def test_counted_days_roll_over_a_weekend(trigger: str, days: int, raw: str, rolled: str) -> None:
    found = deadline(day(trigger), days, roll=True)
    assert (found.raw, found.last) == (day(raw), day(rolled))
    assert deadline(day(trigger), days).last == day(raw)


def test_counted_days_roll_over_a_holiday_too() -> None:
    """Same rule: 2026-12-25 is a Friday and a holiday; the Monday after it is the next day that is none of these."""
    found = deadline(day("2026-12-11"), 14, roll=True, holidays={day("2026-12-25")})
    assert (found.raw, found.last) == (day("2026-12-25"), day("2026-12-28"))


# ISO 8601 week dates; days computed with Python's isocalendar.
@pytest.mark.parametrize(
    ("code", "weekday", "expected"),
    [
        ("0453", 6, "2005-01-01"),
        ("0453", 7, "2005-01-02"),
        ("0552", 6, "2005-12-31"),
        ("0552", 7, "2006-01-01"),
        ("0601", 1, "2006-01-02"),
        ("0701", 1, "2007-01-01"),
        ("0752", 7, "2007-12-30"),
        ("0801", 1, "2007-12-31"),
        ("0801", 2, "2008-01-01"),
        ("0852", 7, "2008-12-28"),
        ("0901", 1, "2008-12-29"),
        ("0953", 4, "2009-12-31"),
        ("0953", 7, "2010-01-03"),
        ("2053", 4, "2020-12-31"),
        ("2053", 7, "2021-01-03"),
        ("2501", 1, "2024-12-30"),
        ("2653", 4, "2026-12-31"),
        ("2653", 5, "2027-01-01"),
        ("2701", 1, "2027-01-04"),
    ],
)
def test_week_of_a_build_code(code: str, weekday: int, expected: str) -> None:
    week = parse_week_code(code)
    assert week.first + timedelta(days=weekday - 1) == day(expected)
    assert week.first <= day(expected) <= week.last


def test_a_week_that_the_year_does_not_have() -> None:
    """2020 has 53 weeks, 2021 has 52 (ISO 8601, computed as above)."""
    assert (parse_week_code("2053").year, parse_week_code("2053").week) == (2020, 53)
    with pytest.raises(BadInput, match="2021 has no week 53"):
        parse_week_code("2153")
