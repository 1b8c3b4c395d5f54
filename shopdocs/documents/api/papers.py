"""Papers and letters: their state, their bytes, and another try where one was stopped."""

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from shopdocs.documents.models import Document, Letter
from shopdocs.documents.services import letters, papers
from shopdocs.documents.services.files import read_file
from shopdocs.documents.services.signing import sign_document
from shopdocs.rest.refusals import Missing
from shopdocs.rest.roles import COUNTER_OR_DESK, STAFF
from shopdocs.rest.views import ScopedView

from .answers import file_answer
from .printing import CannotPrint


class DocumentOut(serializers.ModelSerializer[Document]):
    """A paper. `sha256` and `pages` appear when it is drawn; `problem` says why it is not.

    `cannot_print` is known at once, from what the paper is asked to show; `replaced` are the characters of the drawn one.
    `signed_sha256` is that of the signed copy, a file of its own: null where nobody asked for one.
    """

    sha256 = serializers.CharField(source="pdf.sha256", default=None, read_only=True)
    signed_sha256 = serializers.CharField(source="signed.sha256", default=None, read_only=True)

    cannot_print = CannotPrint(lambda row: row.sheet)

    class Meta:
        model = Document
        fields = (
            "id", "kind", "subject", "number", "title", "state", "attempts", "problem", "pages", "replaced", "cannot_print",
            "sheet_sha256", "sha256", "signed_sha256", "created_at", "done_at",
        )  # fmt: skip
        read_only_fields = fields


class LetterOut(serializers.ModelSerializer[Letter]):
    """A letter and whether it went out. The body is told only by the sent message. `cannot_print` is about its papers."""

    documents: serializers.PrimaryKeyRelatedField[Document] = serializers.PrimaryKeyRelatedField(
        many=True, read_only=True
    )
    sha256 = serializers.CharField(source="sent_bytes.sha256", default=None, read_only=True)
    cannot_print = CannotPrint(lambda row: {paper.title: paper.sheet for paper in row.documents.all()})

    class Meta:
        model = Letter
        fields = (
            "id", "kind", "subject", "to_address", "to_name", "heading", "state", "attempts", "problem",
            "message_id", "documents", "cannot_print", "sha256", "created_at", "done_at",
        )  # fmt: skip
        read_only_fields = fields


class Documents(mixins.ListModelMixin, mixins.RetrieveModelMixin, ScopedView):
    model = Document
    needs = {
        "list": STAFF, "retrieve": STAFF, "pdf": STAFF, "try_again": STAFF, "sign": COUNTER_OR_DESK, "signed": STAFF,
    }  # fmt: skip
    select = ("pdf", "signed")
    serializer_class = DocumentOut
    filterset_fields = ("subject", "kind", "state", "number")

    @extend_schema(operation_id="documents_pdf", responses={(200, "application/pdf"): OpenApiTypes.BINARY})
    @action(detail=True)
    def pdf(self, request: Request, pk: str) -> HttpResponse | Response:
        """The paper as it was drawn once: the same bytes every time."""
        document = self.get_object()
        return file_answer(request, document.pdf, f"{document.kind}-{document.number}.pdf", read_file)

    @extend_schema(request=None, responses=DocumentOut)
    @action(detail=True, methods=["post"])
    def sign(self, request: Request, pk: str) -> Response:
        """Makes the copy signed by the certificate of this installation; made once, it stands. 409 where there is no certificate."""
        return Response(DocumentOut(sign_document(by=self.request.staff, document=self.get_object())).data)

    @extend_schema(operation_id="documents_signed", responses={(200, "application/pdf"): OpenApiTypes.BINARY})
    @action(detail=True)
    def signed(self, request: Request, pk: str) -> HttpResponse | Response:
        """The signed copy: the paper's own bytes, then the signature."""
        document = self.get_object()
        if document.signed is None:
            raise Missing("", "There is no signed copy of this paper.", "Ask for one first, with POST to sign/.")
        return file_answer(request, document.signed, f"{document.kind}-{document.number}-signed.pdf", read_file)

    @extend_schema(request=None, responses=DocumentOut)
    @action(detail=True, methods=["post"], url_path="try-again")
    def try_again(self, request: Request, pk: str) -> Response:
        """Another attempt at a stopped paper."""
        document = self.get_object()
        papers.try_again(document)
        return Response(DocumentOut(self.get_queryset().get(pk=document.pk)).data)


class Letters(mixins.ListModelMixin, mixins.RetrieveModelMixin, ScopedView):
    model = Letter
    needs = {"list": STAFF, "retrieve": STAFF, "message": COUNTER_OR_DESK, "try_again": COUNTER_OR_DESK}
    select = ("sent_bytes",)
    prefetch = ("documents",)
    serializer_class = LetterOut
    filterset_fields = ("subject", "kind", "state")

    @extend_schema(operation_id="letters_message", responses={(200, "message/rfc822"): OpenApiTypes.BINARY})
    @action(detail=True)
    def message(self, request: Request, pk: str) -> HttpResponse | Response:
        """The message as it was sent, byte for byte."""
        letter = self.get_object()
        return file_answer(request, letter.sent_bytes, "letter.eml", read_file)

    @extend_schema(request=None, responses=LetterOut)
    @action(detail=True, methods=["post"], url_path="try-again")
    def try_again(self, request: Request, pk: str) -> Response:
        """Another attempt at a stopped letter, after somebody looked."""
        letter = self.get_object()
        letters.try_again(letter)
        return Response(LetterOut(self.get_queryset().get(pk=letter.pk)).data)
