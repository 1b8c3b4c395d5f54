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

from orders.models import Invoice, Payment, RepairOrder
from orders.services.finishing import finish_order
from orders.services.invoices import issue_invoice, send_invoice
from orders.services.papers import SHEETS, request_order_paper
from orders.services.payments import MEANS, record_payment
from shopdocs.documents.api.papers import DocumentOut
from shopdocs.rest.roles import COUNTER_OR_BENCH, COUNTER_OR_DESK, STAFF
from shopdocs.rest.serializers import Amount, Day, Strict

from .estimates import SendIn
from .fields import FrontView, optional_line
from .money import Money
from .orders import OrderOut


class InvoiceIn(Strict):
    due_days = serializers.IntegerField(required=False, min_value=0, max_value=365)


class PaymentIn(Strict):
    """Money that came in. `reference`: a receipt or transfer number, never a card number."""

    amount = Amount()
    means = serializers.ChoiceField(choices=MEANS)
    reference = optional_line(max_length=100)
    received_on = Day(required=False)


class PaymentOut(serializers.ModelSerializer[Payment]):
    amount = Money()

    class Meta:
        model = Payment
        fields = ["id", "invoice", "amount", "received_on", "means", "reference"]
        read_only_fields = fields


class InvoiceOut(serializers.ModelSerializer[Invoice]):
    """A frozen invoice, with what was paid on it and what is open."""

    total = Money()
    paid = serializers.SerializerMethodField()
    balance = serializers.SerializerMethodField()
    payments = PaymentOut(many=True, read_only=True)
    facts = serializers.JSONField(read_only=True)

    class Meta:
        model = Invoice
        fields = [
            "id", "version", "order", "number", "issued_on", "due_on", "total", "paid", "balance", "document", "letter",
            "payments", "facts",
        ]  # fmt: skip
        read_only_fields = fields

    def _money(self, amount: Any) -> str:
        field = Money()
        field._context = self.context  # type: ignore[attr-defined]
        return field.to_representation(amount)

    def get_paid(self, invoice: Invoice) -> str:
        return self._money(sum((row.amount for row in invoice.payments.all()), start=invoice.total * 0))

    def get_balance(self, invoice: Invoice) -> str:
        return self._money(invoice.total - sum(row.amount for row in invoice.payments.all()))


class BackInvoices(FrontView):
    """What both doors to invoices share."""

    model = Invoice
    queryset = Invoice.objects.none()
    serializer_class = InvoiceOut
    prefetch = ("payments",)
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


class InvoiceView(mixins.ListModelMixin, mixins.RetrieveModelMixin, BackInvoices):
    filterset_fields = ("order", "number")
    needs = {"list": STAFF, "retrieve": STAFF, "send": COUNTER_OR_DESK, "payments": COUNTER_OR_DESK}

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
