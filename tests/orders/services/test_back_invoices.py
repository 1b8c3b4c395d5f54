"""From the bench to the money: jobs finished, the order closed, billed once at agreed prices, paid."""

from __future__ import annotations

import copy
import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from orders.models import Customer, Invoice, Job, JobPart, Payment, RepairOrder, TimeEntry
from orders.services.bench import finish_job, fit_part, strike_job
from orders.services.estimates import issue_estimate
from orders.services.finishing import finish_order
from orders.services.invoices import issue_invoice, send_invoice
from orders.services.jobs import set_payer_basis
from orders.services.lines import change_labour, remove_part
from orders.services.payments import balance, record_payment
from orders.services.sheets import invoice_sheet
from orders.services.time import clock_in, enter_time
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.rest.refusals import Conflict, Missing, NotYours, Refused, Stale
from shopdocs.shops.models import LabourRate, NumberSeries, Shop, Staff, TaxRate
from tests.orders.back_kit import (
    CARD,
    agreed,
    another_order,
    answered,
    arrived_earlier,
    done,
    invoiced,
    season_service,
    set_rates,
    sharpening,
    span,
)

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def job(shop: Shop, owner: Staff, order: RepairOrder) -> Job:
    set_rates(shop)
    Customer.objects.update(email="imke@example.com")
    arrived_earlier(order)
    return season_service(shop, owner, order)


def test_a_job_ends_only_when_everything_is_done(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    part = job.parts.get()

    def finish(**given: Any) -> Job:
        return finish_job(shop=shop, by=owner, job_id=job.pk, **given)

    with pytest.raises(Conflict, match="not agreed"):
        finish(correction="done")
    with pytest.raises(Conflict, match="not agreed"):
        fit_part(shop=shop, by=owner, part_id=part.pk)
    agreed(shop, owner, order)
    entry = clock_in(shop=shop, by=owner, job_id=job.pk)
    with pytest.raises(Conflict) as conflict:
        finish()
    assert [one.field for one in conflict.value.problems] == ["correction", "time", "parts"]
    TimeEntry.objects.filter(pk=entry.pk).delete()
    with pytest.raises(Conflict, match="no time was clocked"):
        finish(correction="Plug replaced")
    enter_time(shop=shop, by=owner, job_id=job.pk, **span(20))
    fitted = fit_part(shop=shop, by=owner, part_id=part.pk)
    assert fitted.fitted_by == owner.user
    with pytest.raises(Conflict, match="fitted already"):
        fit_part(shop=shop, by=owner, part_id=part.pk)
    with pytest.raises(Stale):
        finish(correction="Plug replaced", version=7)
    with pytest.raises(Conflict, match="Nobody has said"):
        finish(correction="   ")
    ended = finish(correction="Plug replaced, idle set")
    assert (ended.state, ended.correction, ended.finished_by) == ("done", "Plug replaced, idle set", owner.user)


def test_striking_is_the_counters_and_needs_a_reason(
    shop: Shop, owner: Staff, technician: Staff, order: RepairOrder, job: Job
) -> None:
    with pytest.raises(NotYours):
        strike_job(shop=shop, by=technician, job_id=job.pk, reason="too dear")
    with pytest.raises(Refused, match="reason is missing"):
        strike_job(shop=shop, by=owner, job_id=job.pk, reason="  ")
    agreed(shop, owner, order)
    part = job.parts.get()
    fit_part(shop=shop, by=owner, part_id=part.pk)
    with pytest.raises(Conflict, match="in the machine"):
        strike_job(shop=shop, by=owner, job_id=job.pk, reason="too dear")
    remove_part(shop=shop, by=owner, part_id=part.pk)
    assert strike_job(shop=shop, by=owner, job_id=job.pk, reason="too dear").strike_reason == "too dear"


def test_an_order_closes_when_every_agreed_job_is_done_and_every_other_answered(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job
) -> None:
    chain, unasked = sharpening(shop, owner, order), sharpening(shop, owner, order, title="Dress bar")
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    answered(shop, owner, estimate, {job.pk: True, chain.pk: False})
    with pytest.raises(Conflict) as conflict:
        finish_order(shop=shop, by=owner, order_id=order.pk)
    assert [one.problem for one in conflict.value.problems] == [
        "Job 1 (Season service) is agreed and not done.", "Job 3 (Dress bar) has no answer of the customer.",
    ]  # fmt: skip
    done(shop, owner, job)
    strike_job(shop=shop, by=owner, job_id=unasked.pk, reason="not asked for")
    assert finish_order(shop=shop, by=owner, order_id=order.pk).state == "finished"
    with pytest.raises(Conflict, match="closed"):
        finish_order(shop=shop, by=owner, order_id=order.pk)


def test_a_running_clock_keeps_the_order_open(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    clock_in(shop=shop, by=owner, job_id=job.pk)
    answered(shop, owner, estimate, {job.pk: True})
    with pytest.raises(Conflict, match="clock still runs on job 1"):
        finish_order(shop=shop, by=owner, order_id=order.pk)


def test_the_invoice_is_what_was_agreed(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    covered = season_service(shop, owner, order, title="Replace coil")
    set_payer_basis(job=covered, kind="decision", id="d-1", words="two-year promise", hash="ab", by=owner)
    invoice = invoiced(shop, owner, order)
    assert (invoice.number, invoice.total) == ("I-1001", D("82.70"))
    facts = invoice.facts
    assert (facts["net"], facts["tax"], facts["total"]) == ("82.25", "0.45", "82.70")
    assert [(one["number"], one["customer_pays"]) for one in facts["jobs"]] == [(1, "82.25"), (2, "0.00")]
    assert facts["others"] == [
        {"payer": "warranty", "payer_words": "Warranty", "why": "Job 2 · two-year promise", "amount": "70.25"}
    ]
    assert facts["jobs"][0]["correction"].startswith("Done as agreed")
    assert facts["jobs"][0]["agreed"]["by"] == "Imke Dorran"


def test_later_prices_do_not_reach_the_invoice_and_the_tax_of_its_day_does(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job
) -> None:
    agreed(shop, owner, order)
    LabourRate.objects.update(per_hour=D("200"))
    TaxRate.objects.update(percent=D("20"))
    JobPart.objects.update(unit_price=D("99"))  # behind the services' back: the agreed price still holds
    done(shop, owner, job)
    finish_order(shop=shop, by=owner, order_id=order.pk)
    assert issue_invoice(shop=shop, by=owner, order_id=order.pk).total == D("83.50")  # 82.25, and 20 % on 6.25


def test_less_work_costs_less(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    agreed(shop, owner, order)
    change_labour(shop=shop, by=owner, labour_id=job.labour.get().pk, version=1, hours=D("0.5"))
    remove_part(shop=shop, by=owner, part_id=job.parts.get().pk)
    done(shop, owner, job)
    finish_order(shop=shop, by=owner, order_id=order.pk)
    assert issue_invoice(shop=shop, by=owner, order_id=order.pk).total == D("47.50")  # 0.5 h x 95.00


def test_jobs_agreed_under_different_taxes_are_billed_with_the_tax_of_the_day(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job
) -> None:
    agreed(shop, owner, order)
    TaxRate.objects.update(percent=D("10"))
    second = season_service(shop, owner, order, title="Second")
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    answered(shop, owner, estimate, {second.pk: True})
    for place, one in enumerate((job, second)):
        done(shop, owner, one, ago=40 * place)
    finish_order(shop=shop, by=owner, order_id=order.pk)
    invoice = issue_invoice(shop=shop, by=owner, order_id=order.pk)
    assert [(t["percent"], t["base"], t["amount"]) for t in invoice.facts["taxes"]] == [("10", "12.50", "1.25")]
    assert invoice.total == D("165.75")  # twice 82.25, and 1.25


def test_an_order_is_billed_once_and_only_when_finished(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    with pytest.raises(Conflict, match="not finished"):
        issue_invoice(shop=shop, by=owner, order_id=order.pk)
    first = invoiced(shop, owner, order)
    with pytest.raises(Conflict, match=f"was billed with {first.number}"):
        issue_invoice(shop=shop, by=owner, order_id=order.pk)
    assert Invoice.objects.count() == 1
    assert NumberSeries.objects.get(shop=shop, name="invoice").last == 1001


def test_a_refused_invoice_leaves_no_gap(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    free = another_order(shop, owner, order)
    season_service(shop, owner, free, payer="shop")
    with pytest.raises(Conflict, match="customer's to pay"):
        invoiced(shop, owner, free)
    # The first order's time must not lie under the other's: one person did both.
    TimeEntry.objects.all().delete()
    assert invoiced(shop, owner, order).number == "I-1001"


def test_the_invoice_stays_as_it_was(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    invoice = invoiced(shop, owner, order)
    assert invoice.document is not None
    sheet = copy.deepcopy(invoice.document.sheet)
    drawn = draw_sheet(shop, "invoice", sheet)
    Shop.objects.update(name="Renamed")
    Customer.objects.update(name="Renamed")
    Job.objects.update(title="Renamed", correction="changed")
    record_payment(shop=shop, by=owner, invoice_id=invoice.pk, amount=D("10"), means="cash")
    later = Invoice.objects.get(pk=invoice.pk)
    assert to_json(invoice_sheet(later.facts)) == sheet
    assert draw_sheet(shop, "invoice", sheet).pdf == drawn.pdf


def test_the_letter_with_the_invoice(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    invoice = invoiced(shop, owner, order)
    letter = send_invoice(shop=shop, by=owner, invoice_id=invoice.pk).letter
    assert letter is not None
    assert letter.to_address == "imke@example.com"
    assert list(letter.documents.all()) == [invoice.document]
    for said in (invoice.number, "$82.70", order.number, shop.name):
        assert said in letter.body
    Customer.objects.update(email="")
    with pytest.raises(Refused, match="no e-mail address"):
        send_invoice(shop=shop, by=owner, invoice_id=invoice.pk)


def test_payments_and_what_is_open(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    invoice = invoiced(shop, owner, order)

    def pay(amount: Any, **given: Any) -> Payment:
        return record_payment(shop=shop, by=owner, invoice_id=invoice.pk, amount=amount, **{"means": "cash", **given})

    pay(D("50.00"), means="card", reference="terminal receipt 0042")
    assert balance(invoice) == D("32.70")
    for amount in (D("0"), D("-5"), D("NaN"), D("1.001"), D("1e400"), "ten", 1.5):
        with pytest.raises(Refused) as refusal:
            pay(amount)
        assert refusal.value.problems[0].field == "amount"
    with pytest.raises(Conflict, match=r"32\.70"):
        pay(D("32.71"))
    with pytest.raises(Refused, match="future"):
        pay(D("1"), received_on=shop.today() + dt.timedelta(days=1))
    with pytest.raises(Refused, match="not known"):
        pay(D("1"), means="barter")
    pay(D("32.70"), means="transfer")
    assert balance(invoice) == 0
    with pytest.raises(Conflict):
        pay(D("0.01"))
    assert Payment.objects.count() == 2


def test_another_shop_pays_nothing_here(
    shop: Shop, other_shop: Shop, owner: Staff, order: RepairOrder, job: Job
) -> None:
    invoice = invoiced(shop, owner, order)
    stranger = Staff.objects.get(shop=other_shop)
    with pytest.raises(Missing):
        record_payment(shop=other_shop, by=stranger, invoice_id=invoice.pk, amount=D("1"), means="cash")
    with pytest.raises(Missing):
        send_invoice(shop=other_shop, by=stranger, invoice_id=invoice.pk)


def test_a_card_number_is_never_kept(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    invoice = invoiced(shop, owner, order)
    for reference in (CARD, CARD.replace(" ", ""), f"card {CARD} 05/27", CARD.replace(" ", "-")):
        with pytest.raises(Refused) as refusal:
            record_payment(shop=shop, by=owner, invoice_id=invoice.pk, amount=D("1"), means="card", reference=reference)
        assert refusal.value.problems[0].field == "reference"
    assert not Payment.objects.exists()
    wrong_digit = CARD[:-1] + "8"
    assert record_payment(
        shop=shop, by=owner, invoice_id=invoice.pk, amount=D("1"), means="card", reference=wrong_digit
    ).reference == wrong_digit  # fmt: skip
