"""Doors to check-in and to repair orders: read with everything in them, and given back."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import django_filters
from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Estimate, Invoice, Job, RepairOrder
from orders.models.units import plain_serial
from orders.services.asked_estimates import record_asked
from orders.services.checkin import Visit, check_in
from orders.services.orders import give_back, update_order
from orders.services.selectors import history_of, photos_missing, photos_of, warnings_in
from shopdocs.documents.api.opened import OnPaper
from shopdocs.rest.roles import COUNTER, STAFF
from shopdocs.rest.serializers import Amount, Day, Line, Strict, Text
from shopdocs.shops.models import Event

from .catalogue import KEPT, MakerIn, NewModelIn
from .fields import Change, Flag, FrontView, Hours, changing, optional_line
from .inspection import CheckOut, FindingOut, HoldOut, InspectionActions, OrderPhoto
from .money import Money
from .people import CustomerIn, CustomerOut
from .units import AssemblyIn, UnitIn, UnitOut


class UnknownModelIn(NewModelIn):
    """A model that the shop has not had before: with `maker` (id) or `new_maker`."""

    maker = serializers.UUIDField(required=False)
    new_maker = MakerIn(required=False)


class NewUnitIn(UnitIn):
    """A unit that the shop has not had before: with `model` (id) or `new_model`."""

    model = serializers.UUIDField(required=False)
    new_model = UnknownModelIn(required=False)
    assemblies = AssemblyIn(many=True, required=False, max_length=12)  # type: ignore[call-arg]


class MeterIn(Strict):
    hours = Hours()
    meter_changed = Flag(required=False)
    hours_before_change = Hours(required=False, allow_null=True)
    no_hours_before_reason = optional_line()
    note = optional_line()


class CheckInIn(Strict):
    """One of `customer` and `new_customer`, one of `unit` and `new_unit`."""

    customer = serializers.UUIDField(required=False)
    new_customer = CustomerIn(required=False)
    unit = serializers.UUIDField(required=False)
    new_unit = NewUnitIn(required=False)
    hours = MeterIn(required=False)
    complaint = Text()
    accessories = serializers.ListField(child=Line(max_length=200), required=False, max_length=40)
    received_on = Day(required=False)
    promised_on = Day(required=False, allow_null=True)
    owner_far = Flag(required=False, allow_null=True)
    brought_for_owner = Flag(required=False)
    estimate_asked = serializers.ChoiceField(choices=RepairOrder.EstimateAsked.choices, required=False)
    estimate_limit = Amount(required=False, allow_null=True)


class OrderIn(Strict):
    complaint = Text()
    accessories = serializers.ListField(child=Line(max_length=200), max_length=40)
    promised_on = Day(allow_null=True)
    owner_far = Flag(allow_null=True)


OrderChange = changing(OrderIn, "OrderChange")


class EstimateAskedIn(Change):
    """What the customer wants by way of an estimate.

    `estimate_limit` (tax included): the sum of an oral estimate, or up to which work may begin without one.
    """

    estimate_asked = serializers.ChoiceField(choices=RepairOrder.EstimateAsked.choices)
    estimate_limit = Amount(required=False, allow_null=True)


class GiveBackIn(Strict):
    """`given_to`: who took the unit along."""

    given_to = Line(max_length=200)
    note = optional_line()


ORDER_FIELDS = [
    *KEPT, "number", "state", "customer", "unit", "received_on", "promised_on", "complaint", "accessories", "reading",
    "owner_far", "finished_at", "given_back_at",
]  # fmt: skip


class OrderBrief(serializers.ModelSerializer[RepairOrder]):
    customer_name = serializers.CharField(source="customer.name", read_only=True)
    unit_words = serializers.CharField(source="unit", read_only=True)
    on_hold = serializers.SerializerMethodField()

    class Meta:
        model = RepairOrder
        fields = [*ORDER_FIELDS, "customer_name", "unit_words", "on_hold"]

    def get_on_hold(self, order: RepairOrder) -> bool:
        """Whether the unit is tagged, on this visit or an earlier one, and still here."""
        here = order.state != RepairOrder.State.GIVEN_BACK
        return here and any(hold.released_at is None for hold in order.unit.holds.all())


class JobBrief(serializers.ModelSerializer[Job]):
    class Meta:
        model = Job
        fields = ["id", "version", "number", "title", "state", "payer"]


class EstimateBrief(serializers.ModelSerializer[Estimate]):
    class Meta:
        model = Estimate
        fields = ["id", "number", "edition", "issued_on", "valid_until", "total", "customer_total", "replaced_by"]


class InvoiceBrief(serializers.ModelSerializer[Invoice]):
    class Meta:
        model = Invoice
        fields = ["id", "number", "issued_on", "due_on", "total"]


class OrderEvent(serializers.ModelSerializer[Event]):
    class Meta:
        model = Event
        fields = ["at", "verb", "words", "facts", "by_name"]


class PhotoDoubt(serializers.Serializer[Any]):
    """A picture that a claim will want, in words, while it can still be taken."""

    code = serializers.CharField()
    words = serializers.CharField()


class OrderOut(OrderBrief):
    """An order with everything in it."""

    customer = CustomerOut(read_only=True)
    unit = UnitOut(read_only=True)
    taken_in_by = serializers.CharField(source="taken_in_by.shown_name", read_only=True)
    checks = CheckOut(many=True, read_only=True)
    findings = serializers.SerializerMethodField()
    holds = HoldOut(many=True, read_only=True)
    photos = serializers.SerializerMethodField()
    photos_missing = serializers.SerializerMethodField()
    jobs = JobBrief(many=True, read_only=True)
    estimates = EstimateBrief(many=True, read_only=True)
    invoices = InvoiceBrief(many=True, read_only=True)
    estimate_asked_by = serializers.CharField(source="estimate_asked_by.shown_name", read_only=True, default=None)
    estimate_limit = Money(allow_null=True)
    history = serializers.SerializerMethodField()

    class Meta:
        model = RepairOrder
        fields = [
            *ORDER_FIELDS, "customer_name", "unit_words", "on_hold", "taken_in_by", "checks", "findings", "holds", "photos",
            "photos_missing", "jobs", "estimates", "invoices", "estimate_asked", "estimate_limit", "estimate_asked_at",
            "estimate_asked_by", "history",
        ]  # fmt: skip

    @extend_schema_field(FindingOut(many=True))
    def get_findings(self, order: RepairOrder) -> Any:
        rows = order.findings.all()
        return FindingOut(rows, many=True, context={**self.context, "warnings": warnings_in(order)}).data

    @extend_schema_field(OrderPhoto(many=True))
    def get_photos(self, order: RepairOrder) -> Any:
        return OrderPhoto(photos_of(order), many=True).data

    @extend_schema_field(PhotoDoubt(many=True))
    def get_photos_missing(self, order: RepairOrder) -> Any:
        return PhotoDoubt(photos_missing(order), many=True).data

    @extend_schema_field(OrderEvent(many=True))
    def get_history(self, order: RepairOrder) -> Any:
        return OrderEvent(history_of(order), many=True).data


class OrderFilter(django_filters.FilterSet):
    """`serial` finds orders of one unit by its plate, without case, spaces and hyphens."""

    customer = django_filters.UUIDFilter(field_name="customer_id")
    unit = django_filters.UUIDFilter(field_name="unit_id")
    serial = django_filters.CharFilter(method="by_serial")
    number = django_filters.CharFilter(lookup_expr="iexact")
    state = django_filters.ChoiceFilter(choices=RepairOrder.State.choices)

    class Meta:
        model = RepairOrder
        fields: list[str] = []

    def by_serial(self, rows: QuerySet[RepairOrder], name: str, value: str) -> QuerySet[RepairOrder]:
        return rows.filter(unit__serial_key=plain_serial(value))


class CheckInView(FrontView):
    model = RepairOrder
    queryset = RepairOrder.objects.none()
    serializer_class = OrderOut
    select = ("customer", "unit__model__maker", "unit__owner", "taken_in_by", "reading", "estimate_asked_by")
    needs = {"create": COUNTER}

    @extend_schema(operation_id="check_in", request=CheckInIn, responses={201: OrderOut})
    def create(self, request: Request) -> Response:
        return self.shown(check_in(**self.caller, visit=Visit(**self.given(CheckInIn))), new=True)


class OrderView(OnPaper, mixins.ListModelMixin, mixins.RetrieveModelMixin, InspectionActions, FrontView):
    model = RepairOrder
    queryset = RepairOrder.objects.none()
    filterset_class = OrderFilter
    order = ("-received_on", "-created_at", "id")
    paper = "Repair order"
    needs = {
        "list": STAFF,
        "retrieve": STAFF,
        "partial_update": COUNTER,
        "give_back": COUNTER,
        "estimate_asked": COUNTER,
        **InspectionActions.inspection_needs,
    }

    def get_serializer_class(self) -> Any:
        return OrderBrief if self.action == "list" else OrderOut

    def get_queryset(self) -> QuerySet[Any]:
        rows = super().get_queryset().select_related("customer", "unit__model__maker").prefetch_related("unit__holds")
        if self.action == "list":
            return rows
        return rows.select_related("unit__owner", "taken_in_by", "reading", "estimate_asked_by").prefetch_related(
            "checks__by", "findings__by", "findings__holds", "holds", "holds__placed_by", "holds__released_by", "jobs", "estimates",
            "invoices", "unit__assemblies", "unit__hour_readings", "unit__proofs", "unit__ownerships__customer",
        )  # fmt: skip

    @extend_schema(request=OrderChange, responses=OrderOut)
    def partial_update(self, request: Request, pk: UUID) -> Response:
        return self.shown(update_order(**self.caller, pk=pk, **self.given_changes(OrderChange)))

    @extend_schema(request=EstimateAskedIn, responses=OrderOut)
    @action(detail=True, methods=["post"], url_path="estimate-asked")
    def estimate_asked(self, request: Request, pk: UUID) -> Response:
        """Records whether the customer wants an estimate in writing, an oral one or none."""
        return self.shown(record_asked(**self.caller, order_id=pk, **self.given(EstimateAskedIn)))

    @extend_schema(request=GiveBackIn, responses=OrderOut)
    @action(detail=True, methods=["post"], url_path="give-back")
    def give_back(self, request: Request, pk: UUID) -> Response:
        return self.shown(give_back(**self.caller, pk=pk, **self.given(GiveBackIn)))
