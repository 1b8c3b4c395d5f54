"""Extended plans and campaigns of one machine: which are held, which were done, and who looked. They stay with the unit."""

from django.db import models

from orders.models import Unit
from shopdocs.shops.models import User
from shopdocs.shops.scoping import ShopRecord


class PlanHeld(ShopRecord):
    """Whether an extended plan is held on a unit. A plan that nobody looked for has no row: it is not known."""

    unit = models.ForeignKey(Unit, on_delete=models.CASCADE, related_name="plans_held")
    code = models.CharField(max_length=80, help_text="as the plan's term asks for it")
    held = models.BooleanField()
    bought_on = models.DateField(null=True, blank=True, help_text="null: not known; from this day on it is held")
    number = models.CharField(max_length=60, blank=True, help_text="number of the contract")
    note = models.CharField(max_length=400, blank=True, help_text="where this was seen")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["unit", "code"], name="one_row_per_plan_and_unit")]


class CampaignMark(ShopRecord):
    """Whether a campaign was done on a unit. A campaign that nobody looked up has no row: it is not known."""

    unit = models.ForeignKey(Unit, on_delete=models.CASCADE, related_name="campaign_marks")
    code = models.CharField(max_length=80, help_text="as the campaign's term, or the known defect, names it")
    done = models.BooleanField()
    done_on = models.DateField(null=True, blank=True, help_text="null: not known")
    number = models.CharField(
        max_length=60, blank=True, help_text="number of the bulletin or of the claim it was done under"
    )
    note = models.CharField(max_length=400, blank=True, help_text="where this was seen")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["unit", "code"], name="one_row_per_campaign_and_unit")]
