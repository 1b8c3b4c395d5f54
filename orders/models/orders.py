"""The repair order: the shop's record of one visit of one unit."""

from django.db import models

from shopdocs.shops.models import User
from shopdocs.shops.scoping import ShopRecord

from .people import Customer
from .units import HourReading, Unit


class RepairOrder(ShopRecord):
    class State(models.TextChoices):
        OPEN = "open", "in the shop"
        FINISHED = "finished", "work finished"
        GIVEN_BACK = "given_back", "given back"

    class EstimateAsked(models.TextChoices):
        IN_WRITING = "in_writing", "wants an estimate in writing"
        ORALLY = "orally", "wants an oral estimate"
        WAIVED = "waived", "wants no estimate"
        NOT_ASKED = "not_asked", "has not asked for one"

    number = models.CharField(max_length=40)
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="orders")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="orders")
    state = models.CharField(max_length=20, choices=State, default=State.OPEN)
    received_on = models.DateField()
    promised_on = models.DateField(null=True, blank=True)
    complaint = models.TextField(help_text="in the customer's words")
    accessories = models.JSONField(default=list, help_text="what was left with the unit")
    reading = models.ForeignKey(HourReading, null=True, blank=True, on_delete=models.PROTECT, related_name="orders")
    owner_far = models.BooleanField(null=True, help_text="over 100 miles from an authorised centre")
    estimate_asked = models.CharField(
        max_length=12, blank=True, choices=EstimateAsked, help_text="what the customer wants; empty: nobody recorded it"
    )
    estimate_limit = models.DecimalField(
        max_digits=14, decimal_places=3, null=True, blank=True,
        help_text="the sum of an oral estimate, or up to which work may begin without one; empty: none was told",
    )  # fmt: skip
    estimate_asked_at = models.DateTimeField(null=True, blank=True)
    estimate_asked_by = models.ForeignKey(User, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    taken_in_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    finished_at = models.DateTimeField(null=True, blank=True)
    given_back_at = models.DateTimeField(null=True, blank=True)

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["shop", "number"], name="one_order_per_number")]

    def __str__(self) -> str:
        return self.number

    @property
    def subject(self) -> str:
        return f"order:{self.pk}"
