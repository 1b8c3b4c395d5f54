"""A promise as a shop writes it: its places and assemblies are read as those of its units are, or refused; none is matched by luck.

This stands at the door alone, for what is recorded is read back as it was written.
"""

from __future__ import annotations

import copy
from decimal import Decimal
from difflib import get_close_matches
from typing import Any

from orders.models import Assembly
from orders.rules.regions import region_code
from orders.services.units import unknown_region
from shopdocs.rest.refusals import Refused
from shopdocs.shops.models import Shop
from warranty.coverage.names import folded

UNIT = "unit"


def as_recorded(shop: Shop, term: dict[str, Any], field: str = "term") -> dict[str, Any]:
    """The record of a term that was read already, with regions as codes and roles as units name them.

    Raises Refused for a region or role that no unit can have, and for a displacement of which none can be.
    """
    told = copy.deepcopy(term)
    machines, roles = told.get("machines") or {}, _Roles(shop)
    for at, typed in enumerate(machines.get("regions") or ()):
        machines["regions"][at] = _region(shop, typed, f"{field}.machines.regions[{at}]")
    far = told.get("far_owner") or {}
    for at, typed in enumerate(far.get("not_in") or ()):
        far["not_in"][at] = _region(shop, typed, f"{field}.far_owner.not_in[{at}]")
    if "label_of" in machines:
        machines["label_of"] = roles.read(machines["label_of"], f"{field}.machines.label_of")
    for at, typed in enumerate(told.get("assemblies") or ()):
        told["assemblies"][at] = roles.read(typed, f"{field}.assemblies[{at}]")
    _displacement(machines.get("displacement") or {}, f"{field}.machines.displacement")
    return told


def _region(shop: Shop, typed: str, field: str) -> str:
    code = region_code(typed, shop.country)
    if code is None:
        raise Refused(problems=[unknown_region(typed, field)])
    return code


class _Roles:
    """The roles that an assembly of this shop can have; those in words are asked for only where the list lacks one."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.listed = [UNIT, *(role for role in Assembly.Role.values if role != Assembly.Role.OTHER)]

    def read(self, typed: str, field: str) -> str:
        """The role as units name it, however its capitals are and with spaces for its underscores."""
        word = folded(typed)
        code = word.replace(" ", "_").replace("-", "_")
        if code in self.listed:
            return code
        rows = Assembly.objects.for_shop(self.shop).filter(role=Assembly.Role.OTHER, role_words__iexact=word)
        in_words: str | None = rows.order_by("created_at").values_list("role_words", flat=True).first()
        if in_words is not None:
            return in_words
        near = self._near(code)
        problem = f"There is no assembly '{typed}'{'; near to it: ' if near else ''}{', '.join(near)}."
        remedy = f"Send one of {', '.join(self.listed)}, or the words by which a unit of the shop has it."
        raise Refused(field, problem, remedy)

    def _near(self, code: str) -> list[str]:
        """Roles whose name, or a word of it, is near to what was typed."""
        meant = {word: [role for role in self.listed if word in (role, *role.split("_"))] for role in self.listed
                 for word in (role, *role.split("_"))}  # fmt: skip
        meant["motor"] = [Assembly.Role.ENGINE.value, *meant["motor"]]  # an engine is called so too
        return list(dict.fromkeys(role for word in get_close_matches(code, meant) for role in meant[word]))


def _displacement(span: dict[str, Any], field: str) -> None:
    low, high = span.get("from"), span.get("below")
    if low is not None and high is not None and Decimal(str(high)) <= Decimal(str(low)):
        problem = f"No engine has at least {low} cc and less than {high} cc."
        raise Refused(f"{field}.below", problem, "Send the smaller figure as 'from', the greater as 'below'.")
