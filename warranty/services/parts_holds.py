"""Parts holds: failed parts kept, tagged, until the distributor releases them."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import F

from shopdocs.documents.models import Document
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.press.values import apart
from shopdocs.documents.press.words import Say, words
from shopdocs.documents.services.papers import request_document
from shopdocs.money import plain
from shopdocs.periods import add_days
from shopdocs.rest.refusals import Conflict, Refused, Stale
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import next_number, record_event
from warranty.models import Claim, PartsHold

from .kinds import PART_TAG
from .lookups import not_ahead
from .papers import part_tag_sheet


def hold_failed_parts(*, claim: Claim, facts: dict[str, Any]) -> list[PartsHold]:
    """Tags each part that was replaced, the causal one first. Keep-until is counted from the filing day, or not known."""
    terms, say = facts["terms"], words(facts["shop"]["language"])
    days = terms["parts_hold_days"] if terms else None
    keep_until = add_days(claim.filed_on, days) if days is not None else None
    return [
        PartsHold.objects.create(
            shop=claim.shop, claim=claim, tag=next_number(shop=claim.shop, series="tag"), words=_words(line, say),
            keep_until=keep_until,
        )
        for line in facts["parts"]["lines"]
    ]  # fmt: skip


def _words(line: dict[str, Any], say: Say) -> str:
    """'1 x failed Ignition module (KL-30-1182), failed first'."""
    part = f"{apart(line['words'])} ({line['number']})" if line["number"] else apart(line["words"])
    told = say("{count} x failed {part}, failed first") if line["causal"] else say("{count} x failed {part}")
    return told.format(count=plain(Decimal(line["quantity"])), part=part)[:400]


@transaction.atomic
def release_parts_hold(
    *, shop: Shop, by: Staff, hold: PartsHold, version: int, note: str, released_on: dt.date | None = None
) -> PartsHold:
    """Ends a hold: returned to the distributor, scrapped on its word, or the time is over. The note says which."""
    day = released_on or shop.today()
    not_ahead(shop, "released_on", day)
    if day < hold.claim.filed_on:
        raise Refused("released_on", f"{day} lies before the claim was filed.", "Correct the day.")
    rows = PartsHold.objects.for_shop(shop).filter(pk=hold.pk)
    changed = rows.filter(version=version, released_on=None).update(
        released_on=day, released_note=note, version=F("version") + 1
    )
    if not changed:
        now = rows.get()
        if now.released_on is None:
            raise Stale(current_version=now.version, changed={})
        meanwhile = {"released_on": str(now.released_on), "released_note": now.released_note}
        problem = f"This hold was released on {now.released_on}."
        raise Stale(current_version=now.version, changed=meanwhile, problem=problem)
    early = hold.keep_until is not None and day < hold.keep_until
    record_event(
        shop=shop, subject=hold.claim.subject, verb="parts released", by=by, words=f"{hold.tag}: {note}",
        facts={"tag": hold.tag, "before_keep_until": early},
    )  # fmt: skip
    released: PartsHold = rows.select_related("claim").get()
    return released


@transaction.atomic
def request_part_tag(*, shop: Shop, by: Staff, hold: PartsHold) -> Document:
    """Asks for the tag of a kept part; Conflict when it was released already."""
    if hold.released_on is not None:
        raise Conflict(
            "released_on", f"{hold.tag} was released on {hold.released_on}.", "A released part needs no tag."
        )
    code = f"{settings.PUBLIC_URL}/api/v1/parts-holds/{hold.pk}/"
    sheet = part_tag_sheet(hold.claim.facts, hold=hold, code=code, on=hold.claim.filed_on)
    title = f"Failed part {hold.tag}"
    document = request_document(
        shop=shop, kind=PART_TAG, subject=hold.claim.subject, number=hold.tag, title=title, sheet=to_json(sheet), by=by
    )
    record_event(shop=shop, subject=hold.claim.subject, verb="tag asked for", words=title, by=by)
    return document
