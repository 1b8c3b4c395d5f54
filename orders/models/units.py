"""Units and what is known of them: assemblies, owners, hours, proof of purchase."""

import unicodedata

from django.core.validators import MinValueValidator
from django.db import models

from shopdocs.documents.models import Photo
from shopdocs.shops.scoping import ShopRecord

from .catalogue import POWER_SOURCES, USE_CLASSES, Distributor, MachineModel, Maker
from .people import Customer


def plain_serial(serial: str) -> str:
    """The serial as it is compared: capitals, without spaces and hyphens, so that one plate is one unit.

    Letters and digits of another width or font (Unicode compatibility forms, NFKC) are the plain ones.
    """
    return "".join(c for c in unicodedata.normalize("NFKC", serial).upper() if c.isalnum())


class Unit(ShopRecord):
    """One machine. An unknown fact is null, never a guess."""

    class SaleKind(models.TextChoices):
        NEW = "new", "sold new"
        FLOOR_STOCK = "floor_stock", "stock of the shop or dealer"
        DEMONSTRATOR = "demonstrator", "demonstrator"
        EX_RENTAL = "ex_rental", "sold out of rental"
        USED = "used", "bought used"
        UNKNOWN = "unknown", "not known"

    model = models.ForeignKey(MachineModel, on_delete=models.PROTECT, related_name="units")
    owner = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="units")
    serial = models.CharField(max_length=60, blank=True)
    serial_key = models.CharField(max_length=60, blank=True, editable=False)
    no_serial_reason = models.CharField(max_length=400, blank=True)
    build_date = models.DateField(null=True, blank=True)
    has_hour_meter = models.BooleanField(null=True)
    use_class = models.CharField(max_length=20, choices=USE_CLASSES, blank=True, help_text="empty: not known")
    power_source = models.CharField(max_length=20, choices=POWER_SOURCES)
    hand_held = models.BooleanField(null=True)
    sale_kind = models.CharField(max_length=20, choices=SaleKind, default=SaleKind.UNKNOWN)
    purchased_on = models.DateField(null=True, blank=True)
    delivered_on = models.DateField(null=True, blank=True)
    registered_on = models.DateField(null=True, blank=True)
    first_service_on = models.DateField(null=True, blank=True)
    use_region = models.CharField(max_length=60, blank=True, help_text="state where it is used; empty: not known")
    first_owner = models.BooleanField(null=True, help_text="is the present owner the first one")
    modified = models.BooleanField(null=True)
    maintenance_record = models.BooleanField(null=True)

    class Meta(ShopRecord.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "model", "serial_key"], condition=~models.Q(serial_key=""), name="one_unit_per_serial"
            ),
            models.CheckConstraint(
                condition=~models.Q(serial="") | ~models.Q(no_serial_reason=""), name="serial_or_the_reason_why_not"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.model} {self.serial or '(no serial)'}"

    def save(self, *args: object, **kwargs: object) -> None:
        self.serial_key = plain_serial(self.serial)
        super().save(*args, **kwargs)  # type: ignore[arg-type]


class Assembly(ShopRecord):
    """A part of a unit with a maker, model, serial and promise of its own: the engine above all."""

    class Role(models.TextChoices):
        ENGINE = "engine", "engine"
        ELECTRIC_MOTOR = "electric_motor", "electric motor"
        BATTERY_PACK = "battery_pack", "battery pack"
        CHARGER = "charger", "charger"
        GEARBOX = "gearbox", "gearbox"
        PUMP_END = "pump_end", "pump end"
        ALTERNATOR = "alternator", "alternator"
        OTHER = "other", "another, named in words"

    unit = models.ForeignKey(Unit, on_delete=models.CASCADE, related_name="assemblies")
    role = models.CharField(max_length=40, choices=Role)
    role_words = models.CharField(max_length=40, blank=True, help_text="what it is, where the role is 'other'")
    maker = models.ForeignKey(Maker, null=True, blank=True, on_delete=models.PROTECT, related_name="assemblies")
    model_name = models.CharField(max_length=200, blank=True)
    serial = models.CharField(max_length=60, blank=True)
    build_date = models.DateField(null=True, blank=True)
    fitted_on = models.DateField(
        null=True, blank=True, help_text="replaced an earlier one on this day; empty: came with it"
    )
    displacement_cc = models.DecimalField(
        max_digits=7, decimal_places=1, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    label_read = models.BooleanField(default=False)
    emission_rule = models.CharField(
        max_length=40, blank=True, help_text="what the label shows: part_1054, none, other; empty: not known"
    )
    emission_family = models.CharField(max_length=40, blank=True)
    label_hours = models.PositiveIntegerField(
        null=True, blank=True, help_text="emission compliance period on the label, hours"
    )
    evaporative_rule = models.BooleanField(null=True, help_text="is the machine under evaporative standards")
    distributor = models.ForeignKey(
        Distributor, null=True, blank=True, on_delete=models.PROTECT, related_name="assemblies"
    )
    terms_note = models.CharField(max_length=400, blank=True, help_text="promise of its own, as printed in its papers")

    class Meta(ShopRecord.Meta):
        constraints = [
            models.UniqueConstraint(fields=["unit", "role", "role_words"], name="one_assembly_per_role"),
            models.CheckConstraint(
                condition=models.Q(role="other") ^ models.Q(role_words=""), name="other_role_in_words"
            ),
        ]

    @property
    def called(self) -> str:
        """The role as terms and coverage name it: the code, or the words of another."""
        return self.role_words or self.role


class Ownership(ShopRecord):
    """Who owned the unit from when: a transfer is a new row."""

    unit = models.ForeignKey(Unit, on_delete=models.CASCADE, related_name="ownerships")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="ownerships")
    since = models.DateField()
    note = models.CharField(max_length=400, blank=True)


class HourReading(ShopRecord):
    """The hour meter on one day. Hours run backwards only where the meter was changed."""

    unit = models.ForeignKey(Unit, on_delete=models.CASCADE, related_name="hour_readings")
    read_on = models.DateField()
    hours = models.DecimalField(max_digits=8, decimal_places=1, validators=[MinValueValidator(0)])
    meter_changed = models.BooleanField(default=False)
    hours_before_change = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)
    no_hours_before_reason = models.CharField(
        max_length=400, blank=True, help_text="why the old meter's last figure is not known"
    )
    note = models.CharField(max_length=400, blank=True)


class PurchaseProof(ShopRecord):
    """What shows the purchase date: the proof ladder from receipt down to a statement."""

    class Kind(models.TextChoices):
        RECEIPT = "receipt", "receipt"
        REGISTRATION = "registration", "registration"
        DEALER_RECORD = "dealer_record", "dealer's record"
        STATEMENT = "statement", "owner's statement"

    unit = models.ForeignKey(Unit, on_delete=models.CASCADE, related_name="proofs")
    photo = models.ForeignKey(Photo, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=20, choices=Kind)
    shows_date = models.DateField(null=True, blank=True)
