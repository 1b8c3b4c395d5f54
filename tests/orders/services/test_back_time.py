"""The clock: one running clock a person, no overlap, no future, no day of more hours than it has."""

from __future__ import annotations

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from orders.models import Estimate, Job, RepairOrder, TimeEntry
from orders.rules.clocked import LONGEST
from orders.services.answers import answer_by_link, take_answers
from orders.services.bench import fit_part, strike_job
from orders.services.estimates import issue_estimate
from orders.services.lines import add_part
from orders.services.links import make_link
from orders.services.time import clock_in, clock_out, clocked_seconds, enter_time, minutes, remove_time
from shopdocs.rest.refusals import Conflict, NotYours, Refused
from shopdocs.shops.models import Event, Shop, Staff
from tests.orders.back_kit import (
    PHONED,
    agreed,
    answered,
    arrived_earlier,
    season_service,
    set_rates,
    sharpening,
    shown_by_link,
    span,
)

pytestmark = pytest.mark.django_db
EASTERN = ZoneInfo("America/New_York")


def moved_back(entry: TimeEntry, minutes: int) -> None:
    TimeEntry.objects.filter(pk=entry.pk).update(started_at=timezone.now() - dt.timedelta(minutes=minutes))


def test_clock_in_and_out(shop: Shop, technician: Staff, order: RepairOrder) -> None:
    job = season_service(shop, technician, order)
    arrived_earlier(order)
    entry = clock_in(shop=shop, by=technician, job_id=job.pk)
    assert entry.ended_at is None
    moved_back(entry, 47)
    ended = clock_out(shop=shop, by=technician, job_id=job.pk, note="tank drained")
    assert minutes(ended) == 47
    assert clocked_seconds(job) // 60 == 47


def test_one_running_clock_a_person(shop: Shop, technician: Staff, owner: Staff, order: RepairOrder) -> None:
    one, other = season_service(shop, technician, order), sharpening(shop, technician, order)
    clock_in(shop=shop, by=technician, job_id=one.pk)
    for job in (one, other):
        with pytest.raises(Conflict, match=f"job 1 of {order.number}"):
            clock_in(shop=shop, by=technician, job_id=job.pk)
    clock_in(shop=shop, by=owner, job_id=one.pk)  # two people at one job is another thing
    with pytest.raises(Conflict, match="does not run on job 2"):
        clock_out(shop=shop, by=technician, job_id=other.pk)
    assert TimeEntry.objects.filter(ended_at=None).count() == 2


def test_nobody_works_at_two_things_at_once(shop: Shop, technician: Staff, owner: Staff, order: RepairOrder) -> None:
    job = season_service(shop, technician, order)
    arrived_earlier(order)
    kept = enter_time(shop=shop, by=technician, job_id=job.pk, **span(30, ago=60))
    inside = {"started_at": kept.started_at + dt.timedelta(minutes=1), "ended_at": kept.ended_at}
    around = span(90, ago=30)
    for wrong in (inside, around):
        with pytest.raises(Conflict, match="has time from"):
            enter_time(shop=shop, by=technician, job_id=job.pk, **wrong)
    before = {"started_at": kept.started_at - dt.timedelta(minutes=5), "ended_at": kept.started_at}
    after = {"started_at": kept.ended_at, "ended_at": kept.ended_at + dt.timedelta(minutes=5)}
    for touching in (before, after):
        enter_time(shop=shop, by=technician, job_id=job.pk, **touching)
    enter_time(shop=shop, by=owner, job_id=job.pk, **inside)
    assert TimeEntry.objects.count() == 4


def test_time_typed_while_the_clock_runs_cannot_lie_under_it(shop: Shop, technician: Staff, order: RepairOrder) -> None:
    job = season_service(shop, technician, order)
    arrived_earlier(order)
    moved_back(clock_in(shop=shop, by=technician, job_id=job.pk), 60)
    with pytest.raises(Conflict, match="has time from"):
        enter_time(shop=shop, by=technician, job_id=job.pk, **span(10, ago=20))
    enter_time(shop=shop, by=technician, job_id=job.pk, **span(10, ago=61))


def test_a_forgotten_clock_needs_its_end(shop: Shop, technician: Staff, order: RepairOrder) -> None:
    job = season_service(shop, technician, order)
    arrived_earlier(order)
    entry = clock_in(shop=shop, by=technician, job_id=job.pk)
    moved_back(entry, 25 * 60)
    with pytest.raises(Refused, match="longer than 16 hours"):
        clock_out(shop=shop, by=technician, job_id=job.pk)
    assert TimeEntry.objects.get(pk=entry.pk).ended_at is None
    end = timezone.now() - dt.timedelta(hours=23)
    assert minutes(clock_out(shop=shop, by=technician, job_id=job.pk, ended_at=end)) in (119, 120)


@pytest.mark.parametrize(
    ("start", "end", "field"),
    [
        (dt.timedelta(hours=-1), dt.timedelta(hours=-2), "ended_at"),
        (dt.timedelta(hours=-1), dt.timedelta(hours=-1), "ended_at"),
        (dt.timedelta(hours=-1), dt.timedelta(minutes=5), "ended_at"),
        (dt.timedelta(hours=-25, minutes=-1), dt.timedelta(minutes=-1), "ended_at"),
        (dt.timedelta(days=-9), dt.timedelta(days=-9, hours=1), "started_at"),
    ],
)
def test_spans_that_cannot_be(
    shop: Shop, technician: Staff, order: RepairOrder, start: dt.timedelta, end: dt.timedelta, field: str
) -> None:
    job = season_service(shop, technician, order)
    arrived_earlier(order)
    now = timezone.now()
    with pytest.raises(Refused) as refusal:
        enter_time(shop=shop, by=technician, job_id=job.pk, started_at=now + start, ended_at=now + end)
    assert refusal.value.problems[0].field == field
    assert not TimeEntry.objects.exists()


def test_a_moment_without_a_zone_is_refused(shop: Shop, technician: Staff, order: RepairOrder) -> None:
    job = season_service(shop, technician, order)
    naive = dt.datetime(2026, 1, 1, 9)
    with pytest.raises(Refused, match="no time zone"):
        enter_time(shop=shop, by=technician, job_id=job.pk, started_at=naive, ended_at=naive)


def test_midnight_and_the_clock_change_count_true_time(shop: Shop, technician: Staff, order: RepairOrder) -> None:
    """8 March 2026, 2:00: clocks in the eastern zone go forward (15 U.S.C. 260a: second Sunday of March)."""
    job = season_service(shop, technician, order)
    RepairOrder.objects.update(received_on=dt.date(2026, 3, 1))
    entry = enter_time(
        shop=shop,
        by=technician,
        job_id=job.pk,
        started_at=dt.datetime(2026, 3, 7, 23, 30, tzinfo=EASTERN),
        ended_at=dt.datetime(2026, 3, 8, 3, 30, tzinfo=EASTERN),
    )
    assert minutes(TimeEntry.objects.get(pk=entry.pk)) == 180


def test_work_in_the_hour_that_comes_twice(shop: Shop, technician: Staff, order: RepairOrder) -> None:
    """2 November 2025, 2:00: clocks go back (first Sunday of November), so 1:15 comes after 1:45."""
    job = season_service(shop, technician, order)
    RepairOrder.objects.update(received_on=dt.date(2025, 11, 1))
    first = dt.datetime(2025, 11, 2, 1, 45, tzinfo=EASTERN)
    second = dt.datetime(2025, 11, 2, 1, 15, tzinfo=EASTERN, fold=1)
    assert minutes(enter_time(shop=shop, by=technician, job_id=job.pk, started_at=first, ended_at=second)) == 30


def test_only_the_counter_types_time_for_somebody(
    shop: Shop, other_shop: Shop, technician: Staff, writer: Staff, order: RepairOrder
) -> None:
    job = season_service(shop, technician, order)
    arrived_earlier(order)
    given: dict[str, Any] = {"shop": shop, "job_id": job.pk, **span(30)}
    with pytest.raises(NotYours):
        enter_time(by=technician, technician=writer.pk, **given)
    entry = enter_time(by=writer, technician=technician.pk, **given)
    assert entry.technician == technician.user
    stranger = Staff.objects.get(shop=other_shop)
    with pytest.raises(Refused, match="No such person"):
        enter_time(by=writer, technician=stranger.pk, **given)


def test_an_ended_job_takes_no_time_and_a_wrong_entry_leaves_a_trace(
    shop: Shop, technician: Staff, owner: Staff, order: RepairOrder
) -> None:
    job = season_service(shop, technician, order)
    arrived_earlier(order)
    entry = enter_time(shop=shop, by=owner, job_id=job.pk, **span(30))
    with pytest.raises(NotYours):
        remove_time(shop=shop, by=technician, entry_id=entry.pk)
    remove_time(shop=shop, by=owner, entry_id=entry.pk)
    assert not TimeEntry.objects.exists()
    strike_job(shop=shop, by=owner, job_id=job.pk, reason="not wanted")
    with pytest.raises(Conflict, match="struck"):
        clock_in(shop=shop, by=technician, job_id=job.pk)


def declined_at_the_counter(shop: Shop, by: Staff, estimate: Estimate, job: Job) -> None:
    answered(shop, by, estimate, {job.pk: False})


def declined_by_telephone(shop: Shop, by: Staff, estimate: Estimate, job: Job) -> None:
    say = {"job": job.pk, "accepted": False}
    take_answers(
        shop=shop, by=by, estimate_id=estimate.pk, said_by="Imke Dorran", answers=[say],
        **PHONED, called_at=timezone.now(),
    )  # fmt: skip


def declined_by_link(shop: Shop, by: Staff, estimate: Estimate, job: Job) -> None:
    _, address = make_link(estimate)
    token = address.rstrip("/").rsplit("/", 1)[1]
    say = {"job": job.pk, "accepted": False}
    answer_by_link(token=token, said_by="Imke Dorran", answers=[say], **shown_by_link(token))


def struck_by_the_counter(shop: Shop, by: Staff, estimate: Estimate, job: Job) -> None:
    strike_job(shop=shop, by=by, job_id=job.pk, reason="too dear")


@pytest.mark.parametrize(
    ("ended", "why"),
    [
        (declined_at_the_counter, "the customer declined the job"),
        (declined_by_telephone, "the customer declined the job"),
        (declined_by_link, "the customer declined the job"),
        (struck_by_the_counter, "the job was struck"),
    ],
)
def test_a_clock_stops_with_its_job(
    shop: Shop, technician: Staff, owner: Staff, order: RepairOrder, ended: Any, why: str
) -> None:
    set_rates(shop)
    arrived_earlier(order)
    job = sharpening(shop, technician, order)
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    moved_back(clock_in(shop=shop, by=technician, job_id=job.pk), 12)
    ended(shop, owner, estimate, job)
    entry = job.time_entries.get()
    assert entry.ended_at is not None and minutes(entry) == 12 and why in entry.note
    event = Event.objects.get(subject=job.subject, verb="clock stopped")
    assert event.words == f"Technician Person, 12 min: {why}"
    next_job = sharpening(shop, owner, order, title="Dress bar")
    assert clock_in(shop=shop, by=technician, job_id=next_job.pk).ended_at is None
    with pytest.raises(Conflict, match="does not run"):
        clock_out(shop=shop, by=technician, job_id=job.pk)


def test_a_clock_forgotten_for_days_does_not_become_days_of_work(
    shop: Shop, technician: Staff, owner: Staff, order: RepairOrder
) -> None:
    job = sharpening(shop, technician, order)
    moved_back(clock_in(shop=shop, by=technician, job_id=job.pk), 3 * 24 * 60)
    strike_job(shop=shop, by=owner, job_id=job.pk, reason="too dear")
    entry = job.time_entries.get()
    assert entry.ended_at is not None and entry.ended_at - entry.started_at == LONGEST
    assert "say when it really ended" in entry.note


def test_a_clock_goes_on_while_the_job_waits_for_a_new_answer(
    shop: Shop, technician: Staff, owner: Staff, order: RepairOrder
) -> None:
    """The technician stands at the machine, and time at a proposed job is finding out: only fitting and finishing wait."""
    set_rates(shop)
    job = season_service(shop, owner, order)
    agreed(shop, owner, order)
    clock_in(shop=shop, by=technician, job_id=job.pk)
    add_part(shop=shop, by=technician, job_id=job.pk, words="Fuel filter", unit_price=4)
    assert Job.objects.get(pk=job.pk).state == "proposed"
    assert job.time_entries.get().ended_at is None
    with pytest.raises(Conflict, match="goes beyond"):
        fit_part(shop=shop, by=technician, part_id=job.parts.earliest("created_at").pk)
    assert clock_out(shop=shop, by=technician, job_id=job.pk).ended_at is not None
