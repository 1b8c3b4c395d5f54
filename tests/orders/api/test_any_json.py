"""Any JSON at any place of a request: answered or refused in words, never an error of ours, never half-written."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction

from orders.models import Assembly, Check, Customer, Finding, Hold, HourReading, MachineModel, Maker, RepairOrder, Unit
from shopdocs.shops.models import Event

pytestmark = pytest.mark.django_db

ZOO: list[Any] = [
    None, True, 0, -1, 1.5, 1e308, 10**400, "", " ", "x", "\u202e", "\ud800", "\u0000", "9" * 5000, "NaN", "1e999",
    "2026-02-30", "9999-12-31", [], {}, [None], [[]], {"a": 1}, ["\ud800"],
]  # fmt: skip
WRITTEN = (Customer, Maker, MachineModel, Unit, Assembly, HourReading, RepairOrder, Finding, Check, Hold, Event)


def places(body: Any, way: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every place in a JSON value, from the leaves to the whole."""
    inner = body.items() if isinstance(body, dict) else enumerate(body) if isinstance(body, list) else ()
    for key, value in inner:
        yield from places(value, (*way, key))
    yield way


def put(body: Any, way: tuple[Any, ...], value: Any) -> Any:
    if not way:
        return value
    changed = copy.deepcopy(body)
    at = changed
    for step in way[:-1]:
        at = at[step]
    at[way[-1]] = value
    return changed


def rows() -> list[int]:
    return [model.objects.count() for model in WRITTEN]


def try_everything(client: Any, method: str, address: str, body: dict[str, Any]) -> None:
    before, refused = rows(), 0
    for way in places(body):
        for value in ZOO:
            said = f"{'.'.join(map(str, way))} = {str(value)[:40]!r}"
            with transaction.atomic():
                answer = client.generic(method, address, json.dumps(put(body, way, value)), "application/json")
                if answer.status_code >= 400:
                    refused += 1
                    assert answer.status_code < 500, said
                    assert rows() == before, said
                    problems = answer.json()["errors"]
                    assert problems and all(one["problem"] and one["remedy"] for one in problems), said
                transaction.set_rollback(True)
    assert refused > 5 * len(body)


def test_check_in(client: Any, visit: dict[str, Any]) -> None:
    visit["new_unit"]["assemblies"] = [{"role": "engine", "label_read": True, "label_hours": 300, "new": None}]
    del visit["new_unit"]["assemblies"][0]["new"]
    visit |= {"promised_on": "2199-01-01", "owner_far": False}
    assert client.post("/api/v1/check-in/", visit, format="json").status_code == 201
    try_everything(client, "POST", "/api/v1/check-in/", {**visit, "new_unit": {**visit["new_unit"], "serial": "KX 9"}})


def test_findings(client: Any, order: RepairOrder) -> None:
    body = {
        "component": "saw_chain", "condition": "dull", "cause": "wear", "point": "chain_and_bar", "measured": "0.5",
        "measured_unit": "mm", "note": "dull", "signs": ["blue"], "caused_by": None, "assembly": None, "unsafe": False,
        "found_on": order.received_on.isoformat(),
    }  # fmt: skip
    address = f"/api/v1/orders/{order.pk}/findings/"
    made = client.post(address, body, format="json")
    assert made.status_code == 201, made.json()
    try_everything(client, "POST", address, body)
    try_everything(client, "PATCH", f"/api/v1/findings/{made.json()['id']}/", {"version": 1, **body})


def test_units(client: Any, order: RepairOrder) -> None:
    base = f"/api/v1/units/{order.unit_id}/"
    change = {
        "version": order.unit.version,
        "serial": "KX 1",
        "build_date": None,
        "use_class": "rental",
        "first_owner": None,
    }
    try_everything(client, "PATCH", base, change)
    try_everything(
        client, "POST", f"{base}hours/", {"hours": "50", "read_on": order.received_on.isoformat(), "note": "x"}
    )
    assembly = {
        "role": "engine",
        "label_read": True,
        "label_hours": 5,
        "displacement_cc": "50.2",
        "build_date": "2020-01-01",
    }
    try_everything(client, "POST", f"{base}assemblies/", assembly)
    buyer = client.post("/api/v1/customers/", {"name": "Bo"}, format="json").json()["id"]
    transfer = {
        "version": change["version"],
        "owner": buyer,
        "since": order.received_on.isoformat(),
        "first_owner": None,
    }
    try_everything(client, "POST", f"{base}transfer/", transfer)


def test_holds_checks_and_leaving(client: Any, order: RepairOrder) -> None:
    base = f"/api/v1/orders/{order.pk}/"
    try_everything(
        client, "POST", f"{base}checks/", {"point": "chain_and_bar", "result": "good", "note": "x", "version": 1}
    )
    try_everything(client, "PATCH", base, {"version": 1, "complaint": "x", "accessories": ["a"], "owner_far": None})
    client.post(f"{base}findings/", {"component": "fuel_line", "condition": "leaks"}, format="json")
    hold = Hold.objects.get()
    try_everything(
        client, "POST", f"/api/v1/holds/{hold.pk}/release/", {"note": "x", "signed_name": "x", "made_safe": True}
    )
    RepairOrder.objects.update(state="finished")
    try_everything(client, "POST", f"{base}give-back/", {"given_to": "x", "note": "x"})


def test_catalogue(client: Any) -> None:
    maker = client.post("/api/v1/makers/", {"name": "Tarnbeck"}, format="json").json()
    model = {"maker": maker["id"], "name": "K", "family": "saw", "power_source": "battery", "displacement_cc": "1"}
    try_everything(client, "POST", "/api/v1/models/", model)
    try_everything(client, "PATCH", f"/api/v1/makers/{maker['id']}/", {"version": 1, "name": "T", "authorised": None})
    part = {
        "number": "1",
        "words": "x",
        "list_price": "1.5",
        "cost": "1",
        "component": "fuel_line",
        "maker": maker["id"],
    }
    try_everything(client, "POST", "/api/v1/parts/", part)
    operation = {"code": "1", "words": "x", "hours": "0.1", "family": "saw", "model": None, "source": "x"}
    try_everything(client, "POST", "/api/v1/operations/", operation)
    try_everything(
        client, "POST", "/api/v1/customers/", {"name": "x", "email": "a@b.example", "kind": "crew", "note": ""}
    )
