"""Labour time: steps once, repeats, undoing, bare times, rounding, and the words that explain it."""

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from random import Random

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.rules.labour import LabourTime, Rounding, labour_time, tenths
from orders.rules.labour_guide import Guide, LessWith, Operation, WorkStep, guide
from shopdocs.problems import BadInput

M = Decimal
COVER = WorkStep("cover", "cover off and on", M(12))
TANK = WorkStep("tank", "tank drained", M(6), needs=("cover",))
LINE = WorkStep("line", "fuel line replaced", M(9), needs=("tank",))
FILTER = WorkStep("filter", "fuel filter replaced", M(3), needs=("tank",))
COIL = WorkStep("coil", "ignition module replaced", M(18), needs=("cover",))
TEST = WorkStep("test", "run test", M(6), repeats=True)

SHOP = guide(
    [COVER, TANK, LINE, FILTER, COIL, TEST],
    [
        Operation("line", "Replace fuel line", ("line", "test")),
        Operation("filter", "Replace fuel filter", ("filter",)),
        Operation("coil", "Replace ignition module", ("coil", "test")),
        Operation(
            "clean", "Clean carburettor", hours=M("0.8"), includes=("bowl",), less_with=(LessWith("line", M("0.2")),)
        ),
        Operation("bowl", "Clean carburettor bowl", hours=M("0.3")),
        Operation("tune", "Adjust carburettor", hours=M("0.3"), less_with=(LessWith("clean", M("0.1")),)),
        Operation("blade", "Sharpen blade", hours=M("0.4"), less_with=(LessWith("line", M(0)),)),
    ],
)


def time_of(*keys: str, rounding: Rounding = Rounding.HALF_UP, book: Guide = SHOP) -> LabourTime:
    """Shorthand for the tests below."""
    return labour_time(book, keys, rounding)


def test_shared_steps_count_once_and_the_saving_is_told() -> None:
    found = time_of("line", "filter")
    assert found.minutes == 12 + 6 + 9 + 6 + 3
    assert (found.hours, found.separate, found.saved) == (M("0.6"), M("0.9"), M("0.3"))
    assert found.saving == "0.3 h saved: cover off and on once, tank drained once."
    assert [step.key for step in found.performed] == ["cover", "tank", "line", "filter", "test"]


def test_the_operation_named_first_carries_the_shared_steps() -> None:
    first, second = time_of("line", "filter").operations
    assert (first.minutes, second.minutes) == (33, 3)
    assert (first.alone, second.alone) == (M("0.6"), M("0.4"))
    assert (first.counted, second.counted) == (M("0.6"), M("0.0"))
    turned = time_of("filter", "line").operations
    assert [part.minutes for part in turned] == [21, 15]


def test_a_step_that_repeats_is_done_for_each_operation() -> None:
    found = time_of("line", "coil")
    assert found.minutes == 12 + 6 + 9 + 18 + 2 * 6
    run_test = next(step for step in found.performed if step.key == "test")
    assert (run_test.times, run_test.asked) == (2, 2)
    assert any(step.text == "run test, twice" and step.amount == 12 for step in found.steps)
    assert "run test" not in found.saving


def test_one_operation_alone_saves_nothing() -> None:
    found = time_of("coil")
    assert found.saved == 0 and found.saving == ""


def test_no_operation_takes_no_time() -> None:
    found = time_of()
    assert (found.minutes, found.hours, found.operations) == (0, 0, ())


OPEN = WorkStep("open", "housing open", M(10))
SEAL = WorkStep("seal", "seal replaced", M(5), needs=("open",))
BEARING = WorkStep("bearing", "bearing replaced", M(20), needs=("open",))
CLOSE = WorkStep("close", "housing closed", M(8), needs=("open",), undoes=("open",))
WARM = WorkStep("warm", "warm run", M(15), needs=("close",))
RETIGHTEN = WorkStep("retighten", "inner bolts tightened warm", M(4), needs=("warm", "open"))
HOUSING = guide(
    [OPEN, SEAL, BEARING, CLOSE, WARM, RETIGHTEN],
    [
        Operation("seals", "Replace seals", ("seal", "close")),
        Operation("bearings", "Replace bearings", ("bearing", "close")),
        Operation("bolts", "Tighten inner bolts", ("retighten",)),
    ],
)


def test_undoing_waits_for_all_work_that_needs_the_step() -> None:
    found = time_of("seals", "bearings", book=HOUSING)
    assert found.minutes == 10 + 5 + 20 + 8
    assert [step.key for step in found.performed] == ["open", "seal", "bearing", "close"]


def test_what_must_be_undone_first_is_done_again_and_closed_again() -> None:
    found = time_of("seals", "bolts", book=HOUSING)
    assert found.minutes == 2 * 10 + 5 + 2 * 8 + 15 + 4
    opened = next(step for step in found.performed if step.key == "open")
    assert (opened.times, opened.again_after) == (2, ("housing closed",))
    assert any("again because of: housing closed" in step.text for step in found.steps)


def test_what_two_steps_each_close_is_opened_again_between_them() -> None:
    """Opened, closed one way, opened again, closed the other way; each operation by itself opens it once."""
    steps = [WorkStep("lid", "lid off", M(6))]
    steps += [WorkStep(key, f"lid on {key}", M(9), needs=("lid",), undoes=("lid",)) for key in ("dry", "greased")]
    book = guide(steps, [Operation(key, key, (key,)) for key in ("dry", "greased")])
    found = time_of("greased", "dry", book=book)
    assert found.minutes == 2 * (6 + 9)
    assert [(step.key, step.times, step.again_after) for step in found.performed] == [
        ("lid", 2, ("lid on dry",)), ("dry", 1, ()), ("greased", 1, ()),
    ]  # fmt: skip
    assert (found.saved, found.separate) == (0, M("0.5"))


def test_what_can_be_undone_before_it_is_done_is_done_once() -> None:
    tipped = WorkStep("tipped", "mower tipped", M(5), undoes=("level",))
    level = WorkStep("level", "deck levelled", M(12))
    check = WorkStep("check", "blade tip height measured", M(6), needs=("level", "tipped"))
    found = time_of("check", book=guide([level, tipped, check], [Operation("check", "Check", ("check",))]))
    assert found.minutes == 5 + 12 + 6
    assert [step.key for step in found.performed] == ["tipped", "level", "check"]


def test_bare_times_lose_only_what_is_recorded() -> None:
    found = time_of("clean", "line", "tune")
    assert found.minutes == 33 + (48 - 12) + (18 - 6)
    assert found.unknown_overlaps == (("line", "tune"),)
    assert found.saving == "0.3 h saved: Clean carburettor shorter beside Replace fuel line, " + (
        "Adjust carburettor shorter beside Clean carburettor."
    )
    remark = found.steps[-1]
    assert remark.amount is None
    assert remark.text == (
        "Whether Replace fuel line and Adjust carburettor share work is not recorded; both count in full."
    )


def test_a_recorded_overlap_of_nothing_is_known() -> None:
    assert time_of("blade", "line").unknown_overlaps == ()
    assert time_of("blade", "coil").unknown_overlaps == (("blade", "coil"),)


def test_an_included_operation_takes_no_time_of_its_own() -> None:
    found = time_of("bowl", "clean")
    assert (found.hours, found.saved) == (M("0.8"), M("0.3"))
    bowl = found.operations[0]
    assert (bowl.part_of, bowl.counted, bowl.alone) == ("clean", M("0.0"), M("0.3"))
    assert found.saving == "0.3 h saved: Clean carburettor bowl is part of Clean carburettor."


def test_rounding_is_by_the_payers_rule_and_once() -> None:
    eight = guide(
        [WorkStep(f"s{n}", f"step {n}", M(8)) for n in range(3)],
        [Operation(f"o{n}", f"Job {n}", (f"s{n}",)) for n in range(3)],
    )
    found = time_of("o0", "o1", "o2", book=eight)
    assert [part.alone for part in found.operations] == [M("0.1")] * 3
    assert found.hours == M("0.4") and found.saved == 0
    assert [part.counted for part in found.operations] == [M("0.2"), M("0.1"), M("0.1")]
    assert time_of("o0", book=eight, rounding=Rounding.UP).hours == M("0.2")


def test_parts_of_a_minute_count_in_the_shares() -> None:
    book = guide(
        [WorkStep("a", "first", M("2.9")), WorkStep("b", "second", M("2.5")), WorkStep("c", "third", M("0.6"))],
        [Operation(key, key, (key,)) for key in ("c", "b", "a")],
    )
    found = time_of("c", "b", "a", book=book)
    assert (found.minutes, found.hours) == (M("6.0"), M("0.1"))
    assert [part.counted for part in found.operations] == [M("0.0"), M("0.0"), M("0.1")]


@given(st.decimals(0, 6000, places=2), st.sampled_from(Rounding))
def test_tenths_are_near_and_rise_with_the_minutes(minutes: Decimal, rounding: Rounding) -> None:
    hours = tenths(minutes, rounding)
    error = Fraction(hours) - Fraction(minutes) / 60
    assert hours * 10 == int(hours * 10)
    if rounding is Rounding.UP:
        assert 0 <= error < Fraction(1, 10)
    else:
        assert abs(error) <= Fraction(1, 20)
    assert tenths(minutes + 1, rounding) >= hours
    if rounding is not Rounding.HALF_EVEN:
        assert tenths(minutes + 6, rounding) == hours + M("0.1")


@st.composite
def guides(draw: st.DrawFn, special: bool) -> tuple[Guide, list[str]]:
    """A random guide whose steps need earlier ones only, and a choice of its operations."""
    count = draw(st.integers(1, 14))
    steps = []
    for index in range(count):
        earlier = (
            st.lists(st.sampled_from([f"s{n}" for n in range(index)]), unique=True, max_size=3)
            if index
            else st.just([])
        )
        anyone = st.lists(
            st.sampled_from([f"s{n}" for n in range(count) if n != index] or ["s0"]), unique=True, max_size=2
        )
        undoes = tuple(draw(anyone)) if special and count > 1 else ()
        repeats = special and draw(st.booleans())
        minutes = draw(st.integers(0, 600))
        steps.append(WorkStep(f"s{index}", f"step {index}", M(minutes) / 10, tuple(draw(earlier)), undoes, repeats))
    operations = []
    for index in range(draw(st.integers(1, 6))):
        chosen = draw(st.lists(st.sampled_from([step.key for step in steps]), unique=True, min_size=1, max_size=4))
        operations.append(Operation(f"o{index}", f"job {index}", tuple(chosen)))
    for index in range(draw(st.integers(0, 3)) if special else 0):
        others = [operation.key for operation in operations]
        pairs = draw(st.lists(st.sampled_from(others), unique=True, max_size=3))
        less = tuple(LessWith(key, M(draw(st.integers(0, 20))) / 10) for key in pairs)
        operations.append(
            Operation(f"b{index}", f"bare {index}", hours=M(draw(st.integers(0, 20))) / 10, less_with=less)
        )
    keys = draw(st.lists(st.sampled_from([operation.key for operation in operations]), unique=True, min_size=1))
    return guide(steps, operations), keys


def ancestors_minutes(book: Guide, keys: list[str]) -> Decimal:
    """The same union by networkx: the steps of the operations and all their ancestors."""
    graph = nx.DiGraph()
    graph.add_nodes_from(book.steps)
    graph.add_edges_from((need, step.key) for step in book.steps.values() for need in step.needs)
    wanted: set[str] = set()
    for key in keys:
        for step in book.operations[key].steps:
            wanted |= {step, *nx.ancestors(graph, step)}
    return sum((book.steps[step].minutes for step in wanted), M(0))


@given(guides(special=False))
def test_union_equals_the_ancestors_in_the_graph(drawn: tuple[Guide, list[str]]) -> None:
    book, keys = drawn
    found = labour_time(book, keys, Rounding.HALF_UP)
    assert found.minutes == ancestors_minutes(book, keys)
    assert all(step.times == 1 for step in found.performed)


@given(guides(special=True), st.sampled_from(Rounding))
def test_with_repeats_undoing_and_bare_times_it_lies_between_the_longest_and_the_sum(
    drawn: tuple[Guide, list[str]], rounding: Rounding
) -> None:
    book, keys = drawn
    found = labour_time(book, keys, rounding)
    singles = [labour_time(book, [key], rounding).minutes for key in keys]
    assert max(singles) <= found.minutes <= sum(singles)
    assert found.separate == tenths(sum(singles), rounding) and found.saved >= 0


@given(guides(special=True))
def test_what_an_operation_takes_by_itself_does_not_turn_on_what_is_done_beside_it(
    drawn: tuple[Guide, list[str]],
) -> None:
    book, chosen = drawn
    for part in time_of(*chosen, book=book).operations:
        assert part.alone == time_of(part.operation, book=book).hours


@given(guides(special=True), st.sampled_from(Rounding), st.randoms())
def test_the_parts_add_up_and_the_order_of_naming_changes_no_total(
    drawn: tuple[Guide, list[str]], rounding: Rounding, random: Random
) -> None:
    book, keys = drawn
    found = labour_time(book, keys, rounding)
    assert sum(part.counted for part in found.operations) == found.hours
    assert sum(part.minutes for part in found.operations) == found.minutes
    listed = sum(step.minutes * step.times for step in found.performed)
    assert listed + sum(bare.minutes - bare.less for bare in found.bare) == found.minutes
    shuffled = list(keys)
    random.shuffle(shuffled)
    assert labour_time(book, shuffled, rounding).minutes == found.minutes


@given(guides(special=True))
def test_steps_are_listed_in_an_order_in_which_they_can_be_done(drawn: tuple[Guide, list[str]]) -> None:
    book, keys = drawn
    seen: set[str] = set()
    for step in labour_time(book, keys, Rounding.UP).performed:
        assert set(book.steps[step.key].needs) <= seen
        seen.add(step.key)


def test_a_deep_guide_is_walked_without_recursion() -> None:
    chain = [WorkStep(f"s{n}", f"step {n}", M(1), needs=(f"s{n - 1}",) if n else ()) for n in range(3000)]
    book = guide(chain, [Operation("all", "Everything", ("s2999",))])
    assert time_of("all", book=book).minutes == 3000


WRONG_GUIDES: Mapping[str, tuple[list[WorkStep], list[Operation]]] = {
    "loop of needs": ([WorkStep("a", "a", M(1), ("b",)), WorkStep("b", "b", M(1), ("a",))], []),
    "unknown need": ([WorkStep("a", "a", M(1), ("z",))], []),
    "unknown undone": ([WorkStep("a", "a", M(1), undoes=("z",))], []),
    "step twice": ([WorkStep("a", "a", M(1)), WorkStep("a", "b", M(2))], []),
    "operation twice": ([COVER], [Operation("o", "o", ("cover",)), Operation("o", "p", ("cover",))]),
    "unknown step": ([], [Operation("o", "o", ("cover",))]),
    "unknown included": ([], [Operation("o", "o", hours=M(1), includes=("p",))]),
    "unknown pair": ([], [Operation("o", "o", hours=M(1), less_with=(LessWith("p", M(1)),))]),
    "loop of inclusion": (
        [],
        [Operation("o", "o", hours=M(1), includes=("p",)), Operation("p", "p", hours=M(1), includes=("o",))],
    ),
}


@pytest.mark.parametrize("case", WRONG_GUIDES)
def test_refuses_a_guide_that_cannot_be(case: str) -> None:
    with pytest.raises(BadInput) as refused:
        guide(*WRONG_GUIDES[case])
    assert refused.value.field and refused.value.remedy


def test_refuses_wrong_steps_operations_and_choices() -> None:
    longer = guide(
        [],
        [Operation("o", "o", hours=M("0.2"), includes=("p",)), Operation("p", "p", hours=M("0.5"))],
    )
    wrong = [
        lambda: WorkStep("a", "a", M(-1)),
        lambda: WorkStep("a", "a", M("NaN")),
        lambda: WorkStep("a", "a", M(1), needs=("a",)),
        lambda: WorkStep("a", "a", M(6001)),
        lambda: Operation("o", "o"),
        lambda: Operation("o", "o", ("cover",), hours=M(1)),
        lambda: Operation("o", "o", hours=M("0.25")),
        lambda: Operation("o", "o", hours=M("-0.1")),
        lambda: Operation("o", "o", ("cover",), less_with=(LessWith("p", M(1)),)),
        lambda: Operation("o", "o", hours=M(1), less_with=(LessWith("o", M(1)),)),
        lambda: time_of("nothing"),
        lambda: time_of("line", "line"),
        lambda: time_of("o", "p", book=longer),
    ]
    for call in wrong:
        with pytest.raises(BadInput) as refused:
            call()
        assert refused.value.field and refused.value.remedy
