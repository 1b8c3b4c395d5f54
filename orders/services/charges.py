"""What a shop charges beside labour and parts, as facts: its pricing terms of the day, fees, discounts, exemption."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import QuerySet

from orders.models import Customer, Job
from orders.models.catalogue import PricingTerms
from orders.rules.parts import PriceTier, check_tiers
from orders.rules.pricing import Kind
from shopdocs.documents.press.words import words
from shopdocs.problems import BadInput
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff, TaxRate
from shopdocs.shops.rates import ANOTHER_DAY, take_place, to_correct
from shopdocs.shops.services import record_event

from . import amounts
from .records import store
from .wording import paper_language

Facts = dict[str, Any]
SUPPLIED = ("labour", "part", "fee", "freight", "sublet", "delivery", "disposal")
HUNDRED = Decimal(100)
DAY = dt.timedelta(days=1)


def plain(number: Decimal | None) -> str | None:
    """A figure for facts; None stays None."""
    return None if number is None else f"{Decimal(number).normalize():f}"


def _standing(shop: Shop) -> QuerySet[PricingTerms]:
    """The shop's pricing terms, without those in whose place another record stands."""
    rows: QuerySet[PricingTerms] = PricingTerms.objects.for_shop(shop).filter(corrected_at=None)
    return rows


def terms_on(shop: Shop, day: dt.date) -> PricingTerms | None:
    """The shop's newest pricing terms that have begun."""
    rows = _standing(shop).filter(starts_on__lte=day)
    found: PricingTerms | None = rows.order_by("-starts_on").first()
    return found


def terms_facts(shop: Shop, customer: Customer, day: dt.date) -> Facts:
    """How a document of this customer is priced on that day: supplies, minimum, class discount, tax rounding, exemption."""
    terms = terms_on(shop, day) or PricingTerms(shop=shop, starts_on=day)
    discount = terms.class_discounts.get(customer.kind)
    supplies = {
        "words": words(paper_language(shop, customer))(terms.supplies_words),
        "percent": plain(terms.supplies_percent),
        "of": terms.supplies_of or [str(Kind.LABOUR)],
        "floor": plain(terms.supplies_floor),
        "cap": plain(terms.supplies_cap),
    }
    return {
        "supplies": supplies if terms.supplies_percent else None,
        "minimum_labour": plain(terms.minimum_labour),
        "diagnosis_limit": plain(terms.diagnosis_limit),
        "class_discount": {"words": customer.get_kind_display(), "percent": discount} if discount else None,
        "stacking": terms.tax_stacking,
        "inclusive": terms.tax_inclusive,
        "exemption": exemption_facts(customer),
    }


def exemption_facts(customer: Customer) -> Facts | None:
    """The customer's certificate; None for one who pays tax."""
    if not customer.tax_exempt:
        return None
    until = customer.tax_exempt_until
    return {
        "certificate": customer.tax_certificate or "kept by the shop",
        "expires": until.isoformat() if until else None,
    }


def job_charges(job: Job) -> Facts:
    """Fees and discounts of a job, for its facts; what came back of a part stands with the part."""
    discounts = []
    if job.discount_percent or job.discount_amount:
        words = job.discount_words or "Discount on the job"
        given = {"percent": plain(job.discount_percent or None), "amount": plain(job.discount_amount or None)}
        discounts = [{"words": words, **given}]
    fees = [
        {"id": str(fee.pk), "kind": fee.kind, "words": fee.words, "price": f"{fee.amount:f}"}
        for fee in job.fees.all()
        if fee.returned_id is None
    ]
    return {"fees": fees, "discounts": discounts}


@transaction.atomic
def set_terms(*, shop: Shop, by: Staff, starts_on: dt.date, **terms: Any) -> PricingTerms:
    """Records pricing terms from a day on; estimates and invoices that are there keep theirs. Percentages are 0 to 100."""
    _refuse_terms(shop, starts_on, terms)
    row = PricingTerms(shop=shop, starts_on=starts_on, **_kept(terms))
    clash = Conflict("starts_on", f"There are pricing terms from {starts_on} already.", ANOTHER_DAY)
    store(row, clash=lambda: clash)
    record_event(shop=shop, subject=f"shop:{shop.pk}", verb="pricing terms set", words=f"from {starts_on}", by=by)
    return row


@transaction.atomic
def correct_terms(*, shop: Shop, by: Staff, terms_id: UUID, version: int, reason: str, changes: Facts) -> PricingTerms:
    """Another record takes the place of terms that were entered wrongly, from the same day on; the history says who and why.

    What was priced keeps its terms. Raises Conflict for terms that are no longer in force, Refused where nothing would change.
    """
    old: PricingTerms = to_correct(PricingTerms, by, terms_id, version, key=(), field="terms")
    then = {name: changes.get(name, getattr(old, name)) for name in ("supplies_floor", "supplies_cap", "tax_inclusive")}
    _refuse_terms(shop, old.starts_on, {**changes, **then})
    differs = {name: value for name, value in _kept(changes).items() if getattr(old, name) != value}
    if not differs:
        raise Refused("", "Nothing is to be corrected.", "Send at least one figure that is another.")
    new: PricingTerms = take_place(old, differs)
    told = ", ".join(f"{name} {_told(differs[name])}, not {_told(getattr(old, name))}" for name in sorted(differs))
    was, now = ({name: str(of[name]) for name in differs} for of in (vars(old), differs))
    record_event(
        shop=shop, subject=f"shop:{shop.pk}", verb="pricing terms corrected", by=by,
        words=f"from {old.starts_on}: {told}; {reason}",
        facts={"was": was, "now": now, "reason": reason, "record": str(old.pk)},
    )  # fmt: skip
    return new


def _told(value: Any) -> Any:
    return plain(value) if isinstance(value, Decimal) else "none" if value is None else value


def _kept(terms: Facts) -> Facts:
    """Terms as they are kept: discounts and tiers as plain digits. Raises Refused for tiers that do not rise to an open end."""
    kept = dict(terms)
    if "class_discounts" in kept:
        kept["class_discounts"] = {kind: plain(Decimal(one)) for kind, one in (kept["class_discounts"] or {}).items()}
    if "price_tiers" in kept:
        kept["price_tiers"] = _plain_tiers(kept["price_tiers"] or {})
    return kept


def _plain_tiers(given: Facts) -> Facts:
    """Tiers by kind of customer as plain digits. Raises Refused for tiers that do not rise to an open end."""
    kept: Facts = {}
    for kind, rows in given.items():
        if kind not in ("", *Customer.Kind.values):
            problem = f"'{str(kind)[:40]}' is no kind of customer."
            raise Refused("price_tiers", problem, f"Choose of: '' (for all), {', '.join(Customer.Kind.values)}.")
        try:
            check_tiers([PriceTier(one["up_to"], one["markup"]) for one in rows])
        except BadInput as bad:
            raise Refused("price_tiers", bad.problem, bad.remedy) from bad
        kept[kind] = [{"up_to": plain(one["up_to"]), "markup": plain(one["markup"])} for one in rows]
    return kept


Span = tuple[dt.date, dt.date]  # first and last day


def _spans(starts: Iterable[dt.date]) -> dict[dt.date, Span]:
    """Days on which each of several rows holds, the next one ending it."""
    days = sorted(set(starts))
    ends = [*(day - DAY for day in days[1:]), dt.date.max]
    return {day: (day, end) for day, end in zip(days, ends, strict=False)}  # no days: no end either


def _refuse_table_inside(shop: Shop, starts_on: dt.date, inclusive: bool) -> None:
    """Refuses terms with tax inside the prices if, on any day of theirs, a tax comes from a bracket table."""
    if not inclusive:
        return
    others = _standing(shop).values_list("starts_on", flat=True)
    mine = _spans([starts_on, *others])[starts_on]
    tables = TaxRate.objects.for_shop(shop).filter(brackets__isnull=False, corrected_at=None)
    for row in tables.order_by("name", "starts_on"):
        if _meet(mine, _table_span(row)):
            problem = f"'{row.name}' is a bracket table, which cannot be taken out of prices with tax inside."
            raise Refused("tax_inclusive", problem, "Enter prices before tax, or the tax as a percentage.")


def refuse_table(row: TaxRate) -> None:
    """Refuses a bracket table if, on any day of it, the shop's prices hold their tax already."""
    if row.brackets is None:
        return
    terms = list(_standing(row.shop))
    spans = _spans(one.starts_on for one in terms)
    for one in sorted(terms, key=lambda one: one.starts_on):
        if one.tax_inclusive and _meet(spans[one.starts_on], _table_span(row)):
            problem = f"From {one.starts_on} on prices hold their tax already, and a bracket table cannot be taken out of them."
            raise Refused("brackets", problem, "Enter the tax as a percentage, or pricing terms before tax first.")


def _table_span(row: TaxRate) -> Span:
    """The days of a tax: to its last, or until the next rate of its name begins."""
    rows = TaxRate.objects.for_shop(row.shop).filter(name=row.name, corrected_at=None)
    first, last = _spans([row.starts_on, *rows.values_list("starts_on", flat=True)])[row.starts_on]
    return first, min(last, row.ends_on or last)


def _meet(one: Span, other: Span) -> bool:
    return one[0] <= other[1] and other[0] <= one[1]


def _refuse_terms(shop: Shop, starts_on: dt.date, terms: Facts) -> None:
    if "supplies_percent" in terms:
        amounts.percent(terms["supplies_percent"], "supplies_percent")
    for field in ("supplies_floor", "supplies_cap", "minimum_labour"):
        if terms.get(field) is not None:
            amounts.figure(terms[field], field, decimals=shop.currency_decimals)
    floor, cap = terms.get("supplies_floor"), terms.get("supplies_cap")
    if floor is not None and cap is not None and floor > cap:
        raise Refused("supplies_floor", "The floor is above the cap.", "Lower the floor, or raise the cap.")
    _refuse_table_inside(shop, starts_on, bool(terms.get("tax_inclusive")))
    unknown = set(terms.get("supplies_of") or ()) - set(SUPPLIED)
    if unknown:
        raise Refused("supplies_of", f"'{min(unknown)[:40]}' is no kind of line.", f"Choose of: {', '.join(SUPPLIED)}.")
    kinds = tuple(str(kind) for kind in Customer.Kind.values)
    for kind, share in (terms.get("class_discounts") or {}).items():
        if kind not in kinds:
            problem = f"'{str(kind)[:40]}' is no kind of customer."
            raise Refused("class_discounts", problem, f"Choose of: {', '.join(kinds)}.")
        amounts.percent(share, "class_discounts")
