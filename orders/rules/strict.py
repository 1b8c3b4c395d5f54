"""Read the house's YAML data strictly: unknown, doubled or missing keys are refused with file and line.

Every value comes back wrapped in a `Node` that knows where it stands, so that each later check
(a code that does not exist, a number out of range) can name the line too. Pure: reads the files it is given
and nothing else.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches
from pathlib import Path
from unicodedata import category

import yaml

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)  # the compiled reader is ten times quicker, where it is built
_NO_TEXT = ("Cc", "Cs")  # control characters, and halves of a pair that stand alone
_TEXT_TAG = "tag:yaml.org,2002:str"
_BOOL_TAG = "tag:yaml.org,2002:bool"
_INT_TAG = "tag:yaml.org,2002:int"
_FLOAT_TAG = "tag:yaml.org,2002:float"


class DataError(ValueError):
    """A data file breaks its schema. The text is `file:line: problem`, ready to show."""

    def __init__(self, where: str, problem: str) -> None:
        super().__init__(f"{where}: {problem}")
        self.where = where
        self.problem = problem


@dataclass(frozen=True)
class Node:
    """One YAML value and its place. `file` is the file's name as shown to people, `line` counts from 1."""

    node: yaml.Node
    file: str

    @property
    def line(self) -> int:
        return int(self.node.start_mark.line) + 1

    @property
    def where(self) -> str:
        return f"{self.file}:{self.line}"

    def refuse(self, problem: str) -> DataError:
        """The error to raise about this value; the caller raises it, so that type checkers see the exit."""
        return DataError(self.where, problem)

    def fields(self, required: Collection[str], optional: Collection[str] = ()) -> dict[str, Node]:
        """The entries of a mapping; refuses a doubled or unknown key and a missing required one."""
        found = self.entries()
        for key, value in found.items():
            if key not in required and key not in optional:
                allowed = ", ".join([*required, *optional])
                raise value.refuse(f"unknown key '{key}'; this place takes {allowed}")
        for key in required:
            if key not in found:
                raise self.refuse(f"the key '{key}' is missing")
        return found

    def entries(self) -> dict[str, Node]:
        """The entries of a mapping whose keys are free; refuses a doubled key."""
        if not isinstance(self.node, yaml.MappingNode):
            raise self.refuse("expected keys with values here")
        found: dict[str, Node] = {}
        for key_node, value_node in self.node.value:
            key = Node(key_node, self.file).text()
            if key in found:
                raise Node(key_node, self.file).refuse(f"the key '{key}' stands here twice")
            found[key] = Node(value_node, self.file)
        return found

    def items(self) -> tuple[Node, ...]:
        """The entries of a list."""
        if not isinstance(self.node, yaml.SequenceNode):
            raise self.refuse("expected a list here")
        return tuple(Node(child, self.file) for child in self.node.value)

    def text(self) -> str:
        """A non-empty text on one line. A bare `yes` or a number is refused, for YAML reads those as something else."""
        if not isinstance(self.node, yaml.ScalarNode) or self.node.tag != _TEXT_TAG:
            raise self.refuse("expected text here (put it in quotes if it looks like a number or yes/no)")
        words = " ".join(str(self.node.value).split())
        if not words:
            raise self.refuse("the text is empty")
        if not words.isprintable() and any(category(letter) in _NO_TEXT for letter in words):
            raise self.refuse("the text holds a control character, which no database or paper can keep")
        return words

    def texts(self) -> tuple[str, ...]:
        """A list of texts, none twice."""
        out: list[str] = []
        for item in self.items():
            word = item.text()
            if word in out:
                raise item.refuse(f"'{word}' stands in this list twice")
            out.append(word)
        return tuple(out)

    def flag(self) -> bool:
        """true or false, spelled just so."""
        plain = isinstance(self.node, yaml.ScalarNode) and self.node.tag == _BOOL_TAG
        if plain and self.node.value in ("true", "false"):
            return bool(self.node.value == "true")
        raise self.refuse("expected true or false here")

    def whole(self, low: int, high: int) -> int:
        """A whole number from `low` to `high`."""
        if not isinstance(self.node, yaml.ScalarNode) or self.node.tag != _INT_TAG:
            raise self.refuse("expected a whole number here")
        try:
            number = int(self.node.value)
        except ValueError:
            raise self.refuse("expected a plain decimal whole number here") from None
        if not low <= number <= high:
            raise self.refuse(f"{number} is outside {low} to {high}")
        return number

    def number(self) -> Decimal:
        """An exact decimal number, read from its own digits and never through a binary float."""
        if not isinstance(self.node, yaml.ScalarNode) or self.node.tag not in (_INT_TAG, _FLOAT_TAG):
            raise self.refuse("expected a number here")
        try:
            return Decimal(self.node.value)
        except InvalidOperation:
            raise self.refuse("expected a plain decimal number here") from None

    def one_of(self, choices: Collection[str], what: str) -> str:
        """A text that must be one of `choices`; the error lists near matches."""
        word = self.text()
        if word not in choices:
            raise self.refuse(no_such(what, word, choices))
        return word

    def some_of(self, choices: Collection[str], what: str) -> tuple[str, ...]:
        """A list of texts, each one of `choices`, none twice."""
        for item in self.items():
            item.one_of(choices, what)
        return self.texts()


def no_such(what: str, word: str, choices: Collection[str]) -> str:
    """Words for 'there is no such code', with the nearest that exist."""
    near = get_close_matches(word.lower().replace("-", "_").replace(" ", "_"), sorted(choices), n=4, cutoff=0.5)
    hint = f"near to it: {', '.join(near)}" if near else f"{len(choices)} exist, none is near to it"
    return f"there is no {what} '{word}'; {hint}"


def read(path: Path) -> Node:
    """The root of one YAML file.

    Raises DataError when the file is not YAML, is empty, or uses an alias (it would give one value two places).
    """
    return parse(path.read_text("utf-8"), path.name)


def parse(source: str, name: str) -> Node:
    """As `read`, from text; `name` is what errors call the file."""
    try:
        for event in yaml.parse(source, Loader=_LOADER):
            if isinstance(event, yaml.AliasEvent):
                mark = event.start_mark
                raise DataError(f"{name}:{mark.line + 1 if mark else 1}", "aliases are not used in this data")
        root = yaml.compose(source, Loader=_LOADER)
    except yaml.MarkedYAMLError as error:
        line = error.problem_mark.line + 1 if error.problem_mark else 1
        raise DataError(f"{name}:{line}", f"this is not YAML: {error.problem}") from None
    except yaml.reader.ReaderError as error:
        line = source.count("\n", 0, error.position) + 1
        raise DataError(f"{name}:{line}", f"this is not YAML: {error.reason}") from None
    if root is None:
        raise DataError(f"{name}:1", "the file is empty")
    return Node(root, name)
