"""Keeping bytes: written under a fresh name, then recorded; whatever fails leaves neither file nor row."""

from __future__ import annotations

import hashlib
import logging
import uuid

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import IntegrityError, transaction

from shopdocs.documents.models import StoredFile
from shopdocs.shops.models import Shop

log = logging.getLogger(__name__)


class FileDamaged(Exception):
    """The storage gave back other bytes than were kept."""


def keep_file(*, shop: Shop, data: bytes, media_type: str) -> StoredFile:
    """Keeps `data` and returns its record; the same bytes are kept once per shop."""
    digest = hashlib.sha256(data).hexdigest()
    known: StoredFile | None = StoredFile.objects.for_shop(shop).filter(sha256=digest).first()
    if known is not None:
        return known
    place = default_storage.save(f"{shop.pk}/{digest[:2]}/{digest}-{uuid.uuid4().hex[:8]}", ContentFile(data))
    try:
        with transaction.atomic():
            return StoredFile.objects.create(
                shop=shop, sha256=digest, size=len(data), media_type=media_type, place=place
            )
    except IntegrityError:
        # Two uploads of the same bytes at the same moment: the first one's row stands.
        discard(place)
        row: StoredFile = StoredFile.objects.for_shop(shop).get(sha256=digest)
        return row
    except BaseException:
        discard(place)
        raise


def discard(place: str) -> None:
    """Removes bytes that no row names; a failure here costs space, nothing else."""
    try:
        default_storage.delete(place)
    except OSError:
        log.warning("could not remove %s", place)


def read_file(file: StoredFile) -> bytes:
    """The bytes as kept. Raises FileDamaged when their SHA-256 is no longer the recorded one."""
    with default_storage.open(file.place, "rb") as stream:
        data: bytes = stream.read()
    if hashlib.sha256(data).hexdigest() != file.sha256:
        raise FileDamaged(f"the stored bytes of {file.sha256} have changed")
    return data
