"""Known defects in and out: YAML and CSV. Each bad row is refused with its line and reason; a bad file changes nothing."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import yaml

from orders.rules.strict import DataError, Node, parse
from orders.rules.trade import trade
from warranty.coverage.known_defects import KnownDefect
from warranty.coverage.schema import day, node_from
from warranty.coverage.serials import SerialLayout, SerialRange, check_range

_DUMPER = getattr(yaml, "CSafeDumper", yaml.SafeDumper)  # the compiled writer, where it is built
NEEDED = (
    "id",
    "version",
    "title",
    "maker",
    "components",
    "signs",
    "check",
    "precaution",
    "cause",
    "remedy",
    "settled",
    "source",
)
LISTS = ("components", "signs", "models", "families", "conditions", "confirm", "rule_out", "parts")
MORE = (
    "models", "families", "built", "layouts", "serials", "conditions", "confirm", "rule_out", "parts", "labour_operation",
    "improved_since", "bulletin", "expires_on", "once_per_unit", "campaign", "term",
)  # fmt: skip
COLUMNS = (*NEEDED, *MORE)
SETTLED = ("warranty", "campaign", "goodwill", "customer", "varies")
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")  # the wide ones are read alike
MOST_ID = 70
MARK = "\ufeff"  # the byte-order mark that spreadsheets put before UTF-8


@dataclass(frozen=True)
class Imported:
    """What a file gave: all its rows with their places (`file:line`), or none and the reasons (`file:line: problem`)."""

    defects: tuple[KnownDefect, ...]
    refused: tuple[str, ...]
    places: tuple[str, ...] = ()


def defect_from_dict(record: Mapping[str, object], source_name: str = "record") -> KnownDefect:
    """One known defect from a plain record. Raises DataError."""
    return _read(node_from(record, source_name))


def _read(node: Node) -> KnownDefect:
    row = node.fields(NEEDED, MORE)
    texts: dict[str, Any] = {
        key: row[key].text()
        for key in ("labour_operation", "improved_since", "bulletin", "campaign", "term")
        if key in row
    }
    lists: dict[str, Any] = {key: row[key].texts() for key in LISTS if key in row}
    for key, table in (
        ("components", trade().components),
        ("families", trade().families),
        ("conditions", trade().conditions),
    ):
        if key in row:
            row[key].some_of(table, key)
    if len(row["id"].text()) > MOST_ID:
        raise row["id"].refuse(f"the id is longer than {MOST_ID} characters")
    layouts = tuple(_layout(item) for item in row["layouts"].items()) if "layouts" in row else ()
    serials = tuple(_serials(item, layouts) for item in row["serials"].items()) if "serials" in row else ()
    return KnownDefect(
        id=row["id"].text(), version=row["version"].whole(1, 10_000), title=row["title"].text(), maker=row["maker"].text(),
        check=row["check"].text(), precaution=row["precaution"].text(), cause=row["cause"].one_of(trade().causes, "cause"),
        remedy=row["remedy"].text(), settled=row["settled"].one_of(SETTLED, "way of settling"), source=row["source"].text(),
        built=tuple(_built(item) for item in row["built"].items()) if "built" in row else (),
        layouts=layouts, serials=serials, expires_on=day(row["expires_on"]) if "expires_on" in row else None,
        once_per_unit=row["once_per_unit"].flag() if "once_per_unit" in row else False, **lists, **texts,
    )  # fmt: skip


def _layout(node: Node) -> SerialLayout:
    row = node.fields(["name", "layout", "kinds", "order"])
    kinds = tuple((letter, kind.text()) for letter, kind in sorted(row["kinds"].entries().items()))
    try:
        return SerialLayout(row["name"].text(), row["layout"].text(), kinds, row["order"].texts())
    except ValueError as error:
        raise node.refuse(str(error)) from None


def _serials(node: Node, layouts: tuple[SerialLayout, ...]) -> SerialRange:
    row = node.fields(["layout"], ["first", "last"])
    first, last = (row[key].text() if key in row else None for key in ("first", "last"))
    found = SerialRange(row["layout"].text(), first, last)
    problem = check_range(found, layouts)
    if problem:
        raise node.refuse(problem)
    return found


def _built(node: Node) -> tuple[date | None, date | None]:
    row = node.fields([], ["from", "to"])
    first, last = (day(row[key]) if key in row else None for key in ("from", "to"))
    if first is not None and last is not None and last < first:
        raise node.refuse("the span ends before it starts")
    return first, last


def defect_to_dict(defect: KnownDefect) -> dict[str, object]:
    """The record of a known defect, as `defect_from_dict` takes it; what is empty is left out."""
    record: dict[str, object] = {}
    for key in COLUMNS:
        value = getattr(defect, key)
        if key == "built":
            value = [{k: d.isoformat() for k, d in (("from", low), ("to", high)) if d} for low, high in value]
        elif key == "layouts":
            value = [
                {"name": x.name, "layout": x.layout, "kinds": dict(x.kinds), "order": list(x.order)} for x in value
            ]
        elif key == "serials":
            value = [
                {k: v for k, v in (("layout", x.layout), ("first", x.first), ("last", x.last)) if v} for x in value
            ]
        elif isinstance(value, tuple):
            value = list(value)
        elif isinstance(value, date):
            value = value.isoformat()
        if value or key in NEEDED:
            record[key] = value
    return record


def import_yaml(text: str, source_name: str) -> Imported:
    """Known defects from YAML with the one key `known_defects`."""
    try:
        items = parse(text.removeprefix(MARK), source_name).fields(["known_defects"])["known_defects"].items()
    except DataError as error:
        return Imported((), (str(error),))
    return _all_or_nothing(items)


def import_csv(text: str, source_name: str) -> Imported:
    """Known defects from CSV with the columns of `COLUMNS`; lists and ranges stand in their cells as JSON.

    Blank lines count as lines and say nothing; a byte-order mark is passed over.
    """
    refused: list[str] = []
    return _all_or_nothing(_csv_rows(text.removeprefix(MARK), source_name, refused), refused)


def _csv_rows(text: str, source_name: str, refused: list[str]) -> Iterator[Node]:
    """Each row as it is read, so that no more than one is held; what is no row is told in `refused`."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    names: list[str] = []
    before = 0
    try:
        for cells in reader:
            # A row begins on the line after the one before it; texts may run over several lines.
            line, before = before + 1, reader.line_num
            if not cells:
                continue
            if not names:
                names = cells
                unknown = [name for name in names if name not in COLUMNS]
                if unknown or len(set(names)) != len(names):
                    told = ", ".join(unknown) or "the same name twice"
                    refused.append(f"{source_name}:{line}: unknown or doubled column: {told}")
                    return
                continue
            try:
                node = node_from(_cells(names, cells), source_name, line)
            except (ValueError, AttributeError, RecursionError) as error:
                refused.append(f"{source_name}:{line}: a cell cannot be read ({error})")
            else:
                yield node
    except csv.Error as error:
        refused.append(f"{source_name}:{reader.line_num}: this is not CSV ({error})")
    if not names and not refused:
        refused.append(f"{source_name}:1: unknown or doubled column: (none)")


def _cells(names: Sequence[str], cells: Sequence[str]) -> dict[str, object]:
    record: dict[str, object] = {}
    if len(names) != len(cells):
        raise ValueError("more or fewer cells than columns")
    for key, cell in zip(names, cells, strict=True):
        text = cell[1:] if _defused(cell) else cell
        if not text.strip():
            continue
        if key in LISTS or key in ("built", "layouts", "serials", "version", "once_per_unit"):
            record[key] = _JSON.decode(text)
        else:
            record[key] = text
    return record


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    """An object of a cell; the same key twice is refused."""
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands there twice")
    return found


_JSON = json.JSONDecoder(object_pairs_hook=_once)


def _defused(cell: str) -> bool:
    """Whether the first apostrophe was put there so that no spreadsheet runs what follows (or takes it away)."""
    return cell[:1] == "'" and cell[1:2] in (*FORMULA, "'")


def _cell(text: str) -> str:
    """A cell as it is written: an apostrophe before what a spreadsheet would run, or before what would look so."""
    return f"'{text}" if text[:1] in FORMULA or _defused(text) else text


def _all_or_nothing(nodes: Iterable[Node], refused: Sequence[str] = ()) -> Imported:
    """`refused` may grow while the nodes are read."""
    found: list[KnownDefect] = []
    places: list[str] = []
    wrong: list[str] = []
    seen: set[tuple[str, int]] = set()
    for node in nodes:
        try:
            defect = _read(node)
            if (defect.id, defect.version) in seen:
                raise node.refuse(f"version {defect.version} of '{defect.id}' stands here twice")
            seen.add((defect.id, defect.version))
            found.append(defect)
            places.append(node.where)
        except DataError as error:
            wrong.append(str(error))
    wrong += refused
    if wrong:
        return Imported((), tuple(sorted(wrong, key=_line)))
    return Imported(tuple(found), (), tuple(places))


def _line(reason: str) -> int:
    """The line that a reason names."""
    place = reason.split(": ", 1)[0].rsplit(":", 1)
    return int(place[1]) if len(place) == 2 and place[1].isdecimal() else 0


def export_yaml(defects: Iterable[KnownDefect]) -> str:
    """All of them as YAML that `import_yaml` reads."""
    records = [defect_to_dict(one) for one in defects]
    return str(yaml.dump({"known_defects": records}, Dumper=_DUMPER, sort_keys=False, allow_unicode=True, width=120))


def export_csv(defects: Iterable[KnownDefect]) -> str:
    """All of them as CSV that `import_csv` reads; a cell that a spreadsheet would run is defused with an apostrophe."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\r\n")
    writer.writeheader()
    for one in defects:
        row = {}
        for key, value in defect_to_dict(one).items():
            cell = value if isinstance(value, str) else json.dumps(value, ensure_ascii=False, sort_keys=True)
            row[key] = _cell(cell)
        writer.writerow(row)
    return out.getvalue()


__all__ = [
    "Imported", "defect_from_dict", "defect_to_dict", "export_csv", "export_yaml", "import_csv", "import_yaml",
]  # fmt: skip
