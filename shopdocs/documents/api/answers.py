"""How a stored file leaves: as it is, never sniffed, never run, with its SHA-256 as the strong tag."""

from collections.abc import Callable

from django.http import HttpResponse, HttpResponseNotModified
from rest_framework.request import Request

from shopdocs.documents.models import StoredFile
from shopdocs.rest.refusals import Missing


def file_answer(
    request: Request, file: StoredFile | None, name: str, read: Callable[[StoredFile], bytes]
) -> HttpResponse:
    """The file's bytes; 304 when the caller has them already; Missing when there is no file yet."""
    if file is None:
        raise Missing("", "There is no file here yet.", "Wait until the paper is drawn, then ask again.")
    tag = f'"{file.sha256}"'
    if tag in (part.strip() for part in request.headers.get("If-None-Match", "").split(",")):
        return HttpResponseNotModified(headers={"ETag": tag})
    safe_name = "".join(c if c.isascii() and (c.isalnum() or c in ".-_") else "_" for c in name)
    return HttpResponse(
        read(file),
        content_type=file.media_type,
        headers={
            "ETag": tag,
            "Content-Disposition": f'attachment; filename="{safe_name}"',
            "X-Content-Type-Options": "nosniff",
            "Content-Security-Policy": "default-src 'none'; sandbox",
            "Cache-Control": "private, no-cache",
        },
    )
