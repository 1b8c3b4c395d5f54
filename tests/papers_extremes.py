"""Each sample sheet as short as it can be, long, and absurd: made from the sheet itself, field by field."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Callable, Iterator
from typing import Any

from shopdocs.documents.press.sheets import from_json, to_json
from shopdocs.documents.press.words import words
from tests import papers_samples as samples

ROWS = {"labour", "parts", "work", "checks", "points", "findings", "entries", "items", "remedies", "steps", "payments"}
"""Lists of rows: they may hold very many. A credit note's `lines` are rows too; a person's are not."""
NOTES = {
    "found", "complaint", "request", "correction", "note", "reason", "why_now", "if_not", "summary", "remark", "done", "left", "cause", "why",
    "answer_how", "pay_how", "released", "because_of", "settled", "safety",
}  # fmt: skip
NAMES = {"name", "what", "title", "component", "maker", "model", "serial", "who", "basis", "technician", "measurement"}
CODES = {"cautions", "paper", "accent", "sha256", "kind", "code", "moment", "shows", "said", "stage"}
"""What no person reads as it stands: the drawing chooses by it."""
SPARE = {
    "photos", "assemblies", "accessories", "holds", "checks", "findings", "given", "options", "legal", "cautions", "others", "payments",
    "watch", "upkeep", "terms", "also", "remedies", "unchanged", "points", "if_refused", "precautions",
}  # fmt: skip
"""Lists that a paper may have nothing in."""
WILD = (
    "<img src='file:///etc/passwd'>", "مرحبا بالعالم", "🪚 sparks 🔥 ᚠ", "Ελληνικά", "кириллица", "x" * 130, "100% \\ {0} </para> & sons", "½ ⅜ × ≥",
)  # fmt: skip


def spoken(sheet: Any, language: str) -> Any:
    """The sheet in a language: what its builder would have said in it is; what a person typed stays as it was typed."""
    say = words(language)

    def heard(data: Any, key: str = "") -> Any:
        if isinstance(data, dict):
            return {name: heard(value, name) for name, value in data.items()}
        if isinstance(data, list):
            return [heard(one, key) for one in data]
        return say(data) if isinstance(data, str) and key not in CODES else data

    return from_json(type(sheet), {**heard(to_json(sheet)), "language": language})


def short(sheet: Any) -> Any:
    """One row of each kind, nothing that may be left out."""

    def cut(data: Any, key: str = "") -> Any:
        if isinstance(data, dict):
            return {name: cut(value, name) for name, value in data.items()}
        if isinstance(data, list):
            return [] if key in SPARE else [cut(one, key) for one in data[:1]]
        return data

    return from_json(type(sheet), cut(to_json(sheet)))


def long(sheet: Any) -> Any:
    """Forty rows a list, fourteen photos, notes of a few lines; the last list of rows of each kind is the long one."""
    return _grown(sheet, rows=40, name=60, note=700, photos=15, plain=True)


def absurd(sheet: Any) -> Any:
    """Three hundred rows, names of 400 characters, 80 photos, notes of 10,000, scripts and markup among them."""
    return _grown(sheet, rows=300, name=400, note=10_000, photos=80, plain=False)


def pictures(sheet: Any) -> dict[str, bytes]:
    """The pictures that a grown sheet shows: few of them, again and again, so that tests stay fast."""
    return {key: data for _, (key, data) in zip(range(8), _shots(), strict=False)} | samples.PICTURES


def _shots() -> Iterator[tuple[str, bytes]]:
    for at in itertools.count():
        yield samples.picture(f"extreme {at}", *((700, 1000) if at % 3 == 0 else (1000, 750)))


def _grown(sheet: Any, *, rows: int, name: int, note: int, photos: int, plain: bool) -> Any:
    data = to_json(sheet)
    for path, key, listed in list(_lists(data)):
        is_row = key in ROWS or (key == "lines" and listed and isinstance(listed[0], dict))
        if is_row and listed and path == _last_path(data, key):
            many = rows // 8 if key == "findings" else rows  # each is a section of its own
            listed[:] = [_row(listed[at % len(listed)], at) for at in range(many)]
    if data.get("photos"):
        shots = [key for _, (key, _) in zip(range(8), _shots(), strict=False)]
        first = data["photos"][0]
        data["photos"] = [
            {
                **first,
                "sha256": shots[at % 8],
                "number": at + 1,
                "caption": f"View {at + 1}",
                "moment": "before" if at % 2 else "after",
            }
            for at in range(photos)
        ]
    counter = itertools.count()

    def fill(value: Any, key: str = "", row: int = 0) -> Any:
        if isinstance(value, dict):
            return {one: fill(inner, one, row) for one, inner in value.items()}
        if isinstance(value, list):
            return [fill(one, key, at if len(value) > 9 else row) for at, one in enumerate(value)]
        if not isinstance(value, str) or not any(letter.isalpha() for letter in value):
            return value
        if key in NOTES and row % (rows // 4) == 0:  # of very many rows four have a note of that length
            return _text(value, note, next(counter), plain)
        # Every tenth name is as long as that; the rest stay names.
        return _text(value, name, at, plain) if key in NAMES and (at := next(counter)) % 10 == 0 else value

    kept = {"shop": data["shop"], "title": data["title"]}
    return from_json(type(sheet), fill({key: value for key, value in data.items() if key not in kept}) | kept)


def _row(row: Any, at: int) -> Any:
    """A row that can be known again: its code begins it, the end of its words ends it."""
    if not isinstance(row, dict):
        return row
    told = dict(row)
    if "condition" in row and "mark" in row:
        return told  # a finding is a section, and no row
    for field in ("code", "number", "mark"):
        if isinstance(told.get(field), str):
            told[field] = f"R{at:03}"
    if isinstance(told.get("what"), str) and set(told) & {"code", "number", "mark"}:
        told["what"] = f"{told['what']} end{at:03}"
    return told


def _lists(data: Any, path: str = "") -> Iterator[tuple[str, str, list[Any]]]:
    """Every list with its path and name, from the outside in."""
    if isinstance(data, dict):
        for key, value in data.items():
            if isinstance(value, list):
                yield f"{path}/{key}", key, value
            yield from _lists(value, f"{path}/{key}")
    if isinstance(data, list):
        for at, one in enumerate(data):
            yield from _lists(one, f"{path}[{at}]")


def _last_path(data: Any, key: str) -> str:
    return [path for path, name, _ in _lists(data) if name == key][-1]


def _text(base: str, size: int, at: int, plain: bool) -> str:
    """`base`, gone on with to `size` characters."""
    pieces = [base] if plain else [base, *WILD[at % len(WILD) :], *WILD[: at % len(WILD)]]
    told = ""
    for piece in itertools.cycle(pieces):
        told += f"{piece} "
        if len(told) >= size:
            return told[:size].rstrip()
    raise AssertionError


FORMS: dict[str, Callable[[Any], Any]] = {"short": short, "long": long, "absurd": absurd}


def made(paper: str, form: str, language: str, size: str) -> tuple[Any, Any]:
    """The module that draws the paper, and its sheet in this form, language and size."""
    module, make = samples.ALL_PAPERS[paper]
    return module, spoken(FORMS[form](dataclasses.replace(make(), paper=size)), language)
