"""The shop's own region, by which its state's laws are found: kept as a code, whatever way it was typed."""

from __future__ import annotations

from orders.rules.regions import near, shop_region
from shopdocs.rest.refusals import Refused


def kept_region(text: str, country: str) -> str:
    """'OH' for 'oh', 'Ohio' or 'US-OH'; empty stays empty. Refused with what is like it for what is no region there."""
    kept = shop_region(text, country)
    if kept is None:
        problem = f"'{' '.join(text.split())}' is no region of {country} that is known here."
        raise Refused("region", problem, f"Send the code of the state: {', '.join(near(text, country))}.")
    return kept
