"""Doors to terms: makers' promises, and what law gives."""

from __future__ import annotations

import json
from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from shopdocs.rest.roles import DESK, STAFF
from shopdocs.rest.serializers import Amount, Day, Line, Record, Strict
from warranty.models import DistributorTerms, MakerTerm
from warranty.services import distributor_terms, terms

from .base import DeskView, Money, RetireIn, changing


class MakerTermIn(Strict):
    """`term`: a record with the keys of the shipped term files. `maker`: the shop's record of who gives it.

    A term's `severe_service` holds the shorter `period` (days or months) or `hours` for such service, and the `uses` that always are.
    """

    maker = serializers.UUIDField(required=False, allow_null=True)
    term = Record()


class MakerTermOut(serializers.ModelSerializer[MakerTerm]):
    class Meta:
        model = MakerTerm
        fields = ("id", "maker", "code", "term", "fingerprint", "retired_on", "version", "created_at")
        read_only_fields = fields


class LawOut(serializers.Serializer[Any]):
    """A term or protection that law gives, as shipped."""

    code = serializers.CharField()
    title = serializers.CharField()
    kind = serializers.CharField()
    fingerprint = serializers.CharField()
    term = serializers.DictField()


class Terms(mixins.ListModelMixin, mixins.RetrieveModelMixin, DeskView):
    """Makers' promises of the shop. A promise is never rewritten: a new version is recorded, the old one retired."""

    model = MakerTerm
    needs = {"list": STAFF, "retrieve": STAFF, "create": DESK, "retire": DESK, "law": STAFF}
    serializer_class = MakerTermOut
    filterset_fields = ("maker", "code")
    order = ("code",)

    @extend_schema(operation_id="terms_create", request=MakerTermIn, responses={201: MakerTermOut})
    def create(self, request: Request) -> Response:
        """Records a promise."""
        given = self.given(MakerTermIn)
        return self.shown(terms.record_term(**self.caller, term=given["term"], maker=given.get("maker")), new=True)

    @extend_schema(operation_id="terms_retire", request=RetireIn, responses=MakerTermOut)
    @action(detail=True, methods=["post"])
    def retire(self, request: Request, pk: UUID) -> Response:
        """Ends its use; decisions already made keep it."""
        return self.shown(terms.retire_term(**self.caller, row=self.get_object(), **self.given(RetireIn)))

    @extend_schema(operation_id="terms_law", responses=LawOut(many=True), filters=False)
    @action(detail=False, pagination_class=None)
    def law(self, request: Request) -> Response:
        """What law gives, with citation, edition and the request to confirm it."""
        rows = [
            {"code": f"{one.id}/{one.version}", "title": one.title, "kind": one.kind, "fingerprint": one.fingerprint,
             "term": json.loads(one.data)}
            for one in terms.statutory_terms()
        ]  # fmt: skip
        return Response(LawOut(rows, many=True).data)


class DistributorTermsIn(Strict):
    """How a distributor pays from `starts_on` on. Leave out what is not known."""

    distributor = serializers.UUIDField()
    starts_on = Day()
    labour_rate: Any = serializers.DecimalField(
        max_digits=12, decimal_places=4, min_value=0, required=False, allow_null=True
    )
    time_basis = serializers.ChoiceField(choices=DistributorTerms.TimeBasis.choices, required=False, allow_blank=True)
    parts_percent: Any = serializers.DecimalField(
        max_digits=7, decimal_places=3, min_value=0, required=False, allow_null=True
    )
    diagnosis_limit = Amount(max_digits=4, decimal_places=1, max_value=100, required=False, allow_null=True)
    parts_base = serializers.ChoiceField(choices=DistributorTerms.PartsBase.choices, required=False, allow_blank=True)
    filing_days = serializers.IntegerField(min_value=0, max_value=32_000, required=False, allow_null=True)
    parts_hold_days = serializers.IntegerField(min_value=0, max_value=32_000, required=False, allow_null=True)
    answer_days = serializers.IntegerField(min_value=0, max_value=32_000, required=False, allow_null=True)
    claims_email = serializers.EmailField(max_length=320, required=False, allow_blank=True)
    source: Any = Line(max_length=400, required=False, allow_blank=True)


DistributorTermsChange = changing(DistributorTermsIn, "DistributorTermsChange", without=("distributor", "starts_on"))


class DistributorTermsOut(serializers.ModelSerializer[DistributorTerms]):
    """Null, or an empty word, means: not known."""

    labour_rate = Money()

    class Meta:
        model = DistributorTerms
        fields = ("id", "distributor", "starts_on", *distributor_terms.WORDS, "version", "created_at")
        read_only_fields = fields


class DistributorTermsView(mixins.ListModelMixin, mixins.RetrieveModelMixin, DeskView):
    """How distributors pay, dated. The newest that has begun applies; filed claims keep what they said."""

    model = DistributorTerms
    needs = {"list": STAFF, "retrieve": STAFF, "create": DESK, "partial_update": DESK}
    serializer_class = DistributorTermsOut
    filterset_fields = ("distributor",)
    order = ("distributor__name", "-starts_on", "id")

    @extend_schema(
        operation_id="distributor_terms_create", request=DistributorTermsIn, responses={201: DistributorTermsOut}
    )
    def create(self, request: Request) -> Response:
        """Records terms from a day on."""
        return self.shown(
            distributor_terms.record_distributor_terms(**self.caller, **self.given(DistributorTermsIn)), new=True
        )

    @extend_schema(
        operation_id="distributor_terms_correct", request=DistributorTermsChange, responses=DistributorTermsOut
    )
    def partial_update(self, request: Request, pk: UUID) -> Response:
        """Corrects a slip; new conditions are a new record."""
        given = self.given_changes(DistributorTermsChange)
        return self.shown(distributor_terms.correct_distributor_terms(**self.caller, terms=self.get_object(), **given))
