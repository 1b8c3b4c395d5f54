"""What is taxable on a repair, state by state, as settings of our tax rules; and work that a warranty pays for.

Amounts are computed from the rules as seen; the rate of 6 % is only an example. A shop enters and confirms its own.
"""

from datetime import date
from decimal import Decimal

import pytest

from orders.rules.pricing import (
    FeeLine,
    Job,
    Kind,
    LabourLine,
    PartLine,
    Payer,
    Priced,
    Share,
    Split,
    Taxes,
    TaxRule,
    price,
)
from shopdocs.money import USD

D = Decimal
DAY = date(2026, 11, 25)
LABOUR = LabourLine(description="Labour", hours=D("0.5"), rate=D("80"))
PART = PartLine(number="P-1", description="Part", quantity=D(1), unit_price=D("25.00"))
PARTS = frozenset({Kind.PART})
BOTH = frozenset({Kind.PART, Kind.LABOUR})


def bill(job: Job, kinds: frozenset[Kind], with_parts: frozenset[Kind] = frozenset()) -> Priced:
    """The job at 6 % on lines of `kinds` that the customer pays."""
    rule = TaxRule(name="Sales tax", percent=D(6), kinds=kinds, with_parts=with_parts)
    return price([job], currency=USD, on=DAY, taxes=Taxes(rules=(rule,)))


def base_and_tax(found: Priced) -> tuple[Decimal, Decimal]:
    """The taxable amount of the one tax, and the tax."""
    return sum((line.base for line in found.taxes), D(0)), found.tax


APART = Job(key="1", title="Repair", labour=(LABOUR,), parts=(PART,))
LABOUR_ONLY = Job(key="1", title="Repair", labour=(LABOUR,))
LUMP_SUM = Job(key="1", title="Repair", fees=(FeeLine(description="Repair, parts and labour", amount=D("65.00")),))


# Parts 25.00 and labour 40.00 (Idaho's example amounts).
# Idaho: IDAPA 35.01.02.062 (3-31-22), https://law.cornell.edu/regulations/idaho/IDAPA-35.01.02.062 ; read:
# labour stated apart is not taxable, combined all is.
# Maryland: COMAR 03.06.01.03, http://mdrules.elaws.us/comar/03.06.01.03 ; read: a lump sum is not taxed to the customer.
# Tennessee: https://revenue.support.tn.gov/hc/en-us/articles/203043259-Is-a-charge-for-labor-subject-to-sales-tax- ;
# undated, read: repair labour is taxable, a lawn mower named as an example.
# Florida: a tax adviser's article of 2016, second-hand: with any part supplied, parts and labour; labour alone not.
@pytest.mark.parametrize(
    ("job", "kinds", "with_parts", "base", "tax"),
    [
        pytest.param(APART, PARTS, frozenset(), "25.00", "1.50", id="Idaho, apart"),
        pytest.param(LUMP_SUM, PARTS | {Kind.FEE}, frozenset(), "65.00", "3.90", id="Idaho, combined"),
        pytest.param(LUMP_SUM, PARTS, frozenset(), "0", "0.00", id="Maryland, lump sum"),
        pytest.param(APART, PARTS, frozenset(), "25.00", "1.50", id="Maryland, parts apart"),
        pytest.param(APART, BOTH, frozenset(), "65.00", "3.90", id="Tennessee"),
        pytest.param(LABOUR_ONLY, BOTH, frozenset(), "40.00", "2.40", id="Tennessee, labour only"),
        pytest.param(APART, BOTH, frozenset({Kind.LABOUR}), "65.00", "3.90", id="Florida, with a part"),
        pytest.param(LABOUR_ONLY, BOTH, frozenset({Kind.LABOUR}), "0", "0.00", id="Florida, labour only"),
    ],
)
def test_taxable_amount(job: Job, kinds: frozenset[Kind], with_parts: frozenset[Kind], base: str, tax: str) -> None:
    assert base_and_tax(bill(job, kinds, with_parts)) == (D(base), D(tax))


def test_a_core_charge_is_part_of_the_price() -> None:
    """Minnesota's vehicle guide (9/22/2017), read:

    http://www.revenue.state.mn.us/businesses/sut/Pages/Motor-Vehicle/Repair-Services-Parts.aspx
    """
    part = PartLine(number="P-2", description="Starter", quantity=D(1), unit_price=D("100.00"), core=D("20.00"))
    found = bill(Job(key="1", title="Starter", parts=(part,)), PARTS | {Kind.CORE})
    assert base_and_tax(found) == (D("120.00"), D("7.20"))


def test_the_parts_share_of_a_deductible_is_taxable_and_the_makers_payment_is_not() -> None:
    """California, annotation 490.0510, read; amounts computed.

    https://cdtfa.ca.gov/lawguides/vol2/suta/490-0510.html
    """
    part = PartLine(number="P-3", description="Part", quantity=D(1), unit_price=D("60.00"))
    split = Split((Share(payer=Payer.CUSTOMER, amount=D("25.00")), Share(payer=Payer.WARRANTY)))
    found = bill(Job(key="1", title="Claim", labour=(LABOUR,), parts=(part,), payer=split), PARTS)
    assert base_and_tax(found) == (D("15.00"), D("0.90"))
    assert found.payer(Payer.WARRANTY).tax == 0
    assert found.payer(Payer.CUSTOMER).total == D("25.90")


def test_a_customer_who_pays_a_percentage_is_taxed_on_that_much_of_the_parts() -> None:
    """Minnesota, extended warranty (8/7/2017), read:

    http://www.revenue.state.mn.us/businesses/sut/Pages/Off-Road-Vehicle/Maintenance-Contracts-Warranties.aspx
    """
    part = PartLine(number="P-3", description="Part", quantity=D(1), unit_price=D("60.00"))
    split = Split((Share(payer=Payer.CUSTOMER, percent=D(40)), Share(payer=Payer.WARRANTY)))
    found = bill(Job(key="1", title="Shared", labour=(LABOUR,), parts=(part,), payer=split), PARTS)
    assert base_and_tax(found) == (D("24.00"), D("1.44"))


def test_parts_under_a_makers_warranty_are_not_taxed() -> None:
    """Minnesota, maker's warranty or recall: same page as above; read."""
    found = bill(Job(key="1", title="Claim", labour=(LABOUR,), parts=(PART,), payer=Payer.WARRANTY), PARTS)
    assert (found.tax, found.payer(Payer.WARRANTY).total) == (0, D("65.00"))
