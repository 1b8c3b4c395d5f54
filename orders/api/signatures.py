"""Doors to signatures drawn on a screen, and to what a customer chooses for a claim that is refused."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Job, RefusalChoice, Signature
from orders.services.refusal_choices import choices_of, take_choice
from orders.services.signatures import take_signature, take_strokes
from shopdocs.documents.api.answers import file_answer
from shopdocs.documents.services.files import read_file
from shopdocs.rest.roles import COUNTER_OR_BENCH, COUNTER_OR_DESK, STAFF
from shopdocs.rest.serializers import Amount, Line, Strict

from .estimates import GivenIn
from .fields import FrontView
from .money import Money


class SignatureIn(Strict):
    """A form with the PNG of what was drawn, and who signed in letters."""

    file = serializers.FileField(allow_empty_file=True)
    signed_name = Line(max_length=200)


def _coordinate() -> serializers.IntegerField:
    return serializers.IntegerField(min_value=0, max_value=2000)


class StrokesIn(Strict):
    """The strokes of the pen: lists of [x, y] in pixels from the upper left corner of a sheet."""

    strokes = serializers.ListField(
        child=serializers.ListField(
            child=serializers.ListField(child=_coordinate(), min_length=2, max_length=2), max_length=5000
        ),
        max_length=500,
    )
    width = serializers.IntegerField(min_value=1, max_value=2000)
    height = serializers.IntegerField(min_value=1, max_value=2000)
    signed_name = Line(max_length=200)


class SignatureOut(serializers.ModelSerializer[Signature]):
    """A signature; the picture is at signatures/{id}/file/. It signs one thing, once."""

    sha256 = serializers.CharField(source="file.sha256", read_only=True)
    size = serializers.IntegerField(source="file.size", read_only=True)
    taken_by_name = serializers.CharField(source="taken_by.shown_name", read_only=True)

    class Meta:
        model = Signature
        fields = ["id", "signed_name", "sha256", "size", "used_at", "used_for", "taken_by_name", "created_at"]
        read_only_fields = fields


class SignatureView(mixins.RetrieveModelMixin, FrontView):
    model = Signature
    queryset = Signature.objects.none()
    serializer_class = SignatureOut
    select = ("file", "taken_by")
    needs = {"retrieve": STAFF, "create": COUNTER_OR_BENCH, "strokes": COUNTER_OR_BENCH, "file": STAFF}

    def get_parsers(self) -> list[Any]:
        # The strokes are JSON; a drawn PNG comes as a form.
        action_map = getattr(self, "action_map", None) or {}
        return [MultiPartParser()] if action_map.get("post") == "create" else super().get_parsers()

    @extend_schema(request={"multipart/form-data": SignatureIn}, responses={201: SignatureOut})
    def create(self, request: Request) -> Response:
        """Keeps a signature drawn as PNG: at most 1 MB, and not an empty sheet."""
        given = self.given(SignatureIn)
        file = given["file"]
        made = take_signature(**self.caller, signed_name=given["signed_name"], data=file.read(), name=file.name)
        return self.shown(made, new=True)

    @extend_schema(request=StrokesIn, responses={201: SignatureOut})
    @action(detail=False, methods=["post"])
    def strokes(self, request: Request) -> Response:
        """Keeps a signature that comes as the strokes of the pen."""
        given = self.given(StrokesIn)
        points = [[(x, y) for x, y in stroke] for stroke in given.pop("strokes")]
        return self.shown(take_strokes(**self.caller, strokes=points, **given), new=True)

    @extend_schema(operation_id="signatures_file", responses={(200, "image/png"): OpenApiTypes.BINARY})
    @action(detail=True)
    def file(self, request: Request, pk: UUID) -> HttpResponse:
        """The picture, byte for byte as it came."""
        row = self.get_object()
        return file_answer(request, row.file, f"signature-{row.file.sha256[:12]}.png", read_file)


class ChoiceGivenIn(GivenIn):
    """What the customer chose for the case that the claim is refused; `up_to` (tax included) with 'pay_up_to' only."""

    choice = serializers.ChoiceField(choices=RefusalChoice.Choice.choices)
    up_to = Amount(required=False, allow_null=True)


class ChoiceOut(serializers.ModelSerializer[RefusalChoice]):
    up_to = Money(allow_null=True)

    class Meta:
        model = RefusalChoice
        fields = [
            "id", "job", "estimate", "choice", "up_to", "agreed_words", "channel", "said_by", "words", "signature",
            "phone_number", "called_at", "read_back", "at",
        ]  # fmt: skip
        read_only_fields = fields


class RefusalChoiceView(FrontView):
    """What was chosen beforehand for a job that a warranty is to pay."""

    model = RefusalChoice
    queryset = RefusalChoice.objects.none()
    serializer_class = ChoiceOut
    pagination_class = None
    filter_backends = []
    needs = {"list": STAFF, "create": COUNTER_OR_DESK}

    @extend_schema(operation_id="jobs_refusal_choices_list", responses=ChoiceOut(many=True))
    def list(self, request: Request, job_id: UUID) -> Response:
        """The choices on the job, oldest first; the newest counts."""
        return Response(self.get_serializer(choices_of(self.mine(Job, job_id)), many=True).data)

    @extend_schema(operation_id="jobs_refusal_choices_create", request=ChoiceGivenIn, responses={201: ChoiceOut})
    def create(self, request: Request, job_id: UUID) -> Response:
        """Writes down a choice made in person or by telephone."""
        return self.shown(take_choice(**self.caller, job_id=job_id, **self.given(ChoiceGivenIn)), new=True)
