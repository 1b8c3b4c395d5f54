"""What is priced: jobs with labour, parts and fees, who pays for them, discounts, supplies, taxes. Checked as they are made.

Figures are Decimal. Hours are in tenths; a quantity has at most three decimals and a price at most four (a line by
the foot). Whatever is impossible raises BadInput naming the field. Pure.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Context, Decimal
from enum import StrEnum
from typing import Any

from orders.rules.labour_guide import check_tenths
from orders.rules.taxes import HUNDRED, Basis, BracketTable, Stacking, TaxRate, check_percent
from shopdocs.money import exact
from shopdocs.problems import BadInput

ZERO = Decimal(0)


class Payer(StrEnum):
    """Who pays."""

    CUSTOMER = "customer"
    WARRANTY = "warranty"
    SHOP = "shop"
    GOODWILL = "goodwill"


class Kind(StrEnum):
    """What a line is, as far as taxes, discounts and supplies care."""

    LABOUR = "labour"
    PART = "part"
    CORE = "core"
    FEE = "fee"
    SUPPLIES = "supplies"
    FREIGHT = "freight"
    SUBLET = "sublet"
    DELIVERY = "delivery"
    DISPOSAL = "disposal"


DISCOUNTABLE = frozenset(Kind) - {Kind.CORE, Kind.SUPPLIES}


PRICE_DECIMALS, QUANTITY_DECIMALS = 4, 3
_WIDE = Context(prec=60)


def _amount(value: Decimal, name: str, *, decimals: int = PRICE_DECIMALS, negative: bool = False) -> int:
    """Checks a figure by writing it as a whole number of its smallest parts, which is what pricing works with."""
    number = exact(value, name)
    scaled = number.scaleb(decimals, _WIDE)
    parts = int(scaled)
    if parts != scaled:
        raise BadInput(name, f"{number} has more than {decimals} decimals.", f"Round it to {decimals} decimals.")
    if parts < 0 and not negative:
        raise BadInput(name, f"{number} is negative.", "Give zero or more.")
    return parts


def _kept() -> Any:
    """A field that the check fills: the figure as a whole number of its smallest parts."""
    return field(init=False, repr=False, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Discount:
    """A discount in percent, or as an amount (one of the two), on lines of `kinds` that cost something.

    It takes only lines all of whose payers are in `payers`: a customer's class discount must not lower a claim.
    `of_all`: it is no price cut but what somebody else bears, and takes every line that costs something: core charges too, and
    what is passed on.
    """

    words: str
    percent: Decimal | None = None
    amount: Decimal | None = None
    kinds: frozenset[Kind] = DISCOUNTABLE
    payers: frozenset[Payer] = frozenset(Payer)
    of_all: bool = False

    def __post_init__(self) -> None:
        if (self.percent is None) == (self.amount is None):
            raise BadInput("discount", "A discount is either a percentage or an amount.", "Give one of the two.")
        if self.percent is not None:
            check_percent(self.percent, "discount.percent")
        if self.amount is not None:
            _amount(self.amount, "discount.amount")


@dataclass(frozen=True, slots=True)
class Returned:
    """Pieces of a line that came back: their share of what was charged for the line, after every discount, comes off it."""

    words: str
    quantity: Decimal
    quantity_parts: int = _kept()

    def __post_init__(self) -> None:
        object.__setattr__(self, "quantity_parts", _amount(self.quantity, "returned", decimals=QUANTITY_DECIMALS))


def _refuse_more_back(returned: tuple[Returned, ...], quantity_parts: int) -> None:
    if sum(one.quantity_parts for one in returned) > quantity_parts:
        raise BadInput("returned", "More comes back than was charged.", "Count it again.")


@dataclass(frozen=True, slots=True, kw_only=True)
class LabourLine:
    """Labour: hours in tenths at a rate an hour. `key` is the caller's own reference; `paid_by` overrides the job's
    payer.
    """

    description: str
    hours: Decimal
    rate: Decimal
    key: str = ""
    discount: Discount | None = None
    paid_by: Payer | None = None
    hour_parts: int = _kept()
    rate_parts: int = _kept()

    def __post_init__(self) -> None:
        check_tenths(self.hours, "hours")
        object.__setattr__(self, "hour_parts", int(self.hours * 10))
        object.__setattr__(self, "rate_parts", _amount(self.rate, "rate"))


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLine:
    """A part: quantity at a price each, and a core charge each if one is asked.

    The charge becomes a line of its own, with ':core' after the part's key. `returned` are pieces that came back unused,
    `cores_returned` the charges for cores that came off with them or when the old ones came.
    """

    number: str
    description: str
    quantity: Decimal
    unit_price: Decimal
    core: Decimal = ZERO
    key: str = ""
    discount: Discount | None = None
    paid_by: Payer | None = None
    returned: tuple[Returned, ...] = ()
    cores_returned: tuple[Returned, ...] = ()
    quantity_parts: int = _kept()
    price_parts: int = _kept()
    core_parts: int = _kept()

    def __post_init__(self) -> None:
        object.__setattr__(self, "quantity_parts", _amount(self.quantity, "quantity", decimals=QUANTITY_DECIMALS))
        object.__setattr__(self, "price_parts", _amount(self.unit_price, "unit_price"))
        object.__setattr__(self, "core_parts", _amount(self.core, "core"))
        if self.returned or self.cores_returned:
            _refuse_more_back(self.returned, self.quantity_parts)
            _refuse_more_back(self.cores_returned, self.quantity_parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class FeeLine:
    """Anything with one amount: a fee, freight, sublet work, disposal; or a credit (negative) such as a core
    returned.

    `pieces`: how many it was charged for, where some of them are `returned`. `passed_on`: no discount takes anything off it.
    """

    description: str
    amount: Decimal
    kind: Kind = Kind.FEE
    key: str = ""
    discount: Discount | None = None
    paid_by: Payer | None = None
    pieces: Decimal = Decimal(1)
    returned: tuple[Returned, ...] = ()
    passed_on: bool = False
    amount_parts: int = _kept()
    piece_parts: int = _kept()

    def __post_init__(self) -> None:
        object.__setattr__(self, "amount_parts", _amount(self.amount, "amount", negative=True))
        object.__setattr__(self, "piece_parts", _amount(self.pieces, "pieces", decimals=QUANTITY_DECIMALS))
        if self.returned:
            _refuse_more_back(self.returned, self.piece_parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """One payer's share of a job: a percentage, an amount at most (a deductible), or neither: the rest."""

    payer: Payer
    percent: Decimal | None = None
    amount: Decimal | None = None

    def __post_init__(self) -> None:
        if self.percent is not None and self.amount is not None:
            raise BadInput("share", "A share is a percentage or an amount, not both.", "Take one out.")
        if self.percent is not None:
            check_percent(self.percent, "share.percent")
        if self.amount is not None:
            _amount(self.amount, "share.amount")


@dataclass(frozen=True, slots=True)
class Split:
    """Several payers of one job. Amounts are taken first, in order; then percentages of what is left; then the rest.

    Either one share is the rest, or the percentages add up to 100, so nothing is left without a payer.
    """

    shares: tuple[Share, ...]

    @property
    def payers(self) -> frozenset[Payer]:
        """Who takes part."""
        return frozenset(share.payer for share in self.shares)

    def __post_init__(self) -> None:
        payers = [share.payer for share in self.shares]
        if len(set(payers)) < len(payers):
            raise BadInput("payer", "A payer stands in the split twice.", "Add the two shares.")
        percents = sum((share.percent for share in self.shares if share.percent is not None), ZERO)
        rests = sum(share.percent is None and share.amount is None for share in self.shares)
        if rests > 1 or percents > HUNDRED or (not rests and percents != HUNDRED):
            raise BadInput(
                "payer", "The shares do not make a whole.", "Let the percentages be 100, or one payer pay the rest."
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One job. `minimum_labour`: if its labour comes to less, the difference is charged as a line of its own.

    `supplies_most`: what each payer bears of the shop supplies at most, whatever the jobs beside it; None: no such bound.
    `has_own` says whether any line has a payer or a discount of its own, `has_back` whether anything of any came back.
    """

    key: str
    title: str
    labour: tuple[LabourLine, ...] = ()
    parts: tuple[PartLine, ...] = ()
    fees: tuple[FeeLine, ...] = ()
    payer: Payer | Split = Payer.CUSTOMER
    discounts: tuple[Discount, ...] = ()
    minimum_labour: Decimal = ZERO
    supplies_most: Decimal | None = None
    has_own: bool = _kept()
    has_back: bool = _kept()

    def __post_init__(self) -> None:
        _amount(self.minimum_labour, "minimum_labour")
        if self.supplies_most is not None:
            _amount(self.supplies_most, "supplies_most")
        lines: tuple[LabourLine | PartLine | FeeLine, ...] = (*self.labour, *self.parts, *self.fees)
        own = any(line.paid_by is not None or line.discount is not None for line in lines)
        object.__setattr__(self, "has_own", own)
        back = any(line.returned or line.cores_returned for line in self.parts) or any(
            fee.returned for fee in self.fees
        )
        object.__setattr__(self, "has_back", back)


@dataclass(frozen=True, slots=True, kw_only=True)
class Supplies:
    """Shop supplies: a percentage of the lines of `of` that `payers` pay for, not under `floor` nor over `cap` in all.

    The floor applies only where there is something to take a percentage of.
    """

    words: str
    percent: Decimal
    of: frozenset[Kind] = frozenset({Kind.LABOUR})
    payers: frozenset[Payer] = frozenset({Payer.CUSTOMER})
    floor: Decimal | None = None
    cap: Decimal | None = None

    def __post_init__(self) -> None:
        check_percent(self.percent, "supplies.percent")
        for name, value in (("supplies.floor", self.floor), ("supplies.cap", self.cap)):
            if value is not None:
                _amount(value, name)
        if self.floor is not None and self.cap is not None and self.floor > self.cap:
            raise BadInput("supplies.floor", "The floor is above the cap.", "Lower the floor, or raise the cap.")
        if Kind.SUPPLIES in self.of:
            raise BadInput("supplies.of", "Supplies cannot be taken of supplies.", "Leave that kind out.")


@dataclass(frozen=True, slots=True, kw_only=True)
class TaxRule:
    """One jurisdiction's rate, on lines of `kinds` paid by `payers`, from `since` to `until` (both days inside).

    `with_parts` are kinds that are taxed only where the same job holds a part for the same payer.
    """

    name: str
    percent: Decimal
    kinds: frozenset[Kind]
    payers: frozenset[Payer] = frozenset({Payer.CUSTOMER})
    with_parts: frozenset[Kind] = frozenset()
    brackets: BracketTable | None = None
    since: date | None = None
    until: date | None = None
    rate: TaxRate = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "rate", TaxRate(self.name, self.percent, self.brackets))

    def holds_on(self, day: date) -> bool:
        """Whether the rule is in force on `day`."""
        return (self.since is None or self.since <= day) and (self.until is None or day <= self.until)


@dataclass(frozen=True, slots=True, kw_only=True)
class Exemption:
    """A customer's certificate: no tax (or only none of `names`) for `payers`, up to the day it expires."""

    certificate: str
    expires: date | None = None
    payers: frozenset[Payer] = frozenset({Payer.CUSTOMER})
    names: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        if not self.certificate.strip():
            raise BadInput(
                "exemption.certificate", "The certificate has no number.", "Enter it as it stands on the paper."
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Taxes:
    """All tax rules of the shop, and how they are rounded.

    `inclusive`: prices hold their tax already, and whoever bears none pays the price without it.
    """

    rules: tuple[TaxRule, ...] = field(default=())
    basis: Basis = Basis.INVOICE
    stacking: Stacking = Stacking.AGGREGATED
    inclusive: bool = False
