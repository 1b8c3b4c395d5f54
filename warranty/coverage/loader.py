"""The only module of this room that opens files: YAML in warranty/terms."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from orders.rules.strict import Node, parse

FOLDER = Path(__file__).parents[1] / "terms"


@cache
def text_of(name: str) -> str:
    """The text of one shipped file."""
    return (FOLDER / name).read_text("utf-8")


def root_of(name: str) -> Node:
    """The root of one shipped file."""
    return parse(text_of(name), name)


def term_files(folder: Path | None = None) -> list[tuple[str, str]]:
    """Name and text of each file that holds terms, by name."""
    found = [(path.name, path.read_text("utf-8")) for path in sorted((folder or FOLDER).glob("*.yaml"))]
    return [(name, text) for name, text in found if "\nterms:" in f"\n{text}"]
