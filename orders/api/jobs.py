"""Doors to jobs: proposed, changed, worked on, finished or struck."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Answer, Job, JobLabour, JobPart, RepairOrder, TimeEntry
from orders.services import bench, jobs, lines, time
from shopdocs.rest.roles import BENCH, COUNTER, COUNTER_OR_BENCH, STAFF
from shopdocs.rest.serializers import Amount, Line, Strict, Text

from .fields import Change, Flag, FrontView, Version, changing, optional_line
from .money import Money


class JobLabourIn(Strict):
    """An operation of the guide (`operation` id, or its `code`), or work in `words` with its `hours` in tenths."""

    operation = serializers.UUIDField(required=False)
    code = optional_line(max_length=40)
    words = optional_line()
    hours = Amount(max_digits=5, decimal_places=1, required=False)
    rate = Amount(decimal_places=4, required=False, allow_null=True)


class JobPartIn(Strict):
    """A part of the catalogue (`part` id), or one in `words` with its `unit_price`. `causal`: it failed first."""

    part = serializers.UUIDField(required=False)
    number = optional_line(max_length=60)
    words = optional_line()
    quantity = Amount(max_digits=9, required=False)
    unit_price = Amount(required=False)
    causal = Flag(required=False)


class JobIn(Strict):
    """A job from `findings` (ids) or straight from the request. Without a title the findings give it."""

    title = optional_line()
    complaint = Text(required=False, allow_blank=True)
    cause = Text(required=False, allow_blank=True)
    payer = serializers.ChoiceField(choices=Job.Payer.choices, required=False)
    findings = serializers.ListField(child=serializers.UUIDField(), required=False, max_length=100)
    labour = serializers.ListField(child=JobLabourIn(), required=False, max_length=100)
    parts = serializers.ListField(child=JobPartIn(), required=False, max_length=200)


class JobTextIn(Strict):
    title = Line()
    complaint = Text(allow_blank=True)
    cause = Text(allow_blank=True)
    correction = Text(allow_blank=True)
    payer = serializers.ChoiceField(choices=Job.Payer.choices)


JobChange = changing(JobTextIn, "JobChange")


class TimeIn(Strict):
    """Time that was not clocked. `technician`: staff id, when the counter types it for somebody."""

    started_at = serializers.DateTimeField()
    ended_at = serializers.DateTimeField()
    note = optional_line()
    technician = serializers.IntegerField(required=False, min_value=1, max_value=2_147_483_647)


class ClockOutIn(Strict):
    """`ended_at` only when the clock was forgotten."""

    ended_at = serializers.DateTimeField(required=False)
    note = optional_line()


class FinishIn(Strict):
    """The correction, unless it is written already; with it the version at which the job was read."""

    correction = Text(required=False)
    version = Version(required=False)


class StrikeIn(Strict):
    reason = Line()


class JobLabourOut(serializers.ModelSerializer[JobLabour]):
    rate = Money(allow_null=True)

    class Meta:
        model = JobLabour
        fields = ["id", "version", "operation", "code", "words", "hours", "rate"]


class JobPartOut(serializers.ModelSerializer[JobPart]):
    unit_price = Money()
    fitted_by = serializers.CharField(source="fitted_by.shown_name", read_only=True, default=None)

    class Meta:
        model = JobPart
        fields = [
            "id", "version", "part", "number", "words", "quantity", "unit_price", "causal", "fitted_at", "fitted_by",
        ]  # fmt: skip


class TimeOut(serializers.ModelSerializer[TimeEntry]):
    technician = serializers.CharField(source="technician.shown_name", read_only=True)
    minutes = serializers.SerializerMethodField()

    class Meta:
        model = TimeEntry
        fields = ["id", "job", "technician", "started_at", "ended_at", "minutes", "note"]

    def get_minutes(self, entry: TimeEntry) -> int:
        return time.minutes(entry)


class AnswerOut(serializers.ModelSerializer[Answer]):
    edition = serializers.IntegerField(source="estimate.edition", read_only=True)

    class Meta:
        model = Answer
        fields = ["job", "estimate", "edition", "accepted", "channel", "said_by", "words", "at"]


class JobOut(serializers.ModelSerializer[Job]):
    """A job with all that is on it. `guide_hours` and `clocked_minutes` stand side by side."""

    labour = JobLabourOut(many=True, read_only=True)
    parts = JobPartOut(many=True, read_only=True)
    time = TimeOut(many=True, read_only=True, source="time_entries")
    answers = AnswerOut(many=True, read_only=True)
    guide_hours = serializers.SerializerMethodField()
    clocked_minutes = serializers.SerializerMethodField()

    class Meta:
        model = Job
        fields = [
            "id", "version", "order", "number", "title", "complaint", "cause", "correction", "state", "payer",
            "basis_kind", "basis_id", "basis_words", "basis_hash", "findings", "labour", "parts", "time", "answers",
            "guide_hours", "clocked_minutes", "strike_reason", "finished_at",
        ]  # fmt: skip
        read_only_fields = fields

    def get_guide_hours(self, job: Job) -> str:
        return f"{sum(int(line.hours * 10) for line in job.labour.all()) / 10:.1f}"

    def get_clocked_minutes(self, job: Job) -> int:
        return time.clocked_seconds(job) // 60


class BackJobs(FrontView):
    """What both doors to jobs share."""

    model = Job
    queryset = Job.objects.none()
    serializer_class = JobOut
    prefetch = ("labour", "parts__fitted_by", "time_entries__technician", "answers__estimate", "findings")
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
        "time": COUNTER_OR_BENCH,
        "clock_in": BENCH,
        "clock_out": BENCH,
        "finish": COUNTER_OR_BENCH,
        "strike": COUNTER,
        "propose_again": COUNTER,
    }

    @extend_schema(request=JobChange, responses=JobOut)
    def partial_update(self, request: Request, pk: UUID) -> Response:
        """Changes texts or payer; title and payer are the counter's."""
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

    @extend_schema(request=TimeIn, responses={201: TimeOut})
    @action(detail=True, methods=["post"])
    def time(self, request: Request, pk: UUID) -> Response:
        """Writes down time that was not clocked."""
        entry = time.enter_time(**self.caller, job_id=pk, **self.given(TimeIn))
        return Response(TimeOut(entry).data, status=201)

    @extend_schema(request=None, responses={201: TimeOut})
    @action(detail=True, methods=["post"], url_path="clock-in")
    def clock_in(self, request: Request, pk: UUID) -> Response:
        """Starts the caller's clock on the job."""
        return Response(TimeOut(time.clock_in(**self.caller, job_id=pk)).data, status=201)

    @extend_schema(request=ClockOutIn, responses=TimeOut)
    @action(detail=True, methods=["post"], url_path="clock-out")
    def clock_out(self, request: Request, pk: UUID) -> Response:
        """Stops the caller's clock on the job."""
        return Response(TimeOut(time.clock_out(**self.caller, job_id=pk, **self.given(ClockOutIn))).data)

    @extend_schema(request=FinishIn, responses=JobOut)
    @action(detail=True, methods=["post"])
    def finish(self, request: Request, pk: UUID) -> Response:
        """Ends an agreed job; the answer lists everything that is left undone."""
        return self.shown(bench.finish_job(**self.caller, job_id=pk, **self.given(FinishIn)))

    @extend_schema(request=StrikeIn, responses=JobOut)
    @action(detail=True, methods=["post"])
    def strike(self, request: Request, pk: UUID) -> Response:
        """Takes the job out of the visit, for a reason."""
        return self.shown(bench.strike_job(**self.caller, job_id=pk, **self.given(StrikeIn)))

    @extend_schema(request=None, responses=JobOut)
    @action(detail=True, methods=["post"], url_path="propose-again")
    def propose_again(self, request: Request, pk: UUID) -> Response:
        """Puts a declined job into the next version of the estimate."""
        return self.shown(jobs.propose_again(**self.caller, job_id=pk))


class JobLabourHoursIn(Change):
    hours = Amount(max_digits=5, decimal_places=1)


class JobPartFiguresIn(Strict):
    quantity = Amount(max_digits=9)
    unit_price = Amount()
    causal = Flag()


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
    select = ("fitted_by",)
    needs = {"partial_update": COUNTER_OR_BENCH, "destroy": COUNTER_OR_BENCH, "fit": BENCH}

    @extend_schema(request=JobPartChange, responses=JobPartOut)
    def partial_update(self, request: Request, pk: UUID) -> Response:
        """Corrects quantity, price or 'failed first' of a line."""
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
