"""The door to promises that end soon."""

from __future__ import annotations

import datetime as dt
from typing import Any

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Unit
from shopdocs.rest.roles import STAFF
from shopdocs.rest.serializers import Day, Strict
from warranty.services.running_out import MOST_DAYS, running_out

from .base import DeskView


class RunningOutIn(Strict):
    days = serializers.IntegerField(min_value=1, max_value=MOST_DAYS, required=False)
    as_of = Day(required=False)


class RunningOutOut(serializers.Serializer[Any]):
    """A term of a unit that ends soon. `missing` facts make it unsure; `call_in`: worth asking the owner in for a check."""

    unit = serializers.UUIDField(source="unit.pk")
    unit_words = serializers.CharField(source="unit")
    owner = serializers.CharField(source="unit.owner")
    phone = serializers.CharField(source="unit.owner.phone")
    email = serializers.CharField(source="unit.owner.email")
    term = serializers.CharField(source="term.term")
    title = serializers.CharField(source="term.title")
    last_day: Any = serializers.DateField(source="term.last_day")
    days_left = serializers.IntegerField(source="term.days_left")
    hours_left = serializers.DecimalField(source="term.hours_left", max_digits=9, decimal_places=1, allow_null=True)
    sure = serializers.BooleanField(source="term.sure")
    missing = serializers.ListField(source="term.missing", child=serializers.CharField())
    call_in = serializers.BooleanField(source="term.call_in")


class RunningOut(DeskView):
    """Promises that end soon, over all units of the shop."""

    model = Unit
    needs = {"list": STAFF}
    serializer_class = RunningOutOut
    query_parameters = ("days", "as_of")
    filter_backends = []

    @extend_schema(
        operation_id="running_out", responses=RunningOutOut(many=True),
        parameters=[
            OpenApiParameter("days", int, description="Within how many days from `as_of`; 60 unless said."),
            OpenApiParameter("as_of", dt.date, description="Today unless said."),
        ],
    )  # fmt: skip
    def list(self, request: Request) -> Response:
        """Which terms end within the next days, soonest first, and whom to call in before they do."""
        asked = {key: value for key, value in request.query_params.items() if key in ("days", "as_of")}
        given = RunningOutIn(data=asked)
        given.is_valid(raise_exception=True)
        return self.paged(running_out(shop=self.caller["shop"], **given.validated_data), RunningOutOut)
