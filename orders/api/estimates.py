"""Doors to estimates: the next frozen version, sending it, and the customer's answers."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.exceptions import APIException
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Answer, AnswerLink, Estimate, RefusalChoice, RepairOrder
from orders.services.answers import answer_by_link, take_answers, waiting_jobs
from orders.services.binding_laws import law_notes
from orders.services.certificates import runs_out_for
from orders.services.estimates import issue_estimate, send_estimate
from orders.services.explained_estimate import figures_of_version
from orders.services.given import BY_STAFF
from orders.services.links import answerable, language_at, open_link, photo_behind, spoken_at
from shopdocs.documents.api.answers import file_answer
from shopdocs.documents.api.opened import OnPaper
from shopdocs.documents.api.printing import of_paper
from shopdocs.documents.services.files import read_file
from shopdocs.documents.services.papers import sheet_digest
from shopdocs.rest.parsers import StrictJSONParser
from shopdocs.rest.refusals import Say
from shopdocs.rest.roles import ANYONE, COUNTER, STAFF
from shopdocs.rest.serializers import Amount, Line, Moment, Strict, Text
from shopdocs.rest.views import ScopedView

from .answer_page import HEADERS as PAGE_HEADERS
from .answer_page import AnswerForm, AnswerHtml, Typed, answered_page, estimate_page, refused_page
from .fields import Flag, FrontView, Mail, optional_line
from .invoice_shapes import FigureOut
from .job_forms import AnswerOut
from .money import Money


class SendIn(Strict):
    """`email` replaces the customer's address for this letter."""

    email = Mail()


class ChoiceIn(Strict):
    """What happens if the claim is refused; `up_to` (tax included) with 'pay_up_to' only."""

    choice = serializers.ChoiceField(choices=RefusalChoice.Choice.choices)
    up_to = Amount(required=False, allow_null=True)


class JobAnswerIn(Strict):
    """Without `if_refused` nothing of a warranty job ever moves to the customer."""

    job = serializers.UUIDField()
    accepted = Flag()
    if_refused = ChoiceIn(required=False, allow_null=True)


class GivenIn(Strict):
    """How the customer's word was given. By telephone: number, time, and that it was read back.

    In person: `signature` (the id of one drawn on a screen), or in `words` where the signed paper is.
    """

    channel = serializers.ChoiceField(choices=BY_STAFF)
    said_by = Line(max_length=200)
    words = Text(required=False, allow_blank=True, max_length=2000)
    signature = serializers.UUIDField(required=False, allow_null=True)
    phone_number = optional_line(max_length=60)
    called_at = Moment(required=False, allow_null=True)
    read_back = Flag(required=False)


class StaffAnswersIn(GivenIn):
    """What the customer said, job by job. `consent`: the version of the words on electronic records agreed to."""

    consent = optional_line(max_length=20)
    answers = serializers.ListField(child=JobAnswerIn(), max_length=200)
    options = serializers.ListField(child=serializers.UUIDField(), max_length=20, required=False)


class LinkAnswersIn(Strict):
    """The customer's own answer: every job that waits for one, accepted or declined, once.

    `options`: ids of the ways chosen; each accepts its jobs and declines those of the other ways of its group.
    `estimate_sha256` and `consent` name what was shown: the estimate, and the words on electronic records.
    """

    said_by = Line(max_length=200)
    words = Text(required=False, allow_blank=True, max_length=2000)
    answers = serializers.ListField(child=JobAnswerIn(), max_length=200)
    options = serializers.ListField(child=serializers.UUIDField(), max_length=20, required=False)
    consent = optional_line(max_length=20)
    estimate_sha256 = optional_line(max_length=64)


class EstimateOut(serializers.ModelSerializer[Estimate]):
    """One frozen version. `facts` holds all that was priced and shown."""

    total = Money()
    customer_total = Money()
    answers = AnswerOut(many=True, read_only=True)
    facts = serializers.JSONField(read_only=True)
    law_notes = serializers.SerializerMethodField()
    exemption_runs_out = serializers.SerializerMethodField()
    cannot_print = of_paper()

    class Meta:
        model = Estimate
        fields = [
            "id", "version", "order", "number", "edition", "issued_on", "valid_until", "total", "customer_total",
            "replaced_by", "document", "letter", "answers", "cannot_print", "facts", "law_notes",
            "exemption_runs_out",
        ]  # fmt: skip
        read_only_fields = fields

    def get_law_notes(self, estimate: Estimate) -> list[str]:
        """For the staff: what a law asks for beside this estimate, or that we know of none."""
        return law_notes(estimate.order, estimate.customer_total)

    def get_exemption_runs_out(self, estimate: Estimate) -> str:
        """For the staff, as of today: that the customer's certificate of tax exemption runs out, or has; '' where it does not."""
        return runs_out_for(estimate)


NOT_LISTED = ("facts", "law_notes", "exemption_runs_out", "cannot_print")


class EstimateListed(EstimateOut):
    class Meta(EstimateOut.Meta):
        fields = [name for name in EstimateOut.Meta.fields if name not in NOT_LISTED]
        read_only_fields = fields

    facts = None  # type: ignore[assignment]
    law_notes = None  # type: ignore[assignment]
    exemption_runs_out = None  # type: ignore[assignment]
    cannot_print = None  # type: ignore[assignment]


class BackEstimates(FrontView):
    """What both doors to estimates share."""

    model = Estimate
    queryset = Estimate.objects.none()
    serializer_class = EstimateOut
    select = ("order__shop", "order__customer", "order__unit")
    prefetch = ("answers__estimate",)
    order = ("-issued_on", "-edition", "id")

    def get_serializer_class(self) -> Any:
        return EstimateListed if self.action == "list" else EstimateOut


class OrderEstimatesView(mixins.ListModelMixin, BackEstimates):
    needs = {"list": STAFF, "create": COUNTER}

    def get_queryset(self) -> QuerySet[Any]:
        rows = super().get_queryset()
        if getattr(self, "swagger_fake_view", False):
            return rows
        self.mine(RepairOrder, self.kwargs["order_id"])
        return rows.filter(order=self.kwargs["order_id"])

    @extend_schema(operation_id="orders_estimates_create", request=None, responses={201: EstimateOut})
    def create(self, request: Request, order_id: UUID) -> Response:
        """Prices and freezes the next version. 409 naming the version that says the same already, where one still stands."""
        return self.shown(issue_estimate(**self.caller, order_id=order_id), new=True)

    @extend_schema(operation_id="orders_estimates_list")
    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """The versions of the order's estimate."""
        return super().list(request, *args, **kwargs)


class EstimateView(OnPaper, mixins.ListModelMixin, mixins.RetrieveModelMixin, BackEstimates):
    filterset_fields = ("order", "number")
    paper = "Estimate"
    needs = {"list": STAFF, "retrieve": STAFF, "send": COUNTER, "answers": COUNTER, "how": STAFF}

    @extend_schema(responses=FigureOut(many=True))
    @action(detail=True, methods=["get"], filter_backends=[], pagination_class=None)
    def how(self, request: Request, pk: UUID) -> Response:
        """How every figure of this version came about, frozen with it; the steps of each add up to it."""
        return Response(FigureOut(figures_of_version(self.get_object()), many=True).data)

    @extend_schema(request=SendIn, responses=EstimateOut)
    @action(detail=True, methods=["post"])
    def send(self, request: Request, pk: UUID) -> Response:
        """Sends the version to the customer with a link that takes one answer."""
        return self.shown(send_estimate(**self.caller, estimate_id=pk, **self.given(SendIn)))

    @extend_schema(request=StaffAnswersIn, responses=EstimateOut)
    @action(detail=True, methods=["post"])
    def answers(self, request: Request, pk: UUID) -> Response:
        """Writes down what the customer said in person or by telephone."""
        return self.shown(take_answers(**self.caller, estimate_id=pk, **self.given(StaffAnswersIn)))


class GivenAnswer(serializers.ModelSerializer[Answer]):
    class Meta:
        model = Answer
        fields = ["job", "accepted", "option", "agreed_words", "said_by", "at"]


class AnswerPage(serializers.Serializer[Any]):
    """What the customer sees: the estimate as it was frozen, with its SHA-256, and their answers so far.

    In the estimate stand the words: `agreement`, each job's `agree` and `if_refused`, and `consent` with its version.
    """

    answered = serializers.BooleanField()
    expires_at = serializers.DateTimeField()
    estimate = serializers.JSONField()
    estimate_sha256 = serializers.CharField()
    answers = GivenAnswer(many=True)


def page_of(link: AnswerLink) -> dict[str, Any]:
    rows = Answer.objects.for_shop(link.shop).filter(estimate=link.estimate).order_by("job__number")
    return {
        "answered": link.used_at is not None,
        "expires_at": link.expires_at,
        "estimate": link.estimate.facts,
        "estimate_sha256": sheet_digest(link.estimate.facts),
        "answers": rows,
    }


ANSWERED = {(200, "application/json"): AnswerPage}
TOKEN = OpenApiParameter("token", OpenApiTypes.STR, OpenApiParameter.PATH, description="out of the letter")


class BehindLink(ScopedView):
    """No sign-in: the link's secret says whose estimate it is. Whoever is signed in makes no difference.

    Every refusal is said in the language of the estimate: the customer reads it.
    """

    model = AnswerLink
    queryset = AnswerLink.objects.none()
    authentication_classes = ()

    @staticmethod
    def speaks(request: HttpRequest, token: str, **more: Any) -> Say:
        return spoken_at(token, request.headers.get("Accept-Language", ""))


class AnswerView(BehindLink):
    """The estimate behind the link, and the answer to it: for programs, and as a page with a form for browsers."""

    serializer_class = AnswerPage
    needs = {"retrieve": ANYONE, "create": ANYONE}
    parser_classes = (StrictJSONParser, AnswerForm)
    read: AnswerLink | None = None

    def get_renderers(self) -> list[Any]:
        """JSON unless a page is asked for first; the API description is of JSON alone."""
        pages = [] if getattr(self, "swagger_fake_view", False) else [AnswerHtml()]
        return [JSONRenderer(), *pages]

    @extend_schema(operation_id="answer_look", parameters=[TOKEN], responses=ANSWERED, auth=[])
    def retrieve(self, request: Request, token: str) -> Response:
        """The estimate, exactly as it was frozen."""
        return self._page(open_link(token=token))

    @extend_schema(
        operation_id="answer_give", parameters=[TOKEN], request={"application/json": LinkAnswersIn}, responses=ANSWERED,
        auth=[],
    )  # fmt: skip
    def create(self, request: Request, token: str) -> Response:
        """Accepts or declines job by job, once."""
        return self._page(answer_by_link(token=token, **self.given(LinkAnswersIn)))

    def _page(self, link: AnswerLink) -> Response:
        # The address is a secret: no cache keeps the page, and no link on it tells where it was.
        headers = {"Cache-Control": "no-store", "Referrer-Policy": "no-referrer"}
        self.read = link
        return Response(AnswerPage(page_of(link)).data, headers=headers)

    def finalize_response(self, request: Request, response: Any, *args: Any, **kwargs: Any) -> Any:
        """As ever; a page says so, whatever a refusal is for programs."""
        made = super().finalize_response(request, response, *args, **kwargs)
        if isinstance(getattr(request, "accepted_renderer", None), AnswerHtml):
            made.content_type = "text/html; charset=utf-8"
            for name, value in PAGE_HEADERS.items():
                made[name] = value
        return made

    def page_for(self, request: Request, data: dict[str, Any], status: int) -> str:
        """The page of an answer of this view, refusals among them: where the form can be sent again, it keeps what was typed."""
        typed = Typed()
        if self.read is None:
            typed = Typed(_typed(request), data["errors"])
            self.read = answerable(self.kwargs["token"]) if request.method == "POST" and status in (400, 409) else None
        if self.read is None:
            return refused_page(language_at(self.kwargs["token"], request.headers.get("Accept-Language", "")), data)
        link = self.read
        if link.used_at is not None:
            return answered_page(link.estimate.facts, data["answers"])
        waiting = {str(job.pk) for job in waiting_jobs(link.estimate)}
        return estimate_page(link.estimate.facts, sheet_digest(link.estimate.facts), waiting, typed)


def _typed(request: Request) -> dict[str, Any]:
    """What was sent with the form; nothing where it could not be read."""
    try:
        return request.data if isinstance(request.data, dict) else {}
    except APIException:
        return {}


class AnswerPhotoView(BehindLink):
    """A photo of the estimate behind the link: the copy that papers print, for whoever holds the link."""

    needs = {"retrieve": ANYONE}

    @extend_schema(
        operation_id="answer_photo", parameters=[TOKEN], responses={(200, "image/jpeg"): OpenApiTypes.BINARY}, auth=[]
    )
    def retrieve(self, request: Request, token: str, sha256: str) -> HttpResponse:
        """A photo that stands on this version, by its SHA-256."""
        answer = file_answer(request, photo_behind(token=token, sha256=sha256), f"photo-{sha256[:12]}.jpg", read_file)
        answer["Cache-Control"], answer["Referrer-Policy"] = "no-store", "no-referrer"
        return answer
