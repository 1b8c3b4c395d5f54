"""Two people at the same moment: one answer by a link, one invoice an order, one clock a person, numbers without a gap."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection

from orders.models import Answer, Customer, Estimate, Invoice, Job, Payment, RepairOrder, TimeEntry
from orders.services.answers import answer_by_link
from orders.services.estimates import issue_estimate, send_estimate
from orders.services.finishing import finish_order
from orders.services.invoices import issue_invoice
from orders.services.payments import record_payment
from orders.services.time import clock_in
from shopdocs.rest.refusals import Conflict
from shopdocs.shops.models import NumberSeries, Shop, Staff
from tests.orders.back_kit import (
    agreed,
    another_order,
    arrived_earlier,
    done,
    invoiced,
    season_service,
    set_rates,
    sharpening,
    shown_by_link,
    token_in,
)

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(act: Callable[[], Any], times: int = 4) -> list[Any]:
    """What each of several threads got: a result, or the refusal. Any other error fails the test."""
    got: list[Any] = []
    gate = threading.Barrier(times)

    def one() -> None:
        try:
            gate.wait(10)
            got.append(act())
        except Exception as error:  # noqa: BLE001 - whatever a thread meets is looked at below
            got.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=one) for _ in range(times)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert len(got) == times
    strange = [one for one in got if isinstance(one, Exception) and not isinstance(one, Conflict)]
    assert strange == []
    return [one for one in got if not isinstance(one, Exception)]


def test_a_link_used_by_four_at_once_answers_once(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    Customer.objects.update(email="imke@example.com")
    job = season_service(shop, owner, order)
    sent = send_estimate(shop=shop, by=owner, estimate_id=issue_estimate(shop=shop, by=owner, order_id=order.pk).pk)
    assert sent.letter is not None
    token = token_in(sent.letter)
    answers = [{"job": job.pk, "accepted": True}]
    shown = shown_by_link(token)
    assert len(at_once(lambda: answer_by_link(token=token, said_by="Imke", answers=answers, **shown))) == 1
    assert Answer.objects.count() == 1
    assert Job.objects.get().state == "agreed"


def test_an_order_billed_by_four_at_once_is_billed_once(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    arrived_earlier(order)
    job = season_service(shop, owner, order)
    agreed(shop, owner, order)
    done(shop, owner, job)
    finish_order(shop=shop, by=owner, order_id=order.pk)
    assert len(at_once(lambda: issue_invoice(shop=shop, by=owner, order_id=order.pk))) == 1
    assert Invoice.objects.count() == 1
    TimeEntry.objects.all().delete()
    season_service(shop, owner, another := another_order(shop, owner, order))
    assert invoiced(shop, owner, another).number == "I-1002"
    assert NumberSeries.objects.get(shop=shop, name="invoice").last == 1002


def test_the_same_money_is_taken_once(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    season_service(shop, owner, order)
    invoice = invoiced(shop, owner, order)

    def pay() -> Payment:
        return record_payment(shop=shop, by=owner, invoice_id=invoice.pk, amount=invoice.total, means="cash")

    assert len(at_once(pay)) == 1
    assert [row.amount for row in Payment.objects.all()] == [invoice.total]


def test_four_clicks_start_one_clock(shop: Shop, technician: Staff, order: RepairOrder) -> None:
    job = season_service(shop, technician, order)
    assert len(at_once(lambda: clock_in(shop=shop, by=technician, job_id=job.pk))) == 1
    assert TimeEntry.objects.count() == 1


def test_versions_made_at_once_stand_in_a_row(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    season_service(shop, owner, order)

    def more() -> Estimate:
        sharpening(shop, owner, order)
        return issue_estimate(shop=shop, by=owner, order_id=order.pk)

    made = at_once(more)
    last = len(made)
    assert 1 <= last <= 4  # who finds that another's version holds their job already is told so
    assert sorted(one.edition for one in made) == list(range(1, last + 1))
    assert len({one.number for one in made}) == 1
    order.refresh_from_db()
    open_ones = [one for one in order.estimates.all() if one.replaced_by_id is None]
    assert [one.edition for one in open_ones] == [last]
    assert len(open_ones[0].facts["jobs"]) == 5


def test_an_estimate_asked_for_by_four_at_once_is_made_once(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    season_service(shop, owner, order)
    assert [one.edition for one in at_once(lambda: issue_estimate(shop=shop, by=owner, order_id=order.pk))] == [1]
    assert order.estimates.count() == 1
