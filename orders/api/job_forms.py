"""What goes in and out at the doors to jobs."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from orders.models import Answer, Job, JobLabour, JobPart, TimeEntry
from orders.models.jobs import JobFee
from orders.rules.work import ACTIONS
from orders.services import time
from orders.services.fees import FEE_KINDS
from orders.services.house_rules import duties_of
from orders.services.labour_sets import three_times
from shopdocs.rest.serializers import Amount, Line, Moment, Strict, Text

from .fields import Change, Flag, Version, changing, optional_line
from .money import Money


class JobLabourIn(Strict):
    """An operation of the guide (`operation` id, or its `code`), or work in `words` with its `hours` in tenths.

    `action` says what is done to `components`; an operation of the guide brings both.
    """

    operation = serializers.UUIDField(required=False)
    code = optional_line(max_length=40)
    words = optional_line()
    hours = Amount(max_digits=5, decimal_places=1, required=False)
    rate = Amount(decimal_places=4, required=False, allow_null=True)
    skill = optional_line(max_length=40)
    diagnosis = Flag(required=False)
    discount_percent = Amount(max_digits=7, decimal_places=4, max_value=100, required=False, allow_null=True)
    action = serializers.ChoiceField(choices=list(ACTIONS.items()), required=False, allow_blank=True)
    components = serializers.ListField(child=Line(max_length=60), required=False, max_length=50)


class JobPartIn(Strict):
    """A part of the catalogue (`part` id), or one in `words` with its `unit_price`. `causal`: it failed first.

    `condition` is new unless said; `original`: whether it is the maker's original equipment, null where nobody knows.
    """

    part = serializers.UUIDField(required=False)
    number = optional_line(max_length=60)
    words = optional_line()
    quantity = Amount(max_digits=9, required=False)
    unit_price = Amount(required=False)
    core_charge = Amount(required=False)
    discount_percent = Amount(max_digits=7, decimal_places=4, max_value=100, required=False, allow_null=True)
    customers_own = Flag(required=False)
    condition = serializers.ChoiceField(choices=JobPart.Condition.choices, required=False)
    original = Flag(required=False, allow_null=True)
    causal = Flag(required=False)


class JobIn(Strict):
    """A job from `findings` (ids) or straight from the request. Without a title the findings give it.

    A finding that stands in another job already is refused (409) unless `share_findings` says that both jobs are needed.
    `why_now` and `if_not` (what happens if it is not done) stand on the estimate; whoever writes the job writes them.
    """

    title = optional_line()
    complaint = Text(required=False, allow_blank=True)
    cause = Text(required=False, allow_blank=True)
    why_now = Text(required=False, allow_blank=True)
    if_not = Text(required=False, allow_blank=True)
    payer = serializers.ChoiceField(choices=Job.Payer.choices, required=False)
    findings = serializers.ListField(child=serializers.UUIDField(), required=False, max_length=100)
    share_findings = Flag(required=False)
    labour = serializers.ListField(child=JobLabourIn(), required=False, max_length=100)
    parts = serializers.ListField(child=JobPartIn(), required=False, max_length=200)


class JobTextIn(Strict):
    title = Line()
    complaint = Text(allow_blank=True)
    cause = Text(allow_blank=True)
    correction = Text(allow_blank=True)
    why_now = Text(allow_blank=True)
    if_not = Text(allow_blank=True)
    payer = serializers.ChoiceField(choices=Job.Payer.choices)
    discount_words = optional_line(max_length=100)
    discount_percent = Amount(max_digits=7, decimal_places=4, max_value=100, allow_null=True)
    discount_amount = Amount(allow_null=True)
    allowed_hours = Amount(max_digits=5, decimal_places=1, max_value=100, allow_null=True)


JobChange = changing(JobTextIn, "JobChange")


class ShareIn(Strict):
    """One payer's share: `percent` of what is left, an `amount` first (a deductible), or neither: the rest."""

    payer = serializers.ChoiceField(choices=Job.Payer.choices)
    percent = Amount(max_digits=7, decimal_places=4, max_value=100, required=False, allow_null=True)
    amount = Amount(required=False, allow_null=True)


class PayersIn(Change):
    """How several payers share a job: `shares` of the whole, and `payer_of`: kind of line -> who else pays for it."""

    shares = ShareIn(many=True, required=False, max_length=4)  # type: ignore[call-arg]
    payer_of = serializers.DictField(child=Line(max_length=20), required=False)


class TimeIn(Strict):
    """Time that was not clocked. `technician`: staff id, when the counter types it for somebody."""

    started_at = Moment()
    ended_at = Moment()
    note = optional_line()
    technician = serializers.IntegerField(required=False, min_value=1, max_value=2_147_483_647)


class ClockOutIn(Strict):
    """`ended_at` only when the clock was forgotten."""

    ended_at = Moment(required=False)
    note = optional_line()


class FinishIn(Strict):
    """The version at which the job was read, and the correction unless it is written already."""

    correction = Text(required=False)
    version = Version()


class DutyOut(serializers.Serializer[Any]):
    """What a job that is done leaves to be done, by a rule of another room: `at` is the address where it is done."""

    rule = serializers.CharField()
    says = serializers.CharField()
    source: Any = serializers.CharField()
    lacking = serializers.ListField(child=serializers.CharField())
    at = serializers.CharField()


class ProposeAgainIn(Strict):
    """`share_findings`: its findings stand in another job by now, and both jobs are needed; without it that is refused (409)."""

    share_findings = Flag(required=False)


class StrikeIn(Strict):
    reason = Line()


class JobLabourOut(serializers.ModelSerializer[JobLabour]):
    rate = Money(allow_null=True)

    class Meta:
        model = JobLabour
        fields = [
            "id",
            "version",
            "operation",
            "code",
            "words",
            "hours",
            "rate",
            "skill",
            "diagnosis",
            "discount_percent",
            "action",
            "components",
        ]


class JobPartOut(serializers.ModelSerializer[JobPart]):
    unit_price = Money()
    core_charge = Money()
    environment_charge = Money()
    fitted_by = serializers.CharField(source="fitted_by.shown_name", read_only=True, default=None)
    after_promised = serializers.SerializerMethodField(
        help_text="whether it is expected after the order's promised day"
    )

    class Meta:
        model = JobPart
        fields = [
            "id", "version", "part", "number", "words", "quantity", "unit_price", "core_charge", "discount_percent",
            "environment_charge", "price_how", "contents", "state", "awaited_since", "expected_on", "after_promised",
            "customers_own", "condition", "original", "causal", "fitted_at", "fitted_by",
        ]  # fmt: skip

    def get_after_promised(self, line: JobPart) -> bool:
        promised = line.job.order.promised_on
        return bool(promised and line.expected_on and line.expected_on > promised)


class ReturnIn(Strict):
    """`core`: the old part for which a charge was made; `part`: one that was not used."""

    what = serializers.ChoiceField(choices=["core", "part"])
    quantity = Amount(max_digits=9, required=False)


class FeeIn(Strict):
    """A fee, freight, sublet work and the like; below zero only a credit: for a core or part returned, or a fee."""

    kind = serializers.ChoiceField(choices=FEE_KINDS)
    words = Line()
    amount = Amount(min_value=-99_999_999)


class FeeOut(serializers.ModelSerializer[JobFee]):
    amount = Money()

    class Meta:
        model = JobFee
        fields = ["id", "version", "kind", "words", "amount"]


class TimesOut(serializers.Serializer[Any]):
    """Guide, payer's allowance and clock side by side, in hours; null where it is not known."""

    guide = serializers.CharField()
    saving = serializers.CharField(help_text="'0.3 h saved: cover off once.' or nothing")
    overlap_not_known = serializers.ListField(child=serializers.ListField(child=serializers.CharField()))
    allowed = serializers.CharField(allow_null=True)
    clocked = serializers.CharField(allow_null=True)
    remarks = serializers.ListField(child=serializers.CharField())


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
        fields = [
            "job", "estimate", "edition", "accepted", "channel", "said_by", "words", "agreed_words", "signature",
            "phone_number", "called_at", "read_back", "option", "consent_version", "consented_at", "facts_sha256",
            "paper_sha256", "at",
        ]  # fmt: skip


class JobOut(serializers.ModelSerializer[Job]):
    """A job with all that is on it. `guide_hours` and `clocked_minutes` stand side by side."""

    labour = JobLabourOut(many=True, read_only=True)
    parts = JobPartOut(many=True, read_only=True)
    time = TimeOut(many=True, read_only=True, source="time_entries")
    answers = AnswerOut(many=True, read_only=True)
    fees = FeeOut(many=True, read_only=True)
    times = serializers.SerializerMethodField()
    guide_hours = serializers.SerializerMethodField()
    clocked_minutes = serializers.SerializerMethodField()

    class Meta:
        model = Job
        fields = [
            "id", "version", "order", "number", "title", "complaint", "cause", "correction", "why_now", "if_not", "state", "payer",
            "shares", "payer_of", "basis_kind", "basis_id", "basis_words", "basis_hash", "findings", "labour", "parts", "time", "answers",
            "fees", "discount_words", "discount_percent", "discount_amount", "allowed_hours", "times",
            "guide_hours", "clocked_minutes", "strike_reason", "finished_at",
        ]  # fmt: skip
        read_only_fields = fields

    def get_guide_hours(self, job: Job) -> str:
        return f"{sum((line.hours for line in job.labour.all()), Decimal('0.0')):.1f}"

    @extend_schema_field(TimesOut)
    def get_times(self, job: Job) -> dict[str, Any]:
        return three_times(job, self.context if isinstance(self.context, dict) else {})

    def get_clocked_minutes(self, job: Job) -> int:
        return time.clocked_seconds(job) // 60


class FinishedJobOut(JobOut):
    """The job that was ended, with what it leaves to be done: nothing stops it, but it is owed."""

    duties = serializers.SerializerMethodField()

    class Meta(JobOut.Meta):
        fields = [*JobOut.Meta.fields, "duties"]
        read_only_fields = fields

    @extend_schema_field(DutyOut(many=True))
    def get_duties(self, job: Job) -> list[dict[str, Any]]:
        return duties_of(job)
