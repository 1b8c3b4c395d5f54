"""Doors to the catalogue and to customers."""

from __future__ import annotations

from typing import Any

import pytest

from orders.models import Customer, LabourOperation, MachineModel, Maker, Part

pytestmark = pytest.mark.django_db


def post(client: Any, what: str, **fields: Any) -> Any:
    return client.post(f"/api/v1/{what}/", fields, format="json")


def patch(client: Any, what: str, row: dict[str, Any], **fields: Any) -> Any:
    return client.patch(f"/api/v1/{what}/{row['id']}/", {"version": row["version"], **fields}, format="json")


def refused(answer: Any, status: int, field: str) -> dict[str, Any]:
    assert answer.status_code == status, answer.content[:300]
    body: dict[str, Any] = answer.json()
    assert field in [one["field"] for one in body["errors"]], body
    assert all(one["problem"] and one["remedy"] for one in body["errors"])
    return body


@pytest.fixture
def maker(client: Any) -> dict[str, Any]:
    return dict(post(client, "makers", name="Tarnbeck").json())


@pytest.fixture
def model(client: Any, maker: dict[str, Any]) -> dict[str, Any]:
    return dict(
        post(client, "models", maker=maker["id"], name="KX 100", family="saw", power_source="two_stroke").json()
    )


EACH: list[tuple[str, dict[str, Any], dict[str, Any]]] = [
    ("distributors", {"name": "Northway Supply"}, {"email": "claims@northway.example"}),
    ("makers", {"name": "Halloran"}, {"authorised": True, "approval_before_work": False}),
    ("operations", {"code": "S-10", "words": "Sharpen chain", "hours": "0.4"}, {"hours": "0.5", "family": "saw"}),
    (
        "parts",
        {"number": "88-1", "words": "Fuel line", "list_price": "4.5"},
        {"cost": "2.125", "component": "fuel_line"},
    ),
    ("customers", {"name": "Imke Dorran"}, {"kind": "crew", "company": "Dorran Tree Care"}),
]


@pytest.mark.parametrize(("what", "first", "then"), EACH)
def test_written_read_changed_and_not_overwritten(client: Any, what: str, first: Any, then: Any) -> None:
    made = post(client, what, **first)
    assert made.status_code == 201, made.json()
    row = made.json()
    assert client.get(f"/api/v1/{what}/{row['id']}/").json() == row
    changed = patch(client, what, row, **then)
    assert changed.status_code == 200, changed.json()
    assert changed.json()["version"] == 2
    for name, value in then.items():
        assert changed.json()[name] == value
    stale = refused(patch(client, what, row, **first), 409, "version")
    assert stale["current_version"] == 2
    assert client.get(f"/api/v1/{what}/").json()["count"] == 1


@pytest.mark.parametrize(("what", "first", "then"), EACH)
def test_another_shop_sees_none_of_it(client: Any, api: Any, other_shop: Any, what: str, first: Any, then: Any) -> None:
    from shopdocs.shops.models import Staff

    row = post(client, what, **first).json()
    stranger = api(Staff.objects.get(shop=other_shop))
    assert stranger.get(f"/api/v1/{what}/").json()["count"] == 0
    assert stranger.get(f"/api/v1/{what}/{row['id']}/").status_code == 404
    assert patch(stranger, what, row, **then).status_code == 404
    assert post(stranger, what, **first).status_code == 201  # a name is taken within one shop only


@pytest.mark.parametrize(("what", "first", "then"), EACH)
def test_the_bench_reads_the_catalogue_and_does_not_write_it(
    client: Any, api: Any, technician: Any, office: Any, what: str, first: Any, then: Any
) -> None:
    assert post(api(technician), what, **first).status_code == 403
    row = post(api(office), what, **first).json()
    assert patch(api(technician), what, row, **then).status_code == 403
    assert api(technician).get(f"/api/v1/{what}/").json()["count"] == 1


WRONG: list[tuple[str, dict[str, Any], str]] = [
    ("makers", {"name": ""}, "name"),
    ("makers", {"name": 5}, "name"),
    ("makers", {"name": "a\nb"}, "name"),
    ("makers", {"name": "x" * 201}, "name"),
    ("makers", {"name": "Halloran", "authorised": "yes"}, "authorised"),
    ("makers", {"name": "Halloran", "distributor": "none"}, "distributor"),
    ("makers", {}, "name"),
    ("distributors", {"name": "Northway", "email": "nobody"}, "email"),
    ("operations", {"code": "S", "words": "x", "hours": "0.45"}, "hours"),
    ("operations", {"code": "S", "words": "x", "hours": "-0.1"}, "hours"),
    ("operations", {"code": "S", "words": "x", "hours": "NaN"}, "hours"),
    ("operations", {"code": "S", "words": "x", "hours": "0.4", "family": "sow"}, "family"),
    ("parts", {"number": "1", "words": "x", "list_price": "free"}, "list_price"),
    ("parts", {"number": "1", "words": "x", "list_price": "-1"}, "list_price"),
    ("parts", {"number": "1", "words": "x", "list_price": "1e20"}, "list_price"),
    ("parts", {"number": "1", "words": "x", "list_price": "1", "component": "fuel_lane"}, "component"),
    ("customers", {"name": "Imke", "kind": "friend"}, "kind"),
    ("customers", {"name": "Imke", "note": "x" * 2_000_000}, "note"),
    ("customers", {"name": "Imke", "tax_exempt": 1}, "tax_exempt"),
    ("customers", {"name": "Imke\u0000"}, "name"),
]


@pytest.mark.parametrize(("what", "fields", "field"), WRONG)
def test_wrong_fields_leave_nothing(client: Any, what: str, fields: dict[str, Any], field: str) -> None:
    refused(post(client, what, **fields), 400, field)
    for written in (Maker, LabourOperation, Part, Customer):
        assert not written.objects.exists()


def test_a_name_is_taken_whatever_its_case_and_spacing(
    client: Any, maker: dict[str, Any], model: dict[str, Any]
) -> None:
    assert refused(post(client, "makers", name="  TARNBECK "), 409, "name")["maker"] == maker["id"]
    again = {"maker": maker["id"], "name": "kx  100", "family": "saw", "power_source": "battery"}
    assert refused(post(client, "models", **again), 409, "name")["model"] == model["id"]
    second = post(client, "makers", name="Halloran").json()
    refused(patch(client, "makers", second, name="tarnbeck"), 409, "name")
    assert patch(client, "makers", maker, name="Tarnbeck").status_code == 200  # its own name is not taken


@pytest.mark.parametrize("name", ["KX100", "kx-100", "K.X. 100"])
def test_another_spelling_is_the_same_maker_and_model(
    client: Any, maker: dict[str, Any], model: dict[str, Any], name: str
) -> None:
    told = refused(post(client, "makers", name="Tarn-Beck"), 409, "name")
    assert told["maker"] == maker["id"] and "'Tarnbeck'" in told["errors"][0]["problem"]
    again = {"maker": maker["id"], "name": name, "family": "saw", "power_source": "two_stroke"}
    told = refused(post(client, "models", **again), 409, "name")
    assert told["model"] == model["id"] and "'KX 100'" in told["errors"][0]["problem"]
    other = post(client, "models", **{**again, "name": "KX 1000"})
    assert other.status_code == 201
    refused(patch(client, "models", other.json(), name=name), 409, "name")
    assert patch(client, "models", model, name=name).status_code == 200  # its own name, spelt anew
    elsewhere = post(client, "makers", name="Halloran").json()["id"]
    assert post(client, "models", **{**again, "maker": elsewhere}).status_code == 201


def test_the_same_part_number_of_another_maker_is_another_part(client: Any, maker: dict[str, Any]) -> None:
    part = {"number": "88-1", "words": "Fuel line", "list_price": "4.50"}
    assert post(client, "parts", **part).status_code == 201
    assert post(client, "parts", **part, maker=maker["id"]).status_code == 201
    refused(post(client, "parts", **part), 409, "number")


def test_families_and_what_drives_them(client: Any, maker: dict[str, Any]) -> None:
    base = {"maker": maker["id"], "name": "KX 100"}
    near = refused(post(client, "models", **base, family="chain_saw", power_source="two_stroke"), 400, "family")
    assert "saw" in near["errors"][0]["problem"]
    refused(post(client, "models", **base, family="saw", power_source="diesel"), 400, "power_source")
    assert not MachineModel.objects.exists()
    assert post(client, "models", **base, family="generator", power_source="lpg").status_code == 201


def test_an_operation_of_a_model_is_of_its_family(client: Any, model: dict[str, Any]) -> None:
    base = {"code": "S-10", "words": "Sharpen chain", "hours": "0.4", "model": model["id"]}
    refused(post(client, "operations", **base, family="mower"), 400, "model")
    assert post(client, "operations", **base, family="saw").status_code == 201
    # The same code for every model of the family is another operation.
    assert post(client, "operations", code="S-10", words="Sharpen chain", hours="0.5", family="saw").status_code == 201


def test_links_to_another_shop(client: Any, strangers: dict[str, str]) -> None:
    body = {"name": "KX", "family": "saw", "power_source": "battery", "maker": strangers["maker"]}
    refused(post(client, "models", **body), 400, "maker")
    refused(post(client, "parts", number="1", words="x", list_price="1", maker=strangers["maker"]), 400, "maker")
    refused(post(client, "operations", code="1", words="x", hours="1", model=strangers["model"]), 400, "model")


def test_customers_are_searched(client: Any) -> None:
    post(client, "customers", name="Imke Dorran", phone="555-0101")
    post(client, "customers", name="Bo Lindqvale", company="Dorran Tree Care")
    assert client.get("/api/v1/customers/?search=dorran").json()["count"] == 2
    assert client.get("/api/v1/customers/?search=0101").json()["count"] == 1


def test_json_that_is_not_json(client: Any) -> None:
    for body in ('{"name": NaN}', '{"name": "a", "name": "b"}', "{", '"name"', "[]", "null"):
        answer = client.post("/api/v1/makers/", body, content_type="application/json")
        assert answer.status_code == 400, body
        assert answer.json()["errors"][0]["remedy"]
