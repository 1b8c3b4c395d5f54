"""Credit notes: whole or by line, with the tax, numbered in a row of their own, frozen, and never over the invoice."""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from orders.models import CreditNote, Customer, Invoice, Job, RepairOrder
from orders.services.balances import standing
from orders.services.charges import set_terms
from orders.services.credits import credit_sheet, issue_credit_note, send_credit_note
from orders.services.fees import add_fee
from orders.services.invoice_lines import charged_lines, lines_of
from orders.services.jobs import add_job
from orders.services.payments import record_payment, record_refund
from orders.services.write_offs import write_off
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.rest.refusals import Conflict, Missing, Refused
from shopdocs.shops.models import Event, LabourRate, NumberSeries, Shop, Staff, TaxRate
from tests.orders.back_kit import CARD, agreed, invoiced, season_service, set_rates, sharpening
from tests.papers_reading import faults, words_of

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def invoice(shop: Shop, owner: Staff, order: RepairOrder) -> Invoice:
    """0.8 h (76.00), a plug (6.25 and 0.45 tax) and sharpening (38.00): 120.70."""
    set_rates(shop)
    Customer.objects.update(email="imke@example.com")
    season_service(shop, owner, order)
    sharpening(shop, owner, order)
    return invoiced(shop, owner, order)


Act = Callable[..., CreditNote]


@pytest.fixture
def credit(shop: Shop, owner: Staff, invoice: Invoice) -> Act:
    return lambda **given: issue_credit_note(
        shop=shop, by=owner, invoice_id=invoice.pk, **{"reason": "charged by mistake", **given}
    )


def key_of(invoice: Invoice, words: str) -> str:
    return next(line.key for line in lines_of(invoice.facts) if line.words == words)


def fresh(invoice: Invoice) -> Invoice:
    return Invoice.objects.get(pk=invoice.pk)


def test_the_tax_on_the_lines_is_the_tax_of_the_invoice(invoice: Invoice) -> None:
    charged = charged_lines(invoice)
    assert sum(line.amount for line in charged) == D(invoice.facts["net"])
    assert sum(tax for line in charged for _, tax in line.taxes) == D(invoice.facts["tax"])
    assert [line.taxes for line in charged if line.taxes] == [((("County tax", "7.25"), D("0.45")),)]


def test_a_line_is_taken_back_with_its_tax(shop: Shop, invoice: Invoice, credit: Act, owner: Staff) -> None:
    note = credit(lines=[{"line": key_of(invoice, "Spark plug")}], reason="The plug was not fitted")
    facts = note.facts
    assert (note.number, facts["net"], facts["tax"], facts["total"]) == ("CN-1001", "6.25", "0.45", "6.70")
    (tax,) = facts["taxes"]
    assert (tax["name"], tax["percent"], tax["base"], tax["amount"]) == ("County tax", "7.25", "6.25", "0.45")
    assert [(one["what"], one["quantity"], one["amount"]) for one in facts["lines"]] == [("Spark plug", "1", "6.25")]
    assert (facts["invoice_total"], facts["left"], facts["set_off"], facts["to_pay_back"]) == (
        "120.70", "114.00", "6.70", "0.00",
    )  # fmt: skip
    money = standing(fresh(invoice))
    assert (money.credited, money.open) == (D("6.70"), D("114.00"))
    event = Event.objects.get(verb="credited")
    assert (event.subject, event.words, event.by) == (
        invoice.subject, "CN-1001: $6.70, The plug was not fitted", owner.user,
    )  # fmt: skip


def test_all_of_it_in_parts_is_the_invoice_exactly(invoice: Invoice, credit: Act) -> None:
    plug = key_of(invoice, "Spark plug")
    notes = [credit(lines=[{"line": plug, "amount": D(part)}]) for part in ("1.11", "2.22", "0.01")]
    notes.append(credit())
    assert [note.number for note in notes] == ["CN-1001", "CN-1002", "CN-1003", "CN-1004"]
    assert sum(note.total for note in notes) == invoice.total
    assert sum(D(note.facts["tax"]) for note in notes) == D(invoice.facts["tax"])
    assert [note.facts["lines"][0]["quantity"] for note in notes[:3]] == [None] * 3
    assert standing(fresh(invoice)).open == 0
    with pytest.raises(Conflict, match="taken back already"):
        credit()
    with pytest.raises(Refused, match="taken back already"):
        credit(lines=[{"line": plug}])


def test_what_was_paid_is_given_back(shop: Shop, owner: Staff, invoice: Invoice, credit: Act) -> None:
    record_payment(shop=shop, by=owner, invoice_id=invoice.pk, amount=D("100.70"), means="cash")
    note = credit(lines=[{"line": key_of(invoice, "Sharpen chain")}])
    assert (note.facts["set_off"], note.facts["to_pay_back"]) == ("20.00", "18.00")
    assert note.facts["settled"] == (
        "$20.00 is set against what is open on I-1001. $18.00 was paid already: we give it back to you."
    )
    assert standing(fresh(invoice)).open == D("-18.00")
    record_refund(shop=shop, by=owner, invoice_id=invoice.pk, amount=D("18.00"), means="cash", why=note.number)
    assert standing(fresh(invoice)).open == 0


def test_never_over_the_invoice(shop: Shop, owner: Staff, invoice: Invoice, credit: Act) -> None:
    write_off(shop=shop, by=owner, invoice_id=invoice.pk, reason="dispute", amount=D("100"))
    with pytest.raises(Conflict, match=r"\$38\.00 is more than is left of I-1001: \$20\.70"):
        credit(lines=[{"line": key_of(invoice, "Sharpen chain")}])
    with pytest.raises(Conflict, match=r"\$120\.70 is more than"):
        credit()
    assert credit(lines=[{"line": key_of(invoice, "Sharpen chain"), "amount": D("20.70")}]).total == D("20.70")
    assert standing(fresh(invoice)).open == 0


BAD_LINES: list[tuple[Any, str]] = [
    ([], "No line is named"),
    ([{"line": "nobody"}], "no such line"),
    ([{"line": "plug"}, {"line": "plug"}], "twice"),
    ([{"line": "plug", "amount": D("6.26")}], r"more than is left of the line \(6.25\)"),
    ([{"line": "plug", "amount": D("0.001")}], "more decimals"),
    ([{"line": "plug", "amount": D("-1")}], "takes nothing"),
    ([{"line": "plug", "amount": D("0")}], "takes nothing"),
    ([{"line": "plug", "amount": D("NaN")}], "not an amount"),
    ([{"line": "plug", "amount": D("1e400")}], "too large"),
]


@pytest.mark.parametrize("lines, said", BAD_LINES, ids=[said for _, said in BAD_LINES])
def test_lines_that_are_refused_take_no_number(invoice: Invoice, credit: Act, lines: Any, said: str) -> None:
    plug = key_of(invoice, "Spark plug")
    named = [{**one, "line": plug if one["line"] == "plug" else one["line"]} for one in lines]
    with pytest.raises(Refused, match=said) as refusal:
        credit(lines=named)
    assert refusal.value.problems[0].field.startswith("lines")
    assert not CreditNote.objects.exists()
    assert not NumberSeries.objects.filter(name="credit_note").exists()


def test_reason_card_number_doubling_and_strangers(shop: Shop, other_shop: Shop, invoice: Invoice, credit: Act) -> None:
    with pytest.raises(Refused, match="reason is missing"):
        credit(reason=" ")
    with pytest.raises(Refused, match="card number"):
        credit(reason=f"back to {CARD}")
    given = {"lines": [{"line": key_of(invoice, "Sharpen chain"), "amount": D("5")}]}
    first = credit(**given)
    with pytest.raises(Conflict, match="CN-1001 takes back the very same") as conflict:
        credit(**given)
    assert conflict.value.extra == {"recorded": str(first.pk)}
    assert credit(**given, again=True).number == "CN-1002"
    stranger = Staff.objects.get(shop=other_shop)
    with pytest.raises(Missing):
        issue_credit_note(shop=other_shop, by=stranger, invoice_id=invoice.pk, reason="x")
    with pytest.raises(Missing):
        send_credit_note(shop=other_shop, by=stranger, note_id=first.pk)


def test_paper_and_letter_of_a_credit_note(shop: Shop, owner: Staff, invoice: Invoice, credit: Act) -> None:
    note = credit(lines=[{"line": key_of(invoice, "Season service")}, {"line": key_of(invoice, "Spark plug")}])
    assert note.document is not None
    sheet = copy.deepcopy(note.document.sheet)
    pdf = draw_sheet(shop, "credit_note", sheet).pdf
    text = words_of(pdf)
    assert faults(pdf) == []
    for said in ("Credit note", "CN-1001", "Season service, hours 0.8 76.00", "Spark plug 1 6.25", "$82.70", "$38.00"):
        assert said in text, said
    letter = send_credit_note(shop=shop, by=owner, note_id=note.pk).letter
    assert letter is not None and list(letter.documents.all()) == [note.document]
    assert letter.to_address == "imke@example.com" and "CN-1001" in letter.heading
    for said in ("$82.70", "I-1001", "is set against"):
        assert said in letter.body
    Shop.objects.update(name="Renamed")
    Customer.objects.update(name="Renamed", email="")
    Job.objects.update(title="Renamed")
    again = CreditNote.objects.get(pk=note.pk)
    assert to_json(credit_sheet(again.facts)) == sheet
    assert draw_sheet(shop, "credit_note", sheet).pdf == pdf
    with pytest.raises(Refused, match="no e-mail address"):
        send_credit_note(shop=shop, by=owner, note_id=note.pk)


def test_discounts_fees_supplies_cores_and_two_taxes_go_back_to_the_cent(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    set_rates(shop)
    kinds = ["part", "labour", "supplies", "core", "freight"]
    TaxRate.objects.create(
        shop=shop, name="State tax", percent=D("5.75"), on_kinds=kinds, on_payers=["customer"],
        starts_on=shop.today().replace(month=1, day=1),
    )  # fmt: skip
    set_terms(
        shop=shop, by=owner, starts_on=shop.today(), supplies_percent=D("3.5"), class_discounts={"household": D("2.5")}
    )
    job = season_service(shop, owner, order, parts=[{"words": "Coil", "unit_price": D("61.37"), "core_charge": D("9")}])
    add_fee(shop=shop, by=owner, job_id=job.pk, kind="freight", words="Freight", amount=D("7.31"))
    add_fee(shop=shop, by=owner, job_id=job.pk, kind="core", words="Core returned", amount=D("-9"))
    agreed(shop, owner, order)
    invoice = invoiced(shop, owner, order)
    lines = charged_lines(invoice)
    assert len(invoice.facts["taxes"]) == 2 and len(lines) == 6 and any(line.amount < 0 for line in lines)
    for at, tax in enumerate(invoice.facts["taxes"]):
        name = (tax["name"], tax["percent"])
        shares = [(line.amount, share) for line in lines for known, share in line.taxes if known == name]
        assert sum(amount for amount, _ in shares) == D(tax["base"]), at
        assert sum(share for _, share in shares) == D(tax["amount"]), at
    positive = [
        {"line": line.key, "amount": (line.amount / 3).quantize(D("0.01"))} for line in lines if line.amount > 0
    ]
    first = issue_credit_note(shop=shop, by=owner, invoice_id=invoice.pk, reason="a third", lines=positive)
    rest = issue_credit_note(shop=shop, by=owner, invoice_id=fresh(invoice).pk, reason="the rest")
    assert first.total + rest.total == invoice.total
    for one in invoice.facts["taxes"]:
        back = [
            (D(tax["base"]), D(tax["amount"]))
            for note in (first, rest)
            for tax in note.facts["taxes"]
            if tax["name"] == one["name"]
        ]
        assert (sum(base for base, _ in back), sum(tax for _, tax in back)) == (D(one["base"]), D(one["amount"]))


def test_a_job_of_another_payer_is_not_taken_back(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    season_service(shop, owner, order)
    mine = sharpening(shop, owner, order, payer="goodwill")
    invoice = invoiced(shop, owner, order)
    frozen = next(one for one in invoice.facts["jobs"] if one["id"] == str(mine.pk))
    with pytest.raises(Refused, match="no such line for the customer"):
        issue_credit_note(
            shop=shop, by=owner, invoice_id=invoice.pk, reason="x", lines=[{"line": frozen["labour"][0]["id"]}]
        )
    assert issue_credit_note(shop=shop, by=owner, invoice_id=invoice.pk, reason="x").total == D("82.70")


def test_where_each_line_is_rounded_its_tax_is_its_own(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    Shop.objects.update(tax_basis="item")
    shop.refresh_from_db()
    set_rates(shop)
    small = [{"words": f"Washer {at}", "unit_price": D("0.06")} for at in range(10)]
    season_service(shop, owner, order, parts=[*small, {"words": "Carburetor", "unit_price": D("100.00")}])
    invoice = invoiced(shop, owner, RepairOrder.objects.get(pk=order.pk))
    taxes = {line.words: line.frozen["taxes"] for line in lines_of(invoice.facts)}
    assert [taxes[f"Washer {at}"][0]["amount"] for at in range(10)] == ["0.00"] * 10  # 0.435 of a cent each
    assert (taxes["Carburetor"][0]["amount"], invoice.facts["tax"]) == ("7.25", "7.25")
    note = issue_credit_note(
        shop=shop, by=owner, invoice_id=invoice.pk, reason="x", lines=[{"line": key_of(invoice, "Washer 3")}]
    )
    assert (note.facts["tax"], note.total) == ("0.00", D("0.06"))


def test_two_rates_on_each_line_add_up_to_the_taxes_charged(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    Shop.objects.update(tax_basis="item")
    shop.refresh_from_db()
    set_rates(shop)
    TaxRate.objects.create(
        shop=shop, name="City tax", percent=D("1.5"), on_kinds=["part", "labour"], on_payers=["customer"],
        starts_on=dt.date(2020, 1, 1),
    )  # fmt: skip
    season_service(shop, owner, order, parts=[{"words": f"P{at}", "unit_price": D("0.07")} for at in range(9)])
    invoice = invoiced(shop, owner, RepairOrder.objects.get(pk=order.pk))
    for tax in invoice.facts["taxes"]:
        own = [one for line in lines_of(invoice.facts) for one in line.frozen["taxes"] if one["name"] == tax["name"]]
        assert (sum(D(one["amount"]) for one in own), len(own)) == (
            D(tax["amount"]),
            10 if "City" in tax["name"] else 9,
        )
    assert D(invoice.facts["tax"]) == D("1.14") + 9 * D("0.01")  # 0.07 at 8.75 %: 0.6 of a cent


def test_a_tax_that_falls_on_labour_beside_parts_is_credited_where_it_fell(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    set_rates(shop)
    TaxRate.objects.create(
        shop=shop, name="Work tax", percent=D("10"), on_kinds=["part", "labour"], on_payers=["customer"],
        with_parts=["labour"], starts_on=dt.date(2020, 1, 1),
    )  # fmt: skip
    season_service(shop, owner, order)  # labour 76.00 beside a part
    sharpening(shop, owner, order)  # labour 38.00 without
    invoice = invoiced(shop, owner, order)
    taxes = {
        line.words: {one["name"]: one["amount"] for one in line.frozen["taxes"]} for line in lines_of(invoice.facts)
    }
    assert taxes["Season service"] == {"Work tax": "7.60"} and taxes["Sharpen chain"] == {}
    note = issue_credit_note(
        shop=shop, by=owner, invoice_id=invoice.pk, reason="x", lines=[{"line": key_of(invoice, "Sharpen chain")}]
    )
    assert (note.facts["tax"], note.total) == ("0.00", D("38.00"))


@pytest.mark.parametrize("basis", ["item", "invoice"])
@pytest.mark.parametrize(("amount", "tax"), [("10.00", "6.00"), ("-10.00", "0.00")])
def test_a_part_that_was_typed_as_a_charge_makes_the_labour_beside_it_taxable_and_a_credit_does_not(
    shop: Shop, owner: Staff, order: RepairOrder, basis: str, amount: str, tax: str
) -> None:
    """Whatever tax the invoice charges stands on its lines, so that a credit note of all gives all of it back."""
    Shop.objects.update(tax_basis=basis)
    LabourRate.objects.create(shop=shop, payer="", per_hour=D("100"), starts_on=shop.today())
    TaxRate.objects.create(
        shop=shop, name="State", percent=D(6), on_kinds=["labour"], with_parts=["labour"], on_payers=["customer"],
        starts_on=shop.today(),
    )  # fmt: skip
    job = add_job(
        shop=shop, by=owner, order_id=order.pk, title="Plug", labour=[{"words": "Fit it", "hours": D(1)}], parts=[]
    )
    add_fee(shop=shop, by=owner, job_id=job.pk, kind="part", words="Plug", amount=D(amount))
    invoice = invoiced(shop, owner, RepairOrder.objects.get(pk=order.pk))
    assert invoice.facts["tax"] == tax
    assert sum(charged for line in charged_lines(invoice) for _, charged in line.taxes) == D(tax)
    note = issue_credit_note(shop=shop, by=owner, invoice_id=invoice.pk, reason="all of it")
    assert (note.total, standing(Invoice.objects.get(pk=invoice.pk)).open) == (invoice.total, D(0))
