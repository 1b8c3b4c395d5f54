"""Every refusal, at every kind of door: a body that names field, problem and remedy, none of them empty."""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import resolve
from drf_spectacular.generators import SchemaGenerator
from rest_framework.test import APIClient

from orders.models import Customer, RepairOrder, Unit
from shopdocs.documents.press import words as press_words
from tests.orders.conftest import checked_in, told

pytestmark = pytest.mark.django_db
V1 = "/api/v1"


@pytest.fixture
def order(shop: Any, owner: Any) -> RepairOrder:
    return checked_in(shop, owner)


@pytest.fixture
def client(api: Any, owner: Any) -> APIClient:
    made: APIClient = api(owner)
    return made


def errors(answer: Any, status: int) -> list[dict[str, str]]:
    assert answer.status_code == status, answer.content[:400]
    assert answer["Content-Type"] == "application/problem+json"
    listed: list[dict[str, str]] = answer.json()["errors"]
    assert listed and all(one["field"] and one["problem"] and one["remedy"] for one in listed), listed
    return listed


Door = Callable[[APIClient, RepairOrder], Any]


def raw(method: str, path: str, body: bytes, content_type: str = "application/json") -> Door:
    return lambda client, order: client.generic(method, path.format(order=order, unit=order.unit), body, content_type)


def sent(method: str, path: str, body: Any) -> Door:
    return raw(method, path, json.dumps(body).encode())


def checked(**changes: Any) -> Door:
    """A check-in with these changes to the new unit."""

    def call(client: APIClient, order: RepairOrder) -> Any:
        visit = told(order.shop)
        visit["new_unit"] |= {"serial": "KX 9", **changes}
        return client.post(f"{V1}/check-in/", visit, format="json")

    return call


def nobody(client: APIClient, order: RepairOrder) -> Any:
    return APIClient().get(f"{V1}/orders/")


def wrong_token(client: APIClient, order: RepairOrder) -> Any:
    return APIClient(HTTP_AUTHORIZATION="Token nonsense").get(f"{V1}/orders/")


def empty_file(client: APIClient, order: RepairOrder) -> Any:
    form = {"moment": "before", "file": SimpleUploadedFile("a.jpg", b"")}
    return client.post(f"{V1}/orders/{order.pk}/photos/", form, format="multipart")


PATCH_UNIT = V1 + "/units/{unit.pk}/"
PHOTOS = V1 + "/orders/{order.pk}/photos/"
PROOFS = V1 + "/units/{unit.pk}/proofs/"

TABLE: list[tuple[str, Door, int, str, str]] = [
    ("nobody", nobody, 401, "Authorization", "Sign in"),
    ("wrong token", wrong_token, 401, "Authorization", "sign in again"),
    ("wrong password", sent("POST", f"{V1}/sign-in/", {"username": "a", "password": "b"}), 401, "password", "Check"),
    ("no such address", sent("GET", f"{V1}/nowhere/", None), 404, "address", "/api/docs/"),
    ("no such record", sent("GET", V1 + "/units/0b0b0b0b-0000-4000-8000-000000000000/", None), 404, "address", "id"),
    ("no such method", sent("DELETE", f"{V1}/check-in/", {}), 405, "method", "method"),
    ("broken JSON", raw("POST", f"{V1}/check-in/", b"{"), 400, "body", "valid JSON"),
    ("a list", sent("POST", f"{V1}/check-in/", []), 400, "body", "API description"),
    ("not JSON at all", raw("POST", f"{V1}/check-in/", b"a=b", "text/plain"), 415, "Content-Type", "content type"),
    ("JSON for a form", sent("POST", PHOTOS, {}), 415, "Content-Type", "content type"),
    ("form without boundary", raw("POST", PHOTOS, b"x", "multipart/form-data"), 400, "Content-Type", "multipart"),
    ("form of another form", raw("POST", PROOFS, b"x", "multipart/form-data; boundary=é"), 400, "Content-Type", "multipart"),
    ("empty file", empty_file, 400, "file", ""),
    ("no such page", sent("GET", f"{V1}/units/?page=99", None), 404, "page", "page number"),
    ("page in words", sent("GET", f"{V1}/units/?page=two", None), 404, "page", "page number"),
    ("no such day", checked(purchased_on="2026-02-30"), 400, "new_unit.purchased_on", "calendar"),
    ("day in words", checked(purchased_on="last May"), 400, "new_unit.purchased_on", "form"),
    ("thirteen assemblies", checked(assemblies=[{"role": "engine"}] * 13), 400, "new_unit.assemblies", "fewer"),
    ("no such use class", checked(use_class="home"), 400, "new_unit.use_class", "values"),
    ("no such state", sent("GET", f"{V1}/orders/?state=lost", None), 400, "state", "values"),
    ("nothing to change", sent("PATCH", PATCH_UNIT, {"version": 1}), 400, "body", "field"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("door", "status", "field", "remedy"), [row[1:] for row in TABLE], ids=[row[0] for row in TABLE]
)
def test_a_refusal_names_field_problem_and_remedy(
    client: APIClient, order: RepairOrder, door: Door, status: int, field: str, remedy: str
) -> None:
    Unit.objects.filter(pk=order.unit_id).update(version=1)
    found = {one["field"]: one for one in errors(door(client, order), status)}
    assert field in found, found
    assert remedy in found[field]["remedy"], found[field]
    assert "JSON" not in found[field]["remedy"] or status != 415


def test_another_roles_work_is_told_of_the_authorization(api: Any, technician: Any, order: RepairOrder) -> None:
    answer = api(technician).post(f"{V1}/check-in/", told(order.shop), format="json")
    assert [one["field"] for one in errors(answer, 403)] == ["Authorization"]


@pytest.mark.parametrize("slug", ["nope", "hollow"])
def test_a_shop_where_one_does_not_work_is_told_of_the_header(
    client: APIClient, order: RepairOrder, other_shop: Any, slug: str
) -> None:
    """The same answer for another's shop and for one that is not there."""
    (told_it,) = errors(client.get(f"{V1}/orders/", headers={"Shop": slug}), 403)
    assert (told_it["field"], told_it["problem"]) == ("Shop", f"You do not work at a shop '{slug}'.")
    assert f"'{order.shop.slug}'" in told_it["remedy"] and "hollow" not in told_it["remedy"]
    assert client.get(f"{V1}/orders/", headers={"Shop": order.shop.slug}).status_code == 200


def test_who_works_nowhere_any_more_is_told_so(client: APIClient, owner: Any, order: RepairOrder) -> None:
    type(owner).objects.filter(pk=owner.pk).update(active=False)
    (told_it,) = errors(client.get(f"{V1}/orders/"), 403)
    assert (told_it["field"], told_it["problem"]) == ("Authorization", "You work at no shop.")


@pytest.mark.parametrize("wrong", ["xx", "e", "es-", "es-?", "Spanish", "../es"])
def test_a_customer_reads_a_language_that_has_a_catalogue(client: APIClient, order: RepairOrder, wrong: str) -> None:
    before = Customer.objects.count()
    where = f"{V1}/customers/"
    changed = client.patch(f"{where}{order.customer_id}/", {"version": 1, "language": wrong}, format="json")
    for answer in (client.post(where, {"name": "Bo", "language": wrong}, format="json"), changed):
        (told_it,) = errors(answer, 400)
        assert told_it["field"] == "language" and "Known here: en, es." in told_it["problem"]
    body = {**told(order.shop), "new_customer": {"name": "Bo", "language": wrong}}
    (told_it,) = errors(client.post(f"{V1}/check-in/", body, format="json"), 400)
    assert told_it["field"] == "new_customer.language"
    assert Customer.objects.count() == before


def test_a_third_language_needs_a_catalogue_and_nothing_else(
    client: APIClient, order: RepairOrder, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def add(language: str) -> int:
        return int(client.post(f"{V1}/customers/", {"name": "Bo", "language": language}, format="json").status_code)

    assert [add(one) for one in ("", "en", "es", "es-MX", "xx")] == [201, 201, 201, 201, 400]
    (tmp_path / "xx.po").write_text('msgid "Total"\nmsgstr "Xotal"\n', "utf-8")
    monkeypatch.setattr(press_words, "FOLDER", tmp_path)
    press_words.languages.cache_clear()
    try:
        assert [add(one) for one in ("en", "es", "xx")] == [201, 400, 201]
    finally:
        monkeypatch.undo()
        press_words.languages.cache_clear()


def test_a_wrong_choice_is_told_the_right_ones(client: APIClient, order: RepairOrder) -> None:
    for door, known in (
        (checked(use_class="home"), "residential, commercial, rental"),
        (checked(sale_kind="x" * 5000), "floor_stock"),
        (checked(sale_kind={"a": 1}), "floor_stock"),
        (checked(assemblies=[{"role": "engin"}]), "engine, electric_motor"),
        (sent("GET", f"{V1}/orders/?state=lost", None), "open, finished, given_back"),
    ):
        told_it = errors(door(client, order), 400)[0]["problem"]
        assert known in told_it and len(told_it) < 600, told_it


def test_a_stale_version_alone_is_told_what_is_there_now(client: APIClient, order: RepairOrder) -> None:
    Unit.objects.filter(pk=order.unit_id).update(use_class="rental", version=7)
    answer = client.patch(PATCH_UNIT.format(unit=order.unit), {"version": 6}, format="json")
    assert [one["field"] for one in errors(answer, 409)] == ["version"]
    assert answer.json()["current_version"] == 7 and answer.json()["changed"]["use_class"] == "rental"


def test_a_day_that_the_calendar_lacks_is_not_called_a_wrong_form(client: APIClient, order: RepairOrder) -> None:
    for day, there in (("2026-02-30", False), ("2025-02-29", False), ("2026-13-01", False), ("2024-02-29", True)):
        answer = checked(build_date=day, purchased_on=None)(client, order)
        if there:
            assert answer.status_code in (201, 409), answer.content
        else:
            assert f"no day {day}" in errors(answer, 400)[0]["problem"]


def test_thousands_of_wrong_entries_are_not_answered_one_by_one(client: APIClient, order: RepairOrder) -> None:
    body = {"said_by": "Imke", "answers": [], "options": ["x"] * 5000}
    answer = client.post(f"{V1}/answer/no-such-token/", body, format="json")
    listed = errors(answer, 400)
    assert len(listed) == 200 and len(answer.content) < 60_000
    assert "4,801 more" in listed[-1]["remedy"] or "4,800 more" in listed[-1]["remedy"]


@pytest.mark.parametrize("method", ["post", "patch", "put", "delete"])
def test_what_is_sent_without_the_last_slash_is_told_the_right_address(
    client: APIClient, order: RepairOrder, method: str
) -> None:
    """A 301 would have the client send a GET instead, and lose the body."""
    before = Customer.objects.count()
    for address in (f"{V1}/customers", f"{V1}/customers/{order.customer_id}", f"{V1}/answer/some-secret"):
        answer = getattr(client, method)(f"{address}?a=b", {"name": "Bo"}, format="json")
        (told_it,) = errors(answer, 404)
        assert told_it["field"] == "address" and told_it["remedy"] == f"Send it to {address}/."
        assert "Location" not in answer
    assert Customer.objects.count() == before
    read = client.get(f"{V1}/customers?page_size=1")
    assert (read.status_code, read["Location"]) == (301, f"{V1}/customers/?page_size=1")
    assert "lacks" not in errors(client.post(f"{V1}/nothing", {}, format="json"), 404)[0]["problem"]


def listed() -> dict[str, dict[str, Any]]:
    """Every list of the published description: its address, and its GET."""
    described = SchemaGenerator().get_schema(request=None, public=True)
    lists = {}
    for address, doors in described["paths"].items():
        shape = resolve(re.sub("{[^}]*}", str(uuid.UUID(int=7)), address))
        if "get" in doors and getattr(shape.func, "actions", {}).get("get") == "list":
            lists[address] = doors["get"]
    return lists


def test_every_list_refuses_a_filter_that_it_does_not_know_and_takes_those_that_it_describes(
    client: APIClient, order: RepairOrder
) -> None:
    lists = listed()
    assert len(lists) > 40
    for address, door in lists.items():
        there = re.sub("{[^}]*}", str(uuid.UUID(int=7)), address)
        known = [one["name"] for one in door.get("parameters", ()) if one["in"] == "query"]
        found = errors(client.get(there, {"foo": "1"}), 400)
        assert [one["field"] for one in found] == ["foo"], address
        assert all(name in found[0]["remedy"] for name in known), (address, known, found)
        for name in known:
            answer = client.get(there, {name: "1"})
            told_it = [] if answer.status_code in (200, 404) else errors(answer, 400)
            assert not [one for one in told_it if "no filter" in one["problem"]], (address, name)


def test_a_misspelt_filter_does_not_answer_with_everything(client: APIClient, order: RepairOrder) -> None:
    found = errors(client.get(f"{V1}/orders/?stat=open&stat=x&serail=1&state=open"), 400)
    assert [one["field"] for one in found] == ["serail", "stat"]
    assert "customer, number, page, page_size, serial, state, unit" in found[0]["remedy"]
    assert client.get(f"{V1}/orders/?state=open&page=1&page_size=5").json()["count"] == 1
