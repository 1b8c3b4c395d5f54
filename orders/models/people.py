"""Customers: homeowners, crews and rental yards."""

from django.db import models

from shopdocs.shops.models import Shop
from shopdocs.shops.scoping import ShopRecord


class Customer(ShopRecord):
    class Kind(models.TextChoices):
        HOUSEHOLD = "household", "household"
        CREW = "crew", "crew or company"
        RENTAL_YARD = "rental_yard", "rental yard"

    kind = models.CharField(max_length=20, choices=Kind, default=Kind.HOUSEHOLD)
    name = models.CharField(max_length=400)
    company = models.CharField(max_length=400, blank=True)
    email = models.EmailField(max_length=320, blank=True)
    phone = models.CharField(max_length=60, blank=True)
    street = models.CharField(max_length=400, blank=True)
    city = models.CharField(max_length=200, blank=True)
    region = models.CharField(max_length=60, blank=True)
    postcode = models.CharField(max_length=20, blank=True)
    language = models.CharField(
        max_length=10, blank=True, help_text="Language of the customer's papers and letters; empty: the shop's"
    )
    measures = models.CharField(
        max_length=10, blank=True, choices=Shop.Measures,
        help_text="Units in which the customer's papers show what was measured; empty: the shop's",
    )  # fmt: skip
    tax_exempt = models.BooleanField(default=False)
    tax_certificate = models.CharField(max_length=100, blank=True, help_text="number of the exemption certificate")
    tax_exempt_until = models.DateField(null=True, blank=True, help_text="its last day; empty: it names none")
    note = models.TextField(blank=True)

    def __str__(self) -> str:
        return self.company or self.name

    def address_lines(self) -> list[str]:
        place = ", ".join(part for part in (self.city, " ".join(p for p in (self.region, self.postcode) if p)) if part)
        return [line for line in (self.company, self.street, place) if line]
