"""Customers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.db import transaction

from orders.models import Customer
from shopdocs.rest.refusals import Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, save_changes

from .records import given_in_address


@transaction.atomic
def create_customer(*, shop: Shop, by: Staff, facts: Mapping[str, Any]) -> Customer:
    """Adds a customer. Two customers may have the same name: people do."""
    _check_certificate(facts, shop)
    customer: Customer = Customer.objects.create(shop=shop, **facts)
    record_event(shop=shop, subject=f"customer:{customer.pk}", verb="created", by=by)
    return customer


def _check_certificate(facts: Mapping[str, Any], shop: Shop) -> None:
    """Refuses an exemption without the number of its certificate, and one that has expired: it spares no tax from today on."""
    if facts.get("tax_exempt") and not (facts.get("tax_certificate") or "").strip():
        problem = "Nobody is exempt from tax without a certificate."
        raise Refused("tax_certificate", problem, "Enter its number as it stands on the paper, or let them pay tax.")
    until = facts.get("tax_exempt_until")
    if facts.get("tax_exempt") and until is not None and until < shop.today():
        problem = f"The certificate expired on {until}."
        raise Refused("tax_exempt_until", problem, "Ask the customer for a new one, or let them pay tax.")


@transaction.atomic
def update_customer(*, shop: Shop, by: Staff, pk: UUID, version: int, changes: Mapping[str, Any]) -> Customer:
    """Changes a customer. What was sent already keeps the old name and address."""
    customer = given_in_address(Customer, shop=shop, pk=pk)
    exempt = {name: getattr(customer, name) for name in ("tax_exempt", "tax_certificate", "tax_exempt_until")}
    if set(exempt) & set(changes):
        _check_certificate({**exempt, **changes}, shop)
    saved = save_changes(customer, version=version, changes=dict(changes))
    # Names of the changed fields only: an old address has no business in the history.
    record_event(shop=shop, subject=f"customer:{pk}", verb="changed", facts={"fields": sorted(changes)}, by=by)
    return saved
