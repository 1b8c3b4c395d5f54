"""Parts before they are priced: superseded numbers, kits, price from cost by tiers, and what is left of a line of
which something came back. Pure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from orders.rules.figures import HALF_UP, Told, sum_of, worked
from orders.rules.taxes import HUNDRED
from shopdocs.money import Currency, Step, exact, plain, round_money
from shopdocs.problems import BadInput

THOUSANDTH = Decimal("0.001")


@dataclass(frozen=True, slots=True)
class CurrentNumber:
    """The number that is sold today, and the chain of numbers that leads to it (the asked one first)."""

    number: str
    chain: tuple[str, ...]

    @property
    def words(self) -> str:
        """'A-1 is replaced by A-2, then by A-3' or '' when nothing replaced it."""
        if len(self.chain) == 1:
            return ""
        return f"{self.chain[0]} is replaced by {', then by '.join(self.chain[1:])}"


def current_number(number: str, replaced_by: Mapping[str, str]) -> CurrentNumber:
    """Follows the chain of replacements to its end; refuses a chain that comes back to itself."""
    chain = [number]
    seen = {number}
    while chain[-1] in replaced_by:
        following = replaced_by[chain[-1]]
        if following in seen:
            problem = f"The replacements of {number} run in a loop at {following}."
            raise BadInput("replaced_by", problem, "Correct which number replaces which.")
        seen.add(following)
        chain.append(following)
    return CurrentNumber(chain[-1], tuple(chain))


@dataclass(frozen=True, slots=True)
class KitItem:
    """A part number and how many of it a kit holds."""

    number: str
    quantity: Decimal


def contents(
    number: str, quantity: Decimal, kits: Mapping[str, Sequence[KitItem]], *, field: str = "number"
) -> dict[str, Decimal]:
    """The single parts in so many of a kit, kits within kits opened; a part that is no kit is its own content.

    Refuses a kit that holds itself, at whatever depth, and quantities of zero or less.
    """
    found: dict[str, Decimal] = {}
    waiting: list[tuple[str, Decimal, tuple[str, ...]]] = [(number, quantity, ())]
    while waiting:
        part, count, inside = waiting.pop()
        if exact(count, "quantity") <= 0:
            raise BadInput("quantity", f"{count} of {part} is nothing.", "Give a quantity above zero.")
        if part in inside:
            raise BadInput(field, f"Kit {part} holds itself.", "Take it out of its own contents.")
        if part not in kits:
            found[part] = found.get(part, Decimal(0)) + count
            continue
        waiting.extend((item.number, count * item.quantity, (*inside, part)) for item in reversed(kits[part]))
    return found


def countable(number: Decimal) -> Decimal:
    """A quantity as a line counts it: to the nearest thousandth, and one thousandth at least."""
    return max(number.quantize(THOUSANDTH, rounding=ROUND_HALF_UP), THOUSANDTH)


@dataclass(frozen=True, slots=True)
class PriceTier:
    """Markup in percent on costs up to and including `up_to`; None: on all higher ones."""

    up_to: Decimal | None
    markup: Decimal


@dataclass(frozen=True, slots=True)
class TierPrice:
    """A selling price with its steps, and the same steps as what is added up to it."""

    price: Decimal
    steps: tuple[Step, ...]
    told: tuple[Told, ...]


def check_tiers(tiers: Sequence[PriceTier]) -> None:
    """Refuses tiers that do not rise or do not end with one for all higher costs."""
    limits = [tier.up_to for tier in tiers]
    bounded = [limit for limit in limits if limit is not None]
    if not limits or limits[-1] is not None or len(bounded) != len(limits) - 1 or bounded != sorted(set(bounded)):
        raise BadInput(
            "tiers", "The price tiers do not rise to an open end.", "List them by cost; the last has no limit."
        )
    for tier in tiers:
        if not 0 <= exact(tier.markup, "markup") <= 1000:
            raise BadInput("markup", f"A markup of {tier.markup} % is out of range.", "Give 0 to 1000.")


def price_from_cost(
    cost: Decimal, tiers: Sequence[PriceTier], currency: Currency, *, list_price: Decimal | None = None
) -> TierPrice:
    """Cost plus the markup of its tier, rounded once; never above the list price, if one is given."""
    check_tiers(tiers)
    if exact(cost, "cost") < 0:
        raise BadInput("cost", f"{cost} is negative.", "Give zero or more.")
    tier = next(tier for tier in tiers if tier.up_to is None or cost <= tier.up_to)
    price = round_money(cost * (HUNDRED + tier.markup) / HUNDRED, currency)
    reach = "for higher costs" if tier.up_to is None else f"for costs up to {plain(tier.up_to)}"
    steps = [Step("Cost", cost), Step(f"Plus {plain(tier.markup)} % ({reach})", price)]
    working = sum_of("{} × (100 + {}) ÷ 100", plain(cost), plain(tier.markup))
    told = [worked(f"Cost of {plain(cost)} plus {plain(tier.markup)} % ({reach})", price, working, HALF_UP)]
    if list_price is not None and price > exact(list_price, "list_price"):
        most = round_money(list_price, currency)
        told.append(worked("Not above the list price", most - price, sum_of("{} - {}", most, price)))
        price = most
        steps.append(Step("Not above the list price", price))
    return TierPrice(price, tuple(steps), tuple(told))


def cores_back(charged: Decimal, rows: Sequence[tuple[bool, Decimal]]) -> tuple[Decimal, ...]:
    """How many core charges each return takes off, in the order in which they came: (it was an unused part, pieces).

    A core charge comes off with its old core, and with a part that was not used, whose old core never was; once in either
    way, so that no more come off than the `charged`.
    """
    left = exact(charged, "charged")
    found = []
    for _, pieces in rows:
        found.append(min(left, exact(pieces, "returned")))
        left -= found[-1]
    return tuple(found)


def left_of(quantity: Decimal, rows: Sequence[tuple[bool, Decimal]]) -> tuple[Decimal, Decimal]:
    """The pieces, and the core charges, of a line that are still charged after these returns."""
    pieces = quantity - sum((count for unused, count in rows if unused), Decimal(0))
    return pieces, quantity - sum(cores_back(quantity, rows), Decimal(0))
