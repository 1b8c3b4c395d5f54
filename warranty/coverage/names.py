"""Names of makers, models and families as they are compared: capitals and the number of spaces do not matter."""

from __future__ import annotations

from functools import lru_cache


@lru_cache(maxsize=16_384)
def folded(name: str) -> str:
    """The name as it is compared."""
    return " ".join(name.split()).casefold()
