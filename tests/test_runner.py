"""`python -m tests`: how two runs come to one exit status."""

import pytest

from tests.__main__ import both


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
