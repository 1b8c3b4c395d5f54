"""Estimates, the customer's answers, and the link with which they answer."""

from django.db import models

from shopdocs.documents.models import Document, Letter, StoredFile
from shopdocs.shops.models import User
from shopdocs.shops.scoping import ShopRecord

from .jobs import Job
from .orders import RepairOrder


class Estimate(ShopRecord):
    """One frozen version of an estimate. `facts` holds all that was priced and shown; nothing in it changes.

    `figures` list how each of its figures came about, for the shop's eyes: they hold what a part cost.
    """

    order = models.ForeignKey(RepairOrder, on_delete=models.PROTECT, related_name="estimates")
    number = models.CharField(max_length=40)
    edition = models.PositiveIntegerField(help_text="version 1, 2, ... of this number")
    issued_on = models.DateField()
    valid_until = models.DateField()
    facts = models.JSONField()
    figures = models.JSONField(default=list, blank=True)
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


class Signature(ShopRecord):
    """A signature drawn on a screen: the picture as it came. It signs one thing, once."""

    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="+")
    signed_name = models.CharField(max_length=200)
    used_at = models.DateTimeField(null=True)
    used_for = models.CharField(max_length=80, blank=True, help_text="kind:id of what it signed")
    taken_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")


class Given(ShopRecord):
    """How a customer's word came to the shop, with what shows it: signature, or who was called when and read back."""

    class Channel(models.TextChoices):
        LINK = "link", "e-mailed link"
        IN_PERSON = "in_person", "in person"
        PHONE = "phone", "by telephone"

    channel = models.CharField(max_length=20, choices=Channel)
    said_by = models.CharField(max_length=200)
    words = models.TextField(
        blank=True, help_text="a remark; in person without a drawn signature, where the signed paper is"
    )
    signature = models.ForeignKey(Signature, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    phone_number = models.CharField(max_length=60, blank=True)
    called_at = models.DateTimeField(null=True, blank=True)
    read_back = models.BooleanField(null=True, help_text="telephone: what was agreed was read back to the customer")
    agreed_words = models.TextField(blank=True, help_text="the words that were shown or read out, and agreed to")
    taken_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta(ShopRecord.Meta):
        abstract = True


class EstimateOption(ShopRecord):
    """One of the ways between which a customer chooses, such as 'repair' or 'replace the machine'."""

    class Kind(models.TextChoices):
        REPAIR = "repair", "repair"
        REPAIR_AND_WEAR = "repair_and_wear", "repair with the wear items"
        REPLACE = "replace", "replace the machine"
        OTHER = "other", "another way"

    order = models.ForeignKey(RepairOrder, on_delete=models.PROTECT, related_name="options")
    group = models.CharField(max_length=200, help_text="what is chosen between; one option of a group is picked")
    name = models.CharField(max_length=200)
    kind = models.CharField(max_length=20, choices=Kind, default=Kind.REPAIR)
    jobs = models.ManyToManyField(Job, related_name="options", blank=True)
    value_after = models.DecimalField(
        max_digits=14,
        decimal_places=3,
        null=True,
        blank=True,
        help_text="the machine's value after it; null: not known",
    )
    price_new = models.DecimalField(
        max_digits=14, decimal_places=3, null=True, blank=True, help_text="what a replacement costs; null: not known"
    )
    note = models.TextField(blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    @property
    def subject(self) -> str:
        return f"option:{self.pk}"


class Answer(Given):
    """The customer's answer to one job of one version: the authorisation."""

    estimate = models.ForeignKey(Estimate, on_delete=models.PROTECT, related_name="answers")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="answers")
    accepted = models.BooleanField()
    option = models.ForeignKey(EstimateOption, null=True, blank=True, on_delete=models.PROTECT, related_name="answers")
    consent_version = models.CharField(
        max_length=20, blank=True, help_text="version of the words on electronic records"
    )
    consented_at = models.DateTimeField(null=True, blank=True)
    facts_sha256 = models.CharField(max_length=64, blank=True, help_text="of the estimate's facts as they were shown")
    paper_sha256 = models.CharField(max_length=64, blank=True, help_text="of its PDF; empty: it was not drawn yet")

    class Meta(Given.Meta):
        constraints = [models.UniqueConstraint(fields=["estimate", "job"], name="one_answer_per_job_and_version")]


class RefusalChoice(Given):
    """What the customer chose beforehand for the case that somebody else refuses to pay for a job. The newest counts."""

    class Choice(models.TextChoices):
        PAY_UP_TO = "pay_up_to", "pay up to an amount"
        ASK_ME = "ask_me", "ask me"
        RETURN_UNREPAIRED = "return_unrepaired", "return it unrepaired"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="refusal_choices")
    estimate = models.ForeignKey(Estimate, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    choice = models.CharField(max_length=20, choices=Choice)
    up_to = models.DecimalField(max_digits=14, decimal_places=3, null=True, blank=True, help_text="tax included")

    class Meta(Given.Meta):
        constraints = [
            models.CheckConstraint(
                condition=models.Q(choice="pay_up_to", up_to__gt=0)
                | (~models.Q(choice="pay_up_to") & models.Q(up_to=None)),
                name="an_amount_with_pay_up_to_only",
            )
        ]


class SafetyNote(ShopRecord):
    """The customer's signed word on a declined job that was unsafe: told of the danger, taken back as it is.

    Another danger than was told wants another note; `about` tells them apart.
    """

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="safety_notes")
    words = models.TextField()
    about = models.CharField(
        max_length=64, blank=True, help_text="digest of the danger that was told; empty: of whatever there is"
    )
    signed_name = models.CharField(max_length=200)
    signature = models.ForeignKey(Signature, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
