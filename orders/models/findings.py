"""What was looked at, what was seen, and what keeps a unit in the shop."""

from django.db import models

from shopdocs.shops.models import User
from shopdocs.shops.scoping import ShopRecord

from .orders import RepairOrder
from .units import Assembly, Unit


class Check(ShopRecord):
    """One inspection point on one order, looked at."""

    class Result(models.TextChoices):
        GOOD = "good", "nothing found"
        FOUND = "found", "see finding"
        NOT_POSSIBLE = "not_possible", "could not be looked at"

    order = models.ForeignKey(RepairOrder, on_delete=models.CASCADE, related_name="checks")
    point = models.CharField(max_length=60)
    result = models.CharField(max_length=20, choices=Result)
    note = models.TextField(blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["order", "point"], name="one_check_per_point")]


class Finding(ShopRecord):
    """What a technician saw: component, condition, cause, measurement, and which finding it comes from."""

    order = models.ForeignKey(RepairOrder, on_delete=models.CASCADE, related_name="findings")
    number = models.PositiveIntegerField()
    point = models.CharField(max_length=60, blank=True)
    component = models.CharField(max_length=60)
    condition = models.CharField(max_length=60)
    cause = models.CharField(max_length=40, default="unknown")
    assembly = models.ForeignKey(Assembly, null=True, blank=True, on_delete=models.PROTECT, related_name="findings")
    measured = models.DecimalField(max_digits=14, decimal_places=4, null=True, blank=True)
    measured_unit = models.CharField(max_length=20, blank=True)
    note = models.TextField(blank=True)
    signs = models.JSONField(default=list, help_text="signs observed, by the codes of the evidence table or in words")
    caused_by = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="consequences")
    unsafe = models.BooleanField(default=False)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    found_on = models.DateField()

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["order", "number"], name="one_finding_per_number")]

    @property
    def subject(self) -> str:
        return f"finding:{self.pk}"

    @property
    def after_finish(self) -> bool:
        """Found when the work was finished already and the unit still here; no paper that was sent before tells of it."""
        finished_at = self.order.finished_at
        return finished_at is not None and self.created_at > finished_at


class Hold(ShopRecord):
    """A unit that is unsafe to run: tagged, and released only with a signed note."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="holds")
    order = models.ForeignKey(RepairOrder, on_delete=models.PROTECT, related_name="holds")
    finding = models.ForeignKey(Finding, null=True, on_delete=models.PROTECT, related_name="holds")
    tag = models.CharField(max_length=40)
    reason = models.TextField()
    placed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    released_at = models.DateTimeField(null=True, blank=True)
    released_by = models.ForeignKey(User, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    release_note = models.TextField(blank=True)
    signed_name = models.CharField(max_length=200, blank=True)
    made_safe = models.BooleanField(null=True, help_text="repaired, or leaving as it is on the owner's signed word")

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["shop", "tag"], name="one_hold_per_tag")]
