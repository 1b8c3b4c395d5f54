"""Doors to the records that rebuilt engines leave."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import mixins, serializers
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Job, RepairOrder
from shopdocs.rest.roles import COUNTER_OR_BENCH, DESK, STAFF
from shopdocs.rest.serializers import Amount, Strict, Text
from warranty.models import RebuildRecord
from warranty.services.rebuilds import FETCHED, Standing, lacking, rebuild_standing, record_rebuild, says, standings

from .base import DeskView, Flag


class RebuildRecordIn(Strict):
    """The version that was read (0: nothing is recorded yet) and the parts of the record to write.

    `hours` may be null where nobody can know them; `hours_estimated`: about so many. `adjustments` and `codes` also take that
    there were none.
    """

    version = serializers.IntegerField(min_value=0, max_value=2_147_483_647)
    hours = Amount(max_digits=8, decimal_places=1, required=False, allow_null=True)
    hours_estimated = Flag(required=False)
    work = Text(required=False, allow_blank=True)
    parts = Text(required=False, allow_blank=True)
    adjustments = Text(required=False, allow_blank=True)
    codes = Text(required=False, allow_blank=True)


class RebuildRecordOut(serializers.ModelSerializer[RebuildRecord]):
    """`lacking`: what the record has to contain and does not yet, in words, by field."""

    order = serializers.UUIDField(source="job.order_id", read_only=True)
    lacking = serializers.SerializerMethodField()
    by_name = serializers.CharField(source="by.shown_name", read_only=True)

    class Meta:
        model = RebuildRecord
        fields = (
            "id", "job", "order", "hours", "hours_estimated", "work", "parts", "adjustments", "codes", "lacking", "by_name",
            "version", "created_at",
        )  # fmt: skip
        read_only_fields = fields

    @extend_schema_field(serializers.DictField(child=serializers.CharField()))
    def get_lacking(self, record: RebuildRecord) -> dict[str, str]:
        return lacking(record)


class RebuildStandingOut(serializers.Serializer[Any]):
    """Whether a job owes the record of a rebuild. `says` and `source` are empty where it owes none; it may be kept all the same."""

    job = serializers.UUIDField(source="job.pk")
    job_number = serializers.IntegerField(source="job.number")
    owed = serializers.BooleanField()
    says = serializers.SerializerMethodField()
    source: Any = serializers.SerializerMethodField()
    must_contain = serializers.SerializerMethodField()
    lacking = serializers.DictField(child=serializers.CharField())
    keep_until = serializers.DateField(allow_null=True)
    record = RebuildRecordOut(allow_null=True)

    def get_says(self, one: Standing) -> str:
        return says(one.duty) if one.duty else ""

    def get_source(self, one: Standing) -> str:
        return one.duty.source if one.duty else ""

    @extend_schema_field(serializers.ListField(child=serializers.CharField()))
    def get_must_contain(self, one: Standing) -> list[str]:
        return list(one.duty.record) if one.duty else []


class JobRebuildRecord(DeskView):
    """The record of one job."""

    model = Job
    needs = {"list": STAFF, "partial_update": COUNTER_OR_BENCH | DESK}
    serializer_class = RebuildStandingOut
    select = ("shop", "order__unit__model")
    prefetch = FETCHED
    pagination_class = None
    filter_backends = []

    @extend_schema(operation_id="job_rebuild_record", responses=RebuildStandingOut)
    def list(self, request: Request, job_id: UUID) -> Response:
        """Whether the job owes it, what it has to contain, and what is there."""
        return self._told(job_id)

    @extend_schema(operation_id="job_rebuild_record_write", request=RebuildRecordIn, responses=RebuildStandingOut)
    def partial_update(self, request: Request, job_id: UUID) -> Response:
        """Writes parts of the record; what is left out stays as it is."""
        changes = self.given(RebuildRecordIn)
        version = changes.pop("version")
        record_rebuild(**self.caller, job=self.mine(Job, job_id), version=version, changes=changes)
        return self._told(job_id)

    def _told(self, job_id: UUID) -> Response:
        self.mine(Job, job_id)
        return Response(RebuildStandingOut(rebuild_standing(self.get_queryset().get(pk=job_id))).data)


class OrderDuties(DeskView):
    """What the work of one order leaves to be kept on record."""

    model = RebuildRecord
    needs = {"list": STAFF}
    serializer_class = RebuildStandingOut
    pagination_class = None
    filter_backends = []

    @extend_schema(operation_id="order_duties", responses=RebuildStandingOut(many=True))
    def list(self, request: Request, order_id: UUID) -> Response:
        """The jobs that owe the record of a rebuild, or have one."""
        return Response(RebuildStandingOut(standings(self.mine(RepairOrder, order_id)), many=True).data)


class RebuildRecords(mixins.ListModelMixin, mixins.RetrieveModelMixin, DeskView):
    """All records of rebuilds, newest first: to be shown or sent when the agency asks."""

    model = RebuildRecord
    needs = {"list": STAFF, "retrieve": STAFF}
    serializer_class = RebuildRecordOut
    select = ("job", "by")
    order = ("-created_at", "id")
    filterset_fields = ("job",)
