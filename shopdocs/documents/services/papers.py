"""Papers: the sheet is frozen in a row, then a worker draws it. What was drawn stays as it is."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from django.utils import timezone

from shopdocs.documents import kinds
from shopdocs.documents.models import Document, Photo, StoredFile
from shopdocs.documents.photos.sizes import for_print
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import Shop, Staff

from . import attempts
from .doorbell import ring_after_commit
from .files import keep_file, read_file

SIGNATURE_WIDTH_MM = 80


def sheet_digest(sheet: dict[str, Any]) -> str:
    """SHA-256 of the sheet in one fixed spelling, so that equal sheets have equal digests."""
    text = json.dumps(sheet, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def request_document(
    *, shop: Shop, kind: str, subject: str, number: str, title: str, sheet: dict[str, Any], by: Staff | None = None
) -> Document:
    """Records the paper with its frozen sheet and rings for a worker once that is committed."""
    from shopdocs.documents.tasks import draw_document

    kinds.kind(kind)  # an unknown kind fails here, not in a worker
    document: Document = Document.objects.create(
        shop=shop,
        kind=kind,
        subject=subject,
        number=number,
        title=title,
        sheet=sheet,
        sheet_sha256=sheet_digest(sheet),
        try_at=timezone.now(),
        by=by.user if by else None,
    )
    ring_after_commit(draw_document, document.pk)
    return document


def draw(document_id: Any) -> None:
    """Carries out one drawing attempt. Safe to call any number of times, from any number of workers."""
    document = attempts.claim(Document, document_id)
    if document is None:
        return
    try:
        drawn = draw_sheet(document.shop, document.kind, document.sheet)
        pdf = keep_file(shop=document.shop, data=drawn.pdf, media_type="application/pdf")
    except Exception as error:  # noqa: BLE001 - whatever a drawing meets is recorded on the row
        attempts.give_up_turn(document, error)
        return
    if attempts.finish(document, pdf=pdf, pages=drawn.pages, replaced=list(drawn.replaced)):
        ring_for_letters(document)


def draw_sheet(shop: Shop, kind_name: str, sheet: dict[str, Any]) -> kinds.Drawn:
    """The paper of a frozen sheet: the same sheet gives the same bytes."""
    kind = kinds.kind(kind_name)
    wanted = set(kind.pictures(sheet))
    pictures: dict[str, bytes] = {}
    photos = (
        Photo.objects.for_shop(shop)
        .filter(original__sha256__in=wanted)
        .select_related("original", "printable", "small")
    )
    for photo in photos:
        copy = photo.small if kind.small and photo.small is not None else photo.printable
        if copy is not None and photo.original.sha256 not in pictures:
            pictures[photo.original.sha256] = read_file(copy)
    drawn_by_hand = StoredFile.objects.for_shop(shop).filter(sha256__in=wanted - set(pictures), media_type="image/png")
    for file in drawn_by_hand:  # a signature is no photo: it has no printable copy of its own
        pictures[file.sha256] = for_print(read_file(file), width_mm=SIGNATURE_WIDTH_MM)
    return kind.draw(sheet, pictures)


def ring_for_letters(document: Document) -> None:
    """A letter waits for its papers: now that one is drawn, its letters may be ready."""
    from shopdocs.documents.tasks import send_letter

    for letter_id in document.letters.values_list("pk", flat=True):
        ring_after_commit(send_letter, letter_id)


def try_again(row: Document) -> None:
    """A person asks for another attempt at a stopped paper."""
    from shopdocs.documents.tasks import draw_document

    if row.state != Document.State.STOPPED:
        raise Conflict("", f"This paper is {row.get_state_display()}.", "Only a stopped paper is tried again.")
    Document.objects.for_shop(row.shop).filter(pk=row.pk).update(
        state=Document.State.WAITING, attempts=0, try_at=timezone.now(), problem=""
    )
    ring_after_commit(draw_document, row.pk)
