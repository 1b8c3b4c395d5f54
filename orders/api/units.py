"""Doors to units: what is known of one machine, its owners, hours, proofs and assemblies."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import django_filters
from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Assembly, HourReading, Ownership, PurchaseProof, Unit
from orders.models.catalogue import USE_CLASSES
from orders.models.units import plain_serial
from orders.services.hours import correct_hours, record_hours
from orders.services.proofs import add_proof
from orders.services.units import add_assembly, transfer_unit, update_assembly, update_unit
from shopdocs.documents.api.printing import typed
from shopdocs.rest.roles import COUNTER, COUNTER_OR_BENCH, COUNTER_OR_DESK, STAFF
from shopdocs.rest.serializers import Amount, Day, Line, Strict

from .catalogue import KEPT, ModelOut
from .fields import Flag, FrontView, Hours, Version, changing, optional_line


def optional_day() -> Day:
    return Day(required=False, allow_null=True)


def optional_flag() -> Flag:
    return Flag(required=False, allow_null=True)


class UnitIn(Strict):
    """What is known of a unit. Null and empty mean: not known.

    `use_region`: ISO 3166-2 ('US-OH', 'CA-ON'); a bare 'OH' is of the shop's country, a full name is kept as its code.
    """

    serial = optional_line(max_length=60)
    no_serial_reason = optional_line()
    build_date = optional_day()
    has_hour_meter = optional_flag()
    use_class = serializers.ChoiceField(choices=USE_CLASSES, required=False, allow_blank=True)
    power_source = Line(max_length=20, required=False)
    hand_held = optional_flag()
    sale_kind = serializers.ChoiceField(choices=Unit.SaleKind.choices, required=False)
    purchased_on = optional_day()
    delivered_on = optional_day()
    registered_on = optional_day()
    first_service_on = optional_day()
    use_region = optional_line(max_length=60)
    first_owner = optional_flag()
    modified = optional_flag()
    maintenance_record = optional_flag()


class UnitModelIn(UnitIn):
    """`reason`: why serial, model, build or purchase date are corrected; asked for once work on the unit was finished."""

    model = serializers.UUIDField()
    reason = Line(required=False)


UnitChange = changing(UnitModelIn, "UnitChange")


class AssemblyIn(Strict):
    """An assembly. `emission_rule`: what its label shows; empty: not known. `fitted_on`: the day on which it replaced
    an earlier one; null: it came with the unit. A role that the list lacks is 'other', named in `role_words`."""

    role = serializers.ChoiceField(choices=Assembly.Role.choices)
    role_words = optional_line(max_length=40)
    maker = serializers.UUIDField(required=False, allow_null=True)
    model_name = optional_line(max_length=200)
    serial = optional_line(max_length=60)
    build_date = optional_day()
    fitted_on = optional_day()
    displacement_cc = Amount(max_digits=7, decimal_places=1, required=False, allow_null=True)
    label_read = Flag(required=False)
    emission_rule = serializers.ChoiceField(choices=["part_1054", "none", "other"], required=False, allow_blank=True)
    emission_family = optional_line(max_length=40)
    label_hours = serializers.IntegerField(required=False, allow_null=True, min_value=0, max_value=100_000)
    evaporative_rule = optional_flag()
    distributor = serializers.UUIDField(required=False, allow_null=True)
    terms_note = optional_line()


class AssemblyReasonIn(AssemblyIn):
    """`reason`: why what papers rest on is corrected; asked for once work on the unit was finished."""

    reason = Line(required=False)


AssemblyChange = changing(AssemblyReasonIn, "AssemblyChange", without=("role", "role_words"))
ASSEMBLY_FIELDS = list(AssemblyIn().fields)


class AssemblyOut(serializers.ModelSerializer[Assembly]):
    class Meta:
        model = Assembly
        fields = [*KEPT, "unit", *ASSEMBLY_FIELDS]


class TransferIn(Strict):
    """`use_class` and `first_owner` are facts about the new owner: what is left out is not known."""

    version = Version()
    owner = serializers.UUIDField()
    since = Day()
    use_class = serializers.ChoiceField(choices=USE_CLASSES, required=False, allow_blank=True)
    first_owner = optional_flag()
    note = optional_line()


class HoursIn(Strict):
    """A reading of the hour meter. With `meter_changed`: the old meter's last figure in `hours_before_change`, or
    in `no_hours_before_reason` why it could not be read."""

    hours = Hours()
    read_on = Day(required=False)
    meter_changed = Flag(required=False)
    hours_before_change = Hours(required=False, allow_null=True)
    no_hours_before_reason = optional_line()
    note = optional_line()


class HoursCorrection(Strict):
    """The figure that was misread, or what the old meter showed last, with a reason."""

    version = Version()
    hours = Hours(required=False)
    hours_before_change = Hours(required=False)
    reason = Line()


class HoursOut(serializers.ModelSerializer[HourReading]):
    class Meta:
        model = HourReading
        fields = [
            *KEPT,
            "unit",
            "read_on",
            "hours",
            "meter_changed",
            "hours_before_change",
            "no_hours_before_reason",
            "note",
        ]


class ProofIn(Strict):
    """A proof of purchase as a form with a file: JPEG, PNG, WebP, HEIC or PDF, told by content."""

    file = serializers.FileField(required=False, allow_empty_file=True)
    kind = serializers.ChoiceField(choices=PurchaseProof.Kind.choices)
    shows_date = Day(required=False)
    caption = optional_line()


class ProofOut(serializers.ModelSerializer[PurchaseProof]):
    agrees = serializers.SerializerMethodField()

    class Meta:
        model = PurchaseProof
        fields = [*KEPT, "unit", "photo", "kind", "shows_date", "agrees"]

    def get_agrees(self, proof: PurchaseProof) -> bool | None:
        """Whether the proof shows the unit's purchase date; null when one of the two is not known."""
        bought = proof.unit.purchased_on
        return None if proof.shows_date is None or bought is None else proof.shows_date == bought


class OwnershipOut(serializers.ModelSerializer[Ownership]):
    customer_name = serializers.CharField(source="customer.name", read_only=True)

    class Meta:
        model = Ownership
        fields = ["customer", "customer_name", "since", "note"]


class UnitOut(serializers.ModelSerializer[Unit]):
    model = ModelOut(read_only=True)
    owner_name = serializers.CharField(source="owner.name", read_only=True)
    assemblies = AssemblyOut(many=True, read_only=True)
    hour_readings = HoursOut(many=True, read_only=True)
    proofs = ProofOut(many=True, read_only=True)
    ownerships = OwnershipOut(many=True, read_only=True)
    cannot_print = typed("serial", "no_serial_reason")

    class Meta:
        model = Unit
        fields = [
            *KEPT, "model", "owner", "owner_name", *UnitIn().fields, "assemblies", "hour_readings", "proofs", "ownerships",
            "cannot_print",
        ]  # fmt: skip


class UnitFilter(django_filters.FilterSet):
    """`serial` is compared as a plate is: without case, spaces and hyphens."""

    serial = django_filters.CharFilter(method="by_serial")

    class Meta:
        model = Unit
        fields: list[str] = []

    owner = django_filters.UUIDFilter(field_name="owner_id")
    model = django_filters.UUIDFilter(field_name="model_id")

    def by_serial(self, rows: QuerySet[Unit], name: str, value: str) -> QuerySet[Unit]:
        return rows.filter(serial_key=plain_serial(value))


class UnitView(mixins.ListModelMixin, mixins.RetrieveModelMixin, FrontView):
    model = Unit
    queryset = Unit.objects.none()
    serializer_class = UnitOut
    filterset_class = UnitFilter
    select = ("model__maker", "owner")
    prefetch = ("assemblies", "hour_readings", "proofs", "ownerships__customer")
    needs = {
        "list": STAFF,
        "retrieve": STAFF,
        "partial_update": COUNTER_OR_BENCH,
        "transfer": COUNTER,
        "hours": COUNTER_OR_BENCH,
        "proofs": COUNTER_OR_DESK,
        "assemblies": COUNTER_OR_BENCH,
    }

    @extend_schema(request=UnitChange, responses=UnitOut)
    def partial_update(self, request: Request, pk: UUID) -> Response:
        return self.shown(update_unit(**self.caller, pk=pk, **self.given_changes(UnitChange)))

    @extend_schema(request=TransferIn, responses=UnitOut)
    @action(detail=True, methods=["post"])
    def transfer(self, request: Request, pk: UUID) -> Response:
        return self.shown(transfer_unit(**self.caller, pk=pk, **self.given(TransferIn)))

    @extend_schema(request=HoursIn, responses={201: HoursOut})
    @action(detail=True, methods=["post"])
    def hours(self, request: Request, pk: UUID) -> Response:
        reading = record_hours(**self.caller, unit_id=pk, **self.given(HoursIn))
        return Response(HoursOut(reading).data, status=201)

    @extend_schema(request={"multipart/form-data": ProofIn}, responses={201: ProofOut})
    @action(detail=True, methods=["post"], parser_classes=[MultiPartParser])
    def proofs(self, request: Request, pk: UUID) -> Response:
        proof = add_proof(**self.caller, unit_id=pk, **with_file(self.given(ProofIn)))
        return Response(ProofOut(proof).data, status=201)

    @extend_schema(request=AssemblyIn, responses={201: AssemblyOut})
    @action(detail=True, methods=["post"])
    def assemblies(self, request: Request, pk: UUID) -> Response:
        assembly = add_assembly(**self.caller, unit_id=pk, facts=self.given(AssemblyIn))
        return Response(AssemblyOut(assembly).data, status=201)


class AssemblyView(mixins.RetrieveModelMixin, FrontView):
    model = Assembly
    queryset = Assembly.objects.none()
    serializer_class = AssemblyOut
    needs = {"retrieve": STAFF, "partial_update": COUNTER_OR_BENCH}

    @extend_schema(request=AssemblyChange, responses=AssemblyOut)
    def partial_update(self, request: Request, pk: UUID) -> Response:
        return self.shown(update_assembly(**self.caller, pk=pk, **self.given_changes(AssemblyChange)))


class HourReadingView(mixins.RetrieveModelMixin, FrontView):
    model = HourReading
    queryset = HourReading.objects.none()
    serializer_class = HoursOut
    needs = {"retrieve": STAFF, "partial_update": COUNTER_OR_BENCH}

    @extend_schema(request=HoursCorrection, responses=HoursOut)
    def partial_update(self, request: Request, pk: UUID) -> Response:
        return self.shown(correct_hours(**self.caller, pk=pk, **self.given(HoursCorrection)))


def with_file(given: dict[str, Any]) -> dict[str, Any]:
    """The form's fields with the uploaded file as `data` and `name`; without one, without both."""
    file = given.pop("file", None)
    return given if file is None else {**given, "data": file.read(), "name": file.name}
