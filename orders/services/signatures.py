"""Signatures drawn on a screen: kept as they came, found by their SHA-256. Each signs one thing, once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from orders.models import RepairOrder, Signature
from shopdocs.documents.photos.refusal import PictureRefused
from shopdocs.documents.photos.signature import Stroke, drawn, examine_signature
from shopdocs.documents.services.files import keep_file
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff

from .holds import owners_word


def take_signature(*, shop: Shop, by: Staff, signed_name: str, data: bytes, name: str = "") -> Signature:
    """Keeps a signature that was drawn as PNG. Raises Refused for a file that is none, too large or empty."""
    try:
        seen = examine_signature(data, declared_name=name[:200])
    except PictureRefused as refused:
        raise Refused(refused.field, refused.problem, refused.remedy) from refused
    return _keep(shop, by, signed_name, data, seen.media_type)


def take_strokes(
    *, shop: Shop, by: Staff, signed_name: str, strokes: Sequence[Stroke], width: int, height: int
) -> Signature:
    """Keeps a signature that came as the strokes of the pen, drawn black on white. Raises Refused as above."""
    try:
        data = drawn(strokes, width=width, height=height)
        seen = examine_signature(data)
    except PictureRefused as refused:
        raise Refused(refused.field, refused.problem, refused.remedy) from refused
    return _keep(shop, by, signed_name, data, seen.media_type)


@transaction.atomic
def _keep(shop: Shop, by: Staff, signed_name: str, data: bytes, media_type: str) -> Signature:
    name = " ".join(signed_name.split())
    if not name:
        raise Refused("signed_name", "Nobody is named.", "Say in letters who signed.")
    signature: Signature = Signature.objects.create(
        shop=shop,
        file=keep_file(shop=shop, data=data, media_type=media_type),
        signed_name=name[:200],
        taken_by=by.user,
    )
    return signature


def use_signature(
    *, order: RepairOrder, pk: UUID, used_for: str, shown_at: dt.datetime, field: str = "signature"
) -> Signature:
    """Lets a signature sign `used_for` (kind:id) of the order, which was shown from `shown_at` on; it is then used up.

    Refused when the shop has none of that id, and where somebody of the shop signed; Conflict when it signed something already, or is older than what it signs.
    """
    rows = Signature.objects.for_shop(order.shop).select_for_update(of=("self",)).select_related("file")
    signature: Signature | None = rows.filter(pk=pk).first()
    if signature is None:
        raise Refused(field, "No such signature in your shop.", "Take the signature first, then use its id.")
    if signature.used_at is not None:
        raise Conflict(field, "This signature has signed something already.", "Ask for a signature of its own.")
    if signature.created_at < shown_at:
        raise Conflict(field, "It was drawn before this was there to be signed.", "Ask for the signature once more.")
    owners_word(order, signature.signed_name, field)
    signature.used_at, signature.used_for = timezone.now(), used_for
    signature.version += 1
    signature.save(update_fields=["used_at", "used_for", "version", "updated_at"])
    return signature
