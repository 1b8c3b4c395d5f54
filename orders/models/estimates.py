"""Estimates, the customer's answers, and the link with which they answer."""

from django.db import models

from shopdocs.documents.models import Document, Letter
from shopdocs.shops.models import User
from shopdocs.shops.scoping import ShopRecord

from .jobs import Job
from .orders import RepairOrder


class Estimate(ShopRecord):
    """One frozen version of an estimate. `facts` holds all that was priced and shown; nothing in it changes."""

    order = models.ForeignKey(RepairOrder, on_delete=models.PROTECT, related_name="estimates")
    number = models.CharField(max_length=40)
    edition = models.PositiveIntegerField(help_text="version 1, 2, ... of this number")
    issued_on = models.DateField()
    valid_until = models.DateField()
    facts = models.JSONField()
    total = models.DecimalField(max_digits=14, decimal_places=3)
    customer_total = models.DecimalField(max_digits=14, decimal_places=3)
    replaced_by = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaces")
    document = models.ForeignKey(Document, null=True, on_delete=models.PROTECT, related_name="+")
    letter = models.ForeignKey(Letter, null=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta(ShopRecord.Meta):
        constraints = [
            models.UniqueConstraint(fields=["shop", "number", "edition"], name="one_estimate_per_number_and_version"),
            models.UniqueConstraint(fields=["order", "edition"], name="one_estimate_version_per_order"),
        ]

    @property
    def subject(self) -> str:
        return f"estimate:{self.pk}"


class AnswerLink(ShopRecord):
    """The customer's way in: only the SHA-256 of the token is kept."""

    estimate = models.ForeignKey(Estimate, on_delete=models.CASCADE, related_name="links")
    token_sha256 = models.CharField(max_length=64, unique=True)
    expires_at = models.DateTimeField()
    opened_at = models.DateTimeField(null=True)
    used_at = models.DateTimeField(null=True)


class Answer(ShopRecord):
    """The customer's answer to one job of one version: the authorisation."""

    class Channel(models.TextChoices):
        LINK = "link", "e-mailed link"
        IN_PERSON = "in_person", "in person"
        PHONE = "phone", "by telephone"

    estimate = models.ForeignKey(Estimate, on_delete=models.PROTECT, related_name="answers")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="answers")
    accepted = models.BooleanField()
    channel = models.CharField(max_length=20, choices=Channel)
    said_by = models.CharField(max_length=200)
    words = models.TextField(blank=True, help_text="telephone: number called and that it was read back; or a remark")
    taken_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["estimate", "job"], name="one_answer_per_job_and_version")]
