"""Jobs: one concern each, with its labour, parts, payer, and the time that was spent."""

from django.core.validators import MinValueValidator
from django.db import models

from shopdocs.shops.models import User
from shopdocs.shops.scoping import ShopRecord

from .catalogue import LabourOperation, Part
from .findings import Finding
from .orders import RepairOrder


class Job(ShopRecord):
    """One concern, told as complaint, cause, correction.

    `basis_*` says on what ground somebody other than the customer pays. Warranty sets it; orders prints it
    and never interprets it.
    """

    class Payer(models.TextChoices):
        CUSTOMER = "customer", "customer"
        WARRANTY = "warranty", "warranty"
        SHOP = "shop", "shop"
        GOODWILL = "goodwill", "goodwill"

    class State(models.TextChoices):
        PROPOSED = "proposed", "proposed"
        AGREED = "agreed", "agreed"
        DECLINED = "declined", "declined"
        DONE = "done", "done"
        STRUCK = "struck", "struck"

    order = models.ForeignKey(RepairOrder, on_delete=models.CASCADE, related_name="jobs")
    number = models.PositiveIntegerField()
    title = models.CharField(max_length=400)
    complaint = models.TextField(blank=True)
    cause = models.TextField(blank=True)
    correction = models.TextField(blank=True)
    why_now = models.TextField(blank=True, help_text="why it should be done now, for the customer")
    if_not = models.TextField(blank=True, help_text="what happens if it is not done, for the customer")
    state = models.CharField(max_length=20, choices=State, default=State.PROPOSED)
    payer = models.CharField(max_length=20, choices=Payer, default=Payer.CUSTOMER)
    basis_kind = models.CharField(max_length=40, blank=True)
    basis_id = models.CharField(max_length=80, blank=True)
    basis_words = models.CharField(max_length=500, blank=True)
    basis_hash = models.CharField(max_length=64, blank=True)
    shares = models.JSONField(
        default=list,
        blank=True,
        help_text="several payers, in the order of working: payer, percent or amount or neither",
    )
    payer_of = models.JSONField(default=dict, blank=True, help_text="kind of line -> who else pays for lines of it")
    findings = models.ManyToManyField(Finding, related_name="jobs", blank=True)
    discount_words = models.CharField(max_length=100, blank=True)
    discount_percent = models.DecimalField(max_digits=7, decimal_places=4, null=True, blank=True)
    discount_amount = models.DecimalField(max_digits=14, decimal_places=3, null=True, blank=True)
    allowed_hours = models.DecimalField(
        max_digits=5, decimal_places=1, null=True, blank=True, help_text="what the payer allows; empty: not known"
    )
    strike_reason = models.CharField(max_length=400, blank=True)
    finished_by = models.ForeignKey(User, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["order", "number"], name="one_job_per_number")]

    @property
    def subject(self) -> str:
        return f"job:{self.pk}"


class JobLabour(ShopRecord):
    """Labour on a job: an operation of the guide or plain words, in tenths of an hour."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="labour")
    operation = models.ForeignKey(LabourOperation, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=40, blank=True)
    words = models.CharField(max_length=400)
    hours = models.DecimalField(max_digits=5, decimal_places=1, validators=[MinValueValidator(0)])
    rate = models.DecimalField(
        max_digits=12, decimal_places=4, null=True, blank=True, help_text="empty: the shop's rate of the day"
    )
    discount_percent = models.DecimalField(max_digits=7, decimal_places=4, null=True, blank=True)
    action = models.CharField(max_length=20, blank=True, help_text="what is done to the components; empty: not said")
    components = models.JSONField(default=list, blank=True, help_text="codes of the components it is done to")
    skill = models.CharField(
        max_length=40, blank=True, help_text="whose rate it is: 'helper', say; empty: the usual one"
    )
    diagnosis = models.BooleanField(default=False, help_text="finding the fault; so is an operation that is one")

    @property
    def is_diagnosis(self) -> bool:
        return self.diagnosis or bool(self.operation and self.operation.diagnosis)


class JobPart(ShopRecord):
    """A part on a job. `fitted_at` is set when it is in the machine; `causal` marks the one that failed first."""

    class Condition(models.TextChoices):
        NEW = "new", "new"
        USED = "used", "used"
        REBUILT = "rebuilt", "rebuilt"
        RECONDITIONED = "reconditioned", "reconditioned"
        REPLATED = "replated", "replated"

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="parts")
    part = models.ForeignKey(Part, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    number = models.CharField(max_length=60, blank=True)
    words = models.CharField(max_length=400)
    quantity = models.DecimalField(max_digits=9, decimal_places=3, validators=[MinValueValidator(0)])
    unit_price = models.DecimalField(max_digits=12, decimal_places=3, validators=[MinValueValidator(0)])
    unit_cost = models.DecimalField(
        max_digits=12, decimal_places=3, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    core_charge = models.DecimalField(max_digits=12, decimal_places=3, default=0, validators=[MinValueValidator(0)])
    discount_percent = models.DecimalField(max_digits=7, decimal_places=4, null=True, blank=True)
    environment_charge = models.DecimalField(
        max_digits=12, decimal_places=3, default=0, validators=[MinValueValidator(0)]
    )
    price_how = models.CharField(max_length=300, blank=True, help_text="for the shop: how the price came about")
    price_steps = models.JSONField(
        default=list, blank=True, help_text="for the shop: the same as steps that add up to it"
    )
    contents = models.JSONField(default=list, blank=True, help_text="what a kit holds: number, words, quantity")
    state = models.CharField(
        max_length=12,
        blank=True,
        choices=[("ordered", "ordered"), ("back_ordered", "back-ordered"), ("arrived", "arrived")],
        help_text="empty: on the shelf, or not said",
    )
    expected_on = models.DateField(null=True, blank=True, help_text="of an ordered part; empty: not known")
    awaited_since = models.DateField(
        null=True, blank=True, help_text="the day on which it was first ordered; empty: not"
    )
    customers_own = models.BooleanField(default=False, help_text="the customer brought it: it costs nothing")
    condition = models.CharField(max_length=14, choices=Condition, default=Condition.NEW)
    original = models.BooleanField(null=True, help_text="original equipment of the maker; empty: not known")
    causal = models.BooleanField(default=False)
    fitted_at = models.DateTimeField(null=True, blank=True)
    fitted_by = models.ForeignKey(User, null=True, blank=True, on_delete=models.PROTECT, related_name="+")


class JobFee(ShopRecord):
    """What has only an amount: a fee, freight, sublet work; negative: a credit, such as for a core or part returned."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="fees")
    kind = models.CharField(
        max_length=12,
        choices=[
            ("fee", "fee"), ("freight", "freight"), ("sublet", "sublet work"), ("delivery", "pick-up and delivery"),
            ("disposal", "disposal"), ("core", "core"), ("part", "part returned"),
        ],
    )  # fmt: skip
    words = models.CharField(max_length=400)
    returned = models.ForeignKey(
        JobPart, null=True, blank=True, on_delete=models.CASCADE, related_name="returns", help_text="what came back"
    )
    returned_quantity = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True)
    amount = models.DecimalField(max_digits=14, decimal_places=3)


class TimeEntry(ShopRecord):
    """A technician's clocked time on a job. `ended_at` empty: the clock runs."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="time_entries")
    technician = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    note = models.CharField(max_length=400, blank=True)

    class Meta(ShopRecord.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "technician"],
                condition=models.Q(ended_at__isnull=True),
                name="one_running_clock_per_technician",
            ),
            models.CheckConstraint(
                condition=models.Q(ended_at__isnull=True) | models.Q(ended_at__gt=models.F("started_at")),
                name="time_runs_forward",
            ),
        ]
