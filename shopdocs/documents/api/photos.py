"""Reading photos: the record and the untouched original, for the shop's own people."""

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from shopdocs.documents.models import Photo
from shopdocs.documents.services.files import read_file
from shopdocs.rest.roles import STAFF
from shopdocs.rest.views import ScopedView

from .answers import file_answer


class PhotoOut(serializers.ModelSerializer[Photo]):
    """A photo as the API tells it; the bytes are at photos/{id}/file/."""

    sha256 = serializers.CharField(source="original.sha256", read_only=True)
    size = serializers.IntegerField(source="original.size", read_only=True)
    by_name = serializers.CharField(source="by.shown_name", read_only=True)

    class Meta:
        model = Photo
        fields = (
            "id", "subject", "about", "moment", "caption", "kind", "width", "height", "taken_at", "has_gps",
            "sha256", "size", "warnings", "by_name", "created_at",
        )  # fmt: skip
        read_only_fields = fields


class Photos(mixins.ListModelMixin, mixins.RetrieveModelMixin, ScopedView):
    model = Photo
    needs = {"list": STAFF, "retrieve": STAFF, "file": STAFF, "printable": STAFF}
    select = ("original", "printable", "by")
    serializer_class = PhotoOut
    filterset_fields = ("subject", "about", "moment")

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
