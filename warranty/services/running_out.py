"""Which promises end soon, over all units of the shop, and whom to call in before they do."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

from orders.models import Unit
from shopdocs.rest.refusals import Refused
from shopdocs.shops.models import Shop
from warranty.coverage.facts import UnitFacts
from warranty.coverage.fleet import RunsOut, fleet

from .facts import facts_of_unit
from .repairs import earlier_repairs
from .terms import terms_for

AT_ONCE = 500
MOST_DAYS = 730
JOINS = ("model__maker", "owner", "shop")
FETCHED = ("assemblies__maker", "hour_readings", "proofs", "ownerships", "plans_held", "campaign_marks")


@dataclass(frozen=True)
class Ending:
    """A term of a unit that ends soon, with whom to call."""

    unit: Unit
    term: RunsOut


def running_out(*, shop: Shop, as_of: dt.date | None = None, days: int = 60) -> list[Ending]:
    """Terms whose last day comes within `days` (1 to 730) of `as_of` (today unless said), the soonest first.

    Reads the shop's units in runs of 500, so that memory holds no more of them at once.
    """
    if not 1 <= days <= MOST_DAYS:
        raise Refused("days", f"{days} days cannot be asked for.", f"Ask for 1 to {MOST_DAYS} days.")
    day = as_of or shop.today()
    found: list[Ending] = []
    for units in _runs(shop):
        by_ref = {str(unit.pk): unit for unit in units}
        facts = _facts(shop, units, day)
        found += [Ending(by_ref[row.unit], row) for row in fleet(facts, terms_for(shop=shop, as_of=day), day, days)]
    return sorted(found, key=lambda one: (one.term.last_day, one.unit.created_at, one.term.term))


def _runs(shop: Shop) -> Iterator[list[Unit]]:
    rows = Unit.objects.for_shop(shop).select_related(*JOINS).prefetch_related(*FETCHED).order_by("created_at", "id")
    units = rows.iterator(chunk_size=AT_ONCE)
    while run := list(islice(units, AT_ONCE)):
        yield run


def _facts(shop: Shop, units: list[Unit], day: dt.date) -> Iterator[UnitFacts]:
    repairs = earlier_repairs(shop=shop, units=units, as_of=day)
    for unit in units:
        yield facts_of_unit(unit=unit, as_of=day, reading=None, repairs=repairs.get(unit.pk, ()))
