"""Doors to what the customer authorised: how far the work has come beside it, and the consent to electronic records."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import RepairOrder
from orders.services.authorised import compare, shown
from orders.services.electronic_consent import consent_on, take_back_consent
from shopdocs.rest.roles import COUNTER_OR_DESK, STAFF

from .estimates import GivenIn
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


class ConsentOut(serializers.Serializer[Any]):
    """The newest consent of the order with its words. `stands`: it was given, and not taken back since."""

    stands = serializers.BooleanField()
    version = serializers.CharField()
    words = serializers.CharField()
    given_at = serializers.DateTimeField(allow_null=True)
    taken_back_at = serializers.DateTimeField(allow_null=True)


class TakenBackIn(GivenIn):
    """How the customer took the consent back: in person or by telephone, with what shows it."""


class OrderConsentView(FrontView):
    """The customer's consent to electronic records for an order."""

    model = RepairOrder
    queryset = RepairOrder.objects.none()
    serializer_class = ConsentOut
    pagination_class = None
    filter_backends = []
    needs = {"look": STAFF, "take_back": COUNTER_OR_DESK}

    @extend_schema(operation_id="orders_consent", responses=ConsentOut)
    def look(self, request: Request, order_id: UUID) -> Response:
        """When it was given, to which words, and whether it was taken back."""
        return Response(ConsentOut(consent_on(self.mine(RepairOrder, order_id))).data)

    @extend_schema(operation_id="orders_consent_take_back", request=TakenBackIn, responses=ConsentOut)
    def take_back(self, request: Request, order_id: UUID) -> Response:
        """Writes down that the customer takes it back. From then on no estimate or invoice of the order is e-mailed."""
        order = take_back_consent(**self.caller, order_id=order_id, **self.given(TakenBackIn))
        return Response(ConsentOut(consent_on(order)).data)
