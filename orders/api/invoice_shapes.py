"""What the doors to invoices and money take and tell."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from orders.models import CreditNote, Invoice, Payment, WriteOff
from orders.services.balances import standing
from orders.services.payments import MEANS
from orders.services.selectors import events_of
from shopdocs.documents.api.printing import of_paper
from shopdocs.rest.serializers import Amount, Day, Line, Strict

from .fields import Flag, optional_line
from .money import Money
from .orders import OrderEvent

MONEY_FIELDS = ["id", "kind", "invoice", "order", "amount", "received_on", "means", "reference", "why"]


class TaxConsentIn(Strict):
    """Who agreed to tax that came since the estimate (a certificate expired), and what they were told."""

    said_by = Line(max_length=200)
    channel = serializers.ChoiceField(choices=["in_person", "phone"])
    words = optional_line()


class InvoiceIn(Strict):
    due_days = serializers.IntegerField(required=False, min_value=0, max_value=365)
    tax_consent = TaxConsentIn(required=False, allow_null=True)


class PaymentIn(Strict):
    """Money that came in. `reference`: a receipt or transfer number, never a card number.

    The very same amount, means, day and reference a second time is refused unless `again` is true.
    """

    amount = Amount()
    means = serializers.ChoiceField(choices=MEANS)
    reference = optional_line(max_length=100)
    received_on = Day(required=False)
    again = Flag(required=False)


class RefundIn(Strict):
    """Money that is given back, and why. `again` as with a payment."""

    amount = Amount()
    means = serializers.ChoiceField(choices=MEANS)
    why = Line()
    reference = optional_line(max_length=100)
    paid_back_on = Day(required=False)
    again = Flag(required=False)


class WriteOffIn(Strict):
    """`amount`: all that is open, unless said."""

    reason = Line()
    amount = Amount(required=False)
    again = Flag(required=False)


class CreditLineIn(Strict):
    """A line of the invoice by its key (see invoices/{id}/lines/), and the amount before tax unless all of it.

    `quantity`: so many pieces of a part line came back; their charges and share of supplies go with them.
    """

    line = Line(max_length=80)
    amount = Amount(required=False)
    quantity = Amount(max_digits=9, required=False)


class CreditNoteIn(Strict):
    """Without `lines` all that is left of the invoice is taken back."""

    reason = Line(max_length=2000)
    lines = CreditLineIn(many=True, required=False)
    again = Flag(required=False)


class LineOut(serializers.Serializer[Any]):
    """A line of the invoice that can be taken back; amounts as printed. `left`: not yet taken back."""

    line = serializers.CharField(source="key", read_only=True)
    job = serializers.IntegerField(read_only=True)
    code = serializers.CharField(read_only=True)
    words = serializers.CharField(read_only=True)
    amount = Money()
    credited = Money()
    left = Money()


class StepOut(serializers.Serializer[Any]):
    """One step of how a figure came about."""

    text = serializers.CharField(read_only=True)
    amount: Any = Money(allow_null=True)


class ToldOut(serializers.Serializer[Any]):
    """One step of a figure. Its amount is the sum in `working` (plain digits, + - × ÷, brackets) after `rounding`; or the figure
    named by `of`; or `given` by somebody. `share_of`: it is one share of that figure by largest remainder, `among` which shares.
    """

    text = serializers.CharField(read_only=True)
    amount = serializers.CharField(read_only=True, allow_null=True)
    working = serializers.CharField(read_only=True)
    rounding = serializers.CharField(read_only=True)
    of = serializers.CharField(read_only=True)
    given = serializers.CharField(read_only=True)
    share_of = serializers.CharField(read_only=True)
    among = serializers.CharField(read_only=True)
    rule = serializers.CharField(read_only=True)


class FigureOut(serializers.Serializer[Any]):
    """A figure of the paper, such as 'line:ID', 'job:1', 'tax:NAME:PERCENT', 'total', 'balance': its steps add up to it.

    `unit` where it is no money: 'h', 'min'. Figures name each other in no circle.
    """

    figure = serializers.CharField(read_only=True)
    words = serializers.CharField(read_only=True)
    amount = serializers.CharField(read_only=True)
    unit = serializers.CharField(read_only=True)
    steps = ToldOut(many=True, read_only=True)


class CreditBrief(serializers.ModelSerializer[CreditNote]):
    total = Money()

    class Meta:
        model = CreditNote
        fields = ["id", "number", "issued_on", "total"]
        read_only_fields = fields


class CreditNoteOut(serializers.ModelSerializer[CreditNote]):
    """A frozen credit note against an invoice."""

    total = Money()
    invoice_number = serializers.CharField(source="invoice.number", read_only=True)
    by_name = serializers.CharField(source="by.shown_name", read_only=True)
    facts = serializers.JSONField(read_only=True)

    class Meta:
        model = CreditNote
        fields = [
            "id", "version", "invoice", "invoice_number", "number", "issued_on", "total", "document", "letter", "by_name",
            "created_at", "facts",
        ]  # fmt: skip
        read_only_fields = fields


class PaymentOut(serializers.ModelSerializer[Payment]):
    """`kind`: payment, deposit (taken before the invoice) or refund (given back). `invoice` null: not billed yet."""

    amount = Money()
    by_name = serializers.CharField(source="by.shown_name", read_only=True)

    class Meta:
        model = Payment
        fields = [*MONEY_FIELDS, "by_name", "created_at"]
        read_only_fields = fields


class WriteOffOut(serializers.ModelSerializer[WriteOff]):
    amount = Money()
    by_name = serializers.CharField(source="by.shown_name", read_only=True)

    class Meta:
        model = WriteOff
        fields = ["id", "amount", "written_on", "reason", "by_name", "created_at"]
        read_only_fields = fields


class InvoiceRow(serializers.ModelSerializer[Invoice]):
    """A frozen invoice and where its money stands: total = paid + credited + written_off + balance.

    `paid` holds deposits and is less what was given back; a `balance` below zero is the customer's money.
    """

    total = Money()
    paid = serializers.SerializerMethodField()
    credited = serializers.SerializerMethodField()
    written_off = serializers.SerializerMethodField()
    balance = serializers.SerializerMethodField()
    payments = PaymentOut(many=True, read_only=True)
    credit_notes = CreditBrief(many=True, read_only=True)
    write_offs = WriteOffOut(many=True, read_only=True)
    facts = serializers.JSONField(read_only=True)

    class Meta:
        model = Invoice
        fields: Any = [
            "id", "version", "order", "number", "issued_on", "due_on", "total", "paid", "credited", "written_off",
            "balance", "document", "letter", "payments", "credit_notes", "write_offs", "facts",
        ]  # fmt: skip
        read_only_fields: Any = fields

    def _money(self, amount: Any) -> str:
        field = Money()
        field._context = self.context  # type: ignore[attr-defined]
        return field.to_representation(amount)

    def get_paid(self, invoice: Invoice) -> str:
        return self._money(standing(invoice).paid)

    def get_credited(self, invoice: Invoice) -> str:
        return self._money(standing(invoice).credited)

    def get_written_off(self, invoice: Invoice) -> str:
        return self._money(standing(invoice).written_off)

    def get_balance(self, invoice: Invoice) -> str:
        return self._money(standing(invoice).open)


class InvoiceOut(InvoiceRow):
    """The invoice with its history: who did what with its money, when."""

    history = serializers.SerializerMethodField()
    cannot_print = of_paper()

    class Meta(InvoiceRow.Meta):
        fields = [*InvoiceRow.Meta.fields, "cannot_print", "history"]
        read_only_fields = fields

    @extend_schema_field(OrderEvent(many=True))
    def get_history(self, invoice: Invoice) -> Any:
        return OrderEvent(events_of(invoice.shop, invoice.subject), many=True).data
