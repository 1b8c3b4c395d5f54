"""Proofs of purchase, and photos of an order. The file is examined before anything is written."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from orders.models import Finding, Job, PurchaseProof, RepairOrder, Unit
from orders.rules.picture_doubts import doubts
from shopdocs.documents.models import Photo
from shopdocs.documents.services.photos import take_in_photo, take_in_proof
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event

from .reach import lock_order
from .records import given_in_address, given_in_body


def add_proof(
    *,
    shop: Shop,
    by: Staff,
    unit_id: UUID,
    kind: str,
    shows_date: dt.date | None = None,
    data: bytes | None = None,
    name: str = "",
    caption: str = "",
) -> PurchaseProof:
    """Adds a proof of purchase: a picture or a PDF. Only an owner's statement may come without a file."""
    unit = given_in_address(Unit, shop=shop, pk=unit_id)
    if shows_date is not None and shows_date > shop.today():
        raise Refused("shows_date", f"{shows_date} lies in the future.", "Enter the date that the paper shows.")
    if shows_date is not None and unit.build_date is not None and shows_date < unit.build_date:
        raise Refused(
            "shows_date", f"{shows_date} is before the build date ({unit.build_date}).", "Correct one of the two dates."
        )
    if data is None and kind != PurchaseProof.Kind.STATEMENT:
        raise Refused(
            "file", "This kind of proof needs its paper.", "Send a photo or PDF of it, or record an owner's statement."
        )
    with transaction.atomic():
        photo = None
        if data is not None:
            photo = take_in_proof(shop=shop, by=by, data=data, name=name, subject=f"unit:{unit.pk}", caption=caption)
        proof: PurchaseProof = PurchaseProof.objects.create(
            shop=shop, unit=unit, photo=photo, kind=kind, shows_date=shows_date
        )
        record_event(shop=shop, subject=f"unit:{unit.pk}", verb="proof added", words=proof.get_kind_display(), by=by)
    return proof


def add_photo(
    *,
    shop: Shop,
    by: Staff,
    order_id: UUID,
    data: bytes,
    name: str,
    moment: str,
    caption: str = "",
    finding: UUID | None = None,
) -> Photo:
    """Adds a photo to an order, about one of its findings or about the whole.

    A finished order takes photos of 'after repair' alone, until the unit leaves: they show how it is given back. Each is told
    in the history, and no paper that was made before shows it. What it looked like before can no longer be photographed.
    """
    order = given_in_address(RepairOrder, shop=shop, pk=order_id)
    if order.state == RepairOrder.State.GIVEN_BACK:
        raise Conflict("state", f"{order.number} was given back; it takes no more photos.", "Check the unit in again.")
    finished = order.state == RepairOrder.State.FINISHED
    if finished and moment != Photo.Moment.AFTER:
        raise Conflict(
            "moment",
            f"The work on {order.number} is finished: a photo of now shows the machine after it.",
            "Send it with moment 'after', or check the unit in again for further work.",
        )
    if moment == Photo.Moment.PROOF:
        raise Refused("moment", "A proof of purchase belongs to the unit.", "Send it to the unit's proofs.")
    about = ""
    if finding is not None:
        shown = given_in_body(Finding, shop=shop, pk=finding, field="finding")
        if shown.order_id != order.pk:
            raise Refused("finding", "That finding is of another order.", "Name a finding of this order.")
        about = shown.subject
    # Not in one transaction with the look at the order: drawing the printable copy would keep other writers waiting.
    photo = take_in_photo(
        shop=shop, by=by, data=data, name=name, subject=order.subject, about=about, moment=moment, caption=caption
    )
    _add_doubts(photo, order)
    if finished:
        words = f"after the work was finished: {caption or 'no caption'}"
        facts = {"photo": str(photo.pk), "moment": moment}
        record_event(shop=shop, subject=order.subject, verb="photo added", words=words, facts=facts, by=by)
    return photo


def refuse_photo_of_given_back(shop: Shop, order_id: UUID) -> None:
    """Conflict when the unit has left: caption and marks of its photos stay as they were when it did."""
    order = lock_order(shop, order_id)
    if order.state == RepairOrder.State.GIVEN_BACK:
        raise Conflict(
            "state", f"{order.number} was given back; its photos stay as they are.", "Check the unit in again."
        )


def _add_doubts(photo: Photo, order: RepairOrder) -> None:
    """Adds to the photo's warnings what its camera's clock says against the visit."""
    done = (
        Job.objects.for_shop(order.shop).filter(order=order, finished_at__isnull=False).order_by("finished_at").first()
    )
    found = doubts(
        moment=photo.moment, taken_at=photo.taken_at, now=timezone.now(), zone=order.shop.zone, received_on=order.received_on,
        bought_on=order.unit.purchased_on, repaired_at=done.finished_at if done else None,
    )  # fmt: skip
    if found:
        photo.warnings = [*photo.warnings, *(asdict(one) for one in found)]
        photo.save(update_fields=["warnings"])
