"""What tests of orders share: a visit as it is told at the counter, an open order, and a stranger's shop."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.utils import timezone

from orders.models import RepairOrder
from orders.services.checkin import Visit, check_in
from shopdocs.shops.models import Shop, Staff


def told(shop: Shop) -> dict[str, Any]:
    """A chain saw of a first owner, bought 30 days ago, with everything new to the shop."""
    today = shop.today()
    return {
        "new_customer": {"name": "Imke Dorran", "email": "imke@example.com"},
        "new_unit": {
            "new_model": {
                "new_maker": {"name": "Tarnbeck", "authorised": True},
                "name": "KX 100",
                "family": "saw",
                "power_source": "two_stroke",
                "hand_held": True,
            },
            "serial": "KX 100-7",
            "use_class": "residential",
            "first_owner": True,
            "purchased_on": (today - dt.timedelta(days=30)).isoformat(),
        },
        "hours": {"hours": "41.5"},
        "complaint": "Starts, then dies when I pull the trigger",
        "accessories": ["bar cover"],
    }


@pytest.fixture
def visit(shop: Shop) -> dict[str, Any]:
    return told(shop)


@pytest.fixture
def client(api: Any, owner: Staff) -> Any:
    """A client signed in as the owner, who holds every role."""
    return api(owner)


def checked_in(shop: Shop, by: Staff, serial: str = "KX 100-7", name: str = "Imke Dorran") -> RepairOrder:
    """An open order for a saw, made by the service itself."""
    facts = told(shop)
    unit = {**facts["new_unit"], "serial": serial}
    unit["purchased_on"] = dt.date.fromisoformat(unit["purchased_on"])
    return check_in(
        shop=shop,
        by=by,
        visit=Visit(new_customer={"name": name}, new_unit=unit, hours={"hours": "41.5"}, complaint=facts["complaint"]),
    )


@pytest.fixture
def order(shop: Shop, owner: Staff) -> RepairOrder:
    return checked_in(shop, owner)


@pytest.fixture
def strangers(other_shop: Shop) -> dict[str, str]:
    """Ids of another shop's records, by what they are."""
    staff = Staff.objects.get(shop=other_shop)
    theirs = checked_in(other_shop, staff, serial="STRANGER 1", name="Stranger Person")
    unit = theirs.unit
    return {
        "order": str(theirs.pk),
        "unit": str(unit.pk),
        "customer": str(theirs.customer_id),
        "model": str(unit.model_id),
        "maker": str(unit.model.maker_id),
        "reading": str(theirs.reading_id),
    }


@pytest.fixture
def released() -> Callable[[RepairOrder], None]:
    """Puts an order into the state in which its unit has left the shop."""

    def leave(order: RepairOrder) -> None:
        RepairOrder.objects.filter(pk=order.pk).update(state="given_back", given_back_at=timezone.now())

    return leave
