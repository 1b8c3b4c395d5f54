"""What is done about a request beside the views: a body that is too long is refused, one that was not read is read off, and
what was sent to an address without its last slash is told the right one."""

import time
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.middleware.common import CommonMiddleware

from .errors import CONTENT_TYPE, problem_body, speaker_at
from .refusals import Problem, Told

PIECE = 64 * 1024
PATIENCE = 10.0
"""Seconds after which the rest of a refused body is left unread."""


class BodyLimit:
    """Refuses a body over MAX_BODY_BYTES by its announced length, before a byte of it is kept.

    A server that answers and closes while the client still writes resets the connection, and many clients then report a
    broken pipe instead of the answer. So whatever a refusal left unread is read off and thrown away: up to four times
    MAX_BODY_BYTES and for PATIENCE seconds. That the connection is closed afterwards is the server's to say (PEP 3333 keeps
    hop-by-hop headers such as Connection from applications).
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        try:
            length = int(request.META.get("CONTENT_LENGTH") or 0)
        except ValueError:
            length = 0
        if length > settings.MAX_BODY_BYTES:
            problem = Problem(
                "",
                Told(
                    "The request holds {length} bytes; at most {most} are taken.",
                    length=f"{length:,}",
                    most=f"{settings.MAX_BODY_BYTES:,}",
                ),
                "Send less at once: split a long file into several, and send them one after another.",
            )
            body = problem_body(413, "Too large", [problem], say=speaker_at(request, request.path_info))
            answer: HttpResponse = JsonResponse(body, status=413, content_type=CONTENT_TYPE)
        else:
            answer = self.get_response(request)
        if length and answer.status_code >= 400:
            read_off(request, most=4 * settings.MAX_BODY_BYTES)
        return answer


def read_off(request: HttpRequest, *, most: int) -> None:
    """Reads what is left of the body, in small pieces that are thrown away, until `most` bytes or PATIENCE seconds."""
    stream = getattr(request, "_stream", None)  # bounded by the announced length, so it never waits for more
    end = time.monotonic() + PATIENCE
    try:
        while stream is not None and most > 0 and time.monotonic() < end:
            piece = stream.read(min(PIECE, most))
            if not piece:
                return
            most -= len(piece)
    except (OSError, ValueError):
        return  # the client hung up, or the stream was closed by whoever read it: nothing is left to read


class Addresses(CommonMiddleware):
    """Django's own, but that only reading is sent on to the address with the slash.

    Many clients follow a 301 with a GET (RFC 9110, 15.4.2), which loses what was sent; and not all follow a 308 with a body. So
    whoever sends is told the right address, and nothing is done.
    """

    def should_redirect_with_slash(self, request: HttpRequest) -> bool:
        return request.method in ("GET", "HEAD") and super().should_redirect_with_slash(request)

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        answer = super().process_response(request, response)
        if answer.status_code != 404 or not super().should_redirect_with_slash(request):
            return answer
        problem = Problem(
            "address",
            "There is nothing at this address: it lacks its last '/'.",
            Told("Send it to {address}/.", address=request.path),
        )
        body = problem_body(404, "Not found", [problem], say=speaker_at(request, f"{request.path_info}/"))
        return JsonResponse(body, status=404, content_type=CONTENT_TYPE)
