"""How a refusal leaves the house: problem details (RFC 9457) that name field, problem and remedy."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from http import HTTPStatus
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest
from django.urls import Resolver404, resolve
from rest_framework import exceptions
from rest_framework.response import Response

from .known_again import known_again
from .refusals import Problem, Refused, Say, Told, said

CONTENT_TYPE = "application/problem+json"

WHOLE = {401: "Authorization", 403: "Authorization", 404: "address", 405: "method", 406: "Accept", 415: "Content-Type"}
"""What a refusal of a whole request is about, by status: a header's name, 'address' or 'method'; else 'body' or 'request'."""
BODY = (400, 413)
MOST_TOLD = 200
"""No form holds more fields than this; thousands of wrong entries of one list need no answer each."""
MORE = "{count} more problems of this request are not listed."

REMEDIES = {
    "required": "Send this field.",
    "null": "Send a value, or leave the field out if it is optional.",
    "blank": "Write something here.",
    "invalid": "Correct the value; the API description shows the form it takes.",
    "max_length": "Shorten the text.",
    "max_value": "Send a smaller number.",
    "min_value": "Send a larger number.",
    "max_digits": "Send fewer digits.",
    "max_decimal_places": "Send fewer decimals.",
    "max_whole_digits": "Send a smaller number.",
    "max_items": "Send fewer entries, in several requests if need be.",
    "min_items": "Send more entries.",
    "empty_list": "Send at least one entry.",
    "empty": "Send a file that holds something.",
    "no_name": "Send the file with a name.",
    "min_length": "Send a longer text.",
    "no_zone": "Send it with its offset from UTC, as 2026-03-01T09:30:00-06:00.",
    "no_such_day": "Send a day that the calendar has, as YYYY-MM-DD.",
    "invalid_choice": "Send one of the values that are known here.",
    "null_characters_not_allowed": "Leave the NUL character out.",
    "surrogate_characters_not_allowed": "Leave the half character out.",
    "invalid_page": "Leave 'page' out for the first one, or send a page number as 'next' and 'previous' give it.",
    "does_not_exist": "Use the id of a record of your shop.",
    "incorrect_type": "Send the record's id.",
    "not_a_list": "Send a list.",
    "card_number": "Leave it out: card numbers are never kept here.",
    "digits": "Write it as 10 or 10.5.",
    "unknown_field": "Leave this field out, or correct its name.",
    "parse_error": "Send valid JSON.",
    "not_a_form": "Send a form (multipart/form-data) whose Content-Type names its boundary, and each part whole.",
    "not_acceptable": "Accept application/json, or leave the header Accept out.",
    "unsupported_media_type": "Send the content type that the API description names for this address.",
    "not_authenticated": "Sign in and send the token: 'Authorization: Token ...'.",
    "authentication_failed": "Check the name and password, or sign in again.",
    "permission_denied": "Ask somebody of the shop who holds the role.",
    "method_not_allowed": "Use a method that the API description lists for this address.",
    "throttled": "Wait a moment and try again.",
    "not_found": "Check the address and the id.",
}


OF_LISTS = {"max_length": "max_items", "min_length": "min_items", "empty": "empty_list"}


PHRASES = tuple(HTTPStatus(code) for code in (403, 404, 405, 406, 413, 415))
"""Titles that an answer may have without a refusal of ours."""


def _flatten(detail: Any, path: str = "") -> Iterator[Problem]:
    """Problems out of DRF's nested lists and dicts of ErrorDetail."""
    if isinstance(detail, dict):
        for key, value in detail.items():
            if isinstance(key, int):  # an item of a list field
                yield from _flatten(value, f"{path}[{key}]")
                continue
            name = "" if key in ("non_field_errors", "detail") else str(key)
            yield from _flatten(value, f"{path}.{name}" if path and name else path or name)
    elif isinstance(detail, (list, tuple)):
        for index, value in enumerate(detail):
            nested = isinstance(value, (dict, list))
            yield from _flatten(value, f"{path}[{index}]" if nested and value else path)
    else:
        code = getattr(detail, "code", "invalid")
        if str(detail).endswith(("elements.", "list may not be empty.", "selection may not be empty.")):
            code = OF_LISTS.get(code, code)  # the framework has one code for texts, files and lists
        yield Problem(path, str(detail), REMEDIES.get(code, REMEDIES["invalid"]))


def problem_body(status: int, title: str, problems: list[Problem], *, say: Say = str, **extra: Any) -> dict[str, Any]:
    """The answer's body; `errors` lists every problem (`MOST_TOLD` at most), so that a form can show all of them at once.

    A problem of the whole request is told of the part of it that is wrong: no field is ever empty. `say` is the language
    of whoever reads it.
    """
    whole = WHOLE.get(status, "body" if status in BODY else "request")
    errors = [
        {"field": p.field or whole, "problem": said(p.problem, say), "remedy": said(p.remedy, say)}
        for p in problems[:MOST_TOLD]
    ]
    if len(problems) > MOST_TOLD:
        more = Told(MORE, count=f"{len(problems) - MOST_TOLD:,}")
        errors[-1]["remedy"] += f" {more.said(say)}"
    return {"type": "about:blank", "title": say(title), "status": status, "errors": errors, **extra}


def speaker_at(request: HttpRequest, path: str) -> Say:
    """What a refusal of the door at `path` is said with, before any view was reached: English, but where its view `speaks`."""
    try:
        found = resolve(path)
    except Resolver404:
        return str
    speaks = getattr(getattr(found.func, "cls", None), "speaks", None)
    return speaks(request, **found.kwargs) if speaks else str


def _speaker(context: dict[str, Any]) -> Say:
    """The same for a view that was reached."""
    view: Any = context.get("view")
    speaks = getattr(view, "speaks", None)
    return speaks(context["request"], **view.kwargs) if speaks else str


def _named(exc: exceptions.APIException, request: Any) -> exceptions.APIException:
    """The same refusal with the field that it is about, where the framework names none or speaks of JSON to a form."""
    sent_as = str(getattr(request, "content_type", "") or "")
    if isinstance(exc, exceptions.ParseError) and sent_as.startswith("multipart/"):
        field = "Content-Type" if "boundary" in str(exc.detail).lower() else "body"
        return exceptions.ValidationError({field: [exceptions.ErrorDetail(str(exc.detail), "not_a_form")]})
    return exc


def _page_for(context: dict[str, Any]) -> Any:
    """What a browser without a sign-in gets where the code of a paper led it: the page of a view that has one, else None."""
    view: Any = context.get("view")
    request = context["request"]
    opened: Any = getattr(view, "opened", None)
    browser = "text/html" in request.headers.get("Accept", "") and not request.headers.get("Authorization")
    wanted = opened and browser and view.action == view.opens
    return opened(request, **view.kwargs) if wanted else None


def answer(exc: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's exception handler: every refusal leaves as problem details; anything else stays a server error."""
    from rest_framework.views import exception_handler  # loads the settings, which name this function

    if isinstance(exc, Refused):
        body = problem_body(exc.status, exc.title, exc.problems, say=_speaker(context), **exc.extra)
        return Response(body, status=exc.status, content_type=CONTENT_TYPE)
    if isinstance(exc, Http404):
        exc = exceptions.NotFound()
    elif isinstance(exc, PermissionDenied):
        exc = exceptions.PermissionDenied()
    if isinstance(exc, exceptions.APIException):
        exc = _named(exc, context.get("request"))
    response = exception_handler(exc, context)
    if response is None or not isinstance(exc, exceptions.APIException):
        return response
    if response.status_code in (401, 406) and (page := _page_for(context)):
        return page
    problems = [replace(one, problem=known_again(one.problem)) for one in _flatten(exc.detail)]
    title = HTTPStatus(response.status_code).phrase if response.status_code != 400 else Refused.title
    body = problem_body(response.status_code, title, problems, say=_speaker(context))
    headers = {k: v for k, v in response.items() if k.lower() in ("www-authenticate", "retry-after", "allow")}
    return Response(body, status=response.status_code, headers=headers, content_type=CONTENT_TYPE)
