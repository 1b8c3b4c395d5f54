"""Every record belongs to one shop, and every query starts there (principle 8)."""

from __future__ import annotations

import uuid
from typing import Any, Self

from django.db import models


class ShopQuerySet(models.QuerySet[Any]):
    def for_shop(self, shop: Any) -> Self:
        """The rows of one shop, given itself or by its id: where every query of ours begins."""
        return self.filter(shop=shop)


ShopManager = models.Manager.from_queryset(ShopQuerySet)


class ShopRecord(models.Model):
    """A record of one shop. `version` counts saves, so that a stale save is noticed (principle 7)."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    shop = models.ForeignKey("shops.Shop", on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField(auto_now_add=True)
    updated_at = models.DateTimeField(auto_now=True)
    version = models.PositiveIntegerField(default=1)

    objects = ShopManager()

    class Meta:
        abstract = True
        ordering = ("created_at", "id")
