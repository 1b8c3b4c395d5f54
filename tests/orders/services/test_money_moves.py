"""Deposits, part payments, refunds, write-offs: what each does to the balance, and what each refuses."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from orders.models import Customer, Invoice, Job, Payment, RepairOrder, WriteOff
from orders.rules.receivables import account, reconcile
from orders.services.balances import standing
from orders.services.payments import balance, record_deposit, record_payment, record_refund, refund_deposit
from orders.services.receivables import invoices_owed
from orders.services.write_offs import write_off
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.rest.refusals import Conflict, Missing, Refused
from shopdocs.shops.models import Event, Shop, Staff
from tests.orders.back_kit import CARD, agreed, invoiced, season_service, set_rates
from tests.papers_reading import words_of

pytestmark = pytest.mark.django_db
D = Decimal
BAD = (
    D("0"),
    D("-5"),
    D("NaN"),
    D("Infinity"),
    D("1.001"),
    D("1.123456789"),
    D("1e400"),
    10**400,
    "ten",
    "NaN",
    1.5,
    True,
)


@pytest.fixture
def ready(shop: Shop, owner: Staff, order: RepairOrder) -> RepairOrder:
    """An order with one job of 82.70, the customer's."""
    set_rates(shop)
    Customer.objects.update(email="imke@example.com")
    season_service(shop, owner, order)
    return order


@pytest.fixture
def invoice(shop: Shop, owner: Staff, ready: RepairOrder) -> Invoice:
    return invoiced(shop, owner, ready)


Act = Callable[..., Any]


@pytest.fixture
def pay(shop: Shop, owner: Staff) -> Act:
    return lambda invoice, amount, **given: record_payment(
        shop=shop, by=owner, invoice_id=invoice.pk, amount=amount, **{"means": "cash", **given}
    )


@pytest.fixture
def refund(shop: Shop, owner: Staff) -> Act:
    return lambda invoice, amount, **given: record_refund(
        shop=shop, by=owner, invoice_id=invoice.pk, amount=amount, **{"means": "cash", "why": "paid twice", **given}
    )


@pytest.fixture
def deposit(shop: Shop, owner: Staff) -> Act:
    return lambda order, amount, **given: record_deposit(
        shop=shop, by=owner, order_id=order.pk, amount=amount, **{"means": "cash", **given}
    )


def fresh(invoice: Invoice) -> Invoice:
    return Invoice.objects.get(pk=invoice.pk)


def events(subject: str) -> list[tuple[str, str]]:
    return [(one.verb, one.words) for one in Event.objects.filter(subject=subject)]


def test_a_deposit_is_counted_on_the_invoice(shop: Shop, owner: Staff, ready: RepairOrder, deposit: Act) -> None:
    deposit(ready, D("30.00"), means="card", reference="terminal 0007")
    refund_deposit(shop=shop, by=owner, order_id=ready.pk, amount=D("10.00"), means="cash", why="asked for it")
    invoice = invoiced(shop, owner, ready)
    assert (invoice.facts["total"], invoice.facts["due"]) == ("82.70", "62.70")
    assert [(one["how"], one["amount"]) for one in invoice.facts["payments"]] == [("card", "30.00"), ("cash", "-10.00")]
    assert balance(invoice) == D("62.70")
    assert set(Payment.objects.values_list("invoice", flat=True)) == {invoice.pk}
    assert ("deposit taken", "$30.00, card") in events(ready.subject)
    assert ("deposit paid back", "$10.00, cash, asked for it") in events(ready.subject)
    assert ("deposit applied", "$20.00") in events(invoice.subject)
    assert invoice.document is not None
    text = words_of(draw_sheet(shop, "invoice", invoice.document.sheet).pdf)
    assert "card -$30.00" in text and "cash $10.00" in text and "Paid back" in text
    assert "$62.70" in text


def test_a_deposit_above_the_invoice_is_the_customers(
    shop: Shop, owner: Staff, ready: RepairOrder, deposit: Act
) -> None:
    agreed(shop, owner, ready)
    deposit(ready, D("82.70"))
    part = Job.objects.get().parts.get()
    from orders.services.lines import remove_part

    remove_part(shop=shop, by=owner, part_id=part.pk)
    invoice = invoiced(shop, owner, ready)
    assert (invoice.total, balance(invoice)) == (D("76.00"), D("-6.70"))
    assert invoice.document is not None
    text = words_of(draw_sheet(shop, "invoice", invoice.document.sheet).pdf)
    assert "You get back $6.70" in text and "Please name" not in text
    record_refund(shop=shop, by=owner, invoice_id=invoice.pk, amount=D("6.70"), means="cash", why="deposit too large")
    assert balance(fresh(invoice)) == 0


def test_what_a_deposit_refuses(shop: Shop, owner: Staff, other_shop: Shop, ready: RepairOrder, deposit: Act) -> None:
    for amount in BAD:
        with pytest.raises(Refused) as refusal:
            deposit(ready, amount)
        assert refusal.value.problems[0].field == "amount", amount
    with pytest.raises(Refused, match="future"):
        deposit(ready, D("1"), received_on=shop.today() + dt.timedelta(days=1))
    with pytest.raises(Refused, match="before the machine came in"):
        deposit(ready, D("1"), received_on=ready.received_on - dt.timedelta(days=1))
    with pytest.raises(Refused, match="card number"):
        deposit(ready, D("1"), reference=f"card {CARD}")
    with pytest.raises(Missing):
        record_deposit(
            shop=other_shop, by=Staff.objects.get(shop=other_shop), order_id=ready.pk, amount=D("1"), means="cash"
        )
    agreed(shop, owner, ready)
    deposit(ready, D("80"))
    with pytest.raises(Conflict, match=r"\$83\.00 is held; E-1001 comes to \$82\.70"):
        deposit(ready, D("3"))
    assert Payment.objects.count() == 1
    invoice = invoiced(shop, owner, ready)
    with pytest.raises(Conflict, match=f"billed with {invoice.number}"):
        deposit(ready, D("1"))
    with pytest.raises(Conflict, match=f"billed with {invoice.number}"):
        refund_deposit(shop=shop, by=owner, order_id=ready.pk, amount=D("1"), means="cash", why="x")


def test_a_deposit_is_given_back_once(shop: Shop, owner: Staff, ready: RepairOrder, deposit: Act) -> None:
    def back(amount: Any, **given: Any) -> Payment:
        return refund_deposit(
            shop=shop, by=owner, order_id=ready.pk, amount=amount, **{"means": "cash", "why": "no repair", **given}
        )

    with pytest.raises(Conflict, match=r"\$0\.01 is more than was paid and is still here: \$0\.00"):
        back(D("0.01"))
    deposit(ready, D("20"))
    with pytest.raises(Conflict, match=r"still here: \$20\.00"):
        back(D("20.01"))
    back(D("20"))
    with pytest.raises(Conflict, match="recorded at"):
        back(D("20"))
    with pytest.raises(Conflict, match="more than was paid"):
        back(D("20"), again=True)


def test_part_payments_refunds_and_the_balance(invoice: Invoice, pay: Act, refund: Act) -> None:
    pay(invoice, D("50.00"))
    pay(invoice, D("20.00"), means="check", reference="No. 118")
    refund(invoice, D("20.00"), why="the check came back")
    money = standing(fresh(invoice))
    assert (money.came, money.given_back, money.paid, money.open) == (D("70"), D("20"), D("50"), D("32.70"))
    assert sum(step.amount or 0 for step in money.steps) == money.open
    with pytest.raises(Conflict, match=r"still here: \$50\.00"):
        refund(invoice, D("50.01"))
    pay(invoice, D("32.70"), means="transfer")
    assert balance(fresh(invoice)) == 0
    assert [verb for verb, _ in events(invoice.subject)] == ["paid", "paid", "paid back", "paid"]
    assert ("paid back", "$20.00, cash, the check came back") in events(invoice.subject)


@pytest.mark.parametrize("amount", BAD)
def test_amounts_that_are_none(invoice: Invoice, pay: Act, refund: Act, amount: Any, owner: Staff) -> None:
    pay(invoice, D("5"))
    for act in (pay, refund):
        with pytest.raises(Refused) as refusal:
            act(invoice, amount)
        assert refusal.value.problems[0].field == "amount"
    with pytest.raises(Refused) as refusal:
        write_off(shop=invoice.shop, by=owner, invoice_id=invoice.pk, reason="gone", amount=amount)
    assert refusal.value.problems[0].field == "amount"
    assert (Payment.objects.count(), WriteOff.objects.count()) == (1, 0)


def test_days_of_money(shop: Shop, invoice: Invoice, pay: Act, refund: Act) -> None:
    tomorrow, yesterday = shop.today() + dt.timedelta(days=1), shop.today() - dt.timedelta(days=1)
    with pytest.raises(Refused, match="future") as refusal:
        pay(invoice, D("1"), received_on=tomorrow)
    assert refusal.value.problems[0].field == "received_on"
    with pytest.raises(Refused, match=f"before {invoice.number} was issued"):
        pay(invoice, D("1"), received_on=yesterday)
    pay(invoice, D("10"))
    with pytest.raises(Refused, match="future") as refusal:
        refund(invoice, D("1"), paid_back_on=tomorrow)
    assert refusal.value.problems[0].field == "paid_back_on"
    with pytest.raises(Conflict, match="more than was paid"):
        refund(invoice, D("1"), paid_back_on=yesterday)
    with pytest.raises(Refused, match="said why"):
        refund(invoice, D("1"), why=" ")


def test_more_than_is_open_is_said_in_the_currencys_decimals(shop: Shop, invoice: Invoice, pay: Act) -> None:
    with pytest.raises(Conflict, match=r"has \$82\.70 open, less than \$82\.71") as refusal:
        pay(invoice, D("82.71"))
    assert refusal.value.problems[0].remedy == "Record $82.70 at most."
    Shop.objects.update(currency="JPY", currency_symbol="\u00a5", currency_decimals=0)
    Invoice.objects.update(total=D("83"))
    shop.refresh_from_db()
    with pytest.raises(Conflict, match="has \u00a583 open, less than \u00a584"):
        record_payment(shop=shop, by=Staff.objects.get(), invoice_id=invoice.pk, amount=D("84"), means="cash")


def test_the_same_money_is_recorded_once_unless_it_came_again(invoice: Invoice, pay: Act) -> None:
    first = pay(invoice, D("10"), reference="0042")
    with pytest.raises(Conflict, match="The same payment") as refusal:
        pay(invoice, D("10.00"), reference="0042")
    assert (refusal.value.problems[0].field, refusal.value.extra) == ("again", {"recorded": str(first.pk)})
    pay(invoice, D("10"), reference="0043")
    pay(invoice, D("10"), reference="0042", again=True)
    assert balance(fresh(invoice)) == D("52.70")


def test_a_write_off_says_who_and_why(shop: Shop, owner: Staff, invoice: Invoice, pay: Act) -> None:
    def off(**given: Any) -> WriteOff:
        return write_off(shop=shop, by=owner, invoice_id=invoice.pk, **{"reason": "moved away", **given})

    with pytest.raises(Refused, match="reason is missing"):
        off(reason="  ")
    with pytest.raises(Refused, match="card number"):
        off(reason=f"card {CARD} declined")
    with pytest.raises(Conflict, match=r"\$82\.70 open, less than \$82\.71"):
        off(amount=D("82.71"))
    pay(invoice, D("80"))
    off(amount=D("0.70"), reason="rounding")
    with pytest.raises(Conflict, match="written off today already"):
        off(amount=D("0.70"))
    row = off()
    assert (row.amount, row.by, row.written_on) == (D("2.00"), owner.user, shop.today())
    assert events(invoice.subject)[-1] == ("written off", "$2.00: moved away")
    assert Event.objects.filter(verb="written off").last().by == owner.user  # type: ignore[union-attr]
    with pytest.raises(Conflict, match="Nothing is open"):
        off()
    with pytest.raises(Conflict, match=r"\$2\.70 open, less than \$2\.71"):
        pay(invoice, D("2.71"))
    money = standing(fresh(invoice))
    assert (money.written_off, money.open) == (D("2.70"), 0)
    assert fresh(invoice).facts == invoice.facts


def test_money_that_comes_after_all_takes_back_as_much_of_the_write_off(
    shop: Shop, owner: Staff, invoice: Invoice, pay: Act
) -> None:
    write_off(shop=shop, by=owner, invoice_id=invoice.pk, reason="gone", amount=D("72.70"))
    pay(invoice, D("4.00"))  # within the 10.00 that are open
    assert WriteOff.objects.count() == 1
    pay(invoice, D("20.00"))
    first, back = WriteOff.objects.order_by("created_at")
    assert (first.amount, back.amount, back.by) == (D("72.70"), D("-14.00"), owner.user)
    money = standing(fresh(invoice))
    assert (money.paid, money.written_off, money.open) == (D("24.00"), D("58.70"), 0)
    assert events(invoice.subject)[-1] == (
        "write-off taken back", f"$14.00: Money came after all: $20.00 on {shop.today()}",
    )  # fmt: skip
    with pytest.raises(Conflict, match=r"\$58\.70 open, less than \$58\.71"):
        pay(invoice, D("58.71"))
    assert (Payment.objects.count(), WriteOff.objects.count()) == (2, 2)
    pay(invoice, D("58.70"))
    assert (standing(fresh(invoice)).written_off, standing(fresh(invoice)).open) == (0, 0)
    with pytest.raises(Conflict, match=r"\$0\.00 open"):
        pay(invoice, D("0.01"))
    (owed,) = invoices_owed(shop, "", str)
    today = shop.today()
    books = reconcile([owed.item], owed.payer.key, today)
    assert (books.asked, books.paid, books.written_off, books.open) == (D("82.70"), D("82.70"), 0, 0)
    told = account([owed.item], today, today)
    assert (told.asked - told.received, told.open, len(told.lines)) == (0, 0, 7)


def test_money_from_between_two_write_offs_leaves_no_day_with_less_than_nothing_open(
    shop: Shop, owner: Staff, invoice: Invoice, pay: Act
) -> None:
    today = shop.today()

    def before(days: int) -> dt.date:
        return today - dt.timedelta(days=days)

    Invoice.objects.filter(pk=invoice.pk).update(issued_on=before(9))
    for amount, days in ((D("40.00"), 8), (D("20.00"), 2)):
        row = write_off(shop=shop, by=owner, invoice_id=invoice.pk, reason="gone", amount=amount)
        WriteOff.objects.filter(pk=row.pk).update(written_on=before(days))
    pay(invoice, D("62.70"), received_on=before(5))

    def opened() -> list[Decimal]:
        (owed,) = invoices_owed(shop, "", str)
        return [owed.item.open_on(before(days)) for days in (9, 8, 5, 2, 0)]

    assert opened() == [D("82.70"), D("42.70"), D("20.00"), D(0), D(0)]
    pay(invoice, D("20.00"), received_on=before(5))  # the rest of what was written off
    assert opened() == [D("82.70"), D("42.70"), D(0), D(0), D(0)]
    back = WriteOff.objects.filter(amount__lt=0).order_by("written_on").values_list("written_on", "amount")
    assert list(back) == [(before(5), D("-40.00")), (before(2), D("-20.00"))]
