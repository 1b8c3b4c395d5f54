"""A part line of a job: out of the catalogue (superseded numbers, kits, prices by cost), or in plain words."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import UUID

from orders.models import Job, JobPart, Part
from orders.rules.parts import CurrentNumber, KitItem, PriceTier, contents, countable, price_from_cost
from shopdocs.money import plain
from shopdocs.problems import BadInput
from shopdocs.rest.refusals import Refused
from shopdocs.shops.models import Shop

from . import amounts
from .charges import terms_on
from .records import given_in_body

Rows = dict[str, Part]


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
    condition: str = JobPart.Condition.NEW,
    original: bool | None = None,
    inside: frozenset[UUID] = frozenset(),
    came_by: str = "",
) -> JobPart:
    """Writes a part line on a job that the caller has locked. A catalogue part brings number, words and list price.

    A number that was replaced brings the part that is sold today; the customer's own part costs nothing. Where the shop
    has price tiers, a part of known cost is priced by them. A kit is one line with its contents, or a line for each of
    its parts where it is sold by these; the first of them comes back. `inside`: the kits that are being opened; `came_by`: what
    they replaced.
    """
    asked = None if part is None else given_in_body(Part, shop=job.shop, pk=part, field="part")
    row, replaced = (None, "") if asked is None else _sold_today(asked)
    if row is not None and row.pk in inside:
        raise Refused(
            "part", f"The kit {row.number} comes back to itself.", "Correct the kit, or what replaces its parts."
        )
    pieces = amounts.quantity(quantity)
    held = _held(job.shop, row, pieces) if row is not None and row.kit else []
    if customers_own:
        if unit_price is not None or core_charge:
            raise Refused("unit_price", "The customer's own part has no price.", "Leave price and core charge out.")
        unit_price, core_charge = Decimal(0), Decimal(0)
    if held and row is not None and row.kit_by_parts and not customers_own:
        if unit_price is not None or words.strip() or number:
            problem = f"{row.number} is a kit that is sold by its parts."
            raise Refused("unit_price", problem, "Leave price, number and words out, or add its parts one by one.")
        opened = inside | {row.pk}
        lines = [
            add_part_line(
                job=job, part=one.pk, quantity=count, discount_percent=discount_percent, condition=condition,
                original=original, inside=opened, came_by="; ".join(filter(None, (came_by, replaced))),
            )
            for one, count in held
        ]  # fmt: skip
        return lines[0]
    if row is None and not words.strip():
        raise Refused("words", "The part is neither of the catalogue nor said in words.", "Give one of them.")
    if row is None and unit_price is None:
        raise Refused("unit_price", "A part in plain words has no list price.", "Give the price of one.")
    price, how, told = (unit_price, "", []) if unit_price is not None or row is None else _price(job, row)
    core = core_charge if core_charge is not None else row.core_charge if row else Decimal(0)
    line: JobPart = JobPart.objects.create(
        shop=job.shop,
        job=job,
        part=row,
        number=(number or (row.number if row else ""))[:60],
        words=(words.strip() or (row.words if row else ""))[:400],
        quantity=pieces,
        unit_price=amounts.price(price),
        unit_cost=row.cost if row else None,
        core_charge=amounts.price(core, "core_charge"),
        environment_charge=row.environment_charge if row and not customers_own else Decimal(0),
        price_how="; ".join(filter(None, (came_by, replaced, how)))[:300],
        price_steps=told,
        contents=[
            {"number": one.number, "words": one.words, "quantity": plain(count)}
            for one, count in ((sold_today(single), count) for single, count in _in_one(job.shop, row, held))
        ],
        discount_percent=None if discount_percent is None else amounts.percent(discount_percent),
        customers_own=customers_own,
        condition=condition,
        original=original,
        causal=causal,
    )
    return line


def sold_today(part: Part) -> Part:
    """The part at the end of the chain of replacements; Refused for a chain that comes back to itself."""
    return _sold_today(part)[0]


def _sold_today(part: Part) -> tuple[Part, str]:
    """The same, and the chain in words: whoever asked for an old number sees why another one is charged."""
    known = {part.pk: part}
    while part.replaced_by_id is not None:
        if part.replaced_by_id in known:
            raise Refused("replaced_by", f"The replacements of {part.number} run in a loop.", "Correct the catalogue.")
        part = Part.objects.for_shop(part.shop).get(pk=part.replaced_by_id)
        known[part.pk] = part
    return part, CurrentNumber(part.number, tuple(one.number for one in known.values())).words


def check_kit(shop: Shop, part: Part) -> None:
    """Refuses a kit with a part of nobody's or another shop's, a quantity of nothing, and a kit that holds itself."""
    known = {str(row.pk): row for row in Part.objects.for_shop(shop)} | {str(part.pk): part}
    for item in part.kit:
        if item["part"] not in known:
            raise Refused("kit", "No such part in your shop.", "Use the id of a part of the catalogue.")
        amounts.quantity(Decimal(item["quantity"]), "kit.quantity")
    _open(part, Decimal(1), known)


def _open(kit: Part, count: Decimal, known: Rows) -> dict[str, Decimal]:
    kits = {
        key: [KitItem(one["part"], Decimal(one["quantity"])) for one in row.kit]
        for key, row in known.items()
        if row.kit
    }
    try:
        return contents(str(kit.pk), count, kits, field="kit")
    except BadInput as bad:
        said = bad.problem.replace(str(kit.pk), kit.number)
        raise Refused(bad.field, said, bad.remedy) from bad


def _held(shop: Shop, kit: Part, count: Decimal) -> list[tuple[Part, Decimal]]:
    """The single parts in so many of a kit, by the numbers it names; no finer than a line counts (common practice, no source)."""
    known = {str(row.pk): row for row in Part.objects.for_shop(shop)}
    return [(known[key], countable(number)) for key, number in _open(kit, count, known).items()]


def _in_one(shop: Shop, kit: Part | None, held: list[tuple[Part, Decimal]]) -> list[tuple[Part, Decimal]]:
    """What one of the kit holds."""
    return _held(shop, kit, Decimal(1)) if held and kit is not None else []


def _price(job: Job, row: Part) -> tuple[Decimal, str, list[dict[str, Any]]]:
    """The price of one: cost with the markup of its tier for this kind of customer, else list; how, for the shop's eyes.

    How it came about is said in a line, and in steps that add up to it.
    """
    terms = terms_on(job.shop, job.shop.today())
    tiers = (terms.price_tiers if terms else {}) or {}
    given = tiers.get(job.order.customer.kind) or tiers.get("")
    if row.cost is None or not given:
        return row.list_price, "", []
    table = [PriceTier(_figure(one["up_to"]), Decimal(one["markup"])) for one in given]
    found = price_from_cost(row.cost, table, amounts.currency_of(job.shop), list_price=row.list_price or None)
    how = "; ".join(f"{step.text}: {step.amount:f}" for step in found.steps if step.amount is not None)
    return found.price, how, [step.facts() for step in found.told]


def _figure(text: str | None) -> Decimal | None:
    return None if text is None else Decimal(text)
