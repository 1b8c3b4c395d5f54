"""The credit note enclosed as XML, against the published reader and checks of the European standard.

Reader, schemas and rules as in test_electronic_invoice.py. Type 381 of UNTDID 1001; the invoice it takes back from is BT-25 and
BT-26 of EN 16931-1, and amounts are positive, because the type says which way the money goes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from xml.etree import ElementTree

import pytest
from rest_framework.test import APIClient

from orders.models import CreditNote, Invoice
from orders.papers import credit_note as paper
from orders.services.credits import credit_sheet, issue_credit_note
from orders.services.invoice_lines import charged_lines
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.shops.models import Staff, TaxRate
from tests import papers_samples as samples
from tests.orders_at_random import Floor, an_invoice, floors
from tests.published.cii import checked
from tests.published.test_electronic_invoice import RAM, amount, passes, read_back, switched_on

D = Decimal
QDT = "{urn:un:unece:uncefact:data:standard:QualifiedDataType:100}"


def reference(xml: bytes) -> tuple[str | None, str | None]:
    """Number and day of the invoice that it takes back from."""
    (found,) = ElementTree.fromstring(xml).iter(f"{RAM}InvoiceReferencedDocument")
    return found.findtext(f"{RAM}IssuerAssignedID"), found.findtext(f".//{QDT}DateTimeString")


def kind(xml: bytes) -> list[str | None]:
    exchanged = "{urn:un:unece:uncefact:data:standard:CrossIndustryInvoice:100}ExchangedDocument"
    return [one.findtext(f"{RAM}TypeCode") for one in ElementTree.fromstring(xml).iter(exchanged)]


def test_the_published_reader_finds_it_and_the_published_checks_pass() -> None:
    sheet = samples.electronic_credit_note()
    xml = read_back(paper.draw(sheet, {}).pdf)
    assert passes(xml)
    assert (kind(xml), reference(xml)) == (["381"], ("I-3017", "20261109"))
    assert amount(xml, "GrandTotalAmount") == amount(xml, "DuePayableAmount") == sheet.total > 0
    assert "Set against what is open on I-3017." in [
        one.text for one in ElementTree.fromstring(xml).iter(f"{RAM}Description")
    ]


@pytest.mark.parametrize(
    ("figure", "rules"),
    [
        ("net", {"BR-CO-10", "BR-CO-15"}),
        ("tax", {"BR-CO-14", "BR-CO-15"}),
        ("total", {"BR-CO-15", "BR-CO-16"}),
        ("due", {"BR-CO-16"}),
    ],
)
def test_a_wrong_cent_is_found(figure: str, rules: set[str]) -> None:
    sheet = samples.electronic_credit_note()
    assert sheet.electronic is not None
    right = getattr(sheet.electronic, figure)
    wrong = replace(sheet.electronic, **{figure: right + D("0.01")})
    _, failed = checked(read_back(paper.draw(replace(sheet, electronic=wrong), {}).pdf).decode())
    assert failed == rules


def test_without_it_the_paper_has_none() -> None:
    drawn = paper.draw(samples.credit_note(), {}).pdf
    assert b"factur" not in drawn


def in_parts_and_whole(floor: Floor, bill: Invoice) -> list[CreditNote]:
    """A third of each line that was charged, then all that is left of every line."""
    third = [
        {"line": line.key, "amount": part}
        for line in charged_lines(bill)
        if (part := (line.amount / 3).quantize(D(1).scaleb(-floor.shop.currency_decimals))) > 0
    ]
    parts = [{"lines": third}] if third else []
    return [issue_credit_note(**floor.who, invoice_id=bill.pk, reason="taken back", **given) for given in [*parts, {}]]


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(3))
def test_random_credit_notes_pass_and_say_what_the_api_says(
    api: Callable[[Staff | None], APIClient], seed: int
) -> None:
    """Discounts, shares, fees, exempt customers, credits within an invoice; one tax, because the standard has one a line."""
    made, types = 0, set()
    for floor in floors(f"electronic credit {seed}")[:2]:  # two decimals, and none
        switched_on(floor)
        TaxRate.objects.for_shop(floor.shop).filter(name="Town tax").delete()
        client = api(floor.owner)
        for _ in range(3):
            bill = an_invoice(floor)
            if not bill.total:
                continue
            for note in in_parts_and_whole(floor, bill):
                told = client.get(f"/api/v1/credit-notes/{note.pk}/", headers={"X-Shop": floor.shop.slug}).json()
                assert note.document is not None
                if why := told["facts"]["electronic"]["not_made"]:
                    assert "Rounded on each line" in why and floor.shop.tax_basis == "item"
                    continue
                xml = read_back(draw_sheet(floor.shop, "credit_note", note.document.sheet).pdf)
                assert passes(xml)
                assert kind(xml) == ["381"]
                assert reference(xml) == (bill.number, f"{bill.issued_on:%Y%m%d}")
                assert amount(xml, "GrandTotalAmount") == amount(xml, "DuePayableAmount") == D(told["total"]) > 0
                nets = list(ElementTree.fromstring(xml).iter(f"{RAM}LineTotalAmount"))[:-1]
                assert [D(one.text or "") for one in nets] == [D(one["amount"]) for one in told["facts"]["lines"]]
                made += 1
                types |= {code.text for code in ElementTree.fromstring(xml).iter(f"{RAM}CategoryCode")}
    assert made >= 6 and types == {"S", "E"}


@pytest.mark.django_db
def test_what_the_standard_cannot_say_goes_out_on_paper_alone_and_says_why() -> None:
    floor, _, dinars = floors("electronic")
    switched_on(floor)
    note = issue_credit_note(**floor.who, invoice_id=an_invoice(floor).pk, reason="taken back")
    assert "2 taxes fall on" in note.facts["electronic"]["not_made"]
    assert note.facts["electronic"]["invoice"] is None and credit_sheet(note.facts).electronic is None
    switched_on(dinars)
    note = issue_credit_note(**dinars.who, invoice_id=an_invoice(dinars).pk, reason="taken back")
    assert note.facts["electronic"]["not_made"] == "The standard knows amounts of two decimals at most."


@pytest.mark.django_db
def test_a_shop_that_did_not_switch_it_on_has_none() -> None:
    floor, _, _ = floors("no electronic")
    note = issue_credit_note(**floor.who, invoice_id=an_invoice(floor).pk, reason="taken back")
    assert "electronic" not in note.facts
