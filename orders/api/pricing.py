"""Doors to how the shop prices beside its rates, and to single fees of a job."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models.catalogue import LABOUR_ROUNDINGS, TAX_STACKINGS, PricingTerms
from orders.models.jobs import JobFee
from orders.services import charges, fees
from shopdocs.rest.roles import COUNTER, STAFF
from shopdocs.rest.serializers import Amount, Day, Line, Strict

from .fields import Flag, FrontView, optional_line
from .job_forms import FeeOut
from .money import Money

PERCENT = {"max_digits": 7, "decimal_places": 4, "max_value": 100}


class TierIn(Strict):
    """Markup in percent on costs up to and including `up_to`; null: on all higher ones, which is the last."""

    up_to = Amount(allow_null=True)
    markup = Amount(max_digits=8, decimal_places=4, max_value=1000)


class TierOut(serializers.Serializer[Any]):
    up_to = serializers.CharField(allow_null=True)
    markup = serializers.CharField()


class PricingTermsIn(Strict):
    """From `starts_on`: shop supplies with floor and cap, a least labour charge, discounts by kind of customer, tax; and how minutes
    of work are rounded to tenths of an hour (`labour_rounding` for the customer, `own_labour_rounding` for shop and goodwill).
    """

    starts_on = Day()
    supplies_words = optional_line(max_length=100)
    supplies_percent = Amount(required=False, **PERCENT)
    supplies_of = serializers.ListField(child=serializers.ChoiceField(charges.SUPPLIED), required=False)
    supplies_floor = Amount(required=False, allow_null=True)
    supplies_cap = Amount(required=False, allow_null=True)
    minimum_labour = Amount(required=False)
    diagnosis_limit = Amount(max_digits=4, decimal_places=1, max_value=100, required=False, allow_null=True)
    labour_rounding = serializers.ChoiceField(choices=LABOUR_ROUNDINGS, required=False)
    own_labour_rounding = serializers.ChoiceField(choices=LABOUR_ROUNDINGS, required=False)
    class_discounts = serializers.DictField(child=Amount(**PERCENT), required=False)
    price_tiers = serializers.DictField(child=TierIn(many=True, allow_empty=False), required=False)
    tax_stacking = serializers.ChoiceField(choices=TAX_STACKINGS, required=False)
    tax_inclusive = Flag(required=False)


class PricingTermsCorrectionIn(PricingTermsIn):
    """The version that was read, why, and what is right instead. The first day stays."""

    version = serializers.IntegerField(min_value=1, max_value=2_147_483_647)
    reason = Line(max_length=300)
    starts_on = None  # type: ignore[assignment]


class PricingTermsOut(serializers.ModelSerializer[PricingTerms]):
    supplies_floor = Money(allow_null=True)
    supplies_cap = Money(allow_null=True)
    minimum_labour = Money()
    class_discounts = serializers.DictField(child=serializers.CharField())
    supplies_of = serializers.ListField(child=serializers.CharField())
    price_tiers = serializers.DictField(child=TierOut(many=True))

    class Meta:
        model = PricingTerms
        fields = [
            "id", "version", "starts_on", "supplies_words", "supplies_percent", "supplies_of", "supplies_floor",
            "supplies_cap", "minimum_labour", "diagnosis_limit", "labour_rounding", "own_labour_rounding", "class_discounts", "price_tiers",
            "tax_stacking", "tax_inclusive", "corrects", "corrected_at", "created_at",
        ]  # fmt: skip


class PricingTermsView(mixins.ListModelMixin, FrontView):
    model = PricingTerms
    queryset = PricingTerms.objects.none()
    serializer_class = PricingTermsOut
    order = ("-starts_on", "-created_at", "id")
    needs = {"list": STAFF, "create": COUNTER, "correct": COUNTER}

    @extend_schema(request=PricingTermsIn, responses={201: PricingTermsOut})
    def create(self, request: Request) -> Response:
        """Sets the terms from a day on; what was issued before keeps its own."""
        return self.shown(charges.set_terms(**self.caller, **self.given(PricingTermsIn)), new=True)

    @extend_schema(
        operation_id="pricing_terms_correct", request=PricingTermsCorrectionIn, responses={201: PricingTermsOut}
    )
    @action(detail=True, methods=["post"])
    def correct(self, request: Request, pk: UUID) -> Response:
        """Another record takes the place of terms that were entered wrongly. Nothing already priced changes."""
        given = self.given(PricingTermsCorrectionIn)
        version, reason = given.pop("version"), given.pop("reason")
        made = charges.correct_terms(**self.caller, terms_id=pk, version=version, reason=reason, changes=given)
        return self.shown(made, new=True)


class JobFeeView(FrontView):
    model = JobFee
    queryset = JobFee.objects.none()
    serializer_class = FeeOut
    needs = {"destroy": COUNTER}

    @extend_schema(request=None, responses={204: None})
    def destroy(self, request: Request, pk: UUID) -> Response:
        """Takes the fee off its job."""
        fees.remove_fee(**self.caller, fee_id=pk)
        return Response(status=204)
