"""Records that are never rewritten end by being retired, once, by somebody who saw their newest version."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db.models import F

from shopdocs.rest.refusals import Stale
from shopdocs.shops.models import Shop
from warranty.models import KnownDefectRecord, MakerTerm

from .lookups import not_ahead


def retire(shop: Shop, row: MakerTerm | KnownDefectRecord, version: int, retired_on: dt.date | None) -> Any:
    """The record, retired from that day on (today if None). Refused for a day to come, Stale if it changed since `version`."""
    day = retired_on or shop.today()
    not_ahead(shop, "retired_on", day)
    rows = type(row).objects.for_shop(shop).filter(pk=row.pk)
    if not rows.filter(version=version, retired_on=None).update(retired_on=day, version=F("version") + 1):
        now = rows.get()
        if now.retired_on is None:
            raise Stale(current_version=now.version, changed={})
        problem = f"'{now.code}' was retired on {now.retired_on}."
        raise Stale(current_version=now.version, changed={"retired_on": str(now.retired_on)}, problem=problem)
    return rows.get()
