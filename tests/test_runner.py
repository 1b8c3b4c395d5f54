"""`python -m tests`: how two runs come to one exit status, and how processes share the tests of a run."""

from pathlib import Path

import pytest

from tests.__main__ import both
from tests.conftest import EACH_BY_ITSELF, LONG, Spread, in_turn

ROOT = Path(__file__).resolve().parent.parent


@pytest.mark.parametrize(
    ("first", "again", "arguments", "status"),
    [
        (0, 0, [], 0),
        (0, 5, ["tests/shopdocs/test_money.py"], 0),
        (0, 5, [], 5),
        (5, 5, ["-k", "no such test"], 5),
        (1, 5, ["tests/shopdocs/test_money.py"], 1),
        (0, 1, ["tests/test_flow.py"], 1),
    ],
)
def test_a_second_run_without_tests_is_no_failure_where_arguments_chose(
    first: int, again: int, arguments: list[str], status: int
) -> None:
    assert both(first, again, arguments) == status


def test_the_longest_files_are_begun_first_and_then_those_of_most_tests() -> None:
    few, many = "tests/test_few.py", "tests/test_many.py"
    assert in_turn([few, many, many, LONG[1], many, LONG[0], few]) == [LONG[0], LONG[1], many, few]
    assert [name for name in (*LONG, *EACH_BY_ITSELF) if not (ROOT / name).is_file()] == []


def test_a_file_stays_in_one_process_but_for_long_tests_that_share_nothing() -> None:
    spread = Spread.__new__(Spread)
    assert spread._split_scope("tests/test_flow.py::test_a[1]") == "tests/test_flow.py"
    apart = sorted(EACH_BY_ITSELF)[0]
    assert spread._split_scope(f"{apart}::test_a[1]") == f"{apart}::test_a[1]"
