"""Labour and parts of a job: out of the guide and catalogue, or in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import Job, JobLabour, JobPart, LabourOperation, MachineModel, Part
from orders.rules import trade
from orders.rules.work import ACTIONS, Work
from shopdocs.rest.refusals import Conflict, Missing, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, refuse_no_change, save_changes

from . import amounts
from .discounts import refuse_discount_over_price
from .house_rules import refuse_forbidden
from .reach import lock_job, refuse_ended
from .records import given_in_address, given_in_body, known_code
from .scope import settle


def operation_for(shop: Shop, model: MachineModel, code: str) -> LabourOperation:
    """The guide's operation of this code: the model's own time, else the family's, else the one for every machine."""
    rows = LabourOperation.objects.for_shop(shop).filter(code=code)
    for narrow in ({"model": model}, {"model": None, "family": model.family}, {"model": None, "family": ""}):
        operation: LabourOperation | None = rows.filter(**narrow).first()
        if operation is not None:
            return operation
    raise Refused(
        "code",
        f"The guide has no operation '{code[:40]}' for {model} or its family.",
        "Choose an operation of the guide, or say the work in words with its hours.",
    )


def _operation(job: Job, operation: UUID | None, code: str) -> LabourOperation | None:
    model = job.order.unit.model
    if operation is None:
        return operation_for(job.shop, model, code) if code else None
    row = given_in_body(LabourOperation, shop=job.shop, pk=operation, field="operation")
    if row.model_id not in (None, model.pk) or row.family not in ("", model.family):
        raise Refused("operation", f"'{row.code}' is for another machine than {model}.", "Choose one that fits it.")
    return row


def add_labour_line(
    *,
    job: Job,
    operation: UUID | None = None,
    code: str = "",
    words: str = "",
    hours: Any = None,
    rate: Any = None,
    discount_percent: Any = None,
    skill: str = "",
    diagnosis: bool = False,
    action: str = "",
    components: Sequence[str] = (),
) -> JobLabour:
    """Writes a labour line on a job that the caller has locked. What is left out comes from the guide."""
    row = _operation(job, operation, code)
    if row is None and not words.strip():
        raise Refused("words", "The work is neither an operation of the guide nor said in words.", "Give one of them.")
    if row is None and hours is None:
        raise Refused("hours", "Work in plain words has no guide time.", "Give its hours, in tenths.")
    said = (words.strip() or (row.words if row else ""))[:400]
    action, components = known_work(
        action or (row.action if row else ""), components or (row.components if row else ())
    )
    refuse_forbidden(job.order.unit, Work("words", said), Work("action", "", action, tuple(components)))
    line: JobLabour = JobLabour.objects.create(
        shop=job.shop,
        job=job,
        operation=row,
        code=row.code if row else "",
        words=said,
        action=action,
        components=list(components),
        hours=amounts.tenths(hours if hours is not None else row.hours if row else None),
        rate=None if rate is None else amounts.rate(rate),
        discount_percent=None if discount_percent is None else amounts.percent(discount_percent),
        skill=skill.strip().lower()[:40],
        diagnosis=diagnosis or bool(row and row.diagnosis),
    )
    return line


def known_work(action: str, components: Sequence[str]) -> tuple[str, Sequence[str]]:
    """Checks the words of the trade; refuses an action on nothing and components to which nothing is done."""
    if action and action not in ACTIONS:
        raise Refused("action", f"'{action[:40]}' is not known here.", f"Choose one of: {', '.join(ACTIONS)}.")
    for component in components:
        known_code(trade.component, component, field="components")
    if components and not action:
        raise Refused("action", "It is not said what is done to these components.", "Say it, or leave both out.")
    if action and not components:
        raise Refused("components", "It is not said to which components this is done.", "Say it, or leave both out.")
    return action, components


def add_part_line(
    *,
    job: Job,
    part: UUID | None = None,
    number: str = "",
    words: str = "",
    quantity: Any = Decimal(1),
    unit_price: Any = None,
    causal: bool = False,
    core_charge: Any = None,
    discount_percent: Any = None,
    customers_own: bool = False,
) -> JobPart:
    """Writes a part line on a job that the caller has locked. A catalogue part brings number, words and list price.

    A number that was replaced brings the part that is sold today; the customer's own part costs nothing.
    """
    row = None if part is None else sold_today(given_in_body(Part, shop=job.shop, pk=part, field="part"))
    if customers_own:
        if unit_price is not None or core_charge:
            raise Refused("unit_price", "The customer's own part has no price.", "Leave price and core charge out.")
        unit_price, core_charge = Decimal(0), Decimal(0)
    if row is None and not words.strip():
        raise Refused("words", "The part is neither of the catalogue nor said in words.", "Give one of them.")
    if row is None and unit_price is None:
        raise Refused("unit_price", "A part in plain words has no list price.", "Give the price of one.")
    price = unit_price if unit_price is not None else row.list_price if row else None
    core = core_charge if core_charge is not None else row.core_charge if row else Decimal(0)
    line: JobPart = JobPart.objects.create(
        shop=job.shop,
        job=job,
        part=row,
        number=(number or (row.number if row else ""))[:60],
        words=(words.strip() or (row.words if row else ""))[:400],
        quantity=amounts.quantity(quantity),
        unit_price=amounts.price(price),
        unit_cost=row.cost if row else None,
        core_charge=amounts.price(core, "core_charge"),
        discount_percent=None if discount_percent is None else amounts.percent(discount_percent),
        customers_own=customers_own,
        causal=causal,
    )
    return line


def sold_today(part: Part) -> Part:
    """The part at the end of the chain of replacements; Refused for a chain that comes back to itself."""
    known = {part.pk: part}
    while part.replaced_by_id is not None:
        if part.replaced_by_id in known:
            raise Refused("replaced_by", f"The replacements of {part.number} run in a loop.", "Correct the catalogue.")
        part = Part.objects.for_shop(part.shop).get(pk=part.replaced_by_id)
        known[part.pk] = part
    return part


def _changed(job: Job, by: Staff, verb: str, words: str) -> None:
    """Settles the job's state after its content changed, and says so in the history."""
    refuse_discount_over_price(job)
    before = job.state
    state = settle(job)
    note = f"{words} (now {state}: needs a new version of the estimate)" if before == "agreed" != state else words
    record_event(shop=job.shop, subject=job.subject, verb=verb, words=note, by=by)


@transaction.atomic
def add_labour(*, shop: Shop, by: Staff, job_id: UUID, **line: Any) -> JobLabour:
    """Adds labour: `operation` (id) or `code` of the guide, or `words` with `hours`; `rate` replaces the shop's rate."""
    job = lock_job(shop, job_id)
    refuse_ended(job)
    added = add_labour_line(job=job, **line)
    _changed(job, by, "labour added", f"{added.words}, {added.hours} h")
    return added


@transaction.atomic
def add_part(*, shop: Shop, by: Staff, job_id: UUID, **line: Any) -> JobPart:
    """Adds a part: `part` (id) of the catalogue, or `words` with `unit_price`; `quantity` is 1 unless said."""
    job = lock_job(shop, job_id)
    refuse_ended(job)
    added = add_part_line(job=job, **line)
    _changed(job, by, "part added", f"{added.quantity} x {added.words}")
    return added


def _line(model: Any, shop: Shop, line_id: UUID, field: str) -> Any:
    """The line with its job's order locked."""
    peek = given_in_address(model, shop=shop, pk=line_id)
    job = lock_job(shop, peek.job_id)
    refuse_ended(job)
    line = model.objects.for_shop(shop).filter(pk=line_id).first()
    if line is None:
        raise Missing(field, "Somebody has just removed it.", "Read the job again.")
    line.job = job
    return line


@transaction.atomic
def change_labour(*, shop: Shop, by: Staff, labour_id: UUID, version: int, hours: Any) -> JobLabour:
    """Corrects the hours of a labour line read at `version`."""
    line: JobLabour = _line(JobLabour, shop, labour_id, "labour")
    job = line.job
    saved: JobLabour = save_changes(line, version=version, changes={"hours": amounts.tenths(hours)})
    _changed(job, by, "labour changed", f"{saved.words}, {saved.hours} h")
    return saved


@transaction.atomic
def remove_labour(*, shop: Shop, by: Staff, labour_id: UUID) -> Job:
    """Takes a labour line off a job."""
    line: JobLabour = _line(JobLabour, shop, labour_id, "labour")
    job = line.job
    line.delete()
    _changed(job, by, "labour removed", line.words)
    return job


@transaction.atomic
def change_part(*, shop: Shop, by: Staff, part_id: UUID, version: int, changes: dict[str, Any]) -> JobPart:
    """Corrects quantity, unit_price or causal of a part line read at `version`; a fitted one only `causal`."""
    line: JobPart = _line(JobPart, shop, part_id, "part")
    job = line.job
    if line.fitted_at and set(changes) - {"causal"}:
        raise Conflict("part", f"{line.words} is fitted.", "Add another line, or take this one off first.")
    checked = {
        name: amounts.quantity(value) if name == "quantity" else amounts.price(value) if name == "unit_price" else value
        for name, value in changes.items()
        if name in ("quantity", "unit_price", "causal")
    }
    if not checked:
        remedy = "Send quantity, unit_price or causal."
        refuse_no_change(line, version=version, fields=("quantity", "unit_price", "causal"), remedy=remedy)
    saved: JobPart = save_changes(line, version=version, changes=checked)
    _changed(job, by, "part changed", f"{saved.quantity} x {saved.words}")
    return saved


@transaction.atomic
def remove_part(*, shop: Shop, by: Staff, part_id: UUID) -> Job:
    """Takes a part off a job, fitted or not: it was not needed, or came out again."""
    line: JobPart = _line(JobPart, shop, part_id, "part")
    job = line.job
    line.delete()
    _changed(job, by, "part removed", f"{line.words}{', had been fitted' if line.fitted_at else ''}")
    return job
