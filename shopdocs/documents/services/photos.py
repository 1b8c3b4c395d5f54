"""Photos and proofs on their way in: examined first, then kept untouched with a copy that papers can print."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager

from django.conf import settings
from django.db import transaction

from shopdocs.documents.models import Photo
from shopdocs.documents.photos.camera import CameraTold, told_by_camera
from shopdocs.documents.photos.examine import Picture, examine
from shopdocs.documents.photos.limits import Limits
from shopdocs.documents.photos.look import alike, fingerprint, look
from shopdocs.documents.photos.proof import PdfProof, examine_proof
from shopdocs.documents.photos.refusal import PictureRefused
from shopdocs.documents.photos.sizes import for_print, working_copy
from shopdocs.rest.refusals import Refused
from shopdocs.shops.models import Shop, Staff

from .files import keep_file, read_file

PRINT_MM = (90, 75)
"""Width and height within which a paper shows a picture at its largest: two beside each other (claim, condition report)."""
SMALL_MM = (34, 34)
"""The same in an overview, five beside each other (repair order)."""


def limits() -> Limits:
    return Limits(
        max_bytes=settings.MAX_UPLOAD_BYTES, max_pixels=settings.MAX_PIXELS, min_side=settings.MIN_PICTURE_SIDE
    )


def take_in_photo(
    *,
    shop: Shop,
    by: Staff,
    data: bytes,
    name: str,
    subject: str,
    about: str = "",
    moment: str,
    caption: str = "",
) -> Photo:
    """Takes in one picture: JPEG, PNG, WebP or HEIC by content. Raises Refused, and then nothing is kept."""
    with _refused_at_the_door():
        picture = examine(data, limits=limits(), declared_name=name[:200])
    return _keep(shop, by, data, picture, subject=subject, about=about, moment=moment, caption=caption)


def take_in_proof(
    *, shop: Shop, by: Staff, data: bytes, name: str, subject: str, about: str = "", caption: str = ""
) -> Photo:
    """Takes in a proof of purchase: a picture or a PDF."""
    with _refused_at_the_door():
        proof = examine_proof(data, limits=limits(), declared_name=name[:200])
    return _keep(shop, by, data, proof, subject=subject, about=about, moment=Photo.Moment.PROOF, caption=caption)


def camera_told(photo: Photo) -> CameraTold:
    """Where the photo was taken and by which camera, read from the original; nothing where the camera wrote nothing."""
    return told_by_camera(read_file(photo.original), limits=limits())


@contextmanager
def _refused_at_the_door() -> Iterator[None]:
    try:
        yield
    except PictureRefused as refused:
        raise Refused("file", refused.problem, refused.remedy) from refused


def _keep(
    shop: Shop, by: Staff, data: bytes, seen: Picture | PdfProof, *, subject: str, about: str, moment: str, caption: str
) -> Photo:
    if isinstance(seen, PdfProof):
        with transaction.atomic():
            return Photo.objects.create(
                shop=shop, by=by.user, subject=subject, about=about, moment=moment, caption=caption, kind=seen.kind,
                original=keep_file(shop=shop, data=data, media_type=seen.media_type),
            )  # fmt: skip
    with _refused_at_the_door():  # what passed at an eighth of its size can still fail when it is read in full
        copy = working_copy(data, limits=limits())  # a HEIC is decoded once
        mark = f"{fingerprint(copy, limits=limits()):016x}"
        doubts = look(copy, limits=limits())
        printable = for_print(copy, width_mm=PRINT_MM[0], height_mm=PRINT_MM[1], limits=limits())
        small = for_print(printable, width_mm=SMALL_MM[0], height_mm=SMALL_MM[1])
    warnings = [{"code": w.code, "words": w.text} for w in doubts] + _duplicates(shop, subject, mark)
    with transaction.atomic():
        return Photo.objects.create(
            shop=shop, by=by.user, subject=subject, about=about, moment=moment, caption=caption, kind=seen.kind,
            width=seen.width, height=seen.height, taken_at=_moment(shop, seen), has_gps=seen.has_gps,
            original=keep_file(shop=shop, data=data, media_type=seen.media_type),
            printable=keep_file(shop=shop, data=printable, media_type="image/jpeg"),
            small=keep_file(shop=shop, data=small, media_type="image/jpeg"),
            warnings=warnings, fingerprint=mark,
        )  # fmt: skip


def _moment(shop: Shop, seen: Picture) -> dt.datetime | None:
    """The camera's time as a moment: by its own offset, else on the shop's wall clock."""
    if seen.taken_at is None:
        return None
    zone = dt.timezone(seen.taken_offset) if seen.taken_offset is not None else shop.zone
    moment = seen.taken_at.replace(tzinfo=zone)
    try:
        return moment.astimezone(dt.UTC)
    except OverflowError:  # a camera whose clock stands at an end of the calendar tells no time
        return None


def _duplicates(shop: Shop, subject: str, mark: str) -> list[dict[str, str]]:
    others = (
        Photo.objects.for_shop(shop)
        .filter(subject=subject)
        .exclude(fingerprint="")
        .values_list("caption", "fingerprint")
    )
    same = [caption for caption, other in others if alike(int(mark, 16), int(other, 16))]
    if not same:
        return []
    return [
        {
            "code": "duplicate",
            "words": f"Looks like a photo that is here already ({same[0] or 'no caption'}): take another view.",
        }
    ]
