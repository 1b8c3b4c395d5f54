"""Changing the shop's own settings: always forward in time, never behind the back of what was already sent."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from shopdocs.brackets import read_table
from shopdocs.money import Currency, plain
from shopdocs.problems import BadInput
from shopdocs.rest.refusals import Conflict, Missing, Problem, Refused, Stale

from .models import LabourRate, Shop, Staff, TaxRate
from .services import record_event, tax_rates

ANOTHER_DAY = "Choose another day, or correct that record."
CORRECTABLE = ("percent", "on_kinds", "on_payers", "with_parts", "brackets", "ends_on")
TaxGuard = Callable[[TaxRate], None]
_TAX_GUARDS: list[TaxGuard] = []


def register_tax_guard(guard: TaxGuard) -> None:
    """Called when an app is ready. `guard` raises Refused for a new tax that cannot stand beside what that room keeps."""
    if guard not in _TAX_GUARDS:
        _TAX_GUARDS.append(guard)


RegionReader = Callable[[str, str], str]
_REGION_READERS: list[RegionReader] = []


def register_region_reader(reader: RegionReader) -> None:
    """Called when an app is ready. `reader` gives a region as it is kept, of a country, or raises Refused."""
    if reader not in _REGION_READERS:
        _REGION_READERS.append(reader)


@transaction.atomic
def change_shop(*, by: Staff, version: int, changes: dict[str, Any]) -> Shop:
    """Changes name, address, paper, colour and the like. Frozen papers keep what they said.

    Raises Stale where somebody else saved since `version`, and Refused where nothing is to be changed.
    """
    shop = Shop.objects.select_for_update().get(pk=by.shop_id)
    if shop.version != version:
        now = {name: str(getattr(shop, name)) for name, value in changes.items() if getattr(shop, name) != value}
        raise Stale(current_version=shop.version, changed=now)
    if not changes:
        raise Refused("", "Nothing is to be changed.", "Name at least one of the shop's fields.")
    if "region" in changes:
        for reader in _REGION_READERS:
            changes = {**changes, "region": reader(changes["region"], shop.country)}
    for name, value in changes.items():
        setattr(shop, name, value)
    try:
        shop.clean_fields()
    except ValidationError as error:
        raise Refused(
            problems=[Problem(k, " ".join(v), "Correct this value.") for k, v in error.message_dict.items()]
        ) from error
    if shop.electronic_invoice and not shop.tax_id:
        problem = "An electronic invoice names the number under which the shop pays value-added tax."
        raise Refused("tax_id", problem, "Give it too, or leave electronic invoices off.")
    shop.version += 1
    shop.save()
    record_event(shop=shop, subject=f"shop:{shop.pk}", verb="changed", words=", ".join(sorted(changes)), by=by)
    return shop


@transaction.atomic
def set_labour_rate(*, by: Staff, payer: str, per_hour: Decimal, starts_on: dt.date, skill: str = "") -> LabourRate:
    """What an hour costs this payer from `starts_on` on; `skill`: an hour of a helper, say, and not the usual one."""
    skill = skill.strip().lower()
    rows = LabourRate.objects.for_shop(by.shop).filter(payer=payer, skill=skill, corrected_at=None)
    if rows.filter(starts_on=starts_on).exists():
        raise Conflict("starts_on", f"A rate starting on {starts_on} is recorded already.", ANOTHER_DAY)
    rows.filter(starts_on__lt=starts_on, ends_on=None).update(ends_on=starts_on - dt.timedelta(days=1))
    row: LabourRate = LabourRate.objects.create(
        shop=by.shop, payer=payer, skill=skill, per_hour=per_hour, starts_on=starts_on
    )
    record_event(
        shop=by.shop,
        subject="labour-rates",
        verb="set",
        words=f"{payer or 'all'}{skill and ', '}{skill}: {per_hour} from {starts_on}",
        by=by,
    )
    return row


@transaction.atomic
def set_tax_rate(
    *,
    by: Staff,
    name: str,
    percent: Decimal,
    on_kinds: list[str],
    on_payers: list[str],
    starts_on: dt.date,
    ends_on: dt.date | None = None,
    with_parts: list[str] | None = None,
    brackets: dict[str, Any] | None = None,
) -> TaxRate:
    """A tax of this name from `starts_on` on (up to and including `ends_on`), on these kinds of line and payers.

    `with_parts`: those of the kinds that are taxed only in a job with a part for the same payer. `brackets`: a
    statute's table (shopdocs/brackets.py), which then replaces the percentage. Raises Refused for a table with a hole.
    """
    _refuse_tax(starts_on, ends_on, on_kinds, with_parts or ())
    _refuse_too_much(by.shop, name, percent, on_kinds, on_payers, starts_on)
    table = _plain_table(by.shop, brackets)
    rows = TaxRate.objects.for_shop(by.shop).filter(name=name, corrected_at=None)
    if rows.filter(starts_on=starts_on).exists():
        raise Conflict("starts_on", f"A rate of '{name}' starting on {starts_on} is recorded already.", ANOTHER_DAY)
    row = TaxRate(
        shop=by.shop, name=name, percent=percent, on_kinds=on_kinds, on_payers=on_payers, starts_on=starts_on,
        ends_on=ends_on, with_parts=with_parts or [], brackets=table,
    )  # fmt: skip
    for guard in _TAX_GUARDS:
        guard(row)
    rows.filter(starts_on__lt=starts_on, ends_on=None).update(ends_on=starts_on - dt.timedelta(days=1))
    row.save(force_insert=True)
    how = "bracket table" if table else f"{percent} %"
    record_event(shop=by.shop, subject="tax-rates", verb="set", words=f"{name}: {how} from {starts_on}", by=by)
    return row


def _refuse_tax(starts_on: dt.date, ends_on: dt.date | None, on_kinds: list[str], with_parts: Iterable[str]) -> None:
    if ends_on is not None and ends_on < starts_on:
        raise Refused("ends_on", f"The tax would end on {ends_on}, before it starts.", "Correct one of the two days.")
    alone = sorted(set(with_parts) - set(on_kinds))
    if alone:
        problem = f"'{alone[0]}' is not among the kinds that the tax falls on."
        raise Refused("with_parts", problem, "Name it in on_kinds too.")


def _refuse_too_much(
    shop: Shop, name: str, percent: Decimal, kinds: list[str], payers: list[str], starts_on: dt.date
) -> None:
    """Refused where the percentages that fall on one kind of line and one payer on its first day come to 100 or more."""
    others = [row for row in tax_rates(shop=shop, day=starts_on) if row.name != name]
    for kind, payer in ((kind, payer) for kind in kinds for payer in payers):
        beside = [row for row in others if kind in row.on_kinds and payer in row.on_payers]
        total = sum((row.percent for row in beside), percent)
        if total >= 100:
            named = ", ".join(f"{row.name} {plain(row.percent)} %" for row in beside)
            problem = f"Beside {named} the taxes on '{kind}' would come to {plain(total)} %."
            raise Refused("percent", problem, "Correct the percentage: all together stay below 100 %.")


@transaction.atomic
def correct_labour_rate(*, by: Staff, rate: UUID, version: int, per_hour: Decimal, reason: str) -> LabourRate:
    """Another record takes the place of one that was entered wrongly, from the same day on. What was priced keeps its rate.

    Raises Conflict for a rate that is no longer in force: only frozen papers hold it.
    """
    old = to_correct(LabourRate, by, rate, version, key=("payer", "skill"))
    if old.per_hour == per_hour:
        raise Refused("per_hour", f"The rate is {per_hour} already.", "Give the right figure, or leave the rate alone.")
    new: LabourRate = take_place(old, {"per_hour": per_hour})
    words = f"{old.payer or 'all'}{old.skill and ', '}{old.skill} from {old.starts_on}: {plain(per_hour)}, not {plain(old.per_hour)}; {reason}"
    facts = {"was": f"{old.per_hour:f}", "now": f"{per_hour:f}", "reason": reason, "record": str(old.pk)}
    record_event(shop=by.shop, subject="labour-rates", verb="corrected", words=words, facts=facts, by=by)
    return new


@transaction.atomic
def correct_tax_rate(*, by: Staff, rate: UUID, version: int, reason: str, changes: dict[str, Any]) -> TaxRate:
    """As `correct_labour_rate`, for a tax: percent, kinds, payers, bracket table, or the last day."""
    old = to_correct(TaxRate, by, rate, version, key=("name",))
    if "brackets" in changes:
        changes = {**changes, "brackets": _plain_table(by.shop, changes["brackets"])}
    differs = {name: value for name, value in changes.items() if getattr(old, name) != value}
    if not differs:
        raise Refused("", "Nothing is to be corrected.", f"Send at least one of: {', '.join(CORRECTABLE)}.")
    then = {name: differs.get(name, getattr(old, name)) for name in CORRECTABLE}
    _refuse_tax(old.starts_on, then["ends_on"], then["on_kinds"], then["with_parts"])
    _refuse_too_much(by.shop, old.name, then["percent"], then["on_kinds"], then["on_payers"], old.starts_on)
    new: TaxRate = take_place(old, differs)
    told = ", ".join(
        f"{name} {differs[name]}, not {getattr(old, name)}" for name in sorted(differs) if name != "brackets"
    )
    words = f"{old.name} from {old.starts_on}: {told or 'another bracket table'}; {reason}"
    was = {name: str(getattr(old, name)) for name in differs}
    now = {name: str(value) for name, value in differs.items()}
    facts = {"was": was, "now": now, "reason": reason, "record": str(old.pk)}
    record_event(shop=by.shop, subject="tax-rates", verb="corrected", words=words, facts=facts, by=by)
    return new


def to_correct(model: Any, by: Staff, pk: UUID, version: int, *, key: Sequence[str], field: str = "rate") -> Any:
    """A dated record under its lock, once it may be corrected. `key` names what it holds for, beside its days."""
    rows = model.objects.for_shop(by.shop)
    row = rows.select_for_update().filter(pk=pk).first()
    if row is None:
        raise Missing(field, "No such record in your shop.", "Read the list again.")
    if row.corrected_at is not None:
        raise Conflict(field, "This record was corrected already.", "Correct the one that took its place.")
    if row.version != version:
        raise Stale(current_version=row.version, changed={})
    today, last = by.shop.today(), getattr(row, "ends_on", None)
    alike = {name: getattr(row, name) for name in key}
    begun = rows.filter(corrected_at=None, starts_on__gt=row.starts_on, starts_on__lte=today, **alike)
    if begun.exists() or (last is not None and last < today):
        raise Conflict(
            field,
            "This record is no longer in force: only papers that were issued hold it, and they stay as they are.",
            "Issue a new version of the estimate, or credit what was charged wrongly on the invoice.",
        )
    return row


def take_place(old: Any, changes: dict[str, Any]) -> Any:
    """Marks the record as corrected, and makes the one that takes its place."""
    cls = type(old)
    old.corrected_at = timezone.now()
    old.version += 1
    old.save(update_fields=["corrected_at", "version", "updated_at"])
    kept = {field.name for field in cls._meta.fields} - {
        "id", "created_at", "updated_at", "version", "corrects", "corrected_at",
    }  # fmt: skip
    row = cls(**{name: getattr(old, name) for name in kept} | changes, corrects=old)
    for guard in _TAX_GUARDS if cls is TaxRate else ():
        guard(row)
    row.save(force_insert=True)
    return row


def _plain_table(shop: Shop, given: dict[str, Any] | None) -> dict[str, Any] | None:
    """The table as plain data, once it holds; None for none."""
    if given is None:
        return None
    try:
        table = read_table(given, Currency(shop.currency, shop.currency_decimals, shop.currency_symbol))
    except BadInput as bad:
        raise Refused(f"brackets.{bad.field}", bad.problem, bad.remedy) from bad
    rows = {"below": table.below, "excess": table.excess}
    plain = {name: [{"up_to": f"{limit:f}", "tax": f"{tax:f}"} for limit, tax in part] for name, part in rows.items()}
    return {"whole": f"{table.whole:f}", "per_whole": f"{table.per_whole:f}", **plain}
