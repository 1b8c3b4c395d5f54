"""Who may call what. Every view states its table in `needs`: action (or method) -> roles.

Knows only `request.user.acting_at(slug)`, which gives an object with `.shop` and `.roles`.
"""

from __future__ import annotations

from typing import Any

from rest_framework.exceptions import APIException
from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.views import APIView

from .errors import Problem, Refused

WRITER = "writer"
TECHNICIAN = "technician"
OFFICE = "office"
OWNER = "owner"
ROLES = (WRITER, TECHNICIAN, OFFICE, OWNER)

STAFF = frozenset(ROLES)
COUNTER = frozenset({WRITER, OWNER})
BENCH = frozenset({TECHNICIAN, OWNER})
DESK = frozenset({OFFICE, OWNER})
COUNTER_OR_DESK = frozenset({WRITER, OFFICE, OWNER})
COUNTER_OR_BENCH = frozenset({WRITER, TECHNICIAN, OWNER})
SHOP_OWNER = frozenset({OWNER})
ANYONE = frozenset({"anyone"})
"""No sign-in at all: the customer's link carries its own proof."""


def role_table(view: Any) -> dict[str, frozenset[str]]:
    """The view's table; a view without one is a mistake of ours, so it answers nobody."""
    table: dict[str, frozenset[str]] = getattr(view, "needs", {})
    return table


class RoleNeeded(BasePermission):
    """Lets a caller in when their roles at the acting shop meet the view's table; sets request.staff and request.shop."""

    message = "This is the work of another role."

    def has_permission(self, request: Request, view: APIView) -> bool:
        action = getattr(view, "action", None) or (request.method or "").lower()
        wanted = role_table(view).get(action, frozenset())
        if action == "metadata":  # OPTIONS tells no more than the published schema
            wanted = STAFF
        if wanted == ANYONE:
            return True
        if not request.user or not request.user.is_authenticated:
            return False
        staff = request.user.acting_at(request.headers.get("Shop", ""))  # type: ignore[union-attr]
        if staff is None:
            return False
        request.staff = staff
        request.shop = staff.shop
        return bool(wanted & set(staff.roles))


def unknown_shop(slugs: list[str]) -> Refused:
    """For a caller who works at several shops and did not say which."""
    return Refused(problems=[Problem("Shop", "You work at several shops.", f"Send the header 'Shop' with one of: {', '.join(slugs)}.")])


class Unavailable(APIException):
    status_code = 503
    default_detail = "The database or the queue does not answer."
    default_code = "unavailable"
