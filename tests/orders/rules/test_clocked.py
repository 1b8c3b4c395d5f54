"""Clocked time over midnight, clock changes and several people."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.rules.clocked import Session, ThreeTimes, clocked_time, limited
from orders.rules.labour import Rounding
from shopdocs.problems import BadInput

EASTERN = ZoneInfo("America/New_York")
D = Decimal


def at(text: str, fold: int = 0) -> datetime:
    """A moment on the shop's wall clock."""
    return datetime.fromisoformat(text).replace(tzinfo=EASTERN, fold=fold)


def test_a_session_over_midnight() -> None:
    found = clocked_time([Session("Ada", at("2026-11-24T23:30"), at("2026-11-25T00:45"))])
    assert (found.minutes, found.hours) == (D(75), D("1.3"))


def test_the_hour_that_a_spring_night_lacks_is_not_worked() -> None:
    found = clocked_time([Session("Ada", at("2026-03-08T01:30"), at("2026-03-08T03:30"))])
    assert found.minutes == 60


def test_the_hour_that_an_autumn_night_has_twice_counts_twice() -> None:
    found = clocked_time([Session("Ada", at("2026-11-01T00:30"), at("2026-11-01T02:30"))])
    assert found.minutes == 180
    second = clocked_time([Session("Ada", at("2026-11-01T01:10"), at("2026-11-01T01:10", fold=1))])
    assert second.minutes == 60


def test_several_people_and_sessions_round_once() -> None:
    found = clocked_time(
        [
            Session("Ada", at("2026-11-25T08:00"), at("2026-11-25T08:08")),
            Session("Ben", at("2026-11-25T08:00"), at("2026-11-25T08:08")),
            Session("Ada", at("2026-11-25T08:08"), at("2026-11-25T08:16")),
        ],
        Rounding.HALF_UP,
    )
    assert found.people == (("Ada", D(16)), ("Ben", D(8)))
    assert found.hours == D("0.4")
    assert [step.amount for step in found.steps] == [D(16), D(8), D("0.4")]


def test_a_long_day_is_a_session_but_a_longer_one_a_clock_left_running() -> None:
    start = at("2026-11-25T06:00")
    assert clocked_time([Session("Ada", start, start + timedelta(hours=16))]).hours == D("16.0")
    with pytest.raises(BadInput, match="forgot to clock off"):
        Session("Ada", start, start + timedelta(hours=16, minutes=1))


def test_zones_may_differ_between_sessions() -> None:
    start = datetime(2026, 11, 25, 13, 0, tzinfo=UTC)
    assert clocked_time([Session("Ada", start, at("2026-11-25T09:00"))]).minutes == 60


MOMENTS = st.integers(0, 500_000).map(lambda minute: datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=minute))


@given(MOMENTS, st.lists(st.tuples(st.integers(1, 900), st.integers(0, 300)), max_size=8), st.randoms())
def test_the_order_of_entry_changes_nothing(start: datetime, stretches: list[tuple[int, int]], random: object) -> None:
    sessions, moment = [], start
    for worked, pause in stretches:
        end = moment + timedelta(minutes=worked)
        sessions.append(Session("Ada", moment.astimezone(EASTERN), end.astimezone(EASTERN)))
        moment = end + timedelta(minutes=pause)
    random.shuffle(sessions)  # type: ignore[attr-defined]
    assert clocked_time(sessions).minutes == sum(worked for worked, _ in stretches)


def test_refuses_sessions_that_cannot_be() -> None:
    noon, one = at("2026-11-25T12:00"), at("2026-11-25T13:00")
    wrong = [
        lambda: Session("Ada", noon, noon),
        lambda: Session("Ada", one, noon),
        lambda: Session("Ada", noon, noon + timedelta(hours=25)),
        lambda: Session("Ada", datetime(2026, 11, 25, 12), one),
        lambda: clocked_time(
            [Session("Ada", noon, one), Session("Ada", at("2026-11-25T12:59"), at("2026-11-25T14:00"))]
        ),
    ]
    for call in wrong:
        with pytest.raises(BadInput) as refused:
            call()
        assert refused.value.field and refused.value.remedy


def test_three_times_side_by_side() -> None:
    assert ThreeTimes(D("1.0"), D("0.8"), D("1.3")).remarks == (
        "The payer allows 0.2 h less than the guide.",
        "The work took 0.5 h more than the payer allows.",
        "The work took 0.3 h more than the guide.",
    )
    assert ThreeTimes(D("0.8"), D("0.8"), D("0.8")).remarks == ()
    assert ThreeTimes(D("1.0"), None, D("0.9")).remarks == ()
    assert ThreeTimes(None, None, None).remarks == ()


def test_a_limit_cuts_and_says_so() -> None:
    assert limited(D("1.2"), D("0.5")) == (D("0.5"), "1.2 h, of which 0.5 h is the most that is paid.")
    assert limited(D("0.5"), D("0.5")) == (D("0.5"), "")
    assert limited(D("9.0"), None) == (D("9.0"), "")
