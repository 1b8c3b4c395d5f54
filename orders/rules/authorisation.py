"""How far a bill may go beyond what the customer authorised: consumer estimate laws as dated data, and the shop's own rule.

The laws are read from orders/rules/data/estimate_laws.yaml, each with its source. One that does not cover the goods or
the customer is not applied; a shop's own rule always is. This is arithmetic on published figures, not legal advice. Pure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal
from enum import StrEnum
from functools import cache

from orders.rules import strict
from orders.rules.trade import DATA
from shopdocs.money import Currency, Step, exact, format_money, plain
from shopdocs.problems import BadInput

_KEYS = (
    "key",
    "place",
    "binds",
    "goods",
    "household",
    "request",
    "tax",
    "citation",
    "address",
    "edition",
    "confidence",
)
_OPTIONAL = ("above", "from", "below", "over", "note", "form", "chosen", "waivable", "signed")
OWN_RULE = "the shop's own rule"


class TaxIn(StrEnum):
    """Whether the sum that a law compares holds sales tax, as far as was seen."""

    COUNTED = "counted"
    BEFORE = "before"
    NOT_SAID = "not_said"


class Asked(StrEnum):
    """What a customer said about an estimate, as it was recorded. Orally: an oral one is enough. Waived: none is wanted."""

    NOT_RECORDED = ""
    IN_WRITING = "in_writing"
    ORALLY = "orally"
    WAIVED = "waived"
    NOT_ASKED = "not_asked"


class Form(StrEnum):
    """The kind of estimate that a law speaks of."""

    WRITTEN = "written"
    EITHER = "either"


class Goods(StrEnum):
    """What is repaired, as far as these laws tell goods apart."""

    OUTDOOR = "outdoor"
    VEHICLE = "vehicle"
    ELECTRONICS = "electronics"


@dataclass(frozen=True, slots=True)
class Allowance:
    """What a bill may exceed the estimate by: a percentage of it, but at least and at most so much."""

    percent: Decimal = Decimal(0)
    at_least: Decimal | None = None
    at_most: Decimal | None = None

    def __post_init__(self) -> None:
        for name in ("percent", "at_least", "at_most"):
            value = getattr(self, name)
            if value is not None and exact(value, name) < 0:
                raise BadInput(name, f"{value} is negative.", "Give zero or more.")

    def limit(self, estimate: Decimal, currency: Currency) -> Decimal:
        """The highest bill for this estimate; a fraction of a cent is not charged."""
        over = estimate * self.percent / 100
        over = over if self.at_least is None else max(over, self.at_least)
        over = over if self.at_most is None else min(over, self.at_most)
        return (estimate + over).quantize(currency.quantum, rounding=ROUND_DOWN)


@dataclass(frozen=True, slots=True)
class EstimateLaw:
    """One law with its source. `above`, `start` ('from') and `below` bound the prices it speaks of; None: no bound.

    `request`: an estimate is owed only to who asks for one of its `form`. `chosen`: the customer chooses one in writing, an
    oral one or none. `waivable`: whoever wants none gets none. `signed`: where it asks for an estimate, the customer authorises
    the work in writing before it begins.
    """

    key: str
    place: str
    binds: str
    goods: frozenset[Goods]
    household: bool
    request: bool
    above: Decimal | None
    start: Decimal | None
    below: Decimal | None
    over: Allowance | None
    tax: TaxIn
    citation: str
    address: str
    edition: str
    confidence: str
    note: str
    form: Form
    chosen: bool
    waivable: bool
    signed: bool

    def speaks_of(self, price: Decimal) -> bool:
        """Whether a job of this price falls under the law."""
        return self.speaks_between(price, price)

    def speaks_between(self, least: Decimal, most: Decimal) -> bool:
        """Whether it speaks of any price from `least` to `most`."""
        return (
            (self.above is None or most > self.above)
            and (self.start is None or most >= self.start)
            and (self.below is None or least < self.below)
        )

    @property
    def source(self) -> str:
        """Citation, edition and how it was seen, for print."""
        return f"{self.citation} ({self.edition}; {self.confidence})"


def _amount(node: strict.Node | None) -> Decimal | None:
    if node is None:
        return None
    number = node.number()
    if not number.is_finite() or number < 0:
        raise node.refuse(f"{number} is not an amount of zero or more")
    return number


def _law(row: strict.Node) -> EstimateLaw:
    fields = row.fields(_KEYS, _OPTIONAL)
    over = None
    if "over" in fields:
        parts = fields["over"].fields(("percent",), ("at_least", "at_most"))
        percent = _amount(parts["percent"]) or Decimal(0)
        over = Allowance(percent, _amount(parts.get("at_least")), _amount(parts.get("at_most")))
    goods = fields["goods"].some_of([kind.value for kind in Goods], "kind of goods")
    words = {
        name: fields[name].text() for name in ("key", "place", "binds", "citation", "address", "edition", "confidence")
    }
    return EstimateLaw(
        goods=frozenset(Goods(kind) for kind in goods),
        household=fields["household"].flag(),
        request=fields["request"].flag(),
        above=_amount(fields.get("above")),
        start=_amount(fields.get("from")),
        below=_amount(fields.get("below")),
        over=over,
        tax=TaxIn(fields["tax"].one_of([kind.value for kind in TaxIn], "way to compare")),
        note=fields["note"].text() if "note" in fields else "",
        form=Form(fields["form"].one_of([kind.value for kind in Form], "form")) if "form" in fields else Form.EITHER,
        chosen="chosen" in fields and fields["chosen"].flag(),
        waivable="waivable" in fields and fields["waivable"].flag(),
        signed="signed" in fields and fields["signed"].flag(),
        **words,
    )


def parse_laws(root: strict.Node) -> tuple[EstimateLaw, ...]:
    """The laws of a data file; DataError names file and line of whatever is wrong."""
    rows = root.fields(("laws",))["laws"].items()
    laws: dict[str, EstimateLaw] = {}
    for row in rows:
        law = _law(row)
        if law.key in laws:
            raise row.refuse(f"the law '{law.key}' stands here twice")
        laws[law.key] = law
    return tuple(laws.values())


@cache
def all_laws() -> tuple[EstimateLaw, ...]:
    """Every law of the house's data."""
    return parse_laws(strict.read(DATA / "estimate_laws.yaml"))


def laws_for(place: str, goods: Goods, *, household: bool) -> tuple[EstimateLaw, ...]:
    """The laws of a place ('US-OH') that cover these goods; `household` is false for a crew's or a rental machine."""
    return tuple(
        law for law in all_laws() if law.place == place and goods in law.goods and (household or not law.household)
    )


def laws_in(country: str, goods: Goods, *, household: bool) -> tuple[EstimateLaw, ...]:
    """As `laws_for`, of every place in a country."""
    places = sorted({law.place for law in all_laws() if law.place.startswith(f"{country}-")})
    return tuple(law for place in places for law in laws_for(place, goods, household=household))


@dataclass(frozen=True, slots=True)
class Owed:
    """Whether a law asks for an estimate before the work, and why. `written`: an oral one is not enough.

    `ask`: it hangs on what the customer wants, and nobody has recorded that.
    """

    owed: bool
    words: str
    source: str
    written: bool = False
    ask: bool = False


def estimate_owed(law: EstimateLaw, expected: Decimal | None, *, asked: Asked) -> Owed:
    """Whether the law asks for an estimate for work expected to cost so much (None: not known, so that it may)."""
    if expected is not None and not law.speaks_of(expected):
        return Owed(False, f"Work for {expected} is outside the prices that this law speaks of.", law.source)
    if law.waivable and asked == Asked.WAIVED:
        return Owed(False, "The customer wants no estimate, as the law lets them choose.", law.source)
    wanted = (Asked.IN_WRITING,) if law.form == Form.WRITTEN else (Asked.IN_WRITING, Asked.ORALLY)
    written = law.form == Form.WRITTEN or asked == Asked.IN_WRITING
    if (law.request or law.chosen) and asked not in wanted:
        kind = "a written estimate" if law.form == Form.WRITTEN else "an estimate"
        if asked != Asked.NOT_RECORDED:
            return Owed(
                False, f"The law asks for {kind} when the customer wants one; this one did not ask.", law.source
            )
        told = "The law lets the customer choose an estimate in writing, an oral one or none"
        told = told if law.chosen else f"The law asks for {kind} when the customer wants one"
        return Owed(False, f"{told}, and nobody has recorded what this one wants.", law.source, ask=True)
    return Owed(True, f"It binds {law.binds}.", law.source, written)


@dataclass(frozen=True, slots=True)
class Sums:
    """An estimate or a bill, before tax and with it; `anew`: with it at the tax rates of the bill's day, None: the same."""

    net: Decimal
    total: Decimal
    anew: Decimal | None = None

    @property
    def taxed_anew(self) -> Decimal:
        """The total at the tax rates of the bill's day."""
        return self.total if self.anew is None else self.anew


@dataclass(frozen=True, slots=True)
class Promise:
    """What the customer was told of one job that has changed since: agreed, asked now, and the most that may be asked.

    These are as the estimate printed them: before tax, or with the tax that is inside the prices (`tax` says which). Laws speak of the whole estimate; what was said of a job is held for the job.
    """

    job: int
    agreed: Decimal
    asked: Decimal
    most: Decimal
    tax: str = "before tax"

    def step(self, currency: Currency) -> Step:
        """Both figures in words, and the limit."""
        asked, most, agreed = (format_money(figure, currency) for figure in (self.asked, self.most, self.agreed))
        return Step(f"{self.words}: {asked} asked, {most} allowed where {agreed} was agreed, {self.tax}", self.most)

    @property
    def words(self) -> str:
        return f"what was said of job {self.job}"


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether a bill may be charged without a new consent, every limit that was tried, and the tightest."""

    allowed: bool
    decided_by: str
    steps: tuple[Step, ...]


def may_charge(
    estimate: Sums,
    bill: Sums,
    *,
    laws: Sequence[EstimateLaw],
    own: Allowance | None,
    currency: Currency,
    own_words: str = OWN_RULE,
    promises: Sequence[Promise] = (),
) -> Verdict:
    """Whether `bill` stays within what `estimate` allows by each law and the shop's own rule (compared with tax), and each
    changed job within what was said of it.

    What a changed tax rate alone makes of the sum counts only where the law was seen to count tax: the customer agreed to
    work and its price, and tax is the law's. Elsewhere both are compared at the rates of the bill's day, and that is said.

    A law counts when the estimate or the bill falls under it. One that asks for an estimate on request alone still limits
    the bill beside a written one that was given. With neither law nor own rule the estimate is the limit.
    """
    counted = [law for law in laws if law.over and (law.speaks_of(estimate.total) or law.speaks_of(bill.total))]
    rules = [(law.over, law.tax, law.source) for law in counted if law.over]
    if own is not None:
        rules.append((own, TaxIn.NOT_SAID, own_words))
    if not rules:
        rules.append((Allowance(), TaxIn.NOT_SAID, "the authorised amount, for lack of another rule"))
    steps, tightest, room = [], "", None
    for over, tax, source in rules:
        agreed, asked, counts = _compared(estimate, bill, tax)
        limit = over.limit(agreed, currency)
        shown = f"{format_money(asked, currency)} asked, {format_money(limit, currency)} allowed"
        steps.append(Step(f"{source}: {shown} for an estimate of {format_money(agreed, currency)}, {counts}", limit))
        if room is None or limit - asked < room:
            tightest, room = source, limit - asked
    for one in promises:
        steps.append(one.step(currency))
        if room is None or one.most - one.asked < room:
            tightest, room = one.words, one.most - one.asked
    return Verdict(room is None or room >= 0, tightest, tuple(steps))


def _compared(estimate: Sums, bill: Sums, tax: TaxIn) -> tuple[Decimal, Decimal, str]:
    """What a rule sets side by side, and how tax counts in it."""
    if tax is TaxIn.BEFORE:
        return estimate.net, bill.net, "before tax"
    if tax is TaxIn.COUNTED or estimate.taxed_anew == estimate.total:
        return estimate.total, bill.total, "tax counted"
    return estimate.taxed_anew, bill.total, "tax counted, both at the rates of the bill's day"


def consent_needed(verdict: Verdict) -> str:
    """What to tell the writer when a bill goes too far; '' when it does not."""
    return "" if verdict.allowed else f"Ask the customer for a new authorisation first: {verdict.decided_by}."


def describe(over: Allowance) -> str:
    """An allowance in words: '10 % over the estimate, at least 10, at most 50'."""
    words = f"{plain(over.percent)} % over the estimate"
    words += f", at least {plain(over.at_least)}" if over.at_least is not None else ""
    return words + (f", at most {plain(over.at_most)}" if over.at_most is not None else "")
