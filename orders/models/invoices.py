"""Invoices and what was paid on them."""

from django.db import models

from shopdocs.documents.models import Document, Letter
from shopdocs.shops.models import User
from shopdocs.shops.scoping import ShopRecord

from .orders import RepairOrder


class Invoice(ShopRecord):
    """A frozen invoice to the customer. Corrections are new records, never edits."""

    order = models.ForeignKey(RepairOrder, on_delete=models.PROTECT, related_name="invoices")
    number = models.CharField(max_length=40)
    issued_on = models.DateField()
    due_on = models.DateField()
    facts = models.JSONField()
    total = models.DecimalField(max_digits=14, decimal_places=3)
    document = models.ForeignKey(Document, null=True, on_delete=models.PROTECT, related_name="+")
    letter = models.ForeignKey(Letter, null=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["shop", "number"], name="one_invoice_per_number")]

    @property
    def subject(self) -> str:
        return f"invoice:{self.pk}"


class Payment(ShopRecord):
    """Money received on an invoice. Never a card number: only how it was paid and a reference."""

    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="payments")
    amount = models.DecimalField(max_digits=14, decimal_places=3)
    received_on = models.DateField()
    means = models.CharField(
        max_length=20, choices=[("cash", "cash"), ("card", "card"), ("transfer", "transfer"), ("check", "check")]
    )
    reference = models.CharField(max_length=100, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
