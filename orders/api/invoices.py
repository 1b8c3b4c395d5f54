"""Doors to invoices and payments, and to the end of an order's work."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from orders.models import CreditNote, Invoice, Payment, RepairOrder
from orders.services.credits import issue_credit_note, send_credit_note
from orders.services.explained import balance_explained
from orders.services.finishing import finish_order
from orders.services.invoice_lines import charged_lines, lines_of
from orders.services.invoices import issue_invoice, send_invoice
from orders.services.papers import SHEETS, request_order_paper
from orders.services.payments import record_deposit, record_payment, record_refund, refund_deposit
from orders.services.write_offs import write_off
from shopdocs.documents.api.opened import OnPaper
from shopdocs.documents.api.papers import DocumentOut
from shopdocs.rest.roles import COUNTER_OR_BENCH, COUNTER_OR_DESK, DESK, STAFF
from shopdocs.rest.serializers import Strict

from .estimates import SendIn
from .fields import FrontView
from .invoice_shapes import (
    CreditNoteIn,
    CreditNoteOut,
    FigureOut,
    InvoiceIn,
    InvoiceOut,
    InvoiceRow,
    LineOut,
    PaymentIn,
    PaymentOut,
    RefundIn,
    WriteOffIn,
)
from .orders import OrderOut


class BackInvoices(FrontView):
    """What both doors to invoices share."""

    model = Invoice
    queryset = Invoice.objects.none()
    serializer_class = InvoiceOut
    select = ("shop",)
    prefetch = ("payments__by", "credit_notes", "write_offs__by")
    order = ("-issued_on", "-number", "id")


class OrderInvoicesView(mixins.ListModelMixin, BackInvoices):
    needs = {"list": STAFF, "create": COUNTER_OR_DESK}

    def get_queryset(self) -> QuerySet[Any]:
        rows = super().get_queryset()
        if getattr(self, "swagger_fake_view", False):
            return rows
        self.mine(RepairOrder, self.kwargs["order_id"])
        return rows.filter(order=self.kwargs["order_id"])

    @extend_schema(operation_id="orders_invoices_create", request=InvoiceIn, responses={201: InvoiceOut})
    def create(self, request: Request, order_id: UUID) -> Response:
        """Bills the customer for the done jobs they pay; an order is billed once."""
        return self.shown(issue_invoice(**self.caller, order_id=order_id, **self.given(InvoiceIn)), new=True)

    @extend_schema(operation_id="orders_invoices_list")
    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """The order's invoice, if it was billed."""
        return super().list(request, *args, **kwargs)


class InvoiceView(OnPaper, mixins.ListModelMixin, mixins.RetrieveModelMixin, BackInvoices):
    filterset_fields = ("order", "number")
    paper = "Invoice"
    needs = {
        "list": STAFF, "retrieve": STAFF, "send": COUNTER_OR_DESK, "payments": COUNTER_OR_DESK, "refunds": DESK,
        "write_offs": DESK, "lines": STAFF, "how": STAFF, "credit_notes": DESK,
    }  # fmt: skip

    def get_serializer_class(self) -> Any:
        return InvoiceRow if self.action == "list" else InvoiceOut

    @extend_schema(request=SendIn, responses=InvoiceOut)
    @action(detail=True, methods=["post"])
    def send(self, request: Request, pk: UUID) -> Response:
        """Sends the invoice with its paper."""
        return self.shown(send_invoice(**self.caller, invoice_id=pk, **self.given(SendIn)))

    @extend_schema(request=PaymentIn, responses={201: InvoiceOut})
    @action(detail=True, methods=["post"])
    def payments(self, request: Request, pk: UUID) -> Response:
        """Records money that came in."""
        record_payment(**self.caller, invoice_id=pk, **self.given(PaymentIn))
        return self.shown(self.get_object(), new=True)

    @extend_schema(request=RefundIn, responses={201: InvoiceOut})
    @action(detail=True, methods=["post"])
    def refunds(self, request: Request, pk: UUID) -> Response:
        """Gives money back: never more than was paid."""
        record_refund(**self.caller, invoice_id=pk, **self.given(RefundIn))
        return self.shown(self.get_object(), new=True)

    @extend_schema(request=WriteOffIn, responses={201: InvoiceOut})
    @action(detail=True, methods=["post"], url_path="write-offs")
    def write_offs(self, request: Request, pk: UUID) -> Response:
        """Writes off what is no longer expected; who did it and why is kept."""
        write_off(**self.caller, invoice_id=pk, **self.given(WriteOffIn))
        return self.shown(self.get_object(), new=True)

    @extend_schema(responses=LineOut(many=True))
    @action(detail=True, methods=["get"], filter_backends=[], pagination_class=None)
    def lines(self, request: Request, pk: UUID) -> Response:
        """The lines that the customer was charged, and what can still be taken back of each."""
        invoice = self.get_object()
        printed = {line.key: line for line in lines_of(invoice.facts)}
        rows = [
            {
                "key": one.key, "job": printed[one.key].job, "code": printed[one.key].code,
                "words": printed[one.key].words, "amount": one.amount, "credited": one.credited, "left": one.left,
            }
            for one in charged_lines(invoice)
        ]  # fmt: skip
        return Response(LineOut(rows, many=True, context=self.get_serializer_context()).data)

    @extend_schema(responses=FigureOut(many=True))
    @action(detail=True, methods=["get"], filter_backends=[], pagination_class=None)
    def how(self, request: Request, pk: UUID) -> Response:
        """How every figure of the invoice came about, and what is open now; the steps of each add up to it."""
        invoice = self.get_object()
        return Response(FigureOut([*invoice.facts["figures"], *balance_explained(invoice)], many=True).data)

    @extend_schema(request=CreditNoteIn, responses={201: CreditNoteOut})
    @action(detail=True, methods=["post"], url_path="credit-notes")
    def credit_notes(self, request: Request, pk: UUID) -> Response:
        """Takes back all of the invoice, or lines of it, with the tax in it."""
        note = issue_credit_note(**self.caller, invoice_id=pk, **self.given(CreditNoteIn))
        return Response(CreditNoteOut(note, context=self.get_serializer_context()).data, status=201)


class CreditNoteView(OnPaper, mixins.ListModelMixin, mixins.RetrieveModelMixin, FrontView):
    """Credit notes, each against an invoice."""

    model = CreditNote
    queryset = CreditNote.objects.none()
    serializer_class = CreditNoteOut
    select = ("invoice", "by")
    order = ("-issued_on", "-number", "id")
    filterset_fields = ("invoice", "number")
    paper = "Credit note"
    needs = {"list": STAFF, "retrieve": STAFF, "send": COUNTER_OR_DESK, "how": STAFF}

    @extend_schema(responses=FigureOut(many=True))
    @action(detail=True, methods=["get"], filter_backends=[], pagination_class=None)
    def how(self, request: Request, pk: UUID) -> Response:
        """How every figure of the note came about. A note that is older than these lists has none."""
        return Response(FigureOut(self.get_object().facts.get("figures", ()), many=True).data)

    @extend_schema(request=SendIn, responses=CreditNoteOut)
    @action(detail=True, methods=["post"])
    def send(self, request: Request, pk: UUID) -> Response:
        """Sends the credit note with its paper."""
        return self.shown(send_credit_note(**self.caller, note_id=pk, **self.given(SendIn)))


class OrderMoneyView(mixins.ListModelMixin, FrontView):
    """Money taken on an order before it is billed, and given back."""

    model = Payment
    queryset = Payment.objects.none()
    serializer_class = PaymentOut
    select = ("by",)
    order = ("received_on", "created_at", "id")
    filter_backends = []
    needs = {"list": STAFF, "create": COUNTER_OR_DESK, "refund": DESK}

    def get_queryset(self) -> QuerySet[Any]:
        rows = super().get_queryset()
        if getattr(self, "swagger_fake_view", False):
            return rows
        self.mine(RepairOrder, self.kwargs["order_id"])
        return rows.filter(order=self.kwargs["order_id"])

    @extend_schema(operation_id="orders_deposits_list")
    def list(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Deposits of the order and what was given back of them; `invoice` says where they are counted."""
        return super().list(request, *args, **kwargs)

    @extend_schema(operation_id="orders_deposits_create", request=PaymentIn, responses={201: PaymentOut})
    def create(self, request: Request, order_id: UUID) -> Response:
        """Takes a deposit; the order's invoice counts it."""
        return self.shown(record_deposit(**self.caller, order_id=order_id, **self.given(PaymentIn)), new=True)

    @extend_schema(operation_id="orders_refunds_create", request=RefundIn, responses={201: PaymentOut})
    def refund(self, request: Request, order_id: UUID) -> Response:
        """Gives a deposit back, all or a part, while the order is not billed."""
        return self.shown(refund_deposit(**self.caller, order_id=order_id, **self.given(RefundIn)), new=True)


class OrderPaperIn(Strict):
    """Which paper of the order: the repair order unless said otherwise. With `signature` (id) it is the signed copy."""

    paper = serializers.ChoiceField(choices=list(SHEETS), required=False)
    signature = serializers.UUIDField(required=False, allow_null=True)


class OrderEndView(FrontView):
    """The end of an order's work, and its papers."""

    model = RepairOrder
    queryset = RepairOrder.objects.none()
    serializer_class = OrderOut
    needs = {"finish": COUNTER_OR_BENCH, "papers": STAFF}

    @extend_schema(operation_id="orders_finish", request=None, responses=OrderOut)
    def finish(self, request: Request, order_id: UUID) -> Response:
        """Closes the work; the answer lists every job that is in the way."""
        return self.shown(finish_order(**self.caller, order_id=order_id))

    @extend_schema(operation_id="orders_papers_create", request=OrderPaperIn, responses={201: DocumentOut})
    def papers(self, request: Request, order_id: UUID) -> Response:
        """Asks for the repair order as it stands now, its copy for the bench, or the summary for the customer."""
        document = request_order_paper(**self.caller, order_id=order_id, **self.given(OrderPaperIn))
        return Response(DocumentOut(document).data, status=201)
