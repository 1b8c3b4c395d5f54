"""What a photo is about, as another room knows it. It registers a guard by the subject's prefix; this room only asks."""

from __future__ import annotations

from collections.abc import Callable
from uuid import UUID

from shopdocs.shops.models import Shop

Guard = Callable[[Shop, UUID], None]
_GUARDS: dict[str, Guard] = {}


def register(prefix: str, guard: Guard) -> None:
    """Called once per prefix ('order' of 'order:ID') when an app is ready. `guard` raises Conflict where a record stays."""
    if _GUARDS.get(prefix, guard) != guard:
        raise ValueError(f"the subject '{prefix}' is registered twice")
    _GUARDS[prefix] = guard


def refuse_kept(shop: Shop, subject: str) -> None:
    """Raises what the guard of this subject raises; a subject without one may be changed."""
    prefix, _, key = subject.partition(":")
    if prefix in _GUARDS:
        _GUARDS[prefix](shop, UUID(key))
