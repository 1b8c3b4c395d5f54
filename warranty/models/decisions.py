"""Coverage decisions, frozen with the facts and terms that made them."""

from django.db import models

from orders.models import Finding, RepairOrder
from shopdocs.shops.models import User
from shopdocs.shops.scoping import ShopRecord


class CoverageDecision(ShopRecord):
    """The answer for one finding on one day. `decision` is served as it stands; `facts` recompute the same."""

    order = models.ForeignKey(RepairOrder, on_delete=models.PROTECT, related_name="decisions")
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="decisions")
    as_of = models.DateField()
    answer = models.CharField(max_length=20)
    decision = models.TextField(help_text="canonical JSON, served byte for byte as it stands here")
    sha256 = models.CharField(max_length=64)
    facts = models.JSONField(help_text="unit, findings and terms, as they stood")
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
