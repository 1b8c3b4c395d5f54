"""Money over HTTP: deposit, payment, refund and write-off, with what each door refuses, and who may use it."""

from __future__ import annotations

from typing import Any

import pytest
from rest_framework.test import APIClient

from orders.models import Customer, Invoice, Payment, RepairOrder, WriteOff
from shopdocs.shops.models import Shop, Staff
from tests.orders.back_kit import CARD, another_order, arrived_earlier, invoiced, season_service, set_rates

pytestmark = pytest.mark.django_db
V1 = "/api/v1"


def post(client: APIClient, path: str, data: Any = None, code: int = 201) -> Any:
    answer = client.post(f"{V1}/{path}", data or {}, format="json")
    assert answer.status_code == code, answer.content
    return answer.json()


@pytest.fixture
def ready(shop: Shop, owner: Staff, order: RepairOrder) -> RepairOrder:
    """An order with one job of 82.70, the customer's."""
    set_rates(shop)
    Customer.objects.update(email="imke@example.com")
    arrived_earlier(order)
    season_service(shop, owner, order)
    return RepairOrder.objects.get(pk=order.pk)


def test_from_the_deposit_to_the_last_cent(
    shop: Shop, owner: Staff, writer: Staff, office: Staff, ready: RepairOrder, api: Any
) -> None:
    counter, desk = api(writer), api(office)
    taken = post(counter, f"orders/{ready.pk}/deposits/", {"amount": "30.00", "means": "card", "reference": "T 7"})
    assert (taken["kind"], taken["amount"], taken["invoice"], taken["by_name"]) == (
        "deposit", "30.00", None, "Writer Person",
    )  # fmt: skip
    back = post(desk, f"orders/{ready.pk}/refunds/", {"amount": "5", "means": "cash", "why": "they asked"})
    assert (back["kind"], back["amount"], back["why"]) == ("refund", "5.00", "they asked")
    invoice = invoiced(shop, owner, ready)
    path = f"invoices/{invoice.pk}"
    shown = counter.get(f"{V1}/{path}/").json()
    assert (shown["total"], shown["paid"], shown["balance"]) == ("82.70", "25.00", "57.70")
    listed = counter.get(f"{V1}/orders/{ready.pk}/deposits/").json()["results"]
    assert [(one["kind"], one["invoice"]) for one in listed] == [
        ("deposit", str(invoice.pk)), ("refund", str(invoice.pk)),
    ]  # fmt: skip
    post(counter, f"{path}/payments/", {"amount": "50.00", "means": "check"})
    post(desk, f"{path}/refunds/", {"amount": "50.00", "means": "check", "why": "it bounced", "reference": "118"})
    shown = post(desk, f"{path}/write-offs/", {"reason": "moved away, no address", "amount": "7.70"})
    assert (shown["paid"], shown["written_off"], shown["balance"]) == ("25.00", "7.70", "50.00")
    assert shown["write_offs"][0]["by_name"] == "Office Person"
    shown = post(desk, f"{path}/write-offs/", {"reason": "moved away, no address"})
    assert (shown["written_off"], shown["balance"]) == ("57.70", "0.00")
    assert [one["verb"] for one in shown["history"]] == [
        "deposit applied", "paid", "paid back", "written off", "written off",
    ]  # fmt: skip
    assert {one["by_name"] for one in shown["history"][1:]} == {"Writer Person", "Office Person"}


BAD_MONEY: list[tuple[Any, str]] = [
    ({"amount": value, "means": "cash", "why": "x"}, "amount")
    for value in (
        "NaN",
        "1e400",
        "-1",
        "0",
        "1.123456789",
        "1.001",
        "Infinity",
        "",
        None,
        True,
        [],
        {},
        "ten",
        "9" * 400,
    )
] + [
    ({"means": "cash", "why": "x"}, "amount"),
    ({"amount": "1", "means": "barter", "why": "x"}, "means"),
    ({"amount": "1", "means": "cash", "why": "x", "reference": CARD}, "reference"),
    ({"amount": "1", "means": "cash", "why": "x", "reference": "line\nbreak"}, "reference"),
    ({"amount": "1", "means": "cash", "why": "x", "again": "yes"}, "again"),
    ({"amount": "1", "means": "cash", "why": "x", "card": CARD}, "card"),
]


@pytest.mark.parametrize("given, field", BAD_MONEY, ids=[f"{field}-{at}" for at, (_, field) in enumerate(BAD_MONEY)])
def test_bad_money_is_refused_at_every_door(
    shop: Shop, owner: Staff, ready: RepairOrder, client: Any, given: dict[str, Any], field: str
) -> None:
    other = another_order(shop, owner, ready)
    post(client, f"orders/{other.pk}/deposits/", {"amount": "5", "means": "cash"})
    invoice = Invoice.objects.create(
        shop=shop, order=ready, number="I-1", issued_on=shop.today(), due_on=shop.today(), facts={}, total="82.70",
        by=owner.user,
    )  # fmt: skip
    Payment.objects.create(
        shop=shop, invoice=invoice, amount="5", received_on=shop.today(), means="cash", by=owner.user
    )
    paths = [f"orders/{other.pk}/refunds/", f"invoices/{invoice.pk}/refunds/"]
    plain = {name: value for name, value in given.items() if name != "why"}
    for path, body in [
        *((path, given) for path in paths),
        (f"orders/{other.pk}/deposits/", plain),
        (f"invoices/{invoice.pk}/payments/", plain),
    ]:
        answer = client.post(f"{V1}/{path}", body, format="json")
        assert answer.status_code == 400, (path, answer.content)
        errors = answer.json()["errors"]
        assert [one["field"] for one in errors] == [field] and all(one["problem"] and one["remedy"] for one in errors)
    assert Payment.objects.count() == 2


@pytest.mark.parametrize("days, field", [(1, "received_on"), (-1, "received_on"), (-400, "received_on")])
def test_days_out_of_place(shop: Shop, owner: Staff, ready: RepairOrder, client: Any, days: int, field: str) -> None:
    import datetime as dt

    invoice = invoiced(shop, owner, ready)
    given = {"amount": "1", "means": "cash", field: (shop.today() + dt.timedelta(days=days)).isoformat()}
    answer = client.post(f"{V1}/invoices/{invoice.pk}/payments/", given, format="json")
    assert answer.status_code == 400
    assert [one["field"] for one in answer.json()["errors"]] == [field]


def test_the_same_press_twice_is_taken_once(shop: Shop, owner: Staff, ready: RepairOrder, client: Any) -> None:
    given = {"amount": "10.00", "means": "cash"}
    first = post(client, f"orders/{ready.pk}/deposits/", given)
    again = post(client, f"orders/{ready.pk}/deposits/", given, 409)
    assert (again["recorded"], again["errors"][0]["field"]) == (first["id"], "again")
    post(client, f"orders/{ready.pk}/deposits/", {**given, "again": True})
    invoice = invoiced(shop, owner, ready)
    path = f"invoices/{invoice.pk}"
    for door, body in (
        ("payments", {"amount": "1.00", "means": "cash"}),
        ("refunds", {"amount": "1.00", "means": "cash", "why": "x"}),
        ("write-offs", {"amount": "1.00", "reason": "x"}),
    ):
        post(client, f"{path}/{door}/", body)
        assert post(client, f"{path}/{door}/", body, 409)["errors"][0]["field"] == "again"
    assert (Payment.objects.count(), WriteOff.objects.count()) == (4, 1)


def test_another_shop_and_other_roles_move_no_money(
    shop: Shop, other_shop: Shop, owner: Staff, writer: Staff, technician: Staff, ready: RepairOrder, api: Any
) -> None:
    invoice = invoiced(shop, owner, ready)
    stranger = api(Staff.objects.get(shop=other_shop))
    money, why = {"amount": "1", "means": "cash"}, {"why": "x", "reason": "x"}
    doors: list[tuple[str, dict[str, Any], set[str]]] = [
        (f"invoices/{invoice.pk}/payments/", money, {"writer"}),
        (f"invoices/{invoice.pk}/refunds/", {**money, "why": "x"}, set()),
        (f"invoices/{invoice.pk}/write-offs/", {"reason": why["reason"]}, set()),
        (f"orders/{ready.pk}/deposits/", money, {"writer"}),
        (f"orders/{ready.pk}/refunds/", {**money, "why": "x"}, set()),
    ]
    for path, body, let_in in doors:
        assert stranger.post(f"{V1}/{path}", body, format="json").status_code == 404, path
        for name, staff in (("writer", writer), ("technician", technician)):
            assert (api(staff).post(f"{V1}/{path}", body, format="json").status_code == 403) == (name not in let_in), (
                path
            )
    assert stranger.get(f"{V1}/orders/{ready.pk}/deposits/").status_code == 404


def test_credit_notes_over_http(
    shop: Shop, other_shop: Shop, owner: Staff, office: Staff, writer: Staff, ready: RepairOrder, api: Any
) -> None:
    invoice = invoiced(shop, owner, ready)
    desk, path = api(office), f"invoices/{invoice.pk}"
    lines = desk.get(f"{V1}/{path}/lines/").json()
    assert [(one["words"], one["amount"], one["credited"], one["left"]) for one in lines] == [
        ("Season service", "76.00", "0.00", "76.00"), ("Spark plug", "6.25", "0.00", "6.25"),
    ]  # fmt: skip
    body = {"reason": "not fitted", "lines": [{"line": lines[1]["line"], "amount": "2.25"}]}
    note = post(desk, f"{path}/credit-notes/", body)
    assert (note["number"], note["total"], note["invoice_number"], note["by_name"]) == (
        "CN-1001", "2.41", "I-1001", "Office Person",
    )  # fmt: skip
    assert post(desk, f"{path}/credit-notes/", body, 409)["recorded"] == note["id"]
    shown = desk.get(f"{V1}/{path}/").json()
    assert (shown["credited"], shown["balance"], shown["credit_notes"][0]["number"]) == ("2.41", "80.29", "CN-1001")
    assert desk.get(f"{V1}/{path}/lines/").json()[1]["left"] == "4.00"
    assert post(desk, f"credit-notes/{note['id']}/send/", code=200)["letter"]
    assert desk.get(f"{V1}/credit-notes/", {"invoice": str(invoice.pk)}).json()["results"][0]["id"] == note["id"]
    for bad, field in (
        ({**body, "lines": []}, "lines"), ({**body, "lines": [{"line": "x"}]}, "lines[0]"),
        ({**body, "lines": [{"line": lines[1]["line"], "amount": "NaN"}]}, "lines[0].amount"),
        ({**body, "lines": [{"line": lines[1]["line"], "amount": "1e400"}]}, "lines[0].amount"),
        ({**body, "lines": "all"}, "lines"), ({"lines": body["lines"]}, "reason"),
        ({**body, "reason": CARD}, "reason"), ({**body, "total": "5"}, "total"),
    ):  # fmt: skip
        refused = post(desk, f"{path}/credit-notes/", bad, 400)
        assert refused["errors"][0]["field"].startswith(field), refused
    assert api(writer).post(f"{V1}/{path}/credit-notes/", body, format="json").status_code == 403
    stranger = api(Staff.objects.get(shop=other_shop))
    assert stranger.get(f"{V1}/credit-notes/{note['id']}/").status_code == 404
    assert stranger.post(f"{V1}/{path}/credit-notes/", body, format="json").status_code == 404
    assert stranger.get(f"{V1}/{path}/lines/").status_code == 404
