"""Coverage decisions, frozen with the facts and terms that made them."""

from django.db import models

from orders.models import Finding, RepairOrder
from shopdocs.shops.models import User
from shopdocs.shops.scoping import ShopRecord


class TermCopy(ShopRecord):
    """A term as some decision used it, kept once per shop by its fingerprint and never changed."""

    fingerprint = models.CharField(max_length=64)
    data = models.TextField(help_text="canonical JSON of the term's record")

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["shop", "fingerprint"], name="same_term_once_per_shop")]


class DecisionFacts(ShopRecord):
    """What one deciding looked at: unit, findings, known defects and the fingerprints of the terms, as they stood.

    One record serves the decisions of all findings of that moment, for causes chain across findings.
    """

    order = models.ForeignKey(RepairOrder, on_delete=models.PROTECT, related_name="decision_facts")
    as_of = models.DateField()
    facts = models.JSONField()


class CoverageDecision(ShopRecord):
    """The answer for one finding on one day. `decision` is served as it stands; `facts` recompute the same."""

    order = models.ForeignKey(RepairOrder, on_delete=models.PROTECT, related_name="decisions")
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="decisions")
    as_of = models.DateField()
    answer = models.CharField(max_length=20)
    decision = models.TextField(help_text="canonical JSON, served byte for byte as it stands here")
    sha256 = models.CharField(max_length=64)
    facts = models.ForeignKey(DecisionFacts, on_delete=models.PROTECT, related_name="decisions")
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
