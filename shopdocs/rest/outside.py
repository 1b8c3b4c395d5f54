"""What is answered where no view of ours was reached: an unknown address, a fault of ours."""

from typing import Any

from django.http import HttpRequest, JsonResponse

from .errors import CONTENT_TYPE, problem_body
from .refusals import Problem


def _told(status: int, title: str, problem: str, remedy: str) -> JsonResponse:
    return JsonResponse(
        problem_body(status, title, [Problem("", problem, remedy)]), status=status, content_type=CONTENT_TYPE
    )


def bad_request(request: HttpRequest, exception: Exception, *args: Any) -> JsonResponse:
    return _told(400, "Bad request", "The request cannot be read.", "Check the address, the host name and the headers.")


def forbidden(request: HttpRequest, exception: Exception, *args: Any) -> JsonResponse:
    return _told(403, "Forbidden", "This is not allowed.", "Sign in, or ask the owner of the shop.")


def not_found(request: HttpRequest, exception: Exception, *args: Any) -> JsonResponse:
    return _told(
        404, "Not found", "There is nothing at this address.", "The addresses stand at /api/docs/; each ends with '/'."
    )


def server_error(request: HttpRequest, *args: Any) -> JsonResponse:
    return _told(
        500, "A fault of ours", "Something went wrong here; it was written to the log.", "Try again, or tell the owner."
    )
