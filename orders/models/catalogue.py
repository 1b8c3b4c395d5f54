"""What the shop knows beforehand: makers, distributors, machine models, labour operations, parts."""

from django.core.validators import MinValueValidator
from django.db import models

from shopdocs.shops.models import DatedRate, Shop
from shopdocs.shops.scoping import ShopRecord

POWER_SOURCES = [
    ("two_stroke", "two-stroke petrol"),
    ("four_stroke", "four-stroke petrol"),
    ("lpg", "propane or natural gas"),
    ("diesel", "diesel"),
    ("battery", "battery"),
    ("mains", "mains electric"),
    ("unknown", "not known"),
]
USE_CLASSES = [("residential", "residential"), ("commercial", "commercial"), ("rental", "rental")]


LABOUR_ROUNDINGS = [("up", "up"), ("half_up", "half up"), ("half_even", "half to even")]
TAX_STACKINGS = [("aggregated", "rates added first"), ("separate", "each rounded")]


class Distributor(ShopRecord):
    """Who receives claims for a maker's machines. Its terms and rates are warranty's own dated records."""

    name = models.CharField(max_length=200)
    email = models.EmailField(max_length=320, blank=True)
    phone = models.CharField(max_length=60, blank=True)
    street = models.CharField(max_length=400, blank=True)
    city = models.CharField(max_length=200, blank=True)
    region = models.CharField(max_length=60, blank=True)
    postcode = models.CharField(max_length=20, blank=True)
    account = models.CharField(max_length=60, blank=True, help_text="the shop's account number there")
    language = models.CharField(
        max_length=10, blank=True, help_text="Language of the claims and statements that it gets; empty: the shop's"
    )
    measures = models.CharField(
        max_length=10, blank=True, choices=Shop.Measures,
        help_text="Units in which its claims show what was measured; empty: the shop's",
    )  # fmt: skip
    labour_rounding = models.CharField(
        max_length=10,
        choices=LABOUR_ROUNDINGS,
        default="half_up",
        help_text="how it rounds labour minutes to tenths of an hour",
    )

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["shop", "name"], name="one_distributor_per_name")]

    def address_lines(self) -> list[str]:
        place = ", ".join(part for part in (self.city, " ".join(p for p in (self.region, self.postcode) if p)) if part)
        return [line for line in (self.street, place) if line]


class Maker(ShopRecord):
    """A maker of machines or assemblies. Authorised: True, False, or None when the shop has not found out."""

    name = models.CharField(max_length=200)
    authorised = models.BooleanField(null=True)
    approval_before_work = models.BooleanField(null=True)
    distributor = models.ForeignKey(Distributor, null=True, blank=True, on_delete=models.PROTECT, related_name="makers")

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["shop", "name"], name="one_maker_per_name")]

    def __str__(self) -> str:
        return self.name


class MachineModel(ShopRecord):
    """A model of machine; what is true of every unit of it."""

    maker = models.ForeignKey(Maker, on_delete=models.PROTECT, related_name="models")
    name = models.CharField(max_length=200)
    family = models.CharField(max_length=40)
    power_source = models.CharField(max_length=20, choices=POWER_SOURCES)
    hand_held = models.BooleanField(null=True)
    displacement_cc = models.DecimalField(
        max_digits=7, decimal_places=1, null=True, blank=True, validators=[MinValueValidator(0)]
    )

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["shop", "maker", "name"], name="one_model_per_maker_and_name")]

    def __str__(self) -> str:
        return f"{self.maker.name} {self.name}"


class WorkStep(ShopRecord):
    """A part of labour operations, in minutes. `needs` and `undoes` name other steps of the shop by key."""

    key = models.CharField(max_length=60)
    words = models.CharField(max_length=200, help_text="reads before 'once': 'cover off'")
    minutes = models.DecimalField(max_digits=7, decimal_places=2, validators=[MinValueValidator(0)])
    needs = models.JSONField(default=list, blank=True)
    undoes = models.JSONField(default=list, blank=True)
    repeats = models.BooleanField(default=False, help_text="done again for each operation that needs it")

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["shop", "key"], name="one_step_per_key")]


class LabourOperation(ShopRecord):
    """A standard piece of work. `hours` is in tenths; `model` empty means: any model of the family; both: every machine.

    One code may stand for a model, for its family and for every machine: the narrowest that fits is taken.
    With `steps` (keys of work steps) the time of several operations is that of the union of their steps; without them
    `hours` is a bare time, and what it shares with others is not known.
    """

    code = models.CharField(max_length=40)
    words = models.CharField(max_length=400)
    family = models.CharField(max_length=40, blank=True)
    model = models.ForeignKey(MachineModel, null=True, blank=True, on_delete=models.PROTECT, related_name="operations")
    hours = models.DecimalField(max_digits=5, decimal_places=1, validators=[MinValueValidator(0)])
    source = models.CharField(max_length=200, default="the shop's own time")
    steps = models.JSONField(default=list, blank=True)
    includes = models.JSONField(default=list, blank=True, help_text="codes of operations that are part of this one")
    less_with = models.JSONField(
        default=list,
        blank=True,
        help_text="bare times only: operation (code) and hours it takes less when done with it",
    )
    diagnosis = models.BooleanField(default=False, help_text="finding the fault, which payers limit by itself")
    action = models.CharField(max_length=20, blank=True, help_text="what is done to the components; empty: not said")
    components = models.JSONField(default=list, blank=True, help_text="codes of the components it is done to")

    class Meta(ShopRecord.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "code", "model"],
                condition=models.Q(model__isnull=False),
                name="one_operation_per_model",
            ),
            models.UniqueConstraint(
                fields=["shop", "code", "family"], condition=models.Q(model=None), name="one_operation_per_family"
            ),
        ]


class Part(ShopRecord):
    """A part that can be ordered: its number, list price to the customer and cost to the shop."""

    number = models.CharField(max_length=60)
    words = models.CharField(max_length=400)
    maker = models.ForeignKey(Maker, null=True, blank=True, on_delete=models.PROTECT, related_name="parts")
    component = models.CharField(max_length=60, blank=True)
    list_price = models.DecimalField(max_digits=12, decimal_places=3, validators=[MinValueValidator(0)])
    cost = models.DecimalField(
        max_digits=12, decimal_places=3, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    core_charge = models.DecimalField(
        max_digits=12,
        decimal_places=3,
        default=0,
        validators=[MinValueValidator(0)],
        help_text="for the old part, each",
    )
    environment_charge = models.DecimalField(
        max_digits=12, decimal_places=3, default=0, validators=[MinValueValidator(0)], help_text="for disposal, each"
    )
    kit = models.JSONField(
        default=list, blank=True, help_text="what a kit holds: part (id) and quantity; empty: no kit"
    )
    kit_by_parts = models.BooleanField(default=False, help_text="a kit that is sold at the prices of its parts")
    replaced_by = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaces")

    class Meta(ShopRecord.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "maker", "number"], name="one_part_per_number", nulls_distinct=False
            )
        ]


class PricingTerms(DatedRate):
    """How the shop prices beside its rates, from a day on: supplies, minimum charge, class discounts, tax rounding."""

    starts_on = models.DateField()
    supplies_words = models.CharField(max_length=100, default="Shop supplies")
    supplies_percent = models.DecimalField(
        max_digits=7, decimal_places=4, default=0, validators=[MinValueValidator(0)], help_text="0: none are charged"
    )
    supplies_of = models.JSONField(default=list, blank=True, help_text="kinds of line it is taken of; empty: labour")
    supplies_floor = models.DecimalField(max_digits=12, decimal_places=3, null=True, blank=True)
    supplies_cap = models.DecimalField(max_digits=12, decimal_places=3, null=True, blank=True)
    minimum_labour = models.DecimalField(max_digits=12, decimal_places=3, default=0, validators=[MinValueValidator(0)])
    diagnosis_limit = models.DecimalField(
        max_digits=5,
        decimal_places=1,
        null=True,
        blank=True,
        help_text="the most hours of diagnosis charged for one job",
    )
    labour_rounding = models.CharField(
        max_length=10,
        choices=LABOUR_ROUNDINGS,
        default="half_up",
        help_text="how minutes of work that the customer pays for are rounded to tenths of an hour",
    )
    own_labour_rounding = models.CharField(
        max_length=10,
        choices=LABOUR_ROUNDINGS,
        default="half_up",
        help_text="the same for work that the shop bears itself, or does out of goodwill",
    )
    price_tiers = models.JSONField(
        default=dict,
        blank=True,
        help_text="kind of customer ('' for all) -> tiers by cost: up_to (null: all above), markup",
    )
    class_discounts = models.JSONField(default=dict, blank=True, help_text="kind of customer -> percent")
    tax_stacking = models.CharField(max_length=12, choices=TAX_STACKINGS, default="aggregated")
    tax_inclusive = models.BooleanField(default=False, help_text="prices hold their tax already")

    class Meta(DatedRate.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "starts_on"], condition=models.Q(corrected_at=None), name="one_pricing_terms_per_start"
            )
        ]
