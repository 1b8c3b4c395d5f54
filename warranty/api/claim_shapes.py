"""What the doors to claims take and tell."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from orders.api.invoice_shapes import FigureOut
from shopdocs.documents.api.printing import of_paper
from shopdocs.rest.serializers import Amount, Day, Line, Strict, Text
from warranty.models import Claim, ClaimAnswer, Credit, PartsHold, TurnOver
from warranty.services import claim_answers

from .base import Change, Money


class ClaimFileIn(Strict):
    """`distributor` only when it is another than the assembly's or maker's. `approval`: the maker's, as given."""

    distributor = serializers.UUIDField(required=False, allow_null=True)
    approval = Line(max_length=100, required=False, allow_blank=True)
    filed_on = Day(required=False)


class ClaimAnswerIn(Change):
    """What the distributor answered. Amounts may be left out of 'in_full' when what was asked is known."""

    outcome = serializers.ChoiceField(choices=ClaimAnswer.Outcome.choices)
    answered_on = Day()
    labour_approved = Amount(required=False, allow_null=True)
    parts_approved = Amount(required=False, allow_null=True)
    reference = Line(max_length=100, required=False, allow_blank=True)
    words = Text(required=False, allow_blank=True)


class ClaimCreditIn(Change):
    """Money that came; below zero: taken back."""

    amount = Amount(min_value=None)
    received_on = Day()
    reference = Line(max_length=100, required=False, allow_blank=True)


class ClaimCloseIn(Change):
    """Why no (more) credit is expected."""

    note = Line()


class TurnOverIn(Change):
    """Who bears what was refused, and why. `amount` (tax included) only to ask the customer for less than was chosen."""

    to = serializers.ChoiceField(choices=TurnOver.To.choices)
    reason = Line()
    amount = Amount(required=False, allow_null=True)


class TurnOverOut(serializers.ModelSerializer[TurnOver]):
    """`amount`: what the distributor no longer owes. `invoice`: what the customer was asked, if anything."""

    amount = Money()
    invoice_number = serializers.CharField(source="invoice.number", read_only=True, default="")
    invoice_total = Money(source="invoice.total", default=None)

    class Meta:
        model = TurnOver
        fields = ("id", "to", "amount", "turned_on", "reason", "invoice", "invoice_number", "invoice_total")
        read_only_fields = fields


class PartsReleaseIn(Change):
    """What became of the part: sent back, scrapped on the distributor's word, or the time is over."""

    note = Line()
    released_on = Day(required=False)


class ClaimAnswerOut(serializers.ModelSerializer[ClaimAnswer]):
    labour_approved = Money()
    parts_approved = Money()
    by_name = serializers.CharField(source="by.shown_name", read_only=True)

    class Meta:
        model = ClaimAnswer
        fields = (
            "id", "outcome", "answered_on", "labour_approved", "parts_approved", "reference", "words", "by_name", "created_at",
        )  # fmt: skip
        read_only_fields = fields


class CreditOut(serializers.ModelSerializer[Credit]):
    amount = Money()
    by_name = serializers.CharField(source="by.shown_name", read_only=True)

    class Meta:
        model = Credit
        fields = ("id", "amount", "received_on", "reference", "by_name", "created_at")
        read_only_fields = fields


class PartsHoldOut(serializers.ModelSerializer[PartsHold]):
    """`keep_until` null: not known."""

    claim_number = serializers.CharField(source="claim.number", read_only=True)

    class Meta:
        model = PartsHold
        fields = (
            "id",
            "claim",
            "claim_number",
            "tag",
            "words",
            "keep_until",
            "released_on",
            "released_note",
            "version",
        )
        read_only_fields = fields


class LackOut(serializers.Serializer[Any]):
    """One thing that a thin claim lacks."""

    code = serializers.CharField()
    words = serializers.CharField()
    remedy = serializers.CharField()


class PreviewOut(serializers.Serializer[Any]):
    """What would be asked today, in the same words as a filed claim's `facts`, and what is still missing."""

    missing = LackOut(many=True)
    facts = serializers.DictField()


class ClaimRow(serializers.ModelSerializer[Claim]):
    """A claim in a list. Null amounts and days: not known. `overdue`: the answer is late."""

    distributor_name = serializers.CharField(source="distributor.name", read_only=True)
    order_number = serializers.CharField(source="job.order.number", read_only=True)
    labour_expected = Money()
    parts_expected = Money()
    expected = Money()
    approved = serializers.SerializerMethodField()
    credited = serializers.SerializerMethodField()
    owed = serializers.SerializerMethodField()
    overdue = serializers.SerializerMethodField()

    class Meta:
        model = Claim
        fields = (
            "id", "number", "state", "job", "order_number", "decision", "distributor", "distributor_name", "repaired_on",
            "filed_on", "deadline", "late", "answer_due", "overdue", "approval", "labour_expected", "parts_expected",
            "expected", "approved", "credited", "owed", "document", "letter", "closed_note", "version", "created_at",
        )  # fmt: skip
        read_only_fields = fields

    def _money(self, value: Any) -> str | None:
        if value is None:
            return None
        shown = Money()
        shown.bind("", self)
        return shown.to_representation(value)

    def get_approved(self, row: Claim) -> str | None:
        return self._money(claim_answers.standing(row).approved)

    def get_credited(self, row: Claim) -> str | None:
        return self._money(claim_answers.standing(row).credited)

    def get_owed(self, row: Claim) -> str | None:
        return self._money(claim_answers.standing(row).owed)

    def get_overdue(self, row: Claim) -> bool:
        return claim_answers.overdue(row, self.context["request"].shop.today())


class ClaimOut(ClaimRow):
    """A claim with everything that was asked, frozen in `facts`, and what came back."""

    answers = ClaimAnswerOut(many=True, read_only=True)
    credits = CreditOut(many=True, read_only=True)
    parts_holds = PartsHoldOut(many=True, read_only=True)
    turn_over = serializers.SerializerMethodField()
    cannot_print = of_paper()
    facts = serializers.DictField(read_only=True)

    class Meta(ClaimRow.Meta):
        fields: Any = (*ClaimRow.Meta.fields, "answers", "credits", "parts_holds", "turn_over", "cannot_print", "facts")
        read_only_fields: Any = fields

    @extend_schema_field(TurnOverOut(allow_null=True))
    def get_turn_over(self, row: Claim) -> Any:
        made = getattr(row, "turn_over", None)
        return TurnOverOut(made, context=self.context).data if made is not None else None


class ClaimFigureOut(FigureOut):
    """A figure of the claim, such as 'hours', 'labour', 'part:ID', 'expected', 'owed': its steps add up to it, or say what is not known."""

    amount = serializers.CharField(read_only=True, allow_null=True)
