"""Signed copies of papers, by the certificate of the installation: files of their own, the papers stay as they were drawn."""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from shopdocs.documents.models import Document
from shopdocs.documents.press.signing import signed_copy
from shopdocs.problems import BadInput
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import Staff
from shopdocs.shops.services import record_event

from .files import keep_file, read_file


def sign_document(*, by: Staff, document: Document) -> Document:
    """Makes the signed copy of a drawn paper, once: asked again, the same one stands."""
    if document.signed is not None:
        return document
    if not settings.SIGNING_FILE:
        raise Conflict(
            "", "This installation has no certificate to sign with.", "Name one with SIGNING_FILE, and start again."
        )
    if document.pdf is None:
        raise Conflict("", "This paper is not drawn yet.", "Wait until it is, then ask again.")
    try:
        data = signed_copy(
            read_file(document.pdf),
            certificate=Path(settings.SIGNING_FILE).read_bytes(),
            password=settings.SIGNING_PASSWORD,
            reason=document.title,
            now=timezone.now(),
        )
    except BadInput as bad:
        raise Conflict("", bad.problem, bad.remedy) from bad
    file = keep_file(shop=document.shop, data=data, media_type="application/pdf")
    rows = Document.objects.for_shop(document.shop).filter(pk=document.pk)
    with transaction.atomic():
        # Of two that sign at the same moment the first one's copy stands.
        if rows.filter(signed=None).update(signed=file, updated_at=timezone.now()):
            told = f"{document.title}: SHA-256 {file.sha256}"
            record_event(shop=document.shop, subject=document.subject, verb="signed copy made", words=told, by=by)
    return rows.select_related("pdf", "signed").get()
