"""Doors to what the shop knows beforehand: makers, distributors, models, operations, parts."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Distributor, LabourOperation, MachineModel, Maker, Part
from orders.models.catalogue import LABOUR_ROUNDINGS, WorkStep
from orders.rules.work import ACTIONS
from orders.services import catalogue
from orders.services.starting_catalogue import import_catalogue
from shopdocs.rest.roles import COUNTER_OR_DESK, STAFF
from shopdocs.rest.serializers import Amount, Line, Strict
from shopdocs.shops.models import Shop

from .fields import Flag, FrontView, Language, Mail, changing, optional_line

KEPT = ["id", "version", "created_at", "updated_at"]
NEEDS = {"list": STAFF, "retrieve": STAFF, "create": COUNTER_OR_DESK, "partial_update": COUNTER_OR_DESK}


class DistributorIn(Strict):
    """`labour_rounding`: how it rounds labour minutes to tenths of an hour."""

    name = Line(max_length=200)
    email = Mail()
    phone = optional_line(max_length=60)
    street = optional_line()
    city = optional_line(max_length=200)
    region = optional_line(max_length=60)
    postcode = optional_line(max_length=20)
    account = optional_line(max_length=60)
    language = Language(required=False, allow_blank=True)
    measures = serializers.ChoiceField(choices=Shop.Measures.choices, required=False, allow_blank=True)
    labour_rounding = serializers.ChoiceField(choices=LABOUR_ROUNDINGS, required=False)


class DistributorOut(serializers.ModelSerializer[Distributor]):
    class Meta:
        model = Distributor
        fields = [
            *KEPT, "name", "email", "phone", "street", "city", "region", "postcode", "account", "language", "measures",
            "labour_rounding",
        ]  # fmt: skip


class MakerIn(Strict):
    name = Line(max_length=200)
    authorised = Flag(required=False, allow_null=True)
    approval_before_work = Flag(required=False, allow_null=True)
    distributor = serializers.UUIDField(required=False, allow_null=True)


class MakerOut(serializers.ModelSerializer[Maker]):
    class Meta:
        model = Maker
        fields = [*KEPT, "name", "authorised", "approval_before_work", "distributor"]


class NewModelIn(Strict):
    name = Line(max_length=200)
    family = Line(max_length=40)
    power_source = Line(max_length=20)
    hand_held = Flag(required=False, allow_null=True)
    displacement_cc = Amount(max_digits=7, decimal_places=1, required=False, allow_null=True)


class ModelIn(NewModelIn):
    maker = serializers.UUIDField()


class ModelOut(serializers.ModelSerializer[MachineModel]):
    maker_name = serializers.CharField(source="maker.name", read_only=True)

    class Meta:
        model = MachineModel
        fields = [*KEPT, "maker", "maker_name", "name", "family", "power_source", "hand_held", "displacement_cc"]


class LessWithIn(Strict):
    """'Takes `hours` less when done with `operation`' (a code)."""

    operation = Line(max_length=40)
    hours = Amount(max_digits=4, decimal_places=1)


class LessWithOut(serializers.Serializer[Any]):
    operation = serializers.CharField()
    hours = serializers.CharField()


class OperationIn(Strict):
    """An operation with `steps` (keys of work steps), or a bare time with what it `includes` and is shorter beside."""

    """A standard piece of work. `action` says what is done to `components`: rules about some work need to know it."""

    code = Line(max_length=40)
    words = Line()
    family = optional_line(max_length=40)
    model = serializers.UUIDField(required=False, allow_null=True)
    hours = Amount(max_digits=5, decimal_places=1)
    source = Line(max_length=200, required=False)  # type: ignore[assignment]
    steps = serializers.ListField(child=Line(max_length=60), required=False, max_length=100)
    includes = serializers.ListField(child=Line(max_length=40), required=False, max_length=100)
    less_with = LessWithIn(many=True, required=False, max_length=100)  # type: ignore[call-arg]
    diagnosis = Flag(required=False)
    action = serializers.ChoiceField(choices=list(ACTIONS.items()), required=False, allow_blank=True)
    components = serializers.ListField(child=Line(max_length=60), required=False, max_length=50)


class OperationOut(serializers.ModelSerializer[LabourOperation]):
    less_with = LessWithOut(many=True)

    class Meta:
        model = LabourOperation
        fields = [
            *KEPT,
            "code",
            "words",
            "family",
            "model",
            "hours",
            "source",
            "steps",
            "includes",
            "less_with",
            "diagnosis",
            "action",
            "components",
        ]


class WorkStepIn(Strict):
    """A part of operations in minutes; `needs` come before it, `undoes` are ended by it (both by key)."""

    key = Line(max_length=60)
    words = Line(max_length=200)
    minutes = Amount(max_digits=6, decimal_places=2, max_value=6000)
    needs = serializers.ListField(child=Line(max_length=60), required=False, max_length=100)
    undoes = serializers.ListField(child=Line(max_length=60), required=False, max_length=100)
    repeats = Flag(required=False)


class WorkStepOut(serializers.ModelSerializer[WorkStep]):
    class Meta:
        model = WorkStep
        fields = [*KEPT, "key", "words", "minutes", "needs", "undoes", "repeats"]


class ImportedOut(serializers.Serializer[Any]):
    """How many of each were added."""

    steps = serializers.IntegerField()
    operations = serializers.IntegerField()


class KitItemIn(Strict):
    part = serializers.UUIDField()
    quantity = Amount(max_digits=9)


class KitItemOut(serializers.Serializer[Any]):
    part = serializers.CharField()
    quantity = serializers.CharField()


class PartIn(Strict):
    """A part; a kit where `kit` says what it holds, sold as one, or at its parts' prices (`kit_by_parts`)."""

    number = Line(max_length=60)
    words = Line()
    maker = serializers.UUIDField(required=False, allow_null=True)
    component = optional_line(max_length=60)
    list_price = Amount(max_digits=12)
    cost = Amount(max_digits=12, required=False, allow_null=True)
    core_charge = Amount(max_digits=12, required=False)
    environment_charge = Amount(max_digits=12, required=False)
    kit = KitItemIn(many=True, required=False, max_length=100)  # type: ignore[call-arg]
    kit_by_parts = Flag(required=False)
    replaced_by = serializers.UUIDField(required=False, allow_null=True)


class PartOut(serializers.ModelSerializer[Part]):
    kit = KitItemOut(many=True)

    class Meta:
        model = Part
        fields = [
            *KEPT, "number", "words", "maker", "component", "list_price", "cost", "core_charge", "environment_charge", "kit",
            "kit_by_parts", "replaced_by",
        ]  # fmt: skip


DistributorChange = changing(DistributorIn, "DistributorChange")
MakerChange = changing(MakerIn, "MakerChange")
ModelChange = changing(ModelIn, "ModelChange", without=("maker",))
WorkStepChange = changing(WorkStepIn, "WorkStepChange", without=("key",))
OperationChange = changing(OperationIn, "OperationChange")
PartChange = changing(PartIn, "PartChange")


class CatalogueView(mixins.ListModelMixin, mixins.RetrieveModelMixin, FrontView):
    """List, retrieve, create and change, each through the two services that the subclass names."""

    needs = NEEDS
    given_by: type[Strict]
    changed_by: Any
    make: Any
    change: Any

    def create(self, request: Request) -> Response:
        return self.shown(type(self).make(**self.caller, facts=self.given(self.given_by)), new=True)

    def partial_update(self, request: Request, pk: UUID) -> Response:
        return self.shown(type(self).change(**self.caller, pk=pk, **self.given_changes(self.changed_by)))


@extend_schema_view(
    create=extend_schema(request=DistributorIn, responses={201: DistributorOut}),
    partial_update=extend_schema(request=DistributorChange, responses=DistributorOut),
)
class DistributorView(CatalogueView):
    model = Distributor
    queryset = Distributor.objects.none()
    serializer_class = DistributorOut
    order = ("name", "id")
    given_by, changed_by = DistributorIn, DistributorChange
    make, change = staticmethod(catalogue.create_distributor), staticmethod(catalogue.update_distributor)


@extend_schema_view(
    create=extend_schema(request=MakerIn, responses={201: MakerOut}),
    partial_update=extend_schema(request=MakerChange, responses=MakerOut),
)
class MakerView(CatalogueView):
    model = Maker
    queryset = Maker.objects.none()
    serializer_class = MakerOut
    order = ("name", "id")
    given_by, changed_by = MakerIn, MakerChange
    make, change = staticmethod(catalogue.create_maker), staticmethod(catalogue.update_maker)


@extend_schema_view(
    create=extend_schema(request=ModelIn, responses={201: ModelOut}),
    partial_update=extend_schema(request=ModelChange, responses=ModelOut),
)
class ModelView(CatalogueView):
    model = MachineModel
    queryset = MachineModel.objects.none()
    serializer_class = ModelOut
    select = ("maker",)
    order = ("maker__name", "name", "id")
    filterset_fields = ("maker", "family", "power_source")
    given_by, changed_by = ModelIn, ModelChange
    make, change = staticmethod(catalogue.create_model), staticmethod(catalogue.update_model)


@extend_schema_view(
    create=extend_schema(request=OperationIn, responses={201: OperationOut}),
    partial_update=extend_schema(request=OperationChange, responses=OperationOut),
)
class OperationView(CatalogueView):
    model = LabourOperation
    queryset = LabourOperation.objects.none()
    serializer_class = OperationOut
    order = ("code", "id")
    filterset_fields = ("code", "family")
    given_by, changed_by = OperationIn, OperationChange
    make, change = staticmethod(catalogue.create_operation), staticmethod(catalogue.update_operation)
    needs = {**NEEDS, "starting_catalogue": COUNTER_OR_DESK}

    @extend_schema(request=None, responses={201: ImportedOut})
    @action(detail=False, methods=["post"], url_path="starting-catalogue")
    def starting_catalogue(self, request: Request) -> Response:
        """Adds the operations and work steps of the starting catalogue that the shop does not have yet."""
        return Response(ImportedOut(import_catalogue(**self.caller)).data, status=201)


@extend_schema_view(
    create=extend_schema(request=WorkStepIn, responses={201: WorkStepOut}),
    partial_update=extend_schema(request=WorkStepChange, responses=WorkStepOut),
)
class WorkStepView(CatalogueView):
    model = WorkStep
    queryset = WorkStep.objects.none()
    serializer_class = WorkStepOut
    order = ("key", "id")
    filterset_fields = ("key",)
    given_by, changed_by = WorkStepIn, WorkStepChange
    make, change = staticmethod(catalogue.create_step), staticmethod(catalogue.update_step)


@extend_schema_view(
    create=extend_schema(request=PartIn, responses={201: PartOut}),
    partial_update=extend_schema(request=PartChange, responses=PartOut),
)
class PartView(CatalogueView):
    model = Part
    queryset = Part.objects.none()
    serializer_class = PartOut
    order = ("number", "id")
    filterset_fields = ("number", "component")
    given_by, changed_by = PartIn, PartChange
    make, change = staticmethod(catalogue.create_part), staticmethod(catalogue.update_part)
