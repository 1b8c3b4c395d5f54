"""A request after the permission check: it knows whose shop it acts at."""

from typing import Any

from rest_framework.request import Request


class ShopRequest(Request):
    """For annotations: `staff` is the caller's place (shop, user, roles), `shop` its shop."""

    staff: Any
    shop: Any
