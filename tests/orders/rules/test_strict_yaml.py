"""The strict reader: what it refuses, and that it names file and line."""

from __future__ import annotations

from decimal import Decimal

import pytest
import yaml

from orders.rules import strict, trade
from orders.rules.strict import DataError, parse


def test_a_doubled_key_is_refused_with_file_and_line() -> None:
    node = parse("a: one\nb: two\na: three\n", "x.yaml")
    with pytest.raises(DataError, match=r"^x\.yaml:3: the key 'a' stands here twice$"):
        node.fields(["a", "b"])


def test_an_unknown_key_is_refused_with_what_may_stand_there() -> None:
    with pytest.raises(DataError, match=r"^x\.yaml:2: unknown key 'colour'; this place takes a, b$"):
        parse("a: one\ncolour: red\n", "x.yaml").fields(["a"], ["b"])


def test_a_missing_key_is_named() -> None:
    with pytest.raises(DataError, match=r"^x\.yaml:1: the key 'b' is missing$"):
        parse("a: one\n", "x.yaml").fields(["a", "b"])


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("a: 12", "expected text"),
        ("a: yes", "expected text"),
        ("a: ' '", "empty"),
        ("a: [b]", "expected text"),
        ("a:", "expected text"),
    ],
)
def test_what_is_not_text_is_refused(text: str, problem: str) -> None:
    with pytest.raises(DataError, match=problem):
        parse(text, "x.yaml").fields(["a"])["a"].text()


@pytest.mark.parametrize("text", ["a: yes", "a: True", "a: 'true'", "a: 1"])
def test_a_flag_is_true_or_false_spelled_so(text: str) -> None:
    with pytest.raises(DataError, match="expected true or false"):
        parse(text, "x.yaml").fields(["a"])["a"].flag()
    assert parse("a: true", "x.yaml").fields(["a"])["a"].flag() is True
    assert parse("a: false", "x.yaml").fields(["a"])["a"].flag() is False


def test_a_number_never_passes_through_a_binary_float() -> None:
    assert parse("a: 0.1129848", "x.yaml").fields(["a"])["a"].number() == Decimal("0.1129848")
    for bad in ("a: '1'", "a: .inf", "a: 0x1F", "a: true"):
        with pytest.raises(DataError):
            parse(bad, "x.yaml").fields(["a"])["a"].number()


@pytest.mark.parametrize(("number", "ok"), [(0, False), (1, True), (5, True), (6, False)])
def test_a_whole_number_keeps_its_bounds(number: int, ok: bool) -> None:
    node = parse(f"a: {number}", "x.yaml").fields(["a"])["a"]
    if ok:
        assert node.whole(1, 5) == number
    else:
        with pytest.raises(DataError, match="outside 1 to 5"):
            node.whole(1, 5)


def test_a_list_with_an_entry_twice_or_an_unknown_one_is_refused() -> None:
    with pytest.raises(DataError, match=r"x\.yaml:3: 'b' stands in this list twice"):
        parse("a:\n - b\n - b\n", "x.yaml").fields(["a"])["a"].texts()
    with pytest.raises(DataError, match=r"x\.yaml:3: there is no part 'pistn'; near to it: piston"):
        parse("a:\n - piston\n - pistn\n", "x.yaml").fields(["a"])["a"].some_of(["piston", "ring"], "part")


@pytest.mark.parametrize("text", ["", "# only a comment\n", "a: [1", "a: &x one\nb: *x\n", "a: 1\n b: 2\n"])
def test_a_file_that_is_no_plain_yaml_is_refused(text: str) -> None:
    with pytest.raises(DataError, match=r"^x\.yaml:\d+: "):
        parse(text, "x.yaml").fields(["a", "b"])["a"].text()


def test_the_plain_and_the_compiled_reader_agree(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where PyYAML was built without its C part the plain reader takes over: same data, same places."""
    compiled = trade.load()
    monkeypatch.setattr(strict, "_LOADER", yaml.SafeLoader)
    assert trade.load() == compiled
    with pytest.raises(DataError, match=r"^x\.yaml:3: the key 'a' stands here twice$"):
        parse("a: one\nb: two\na: three\n", "x.yaml").fields(["a", "b"])
