"""Doors to single lines of a job: labour, parts, and time on the clock."""

from __future__ import annotations

from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import JobLabour, JobPart, TimeEntry
from orders.services import bench, lines, returns, time
from shopdocs.rest.roles import BENCH, COUNTER, COUNTER_OR_BENCH, STAFF
from shopdocs.rest.serializers import Amount, Day, Strict

from .fields import Change, Flag, FrontView, changing
from .job_forms import FeeOut, JobLabourOut, JobPartOut, ReturnIn, TimeOut


class JobLabourHoursIn(Change):
    hours = Amount(max_digits=5, decimal_places=1)


class JobPartFiguresIn(Strict):
    quantity = Amount(max_digits=9)
    unit_price = Amount()
    causal = Flag()
    state = serializers.ChoiceField(choices=["", "ordered", "back_ordered", "arrived"])
    expected_on = Day(allow_null=True)
    condition = serializers.ChoiceField(choices=JobPart.Condition.choices)
    original = Flag(allow_null=True)


JobPartChange = changing(JobPartFiguresIn, "JobPartChange")


class JobLabourView(FrontView):
    model = JobLabour
    queryset = JobLabour.objects.none()
    serializer_class = JobLabourOut
    needs = {"partial_update": COUNTER_OR_BENCH, "destroy": COUNTER_OR_BENCH}

    @extend_schema(request=JobLabourHoursIn, responses=JobLabourOut)
    def partial_update(self, request: Request, pk: UUID) -> Response:
        """Corrects the hours of a line."""
        return self.shown(lines.change_labour(**self.caller, labour_id=pk, **self.given(JobLabourHoursIn)))

    @extend_schema(request=None, responses={204: None})
    def destroy(self, request: Request, pk: UUID) -> Response:
        """Takes the labour off its job."""
        lines.remove_labour(**self.caller, labour_id=pk)
        return Response(status=204)


class JobPartView(FrontView):
    model = JobPart
    queryset = JobPart.objects.none()
    serializer_class = JobPartOut
    select = ("fitted_by", "job__order")
    needs = {"partial_update": COUNTER_OR_BENCH, "destroy": COUNTER_OR_BENCH, "fit": BENCH, "give_back": COUNTER}

    @extend_schema(request=JobPartChange, responses=JobPartOut)
    def partial_update(self, request: Request, pk: UUID) -> Response:
        """Corrects quantity, price, condition or 'failed first' of a line."""
        return self.shown(lines.change_part(**self.caller, part_id=pk, **self.given_changes(JobPartChange)))

    @extend_schema(request=None, responses={204: None})
    def destroy(self, request: Request, pk: UUID) -> Response:
        """Takes the part off its job."""
        lines.remove_part(**self.caller, part_id=pk)
        return Response(status=204)

    @extend_schema(request=None, responses=JobPartOut)
    @action(detail=True, methods=["post"])
    def fit(self, request: Request, pk: UUID) -> Response:
        """Says that the part is in the machine."""
        return self.shown(bench.fit_part(**self.caller, part_id=pk))

    @extend_schema(request=ReturnIn, responses={201: FeeOut})
    @action(detail=True, methods=["post"], url_path="return")
    def give_back(self, request: Request, pk: UUID) -> Response:
        """Credits a core or an unused part that came back, at what it was charged."""
        fee = returns.return_part(**self.caller, part_id=pk, **self.given(ReturnIn))
        return Response(FeeOut(fee, context=self.get_serializer_context()).data, status=201)


class TimeEntryView(mixins.ListModelMixin, FrontView):
    model = TimeEntry
    queryset = TimeEntry.objects.none()
    serializer_class = TimeOut
    select = ("technician",)
    order = ("-started_at", "id")
    filterset_fields = ("job",)
    needs = {"list": STAFF, "destroy": COUNTER_OR_BENCH}

    @extend_schema(request=None, responses={204: None})
    def destroy(self, request: Request, pk: UUID) -> Response:
        """Takes a wrong entry away."""
        time.remove_time(**self.caller, entry_id=pk)
        return Response(status=204)
