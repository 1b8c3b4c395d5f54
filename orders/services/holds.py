"""Holds: a unit that is unsafe to run is tagged, and leaves only with a signed note."""

from __future__ import annotations

import re
from datetime import date
from uuid import UUID

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from orders.models import Check, Finding, Hold, Job, RepairOrder
from orders.rules import points, trade
from shopdocs.documents.press.values import day_words
from shopdocs.documents.press.words import ENGLISH, Say, words
from shopdocs.rest.refusals import Conflict, NotYours, Refused
from shopdocs.rest.roles import BENCH
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import next_number, record_event, save_changes

from .records import given_in_address

FOUND_LATE = "found after the work was finished"
LEFT_ON = re.compile(r"; left on (\d{4}-\d\d-\d\d) as it was\.$")


def hold_for(*, shop: Shop, by: Staff, finding: Finding) -> Hold | None:
    """Tags the unit of an unsafe finding; one open hold for each finding. None when there is one already."""
    if Hold.objects.for_shop(shop).filter(finding=finding, released_at=None).exists():
        return None
    return _tag(finding, finding.order, _reason(finding, words(ENGLISH)), by)


def hold_again(*, shop: Shop, by: Staff, order: RepairOrder) -> list[Hold]:
    """Tags a unit that comes back after it left unsafe on its owner's word: nothing says that it was mended since."""
    rows = Hold.objects.for_shop(shop).filter(unit=order.unit, finding__unsafe=True).exclude(order=order)
    last = {hold.finding_id: hold for hold in rows.select_related("finding__order").order_by("created_at", "id")}
    placed = []
    for hold in last.values():
        finding = hold.finding
        if finding is not None and hold.released_at is not None and not hold.made_safe and not _mended(hold, finding):
            left = order.shop.local(hold.released_at).date()
            placed.append(_tag(finding, order, _left_reason(finding, left.isoformat(), words(ENGLISH)), by))
    return placed


def _tag(finding: Finding, order: RepairOrder, reason: str, by: Staff) -> Hold:
    shop = order.shop
    tag = next_number(shop=shop, series="tag")
    hold: Hold = Hold.objects.create(
        shop=shop, unit=order.unit, order=order, finding=finding, tag=tag, reason=reason, placed_by=by.user
    )
    record_event(shop=shop, subject=order.subject, verb="hold placed", words=f"{tag}: {reason}", by=by)
    return hold


def told_reason(hold: Hold, say: Say) -> str:
    """Why the unit was tagged, in the words of a paper; as it was written down where the finding was changed since."""
    finding, english = hold.finding, words(ENGLISH)
    if finding is None:
        return hold.reason
    if hold.reason == _reason(finding, english):
        return _reason(finding, say)
    left = LEFT_ON.search(hold.reason)
    if left is not None and hold.reason == _left_reason(finding, left[1], english):
        return _left_reason(finding, day_words(date.fromisoformat(left[1]), say), say)
    return hold.reason


def _reason(finding: Finding, say: Say) -> str:
    text = (
        say("Finding {number}: {seen}, found after the work was finished.")
        if finding.after_finish
        else say("Finding {number}: {seen}.")
    )
    return text.format(number=finding.number, seen=_seen(finding, say))


def _left_reason(finding: Finding, day: str, say: Say) -> str:
    text = say("Finding {number} of {order}: {seen}; left on {day} as it was.")
    return text.format(number=finding.number, order=finding.order.number, seen=_seen(finding, say), day=day)


def _seen(finding: Finding, say: Say) -> str:
    return f"{say(trade.component(finding.component).name)}, {say(trade.condition(finding.condition).name)}"


@transaction.atomic
def release_hold(*, shop: Shop, by: Staff, pk: UUID, note: str, made_safe: bool, signed_name: str = "") -> Hold:
    """Ends a hold, with a signed note.

    `made_safe` True: a technician or the owner signs, as the person who is signed in, that the fault is mended; a job
    that holds the unsafe finding must have been done since, or the finding must have been corrected with a reason. False: the
    machine leaves as it is, on the word of its owner, `signed_name`, that it will not be run; nobody of the shop can give
    that word, and it is tagged again when it comes back.
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
    if not _mended(hold, finding):
        raise Conflict(
            "made_safe",
            f"Finding {finding.number} is still unsafe: no job finished since then mends it.",
            f"{'; or '.join(_ways_out(hold, finding))}.",
        )
    return own


def _ways_out(hold: Hold, finding: Finding) -> list[str]:
    """What ends a hold whose fault is not mended; of a finished order only what can still be done."""
    part, is_open = trade.component(finding.component).name, finding.order.state == RepairOrder.State.OPEN
    mend = f"finish a job for a finding of the same part ({part}) on a later order of the unit"
    ways = [
        "Finish a job that holds this finding" if is_open else f"Check the unit in again if it is not yet, and {mend}"
    ]
    if hold.order_id != finding.order_id:
        ways.append("record that its inspection points are good")
    if is_open or finding.after_finish:
        ways.append("correct the finding, with a reason")
    return [*ways, "let the owner sign that it leaves as it is"]


def _mended(hold: Hold, finding: Finding) -> bool:
    """Whether a job that was finished since the hold mends its finding, and none that should still waits to be done.

    A later visit has findings of its own: there the same component counts, and points that were looked at and good.
    """
    jobs = Job.objects.for_shop(hold.shop).filter(order__unit=hold.unit)
    if jobs.filter(findings=finding, state=Job.State.AGREED).exists():
        return False
    later = ~Q(order=finding.order) & Q(findings__component=finding.component)
    done = jobs.filter(state=Job.State.DONE, finished_at__gte=hold.created_at)
    return done.filter(Q(findings=finding) | later).exists() or _found_good(hold, finding)


def _found_good(hold: Hold, finding: Finding) -> bool:
    """Whether a unit that came back was looked at again: every point of the component is good on this visit."""
    if hold.order_id == finding.order_id:
        return False
    try:
        listed = points.points_for(hold.unit.model.family, hold.unit.power_source)
    except trade.UnknownCode:
        return False
    wanted = {point.code for point in listed if finding.component in point.components}
    looked = Check.objects.for_shop(hold.shop).filter(order=hold.order, point__in=wanted, result=Check.Result.GOOD)
    return bool(wanted) and looked.count() == len(wanted)


def _owner_signs(hold: Hold, signed_name: str) -> str:
    """The name under 'it leaves as it is, and will not be run'."""
    return owners_word(hold.order, signed_name)


def owners_word(order: RepairOrder, signed_name: str, field: str = "signed_name") -> str:
    """The name of the machine's owner, or of whom they sent: nobody of the shop gives their word for them."""
    name = signed_name.strip()
    if not name:
        raise Refused(field, "Nobody is named.", "Name the customer, or whom they sent.")
    staff = Staff.objects.filter(shop=order.shop).select_related("user")
    if any(_same(name, one.user.shown_name) for one in staff) and not _same(name, order.customer.name):
        raise Refused(
            field,
            f"{name} works here and cannot speak for the owner.",
            "Let the customer, or whom they sent, say and sign it.",
        )
    return name


def _same(one: str, other: str) -> bool:
    return " ".join(one.split()).casefold() == " ".join(other.split()).casefold()
