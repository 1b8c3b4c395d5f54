"""What both halves of the shop share: numbers, rates on a day, the history, and saving without overwriting."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal
from typing import Any, NoReturn, TypeVar

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import F, Q
from django.utils import timezone

from shopdocs.rest.refusals import Conflict, Problem, Refused, Stale

from .models import Event, LabourRate, NumberSeries, Shop, Staff, TaxRate, User
from .scoping import ShopRecord

Record = TypeVar("Record", bound=ShopRecord)
PREFIXES = {
    "order": "RO-",
    "estimate": "E-",
    "invoice": "I-",
    "credit_note": "CN-",
    "statement": "ST-",
    "claim": "C-",
    "tag": "T-",
}


def next_number(*, shop: Shop, series: str) -> str:
    """The next number of a gap-free series, such as 'I-1001'.

    Must run inside the transaction that stores the number: if that fails, the number is given out again.
    """
    assert transaction.get_connection().in_atomic_block, "a number belongs to the transaction that uses it"
    NumberSeries.objects.get_or_create(
        shop=shop, name=series, defaults={"prefix": PREFIXES.get(series, ""), "last": 1000}
    )
    row = NumberSeries.objects.select_for_update().get(shop=shop, name=series)
    row.last += 1
    row.save(update_fields=["last"])
    return f"{row.prefix}{row.last}"


def record_event(
    *,
    shop: Shop,
    subject: str,
    verb: str,
    words: str = "",
    facts: dict[str, Any] | None = None,
    by: Staff | None = None,
    by_name: str = "",
) -> Event:
    """Adds a line to the history. `by` is a member of staff, or `by_name` somebody outside (the customer)."""
    return Event.objects.create(
        shop=shop,
        subject=subject,
        verb=verb,
        words=words[:500],
        facts=facts or {},
        by=by.user if by else None,
        by_name=by.user.shown_name if by else by_name,
    )


def labour_rate(*, shop: Shop, payer: str, day: dt.date, skill: str = "") -> Decimal:
    """What an hour (of this skill) costs this payer on that day. Raises Refused when the shop has recorded no rate."""
    return rate_in_force(shop=shop, payer=payer, day=day, skill=skill).per_hour


def rate_in_force(*, shop: Shop, payer: str, day: dt.date, skill: str = "") -> LabourRate:
    """The record of that rate: a payer's own before the one for all, the newest that has begun."""
    rows = LabourRate.objects.for_shop(shop).filter(corrected_at=None, starts_on__lte=day)
    rows = rows.filter(Q(ends_on=None) | Q(ends_on__gte=day))
    own = rows.filter(payer__in=[payer, ""], skill=skill).order_by("-starts_on")
    best = own.filter(payer=payer).first() or own.first()
    if best is None:
        whose = f"'{payer}'" + (f" and '{skill}'" if skill else "")
        raise Refused("labour_rate", f"No labour rate for {whose} on {day}.", "Enter the shop's labour rate first.")
    return best


def tax_rates(*, shop: Shop, day: dt.date) -> list[TaxRate]:
    """The taxes in force on that day, newest start per name, by name."""
    rows = TaxRate.objects.for_shop(shop).filter(corrected_at=None, starts_on__lte=day)
    rows = rows.filter(Q(ends_on=None) | Q(ends_on__gte=day))
    newest: dict[str, TaxRate] = {}
    for row in rows.order_by("starts_on"):
        newest[row.name] = row
    return [newest[name] for name in sorted(newest)]


def save_changes(record: Record, *, version: int, changes: dict[str, Any]) -> Record:
    """Saves `changes` if the record is still at `version`; otherwise raises Stale with what is there now."""
    cls: Any = type(record)
    for name, value in changes.items():
        setattr(record, name, value)
    # "Not known" is a value wherever the column takes null; Django's own rule would call it a blank form field.
    checked = {f.name for f in cls._meta.fields if f.name in changes and not (f.null and changes[f.name] is None)}
    try:
        record.clean_fields(exclude={f.name for f in cls._meta.fields} - checked)
    except ValidationError as error:
        problems = [Problem(k, " ".join(v), "Correct this value.") for k, v in error.message_dict.items()]
        raise Refused(problems=problems) from error
    fields = {name: getattr(record, name) for name in changes}
    try:
        with transaction.atomic():
            saved = (
                cls.objects.for_shop(record.shop_id)
                .filter(pk=record.pk, version=version)
                .update(**fields, version=F("version") + 1, updated_at=timezone.now())
            )
    except IntegrityError as error:
        raise Conflict("", "Another record already has this value.", "Open the other record instead.") from error
    current = cls.objects.for_shop(record.shop_id).get(pk=record.pk)
    if not saved:
        differs = {n: str(getattr(current, n)) for n in changes if getattr(current, n) != fields[n]}
        raise Stale(current_version=current.version, changed=differs)
    return current


def refuse_no_change(record: ShopRecord, *, version: int, fields: Iterable[str], remedy: str) -> NoReturn:
    """For a change that names nothing but the version: Stale with the `fields` as they are now where the version is old."""
    if record.version != version:
        now = {name: str(getattr(record, name)) for name in fields if hasattr(record, name)}
        raise Stale(current_version=record.version, changed=now)
    raise Refused("", "Nothing is to be changed.", remedy)


@transaction.atomic
def open_shop(*, slug: str, name: str, owner: User, **details: Any) -> Shop:
    """Opens a shop with its owner. Rates and taxes are entered afterwards, by the shop."""
    shop = Shop(slug=slug, name=name, **details)
    shop.full_clean()
    shop.save()
    Staff.objects.create(shop=shop, user=owner, roles=["owner"])
    return shop


@transaction.atomic
def add_staff(*, shop: Shop, username: str, full_name: str, password: str, roles: list[str], email: str = "") -> Staff:
    """Gives a person a sign-in and a place at the shop."""
    first, _, last = full_name.partition(" ")
    user = User(username=username, first_name=first, last_name=last, email=email)
    user.set_password(password)
    user.full_clean()
    user.save()
    staff = Staff(shop=shop, user=user, roles=roles)
    staff.full_clean()
    staff.save()
    return staff
