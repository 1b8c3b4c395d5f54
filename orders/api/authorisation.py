"""Doors to what the customer authorised: how far the work has come beside it."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import RepairOrder
from orders.services.authorised import compare, shown
from shopdocs.rest.roles import STAFF

from .fields import FrontView


class SumsOut(serializers.Serializer[Any]):
    net = serializers.CharField()
    total = serializers.CharField()


class BindingLaw(serializers.Serializer[Any]):
    law = serializers.CharField()
    binds = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    address = serializers.CharField()
    note = serializers.CharField()


class TriedLimit(serializers.Serializer[Any]):
    text = serializers.CharField()
    amount = serializers.CharField(allow_null=True)


class ChangedJob(serializers.Serializer[Any]):
    job = serializers.IntegerField()
    what = serializers.CharField()
    agreed = serializers.CharField(help_text="the customer's part of the job, as the estimate printed it")
    now = serializers.CharField()
    most = serializers.CharField(help_text="what the estimate said may be asked for the job without a new answer")


class AuthorisationOut(serializers.Serializer[Any]):
    """What was agreed beside what it is now; `laws` bind here, `steps` are the limits that were tried, tightest named.

    Laws and the shop's own rule hold for the sum of the order, and what the estimate said of a job holds for that job.
    """

    authorised = SumsOut()
    now = SumsOut()
    allowed = serializers.BooleanField()
    decided_by = serializers.CharField()
    remedy = serializers.CharField()
    own_rule = serializers.CharField()
    laws = BindingLaw(many=True)
    steps = TriedLimit(many=True)
    changed = ChangedJob(many=True)
    notes = serializers.ListField(child=serializers.CharField(), help_text="what a law asks for, or that none is known")


class OrderAuthorisationView(FrontView):
    """How far the order's work is authorised."""

    model = RepairOrder
    queryset = RepairOrder.objects.none()
    serializer_class = AuthorisationOut
    pagination_class = None
    filter_backends = []
    needs = {"look": STAFF}

    @extend_schema(operation_id="orders_authorisation", responses=AuthorisationOut)
    def look(self, request: Request, order_id: UUID) -> Response:
        """Compares what the customer agreed to with what is on the jobs now, by law and by the shop's own rule."""
        order = self.mine(RepairOrder, order_id)
        return Response(AuthorisationOut(shown(compare(order))).data)
