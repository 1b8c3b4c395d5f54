"""The shop, its people and their roles, its rates, taxes and number series, and who did what when."""

from __future__ import annotations

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator, RegexValidator
from django.db import models
from django.utils import timezone

from shopdocs.rest.refusals import unknown_shop
from shopdocs.rest.roles import OWNER, ROLES

from .scoping import ShopRecord


class User(AbstractUser):
    """A person who signs in. What they may do is said per shop, by `Staff`."""

    def acting_at(self, slug: str) -> Staff | None:
        """The person's place at the shop named `slug`; with one shop only, no name is needed.

        None when they do not work there. Raises Refused when several shops are possible and none is named.
        """
        places = self._places()
        if slug:
            return next((place for place in places if place.shop.slug == slug), None)
        if len(places) > 1:
            raise unknown_shop([place.shop.slug for place in places])
        return places[0] if places else None

    def shop_slugs(self) -> list[str]:
        """The names of the shops where the person works."""
        return [place.shop.slug for place in self._places()]

    def _places(self) -> list[Staff]:
        return list(Staff.objects.select_related("shop").filter(user=self, active=True).order_by("shop__slug"))

    @property
    def shown_name(self) -> str:
        return self.get_full_name() or self.username


def valid_zone(name: str) -> None:
    try:
        ZoneInfo(name)
    except Exception as error:
        raise ValidationError(f"'{name}' is not a time zone of the IANA list, such as America/Chicago.") from error


class Shop(models.Model):
    """One repair business. Amounts are in its currency, calendar dates in its zone."""

    class TaxBasis(models.TextChoices):
        ITEM = "item", "each line rounded"
        INVOICE = "invoice", "the sum rounded"

    class Measures(models.TextChoices):
        US = "us", "US customary"
        METRIC = "metric", "metric"

    slug = models.SlugField(unique=True)
    name = models.CharField(max_length=200)
    street = models.CharField(max_length=200, blank=True)
    city = models.CharField(max_length=120, blank=True)
    region = models.CharField(max_length=60, blank=True, help_text="State or province, as its post office writes it")
    postcode = models.CharField(max_length=20, blank=True)
    country = models.CharField(max_length=2, default="US")
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    time_zone = models.CharField(max_length=60, default="UTC", validators=[valid_zone])
    currency = models.CharField(max_length=3, default="USD")
    currency_symbol = models.CharField(max_length=4, default="$")
    currency_decimals = models.PositiveSmallIntegerField(default=2)
    paper = models.CharField(max_length=10, choices=[("letter", "Letter"), ("a4", "A4")], default="letter")
    language = models.CharField(max_length=10, default="en")
    measures = models.CharField(
        max_length=10, blank=True, choices=Measures,
        help_text="Units in which papers show what was measured, with the recorded ones beside; empty: as it was recorded",
    )  # fmt: skip
    accent = models.CharField(max_length=7, default="#1f5a7a", validators=[RegexValidator(r"^#[0-9a-fA-F]{6}$")])
    tax_basis = models.CharField(max_length=10, choices=TaxBasis, default=TaxBasis.INVOICE)
    estimate_days = models.PositiveSmallIntegerField(default=30, help_text="How long an estimate stays valid")
    own_overrun_percent = models.DecimalField(
        max_digits=6, decimal_places=3, default=0, validators=[MinValueValidator(0)],
        help_text="How far a bill may exceed what was agreed before the customer is asked again; laws may be stricter",
    )  # fmt: skip
    storage_free_days = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Days after the work is finished before storage is charged; empty: never"
    )
    storage_per_day = models.DecimalField(
        max_digits=12, decimal_places=3, null=True, blank=True, validators=[MinValueValidator(0)],
        help_text="Storage a day by the shop's own terms; empty: none",
    )  # fmt: skip
    storage_after_notice = models.BooleanField(
        default=True, help_text="Whether storage is charged only from when the customer was told that it will be"
    )
    tax_id = models.CharField(
        max_length=20, blank=True, validators=[RegexValidator(r"^([A-Z]{2}[0-9A-Z+*.]{2,13})?$")],
        help_text="The number under which the shop pays value-added tax, its country's two letters first",
    )  # fmt: skip
    electronic_invoice = models.BooleanField(
        default=False, help_text="Whether invoices carry themselves as XML of the European standard"
    )
    claim_camera_facts = models.BooleanField(
        default=False, help_text="Whether a claim tells where its photos were taken, and by which camera"
    )
    created_at = models.DateTimeField(auto_now_add=True)
    version = models.PositiveIntegerField(default=1, help_text="Counts saves, so that a stale save is noticed")

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)

    def today(self) -> dt.date:
        """The calendar date at the shop, now."""
        return timezone.now().astimezone(self.zone).date()

    def local(self, moment: dt.datetime) -> dt.datetime:
        """A stored moment on the shop's wall clock."""
        return moment.astimezone(self.zone)

    def address_lines(self) -> list[str]:
        place = " ".join(
            part
            for part in (f"{self.city}," if self.city and self.region else self.city, self.region, self.postcode)
            if part
        )
        return [line for line in (self.street, place) if line]


def valid_roles(value: Any) -> None:
    if not isinstance(value, list) or not value or not set(value) <= set(ROLES) or len(set(value)) != len(value):
        raise ValidationError(f"Name at least one role, each once, out of: {', '.join(ROLES)}.")


class Staff(models.Model):
    """A person's place at one shop, with the roles they hold there."""

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="staff")
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="places")
    roles = models.JSONField(default=list, validators=[valid_roles])
    active = models.BooleanField(default=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "user"], name="one_place_per_person_and_shop")]

    def __str__(self) -> str:
        return f"{self.user.shown_name} ({', '.join(self.roles)})"

    def save(self, *args: Any, **kwargs: Any) -> None:
        # The owner holds all roles; saying so here keeps every permission table short.
        if OWNER in self.roles:
            self.roles = list(ROLES)
        super().save(*args, **kwargs)


class DatedRate(ShopRecord):
    """A figure from a day on. One that was entered wrongly stays, marked, and another record `corrects` it."""

    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )
    corrected_at = models.DateTimeField(
        null=True, blank=True, help_text="when another record took its place; empty: not"
    )

    class Meta(ShopRecord.Meta):
        abstract = True


class LabourRate(DatedRate):
    """What an hour costs, by payer, from a day on. The newest rate that has begun applies."""

    payer = models.CharField(max_length=20, help_text="customer, warranty, shop or goodwill; empty for all")
    skill = models.CharField(max_length=40, blank=True, help_text="'helper', say; empty: the usual rate")
    per_hour = models.DecimalField(max_digits=12, decimal_places=4, validators=[MinValueValidator(0)])
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)

    class Meta(DatedRate.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "payer", "skill", "starts_on"],
                condition=models.Q(corrected_at=None),
                name="one_labour_rate_per_start",
            )
        ]


class TaxRate(DatedRate):
    """One tax of one jurisdiction, from a day on, with the kinds of line and payers that it falls on.

    The shop enters and confirms its rates; none is shipped as truth.
    """

    name = models.CharField(max_length=120)
    percent = models.DecimalField(max_digits=7, decimal_places=4, validators=[MinValueValidator(0)])
    on_kinds = models.JSONField(default=list, help_text="kinds of line: labour, part, fee, supplies")
    on_payers = models.JSONField(default=list, help_text="payers: customer, warranty, shop, goodwill")
    with_parts = models.JSONField(
        default=list,
        blank=True,
        help_text="kinds of on_kinds that are taxed only in a job with a part for the same payer",
    )
    brackets = models.JSONField(
        null=True,
        blank=True,
        help_text="a statute's bracket table, which replaces the percentage: see shopdocs/brackets.py",
    )
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)

    class Meta(DatedRate.Meta):
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "name", "starts_on"],
                condition=models.Q(corrected_at=None),
                name="one_tax_rate_per_start",
            )
        ]


class NumberSeries(models.Model):
    """Gap-free numbers: `last` is raised under the row's lock, inside the transaction that uses the number."""

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=20)
    prefix = models.CharField(max_length=10, blank=True)
    last = models.PositiveBigIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "name"], name="one_series_per_name")]


class Event(models.Model):
    """The history: who did what to which record, when. Only ever added to."""

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="+")
    subject = models.CharField(max_length=80, help_text="kind:id of the record")
    verb = models.CharField(max_length=40)
    words = models.CharField(max_length=500, blank=True)
    facts = models.JSONField(default=dict)
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    by_name = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("at", "id")
        indexes = [models.Index(fields=["shop", "subject", "at"], name="event_by_subject")]
