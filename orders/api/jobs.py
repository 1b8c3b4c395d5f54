"""Doors to jobs: proposed, changed, worked on, finished or struck."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import mixins
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Job, RepairOrder
from orders.services import bench, fees, jobs, lines, splits, time
from shopdocs.rest.roles import BENCH, COUNTER, COUNTER_OR_BENCH, STAFF

from .fields import FrontView
from .job_forms import (
    ClockOutIn,
    FeeIn,
    FinishedJobOut,
    FinishIn,
    JobChange,
    JobIn,
    JobLabourIn,
    JobOut,
    JobPartIn,
    PayersIn,
    ProposeAgainIn,
    StrikeIn,
    TimeIn,
    TimeOut,
)


class BackJobs(FrontView):
    """What both doors to jobs share."""

    model = Job
    queryset = Job.objects.none()
    serializer_class = JobOut
    select = ("shop", "order__unit__model__maker__distributor")
    prefetch = (
        "labour__operation",
        "fees",
        "parts__fitted_by",
        "parts__job__order",
        "time_entries__technician",
        "answers__estimate",
        "findings",
    )
    order = ("number", "id")


class OrderJobsView(mixins.ListModelMixin, BackJobs):
    needs = {"list": STAFF, "create": COUNTER_OR_BENCH}

    def get_queryset(self) -> QuerySet[Any]:
        rows = super().get_queryset()
        if getattr(self, "swagger_fake_view", False):
            return rows
        self.mine(RepairOrder, self.kwargs["order_id"])
        return rows.filter(order=self.kwargs["order_id"])

    @extend_schema(operation_id="orders_jobs_create", request=JobIn, responses={201: JobOut})
    def create(self, request: Request, order_id: UUID) -> Response:
        """Proposes a job on the order."""
        return self.shown(jobs.add_job(**self.caller, order_id=order_id, **self.given(JobIn)), new=True)

    @extend_schema(operation_id="orders_jobs_list")
    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """The jobs of the order."""
        return super().list(request, *args, **kwargs)


class JobView(mixins.RetrieveModelMixin, BackJobs):
    needs = {
        "retrieve": STAFF,
        "partial_update": COUNTER_OR_BENCH,
        "labour": COUNTER_OR_BENCH,
        "parts": COUNTER_OR_BENCH,
        "fees": COUNTER,
        "payers": COUNTER,
        "time": COUNTER_OR_BENCH,
        "clock_in": BENCH,
        "clock_out": BENCH,
        "finish": COUNTER_OR_BENCH,
        "strike": COUNTER,
        "propose_again": COUNTER,
    }

    @extend_schema(request=JobChange, responses=JobOut)
    def partial_update(self, request: Request, pk: UUID) -> Response:
        """Changes texts or payer; title and payer are the counter's. The correction is always the bench's to write.

        An agreed job whose title, complaint, cause or discount reads otherwise than on the accepted estimate, or costs the
        customer more, is proposed again and needs a new version; said as before, it is agreed again.
        """
        return self.shown(jobs.change_job(**self.caller, job_id=pk, **self.given_changes(JobChange)))

    @extend_schema(request=JobLabourIn, responses={201: JobOut})
    @action(detail=True, methods=["post"])
    def labour(self, request: Request, pk: UUID) -> Response:
        """Adds labour. On an agreed job it needs a new version of the estimate."""
        line = lines.add_labour(**self.caller, job_id=pk, **self.given(JobLabourIn))
        return self.shown(line.job, new=True)

    @extend_schema(request=JobPartIn, responses={201: JobOut})
    @action(detail=True, methods=["post"])
    def parts(self, request: Request, pk: UUID) -> Response:
        """Adds a part. On an agreed job it needs a new version of the estimate."""
        line = lines.add_part(**self.caller, job_id=pk, **self.given(JobPartIn))
        return self.shown(line.job, new=True)

    @extend_schema(request=FeeIn, responses={201: JobOut})
    @action(detail=True, methods=["post"])
    def fees(self, request: Request, pk: UUID) -> Response:
        """Adds a fee or a credit. On an agreed job it needs a new version of the estimate."""
        fee = fees.add_fee(**self.caller, job_id=pk, **self.given(FeeIn))
        return self.shown(fee.job, new=True)

    @extend_schema(request=PayersIn, responses=JobOut)
    @action(detail=True, methods=["post"])
    def payers(self, request: Request, pk: UUID) -> Response:
        """Says how several payers share the job; with neither shares nor kinds its payer pays all."""
        return self.shown(splits.set_split(**self.caller, job_id=pk, **self.given(PayersIn)))

    @extend_schema(request=TimeIn, responses={201: TimeOut})
    @action(detail=True, methods=["post"])
    def time(self, request: Request, pk: UUID) -> Response:
        """Writes down time that was not clocked."""
        entry = time.enter_time(**self.caller, job_id=pk, **self.given(TimeIn))
        return Response(TimeOut(entry).data, status=201)

    @extend_schema(request=None, responses={201: TimeOut})
    @action(detail=True, methods=["post"], url_path="clock-in")
    def clock_in(self, request: Request, pk: UUID) -> Response:
        """Starts the caller's clock on the job. It begins a record of its own, so it takes no version."""
        return Response(TimeOut(time.clock_in(**self.caller, job_id=pk)).data, status=201)

    @extend_schema(request=ClockOutIn, responses=TimeOut)
    @action(detail=True, methods=["post"], url_path="clock-out")
    def clock_out(self, request: Request, pk: UUID) -> Response:
        """Stops the caller's clock on the job."""
        return Response(TimeOut(time.clock_out(**self.caller, job_id=pk, **self.given(ClockOutIn))).data)

    @extend_schema(request=FinishIn, responses=FinishedJobOut)
    @action(detail=True, methods=["post"])
    def finish(self, request: Request, pk: UUID) -> Response:
        """Ends an agreed job as it was read. A refusal lists everything that is left undone, or what somebody else has saved
        since; the answer what is owed from now on.
        """
        ended = bench.finish_job(**self.caller, job_id=pk, **self.given(FinishIn))
        row = self.get_queryset().get(pk=ended.pk)
        return Response(FinishedJobOut(row, context=self.get_serializer_context()).data)

    @extend_schema(request=StrikeIn, responses=JobOut)
    @action(detail=True, methods=["post"])
    def strike(self, request: Request, pk: UUID) -> Response:
        """Takes the job out of the visit, for a reason."""
        return self.shown(bench.strike_job(**self.caller, job_id=pk, **self.given(StrikeIn)))

    @extend_schema(request=ProposeAgainIn, responses=JobOut)
    @action(detail=True, methods=["post"], url_path="propose-again")
    def propose_again(self, request: Request, pk: UUID) -> Response:
        """Puts a declined job into the next version of the estimate."""
        return self.shown(jobs.propose_again(**self.caller, job_id=pk, **self.given(ProposeAgainIn)))
