"""What the shop knows beforehand: makers, distributors, models, operations, parts."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, TypeVar
from uuid import UUID

from django.db import transaction

from orders.models import Distributor, Job, JobLabour, LabourOperation, MachineModel, Maker, Part
from orders.models.catalogue import WorkStep
from orders.models.units import plain_serial
from orders.rules import trade
from orders.rules.labour import TENTH, Rounding
from orders.rules.labour_guide import guide
from orders.rules.labour_jobs import order_labour
from orders.rules.parts import current_number
from orders.rules.work import Work
from shopdocs.problems import BadInput
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.scoping import ShopRecord
from shopdocs.shops.services import record_event, save_changes

from .house_rules import refuse_forbidden
from .labour_sets import Steps, guide_work, shop_steps, step_of
from .lines import known_work
from .part_lines import check_kit
from .records import given_in_address, known_code, store, taken, with_records

Facts = Mapping[str, Any]
Row = TypeVar("Row", bound=ShopRecord)
UNKNOWN_POWER = "unknown"


@transaction.atomic
def create_distributor(*, shop: Shop, by: Staff, facts: Facts) -> Distributor:
    """Adds a distributor as a contact. Its rates and terms are warranty's own records."""
    return _create(Distributor, shop, by, with_records(shop, facts), "distributor")


@transaction.atomic
def update_distributor(*, shop: Shop, by: Staff, pk: UUID, version: int, changes: Facts) -> Distributor:
    return _update(Distributor, shop, by, pk, version, with_records(shop, changes), "distributor")


@transaction.atomic
def create_maker(*, shop: Shop, by: Staff, facts: Facts, at: str = "") -> Maker:
    """Adds a maker; `authorised` and `approval_before_work` are None until the shop has found out."""
    return _create(Maker, shop, by, with_records(shop, facts, at), "maker", at)


@transaction.atomic
def update_maker(*, shop: Shop, by: Staff, pk: UUID, version: int, changes: Facts) -> Maker:
    return _update(Maker, shop, by, pk, version, with_records(shop, changes), "maker")


@transaction.atomic
def create_model(*, shop: Shop, by: Staff, facts: Facts, at: str = "") -> MachineModel:
    """Adds a model of machine. Raises Refused for an unknown family or a power source that the family does not have."""
    filled = with_records(shop, facts, at)
    check_power(filled["family"], filled["power_source"], at=at)
    return _create(MachineModel, shop, by, filled, "model", at)


@transaction.atomic
def update_model(*, shop: Shop, by: Staff, pk: UUID, version: int, changes: Facts) -> MachineModel:
    record = given_in_address(MachineModel, shop=shop, pk=pk)
    filled = with_records(shop, changes)
    check_power(filled.get("family", record.family), filled.get("power_source", record.power_source))
    return _update(MachineModel, shop, by, pk, version, filled, "model")


@transaction.atomic
def create_operation(*, shop: Shop, by: Staff, facts: Facts) -> LabourOperation:
    """Adds a labour operation; hours in tenths."""
    filled = with_records(shop, facts)
    _check_operation(filled.get("family", ""), filled.get("model"))
    _check_steps(shop, filled.get("steps", []))
    _check_overlaps(LabourOperation(shop=shop, **filled), filled)
    _check_hours(LabourOperation(shop=shop, **filled))
    _check_work(filled.get("words", ""), filled.get("action", ""), filled.get("components", []))
    return _create(LabourOperation, shop, by, filled, "operation")


@transaction.atomic
def update_operation(*, shop: Shop, by: Staff, pk: UUID, version: int, changes: Facts) -> LabourOperation:
    """Changes an operation; where its own time changes, so does that of its lines on jobs that are not agreed."""
    record = given_in_address(LabourOperation, shop=shop, pk=pk)
    before = record.hours
    filled = with_records(shop, changes)
    _check_operation(filled.get("family", record.family), filled.get("model", record.model))
    _check_steps(shop, filled.get("steps", []))
    for name, value in filled.items():
        setattr(record, name, value)
    _check_overlaps(record, filled)
    if {"hours", "steps"} & set(filled):
        _check_hours(record)
    now = {name: filled.get(name, getattr(record, name)) for name in ("words", "action", "components")}
    _check_work(**now)
    saved = _update(LabourOperation, shop, by, pk, version, filled, "operation")
    if saved.hours != before:
        _retime_lines(saved, before)
    return saved


def _retime_lines(row: LabourOperation, before: Decimal) -> None:
    """Lines that stood at the operation's own time do so still, on jobs that nobody has agreed to."""
    lines = JobLabour.objects.for_shop(row.shop).filter(operation=row, hours=before)
    lines.filter(job__state__in=(Job.State.PROPOSED, Job.State.DECLINED)).update(hours=row.hours)


def _check_work(words: str, action: str, components: list[str]) -> None:
    """Refuses unknown words of the trade, and work that no unit may ever get."""
    known_work(action, components)
    refuse_forbidden(None, Work("words", words), Work("action", "", action, tuple(components)))


@transaction.atomic
def create_step(*, shop: Shop, by: Staff, facts: Facts) -> WorkStep:
    """Adds a work step; the steps that it needs or undoes must be there."""
    filled = dict(facts)
    _check_step(WorkStep(shop=shop, **filled))
    return _create(WorkStep, shop, by, filled, "step")


@transaction.atomic
def update_step(*, shop: Shop, by: Staff, pk: UUID, version: int, changes: Facts) -> WorkStep:
    """Changes a work step; operations that hold it take the new time from the next estimate on.

    Where their own hours would then contradict their steps they become those of the steps, on jobs that are not agreed too.
    """
    record = given_in_address(WorkStep, shop=shop, pk=pk)
    for name, value in changes.items():
        setattr(record, name, value)
    _check_step(record)
    saved = _update(WorkStep, shop, by, pk, version, dict(changes), "step")
    steps = shop_steps(shop)
    for row in LabourOperation.objects.for_shop(shop).exclude(steps=[]).order_by("code", "id"):
        right = _contradicted(row, steps)
        if right is not None:
            before, row.hours = row.hours, right
            row.version += 1
            row.save(update_fields=["hours", "version", "updated_at"])
            _retime_lines(row, before)
    return saved


def _check_hours(row: LabourOperation) -> None:
    """Refuses hours that are another time than that of the operation's own steps."""
    right = _contradicted(row, shop_steps(row.shop)) if row.steps else None
    if right is not None:
        problem = f"The steps of {row.code} come to {right} h, and not to {row.hours} h."
        raise Refused("hours", problem, f"Give {right} h, or correct its steps.")


def _contradicted(row: LabourOperation, steps: Steps) -> Decimal | None:
    """The hours that an operation's steps come to, where its own are a tenth or more away; None where they agree."""
    time = order_labour([guide_work(1, [(row.code, row)], steps)], Rounding.HALF_UP)[0].alone
    return None if abs(row.hours * 60 - time.minutes) < TENTH else time.hours


def _check_step(row: WorkStep) -> None:
    """Refuses unknown steps and loops, by building the guide of all the shop's steps with this one in it."""
    steps = {**shop_steps(row.shop)}
    try:
        steps = {key: step for key, step in steps.items() if key != row.key} | {row.key: step_of(row)}
        guide(steps.values(), ())
    except BadInput as bad:
        raise Refused(bad.field.rpartition(".")[2] or "needs", bad.problem, bad.remedy) from bad


def _check_steps(shop: Shop, keys: list[str]) -> None:
    known = shop_steps(shop) if keys else {}
    for key in keys:
        if key not in known:
            raise Refused("steps", f"The shop has no work step '{key[:60]}'.", "Add the step, or correct its key.")


def _check_overlaps(row: LabourOperation, filled: dict[str, Any]) -> None:
    """Refuses codes that no operation has, an operation inside itself, a pair on work that is made of steps, and one that
    stands there twice or is included.

    `less_with` is kept as plain digits.
    """
    if "less_with" in filled:
        filled["less_with"] = [
            {"operation": one["operation"], "hours": f"{one['hours']}"} for one in filled["less_with"]
        ]
        row.less_with = filled["less_with"]
    if row.steps and row.less_with:
        raise Refused("less_with", "Only a bare time takes less beside another.", "Let the steps say what is shared.")
    rows = LabourOperation.objects.for_shop(row.shop).exclude(pk=row.pk)
    inside: dict[str, set[str]] = {}
    for code, parts in rows.values_list("code", "includes"):  # for several machines: whichever of them it is
        inside.setdefault(code, set()).update(parts)
    for field, codes in (("includes", row.includes), ("less_with", [pair["operation"] for pair in row.less_with])):
        for code in codes:
            if code not in inside or code == row.code:
                problem = f"There is no other operation '{code[:40]}'."
                raise Refused(field, problem, "Add the operation first, or correct its code.")
    waiting, seen = list(row.includes), set[str]()
    while waiting:
        code = waiting.pop()
        if code == row.code:
            problem = f"'{row.code}' would be part of itself."
            raise Refused("includes", problem, "Take one of the two out of the other.")
        if code not in seen:
            seen.add(code)
            waiting.extend(inside.get(code, ()))
    named = set[str]()
    for pair in row.less_with:
        code = pair["operation"]
        if code in seen:
            problem = f"'{code}' is part of this work: beside it no time is left that could be less."
            raise Refused("less_with", problem, "Take it out of one of the two lists.")
        if code in named:
            raise Refused("less_with", f"'{code}' stands there twice.", "Say once how much less it is beside it.")
        named.add(code)
        if Decimal(pair["hours"]) > row.hours:
            problem = f"{pair['hours']} h less than {row.hours} h is below nothing."
            raise Refused("less_with", problem, "Give its own time or less.")


@transaction.atomic
def create_part(*, shop: Shop, by: Staff, facts: Facts) -> Part:
    filled = with_records(shop, facts)
    _check_component(filled.get("component", ""))
    _check_kit(Part(shop=shop, **_plain_kit(filled)), filled)
    return _create(Part, shop, by, filled, "part")


@transaction.atomic
def update_part(*, shop: Shop, by: Staff, pk: UUID, version: int, changes: Facts) -> Part:
    filled = with_records(shop, changes)
    _check_component(filled.get("component", ""))
    part = given_in_address(Part, shop=shop, pk=pk)
    _refuse_loop(shop, part, filled.get("replaced_by"))
    if "kit" in _plain_kit(filled):
        part.kit = filled["kit"]
    _check_kit(part, filled)
    if {"kit", "replaced_by"} & set(filled):
        part.replaced_by = filled.get("replaced_by", part.replaced_by)
        _refuse_return(shop, part, "kit" if "kit" in filled else "replaced_by")
    return _update(Part, shop, by, pk, version, filled, "part")


def _plain_kit(filled: dict[str, Any]) -> dict[str, Any]:
    """The same facts, with what a kit holds as plain text."""
    if "kit" in filled:
        filled["kit"] = [{"part": str(one["part"]), "quantity": f"{one['quantity']}"} for one in filled["kit"]]
    return filled


def _check_kit(part: Part, filled: dict[str, Any]) -> None:
    if "kit" in filled:
        check_kit(part.shop, part)
    by_parts = filled.get("kit_by_parts", part.kit_by_parts)
    if by_parts and not part.kit:
        raise Refused("kit_by_parts", "A part that holds nothing is no kit.", "Say what the kit holds.")


def _refuse_loop(shop: Shop, part: Part, following: Part | None) -> None:
    """Refuses a replacement that leads back to the part itself."""
    rows = Part.objects.for_shop(shop).exclude(replaced_by=None).values_list("pk", "replaced_by")
    chain = {str(one): str(other) for one, other in rows}
    if following is not None:
        chain[str(part.pk)] = str(following.pk)
    try:
        current_number(str(part.pk), chain)
    except BadInput as bad:
        problem = f"The replacements of {part.number} would come back to it."
        raise Refused("replaced_by", problem, bad.remedy) from bad


def _refuse_return(shop: Shop, part: Part, field: str) -> None:
    """Refuses a kit and a replacement that lead back to the part by way of each other."""
    rows = Part.objects.for_shop(shop).exclude(pk=part.pk)
    leads = {str(one): [str(other)] for one, other in rows.exclude(replaced_by=None).values_list("pk", "replaced_by")}
    for pk, held in rows.exclude(kit=[]).values_list("pk", "kit"):
        leads.setdefault(str(pk), []).extend(item["part"] for item in held)
    waiting = [item["part"] for item in part.kit] + ([str(part.replaced_by_id)] if part.replaced_by_id else [])
    seen = set[str]()
    while waiting:
        key = waiting.pop()
        if key == str(part.pk):
            problem = f"{part.number} would be in a kit that it is itself sold as."
            raise Refused(field, problem, "Take it out of the kit, or let another number replace it.")
        if key not in seen:
            seen.add(key)
            waiting.extend(leads.get(key, ()))


def check_power(family: str, power_source: str, *, at: str = "") -> None:
    """Refuses an unknown family, an unknown power source, and a pair that does not exist."""
    kind = known_code(trade.family, family, field=f"{at}family")
    if power_source == UNKNOWN_POWER:
        return
    power = known_code(trade.power_source, power_source, field=f"{at}power_source")
    if power.code not in kind.powers:
        raise Refused(
            f"{at}power_source",
            f"A {kind.name} is not driven by {power.name}.",
            f"Choose one of: {', '.join(kind.powers)}; or '{UNKNOWN_POWER}'.",
        )


def _check_component(code: str) -> None:
    if code:
        known_code(trade.component, code, field="component")


def _check_operation(family: str, model: MachineModel | None) -> None:
    if family:
        known_code(trade.family, family, field="family")
    if family and model is not None and model.family != family:
        raise Refused(
            "model", f"'{model}' is of the family '{model.family}'.", "Leave the family out, or name that one."
        )


# What makes a record of the catalogue the same as another: the field that is compared, and what it is unique within.
SAME: dict[type[ShopRecord], tuple[str, tuple[str, ...]]] = {
    Distributor: ("name", ()),
    Maker: ("name", ()),
    MachineModel: ("name", ("maker",)),
    LabourOperation: ("code", ("model", "family")),
    WorkStep: ("key", ()),
    Part: ("number", ("maker",)),
}
# Names compared as serials are: by another spelling of its model one plate would be two units.
SPELT_ANYHOW = (Maker, MachineModel)


def _hold_names(shop: Shop, model: type[ShopRecord]) -> None:
    """Makes others wait who name such a record now: a spelling is compared here, not by the database."""
    if model in SPELT_ANYHOW:
        Shop.objects.select_for_update(no_key=True).get(pk=shop.pk)


def _clash(record: ShopRecord, shop: Shop, what: str, at: str) -> Conflict | None:
    field, within = SAME[type(record)]
    rows = type(record).objects.for_shop(shop).exclude(pk=record.pk)
    if isinstance(record, LabourOperation) and record.model_id is not None:
        within = ("model",)  # whose family is known
    rows = rows.filter(**{name: getattr(record, name) for name in within})
    given = getattr(record, field)
    key = plain_serial(given) if isinstance(record, SPELT_ANYHOW) else ""
    if key:
        there = next((row for row in rows.order_by(field) if plain_serial(getattr(row, field)) == key), None)
    else:
        there = rows.filter(**{f"{field}__iexact": given}).first()
    if there is None:
        return None
    value = getattr(there, field)
    return taken(
        f"{at}{field}", f"The {what} '{value}' is there already.", f"Use that {what}.", **{what: str(there.pk)}
    )


def _create(model: type[Row], shop: Shop, by: Staff, facts: dict[str, Any], what: str, at: str = "") -> Row:
    record = model(shop=shop, **facts)
    _hold_names(shop, model)
    clash = _clash(record, shop, what, at)
    if clash is not None:
        raise clash
    field = f"{at}{SAME[model][0]}"
    store(
        record,
        clash=lambda: _clash(record, shop, what, at) or Conflict(field, "This is there already.", f"Use that {what}."),
    )
    record_event(shop=shop, subject=f"{what}:{record.pk}", verb="created", by=by)
    return record


def _update(model: type[Row], shop: Shop, by: Staff, pk: UUID, version: int, changes: dict[str, Any], what: str) -> Row:
    _hold_names(shop, model)
    record = given_in_address(model, shop=shop, pk=pk)
    before = {name: str(getattr(record, name)) for name in changes}
    for name, value in changes.items():
        setattr(record, name, value)
    clash = _clash(record, shop, what, "")
    if clash is not None and {SAME[model][0], *SAME[model][1]} & set(changes):
        raise clash
    saved = save_changes(record, version=version, changes=changes)
    record_event(shop=shop, subject=f"{what}:{pk}", verb="changed", facts={"before": before}, by=by)
    return saved
