"""Reading photos: the record and the untouched original, for the shop's own people."""

from uuid import UUID

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from shopdocs.documents.models import Photo
from shopdocs.documents.services.files import read_file
from shopdocs.documents.services.marks import KINDS, MOST_MARKS, PARTS, change_photo
from shopdocs.rest.roles import COUNTER_OR_BENCH, DESK, STAFF
from shopdocs.rest.serializers import Line, Strict
from shopdocs.rest.views import ScopedView
from shopdocs.shops.services import refuse_no_change

from .answers import file_answer


def _part() -> serializers.IntegerField:
    return serializers.IntegerField(min_value=0, max_value=PARTS)


class MarkIn(Strict):
    """Arrow (tail, then point), circle (centre, then a point on its edge) or scale bar (two ends, and its length).

    x and y in ten-thousandths of the upright picture's width and height, from its upper left corner.
    """

    kind = serializers.ChoiceField(choices=KINDS)
    x1, y1, x2, y2 = _part(), _part(), _part(), _part()
    length = Line(max_length=20, required=False, allow_blank=True)


class PhotoChange(Strict):
    """The version that was read, and what is to be changed; `marks` are replaced whole."""

    version = serializers.IntegerField(min_value=1)
    caption = Line(required=False, allow_blank=True)
    marks = MarkIn(many=True, required=False, max_length=MOST_MARKS)  # type: ignore[call-arg]


class PhotoOut(serializers.ModelSerializer[Photo]):
    """A photo as the API tells it; the bytes are at photos/{id}/file/."""

    sha256 = serializers.CharField(source="original.sha256", read_only=True)
    size = serializers.IntegerField(source="original.size", read_only=True)
    marks = MarkIn(many=True, read_only=True)
    by_name = serializers.CharField(source="by.shown_name", read_only=True)

    class Meta:
        model = Photo
        fields = (
            "id", "subject", "about", "moment", "caption", "kind", "width", "height", "taken_at", "taken_from", "has_gps",
            "sha256", "size", "warnings", "marks", "by_name", "version", "created_at",
        )  # fmt: skip
        read_only_fields = fields


class Photos(mixins.ListModelMixin, mixins.RetrieveModelMixin, ScopedView):
    model = Photo
    needs = {
        "list": STAFF,
        "retrieve": STAFF,
        "file": STAFF,
        "printable": STAFF,
        "partial_update": COUNTER_OR_BENCH | DESK,
    }
    select = ("original", "printable", "by")
    serializer_class = PhotoOut
    filterset_fields = ("subject", "about", "moment")

    @extend_schema(operation_id="photos_change", request=PhotoChange, responses=PhotoOut)
    def partial_update(self, request: Request, pk: UUID) -> Response:
        """Another caption, or marks drawn over the picture. The original and papers already made stay as they are."""
        changes = self.given(PhotoChange)
        version = changes.pop("version")
        if not changes:
            remedy = "Send caption or marks beside the version."
            refuse_no_change(self.get_object(), version=version, fields=("caption", "marks"), remedy=remedy)
        photo = change_photo(shop=self.request.shop, by=self.request.staff, pk=pk, version=version, changes=changes)
        return Response(self.get_serializer(self.get_queryset().get(pk=photo.pk)).data)

    @extend_schema(operation_id="photos_file", responses={(200, "application/octet-stream"): OpenApiTypes.BINARY})
    @action(detail=True, url_path="file")
    def file(self, request: Request, pk: str) -> HttpResponse | Response:
        """The original, byte for byte as it came."""
        photo = self.get_object()
        return file_answer(request, photo.original, f"photo-{photo.original.sha256[:12]}.{photo.kind}", read_file)

    @extend_schema(operation_id="photos_printable", responses={(200, "image/jpeg"): OpenApiTypes.BINARY})
    @action(detail=True)
    def printable(self, request: Request, pk: str) -> HttpResponse | Response:
        """The copy that papers print: upright, sRGB, without camera data."""
        photo = self.get_object()
        return file_answer(request, photo.printable, f"photo-{photo.original.sha256[:12]}.jpg", read_file)
