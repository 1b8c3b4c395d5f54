"""Ways between which a customer chooses: repair, repair with the wear items, replace the machine. Frozen with the estimate.

Choosing one way accepts its jobs and declines those of the other ways of its group.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from orders.models import Estimate, EstimateOption, Job, RepairOrder
from shopdocs.documents.press.values import sentence
from shopdocs.documents.press.words import Say
from shopdocs.rest.refusals import Conflict, Problem, Refused, Told
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, save_changes

from . import amounts
from .as_done import bounded
from .card_numbers import refuse_card_numbers
from .frozen import trimmed
from .reach import lock_open_order
from .records import given_in_address, refuse_all

Facts = dict[str, Any]
KINDS = tuple(str(kind) for kind in EstimateOption.Kind.values)
TAKEN = (str(Job.State.DONE), str(Job.State.STRUCK))


@transaction.atomic
def add_option(
    *,
    shop: Shop,
    by: Staff,
    order_id: UUID,
    group: str,
    name: str,
    kind: str = "repair",
    jobs: list[UUID] | None = None,
    value_after: Any = None,
    price_new: Any = None,
    note: str = "",
) -> EstimateOption:
    """Offers one way of a group, from the next version of the estimate on. A way without jobs leaves the machine as it is.

    `value_after`: what the machine is worth after it; `price_new`: what a replacement costs; None: not known. Conflict where
    a job stands in a way of another group: two choices could say two things of it.
    """
    order = lock_open_order(shop, order_id)
    refuse_card_numbers(group=group, name=name, note=note)
    if kind not in KINDS:
        raise Refused("kind", f"'{kind[:40]}' is not known.", f"Choose one of: {', '.join(KINDS)}.")
    rows = list(Job.objects.for_shop(shop).filter(pk__in=jobs or [], order=order))
    if len(rows) != len(set(jobs or [])):
        raise Refused("jobs", "A job is not of this order.", "Name jobs of the order.")
    values = {"value_after": value_after, "price_new": price_new}
    for field, value in values.items():
        if value is not None:
            values[field] = amounts.figure(value, field, decimals=shop.currency_decimals)
    group, name = " ".join(group.split()), " ".join(name.split())
    same = EstimateOption.objects.for_shop(shop).filter(order=order, group=group, name=name, withdrawn_at=None)
    if same.exists():
        raise Conflict("name", f"'{name}' is offered already.", "Withdraw the other one, or name it otherwise.")
    _refuse_in_another_group(order, group, rows)
    option: EstimateOption = EstimateOption.objects.create(
        shop=shop, order=order, group=group, name=name, kind=kind, note=note, by=by.user, **values
    )
    option.jobs.set(rows)
    record_event(shop=shop, subject=order.subject, verb="option offered", words=f"{group}: {name}", by=by)
    return option


def _refuse_in_another_group(order: RepairOrder, group: str, jobs: list[Job]) -> None:
    others = EstimateOption.objects.for_shop(order.shop).filter(order=order, withdrawn_at=None).exclude(group=group)
    taken = dict(others.values_list("jobs", "group"))
    for job in jobs:
        if job.pk in taken:
            problem = f"Job {job.number} belongs to another choice: '{taken[job.pk]}'."
            raise Conflict("jobs", problem, "Leave it out, or withdraw the ways of that choice first.")


@transaction.atomic
def withdraw_option(*, shop: Shop, by: Staff, option_id: UUID) -> EstimateOption:
    """Leaves a way out of the next version. Versions that were sent keep it."""
    peek = given_in_address(EstimateOption, shop=shop, pk=option_id)
    lock_open_order(shop, peek.order_id)
    option = given_in_address(EstimateOption, shop=shop, pk=option_id)
    if option.withdrawn_at is not None:
        raise Conflict("", f"'{option.name}' is withdrawn already.", "Nothing is left to do.")
    saved: EstimateOption = save_changes(option, version=option.version, changes={"withdrawn_at": timezone.now()})
    words = f"{option.group}: {option.name}"
    record_event(shop=shop, subject=option.order.subject, verb="option withdrawn", words=words, by=by)
    return saved


def option_facts(
    order: RepairOrder, jobs: list[Facts], price_of: Callable[[list[Facts]], Facts], say: Say
) -> list[Facts]:
    """The groups with at least two ways, each with its jobs on this estimate and what the customer pays for them, tax included.

    `jobs`: the frozen jobs; `price_of` prices some of them by the estimate's own terms.
    """
    by_id = {job["id"]: job for job in jobs}
    rows = EstimateOption.objects.for_shop(order.shop).filter(order=order, withdrawn_at=None)
    groups: dict[str, list[Facts]] = {}
    for row in rows.prefetch_related("jobs").order_by("created_at", "id"):
        offered = sorted((by_id[str(job.pk)] for job in row.jobs.all() if str(job.pk) in by_id), key=_number)
        if row.jobs.all() and not offered:
            continue  # all of its jobs are gone
        groups.setdefault(row.group, []).append(_facts(row, offered, price_of, say, order.shop.currency_decimals))
    return [{"group": group, "options": options} for group, options in groups.items() if len(options) > 1]


def _number(job: Facts) -> int:
    return int(job["number"])


def _facts(
    row: EstimateOption, jobs: list[Facts], price_of: Callable[[list[Facts]], Facts], say: Say, decimals: int
) -> Facts:
    numbers = [job["number"] for job in jobs]
    total = price_of(bounded(jobs))["customer_total"] if jobs else trimmed(Decimal(0), decimals)
    if numbers:
        told = say("I choose '{name}' ({group}): only these of its jobs are to be done: {jobs}.")
    else:
        told = say("I choose '{name}' ({group}): none of its jobs is to be done.")
    return {
        "id": str(row.pk),
        "name": row.name,
        "kind": row.kind,
        "kind_words": sentence(say(row.get_kind_display())),
        "jobs": [job["id"] for job in jobs],
        "numbers": numbers,
        "customer_total": total,
        "value_after": None if row.value_after is None else trimmed(row.value_after, decimals),
        "price_new": None if row.price_new is None else trimmed(row.price_new, decimals),
        "note": row.note,
        "agree": told.format(name=row.name, group=row.group, jobs=", ".join(str(one) for one in numbers)),
    }


def expanded(estimate: Estimate, answers: list[Facts], chosen: list[UUID]) -> list[Facts]:
    """The answers with those that the chosen ways imply; each implied one names its `option` (frozen facts).

    Refused: a way that is not on the estimate, two of one group, two ways that say two things of one job, a job of a group
    answered without or against the choice.
    """
    groups: list[Facts] = estimate.facts.get("options", [])
    by_id = {one["id"]: (at, one) for at, group in enumerate(groups) for one in group["options"]}
    picked: dict[int, Facts] = {}
    problems = []
    for index, pk in enumerate(chosen):
        found = by_id.get(str(pk))
        if found is None:
            remedy = "Choose one of those that it shows."
            problems.append(Problem(f"options[{index}]", "This is not offered on the estimate.", remedy))
        elif found[0] in picked:
            problem = Told("Two ways are chosen for '{group}'.", group=groups[found[0]]["group"])
            problems.append(Problem(f"options[{index}]", problem, "Choose one."))
        else:
            picked[found[0]] = found[1]
    refuse_all(problems)
    implied = _implied(estimate, groups, picked)
    _refuse_against_each_other(estimate, groups, picked, implied)
    _refuse_beside(estimate, answers, groups, picked, implied)
    said = {str(one["job"]) for one in answers}
    for one in answers:
        if str(one["job"]) in implied:
            one["option"] = implied[str(one["job"])]["option"]
    return [*answers, *(one for job, one in implied.items() if job not in said)]


def _implied(estimate: Estimate, groups: list[Facts], picked: dict[int, Facts]) -> dict[str, Facts]:
    ended = Job.objects.for_shop(estimate.shop).filter(order=estimate.order_id, state__in=TAKEN)
    gone = {str(pk) for pk in ended.values_list("pk", flat=True)}
    found: dict[str, Facts] = {}
    for at, option in picked.items():
        every = dict.fromkeys(job for one in groups[at]["options"] for job in one["jobs"])
        for job in every:
            if job not in gone:
                found[job] = {"job": UUID(job), "accepted": job in option["jobs"], "option": option}
    return found


def _refuse_against_each_other(
    estimate: Estimate, groups: list[Facts], picked: dict[int, Facts], implied: dict[str, Facts]
) -> None:
    """Two groups of an older version may hold the same job; what is said of it twice is said alike."""
    numbers = {job["id"]: job["number"] for job in estimate.facts["jobs"]}
    problems = [
        Problem(
            "options",
            Told(
                "For job {number} the choices '{one}' and '{other}' say two things.",
                number=numbers[job],
                one=option["name"],
                other=implied[job]["option"]["name"],
            ),
            "Choose ways that go together.",
        )
        for at, option in picked.items()
        for job in dict.fromkeys(job for one in groups[at]["options"] for job in one["jobs"])
        if job in implied and (job in option["jobs"]) != implied[job]["accepted"]
    ]
    refuse_all(problems)


def _refuse_beside(
    estimate: Estimate,
    answers: list[Facts],
    groups: list[Facts],
    picked: dict[int, Facts],
    implied: dict[str, Facts],
) -> None:
    numbers = {job["id"]: job["number"] for job in estimate.facts["jobs"]}
    grouped = {job: at for at, group in enumerate(groups) for one in group["options"] for job in one["jobs"]}
    problems = []
    for index, one in enumerate(answers):
        job = str(one["job"])
        if job not in grouped:
            continue
        group = groups[grouped[job]]["group"]
        if grouped[job] not in picked:
            problem = Told("Job {number} belongs to a choice: '{group}'.", number=numbers[job], group=group)
            problems.append(Problem(f"answers[{index}].job", problem, "Choose one of its ways in 'options'."))
        elif job in implied and implied[job]["accepted"] != one["accepted"]:
            problem = Told(
                "For job {number} the choice '{name}' says something else.",
                number=numbers[job],
                name=picked[grouped[job]]["name"],
            )
            problems.append(Problem(f"answers[{index}].accepted", problem, "Leave the job out, or choose otherwise."))
    refuse_all(problems)
