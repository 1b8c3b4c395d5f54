"""Check-in over HTTP: one call, all of it or nothing."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from orders.models import Customer, HourReading, MachineModel, Maker, Ownership, RepairOrder, Unit
from shopdocs.shops.models import Event, NumberSeries

pytestmark = pytest.mark.django_db


def test_everything_is_new(client: Any, visit: dict[str, Any], shop: Any) -> None:
    visit["new_unit"]["assemblies"] = [
        {"role": "engine", "model_name": "E-52", "serial": "E 1", "label_read": True, "label_hours": 300}
    ]
    answer = client.post("/api/v1/check-in/", visit, format="json")
    assert answer.status_code == 201, answer.json()
    body = answer.json()
    assert body["number"] == "RO-1001" and body["state"] == "open"
    assert body["customer"]["name"] == "Imke Dorran"
    assert body["unit"]["serial"] == "KX 100-7" and body["unit"]["model"]["maker_name"] == "Tarnbeck"
    assert body["unit"]["hand_held"] is True  # from the model: nobody said otherwise
    assert body["unit"]["hour_readings"][0]["hours"] == "41.5" and body["unit"]["has_hour_meter"] is True
    assert body["unit"]["assemblies"][0]["label_hours"] == 300
    assert body["accessories"] == ["bar cover"] and body["received_on"] == shop.today().isoformat()
    assert [event["verb"] for event in body["history"]] == ["checked in"]
    unit = Unit.objects.get()
    assert Ownership.objects.get().since == unit.purchased_on  # first owner: theirs since the purchase


def test_known_customer_and_unit(client: Any, order: RepairOrder, released: Any) -> None:
    released(order)
    again = {"customer": str(order.customer_id), "unit": str(order.unit_id), "complaint": "Still will not idle"}
    answer = client.post("/api/v1/check-in/", again, format="json")
    assert answer.status_code == 201, answer.json()
    assert answer.json()["number"] == "RO-1002" and Unit.objects.count() == 1


def test_a_unit_is_in_the_shop_once(client: Any, order: RepairOrder) -> None:
    again = {"customer": str(order.customer_id), "unit": str(order.unit_id), "complaint": "Same again"}
    answer = client.post("/api/v1/check-in/", again, format="json")
    assert answer.status_code == 409
    assert answer.json()["order"] == str(order.pk) and order.number in answer.json()["errors"][0]["problem"]


def test_somebody_elses_unit_offers_the_transfer(client: Any, order: RepairOrder, released: Any, visit: Any) -> None:
    released(order)
    other = {"new_customer": {"name": "Bo Lindqvale"}, "unit": str(order.unit_id), "complaint": "Smokes"}
    refused = client.post("/api/v1/check-in/", other, format="json")
    assert refused.status_code == 409 and refused.json()["offer"] == ["open", "transfer"]
    assert not Customer.objects.filter(name="Bo Lindqvale").exists()  # nothing half-written
    brought = client.post("/api/v1/check-in/", {**other, "brought_for_owner": True}, format="json")
    assert brought.status_code == 201 and brought.json()["customer"]["name"] == "Bo Lindqvale"
    assert brought.json()["unit"]["owner"] == str(order.customer_id)


@pytest.mark.parametrize("serial", ["KX 100-7", "kx1007", "KX-1007 "])
def test_a_serial_that_is_there_offers_that_unit(
    client: Any, visit: dict[str, Any], order: RepairOrder, serial: str
) -> None:
    visit["new_unit"] |= {"serial": serial, "model": str(order.unit.model_id)}
    del visit["new_unit"]["new_model"]
    answer = client.post("/api/v1/check-in/", visit, format="json")
    assert answer.status_code == 409
    body = answer.json()
    assert body["unit"] == str(order.unit_id) and body["offer"] == ["open", "transfer"]
    assert body["errors"][0]["field"] == "new_unit.serial" and "Open or transfer" in body["errors"][0]["remedy"]
    assert Unit.objects.count() == 1 and Customer.objects.count() == 1


def test_a_model_spelt_otherwise_makes_no_second_unit_of_one_plate(
    client: Any, visit: dict[str, Any], order: RepairOrder
) -> None:
    known = order.unit.model
    visit["new_unit"]["new_model"]["name"] = "Kx-100"
    told = client.post("/api/v1/check-in/", visit, format="json")  # the maker is there, too
    assert told.status_code == 409 and told.json()["maker"] == str(known.maker_id), told.json()
    del visit["new_unit"]["new_model"]["new_maker"]
    visit["new_unit"]["new_model"]["maker"] = str(known.maker_id)
    told = client.post("/api/v1/check-in/", visit, format="json")
    assert told.status_code == 409 and told.json()["model"] == str(known.pk), told.json()
    (error,) = told.json()["errors"]
    assert error["field"] == "new_unit.new_model.name" and "'KX 100'" in error["problem"]
    assert Unit.objects.count() == 1 and MachineModel.objects.count() == 1


def test_the_same_serial_of_another_model_is_another_unit(
    client: Any, visit: dict[str, Any], order: RepairOrder
) -> None:
    visit["new_unit"]["new_model"] = {
        **visit["new_unit"]["new_model"],
        "name": "KX 200",
        "maker": str(order.unit.model.maker_id),
    }
    del visit["new_unit"]["new_model"]["new_maker"]
    assert client.post("/api/v1/check-in/", visit, format="json").status_code == 201


def test_no_serial_needs_a_reason(client: Any, visit: dict[str, Any]) -> None:
    del visit["new_unit"]["serial"]
    refused = client.post("/api/v1/check-in/", visit, format="json")
    assert refused.status_code == 400 and refused.json()["errors"][0]["field"] == "new_unit.serial"
    assert "no_serial_reason" in refused.json()["errors"][0]["remedy"]
    visit["new_unit"]["no_serial_reason"] = "plate corroded"
    assert client.post("/api/v1/check-in/", visit, format="json").status_code == 201
    # Two plates that cannot be read are two units.
    assert Unit.objects.get().serial_key == ""


DAY = dt.timedelta(days=1)


def changed(visit: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    at: Any = visit
    *way, last = path.split(".")
    for step in way:
        at = at[step]
    at[last] = value
    return visit


WRONG: list[tuple[str, Any, str]] = [
    ("new_unit.purchased_on", "tomorrow", "new_unit.purchased_on"),
    ("new_unit.build_date", "after purchase", "new_unit.purchased_on"),
    ("new_unit.registered_on", "before purchase", "new_unit.registered_on"),
    ("new_unit.delivered_on", "before purchase", "new_unit.delivered_on"),
    ("new_unit.assemblies", [{"role": "engine", "build_date": "after purchase"}], "new_unit.assemblies[0].build_date"),
    ("received_on", "tomorrow", "received_on"),
    ("received_on", "before purchase", "received_on"),
    ("promised_on", "yesterday", "promised_on"),
    ("received_on", "2026-02-30", "received_on"),
    ("received_on", "0026-02-03", "received_on"),
    ("received_on", 20260203, "received_on"),
    ("complaint", 5, "complaint"),
    ("complaint", "", "complaint"),
    ("complaint", "x" * 2_000_000, "complaint"),
    ("complaint", None, "complaint"),
    ("accessories", "bar cover", "accessories"),
    ("accessories", ["a\nb"], "accessories[0]"),
    ("hours.hours", "NaN", "hours.hours"),
    ("hours.hours", "Infinity", "hours.hours"),
    ("hours.hours", "-1", "hours.hours"),
    ("hours.hours", "about forty", "hours.hours"),
    ("hours.hours", True, "hours.hours"),
    ("hours.hours", "41.55", "hours.hours"),
    ("hours.hours", "1e30", "hours.hours"),
    ("hours.meter_changed", True, "hours.hours_before_change"),
    ("owner_far", "yes", "owner_far"),
    ("new_unit.first_owner", 1, "new_unit.first_owner"),
    ("new_unit.use_class", "home", "new_unit.use_class"),
    ("new_unit.serial", 1007, "new_unit.serial"),
    ("new_unit.serial", "--", "new_unit.serial"),
    ("new_unit.no_serial_reason", "torn off", "new_unit.no_serial_reason"),
    ("new_unit.new_model.family", "sow", "new_unit.new_model.family"),
    ("new_unit.new_model.power_source", "lpg", "new_unit.new_model.power_source"),
    ("new_unit.new_model.power_source", "steam", "new_unit.new_model.power_source"),
    ("new_unit.colour", "red", "new_unit.colour"),
    ("new_customer.email", "not an address", "new_customer.email"),
    ("new_customer.name", ["a"], "new_customer.name"),
    ("new_customer", None, "new_customer"),
    ("unit", "0b0b0b0b-0000-4000-8000-000000000000", "unit"),
]


def filled(value: Any, words: dict[str, str]) -> Any:
    """The value with days in words replaced by days."""
    if isinstance(value, list):
        return [filled(one, words) for one in value]
    if isinstance(value, dict):
        return {name: filled(one, words) for name, one in value.items()}
    return words.get(value, value) if isinstance(value, str) else value


@pytest.mark.parametrize(("path", "value", "field"), WRONG)
def test_wrong_input_names_the_field_and_leaves_nothing(
    client: Any, visit: dict[str, Any], shop: Any, path: str, value: Any, field: str
) -> None:
    today = shop.today()
    words = {
        "tomorrow": (today + DAY).isoformat(),
        "yesterday": (today - DAY).isoformat(),
        "after purchase": (today - 9 * DAY).isoformat(),
        "before purchase": (today - 99 * DAY).isoformat(),
    }
    value = filled(value, words)
    answer = client.post("/api/v1/check-in/", changed(visit, path, value), format="json")
    assert answer.status_code == 400, answer.content[:300]
    problems = answer.json()["errors"]
    assert field in [problem["field"] for problem in problems]
    assert all(problem["problem"] and problem["remedy"] for problem in problems)
    for model in (Customer, Maker, MachineModel, Unit, HourReading, RepairOrder, Ownership, Event, NumberSeries):
        assert not model.objects.exists(), model


def test_near_matches_of_an_unknown_family(client: Any, visit: dict[str, Any]) -> None:
    answer = client.post("/api/v1/check-in/", changed(visit, "new_unit.new_model.family", "trimer"), format="json")
    assert "trimmer" in answer.json()["errors"][0]["problem"]


def test_stock_may_be_repaired_before_it_is_bought(client: Any, visit: dict[str, Any], shop: Any) -> None:
    visit["received_on"] = (shop.today() - 99 * DAY).isoformat()
    visit["new_unit"] |= {"sale_kind": "floor_stock", "build_date": (shop.today() - 300 * DAY).isoformat()}
    assert client.post("/api/v1/check-in/", visit, format="json").status_code == 201


def test_hours_refused_where_there_is_no_meter(client: Any, visit: dict[str, Any]) -> None:
    visit["new_unit"]["has_hour_meter"] = False
    answer = client.post("/api/v1/check-in/", visit, format="json")
    assert answer.status_code == 400 and answer.json()["errors"][0]["field"] == "hours.hours"
    assert not Unit.objects.exists()


def test_only_the_counter_checks_in(api: Any, technician: Any, office: Any, visit: dict[str, Any]) -> None:
    for staff in (technician, office):
        assert api(staff).post("/api/v1/check-in/", visit, format="json").status_code == 403
    assert api(None).post("/api/v1/check-in/", visit, format="json").status_code == 401


@pytest.mark.parametrize("field", ["customer", "unit", "model", "maker"])
def test_ids_of_another_shop_are_no_ids(
    client: Any, visit: dict[str, Any], strangers: dict[str, str], field: str
) -> None:
    if field == "customer":
        del visit["new_customer"]
        visit["customer"] = strangers["customer"]
    elif field == "unit":
        del visit["new_unit"]
        visit["unit"] = strangers["unit"]
    elif field == "model":
        del visit["new_unit"]["new_model"]
        visit["new_unit"]["model"] = strangers["model"]
    else:
        del visit["new_unit"]["new_model"]["new_maker"]
        visit["new_unit"]["new_model"]["maker"] = strangers["maker"]
    answer = client.post("/api/v1/check-in/", visit, format="json")
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["problem"] == "No such record in your shop."
    assert "Stranger" not in answer.content.decode()
