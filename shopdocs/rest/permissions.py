"""Who may call what. Every view states its table in `needs`: action (or method) -> roles.

Knows only `request.user.acting_at(slug)`, which gives an object with `.shop` and `.roles`, and `request.user.shop_slugs()`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rest_framework.permissions import BasePermission

from .refusals import not_your_shop
from .roles import ANYONE, STAFF

if TYPE_CHECKING:  # the views module reads the settings, which name this one
    from rest_framework.views import APIView

    from .requests import ShopRequest


def role_table(view: Any) -> dict[str, frozenset[str]]:
    """The view's table; a view without one is a mistake of ours, so it answers nobody."""
    table: dict[str, frozenset[str]] = getattr(view, "needs", {})
    return table


class RoleNeeded(BasePermission):
    """Lets a caller in when their roles at the acting shop meet the view's table; sets request.staff and request.shop."""

    message = "This is the work of another role."

    def has_permission(self, request: ShopRequest, view: APIView) -> bool:  # type: ignore[override]
        action = getattr(view, "action", None) or (request.method or "").lower()
        wanted = role_table(view).get(action, frozenset())
        if action == "metadata":  # OPTIONS tells no more than the published schema
            wanted = STAFF
        if wanted == ANYONE:
            return True
        if not request.user or not request.user.is_authenticated:
            return False
        slug = request.headers.get("Shop", "")
        staff = request.user.acting_at(slug)
        if staff is None:
            raise not_your_shop(slug, request.user.shop_slugs())
        request.staff = staff
        request.shop = staff.shop
        if not _has_door(request, view):
            return True  # nobody's work: the view answers 405 and names the methods that there are
        return bool(wanted & set(staff.roles))


def _has_door(request: ShopRequest, view: APIView) -> bool:
    """Whether the view does anything at all with this method."""
    method = (request.method or "").lower()
    return (method in getattr(view, "action_map", {method: method}) and hasattr(view, method)) or method == "options"
