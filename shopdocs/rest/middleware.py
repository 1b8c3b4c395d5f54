"""What is checked before a request's body is read at all."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse

from .errors import CONTENT_TYPE, problem_body
from .refusals import Problem


class BodyLimit:
    """Refuses a body over MAX_BODY_BYTES by its announced length, before a byte of it is kept."""

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
                f"The request holds {length:,} bytes; at most {settings.MAX_BODY_BYTES:,} are taken.",
                "Send less at once.",
            )
            return JsonResponse(problem_body(413, "Too large", [problem]), status=413, content_type=CONTENT_TYPE)
        return self.get_response(request)
