"""Several people at the same moment: one plate is one unit, one release is one release, numbers have no twin."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

import pytest
from django.db import connection

from orders.models import Finding, Hold, MachineModel, Maker, RepairOrder, Unit
from orders.services.checkin import Visit, check_in
from orders.services.findings import create_finding
from orders.services.holds import release_hold
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import Shop, Staff

pytestmark = pytest.mark.django_db(transaction=True)
PEOPLE = 4


def at_once(act: Callable[[int], Any]) -> list[Any]:
    """What each of several threads got, begun together: a result, or the Conflict that it met."""
    together = Barrier(PEOPLE)

    def one(place: int) -> Any:
        together.wait()
        try:
            return act(place)
        except Conflict as conflict:
            return conflict
        finally:
            connection.close()

    with ThreadPoolExecutor(PEOPLE) as pool:
        return list(pool.map(one, range(PEOPLE)))


def test_the_same_plate_at_two_counters(shop: Shop, owner: Staff) -> None:
    maker = Maker.objects.create(shop=shop, name="Tarnbeck")
    model = MachineModel.objects.create(shop=shop, maker=maker, name="KX", family="saw", power_source="two_stroke")

    def come(place: int) -> RepairOrder:
        unit = {"model": model.pk, "serial": "KX-7"}
        return check_in(
            shop=shop, by=owner, visit=Visit(new_customer={"name": f"P{place}"}, new_unit=unit, complaint="dies")
        )

    got = at_once(come)
    refused = [one for one in got if isinstance(one, Conflict)]
    assert len(refused) == PEOPLE - 1 and Unit.objects.count() == 1
    assert {one.extra["unit"] for one in refused} == {str(Unit.objects.get().pk)}
    assert RepairOrder.objects.get().number == "RO-1001"


def test_findings_of_two_technicians_are_numbered_apart(order: RepairOrder, owner: Staff) -> None:
    facts = {"component": "fuel_line", "condition": "leaks"}
    at_once(lambda place: create_finding(shop=order.shop, by=owner, order_id=order.pk, facts=facts))
    assert sorted(Finding.objects.values_list("number", flat=True)) == [1, 2, 3, 4]
    assert sorted(Hold.objects.values_list("tag", flat=True)) == ["T-1001", "T-1002", "T-1003", "T-1004"]


def test_a_hold_is_released_by_one(order: RepairOrder, owner: Staff) -> None:
    create_finding(shop=order.shop, by=owner, order_id=order.pk, facts={"component": "fuel_line", "condition": "leaks"})
    hold = Hold.objects.get()
    got = at_once(
        lambda place: release_hold(
            shop=order.shop, by=owner, pk=hold.pk, note="kept for parts", signed_name=f"Signer {place}", made_safe=False
        )
    )
    kept = [one for one in got if not isinstance(one, Conflict)]
    assert len(kept) == 1 and Hold.objects.get().signed_name == kept[0].signed_name
