"""Holds: a unit that is unsafe to run is tagged, and leaves only with a signed note."""

from __future__ import annotations

from uuid import UUID

from django.db import transaction
from django.utils import timezone

from orders.models import Finding, Hold
from orders.rules import trade
from shopdocs.rest.refusals import Conflict, Problem
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import next_number, record_event, save_changes

from .records import given_in_address, refuse_all


def hold_for(*, shop: Shop, by: Staff, finding: Finding) -> Hold | None:
    """Tags the unit of an unsafe finding; one open hold for each finding. None when there is one already."""
    if Hold.objects.for_shop(shop).filter(finding=finding, released_at=None).exists():
        return None
    part, seen = trade.component(finding.component), trade.condition(finding.condition)
    hold: Hold = Hold.objects.create(
        shop=shop,
        unit=finding.order.unit,
        order=finding.order,
        finding=finding,
        tag=next_number(shop=shop, series="tag"),
        reason=f"Finding {finding.number}: {part.name}, {seen.name}.",
        placed_by=by.user,
    )
    record_event(
        shop=shop, subject=finding.order.subject, verb="hold placed", words=f"{hold.tag}: {hold.reason}", by=by
    )
    return hold


@transaction.atomic
def release_hold(*, shop: Shop, by: Staff, pk: UUID, note: str, signed_name: str, made_safe: bool) -> Hold:
    """Ends a hold. `made_safe` False: it leaves as it is, on the signed word of `signed_name` that it will not be run."""
    hold = given_in_address(Hold, shop=shop, pk=pk, lock=True)
    if hold.released_at is not None:
        raise Conflict(
            "released_at", f"{hold.tag} was released already, signed by {hold.signed_name}.", "Nothing is left to do."
        )
    empty = {"note": note, "signed_name": signed_name}
    refuse_all(
        Problem(field, "A hold ends only with a signed note.", "Write what was done, and who signs for it.")
        for field, text in empty.items()
        if not text.strip()
    )
    changes = {
        "released_at": timezone.now(),
        "released_by": by.user,
        "release_note": note,
        "signed_name": signed_name,
        "made_safe": made_safe,
    }
    saved = save_changes(hold, version=hold.version, changes=changes)
    record_event(
        shop=shop,
        subject=hold.order.subject,
        verb="hold released",
        words=f"{hold.tag}, signed by {signed_name}",
        facts={"made_safe": made_safe},
        by=by,
    )
    return saved
