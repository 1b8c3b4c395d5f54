"""Labour and parts of a job: out of the guide and catalogue, or in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import Job, JobLabour, JobPart, LabourOperation, MachineModel
from orders.rules import trade
from orders.rules.work import ACTIONS, Work
from shopdocs.rest.refusals import Conflict, Missing, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, refuse_no_change, save_changes

from . import amounts
from .discounts import refuse_below_nothing
from .house_rules import refuse_forbidden
from .part_lines import add_part_line
from .reach import lock_job, refuse_ended
from .records import given_in_address, given_in_body, known_code
from .scope import settle

CHANGEABLE = ("quantity", "unit_price", "causal", "state", "expected_on", "condition", "original")
ON_THE_WAY = ("ordered", "back_ordered")


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


def _changed(job: Job, by: Staff, verb: str, words: str) -> None:
    """Settles the job's state after its content changed, and says so in the history."""
    refuse_below_nothing(job)
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
    """Corrects what is CHANGEABLE of a part line read at `version`; a fitted one only `causal`.

    An expected day belongs to a part that is ordered, and is no day of the past.
    """
    line: JobPart = _line(JobPart, shop, part_id, "part")
    job = line.job
    if line.fitted_at and set(changes) - {"causal"}:
        raise Conflict("part", f"{line.words} is fitted.", "Add another line, or take this one off first.")
    if set(changes) & {"quantity", "unit_price"} and line.returns.exists():
        problem = f"Something of {line.words} came back, at what it was charged."
        raise Conflict("part", problem, "Take that credit off the job first.")
    checked = {
        name: amounts.quantity(value) if name == "quantity" else amounts.price(value) if name == "unit_price" else value
        for name, value in changes.items()
        if name in CHANGEABLE
    }
    if line.customers_own and checked.get("unit_price"):
        raise Refused(
            "unit_price", "The customer's own part has no price.", "Leave it out, or add a part of the shop's."
        )
    _check_expected(line, checked, shop)
    checked |= await_part(line, str(checked.get("state", line.state)))
    if not checked:
        remedy = f"Send one of: {', '.join(CHANGEABLE)}."
        refuse_no_change(line, version=version, fields=CHANGEABLE, remedy=remedy)
    saved: JobPart = save_changes(line, version=version, changes=checked)
    moved = f", {saved.get_state_display() or 'on the shelf'}" if "state" in checked else ""
    _changed(job, by, "part changed", f"{saved.quantity} x {saved.words}{moved}")
    return saved


def await_part(line: JobPart, state: str) -> dict[str, Any]:
    """What `state` changes of the day since which the part is awaited: the first order counts, a back-order goes on with it."""
    if state not in ON_THE_WAY:
        return {"awaited_since": None} if line.awaited_since and not state else {}
    again = line.state not in ON_THE_WAY or line.awaited_since is None
    return {"awaited_since": line.shop.today()} if again and state != line.state else {}


def _check_expected(line: JobPart, changes: dict[str, Any], shop: Shop) -> None:
    state = changes.get("state", line.state)
    if state not in ON_THE_WAY and changes.get("expected_on") is None:
        changes |= {"expected_on": None} if line.expected_on else {}
        return
    day = changes.get("expected_on")
    if state not in ON_THE_WAY:
        raise Refused("expected_on", "Only an ordered part is expected.", "Send state 'ordered' or 'back_ordered' too.")
    if day is not None and day < shop.today():
        raise Refused("expected_on", f"{day} lies in the past.", "Give the day that the supplier promises, or none.")


@transaction.atomic
def remove_part(*, shop: Shop, by: Staff, part_id: UUID) -> Job:
    """Takes a part off a job, fitted or not: it was not needed, or came out again."""
    line: JobPart = _line(JobPart, shop, part_id, "part")
    job = line.job
    line.delete()
    _changed(job, by, "part removed", f"{line.words}{', had been fitted' if line.fitted_at else ''}")
    return job
