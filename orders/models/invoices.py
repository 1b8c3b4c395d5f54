"""Invoices and what happened to them since: money that came and went, credit notes, write-offs."""

from django.db import models

from shopdocs.documents.models import Document, Letter
from shopdocs.shops.models import User
from shopdocs.shops.scoping import ShopRecord

from .jobs import Job
from .orders import RepairOrder


class Invoice(ShopRecord):
    """A frozen invoice to the customer. Corrections are new records, never edits."""

    order = models.ForeignKey(RepairOrder, on_delete=models.PROTECT, related_name="invoices")
    job = models.ForeignKey(
        Job, null=True, blank=True, on_delete=models.PROTECT, related_name="invoices",
        help_text="the one job that a refused claim turned over to the customer; null: the order's own invoice",
    )  # fmt: skip
    number = models.CharField(max_length=40)
    issued_on = models.DateField()
    due_on = models.DateField()
    facts = models.JSONField()
    total = models.DecimalField(max_digits=14, decimal_places=3)
    document = models.ForeignKey(Document, null=True, on_delete=models.PROTECT, related_name="+")
    letter = models.ForeignKey(Letter, null=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta(ShopRecord.Meta):
        constraints = [
            models.UniqueConstraint(fields=["shop", "number"], name="one_invoice_per_number"),
            models.UniqueConstraint(fields=["job"], name="one_invoice_per_job_turned_over"),
        ]

    @property
    def subject(self) -> str:
        return f"invoice:{self.pk}"


class Payment(ShopRecord):
    """Money received on an invoice, or before it on the order (a deposit), or given back. Never a card number.

    A deposit is counted on the order's invoice as soon as there is one.
    """

    class Kind(models.TextChoices):
        PAYMENT = "payment", "payment"
        DEPOSIT = "deposit", "deposit"
        REFUND = "refund", "refund"

    kind = models.CharField(max_length=20, choices=Kind, default=Kind.PAYMENT)
    invoice = models.ForeignKey(Invoice, null=True, blank=True, on_delete=models.PROTECT, related_name="payments")
    order = models.ForeignKey(RepairOrder, null=True, blank=True, on_delete=models.PROTECT, related_name="payments")
    amount = models.DecimalField(max_digits=14, decimal_places=3)
    received_on = models.DateField()
    means = models.CharField(
        max_length=20, choices=[("cash", "cash"), ("card", "card"), ("transfer", "transfer"), ("check", "check")]
    )
    reference = models.CharField(max_length=100, blank=True)
    why = models.CharField(max_length=400, blank=True, help_text="of a refund: why money was given back")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta(ShopRecord.Meta):
        constraints = [
            models.CheckConstraint(
                condition=models.Q(invoice__isnull=False) | models.Q(order__isnull=False), name="money_for_something"
            )
        ]


class CreditNote(ShopRecord):
    """Takes back a part of an invoice, with the tax in it. Frozen, numbered in a series of its own."""

    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="credit_notes")
    number = models.CharField(max_length=40)
    issued_on = models.DateField()
    facts = models.JSONField()
    total = models.DecimalField(max_digits=14, decimal_places=3)
    document = models.ForeignKey(Document, null=True, on_delete=models.PROTECT, related_name="+")
    letter = models.ForeignKey(Letter, null=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["shop", "number"], name="one_credit_note_per_number")]

    @property
    def subject(self) -> str:
        return f"credit_note:{self.pk}"


class WriteOff(ShopRecord):
    """What the shop no longer expects of an invoice; below zero: what it takes back of that, as money came after all."""

    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="write_offs")
    amount = models.DecimalField(max_digits=14, decimal_places=3)
    written_on = models.DateField()
    reason = models.CharField(max_length=400)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
