"""What the doors of warranty share."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers
from rest_framework.response import Response

from orders.api.fields import Change, Flag, FrontView, Version, changing, optional_line
from orders.api.money import Money
from shopdocs.rest.serializers import Day


class DeskView(FrontView):
    """A view of the office: knows its caller, and answers lists in pages by one serializer."""

    def paged(self, rows: Any, serializer: type[serializers.BaseSerializer[Any]]) -> Response:
        page = self.paginate_queryset(rows)
        data = serializer(page, many=True, context=self.get_serializer_context()).data
        return self.get_paginated_response(data)


class RetireIn(Change):
    """The version that was read. From `retired_on` on, today unless said, the record is not used any more."""

    retired_on = Day(required=False)


__all__ = ["Change", "DeskView", "Flag", "Money", "RetireIn", "Version", "changing", "optional_line"]
