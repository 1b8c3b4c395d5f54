"""Claims: what was asked of a distributor, by when, what came back, and which parts are kept for it."""

from django.db import models

from orders.models import Distributor, Invoice, Job
from shopdocs.documents.models import Document, Letter
from shopdocs.shops.models import User
from shopdocs.shops.scoping import ShopRecord

from .decisions import CoverageDecision


class Claim(ShopRecord):
    """One claim for one covered job. `facts` is what was asked, frozen when it was filed."""

    class State(models.TextChoices):
        FILED = "filed", "filed"
        ANSWERED = "answered", "answered"
        SETTLED = "settled", "settled: the credit has come"
        CLOSED = "closed", "closed without a credit"

    number = models.CharField(max_length=40)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="claims")
    decision = models.ForeignKey(CoverageDecision, on_delete=models.PROTECT, related_name="claims")
    distributor = models.ForeignKey(Distributor, on_delete=models.PROTECT, related_name="claims")
    state = models.CharField(max_length=20, choices=State, default=State.FILED)
    repaired_on = models.DateField()
    filed_on = models.DateField()
    deadline = models.DateField(null=True, blank=True, help_text="null: not known")
    late = models.BooleanField(default=False)
    answer_due = models.DateField(null=True, blank=True, help_text="null: not known")
    approval = models.CharField(max_length=100, blank=True, help_text="the maker's approval before work, as given")
    facts = models.JSONField()
    labour_expected = models.DecimalField(max_digits=14, decimal_places=3, null=True, blank=True)
    parts_expected = models.DecimalField(max_digits=14, decimal_places=3, null=True, blank=True)
    expected = models.DecimalField(max_digits=14, decimal_places=3, null=True, blank=True, help_text="null: not known")
    document = models.ForeignKey(Document, null=True, on_delete=models.PROTECT, related_name="+")
    letter = models.ForeignKey(Letter, null=True, on_delete=models.PROTECT, related_name="+")
    closed_note = models.CharField(max_length=400, blank=True)
    closed_on = models.DateField(null=True, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta(ShopRecord.Meta):
        constraints = [
            models.UniqueConstraint(fields=["shop", "number"], name="one_claim_per_number"),
            models.UniqueConstraint(fields=["job"], condition=~models.Q(state="closed"), name="one_open_claim_per_job"),
        ]

    @property
    def subject(self) -> str:
        return f"claim:{self.pk}"


class ClaimAnswer(ShopRecord):
    """What the distributor answered. A later answer is a new row."""

    class Outcome(models.TextChoices):
        PAID_IN_FULL = "in_full", "approved in full"
        IN_PART = "in_part", "approved in part"
        REFUSED = "refused", "refused"
        MORE_ASKED = "more_asked", "more information asked for"

    claim = models.ForeignKey(Claim, on_delete=models.PROTECT, related_name="answers")
    outcome = models.CharField(max_length=20, choices=Outcome)
    answered_on = models.DateField()
    labour_approved = models.DecimalField(max_digits=14, decimal_places=3, null=True, blank=True)
    parts_approved = models.DecimalField(max_digits=14, decimal_places=3, null=True, blank=True)
    reference = models.CharField(max_length=100, blank=True)
    words = models.TextField(blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")


class Credit(ShopRecord):
    """Money that came for a claim."""

    claim = models.ForeignKey(Claim, on_delete=models.PROTECT, related_name="credits")
    amount = models.DecimalField(max_digits=14, decimal_places=3)
    received_on = models.DateField()
    reference = models.CharField(max_length=100, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")


class TurnOver(ShopRecord):
    """The shop's spoken decision on what the distributor does not pay: goodwill, or as far as was chosen, the customer's."""

    class To(models.TextChoices):
        GOODWILL = "goodwill", "goodwill of the shop"
        CUSTOMER = "customer", "the customer, as chosen beforehand"

    claim = models.OneToOneField(Claim, on_delete=models.PROTECT, related_name="turn_over")
    to = models.CharField(max_length=20, choices=To)
    amount = models.DecimalField(max_digits=14, decimal_places=3, help_text="what the distributor no longer owes")
    turned_on = models.DateField()
    reason = models.CharField(max_length=400)
    invoice = models.OneToOneField(Invoice, null=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")


class PartsHold(ShopRecord):
    """Failed parts kept, tagged, until the distributor releases them."""

    claim = models.ForeignKey(Claim, on_delete=models.PROTECT, related_name="parts_holds")
    tag = models.CharField(max_length=40)
    words = models.CharField(max_length=400)
    keep_until = models.DateField(null=True, blank=True, help_text="null: not known")
    released_on = models.DateField(null=True, blank=True)
    released_note = models.CharField(max_length=400, blank=True)

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["shop", "tag"], name="one_parts_hold_per_tag")]
