"""Photos and proofs on their way in: examined first, then kept untouched with a copy that papers can print."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager

from django.conf import settings
from django.db import transaction
from PIL import Image

from shopdocs.documents.models import Photo
from shopdocs.documents.photos.camera import CameraTold, told_by_camera
from shopdocs.documents.photos.examine import Picture, examine_and_show
from shopdocs.documents.photos.kinds import SEND_PICTURE, kind_of
from shopdocs.documents.photos.limits import Limits
from shopdocs.documents.photos.look import alike, fingerprints_turned, look
from shopdocs.documents.photos.proof import examine_pdf
from shopdocs.documents.photos.refusal import PictureRefused
from shopdocs.documents.photos.sizes import as_jpeg, for_print, print_box
from shopdocs.rest.refusals import Refused
from shopdocs.shops.models import Shop, Staff

from .files import keep_file, read_file

PRINT_MM = (90, 75)
"""Width and height within which a paper shows a picture at its largest: two beside each other (claim, condition report)."""
SMALL_MM = (40, 34)
"""The same in an overview: three beside each other, of usual shape, or five (estimate, repair order)."""


def limits() -> Limits:
    """What one file at the door may be, by the settings."""
    return Limits(
        max_bytes=settings.MAX_UPLOAD_BYTES, max_pixels=settings.MAX_PIXELS, max_memory=settings.MAX_PICTURE_MEMORY,
        min_side=settings.MIN_PICTURE_SIDE,
    )  # fmt: skip


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
        picture, view = examine_and_show(data, within=print_box(*PRINT_MM), limits=limits(), declared_name=name[:200])
    return _keep(shop, by, data, picture, view, subject=subject, about=about, moment=moment, caption=caption)


def take_in_proof(
    *, shop: Shop, by: Staff, data: bytes, name: str, subject: str, about: str = "", caption: str = ""
) -> Photo:
    """Takes in a proof of purchase: a picture or a PDF."""
    place = {"subject": subject, "about": about, "moment": Photo.Moment.PROOF, "caption": caption}
    if kind_of(data) != "pdf":
        try:
            return take_in_photo(shop=shop, by=by, data=data, name=name, **place)
        except Refused as refused:
            first = refused.problems[0]
            if first.remedy == SEND_PICTURE:
                raise Refused(
                    "file", first.problem, "Send a picture as JPEG, PNG, WebP or HEIC, or a PDF."
                ) from refused
            raise
    with _refused_at_the_door():
        proof = examine_pdf(data, limits=limits(), declared_name=name[:200])
    with transaction.atomic():
        kept = keep_file(shop=shop, data=data, media_type=proof.media_type)
        return Photo.objects.create(shop=shop, by=by.user, kind=proof.kind, original=kept, **place)


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
    shop: Shop, by: Staff, data: bytes, seen: Picture, view: Image.Image, *, subject: str, about: str, moment: str,
    caption: str,
) -> Photo:  # fmt: skip
    """view: the picture as the largest print shows it; everything else is made of that, the original is decoded once."""
    printable = as_jpeg(view)
    small = for_print(printable, width_mm=SMALL_MM[0], height_mm=SMALL_MM[1])
    marks, taken_at = fingerprints_turned(view), _moment(shop, seen)
    warnings = [{"code": w.code, "words": w.text} for w in look(view)] + _duplicates(shop, subject, marks)
    with transaction.atomic():
        return Photo.objects.create(
            shop=shop, by=by.user, subject=subject, about=about, moment=moment, caption=caption, kind=seen.kind,
            width=seen.width, height=seen.height, taken_at=taken_at, has_gps=seen.has_gps,
            taken_from=seen.taken_from if taken_at else "",
            original=keep_file(shop=shop, data=data, media_type=seen.media_type),
            printable=keep_file(shop=shop, data=printable, media_type="image/jpeg"),
            small=keep_file(shop=shop, data=small, media_type="image/jpeg"),
            warnings=warnings, fingerprint=marks[0] if marks else "",
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


def _duplicates(shop: Shop, subject: str, marks: tuple[str, ...]) -> list[dict[str, str]]:
    others = (
        Photo.objects.for_shop(shop)
        .filter(subject=subject)
        .exclude(fingerprint="")
        .values_list("caption", "fingerprint")
    )
    same = [caption for caption, other in others if any(alike(mark, other) for mark in marks)]
    if not same:
        return []
    return [
        {
            "code": "duplicate",
            "words": f"Looks like a photo that is here already ({same[0] or 'no caption'}): take another view.",
        }
    ]
