"""Invoices and credit notes as the shop issues them, with payers, deposits, exemptions and either tax basis, against the
arithmetic of the European invoice standard (BR-CO-10 to BR-CO-17), by its own published checks.

Rules and artefacts as in test_invoice_standard.py. Prepaid amount (BT-113): the deposits. A credit note is the document
type 381 with amounts above zero, as the standard has it.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from saxonche import PySaxonApiError

from orders.models import CreditNote, Customer, RepairOrder
from orders.models import Invoice as Record
from orders.services.charges import set_terms
from orders.services.credits import issue_credit_note
from orders.services.fees import add_fee
from orders.services.invoice_lines import lines_of
from orders.services.payments import record_deposit, refund_deposit
from shopdocs.shops.models import LabourRate, Shop, Staff, TaxRate
from tests.orders.back_kit import invoiced, season_service, sharpening
from tests.orders.conftest import checked_in
from tests.published.cii import SHEET, Invoice, Item, checked, failures, to_cii

pytestmark = pytest.mark.django_db
D = Decimal
RULES = tuple(f"BR-CO-{number}" for number in range(10, 18))
CASES = ("plain", "item basis", "exempt", "deposit", "deposit above it", "several payers", "discounts and supplies")


@pytest.fixture
def order(shop: Shop, owner: Staff) -> RepairOrder:
    return checked_in(shop, owner)


def issued(case: str, shop: Shop, owner: Staff, order: RepairOrder) -> Record:
    """An invoice of the case. A line has one rate, as the standard wants: labour 25 %, parts 12 %, fees untaxed."""
    start = dt.date(2020, 1, 1)
    LabourRate.objects.create(shop=shop, payer="", per_hour=D("95.50"), starts_on=start)
    for name, percent, kinds in (("Work tax", "25", ["labour", "supplies"]), ("Goods tax", "12", ["part"])):
        TaxRate.objects.create(
            shop=shop, name=name, percent=D(percent), on_kinds=kinds, on_payers=["customer"], starts_on=start
        )
    terms: dict[str, Any] = {"tax_stacking": "separate"}
    if case == "item basis":
        Shop.objects.update(tax_basis="item")
    if case == "exempt":
        Customer.objects.update(tax_exempt=True, tax_certificate="EX-7", tax_exempt_until=shop.today())
    if case == "discounts and supplies":
        terms |= {"supplies_percent": D("3.5"), "class_discounts": {"household": D("7.5")}}
    shop.refresh_from_db()
    set_terms(shop=shop, by=owner, starts_on=start, **terms)
    parts = [
        {"words": "Fuel line", "quantity": D("2.5"), "unit_price": D("0.787")},
        {"words": "Plug", "unit_price": D("6.25")},
    ]
    job = season_service(shop, owner, order, parts=parts)
    add_fee(shop=shop, by=owner, job_id=job.pk, kind="disposal", words="Disposal", amount=D("4.15"))
    add_fee(shop=shop, by=owner, job_id=job.pk, kind="fee", words="Sorry for the wait", amount=D("-2.40"))
    sharpening(shop, owner, order, **({"payer": "goodwill"} if case == "several payers" else {}))
    if case.startswith("deposit"):
        record_deposit(
            shop=shop, by=owner, order_id=order.pk, amount=D("40" if case == "deposit" else "400"), means="cash"
        )
        refund_deposit(shop=shop, by=owner, order_id=order.pk, amount=D("10"), means="cash", why="too much")
    return invoiced(shop, owner, order)


def _rate(taxes: list[dict[str, Any]]) -> Decimal:
    assert len(taxes) <= 1, "a line of the standard has one rate"
    return D(taxes[0]["percent"]) if taxes else D(0)


def _document(facts: dict[str, Any], items: list[tuple[str, Item]], **more: Any) -> Invoice:
    """Totals and taxes as they stand in the facts; nothing is added up here but what the standard parts off."""
    extras = tuple(item for kind, item in items if kind == "extra")
    lines = tuple(item for kind, item in items if kind == "line")
    untaxed = [item.net for item in (*lines, *extras) if not item.rate]
    taxes = [(D(tax["base"]), D(tax["percent"]), D(tax["amount"])) for tax in facts["taxes"]]
    charges = sum((item.net for item in extras if item.net > 0), D(0))
    allowances = -sum((item.net for item in extras if item.net < 0), D(0))
    return Invoice(
        currency=facts["money"]["code"],
        lines=lines,
        taxes=(*taxes, *([(sum(untaxed), D(0), D(0))] if untaxed else [])),
        line_total=D(facts["net"]) - charges + allowances,
        net=D(facts["net"]),
        tax=D(facts["tax"]),
        total=D(facts["total"]),
        extras=extras,
        charges=charges,
        allowances=allowances,
        **more,
    )


def of_invoice(record: Record) -> Invoice:
    facts = record.facts
    items = [
        ("extra" if "price" in line.frozen else "line", Item(line.words, line.amount, _rate(line.frozen["taxes"])))
        for line in lines_of(facts)
    ]
    prepaid = sum((D(one["amount"]) for one in facts["payments"]), D("0.00"))
    return _document(facts, items, prepaid=prepaid, due=D(facts["due"]))


def of_credit_note(note: CreditNote) -> Invoice:
    printed = {line.key: line.frozen for line in lines_of(note.invoice.facts)}
    items = []
    for one in note.facts["lines"]:
        frozen = printed[one["line"]]
        kind = "extra" if "price" in frozen else "line"
        items.append((kind, Item(one["what"], D(one["amount"]), _rate(frozen["taxes"]))))
    return _document(note.facts, items, due=D(note.facts["total"]), type_code="381")


def test_the_checks_hold_the_rules_that_are_meant() -> None:
    """A stylesheet without them, or one that looks at nothing, would let everything pass."""
    text = SHEET.read_text()
    assert all(f'<xsl:attribute name="id">{rule}</xsl:attribute>' in text for rule in RULES)


@pytest.mark.parametrize("case", CASES)
def test_invoices_as_they_are_issued(case: str, shop: Shop, owner: Staff, order: RepairOrder) -> None:
    record = issued(case, shop, owner, order)
    document = of_invoice(record)
    assert failures(document) == set()
    assert document.total == record.total > 0
    if case == "exempt":
        assert document.tax == 0 and record.facts["exempt_by"] == "EX-7"
    elif case == "deposit above it":
        assert document.due < 0
    elif case == "deposit":
        assert (document.prepaid, document.due) == (D("30.00"), record.total - 30)
    # One cent off is found: the check did look at this very document.
    cent = D("0.01")
    assert failures(replace(document, due=document.due + cent)) == {"BR-CO-16"}
    assert failures(replace(document, prepaid=document.prepaid + cent)) == {"BR-CO-16"}
    assert "BR-CO-15" in failures(replace(document, total=document.total + cent))
    assert "BR-CO-14" in failures(replace(document, tax=document.tax + cent))


@pytest.mark.parametrize("case", CASES)
def test_credit_notes_in_parts_and_whole(case: str, shop: Shop, owner: Staff, order: RepairOrder) -> None:
    record = issued(case, shop, owner, order)
    third = [
        {"line": line.key, "amount": (line.amount / 3).quantize(D("0.01"))}
        for line in lines_of(record.facts)
        if line.amount > 0
    ]
    notes = [
        issue_credit_note(shop=shop, by=owner, invoice_id=record.pk, reason="a third", lines=third),
        issue_credit_note(shop=shop, by=owner, invoice_id=record.pk, reason="the rest"),
    ]
    for note in notes:
        document = of_credit_note(CreditNote.objects.select_related("invoice").get(pk=note.pk))
        assert "<ram:TypeCode>381</ram:TypeCode>" in to_cii(document)
        assert failures(document) == set()
        assert failures(replace(document, net=document.net + D("0.01"))) >= {"BR-CO-13", "BR-CO-15"}
        assert failures(replace(document, line_total=document.line_total + D("0.01"))) >= {"BR-CO-10"}
    assert sum(note.total for note in notes) == record.total


def test_a_document_that_is_none_is_no_pass() -> None:
    looked, _ = checked("<nothing/>")
    assert looked < 20, "`failures` refuses a report in which so few rules looked"
    with pytest.raises(PySaxonApiError):
        checked("this is no XML")
