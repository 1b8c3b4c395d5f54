"""How a distributor pays: dated records of the shop. What is not recorded is not known, and never guessed."""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import Distributor
from shopdocs.rest.refusals import Conflict, Problem, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, save_changes
from warranty.models import DistributorTerms

from .lookups import mine, whole_cents

WORDS = (
    "labour_rate", "time_basis", "diagnosis_limit", "parts_percent", "parts_base", "filing_days", "parts_hold_days", "answer_days",
    "claims_email", "source",
)  # fmt: skip
MOST_PERCENT = 1000


def terms_on(*, distributor: Distributor, day: dt.date) -> DistributorTerms | None:
    """The newest terms of this distributor that had begun on `day`; None when none is recorded."""
    rows = DistributorTerms.objects.for_shop(distributor.shop).filter(distributor=distributor, starts_on__lte=day)
    found: DistributorTerms | None = rows.order_by("-starts_on").first()
    return found


def terms_words(terms: DistributorTerms) -> str:
    """'terms of Hadley Wholesale since 2026-01-01: dealer letter of that day', as figures name their rule."""
    source = terms.source or "no source is recorded"
    return f"terms of {terms.distributor.name} since {terms.starts_on}: {source}"


def _check(shop: Shop, given: dict[str, Any]) -> None:
    problems = []
    whole_cents(shop, "labour_rate", given.get("labour_rate"))
    percent = given.get("parts_percent")
    if percent is not None and percent > MOST_PERCENT:
        remedy = "Enter 90 for 90 percent of the price, 115 for cost plus 15 percent."
        problems.append(Problem("parts_percent", f"{percent} percent is surely a slip.", remedy))
    if percent is not None and not given.get("parts_base"):
        problems.append(Problem("parts_base", "A percentage needs to know of what.", "Say 'cost' or 'list'."))
    for name in ("filing_days", "parts_hold_days", "answer_days"):
        if (given.get(name) or 0) > 3650:
            problems.append(
                Problem(name, f"{given[name]} days are over ten years.", "Enter the days of the agreement.")
            )
    if problems:
        raise Refused(problems=problems)


@transaction.atomic
def record_distributor_terms(
    *, shop: Shop, by: Staff, distributor: UUID, starts_on: dt.date, **given: Any
) -> DistributorTerms:
    """Records how the distributor pays from `starts_on` on. Claims already filed keep what they said."""
    who = mine(shop, Distributor, distributor, "distributor")
    _check(shop, given)
    if DistributorTerms.objects.for_shop(shop).filter(distributor=who, starts_on=starts_on).exists():
        raise Conflict(
            "starts_on", f"Terms of {who.name} from {starts_on} are recorded already.", "Correct those instead."
        )
    terms: DistributorTerms = DistributorTerms.objects.create(shop=shop, distributor=who, starts_on=starts_on, **given)
    record_event(
        shop=shop, subject=f"distributor:{who.pk}", verb="terms recorded", by=by, words=f"from {starts_on}",
        facts={"terms": str(terms.pk)},
    )  # fmt: skip
    return terms


@transaction.atomic
def correct_distributor_terms(
    *, shop: Shop, by: Staff, terms: DistributorTerms, version: int, changes: dict[str, Any]
) -> DistributorTerms:
    """Corrects a slip in recorded terms. New conditions are a new record with its own first day."""
    after = {name: changes.get(name, getattr(terms, name)) for name in WORDS}
    _check(shop, after)
    before = {name: str(getattr(terms, name)) for name in changes}
    saved = save_changes(terms, version=version, changes=changes)
    record_event(
        shop=shop, subject=f"distributor:{terms.distributor_id}", verb="terms corrected", by=by,
        words=f"from {terms.starts_on}", facts={"terms": str(terms.pk), "before": before},
    )  # fmt: skip
    return saved
