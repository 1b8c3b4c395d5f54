"""A shop's own terms of storage, as they are frozen with an estimate: what was not told beforehand is not charged."""

from __future__ import annotations

from typing import Any

from shopdocs.shops.models import Shop

from .frozen import trimmed


def storage_terms(shop: Shop) -> dict[str, Any] | None:
    """Free days after the work is finished, the charge a day, and whether notice comes first; None: the shop charges none."""
    if shop.storage_per_day is None or not shop.storage_per_day or shop.storage_free_days is None:
        return None
    return {
        "free_days": shop.storage_free_days,
        "per_day": trimmed(shop.storage_per_day, shop.currency_decimals),
        "after_notice": shop.storage_after_notice,
    }
