"""Doors to coverage decisions: decide an order, read an answer as it was frozen, and set who pays on its ground."""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import UUID

from django.http import HttpResponse, HttpResponseNotModified
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema, extend_schema_field
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Job, RepairOrder
from shopdocs.rest.roles import COUNTER_OR_DESK, STAFF
from shopdocs.rest.serializers import Day, Strict, Text
from warranty.models import CoverageDecision
from warranty.services.basis import set_job_payer_from_decision
from warranty.services.decide import ask_order, decide_order, stands
from warranty.services.decision_words import explanation, frozen_record
from warranty.services.recording import settled_by

from .base import DeskView
from .evidence import DoubtOut

MOST_TOLD = 200
"""As many as a page of a list holds: an order with thousands of findings is read in pages."""


class DecideIn(Strict):
    """`as_of`: the day asked for, today unless said. What is kept has a day on which the machine was here, or a later one."""

    as_of = Day(required=False)


class RecordOut(serializers.Serializer[Any]):
    """A door at which a fact is recorded: `method`, address, and the field in its body (dots lead into objects)."""

    method = serializers.CharField()
    door = serializers.CharField()
    field: Any = serializers.CharField()
    note = serializers.CharField()


class SettledByOut(serializers.Serializer[Any]):
    """A fact that would help to settle it, cheapest first (1 to 7): `how` it is got, and where it is recorded."""

    fact = serializers.CharField()
    of = serializers.CharField()
    cost = serializers.IntegerField()
    how = serializers.CharField()
    record = RecordOut(many=True)


class DecisionOut(serializers.ModelSerializer[CoverageDecision]):
    """A decision with its words. `decision` is the frozen record; its exact bytes are at decisions/{id}/. It is advice.

    `doubts`: what did not fit in the finding when it was decided.
    """

    finding_number = serializers.IntegerField(source="finding.number", read_only=True)
    payer = serializers.SerializerMethodField()
    explanation = serializers.SerializerMethodField()
    known_defects = serializers.SerializerMethodField()
    settled_by = serializers.SerializerMethodField()
    doubts = serializers.SerializerMethodField()
    decision = serializers.SerializerMethodField()

    class Meta:
        model = CoverageDecision
        fields: tuple[str, ...] = (
            "id", "order", "finding", "finding_number", "as_of", "answer", "payer", "explanation", "known_defects",
            "settled_by", "doubts", "decision", "sha256", "created_at",
        )  # fmt: skip
        read_only_fields = fields

    def get_payer(self, row: CoverageDecision) -> str:
        return str(frozen_record(row)["payer"])

    def get_explanation(self, row: CoverageDecision) -> list[str]:
        return explanation(row)

    def get_known_defects(self, row: CoverageDecision) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = frozen_record(row)["known_defects"]
        return found

    @extend_schema_field(SettledByOut(many=True))
    def get_settled_by(self, row: CoverageDecision) -> list[dict[str, Any]]:
        return settled_by(frozen_record(row)["settling"], row.order)

    @extend_schema_field(DoubtOut(many=True))
    def get_doubts(self, row: CoverageDecision) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = row.facts.facts.get("doubts", {}).get(str(row.finding_id), [])
        return found

    def get_decision(self, row: CoverageDecision) -> dict[str, Any]:
        return frozen_record(row)


class AskedOut(DecisionOut):
    """An answer of which nothing is kept: it has no id, and no claim or job can rest on it. It is advice."""

    class Meta(DecisionOut.Meta):
        fields = tuple(name for name in DecisionOut.Meta.fields if name not in ("id", "sha256", "created_at"))
        read_only_fields = fields


class RecomputedOut(serializers.Serializer[Any]):
    """Whether the stored bytes have the stored hash and come out the same again from the stored facts and terms."""

    same = serializers.BooleanField()
    sha256 = serializers.CharField()


class BasisIn(Strict):
    """The decision that says who pays. `note`: a word of the office, needed while the answer is 'cannot say yet'."""

    decision = serializers.UUIDField()
    note = Text(max_length=400, required=False, allow_blank=True, default="")


class BasisOut(serializers.ModelSerializer[Job]):
    class Meta:
        model = Job
        fields = ("id", "number", "state", "payer", "basis_kind", "basis_id", "basis_words", "basis_hash", "version")
        read_only_fields = fields


class OrderDecisions(DeskView):
    """The decisions of one order, newest first."""

    model = CoverageDecision
    needs = {"list": STAFF, "create": STAFF}
    select = ("shop", "finding", "order__unit")
    prefetch = ("order__unit__assemblies", "facts")
    serializer_class = DecisionOut
    order = ("-created_at", "finding__number", "id")

    @extend_schema(operation_id="order_decisions_list", responses=DecisionOut(many=True))
    def list(self, request: Request, order_id: UUID) -> Response:
        """All decisions of the order, newest first; those not asked again stay as they were."""
        order = self.mine(RepairOrder, order_id)
        return self.paged(self.get_queryset().filter(order=order), DecisionOut)

    @extend_schema(operation_id="order_decide", request=DecideIn, responses={201: DecisionOut(many=True)})
    def create(self, request: Request, order_id: UUID) -> Response:
        """Decides every finding of the order as of a day and freezes each answer. Answers the first 200; the list has all."""
        order = self.mine(RepairOrder, order_id)
        rows = decide_order(**self.caller, order=order, **self.given(DecideIn))
        return Response(DecisionOut(rows[:MOST_TOLD], many=True).data, status=201)


class OrderAsked(DeskView):
    """What would be said of an order as of any day."""

    model = CoverageDecision
    needs = {"list": STAFF}
    serializer_class = AskedOut
    query_parameters = ("as_of",)
    pagination_class = None
    filter_backends = []

    @extend_schema(
        operation_id="order_decisions_asked", responses=AskedOut(many=True),
        parameters=[OpenApiParameter("as_of", dt.date, description="Any day from 1900 to 2200; today unless said.")],
    )  # fmt: skip
    def list(self, request: Request, order_id: UUID) -> Response:
        """Answers as of any day, by what is on record now; nothing is kept. The first 200 findings."""
        order = self.mine(RepairOrder, order_id)
        asked = DecideIn(data={key: value for key, value in request.query_params.items() if key == "as_of"})
        asked.is_valid(raise_exception=True)
        rows = ask_order(shop=self.caller["shop"], order=order, **asked.validated_data)
        return Response(AskedOut(rows[:MOST_TOLD], many=True).data)


class Decisions(mixins.ListModelMixin, DeskView):
    """Decisions as they were frozen."""

    model = CoverageDecision
    needs = {"list": STAFF, "retrieve": STAFF, "words": STAFF, "recomputed": STAFF}
    select = ("shop", "finding", "order__unit")
    prefetch = ("order__unit__assemblies", "facts")
    serializer_class = DecisionOut
    filterset_fields = ("order", "finding", "answer", "as_of")

    @extend_schema(operation_id="decisions_retrieve", responses={(200, "application/json"): OpenApiTypes.OBJECT})
    def retrieve(self, request: Request, pk: UUID) -> HttpResponse:
        """The stored record, byte for byte; ETag is its SHA-256."""
        row = self.get_object()
        tag = f'"{row.sha256}"'
        if tag in (part.strip() for part in request.headers.get("If-None-Match", "").split(",")):
            return HttpResponseNotModified(headers={"ETag": tag})
        return HttpResponse(row.decision.encode(), content_type="application/json", headers={"ETag": tag})

    @extend_schema(operation_id="decisions_words", responses=DecisionOut)
    @action(detail=True)
    def words(self, request: Request, pk: UUID) -> Response:
        """The decision with its explanation in sentences."""
        return Response(DecisionOut(self.get_object()).data)

    @extend_schema(operation_id="decisions_recomputed", responses=RecomputedOut)
    @action(detail=True)
    def recomputed(self, request: Request, pk: UUID) -> Response:
        """Works the decision out anew from its stored facts and terms, and says whether it is the same."""
        row = self.get_object()
        return Response(RecomputedOut({"same": stands(row), "sha256": row.sha256}).data)


class JobBasis(DeskView):
    """Who pays for a job, on the ground of a decision."""

    model = Job
    needs = {"create": COUNTER_OR_DESK}
    serializer_class = BasisOut

    @extend_schema(operation_id="job_basis_set", request=BasisIn, responses=BasisOut)
    def create(self, request: Request, job_id: UUID) -> Response:
        """Sets the job's payer from the newest decision of one of its findings."""
        given = self.given(BasisIn)
        job = self.mine(Job, job_id)
        decision = self.mine(CoverageDecision, given["decision"], "decision")
        saved = set_job_payer_from_decision(**self.caller, job=job, decision=decision, note=given["note"])
        return Response(BasisOut(saved).data)
