"""The kinds of paper that exist. Orders and warranty register theirs here; this room knows none of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol


class Drawn(Protocol):
    """What drawing a sheet gives: the file, its pages, and characters that could not be printed."""

    @property
    def pdf(self) -> bytes: ...
    @property
    def pages(self) -> int: ...
    @property
    def replaced(self) -> tuple[str, ...]: ...


@dataclass(frozen=True)
class Kind:
    """A kind of paper: `draw` turns a frozen sheet (JSON) and its pictures into a PDF, always the same one.

    `small`: the paper shows its pictures as an overview and is given their small copies.
    """

    name: str
    title: str
    draw: Callable[[dict[str, Any], Mapping[str, bytes]], Drawn]
    pictures: Callable[[dict[str, Any]], Sequence[str]]
    small: bool = False


_KINDS: dict[str, Kind] = {}


def register(kind: Kind) -> None:
    """Called once per kind when an app is ready; two papers of one name are a mistake of ours."""
    if _KINDS.get(kind.name, kind) != kind:
        raise ValueError(f"the paper kind '{kind.name}' is registered twice")
    _KINDS[kind.name] = kind


def kind(name: str) -> Kind:
    return _KINDS[name]


def kinds() -> list[Kind]:
    return [_KINDS[name] for name in sorted(_KINDS)]
