"""Known defects of the shop: recorded, imported and exported. A pattern is never rewritten, only retired."""

from __future__ import annotations

import datetime as dt
import functools
import json
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from django.db import transaction
from django.db.models import F, Q

from orders.models import Maker
from orders.rules.strict import DataError
from shopdocs.rest.refusals import Conflict, Problem, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event
from warranty.coverage.defect_files import (
    Imported,
    defect_from_dict,
    defect_to_dict,
    export_csv,
    export_yaml,
    import_csv,
    import_yaml,
)  # fmt: skip
from warranty.coverage.facts import UnitFacts
from warranty.coverage.known_defects import KnownDefect
from warranty.models import KnownDefectRecord

from .lookups import not_ahead
from .terms import refused_by_schema

REMEDY = "Correct the known defect; its keys are those of an exported file."
MOST_TOLD = 200
READERS = {"yaml": import_yaml, "csv": import_csv}
WRITERS = {"yaml": export_yaml, "csv": export_csv}


def known_defects_for(*, shop: Shop, unit: UnitFacts, as_of: dt.date) -> list[KnownDefect]:
    """The patterns of the makers of this unit and of its assemblies that are not retired by that day."""
    names = {name.casefold() for name in (unit.maker, *(one.maker for one in unit.assemblies)) if name}
    rows = KnownDefectRecord.objects.for_shop(shop).filter(Q(retired_on=None) | Q(retired_on__gt=as_of))
    makers = [row.pk for row in Maker.objects.for_shop(shop) if row.name.casefold() in names]
    wanted = rows.filter(Q(maker__in=makers) | Q(maker=None)).select_related("maker").order_by("code")
    found = [(_kept(str(row.pk), json.dumps(row.pattern, sort_keys=True)), row.maker) for row in wanted]
    # A maker renamed in the shop's records is still the one whose machines fail so.
    named = [replace(one, maker=maker.name) if maker else one for one, maker in found]
    return [one for one in named if one.maker.casefold() in names]


@functools.lru_cache(maxsize=65_536)
def _kept(pk: str, data: str) -> KnownDefect:
    """A recorded pattern, read once per process."""
    return defect_from_dict(json.loads(data), f"known defect {pk}")


def _code(defect: KnownDefect) -> str:
    return f"{defect.id}/{defect.version}"


@transaction.atomic
def record_known_defect(*, shop: Shop, by: Staff, pattern: dict[str, Any]) -> KnownDefectRecord:
    """Records one pattern. The same id and version again is refused."""
    if not isinstance(pattern, dict):
        raise Refused("pattern", "A known defect is an object with keys.", REMEDY)
    try:
        defect = defect_from_dict(pattern, "pattern")
    except DataError as error:
        raise refused_by_schema("pattern", error, REMEDY) from error
    rows = _recorded(shop, [defect])
    if rows:
        remedy = "A pattern is never rewritten: record it with the next version, then retire the old one."
        raise Conflict("pattern.version", f"'{_code(defect)}' is recorded already.", remedy)
    return _store(shop, by, [defect], "recorded")[0]


def _recorded(shop: Shop, defects: Iterable[KnownDefect]) -> dict[str, Any]:
    """The patterns recorded under the codes of these, by code."""
    wanted = {_code(one) for one in defects}
    rows = KnownDefectRecord.objects.for_shop(shop).values_list("code", "pattern")
    return {code: pattern for code, pattern in rows if code in wanted}


def _store(shop: Shop, by: Staff, defects: list[KnownDefect], verb: str) -> list[KnownDefectRecord]:
    too_long = next((one for one in defects if len(_code(one)) > 80), None)
    if too_long is not None:
        raise Refused("id", f"The id '{too_long.id[:40]}...' is too long.", "Use at most 70 characters.")
    makers = {row.name.casefold(): row for row in Maker.objects.for_shop(shop)}
    rows = [
        KnownDefectRecord(
            shop=shop, code=_code(one), maker=makers.get(one.maker.casefold()), pattern=defect_to_dict(one)
        )
        for one in defects
    ]
    KnownDefectRecord.objects.bulk_create(rows, batch_size=1000)
    words = f"{len(rows)} known defects" if len(rows) != 1 else rows[0].code
    record_event(shop=shop, subject=f"shop:{shop.pk}", verb=f"known defects {verb}", by=by, words=words)
    return rows


@transaction.atomic
def import_known_defects(*, shop: Shop, by: Staff, text: str, form: str, name: str) -> tuple[int, int]:
    """Takes in a file ('csv' or 'yaml') whole or not at all; returns how many are new and how many were there already.

    Each bad row is a problem of its own, named by its line. A row that is recorded with other content is bad too.
    """
    if "\x00" in text:
        raise Refused("file", "The file holds a zero byte, so it is no text.", "Save it as UTF-8 text.")
    read: Imported = READERS[form](text, name)
    problems = [_told(one) for one in read.refused]
    recorded = _recorded(shop, read.defects)
    for one in read.defects:
        known = recorded.get(_code(one))
        if known is not None and known != json.loads(json.dumps(defect_to_dict(one))):
            problem = f"'{_code(one)}' is recorded already and says something else."
            problems.append(Problem(f"{name}", problem, "Give it the next version; a pattern is never rewritten."))
    if problems:
        if len(problems) > MOST_TOLD:
            more = Problem(name, f"{len(problems) - MOST_TOLD} more rows are bad.", "Correct these first.")
            problems = [*problems[:MOST_TOLD], more]
        raise Refused(problems=problems)
    new = [one for one in read.defects if _code(one) not in recorded]
    if new:
        _store(shop, by, new, "imported")
    return len(new), len(recorded)


def _told(line: str) -> Problem:
    """'file:line: problem' as a problem whose field is the line."""
    where, _, problem = line.partition(": ")
    words = f"{problem[:1].upper()}{problem[1:]}"
    return Problem(
        where, words if words.endswith(".") else f"{words}.", "Correct this row; nothing of the file was taken in."
    )


def export_known_defects(*, shop: Shop, form: str) -> str:
    """Every pattern that is not retired, as a file that `import_known_defects` takes."""
    rows = KnownDefectRecord.objects.for_shop(shop).filter(retired_on=None).order_by("code")
    return WRITERS[form]([_kept(str(row.pk), json.dumps(row.pattern, sort_keys=True)) for row in rows])


@transaction.atomic
def retire_known_defect(
    *, shop: Shop, by: Staff, row: KnownDefectRecord, version: int, retired_on: dt.date | None = None
) -> KnownDefectRecord:
    """From that day on the pattern is not compared any more."""
    day = retired_on or shop.today()
    not_ahead(shop, "retired_on", day)
    rows = KnownDefectRecord.objects.for_shop(shop).filter(pk=row.pk)
    if not rows.filter(version=version, retired_on=None).update(retired_on=day, version=F("version") + 1):
        now = rows.get()
        problem = (
            f"'{now.code}' was retired on {now.retired_on}."
            if now.retired_on
            else f"It is at version {now.version} now."
        )
        raise Conflict("version", problem, "Read it again before you change it.")
    record_event(shop=shop, subject=f"shop:{shop.pk}", verb="known defect retired", by=by, words=f"{row.code} on {day}")
    retired: KnownDefectRecord = rows.get()
    return retired
