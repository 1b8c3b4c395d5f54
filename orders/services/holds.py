"""Holds: a unit that is unsafe to run is tagged, and leaves only with a signed note."""

from __future__ import annotations

from uuid import UUID

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from orders.models import Finding, Hold, Job
from orders.rules import trade
from shopdocs.rest.refusals import Conflict, NotYours, Refused
from shopdocs.rest.roles import BENCH
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import next_number, record_event, save_changes

from .records import given_in_address


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
def release_hold(*, shop: Shop, by: Staff, pk: UUID, note: str, made_safe: bool, signed_name: str = "") -> Hold:
    """Ends a hold, with a signed note.

    `made_safe` True: a technician or the owner signs, as the person who is signed in, that the fault is mended; a done job
    must hold the unsafe finding, or the finding must have been corrected. False: the machine leaves as it is, on the word
    of its owner, `signed_name`, that it will not be run; nobody of the shop can give that word.
    """
    hold = given_in_address(Hold, shop=shop, pk=pk, lock=True)
    if hold.released_at is not None:
        raise Conflict(
            "released_at", f"{hold.tag} was released already, signed by {hold.signed_name}.", "Nothing is left to do."
        )
    if not note.strip():
        raise Refused("note", "A hold ends only with a signed note.", "Write what was done, or what was agreed.")
    signed_name = _technician_signs(hold, by, signed_name) if made_safe else _owner_signs(hold, signed_name)
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


def _technician_signs(hold: Hold, by: Staff, signed_name: str) -> str:
    """The name under 'it is safe again': the signed-in person's, and only when the fault is really mended."""
    if not BENCH & set(by.roles):
        raise NotYours("made_safe", "That a machine is safe again is the bench's to sign.", "Ask a technician.")
    own: str = by.user.shown_name
    if signed_name.strip() and not _same(signed_name, own):
        raise Refused("signed_name", f"You are signed in as {own}; nobody signs for another.", "Leave this out.")
    finding = hold.finding
    if finding is None or not finding.unsafe:
        return own  # looked at again, and written down as harmless
    # A later visit has findings of its own: there the same component counts.
    later = ~Q(order=finding.order) & Q(findings__component=finding.component, finished_at__gte=hold.created_at)
    done = Job.objects.for_shop(hold.shop).filter(state=Job.State.DONE, order__unit=hold.unit)
    if not done.filter(Q(findings=finding) | later).exists():
        raise Conflict(
            "made_safe",
            f"Finding {finding.number} is still unsafe: no finished job mends it.",
            "Finish a job that holds this finding; or correct the finding; or let the owner sign that it leaves as it is.",
        )
    return own


def _owner_signs(hold: Hold, signed_name: str) -> str:
    """The name under 'it leaves as it is, and will not be run': the machine's owner or whom they sent."""
    name = signed_name.strip()
    if not name:
        raise Refused("signed_name", "Nobody has signed for it.", "Name who signs that it will not be run.")
    staff = Staff.objects.filter(shop=hold.shop).select_related("user")
    if any(_same(name, one.user.shown_name) for one in staff) and not _same(name, hold.order.customer.name):
        raise Refused(
            "signed_name",
            f"{name} works here and cannot sign for the owner.",
            "Let the customer, or whom they sent, sign.",
        )
    return name


def _same(one: str, other: str) -> bool:
    return " ".join(one.split()).casefold() == " ".join(other.split()).casefold()
