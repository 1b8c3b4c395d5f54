"""Doors to the ways between which a customer chooses on an estimate."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import EstimateOption, RepairOrder
from orders.services.options import add_option, withdraw_option
from shopdocs.rest.roles import COUNTER, STAFF
from shopdocs.rest.serializers import Amount, Line, Strict, Text

from .fields import FrontView
from .money import Money


class OptionIn(Strict):
    """One way of a `group`; `jobs`: ids of what it does. `value_after` and `price_new`: left out when not known."""

    group = Line(max_length=200)
    name = Line(max_length=200)
    kind = serializers.ChoiceField(choices=EstimateOption.Kind.choices, required=False)
    jobs = serializers.ListField(child=serializers.UUIDField(), required=False, max_length=100)
    value_after = Amount(required=False, allow_null=True)
    price_new = Amount(required=False, allow_null=True)
    note = Text(required=False, allow_blank=True)


class OptionOut(serializers.ModelSerializer[EstimateOption]):
    value_after = Money(allow_null=True)
    price_new = Money(allow_null=True)

    class Meta:
        model = EstimateOption
        fields = [
            "id", "version", "order", "group", "name", "kind", "jobs", "value_after", "price_new", "note", "withdrawn_at",
        ]  # fmt: skip
        read_only_fields = fields


class BackOptions(FrontView):
    model = EstimateOption
    queryset = EstimateOption.objects.none()
    serializer_class = OptionOut
    prefetch = ("jobs",)
    order = ("created_at", "id")


class OrderOptionsView(mixins.ListModelMixin, BackOptions):
    needs = {"list": STAFF, "create": COUNTER}

    def get_queryset(self) -> Any:
        rows = super().get_queryset()
        if getattr(self, "swagger_fake_view", False):
            return rows
        self.mine(RepairOrder, self.kwargs["order_id"])
        return rows.filter(order=self.kwargs["order_id"])

    @extend_schema(operation_id="orders_options_create", request=OptionIn, responses={201: OptionOut})
    def create(self, request: Request, order_id: UUID) -> Response:
        """Offers one way, from the next version of the estimate on."""
        return self.shown(add_option(**self.caller, order_id=order_id, **self.given(OptionIn)), new=True)

    @extend_schema(operation_id="orders_options_list")
    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """The ways of the order, withdrawn ones among them."""
        return super().list(request, *args, **kwargs)


class OptionView(BackOptions):
    needs = {"withdraw": COUNTER}

    @extend_schema(operation_id="options_withdraw", request=None, responses=OptionOut)
    @action(detail=True, methods=["post"])
    def withdraw(self, request: Request, pk: UUID) -> Response:
        """Leaves the way out of the next version; versions that were sent keep it."""
        return self.shown(withdraw_option(**self.caller, option_id=pk))
