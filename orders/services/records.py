"""What every service of this room does: find a record of the shop, say no to an unknown code, store without a race."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeVar
from uuid import UUID

from django.db import IntegrityError, transaction

from orders.models import Distributor, MachineModel, Maker, Part
from orders.rules.trade import UnknownCode
from shopdocs.rest.refusals import Conflict, Missing, Problem, Refused
from shopdocs.shops.models import Shop
from shopdocs.shops.scoping import ShopRecord

Record = TypeVar("Record", bound=ShopRecord)
T = TypeVar("T")


def given_in_body(model: type[Record], *, shop: Shop, pk: UUID, field: str) -> Record:
    """The shop's record that the body names; Refused (400) naming `field` otherwise, another shop's record included."""
    rows: Any = model.objects.for_shop(shop).filter(pk=pk)
    found: Record | None = rows.first()
    if found is None:
        raise Refused(field, "No such record in your shop.", "Use the id of a record of your shop.")
    return found


def given_in_address(model: type[Record], *, shop: Shop, pk: UUID, lock: bool = False) -> Record:
    """The shop's record that the address names; Missing (404) otherwise. `lock` keeps others from changing it now."""
    rows: Any = model.objects.for_shop(shop).filter(pk=pk)
    found: Record | None = (rows.select_for_update() if lock else rows).first()
    if found is None:
        raise Missing("id", "No such record in your shop.", "Check the address and the id.")
    return found


def known_code(look_up: Callable[..., T], *codes: str, field: str) -> T:
    """What `look_up` finds for the codes; Refused naming `field`, with the near matches that the rules give."""
    try:
        return look_up(*codes)
    except UnknownCode as error:
        words = str(error)
        raise Refused(field, f"{words[:1].upper()}{words[1:]}.", "Use a code that exists.") from error


def refuse_all(problems: Iterable[Problem]) -> None:
    """Raises one Refused with every problem, if there is any."""
    listed = list(problems)
    if listed:
        raise Refused(problems=listed)


def taken(field: str, problem: str, remedy: str, **extra: Any) -> Conflict:
    """A Conflict whose body also carries `extra`, such as the id of the record that is there already."""
    conflict = Conflict(field, problem, remedy)
    conflict.extra = extra
    return conflict


def store(record: Record, *, clash: Callable[[], Conflict]) -> Record:
    """Saves a new record; when another one took its place in the same moment, raises what `clash` gives."""
    try:
        with transaction.atomic():
            record.save(force_insert=True)
    except IntegrityError as error:
        raise clash() from error
    return record


LINKS: dict[str, type[ShopRecord]] = {
    "maker": Maker,
    "model": MachineModel,
    "distributor": Distributor,
    "replaced_by": Part,
}


def with_records(shop: Shop, facts: Mapping[str, Any], at: str = "") -> dict[str, Any]:
    """The facts with ids of other records replaced by the records of this shop, and names in one spacing."""
    filled = dict(facts)
    for field in ("name", "code", "number"):
        if field in filled:
            filled[field] = " ".join(filled[field].split())
    for field, model in LINKS.items():
        pk = filled.get(field)
        if isinstance(pk, UUID):
            filled[field] = given_in_body(model, shop=shop, pk=pk, field=f"{at}{field}")
    return filled
