"""Parts and cores that come back before the invoice: off their line at exactly what was charged, with all that hung on them."""

from __future__ import annotations

from decimal import Decimal

import pytest

from orders.models import CreditNote, Customer, Invoice, Job, JobPart, RepairOrder
from orders.models.jobs import JobFee
from orders.services.authorised import compare
from orders.services.bench import finish_job, fit_part
from orders.services.charges import set_terms
from orders.services.credits import issue_credit_note
from orders.services.estimates import issue_estimate
from orders.services.fees import remove_fee
from orders.services.finishing import finish_order
from orders.services.invoice_lines import charged_lines
from orders.services.invoices import issue_invoice
from orders.services.jobs import add_job, change_job
from orders.services.lines import add_part, change_part
from orders.services.returns import return_part
from orders.services.sheets import invoice_sheet
from orders.services.time import enter_time
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff, TaxRate
from tests.orders.back_kit import agreed, arrived_earlier, set_rates, span

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture(autouse=True)
def terms(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    """10 % for the class, supplies of 5 % of parts, 7.25 % tax on parts and supplies."""
    set_rates(shop)
    TaxRate.objects.update(on_kinds=["part", "supplies", "core", "fee"])
    arrived_earlier(order)
    set_terms(
        shop=shop, by=owner, starts_on=shop.today(), class_discounts={"crew": D(10)}, supplies_percent=D(5),
        supplies_of=["part"],
    )  # fmt: skip
    Customer.objects.filter(pk=order.customer_id).update(kind="crew", language="es")
    order.customer.refresh_from_db()


def a_job(
    shop: Shop, owner: Staff, order: RepairOrder, quantity: str = "3", each: str = "33.333", **part: D
) -> JobPart:
    """Work of 1.0 h and so many belts, with 10 % off the job."""
    job = add_job(
        shop=shop, by=owner, order_id=order.pk, title="Belts", labour=[{"words": "Fit", "hours": D("1.0")}],
        parts=[{"words": "Belt", "unit_price": D(each), "quantity": D(quantity), **part}],
    )  # fmt: skip
    change_job(shop=shop, by=owner, job_id=job.pk, version=job.version, changes={"discount_percent": D(10)})
    return job.parts.get()


def billed(shop: Shop, owner: Staff, order: RepairOrder) -> dict[str, object]:
    job = Job.objects.get()
    for part in job.parts.all():
        if part.quantity > sum(row.returned_quantity for row in part.returns.filter(kind="part")):
            fit_part(shop=shop, by=owner, part_id=part.pk)
    enter_time(shop=shop, by=owner, job_id=job.pk, **span(30))
    finish_job(shop=shop, by=owner, job_id=job.pk, correction="Runs.")
    finish_order(shop=shop, by=owner, order_id=order.pk)
    facts: dict[str, object] = issue_invoice(shop=shop, by=owner, order_id=order.pk).facts
    return facts


@pytest.mark.parametrize("answered", [False, True])
def test_thirds_come_back_at_what_was_charged_and_all_of_it_is_nothing(
    shop: Shop, owner: Staff, order: RepairOrder, answered: bool
) -> None:
    line = a_job(shop, owner, order)
    if answered:  # 95.00 and 100.00, less 10 % twice; supplies of 81.00; tax of 85.05
        estimate = agreed(shop, owner, order)
        assert (estimate.facts["net"], estimate.facts["tax"]) == ("162.00", "6.17")
    credits = [return_part(shop=shop, by=owner, part_id=line.pk, what="part").amount for _ in range(2)]
    assert credits == [D("-27.00"), D("-27.00")]
    bill = compare(order).bill if answered else None
    assert bill is None or (bill.net, bill.total - bill.net) == (D("105.30"), D("2.06"))  # 76.95 + 27.00 + 1.35
    return_part(shop=shop, by=owner, part_id=line.pk, what="part")
    with pytest.raises(Refused, match="of 0 that are still charged"):
        return_part(shop=shop, by=owner, part_id=line.pk, what="part")
    if not answered:
        facts = agreed(shop, owner, order).facts
        assert (facts["net"], facts["tax"], facts["jobs"][0]["parts"][0]["amount"]) == ("76.95", "0.00", "0.00")
        return
    assert Job.objects.get().state == "agreed"
    facts = billed(shop, owner, order)
    assert (facts["net"], facts["tax"], facts["total"]) == ("76.95", "0.00", "76.95")
    (shown,) = invoice_sheet(facts).jobs[0].parts
    assert shown.amount == 0 and "devolución sin usar: 1 de 3: 27.00" in shown.what


def test_core_and_environment_charge_go_with_an_unused_part(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    line = a_job(shop, owner, order, "2", "50.00", core_charge=D("15.00"))
    JobPart.objects.update(environment_charge=D("2.50"))
    estimate = agreed(shop, owner, order)
    assert estimate.facts["net"] == "197.00"  # 76.95 + 81.00 + 30.00 + 5.00 + 4.05: no discount on the last three
    assert return_part(shop=shop, by=owner, part_id=line.pk, what="core").amount == D("-15.00")
    assert return_part(shop=shop, by=owner, part_id=line.pk, what="part").amount == D("-58.00")
    with pytest.raises(Refused, match="of 0 that are still charged"):
        return_part(shop=shop, by=owner, part_id=line.pk, what="core")
    facts = billed(shop, owner, order)
    assert facts["net"] == "121.98"  # 76.95 + 40.50 + 2.50 + 2.03


def test_a_part_that_came_back_whole_is_not_fitted(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    line = a_job(shop, owner, order, "2", "50.00", core_charge=D("15.00"))
    agreed(shop, owner, order)
    return_part(shop=shop, by=owner, part_id=line.pk, what="core", quantity=D(2))
    return_part(shop=shop, by=owner, part_id=line.pk, what="part")
    back = return_part(shop=shop, by=owner, part_id=line.pk, what="part")
    with pytest.raises(Conflict, match="All of Belt came back"):
        fit_part(shop=shop, by=owner, part_id=line.pk)
    remove_fee(shop=shop, by=owner, fee_id=back.pk)
    assert fit_part(shop=shop, by=owner, part_id=line.pk).fitted_at


def test_a_return_that_is_taken_away_asks_anew_and_a_third_that_was_not_agreed_takes_nothing_off(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    line = a_job(shop, owner, order, "2", "50.00")
    return_part(shop=shop, by=owner, part_id=line.pk, what="part")
    agreed(shop, owner, order)
    assert compare(order).bill.net == D("119.48")  # 76.95 + 40.50 + 2.03
    row = JobFee.objects.get()
    remove_fee(shop=shop, by=owner, fee_id=row.pk)
    assert Job.objects.get().state == "proposed"
    agreed(shop, owner, order)
    line.refresh_from_db()
    change_part(shop=shop, by=owner, part_id=line.pk, version=line.version, changes={"quantity": D(3)})
    assert Job.objects.get().state == "proposed"
    return_part(shop=shop, by=owner, part_id=line.pk, what="part")
    assert Job.objects.get().state == "agreed" and compare(order).bill.net == D("162.00")


def test_a_discount_above_the_price_is_refused_with_the_most_that_it_can_be(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    job = a_job(shop, owner, order, "1", "100.00").job
    changes = {"discount_percent": None, "discount_amount": D("195.01")}
    with pytest.raises(Refused) as refusal:
        change_job(shop=shop, by=owner, job_id=job.pk, version=Job.objects.get().version, changes=changes)
    (problem,) = refusal.value.problems
    assert (problem.field, problem.remedy) == ("discount_amount", "Give 195.00 at most, or take the discount away.")
    most = {**changes, "discount_amount": D("195.00")}
    change_job(shop=shop, by=owner, job_id=job.pk, version=Job.objects.get().version, changes=most)
    assert issue_estimate(shop=shop, by=owner, order_id=order.pk).facts["net"] == "0.00"


def test_after_the_invoice_pieces_are_credited_with_all_that_hung_on_them(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    line = a_job(shop, owner, order, "3", "33.333", core_charge=D("5.00"))
    JobPart.objects.update(environment_charge=D("1.11"))
    agreed(shop, owner, order)
    facts = billed(shop, owner, order)
    # 76.95 of labour; 81.00 of belts, 15.00 of cores, 3.33 of charges, 4.05 of supplies; 7.25 % of these: 7.50
    assert (facts["net"], facts["tax"]) == ("180.33", "7.50")
    invoice = Invoice.objects.get()

    def credit(count: str, **more: bool) -> CreditNote:
        return issue_credit_note(
            shop=shop, by=owner, invoice_id=invoice.pk, reason="not needed",
            lines=[{"line": str(line.pk), "quantity": D(count)}], **more,
        )  # fmt: skip

    with pytest.raises(Refused, match="4 come back, of 3 that are still charged"):
        credit("4")
    notes = [credit("1"), credit("1", again=True)]
    assert [(row["amount"], row["quantity"]) for row in notes[0].facts["lines"]] == [
        ("27.00", "1"), ("5.00", None), ("1.11", None), ("1.35", None),
    ]  # fmt: skip
    with pytest.raises(Refused, match="2 come back, of 1 that are still charged"):
        credit("2")
    notes.append(credit("1", again=True))
    assert sum(D(note.facts["net"]) for note in notes) == D("103.38")
    assert sum(D(note.facts["tax"]) for note in notes) == D("7.50")
    labour = next(one for one in charged_lines(invoice) if one.left)
    assert [one.left for one in charged_lines(invoice) if one.left] == [D("76.95")] == [labour.left]
    by_piece = [{"line": labour.key, "quantity": D(1)}]
    with pytest.raises(Refused, match="Only a part comes back"):
        issue_credit_note(shop=shop, by=owner, invoice_id=invoice.pk, reason="x", lines=by_piece)


def test_pieces_of_two_parts_in_one_note_bring_their_share_of_the_supplies_each(
    shop: Shop, owner: Staff, order: RepairOrder
) -> None:
    job = a_job(shop, owner, order, "2", "100.00").job
    add_part(shop=shop, by=owner, job_id=job.pk, words="Plug", unit_price=D("60.00"))
    agreed(shop, owner, order)
    billed(shop, owner, order)
    note = issue_credit_note(
        shop=shop, by=owner, invoice_id=Invoice.objects.get().pk, reason="not needed",
        lines=[{"line": str(line.pk), "quantity": line.quantity} for line in job.parts.order_by("words")],
    )  # fmt: skip
    # 10 % twice off 200.00 and 60.00, and all of the supplies, 5 % of 210.60
    assert [row["amount"] for row in note.facts["lines"]] == ["162.00", "48.60", "10.53"]
