"""Who owes what, on any day, and the statement of a customer: as figures, on paper, by letter."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.conf import settings
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orders.api.receivables import COLUMNS
from orders.models import Customer, Invoice, Payment, RepairOrder
from orders.services.credits import issue_credit_note
from orders.services.payments import record_deposit, record_payment
from orders.services.receivables import receivables_on, register_source
from orders.services.write_offs import write_off
from shopdocs.documents.models import Document, Letter
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.shops.models import Event, Shop, Staff
from tests.orders.back_kit import another_order, invoiced, season_service, set_rates, sharpening
from tests.papers_reading import faults, words_of
from tests.sums import done_again

pytestmark = pytest.mark.django_db
V1 = "/api/v1"
D = Decimal


@pytest.fixture
def invoice(shop: Shop, owner: Staff, order: RepairOrder) -> Invoice:
    """82.70, made 40 days ago and due 10 days later."""
    set_rates(shop)
    Customer.objects.update(email="imke@example.com")
    season_service(shop, owner, order)
    made = invoiced(shop, owner, order)
    issued = shop.today() - dt.timedelta(days=40)
    Invoice.objects.update(issued_on=issued, due_on=issued + dt.timedelta(days=10))
    return Invoice.objects.get(pk=made.pk)


def get(client: Any, path: str, code: int = 200, **query: Any) -> Any:
    answer = client.get(f"{V1}/{path}", query)
    assert answer.status_code == code, answer.content
    return answer.json()


def test_ageing_on_any_day(shop: Shop, owner: Staff, invoice: Invoice, client: Any) -> None:
    def column(day: dt.date) -> list[str]:
        told = get(client, "receivables/", as_of=day.isoformat())
        names = ("not_due", "to_30", "to_60", "to_90", "over_90")
        return [name for name in names if told[name] != "0.00"]

    due = invoice.due_on
    assert column(invoice.issued_on - dt.timedelta(days=1)) == []
    for days, name in ((0, "not_due"), (1, "to_30"), (30, "to_30"), (31, "to_60"), (61, "to_90"), (91, "over_90")):
        assert column(due + dt.timedelta(days=days)) == [name]
    record_payment(shop=shop, by=owner, invoice_id=invoice.pk, amount=D("80"), means="cash")
    write_off(shop=shop, by=owner, invoice_id=invoice.pk, reason="rounding", amount=D("0.70"))
    told = get(client, "receivables/")
    (one,) = told["payers"]
    assert (one["payer"]["name"], one["total"], one["to_30"]) == ("Imke Dorran", "2.00", "2.00")
    assert (one["asked"], one["paid"], one["credited"], one["written_off"], one["open"]) == (
        "82.70", "80.00", "0.00", "0.70", "2.00",
    )  # fmt: skip
    assert sum(D(step["amount"]) for step in one["steps"][:-1]) == D(one["open"])
    (item,) = one["items"]
    assert (item["number"], item["days_over"], item["open"], item["record"]) == (
        invoice.number, 30, "2.00", str(invoice.pk),
    )  # fmt: skip
    yesterday = get(client, "receivables/", as_of=(shop.today() - dt.timedelta(days=1)).isoformat())
    assert yesterday["total"] == "82.70"


def test_a_deposit_is_held_and_the_shops_own_jobs_are_nobodys_debt(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any
) -> None:
    set_rates(shop)
    season_service(shop, owner, order)
    sharpening(shop, owner, order, payer="goodwill")
    sharpening(shop, owner, order, title="Dress bar", payer="shop")
    record_deposit(shop=shop, by=owner, order_id=order.pk, amount=D("20"), means="cash")
    told = get(client, "receivables/")
    assert (told["held"], told["total"], told["not_due"]) == ("-20.00", "-20.00", "0.00")
    assert [(one["kind"], one["open"]) for one in told["payers"][0]["items"]] == [("deposit", "-20.00")]
    invoiced(shop, owner, order)
    told = get(client, "receivables/", kind="customer", payer=str(order.customer_id))
    assert (told["held"], told["not_due"], told["total"]) == ("0.00", "62.70", "62.70")
    assert get(client, "receivables/", kind="distributor")["payers"] == []


def test_the_statement_of_a_customer(shop: Shop, owner: Staff, invoice: Invoice, client: Any) -> None:
    issue_credit_note(
        shop=shop, by=owner, invoice_id=invoice.pk, reason="not fitted",
        lines=[{"line": invoice.facts["jobs"][0]["parts"][0]["id"]}],
    )  # fmt: skip
    record_payment(shop=shop, by=owner, invoice_id=invoice.pk, amount=D("50"), means="check", reference="118")
    path = f"customers/{invoice.order.customer_id}/statement/"
    whole = get(client, path, since=invoice.issued_on.isoformat())
    assert (whole["carried"], whole["asked"], whole["received"], whole["open"], whole["overdue"]) == (
        "0.00", "82.70", "56.70", "26.00", "26.00",
    )  # fmt: skip
    assert [(one["title"], one["asked"], one["received"], one["balance"]) for one in whole["entries"]] == [
        ("Invoice I-1001", "82.70", None, "82.70"),
        ("Payment", None, "50.00", "32.70"),
        ("Credit note CN-1001", None, "6.70", "26.00"),
    ]
    today = get(client, path, since=shop.today().isoformat())
    assert (today["carried"], today["asked"], today["open"]) == ("82.70", "0.00", "26.00")
    eve = (shop.today() - dt.timedelta(days=1)).isoformat()
    assert get(client, path, since=eve, until=eve)["open"] == "82.70"

    every_figure_is_told(client, path, since=invoice.issued_on.isoformat())
    every_figure_is_told(client, path, since=shop.today().isoformat())

    made = client.post(f"{V1}/{path}", {"since": invoice.issued_on.isoformat()}, format="json")
    assert made.status_code == 201 and made.json()["number"] == "ST-1001"
    document = Document.objects.get(pk=made.json()["id"])
    pdf = draw_sheet(shop, "statement", document.sheet).pdf
    text = words_of(pdf)
    assert faults(pdf) == []
    assert "\u2026" not in text
    for said in (
        "Still open $26.00 of which overdue $26.00", "Invoice I-1001 RO-1001 82.70 82.70", "I-1001 · check, 118 50.00 32.70",
        "Sums 82.70 56.70 26.00", "Please name the number when you pay",
    ):  # fmt: skip
        assert said in text, said

    code = document.sheet["code"].removeprefix(settings.PUBLIC_URL)
    assert code == f"{V1}/{path}?number=ST-1001"
    assert client.get(code).json() == whole
    assert get(client, path, 400, number="ST-9")["errors"][0]["field"] == "number"
    assert get(client, path, 400, number="ST-1001", since="2026-01-01")["errors"][0]["field"] == "number"
    sent = client.post(f"{V1}/{path}send/", {"since": invoice.issued_on.isoformat()}, format="json")
    assert sent.status_code == 201
    letter = Letter.objects.get(pk=sent.json()["id"])
    assert (letter.to_address, letter.documents.get().number) == ("imke@example.com", "ST-1002")
    assert "$26.00 is still open, $26.00 of it overdue" in letter.body
    assert Event.objects.filter(verb="statement sent", subject=f"customer:{invoice.order.customer_id}").exists()
    Customer.objects.update(email="")
    assert client.post(f"{V1}/{path}send/", {}, format="json").status_code == 400


def test_a_deposit_beside_an_overdue_invoice_is_told_apart(
    shop: Shop, owner: Staff, invoice: Invoice, client: Any
) -> None:
    """What is overdue counts no money that is held for another repair; what is open does."""
    other = another_order(shop, owner, invoice.order)
    RepairOrder.objects.filter(pk=other.pk).update(customer=invoice.order.customer)
    season_service(shop, owner, other)
    record_deposit(shop=shop, by=owner, order_id=other.pk, amount=D("50"), means="cash")
    path, since = f"customers/{invoice.order.customer_id}/statement/", invoice.issued_on.isoformat()
    whole = get(client, path, since=since)
    assert (whole["open"], whole["overdue"], whole["held"]) == ("32.70", "82.70", "-50.00")
    every_figure_is_told(client, path, since=since)
    sent = client.post(f"{V1}/{path}send/", {"since": since}, format="json")
    letter = Letter.objects.get(pk=sent.json()["id"])
    assert "$82.70 is overdue; less $50.00 to your credit, $32.70 is still open in all." in letter.body
    pdf = draw_sheet(shop, "statement", letter.documents.get().sheet).pdf
    assert "Still open $32.70 Overdue $82.70 Your credit with us $50.00" in words_of(pdf) and faults(pdf) == []


def every_figure_is_told(client: Any, path: str, **period: str) -> None:
    """Each amount of the statement, and the ages of the books on its last day, are found at how/ and can be done again."""
    whole = get(client, path, **period)
    found = done_again(get(client, f"{path}how/", **period), 2)
    amounts = {name: whole[name] for name in ("carried", "asked", "received", "open", "overdue", "held")}
    for at, one in enumerate(whole["entries"], 1):
        amounts |= {f"entry:{at}": one["asked"] or one["received"], f"balance:{at}": one["balance"]}
    for one in whole["items"]:
        amounts |= {f"asked:{one['number']}": one["asked"], f"open:{one['number']}": one["open"]}
    kind, payer, _ = path.split("/", 2)
    (books,) = get(client, "receivables/", kind=kind.rstrip("s"), payer=payer)["payers"]
    amounts |= {name: books[name] for name in COLUMNS}
    assert {name: D(amount) for name, amount in amounts.items()} == {name: found[name] for name in amounts}
    assert (whole["items"] and "balance:1" in amounts) or not whole["entries"]


def test_a_statement_speaks_the_customers_language(shop: Shop, owner: Staff, invoice: Invoice, client: Any) -> None:
    Customer.objects.update(language="es")
    record_payment(shop=shop, by=owner, invoice_id=invoice.pk, amount=D("50"), means="cash")
    path = f"customers/{invoice.order.customer_id}/statement/"
    client.post(f"{V1}/{path}", {"since": invoice.issued_on.isoformat()}, format="json")
    text = words_of(draw_sheet(shop, "statement", Document.objects.latest("created_at").sheet).pdf)
    for said in ("Estado de cuenta", "Factura I-1001", "Pago", "efectivo", "Pendiente"):
        assert said in text, said


@pytest.mark.parametrize(
    "query, field",
    [
        ({"since": "2026-02-30"}, "since"),
        ({"until": "2199-01-01"}, "until"),
        ({"since": "2026-03-02", "until": "2026-03-01"}, "since"),
        ({"since": "1990-01-01"}, "since"),
        ({"from": "2026-01-01"}, "from"),
        ({"since": "NaN"}, "since"),
    ],
)
def test_periods_that_are_none(invoice: Invoice, client: Any, query: dict[str, str], field: str) -> None:
    path = f"customers/{invoice.order.customer_id}/statement/"
    assert get(client, path, 400, **query)["errors"][0]["field"] == field
    assert get(client, f"{path}how/", 400, **query)["errors"][0]["field"] == field
    answer = client.post(f"{V1}/{path}", query, format="json")
    assert answer.status_code == 400 and answer.json()["errors"][0]["field"] == field
    assert not Document.objects.filter(kind="statement").exists()


def test_what_the_books_do_not_answer(shop: Shop, other_shop: Shop, invoice: Invoice, client: Any, api: Any) -> None:
    for query, field in (
        ({"as_of": "yesterday"}, "as_of"), ({"kind": "goodwill"}, "kind"), ({"payer": "1"}, "payer"),
        ({"payer": str(invoice.order.customer_id)}, "kind"), ({"day": "2026-01-01"}, "day"),
    ):  # fmt: skip
        assert get(client, "receivables/", 400, **query)["errors"][0]["field"] == field
    stranger = api(Staff.objects.get(shop=other_shop))
    assert get(stranger, "receivables/")["payers"] == []
    payer = str(invoice.order.customer_id)
    errors = get(stranger, "receivables/", 400, kind="customer", payer=payer)["errors"]
    assert [one["field"] for one in errors] == ["payer"]
    assert get(stranger, f"customers/{payer}/statement/", 404)
    assert get(stranger, f"customers/{payer}/statement/how/", 404)
    for door in ("", "send/"):
        assert stranger.post(f"{V1}/customers/{payer}/statement/{door}", {}, format="json").status_code == 404
        assert client.post(f"{V1}/distributors/{payer}/statement/{door}", {}, format="json").status_code == 404


def test_more_invoices_ask_no_more_queries(shop: Shop, owner: Staff, invoice: Invoice, client: Any) -> None:
    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as seen:
            get(client, "receivables/")
        return len(seen)

    before = queries()
    other = another_order(shop, owner, invoice.order)
    for at in range(5):
        row = Invoice.objects.create(
            shop=shop, order=other, number=f"X-{at}", issued_on=shop.today(), due_on=shop.today(), facts={}, total=D("9"),
            by=owner.user, job=None,
        )  # fmt: skip
        Payment.objects.create(
            shop=shop, invoice=row, amount=D("1"), received_on=shop.today(), means="cash", by=owner.user
        )
    assert queries() == before
    assert get(client, "receivables/")["total"] == "122.70"


def test_a_source_is_registered_once() -> None:
    register_source("claims", __import__("warranty.services.receivables", fromlist=["x"]).claims_owed)
    with pytest.raises(ValueError, match="registered twice"):
        register_source("claims", lambda shop, payer, say: [])
    assert receivables_on([], dt.date(2026, 1, 1)) == []
