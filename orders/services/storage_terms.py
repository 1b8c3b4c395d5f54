"""A shop's own terms of storage, as they are frozen with an estimate: what was not told beforehand is not charged."""

from __future__ import annotations

from typing import Any

from shopdocs.documents.press.words import Say
from shopdocs.shops.models import Shop

from .frozen import trimmed


def storage_terms(shop: Shop, say: Say) -> dict[str, Any] | None:
    """Free days after the work is finished, the charge a day, whether notice comes first, and all that in words.

    None: the shop charges none.
    """
    if shop.storage_per_day is None or not shop.storage_per_day or shop.storage_free_days is None:
        return None
    per_day = trimmed(shop.storage_per_day, shop.currency_decimals)
    if shop.storage_after_notice:
        told = say(
            "A machine that is not picked up costs {amount} of storage a day, later than {days} days after the work is "
            "finished, and not before we have told you that it is ready."
        )
    else:
        told = say(
            "A machine that is not picked up costs {amount} of storage a day, later than {days} days after the work is "
            "finished."
        )
    return {
        "free_days": shop.storage_free_days,
        "per_day": per_day,
        "after_notice": shop.storage_after_notice,
        "words": told.format(amount=f"{shop.currency_symbol}{per_day}", days=shop.storage_free_days),
    }
