"""The change to an estimate and the condition report, from records to the words on paper."""

from __future__ import annotations

import datetime as dt
import io
from decimal import Decimal
from typing import Any

import pytest
from pypdf import PdfReader

from orders.models import Estimate, Job, RepairOrder
from orders.services.bench import strike_job
from orders.services.changes import change_sheet
from orders.services.condition import condition_report_sheet
from orders.services.estimates import issue_estimate, send_estimate
from orders.services.jobs import change_job
from orders.services.lines import add_part
from shopdocs.documents.models import Document
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.shops.models import Shop, Staff
from tests.orders.back_kit import a_finding, agreed, done, season_service, set_rates, sharpening

pytestmark = pytest.mark.django_db
D = Decimal


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages)


@pytest.fixture(autouse=True)
def _rates(shop: Shop) -> None:
    set_rates(shop)


def condition(order: RepairOrder) -> Any:
    """The report of the order as the database has it."""
    return condition_report_sheet(RepairOrder.objects.get(pk=order.pk))


def versions(shop: Shop, owner: Staff, order: RepairOrder) -> tuple[Estimate, Estimate]:
    """Version 2 adds a job, drops one, adds a part to one, and leaves one as it was."""
    kept, dearer, dropped = (season_service(shop, owner, order, title=title) for title in ("Keep", "Dearer", "Dropped"))
    first = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    add_part(shop=shop, by=owner, job_id=dearer.pk, words="Fuel filter", unit_price=D("9.95"), quantity=D(2))
    strike_job(shop=shop, by=owner, job_id=dropped.pk, reason="not wanted")
    sharpening(shop, owner, order, title="Newly seen", findings=[a_finding(shop, owner, order).pk])
    assert kept.title == "Keep"
    return first, issue_estimate(shop=shop, by=owner, order_id=order.pk)


def test_a_new_version_says_what_it_changes(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    first, second = versions(shop, owner, order)
    sheet = change_sheet(first.facts, second.facts)
    assert [(job.title, job.state) for job in sheet.jobs] == [
        ("Dearer", "changed"), ("Newly seen", "new"), ("Dropped", "dropped"),
    ]  # fmt: skip
    assert sheet.unchanged == ("Job 1, Keep",)
    (line,) = sheet.jobs[0].lines
    assert (line.what, line.before, line.now) == ("2 x Fuel filter", None, D("19.90"))
    assert sheet.jobs[0].now == sheet.jobs[0].before + D("19.90")  # type: ignore[operator]
    assert "cracked" in sheet.jobs[1].why and sheet.jobs[1].before is None and sheet.jobs[2].now is None
    assert (sheet.before, sheet.now) == (first.customer_total, second.customer_total)
    assert sheet.difference == second.customer_total - first.customer_total


def test_the_change_goes_along_with_the_letter_of_the_new_version(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    first, second = versions(shop, owner, order)
    assert not Document.objects.filter(subject=first.subject, kind="estimate_change").exists()
    change = Document.objects.get(subject=second.subject, kind="estimate_change")
    sent = send_estimate(shop=shop, by=owner, estimate_id=second.pk, email="imke@example.org")
    assert sent.letter is not None
    assert set(sent.letter.documents.all()) == {change, second.document}
    text = text_of(draw_sheet(shop, change.kind, change.sheet).pdf)
    for told in (
        "Change to an estimate",
        "version 1",
        "Newly seen",
        "Dropped",
        "2 x Fuel filter none 19.90",
        "Job 1, Keep",
    ):
        assert told in text, (told, text)


def test_other_words_and_another_payer_are_changes_too(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    job = season_service(shop, owner, order, title="Service")
    first = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    change_job(shop=shop, by=owner, job_id=job.pk, version=1, changes={"title": "Service and clean", "payer": "shop"})
    (changed,) = change_sheet(first.facts, issue_estimate(shop=shop, by=owner, order_id=order.pk).facts).jobs
    assert changed.state == "changed" and "Service." in changed.why
    assert (changed.payer_before, changed.payer_now) == ("Customer", "Shop")


def test_nothing_changed_is_said_as_such(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    season_service(shop, owner, order)
    first = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    Estimate.objects.update(valid_until=shop.today() - dt.timedelta(days=1))  # it ran out, and is made anew
    second = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    sheet = change_sheet(first.facts, second.facts)
    assert sheet.jobs == () and len(sheet.unchanged) == 1 and sheet.difference == 0


def test_the_condition_report_prices_what_the_findings_need(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any
) -> None:
    leak = a_finding(shop, owner, order, 1, condition="leaks", unsafe=True)
    dull = a_finding(shop, owner, order, 2, component="saw_chain", condition="dull")
    a_finding(shop, owner, order, 3, component="saw_chain", condition="dull", cause="normal")
    season_service(shop, owner, order, title="Replace fuel line", findings=[leak.pk])
    sheet = condition(order)
    assert [(one.mark, one.what, one.must) for one in sheet.remedies] == [
        ("F1", "Replace fuel line", True), ("F2", "not priced yet", False),
    ]  # fmt: skip
    assert sheet.safe_to_run is False and sheet.cost is None and sheet.must_cost == sheet.remedies[0].amount
    sharpening(shop, owner, order, title="Sharpen", findings=[dull.pk])
    sheet = condition(order)
    assert sheet.cost == sum((one.amount for one in sheet.remedies if one.amount), D(0)) > sheet.must_cost  # type: ignore[operator]
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert sheet.cost == D(estimate.facts["customer_net"])
    asked = client.post(f"/api/v1/orders/{order.pk}/papers/", {"paper": "condition_report"}, format="json")
    assert asked.status_code == 201, asked.json()
    document = Document.objects.get(pk=asked.json()["id"])
    text = text_of(draw_sheet(shop, document.kind, document.sheet).pdf)
    for told in ("Condition report", "NOT SAFE TO RUN", "Replace fuel line", "Findings: 3. Of these unsafe to run: 1."):
        assert told in text, told


def test_what_is_done_needs_nothing_more(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    leak = a_finding(shop, owner, order, 1, condition="leaks", unsafe=True)
    job = season_service(shop, owner, order, findings=[leak.pk])
    agreed(shop, owner, order)
    RepairOrder.objects.update(received_on=order.received_on.replace(year=order.received_on.year - 1))
    done(shop, owner, Job.objects.get(pk=job.pk))
    sheet = condition(order)
    assert sheet.safe_to_run and sheet.remedies == () and sheet.cost == sheet.must_cost == D("0.00")
    assert sheet.summary == "Findings: 1. Put right since: 1. Of the others unsafe to run: 0."
    assert sheet.findings[0].note.endswith(f"Put right since, with job 1: {job.title}.")
    assert condition(RepairOrder.objects.get(pk=order.pk)) == sheet


def test_a_machine_without_a_finding(shop: Shop, order: RepairOrder) -> None:
    sheet = condition(order)
    assert sheet.safe_to_run and sheet.summary == "Nothing was found." and sheet.looked_at_by == ""
