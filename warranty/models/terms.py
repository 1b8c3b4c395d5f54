"""What makers promise and distributors pay, as the shop has recorded it: dated, with its source."""

from django.core.validators import MinValueValidator
from django.db import models

from orders.models import Distributor, Maker
from shopdocs.shops.scoping import ShopRecord


class MakerTerm(ShopRecord):
    """One promise of cover. `term` is the same strict record that the statutory files hold."""

    maker = models.ForeignKey(Maker, null=True, blank=True, on_delete=models.PROTECT, related_name="terms")
    code = models.CharField(max_length=80)
    term = models.JSONField()
    fingerprint = models.CharField(max_length=64)
    retired_on = models.DateField(null=True, blank=True)

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["shop", "code"], name="one_maker_term_per_code")]


class DistributorTerms(ShopRecord):
    """How a distributor pays claims, from a day on. Null means: not known. The newest that has begun applies."""

    class TimeBasis(models.TextChoices):
        GUIDE = "guide", "guide time"
        ALLOWED = "allowed", "time the distributor allows"
        CLOCKED = "clocked", "time clocked"

    class PartsBase(models.TextChoices):
        COST = "cost", "of the shop's cost"
        LIST = "list", "of list price"

    distributor = models.ForeignKey(Distributor, on_delete=models.PROTECT, related_name="terms")
    starts_on = models.DateField()
    labour_rate = models.DecimalField(
        max_digits=12, decimal_places=4, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    time_basis = models.CharField(max_length=20, choices=TimeBasis, blank=True)
    diagnosis_limit = models.DecimalField(
        max_digits=5, decimal_places=1, null=True, blank=True, validators=[MinValueValidator(0)],
        help_text="the most hours of diagnosis that it pays for one job",
    )  # fmt: skip
    parts_percent = models.DecimalField(
        max_digits=7, decimal_places=3, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    parts_base = models.CharField(max_length=10, choices=PartsBase, blank=True)
    filing_days = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="days after the repair was finished"
    )
    parts_hold_days = models.PositiveSmallIntegerField(null=True, blank=True)
    answer_days = models.PositiveSmallIntegerField(null=True, blank=True)
    claims_email = models.EmailField(max_length=320, blank=True)
    source = models.CharField(max_length=400, blank=True, help_text="where the shop read this, with date")

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["distributor", "starts_on"], name="one_set_of_terms_per_start")]


class KnownDefectRecord(ShopRecord):
    """A failure pattern of a model or build range; `pattern` is the engine's own strict record."""

    code = models.CharField(max_length=80)
    maker = models.ForeignKey(Maker, null=True, blank=True, on_delete=models.PROTECT, related_name="known_defects")
    pattern = models.JSONField()
    retired_on = models.DateField(null=True, blank=True)

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["shop", "code"], name="one_known_defect_per_code")]
