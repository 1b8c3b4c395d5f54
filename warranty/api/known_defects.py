"""Doors to known defects: one by one, and as CSV or YAML files."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import RepairOrder
from shopdocs.rest.refusals import Refused
from shopdocs.rest.roles import DESK, STAFF
from shopdocs.rest.serializers import Line, Record, Strict, Text
from warranty.models import KnownDefectRecord
from warranty.services import known_defects

from .base import DeskView, RetireIn

FORMS = ("csv", "yaml")
TYPES = {"csv": "text/csv; charset=utf-8", "yaml": "application/yaml; charset=utf-8"}


class KnownDefectIn(Strict):
    """`pattern`: a record with the keys of an exported file."""

    pattern = Record()


class KnownDefectOut(serializers.ModelSerializer[KnownDefectRecord]):
    class Meta:
        model = KnownDefectRecord
        fields = ("id", "code", "maker", "pattern", "retired_on", "version", "created_at")
        read_only_fields = fields


class ImportIn(Strict):
    """A whole file as text; `name` is what refusals call it."""

    form = serializers.ChoiceField(choices=FORMS)
    text = Text(max_length=None, trim_whitespace=False)
    name = Line(max_length=120, required=False, default="file")


class ImportOut(serializers.Serializer[Any]):
    new = serializers.IntegerField()
    known_already = serializers.IntegerField()


class ComparedOut(serializers.Serializer[Any]):
    """A pattern beside an order. `match` is the record that a decision freezes: `fits` or `may_fit` with its `checks`, the
    `findings` and signs that show it, `confirm` and `rule_out`, and `eligible` with its `why`.

    `by_term`: by finding, what the term that the pattern names came to in the newest decision.
    """

    match: Any = serializers.DictField(source="record")
    words = serializers.CharField()
    by_term = serializers.DictField(child=serializers.CharField())


class OrderKnownDefects(DeskView):
    """Known defects beside one order."""

    model = KnownDefectRecord
    needs = {"list": STAFF}
    serializer_class = ComparedOut
    filter_backends = []

    @extend_schema(operation_id="order_known_defects", responses=ComparedOut(many=True))
    def list(self, request: Request, order_id: UUID) -> Response:
        """Which patterns fit the unit and its findings, why, which facts would confirm or rule out, and eligibility."""
        return self.paged(known_defects.compared_with(order=self.mine(RepairOrder, order_id)), ComparedOut)


class KnownDefects(mixins.ListModelMixin, mixins.RetrieveModelMixin, DeskView):
    """Failure patterns of a model or build range."""

    model = KnownDefectRecord
    needs = {"list": STAFF, "retrieve": STAFF, "create": DESK, "retire": DESK, "take_in": DESK, "export": STAFF}
    serializer_class = KnownDefectOut
    filterset_fields = ("maker", "code")
    order = ("code",)

    @extend_schema(operation_id="known_defects_create", request=KnownDefectIn, responses={201: KnownDefectOut})
    def create(self, request: Request) -> Response:
        """Records one pattern."""
        return self.shown(known_defects.record_known_defect(**self.caller, **self.given(KnownDefectIn)), new=True)

    @extend_schema(operation_id="known_defects_retire", request=RetireIn, responses=KnownDefectOut)
    @action(detail=True, methods=["post"])
    def retire(self, request: Request, pk: UUID) -> Response:
        """Ends its use; decisions already made keep it."""
        return self.shown(
            known_defects.retire_known_defect(**self.caller, row=self.get_object(), **self.given(RetireIn))
        )

    @extend_schema(operation_id="known_defects_import", request=ImportIn, responses=ImportOut)
    @action(detail=False, methods=["post"], url_path="import")
    def take_in(self, request: Request) -> Response:
        """Takes in a file whole, or refuses it with every bad row's line and reason."""
        new, known = known_defects.import_known_defects(**self.caller, **self.given(ImportIn))
        return Response(ImportOut({"new": new, "known_already": known}).data)

    @extend_schema(
        operation_id="known_defects_export", filters=False,
        parameters=[OpenApiParameter("form", enum=FORMS, default="yaml")],
        responses={(200, "application/yaml"): OpenApiTypes.STR, (200, "text/csv"): OpenApiTypes.STR},
    )  # fmt: skip
    @action(detail=False, pagination_class=None)
    def export(self, request: Request) -> HttpResponse:
        """All patterns in use as a file that the import takes."""
        form = request.query_params.get("form", "yaml")
        if form not in FORMS:
            raise Refused("form", f"There is no form '{form[:20]}'.", "Ask for 'csv' or 'yaml'.")
        text = known_defects.export_known_defects(shop=self.caller["shop"], form=form)
        name = f'attachment; filename="known-defects.{form}"'
        return HttpResponse(text.encode(), content_type=TYPES[form], headers={"Content-Disposition": name})
