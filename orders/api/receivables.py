"""Doors to the books: who owes what on any day, and statements."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal
from typing import Any
from uuid import UUID

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import Customer, Distributor, Invoice
from orders.rules.receivables import COLUMNS as AGES
from orders.services.receivables import PAYERS, Owed, PayerStanding, owed, receivables_on
from orders.services.statements import (
    KIND,
    Statement,
    paper_of,
    request_statement,
    send_statement,
    statement_explained,
    statement_of,
)
from shopdocs.documents.api.opened import OnPaper
from shopdocs.documents.api.papers import DocumentOut, LetterOut
from shopdocs.documents.models import Document
from shopdocs.money import Step
from shopdocs.rest.roles import COUNTER_OR_DESK, STAFF
from shopdocs.rest.serializers import Day, Line, Strict

from .fields import FrontView, Mail
from .invoice_shapes import FigureOut, StepOut
from .money import Money

COLUMNS = (*AGES, "overdue", "total")


class ReceivablesIn(Strict):
    as_of = Day(required=False)
    kind = serializers.ChoiceField(choices=PAYERS, required=False)
    payer = serializers.UUIDField(required=False)


class PeriodIn(Strict):
    """A period of a statement; from the first of this month to today unless said."""

    since = Day(required=False)
    until = Day(required=False)


class AskedIn(PeriodIn):
    """A period, or the number of a paper that was made: then its period, as the books stand by now."""

    number = Line(max_length=40, required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if "number" in attrs and len(attrs) > 1:
            told = ErrorDetail("A statement has a number or a period. Leave one of the two out.", "number")
            raise serializers.ValidationError({"number": [told]})
        return attrs


class StatementSendIn(PeriodIn):
    """`email` replaces the address of the customer or distributor for this letter."""

    email = Mail()


class PayerOut(serializers.Serializer[Any]):
    kind = serializers.ChoiceField(choices=PAYERS, read_only=True)
    id = serializers.UUIDField(read_only=True)
    name = serializers.CharField(read_only=True)


class OpenOut(serializers.Serializer[Any]):
    """An open document. `days_over`: since how many days it is due; `due_known` false: counted from its own day."""

    kind = serializers.CharField(read_only=True)
    record = serializers.UUIDField(read_only=True)
    number = serializers.CharField(read_only=True)
    issued_on: Any = serializers.DateField(read_only=True)
    due_on: Any = serializers.DateField(read_only=True)
    due_known = serializers.BooleanField(read_only=True)
    days_over = serializers.IntegerField(read_only=True)
    asked = Money()
    open = Money()


class PayerStandingOut(serializers.Serializer[Any]):
    """What one payer owes: by age, and asked = paid + credited + written_off + open. `unknown`: amounts not known."""

    payer = PayerOut(read_only=True)
    not_due = Money()
    to_30 = Money()
    to_60 = Money()
    to_90 = Money()
    over_90 = Money()
    held = Money()
    overdue = Money()
    total = Money()
    asked = Money()
    paid = Money()
    credited = Money()
    written_off = Money()
    open = Money()
    steps = StepOut(many=True, read_only=True)
    items = OpenOut(many=True, read_only=True)
    unknown = OpenOut(many=True, read_only=True)


class ReceivablesOut(serializers.Serializer[Any]):
    """Everybody who owes the shop on a day, the largest first, and the sums over all of them."""

    as_of: Any = serializers.DateField(read_only=True)
    currency = serializers.CharField(read_only=True)
    payers = PayerStandingOut(many=True, read_only=True)
    not_due = Money()
    to_30 = Money()
    to_60 = Money()
    to_90 = Money()
    over_90 = Money()
    held = Money()
    overdue = Money()
    total = Money()


class EntryOut(serializers.Serializer[Any]):
    """A movement: asked or received, and what is open after it."""

    on: Any = serializers.DateField(read_only=True)
    title = serializers.CharField(read_only=True)
    words = serializers.CharField(read_only=True)
    asked: Any = Money(allow_null=True)
    received: Any = Money(allow_null=True)
    balance = Money()


class StatementOut(serializers.Serializer[Any]):
    """carried + asked - received = open; `entries` one by one, `items` still open; `held`, zero or below, counts in `open` alone."""

    payer = PayerOut(read_only=True)
    since: Any = serializers.DateField(read_only=True)
    until: Any = serializers.DateField(read_only=True)
    currency = serializers.CharField(read_only=True)
    carried = Money()
    entries = EntryOut(many=True, read_only=True)
    asked = Money()
    received = Money()
    open = Money()
    overdue = Money()
    held = Money()
    steps = StepOut(many=True, read_only=True)
    items = OpenOut(many=True, read_only=True)
    unknown = OpenOut(many=True, read_only=True)


def open_facts(rows: Sequence[Owed], day: dt.date) -> list[dict[str, Any]]:
    """Open documents as the doors tell them."""
    return [
        {
            "kind": one.kind, "record": one.record, "number": one.item.number, "issued_on": one.item.issued,
            "due_on": one.item.due, "due_known": one.due_known, "asked": one.item.asked_on(day),
            "days_over": max((day - one.item.due).days, 0) if one.item.open_on(day) > 0 else 0,
            "open": one.item.open_on(day),
        }
        for one in rows
    ]  # fmt: skip


def step_facts(steps: Sequence[Step]) -> list[dict[str, Any]]:
    return [{"text": step.text, "amount": step.amount} for step in steps]


def standing_facts(one: PayerStanding, day: dt.date) -> dict[str, Any]:
    books = one.reconciled
    return {
        "payer": one.payer,
        **{name: getattr(one.ageing, name) for name in COLUMNS},
        **{name: getattr(books, name) for name in ("asked", "paid", "credited", "written_off", "open")},
        "steps": step_facts(books.steps),
        "items": open_facts(one.open, day),
        "unknown": open_facts(one.unknown, day),
    }


class ReceivablesView(FrontView):
    """Who owes the shop what."""

    model = Invoice
    queryset = Invoice.objects.none()
    serializer_class = ReceivablesOut
    query_parameters = ("as_of", "kind", "payer")
    pagination_class = None
    filter_backends = []
    needs = {"list": STAFF}

    @extend_schema(
        operation_id="receivables",
        responses=ReceivablesOut,
        parameters=[
            OpenApiParameter("as_of", dt.date, description="Today unless said; any day, past or to come."),
            OpenApiParameter("kind", str, enum=PAYERS, description="Only customers, or only distributors."),
            OpenApiParameter("payer", UUID, description="Only this customer or distributor; needs `kind`."),
        ],
    )
    def list(self, request: Request) -> Response:
        """What is owed at the end of a day, by payer and by age (not due, overdue by 30, 60, 90 days, longer)."""
        asked = ReceivablesIn(data=request.query_params.dict())
        asked.is_valid(raise_exception=True)
        given = asked.validated_data
        shop = self.caller["shop"]
        day, kind = given.get("as_of") or shop.today(), given.get("kind", "")
        if "payer" in given:
            if not kind:
                raise serializers.ValidationError({"kind": "Say of which kind the payer is."})
            self.mine(Customer if kind == "customer" else Distributor, given["payer"], "payer")
        rows = owed(shop, f"{kind}:{given['payer']}" if "payer" in given else "")
        found = [one for one in receivables_on(rows, day) if not kind or one.payer.kind == kind]
        sums = {name: sum((getattr(one.ageing, name) for one in found), Decimal(0)) for name in COLUMNS}
        told = {
            "as_of": day, "currency": shop.currency, "payers": [standing_facts(one, day) for one in found], **sums,
        }  # fmt: skip
        return Response(ReceivablesOut(told, context=self.get_serializer_context()).data)


def statement_facts(made: Statement) -> dict[str, Any]:
    found = made.account
    return {
        "payer": made.payer, "since": found.since, "until": found.until, "currency": made.record.shop.currency,
        "carried": found.carried, "entries": found.lines, "asked": found.asked, "received": found.received,
        "open": found.open, "overdue": found.overdue, "held": found.held, "steps": step_facts(found.steps),
        "items": open_facts(made.open, found.until), "unknown": open_facts(made.unknown, found.until),
    }  # fmt: skip


class StatementView(OnPaper, FrontView):
    """The statement of one customer or distributor."""

    model: Any = Customer
    queryset: Any = Customer.objects.none()
    serializer_class = StatementOut
    query_parameters = ("since", "until", "number")
    opens, paper = "list", "Statement"
    whose = "customer"
    pagination_class = None
    filter_backends = []
    needs = {"list": STAFF, "how": STAFF, "create": COUNTER_OR_DESK, "send": COUNTER_OR_DESK}
    period = [
        OpenApiParameter("since", dt.date, description="The first of this month unless said."),
        OpenApiParameter("until", dt.date, description="Today unless said; never later."),
        OpenApiParameter("number", str, description="Of a paper that was made: its period, instead of another."),
    ]

    def asked(self, pk: UUID) -> dict[str, Any]:
        return {"shop": self.caller["shop"], self.whose: pk}

    def period_of(self, request: Request, pk: UUID) -> dict[str, Any]:
        given = AskedIn(data=request.query_params.dict())
        given.is_valid(raise_exception=True)
        asked: dict[str, Any] = given.validated_data
        if "number" in asked:
            sheet = paper_of(self.caller["shop"], f"{self.whose}:{pk}", asked["number"]).sheet
            asked = {name: dt.date.fromisoformat(sheet[name]) for name in ("since", "until")}
        return asked

    def number_of(self, row: Any, request: Any) -> str:
        papers = Document.objects.for_shop(row.shop).filter(kind=KIND, subject=f"{self.whose}:{row.pk}")
        asked = request.query_params.get("number", "")
        return asked if papers.filter(number=asked).exists() else ""

    @extend_schema(responses=StatementOut, parameters=period)
    def list(self, request: Request, pk: UUID) -> Response:
        """What was asked and received over a period, and what is still open."""
        made = statement_of(**self.asked(pk), **self.period_of(request, pk))
        return Response(StatementOut(statement_facts(made), context=self.get_serializer_context()).data)

    @extend_schema(responses=FigureOut(many=True), parameters=period)
    def how(self, request: Request, pk: UUID) -> Response:
        """How every figure of the statement came about: carried over, each movement, each open document, and its age."""
        made = statement_of(**self.asked(pk), **self.period_of(request, pk))
        return Response(FigureOut(statement_explained(made), many=True).data)

    @extend_schema(request=PeriodIn, responses={201: DocumentOut})
    def create(self, request: Request, pk: UUID) -> Response:
        """Asks for the statement's paper, as the books stand now."""
        document = request_statement(**self.asked(pk), by=self.caller["by"], **self.given(PeriodIn))
        return Response(DocumentOut(document).data, status=201)

    @extend_schema(request=StatementSendIn, responses={201: LetterOut})
    def send(self, request: Request, pk: UUID) -> Response:
        """Sends the statement with its paper."""
        letter = send_statement(**self.asked(pk), by=self.caller["by"], **self.given(StatementSendIn))
        return Response(LetterOut(letter).data, status=201)


class DistributorStatementView(StatementView):
    """The statement of one distributor: claims, credits and what was settled otherwise."""

    model = Distributor
    queryset = Distributor.objects.none()
    whose = "distributor"
