"""What somebody found out for a decision, and the record that the rebuild of an engine leaves."""

from django.core.validators import MinValueValidator
from django.db import models

from orders.models import Job, RepairOrder
from shopdocs.shops.models import User
from shopdocs.shops.scoping import ShopRecord


class Circumstances(ShopRecord):
    """Facts of one order that no other record holds. A fact that is not there is not known.

    `unit` maps names of facts about the machine to their values; `findings` maps a finding's id to such a map of its own.
    Both hold plain JSON in the engine's words, checked by the service that writes them.
    """

    order = models.OneToOneField(RepairOrder, on_delete=models.CASCADE, related_name="circumstances")
    unit = models.JSONField(default=dict, blank=True)
    findings = models.JSONField(default=dict, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    @property
    def subject(self) -> str:
        return f"order:{self.order_id}"


class RebuildRecord(ShopRecord):
    """What a shop keeps of an engine that it rebuilt. An empty text is a part of the record that is still lacking."""

    job = models.OneToOneField(Job, on_delete=models.PROTECT, related_name="rebuild_record")
    hours = models.DecimalField(
        max_digits=8, decimal_places=1, null=True, blank=True, validators=[MinValueValidator(0)],
        help_text="hours run at the rebuild",
    )  # fmt: skip
    hours_estimated = models.BooleanField(default=False, help_text="about so many: there is no meter to read")
    work = models.TextField(blank=True, help_text="work done on the engine")
    parts = models.TextField(blank=True, help_text="parts that were used, and where they came from")
    adjustments = models.TextField(blank=True, help_text="settings made, with their figures; or that none was needed")
    codes = models.TextField(blank=True, help_text="codes answered and reset; or that the engine stores none")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
