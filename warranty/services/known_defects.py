"""Known defects of the shop: recorded, imported and exported. A pattern is never rewritten, only retired."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Q

from orders.models import Maker, RepairOrder
from orders.rules.strict import DataError
from orders.services.wording import paper_language
from shopdocs.documents.press.words import words
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
from warranty.coverage.defect_words import defect_words
from warranty.coverage.facts import UnitFacts
from warranty.coverage.known_defects import KnownDefect, Matches, engine_maker_open, of_an_engine
from warranty.coverage.names import folded
from warranty.models import CoverageDecision, KnownDefectRecord

from .facts import finding_facts, order_to_decide, unit_facts
from .retiring import retire
from .terms import refused_by_schema

REMEDY = "Correct the known defect; its keys are those of an exported file."
MOST_TOLD = 200
AT_ONCE = 500
MOST_CHARS = 25_000_000  # some 50,000 full rows
READERS = {"yaml": import_yaml, "csv": import_csv}
WRITERS = {"yaml": export_yaml, "csv": export_csv}


def known_defects_for(*, shop: Shop, unit: UnitFacts, as_of: dt.date) -> list[KnownDefect]:
    """The patterns of the makers of this unit and of its assemblies that are not retired by that day.

    While the engine's maker is not recorded, the patterns of an engine's parts by whatever maker as well.
    """
    names = {folded(name) for name in (unit.maker, *(one.maker for one in unit.assemblies)) if name}
    rows = KnownDefectRecord.objects.for_shop(shop).filter(Q(retired_on=None) | Q(retired_on__gt=as_of))
    unsure = engine_maker_open(unit)
    makers = {row.pk: row.name for row in Maker.objects.for_shop(shop) if unsure or folded(row.name) in names}
    wanted = rows.filter(Q(maker__in=makers) | Q(maker=None)).order_by("code").values_list("pk", "maker_id")
    listed = list(wanted)
    read = _read([pk for pk, _ in listed], shop)
    # A maker renamed in the shop's records is still the one whose machines fail so.
    found = (_named(read[pk], makers.get(maker)) for pk, maker in listed)
    return [one for one in found if folded(one.maker) in names or (unsure and of_an_engine(one))]


@dataclass(frozen=True)
class Compared:
    """A pattern beside an order: the match as a plain record, in words, and what its term says where one is named.

    `by_term` is by finding: the outcome of that term in the finding's newest decision.
    """

    record: dict[str, Any]
    words: str
    by_term: dict[str, str]


def compared_with(*, order: RepairOrder) -> list[Compared]:
    """The patterns that concern the order as it stands today: which fit, why, what would tell, and eligibility under each."""
    whole, day = order_to_decide(order), order.shop.today()
    say = words(paper_language(order.shop))
    unit, findings = unit_facts(order=whole, as_of=day), finding_facts(order=whole)
    listed = known_defects_for(shop=order.shop, unit=unit, as_of=day)
    records = Matches(unit, findings, listed, day).records()
    outcomes = _outcomes(order) if any(one["term"] for one in records) else {}
    return [
        Compared(one, defect_words(one, say), {key: tried[str(one["term"])] for key, tried in outcomes.items() if one["term"] in tried})
        for one in records
    ]  # fmt: skip


def _outcomes(order: RepairOrder) -> dict[str, dict[str, str]]:
    """By finding: what came of each term in its newest decision."""
    rows = CoverageDecision.objects.for_shop(order.shop).filter(order=order).order_by("created_at", "id")
    newest = {str(row.finding_id): row for row in rows}
    return {
        key: {tried["term"]: tried["outcome"] for tried in json.loads(row.decision)["tried"]}
        for key, row in newest.items()
    }


def _named(defect: KnownDefect, maker: str | None) -> KnownDefect:
    return defect if maker is None or maker == defect.maker else replace(defect, maker=maker)


_KEPT: dict[UUID, KnownDefect] = {}
MOST_KEPT = 100_000


def _read(wanted: Sequence[UUID], shop: Shop) -> dict[UUID, KnownDefect]:
    """The patterns by id. A recorded pattern is never rewritten, so each is read once per process."""
    new = [pk for pk in wanted if pk not in _KEPT]
    if len(_KEPT) + len(new) > MOST_KEPT:
        _KEPT.clear()
        new = list(wanted)
    for at in range(0, len(new), AT_ONCE):
        rows = KnownDefectRecord.objects.for_shop(shop).filter(pk__in=new[at : at + AT_ONCE])
        for pk, pattern in rows.values_list("pk", "pattern"):
            _KEPT[pk] = defect_from_dict(pattern, f"known defect {pk}")
    return {pk: _KEPT[pk] for pk in wanted}


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
    """The patterns recorded under the codes of these, by code; of the others only the codes are read."""
    wanted = {_code(one) for one in defects}
    rows = KnownDefectRecord.objects.for_shop(shop)
    there = [pk for pk, code in rows.values_list("pk", "code") if code in wanted] if wanted else []
    found: dict[str, Any] = {}
    for at in range(0, len(there), AT_ONCE):
        found.update(rows.filter(pk__in=there[at : at + AT_ONCE]).values_list("code", "pattern"))
    return found


def _store(shop: Shop, by: Staff, defects: list[KnownDefect], verb: str) -> list[KnownDefectRecord]:
    makers = {folded(row.name): row for row in Maker.objects.for_shop(shop)}
    rows = [
        KnownDefectRecord(shop=shop, code=_code(one), maker=makers.get(folded(one.maker)), pattern=defect_to_dict(one))
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
    if len(text) > MOST_CHARS:
        problem = f"The file holds {len(text):,} characters; at most {MOST_CHARS:,} are taken in at once."
        raise Refused(
            "text", problem, "Split it into several files, each with its heading, and send them one after another."
        )
    if "\x00" in text:
        raise Refused("file", "The file holds a zero byte, so it is no text.", "Save it as UTF-8 text.")
    read: Imported = READERS[form](text, name)
    problems = [_told(one) for one in read.refused]
    recorded = _recorded(shop, read.defects)
    for place, one in zip(read.places, read.defects, strict=True):
        known = recorded.get(_code(one))
        if known is not None and known != json.loads(json.dumps(defect_to_dict(one))):
            problem = f"'{_code(one)}' is recorded already and says something else."
            problems.append(Problem(place, problem, "Give it the next version; a pattern is never rewritten."))
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
    listed = list(rows.values_list("pk", flat=True))
    return WRITERS[form](_read(listed, shop).values())


@transaction.atomic
def retire_known_defect(
    *, shop: Shop, by: Staff, row: KnownDefectRecord, version: int, retired_on: dt.date | None = None
) -> KnownDefectRecord:
    """From that day on the pattern is not compared any more."""
    retired: KnownDefectRecord = retire(shop, row, version, retired_on)
    record_event(
        shop=shop,
        subject=f"shop:{shop.pk}",
        verb="known defect retired",
        by=by,
        words=f"{row.code} on {retired.retired_on}",
    )
    return retired
