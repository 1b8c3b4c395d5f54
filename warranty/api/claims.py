"""Doors to claims: what would be asked, filing it, the distributor's answers and credits, and the failed parts kept."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import django_filters
from django.db.models import F, Q, QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import mixins
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Job
from shopdocs.documents.api.opened import OnPaper
from shopdocs.documents.api.papers import DocumentOut
from shopdocs.rest.roles import DESK, STAFF
from warranty.models import Claim, PartsHold
from warranty.services import claim_answers, claims, parts_holds, turn_overs
from warranty.services.claim_how import claim_explained
from warranty.services.evidence import missing_for_claim

from .base import DeskView
from .claim_shapes import (
    ClaimAnswerIn,
    ClaimCloseIn,
    ClaimCreditIn,
    ClaimFigureOut,
    ClaimFileIn,
    ClaimOut,
    ClaimRow,
    LackOut,
    PartsHoldOut,
    PartsReleaseIn,
    PreviewOut,
    TurnOverIn,
)


class ClaimFilter(django_filters.FilterSet):
    """`state`; `overdue=true`: no answer though its day has passed; `late=true`: filed after the last day."""

    overdue = django_filters.BooleanFilter(method="by_overdue")

    class Meta:
        model = Claim
        fields = ("state", "distributor", "job", "late", "number")

    def by_overdue(self, rows: QuerySet[Claim], name: str, value: bool) -> QuerySet[Claim]:
        waiting = Q(state=Claim.State.FILED, answer_due__lt=self.request.shop.today())
        return rows.filter(waiting) if value else rows.exclude(waiting)


class JobClaim(DeskView):
    """The claim for one job."""

    model = Claim
    needs = {"list": STAFF, "create": DESK}
    select = ("distributor", "job__order")
    prefetch = ("answers__by", "credits__by", "parts_holds__claim")
    serializer_class = ClaimOut
    pagination_class = None
    filter_backends = []

    @extend_schema(operation_id="job_claim_preview", responses=PreviewOut)
    def list(self, request: Request, job_id: UUID) -> Response:
        """What would be asked if the claim were filed today, and what it still lacks. Writes nothing."""
        job = claims.job_to_claim(shop=request.shop, pk=job_id)  # type: ignore[attr-defined]
        facts = claims.preview_claim(job=job)
        return Response(PreviewOut({"missing": facts["missing"], "facts": facts}).data)

    @extend_schema(operation_id="job_claim_file", request=ClaimFileIn, responses={201: ClaimOut})
    def create(self, request: Request, job_id: UUID) -> Response:
        """Files the claim: freezes it, tags the failed parts, requests its paper and the letter to the distributor."""
        return self.shown(claims.file_claim(**self.caller, job=job_id, **self.given(ClaimFileIn)), new=True)


class JobClaimLacks(DeskView):
    """What a claim for the job would lack, at any time before it is filed."""

    model = Job
    needs = {"list": STAFF}
    serializer_class = LackOut
    pagination_class = None
    filter_backends = []

    @extend_schema(operation_id="job_claim_missing", responses=LackOut(many=True))
    def list(self, request: Request, job_id: UUID) -> Response:
        """Photos, proof, measurement and marks that distributors usually ask for and that are not there yet."""
        job = claims.job_to_claim(shop=request.shop, pk=job_id)  # type: ignore[attr-defined]
        return Response(LackOut(missing_for_claim(job=job), many=True).data)


class Claims(OnPaper, mixins.RetrieveModelMixin, mixins.ListModelMixin, DeskView):
    """Claims that were filed."""

    model = Claim
    paper = "Warranty claim"
    needs = {
        "list": STAFF, "retrieve": STAFF, "how": STAFF, "answer": DESK, "credit": DESK, "close": DESK, "turn_over": DESK,
    }  # fmt: skip
    select = ("distributor", "job__order", "turn_over__invoice")
    prefetch = ("answers__by", "credits__by", "parts_holds__claim")
    serializer_class = ClaimOut
    filterset_class = ClaimFilter

    def get_queryset(self) -> QuerySet[Any]:
        rows = super().get_queryset()
        return (
            rows.order_by(F("answer_due").asc(nulls_last=True), "created_at", "id") if self.action == "list" else rows
        )

    def get_serializer_class(self) -> Any:
        return ClaimRow if self.action == "list" else ClaimOut

    @extend_schema(operation_id="claims_how", responses=ClaimFigureOut(many=True))
    @action(detail=True, methods=["get"], filter_backends=[], pagination_class=None)
    def how(self, request: Request, pk: UUID) -> Response:
        """How every figure that the claim asks for came about, and what was credited of it; one that is not known says why."""
        return Response(ClaimFigureOut(claim_explained(self.get_object()), many=True).data)

    @extend_schema(operation_id="claims_answer", request=ClaimAnswerIn, responses=ClaimOut)
    @action(detail=True, methods=["post"])
    def answer(self, request: Request, pk: UUID) -> Response:
        """Records an answer of the distributor. A refusal leaves the job's payer as it is."""
        return self.shown(
            claim_answers.record_answer(**self.caller, claim=self.get_object(), **self.given(ClaimAnswerIn))
        )

    @extend_schema(operation_id="claims_credit", request=ClaimCreditIn, responses=ClaimOut)
    @action(detail=True, methods=["post"], url_path="credits")
    def credit(self, request: Request, pk: UUID) -> Response:
        """Records money that came, also late on a closed claim; below zero what the distributor took back of it.

        The claim is settled when the credits reach what was approved.
        """
        return self.shown(
            claim_answers.record_credit(**self.caller, claim=self.get_object(), **self.given(ClaimCreditIn))
        )

    @extend_schema(operation_id="claims_close", request=ClaimCloseIn, responses=ClaimOut)
    @action(detail=True, methods=["post"])
    def close(self, request: Request, pk: UUID) -> Response:
        """Closes a claim that brings no more; the job may then be claimed anew."""
        return self.shown(claim_answers.close_claim(**self.caller, claim=self.get_object(), **self.given(ClaimCloseIn)))

    @extend_schema(operation_id="claims_turn_over", request=TurnOverIn, responses=ClaimOut)
    @action(detail=True, methods=["post"], url_path="turn-over")
    def turn_over(self, request: Request, pk: UUID) -> Response:
        """Turns a refusal over to goodwill, or to the customer as far as the customer chose beforehand."""
        made = turn_overs.turn_over(**self.caller, claim=self.get_object(), **self.given(TurnOverIn))
        return self.shown(made.claim)


class PartsHoldFilter(django_filters.FilterSet):
    """`held=true`: not released yet; `due=true`: not released, and the day until which it is kept has passed."""

    held = django_filters.BooleanFilter(field_name="released_on", lookup_expr="isnull")
    due = django_filters.BooleanFilter(method="by_due")

    class Meta:
        model = PartsHold
        fields = ("claim", "tag")

    def by_due(self, rows: QuerySet[PartsHold], name: str, value: bool) -> QuerySet[PartsHold]:
        due = Q(released_on=None, keep_until__lt=self.request.shop.today())
        return rows.filter(due) if value else rows.exclude(due)


class PartsHolds(OnPaper, mixins.RetrieveModelMixin, mixins.ListModelMixin, DeskView):
    """Failed parts kept, tagged, until the distributor releases them."""

    model = PartsHold
    paper = "Failed part"
    numbered = "tag"
    needs = {"list": STAFF, "retrieve": STAFF, "release": DESK, "papers": STAFF}
    select = ("claim",)
    serializer_class = PartsHoldOut
    filterset_class = PartsHoldFilter

    @extend_schema(operation_id="parts_holds_release", request=PartsReleaseIn, responses=PartsHoldOut)
    @action(detail=True, methods=["post"])
    def release(self, request: Request, pk: UUID) -> Response:
        """Ends a hold, with a note of what became of the part."""
        return self.shown(
            parts_holds.release_parts_hold(**self.caller, hold=self.get_object(), **self.given(PartsReleaseIn))
        )

    @extend_schema(operation_id="parts_holds_papers_create", request=None, responses={201: DocumentOut})
    @action(detail=True, methods=["post"])
    def papers(self, request: Request, pk: UUID) -> Response:
        """Asks for the tag of the part, in the size of a label."""
        document = parts_holds.request_part_tag(**self.caller, hold=self.get_object())
        return Response(DocumentOut(document).data, status=201)
