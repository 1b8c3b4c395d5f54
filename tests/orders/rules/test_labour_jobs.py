"""Labour of several jobs of one payer: shared steps once, parts that add up for every choice, and the words for it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from orders.rules.labour import Rounding, labour_time
from orders.rules.labour_guide import Guide, LessWith, WorkStep
from orders.rules.labour_jobs import JobTime, JobWork, WorkLine, book, dearest_beside, order_labour
from tests.orders.rules.test_labour import SHOP, ancestors_minutes, guides

D = Decimal
COVER = WorkStep("cover", "cover off", D(18))
BOWL = WorkStep("bowl", "bowl cleaned", D(30), needs=("cover",))
COIL = WorkStep("coil", "coil changed", D(12), needs=("cover",))
PLUG = WorkStep("plug", "plug changed", D(6))
TEST = WorkStep("test", "run test", D(6), repeats=True)


def work(number: int, *steps: WorkStep, needs: Sequence[WorkStep] = ()) -> JobWork:
    """A job with one line of these steps; `needs` are known to it too."""
    line = WorkLine(f"line {number}", f"code {number}", f"work {number}", tuple(step.key for step in steps))
    return JobWork(number, (line,), {step.key: step for step in (*needs, *steps)})


CARBURETTOR, IGNITION = work(1, BOWL, needs=[COVER]), work(2, COIL, needs=[COVER])


def why(one: JobTime) -> dict[int, list[str]]:
    return {number: [message.said() for message in listed] for number, listed in one.shared.items()}


def hours(found: Sequence[JobTime]) -> list[str]:
    return [f"{one.hours}" for one in found]


def jobs_of(guide: Guide, keys: Sequence[str], cuts: Sequence[int]) -> list[JobWork]:
    """The chosen operations of a guide, dealt out to as many jobs as there are cuts."""
    dealt: dict[int, list[WorkLine]] = {}
    for key, cut in zip(keys, cuts, strict=False):
        one = guide.operations[key]
        inside = tuple(guide.operations[other].key for other in one.includes)
        line = WorkLine(key, key, one.words, one.steps, one.hours, inside, one.less_with)
        dealt.setdefault(cut, []).append(line)
    return [JobWork(number, tuple(lines), guide.steps) for number, lines in sorted(dealt.items())]


def test_the_first_job_carries_the_shared_step_and_the_second_says_so() -> None:
    first, second = order_labour([CARBURETTOR, IGNITION], Rounding.HALF_UP)
    assert (first.hours, second.hours, second.alone.hours, second.saved) == (D("0.8"), D("0.2"), D("0.5"), D("0.3"))
    assert (why(first), why(second)) == ({}, {1: ["cover off once"]})


def test_the_job_that_is_left_carries_the_step() -> None:
    (left,) = order_labour([IGNITION], Rounding.HALF_UP)
    assert (left.hours, left.saved, left.shared) == (D("0.5"), D("0.0"), {})


def test_a_step_that_repeats_is_done_for_each_job() -> None:
    found = order_labour([work(1, PLUG, TEST), work(2, PLUG, TEST)], Rounding.HALF_UP)
    assert (hours(found), why(found[1])) == (["0.2", "0.1"], {1: ["plug changed once"]})


def test_the_minutes_are_rounded_once() -> None:
    eight, seven = WorkStep("a", "first", D(8)), WorkStep("b", "second", D(7))
    found = order_labour([work(1, eight), work(2, seven)], Rounding.HALF_UP)
    assert (hours(found), found[1].saved, found[1].shared) == (["0.1", "0.2"], D("-0.1"), {})
    assert hours(order_labour([work(1, eight), work(2, seven)], Rounding.UP)) == ["0.2", "0.1"]


def test_a_later_job_that_includes_an_earlier_one_takes_its_time_over() -> None:
    bare = [
        WorkLine("1", "GASKET", "Change gasket", hours=D("0.3")),
        WorkLine("2", "RING", "Change ring", hours=D("0.4")),
    ]
    down = WorkLine("3", "DOWN", "Take down the engine", hours=D("0.5"), includes=("GASKET", "RING"))
    found = order_labour([JobWork(n, (line,), {}) for n, line in enumerate([*bare, down], 1)], Rounding.UP)
    assert hours(found) == ["0.3", "0.2", "0.0"]
    gasket, ring = ("Change gasket is part of Take down the engine", "Change ring is part of Take down the engine")
    # The first bears its own time as before; the second and the third leave out what is part of the third.
    assert [why(one) for one in found] == [{}, {3: [ring]}, {1: [gasket], 2: [ring]}]


def test_the_later_job_tells_what_shortens_the_earlier_one_beside_it() -> None:
    tune = WorkLine("t", "TUNE", "Tune", hours=D("0.5"), less_with=(LessWith("code 2", D("0.2")),))
    found = order_labour([JobWork(1, (tune,), {}), work(2, BOWL, needs=[COVER])], Rounding.HALF_UP)
    assert (hours(found), found[1].saved) == (["0.5", "0.6"], D("0.2"))
    assert [why(one) for one in found] == [{}, {1: ["Tune shorter beside work 2"]}]


def test_an_overlap_with_an_earlier_job_that_nobody_recorded_is_told_of_the_later_one() -> None:
    tune = WorkLine("t", "TUNE", "Tune", hours=D("0.5"))
    known = WorkLine(
        "k", "KNOWN", "Known", hours=D("0.5"), less_with=(LessWith("code 1", D(0)), LessWith("TUNE", D(0)))
    )
    jobs = [CARBURETTOR, JobWork(2, (tune,), {}), JobWork(3, (known,), {})]
    found = order_labour(jobs, Rounding.HALF_UP)
    assert [one.unknown for one in found] == [{}, {1: (("Tune", "work 1"),)}, {}]


def test_what_jobs_of_two_editions_of_the_guide_say_of_one_another_is_taken_as_far_as_it_can_hold() -> None:
    big = WorkLine("b", "BIG", "Big", hours=D("0.9"), includes=("SMALL",))
    for small, times in (
        (WorkLine("s", "SMALL", "Small", hours=D("1.2")), ["0.9", "1.2"]),  # grown since: no part of it any more
        (WorkLine("s", "SMALL", "Small", hours=D("0.9"), includes=("BIG",)), ["0.9", "0.0"]),  # turned round since
        (WorkLine("s", "SMALL", "Small", hours=D("0.4")), ["0.9", "0.0"]),
    ):
        found = order_labour([JobWork(1, (big,), {}), JobWork(2, (small,), {})], Rounding.HALF_UP)
        assert hours(found) == times
    assert found[1].unknown == {}
    # By the cover of the first job, who carries it, the gasket is no longer shorter than the seal that it is part of.
    seal = WorkLine("seal", "SEAL", "Seal", ("bowl",), includes=("GASKET",))
    gasket = WorkLine("gasket", "GASKET", "Gasket", hours=D("0.9"))
    longer = JobWork(2, (seal, gasket), {"cover": WorkStep("cover", "cover off", D(30)), "bowl": BOWL})
    assert hours(order_labour([longer], Rounding.HALF_UP)) == ["1.0"]
    assert hours(order_labour([CARBURETTOR, longer], Rounding.HALF_UP)) == ["0.8", "0.9"]


def test_a_bare_time_is_shorter_beside_the_work_of_another_job() -> None:
    tune = WorkLine("t", "TUNE", "Tune", hours=D("0.5"), less_with=(LessWith("code 1", D("0.2")),))
    found = order_labour([CARBURETTOR, JobWork(2, (tune,), {})], Rounding.HALF_UP)
    assert (hours(found), why(found[1])) == (["0.8", "0.3"], {1: ["Tune shorter beside work 1"]})
    # Named in a third job again, the work shortens it no further.
    again = WorkLine("l", "code 1", "work 1", ("bowl",))
    assert book([CARBURETTOR, JobWork(2, (tune,), {}), JobWork(3, (again,), CARBURETTOR.steps)]).operations[
        "t"
    ].less_with == (LessWith("line 1", D("0.2")), LessWith("l", D(0)))


def test_a_step_counts_as_the_first_job_has_it() -> None:
    longer = WorkStep("cover", "cover off", D(30), undoes=("nowhere",))
    found = order_labour([CARBURETTOR, work(2, COIL, needs=[longer])], Rounding.HALF_UP)
    assert (hours(found), found[1].alone.hours) == (["0.8", "0.2"], D("0.7"))


def dearest(jobs: Sequence[JobWork], at: int, rounding: Rounding = Rounding.HALF_UP, **more: Any) -> tuple[int, ...]:
    """With every hour at the same rate."""
    return dearest_beside(jobs, at, rounding, {line.key: D(1) for line in jobs[at].lines}, **more)


def test_the_choice_in_which_a_job_comes_to_the_most() -> None:
    jobs = [CARBURETTOR, IGNITION]
    assert [dearest(jobs, at) for at in range(2)] == [(), ()]
    assert dearest(jobs, 1, sure=[0]) == (0,)
    # 7 minutes are a tenth; after 8 they make two.
    apart = [work(1, PLUG), work(2, WorkStep("a", "first", D(8))), work(3, WorkStep("b", "second", D(7)))]
    assert dearest(apart, 2) == (1,)
    assert dearest([work(number, PLUG) for number in range(1, 9)], 7) == ()
    # Seven of eleven minutes each: beside four of them 8 minutes are two tenths, beside fewer one.
    eleven = [work(n, WorkStep(f"{n}", "eleven minutes", D(11))) for n in range(1, 8)]
    assert dearest([*eleven, work(8, WorkStep("a", "first", D(8)))], 7) == (0, 1, 2, 3)
    many = [*(work(n, WorkStep(f"{n}", "six minutes", D(6))) for n in range(4, 13)), *apart[1:]]
    assert dearest(many, 10) == (9,)


def test_the_most_is_what_costs_the_most() -> None:
    first = WorkStep("first", "shared with the first", D(3))
    second = WorkStep("second", "shared with the second", D(7))
    lines = (WorkLine("a", "A", "a", ("first", "second")), WorkLine("b", "B", "b", ("own",)))
    steps = {step.key: step for step in (first, second, WorkStep("own", "its own", D(3)))}
    jobs = [work(1, first, WorkStep("more", "more", D(3))), work(2, second), JobWork(3, lines, steps)]
    # 10 and 3 minutes are two tenths of a by itself, and 7 and 3 one of each.
    for rates, beside in ((("40", "40"), ()), (("40", "95"), (0,))):
        assert dearest_beside(jobs, 2, Rounding.HALF_UP, dict(zip("ab", map(D, rates), strict=True))) == beside


CUTS = st.lists(st.integers(1, 4), min_size=12, max_size=12)


@given(guides(special=False), CUTS, st.sampled_from(Rounding))
def test_the_times_add_up_to_the_union_rounded_once(
    drawn: tuple[Guide, list[str]], cuts: list[int], rounding: Rounding
) -> None:
    guide, keys = drawn
    found = order_labour(jobs_of(guide, keys, cuts), rounding)
    whole = labour_time(guide, keys, rounding)
    assert sum(one.hours for one in found) == whole.hours and whole.minutes == ancestors_minutes(guide, keys)
    assert all(sum(one.parts.values()) == one.hours for one in found)


@settings(max_examples=40)
@given(guides(special=True), CUTS, st.sets(st.integers(1, 4)), st.sampled_from(Rounding))
def test_every_choice_of_jobs_adds_up_and_none_is_dearer_than_the_dearest(
    drawn: tuple[Guide, list[str]], cuts: list[int], chosen: set[int], rounding: Rounding
) -> None:
    guide, keys = drawn
    every = jobs_of(guide, keys, cuts)
    jobs = [job for job in every if job.number in chosen]
    found = order_labour(jobs, rounding)
    whole = labour_time(guide, [line.key for job in jobs for line in job.lines], rounding)
    assert sum((one.hours for one in found), D(0)) == whole.hours
    assert all(part >= 0 for one in found for part in one.parts.values())
    assert all(sum(one.parts.values()) == one.hours for one in found)
    for at, job in enumerate(every):
        most = [every[place] for place in dearest(every, at, rounding)]
        limit = order_labour([*most, job], rounding)[-1].hours
        assert all(one.hours <= limit for one in found if one.number == job.number)


def test_one_job_is_timed_as_a_set_by_itself() -> None:
    keys = ["line", "filter", "clean", "tune"]
    (one,) = order_labour(jobs_of(SHOP, keys, [1] * 4), Rounding.HALF_UP)
    alone = labour_time(SHOP, keys, Rounding.HALF_UP)
    assert one.parts == {part.operation: part.counted for part in alone.operations} and one.saved == 0
