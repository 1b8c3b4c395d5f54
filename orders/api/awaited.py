"""The door to what an order waits for."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import RepairOrder
from orders.services.awaited import awaited_parts
from shopdocs.rest.roles import STAFF

from .fields import FrontView


class AwaitedPartOut(serializers.Serializer[Any]):
    """`since` and `days` are null where nobody said when it was ordered; `late`: the supplier's day has passed."""

    part = serializers.UUIDField(source="line.id")
    job = serializers.UUIDField(source="job.id")
    job_number = serializers.IntegerField(source="job.number")
    number = serializers.CharField(source="line.number")
    words = serializers.CharField(source="line.words")
    quantity = serializers.DecimalField(source="line.quantity", max_digits=9, decimal_places=3)
    state = serializers.CharField(source="line.state")
    since = serializers.DateField(source="line.awaited_since", allow_null=True)
    days = serializers.IntegerField(allow_null=True)
    expected_on = serializers.DateField(source="line.expected_on", allow_null=True)
    late = serializers.BooleanField()
    after_promised = serializers.BooleanField()


class AwaitedPartsOut(serializers.Serializer[Any]):
    """`expected_on`: when the last of them is expected; null where the day of one is not known, or nothing is awaited."""

    since = serializers.DateField(allow_null=True)
    expected_on = serializers.DateField(allow_null=True)
    parts = AwaitedPartOut(many=True)


class OrderAwaitedView(FrontView):
    """What an order waits for."""

    model = RepairOrder
    queryset = RepairOrder.objects.none()
    serializer_class = AwaitedPartsOut
    pagination_class = None
    filter_backends = []
    needs = {"look": STAFF}

    @extend_schema(operation_id="orders_awaited_parts", responses=AwaitedPartsOut)
    def look(self, request: Request, order_id: UUID) -> Response:
        """The parts that are ordered and not here, the longest awaited first."""
        return Response(AwaitedPartsOut(awaited_parts(self.mine(RepairOrder, order_id))).data)
