"""Doors to the inspection: points, checks, findings, photos, and holds."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any
from uuid import UUID

import django_filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Check, Finding, Hold
from orders.services.checks import record_check
from orders.services.findings import create_finding, update_finding
from orders.services.holds import release_hold
from orders.services.proofs import add_photo
from orders.services.selectors import photos_of, points_of, warnings_in
from shopdocs.documents.models import Photo
from shopdocs.rest.roles import BENCH, COUNTER_OR_BENCH, STAFF
from shopdocs.rest.serializers import Day, Line, Strict, Text

from .catalogue import KEPT
from .fields import Flag, FrontView, Measure, Version, changing, optional_line


class CheckIn(Strict):
    """`version` only to change what is recorded already."""

    point = Line(max_length=60)
    result = serializers.ChoiceField(choices=Check.Result.choices)
    note = Text(required=False, allow_blank=True)
    version = Version(required=False)


class CheckOut(serializers.ModelSerializer[Check]):
    by_name = serializers.CharField(source="by.shown_name", read_only=True)

    class Meta:
        model = Check
        fields = [*KEPT, "order", "point", "result", "note", "by_name"]


class FindingIn(Strict):
    """Codes of the trade; `signs` by the codes of the evidence table or in words; `caused_by` of the same order."""

    component = Line(max_length=60)
    condition = Line(max_length=60)
    cause = Line(max_length=40, required=False)
    point = optional_line(max_length=60)
    assembly = serializers.UUIDField(required=False, allow_null=True)
    measured = Measure(required=False, allow_null=True)
    measured_unit = optional_line(max_length=20)
    note = Text(required=False, allow_blank=True)
    signs = serializers.ListField(child=Line(max_length=200), required=False, max_length=40)
    caused_by = serializers.UUIDField(required=False, allow_null=True)
    unsafe = Flag(required=False)
    found_on = Day(required=False)


class FindingChange(changing(FindingIn, "FindingChange")):  # type: ignore[misc]
    """A change to a finding. `reason`: why an unsafe one is harmless after all; needed for that, kept in the history."""

    reason = optional_line()


class WarningOut(serializers.Serializer[Any]):
    """Something that does not fit. Nothing was refused: a technician may know better."""

    field = serializers.CharField()
    problem = serializers.CharField()
    remedy = serializers.CharField()


class HoldOut(serializers.ModelSerializer[Hold]):
    placed_by_name = serializers.CharField(source="placed_by.shown_name", read_only=True)
    released_by_name = serializers.SerializerMethodField()

    class Meta:
        model = Hold
        fields = [
            *KEPT, "unit", "order", "finding", "tag", "reason", "placed_by_name", "released_at", "released_by_name",
            "release_note", "signed_name", "made_safe",
        ]  # fmt: skip

    def get_released_by_name(self, hold: Hold) -> str:
        return hold.released_by.shown_name if hold.released_by is not None else ""


class FindingOut(serializers.ModelSerializer[Finding]):
    """A finding as it stands. `after_finish`: found when the work was finished already; papers made before lack it."""

    after_finish = serializers.BooleanField(read_only=True)
    by_name = serializers.CharField(source="by.shown_name", read_only=True)
    holds = serializers.SerializerMethodField()
    warnings = serializers.SerializerMethodField()

    class Meta:
        model = Finding
        fields = [*KEPT, "order", "number", *FindingIn().fields, "by_name", "after_finish", "holds", "warnings"]

    @extend_schema_field(serializers.ListField(child=serializers.CharField()))
    def get_holds(self, finding: Finding) -> list[str]:
        """Tags of the holds that are still open."""
        return [hold.tag for hold in finding.holds.all() if hold.released_at is None]

    @extend_schema_field(WarningOut(many=True))
    def get_warnings(self, finding: Finding) -> list[dict[str, str]]:
        return [asdict(found) for found in self.context["warnings"].get(finding.pk, [])]


class PointOut(serializers.Serializer[Any]):
    """One thing to look at; `precaution` first. `check` is null while it is open."""

    code = serializers.CharField(source="point.code")
    stage = serializers.CharField(source="point.stage")
    components = serializers.ListField(child=serializers.CharField(), source="point.components")
    look = serializers.CharField(source="point.look")
    precaution = serializers.CharField(source="point.precaution")
    still = serializers.BooleanField(source="point.still")
    units = serializers.ListField(child=serializers.CharField(), source="point.units")
    can_hold = serializers.BooleanField(source="point.can_hold")
    check = serializers.SerializerMethodField(method_name="get_check_made")
    findings = serializers.SerializerMethodField()

    @extend_schema_field(CheckOut(allow_null=True))
    def get_check_made(self, looked: Any) -> Any:
        return CheckOut(looked.check).data if looked.check is not None else None

    @extend_schema_field(serializers.ListField(child=serializers.IntegerField()))
    def get_findings(self, looked: Any) -> list[int]:
        """Numbers of the findings at this point."""
        return [finding.number for finding in looked.findings]


class PhotoIn(Strict):
    """A form with a file: JPEG, PNG, WebP or HEIC, told by content. `finding`: what it shows.

    A finished order takes `moment` 'after' alone, one that was given back no photo at all (409).
    """

    file = serializers.FileField(allow_empty_file=True)
    moment = serializers.ChoiceField(choices=Photo.Moment.choices)
    caption = optional_line()
    finding = serializers.UUIDField(required=False)


class OrderPhoto(serializers.ModelSerializer[Photo]):
    """A photo of an order. `after_finish`: it came when the work was finished already; papers made before lack it."""

    after_finish = serializers.BooleanField(read_only=True)

    class Meta:
        model = Photo
        fields = [
            "id", "subject", "about", "kind", "moment", "caption", "width", "height", "taken_at", "taken_from", "has_gps", "warnings",
            "after_finish", "created_at",
        ]  # fmt: skip


class InspectionActions(FrontView):
    """The part of an order's doors that belongs to the bench."""

    inspection_needs = {
        "points": STAFF,
        "checks": BENCH,
        "findings": STAFF,
        "add_finding": BENCH,
        "photos": STAFF,
        "add_photo": COUNTER_OR_BENCH,
    }

    @extend_schema(responses=PointOut(many=True), filters=False)
    @action(detail=True, methods=["get"], pagination_class=None)
    def points(self, request: Request, pk: UUID) -> Response:
        return Response(PointOut(points_of(self.get_object()), many=True).data)

    @extend_schema(request=CheckIn, responses={201: CheckOut})
    @action(detail=True, methods=["post"])
    def checks(self, request: Request, pk: UUID) -> Response:
        check = record_check(**self.caller, order_id=pk, **self.given(CheckIn))
        return Response(CheckOut(check).data, status=201)

    @extend_schema(responses=FindingOut(many=True), filters=False)
    @action(detail=True, methods=["get"], pagination_class=None)
    def findings(self, request: Request, pk: UUID) -> Response:
        order = self.get_object()
        return Response(FindingOut(order.findings.all(), many=True, context={"warnings": warnings_in(order)}).data)

    @extend_schema(request=FindingIn, responses={201: FindingOut})
    @findings.mapping.post
    def add_finding(self, request: Request, pk: UUID) -> Response:
        """Records what was found. What is unsafe holds the unit, and is taken on finished work too until the unit leaves."""
        finding = create_finding(**self.caller, order_id=pk, facts=self.given(FindingIn))
        return Response(FindingOut(finding, context={"warnings": warnings_in(finding.order)}).data, status=201)

    @extend_schema(responses=OrderPhoto(many=True), filters=False)
    @action(detail=True, methods=["get"], pagination_class=None, parser_classes=[MultiPartParser])
    def photos(self, request: Request, pk: UUID) -> Response:
        return Response(OrderPhoto(photos_of(self.get_object()), many=True).data)

    @extend_schema(request={"multipart/form-data": PhotoIn}, responses={201: OrderPhoto})
    @photos.mapping.post
    def add_photo(self, request: Request, pk: UUID) -> Response:
        """Takes in a photo while the unit is here. When the work is finished it must be one of 'after' and is recorded as
        such; papers made before stay as they are.
        """
        given = self.given(PhotoIn)
        file = given.pop("file")
        photo = add_photo(**self.caller, order_id=pk, data=file.read(), name=file.name, **given)
        return Response(OrderPhoto(photos_of(self.get_object()).get(pk=photo.pk)).data, status=201)


class FindingView(mixins.RetrieveModelMixin, FrontView):
    model = Finding
    queryset = Finding.objects.none()
    serializer_class = FindingOut
    select = ("order__unit__model", "by")
    prefetch = ("holds",)
    needs = {"retrieve": STAFF, "partial_update": BENCH}

    def get_serializer(self, *args: Any, **kwargs: Any) -> Any:
        found = warnings_in(args[0].order) if args else {}
        return FindingOut(*args, **{**kwargs, "context": {"warnings": found}})

    @extend_schema(request=FindingChange, responses=FindingOut)
    def partial_update(self, request: Request, pk: UUID) -> Response:
        """Corrects a finding. A job that the customer agreed to on its words is proposed again, until it reads as before."""
        given = self.given_changes(FindingChange)
        reason = given["changes"].pop("reason", "")
        return self.shown(update_finding(**self.caller, pk=pk, **given, reason=reason))


class ReleaseIn(Strict):
    """The signed note. `made_safe` true: signed by whoever is signed in, once a finished job mends the unsafe finding, or
    it was corrected with a reason; otherwise 409.

    `made_safe` false: it leaves as it is; `signed_name` is the owner, or whom they sent, who signed that it will not be run,
    and `note` the words that they signed. A unit that left so is tagged again when it is checked in the next time.
    """

    note = Text()
    signed_name = Line(max_length=200, required=False, allow_blank=True)
    made_safe = Flag()


class HoldFilter(django_filters.FilterSet):
    """`open`: true for holds that still keep a unit here."""

    open = django_filters.BooleanFilter(field_name="released_at", lookup_expr="isnull")
    unit = django_filters.UUIDFilter(field_name="unit_id")

    class Meta:
        model = Hold
        fields: list[str] = []


class HoldView(mixins.ListModelMixin, mixins.RetrieveModelMixin, FrontView):
    model = Hold
    queryset = Hold.objects.none()
    serializer_class = HoldOut
    filterset_class = HoldFilter
    select = ("placed_by", "released_by")
    needs = {"list": STAFF, "retrieve": STAFF, "release": COUNTER_OR_BENCH}

    @extend_schema(request=ReleaseIn, responses=HoldOut)
    @action(detail=True, methods=["post"])
    def release(self, request: Request, pk: UUID) -> Response:
        return self.shown(release_hold(**self.caller, pk=pk, **self.given(ReleaseIn)))
