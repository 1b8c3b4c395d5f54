"""Papers of the room: every fact of the records on the sheet, drawn by the registered kinds, sent by a real worker."""

from __future__ import annotations

import datetime as dt
import email
import io
from collections.abc import Callable
from decimal import Decimal
from email import policy
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from orders.models import Check, Customer, Estimate, Hold, Job, RepairOrder, TimeEntry
from orders.services.answers import answer_by_link
from orders.services.estimates import issue_estimate, send_estimate
from orders.services.kinds import photos_on, register_papers
from orders.services.order_sheet import repair_order_sheet
from orders.services.papers import request_repair_order_paper
from shopdocs.documents.kinds import kind
from shopdocs.documents.models import Document, Letter
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.documents.services.photos import take_in_photo
from shopdocs.shops.models import Shop, Staff
from tests.orders.back_kit import (
    a_finding,
    agreed,
    arrived_earlier,
    season_service,
    set_rates,
    sharpening,
    shown_by_link,
    token_in,
)
from tests.papers_samples import picture

D = Decimal


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages)


def clocked(job: Job, by: Staff, minutes: int, ago: int) -> None:
    end = dt.datetime.now(dt.UTC) - dt.timedelta(minutes=ago)
    TimeEntry.objects.create(
        shop=job.shop, job=job, technician=by.user, started_at=end - dt.timedelta(minutes=minutes), ended_at=end
    )


@pytest.mark.django_db
def test_the_repair_order_prints_what_the_records_know(
    shop: Shop, owner: Staff, technician: Staff, order: RepairOrder
) -> None:
    set_rates(shop)
    arrived_earlier(order)
    root = a_finding(shop, owner, order, measured=D("1.900"), measured_unit="mm", note="fuel on the housing")
    then = a_finding(shop, owner, order, number=2, component="carburettor", condition="clogged", caused_by=root)
    Check.objects.create(shop=shop, order=order, point="fuel_lines", result="found", by=owner.user, note="at the bend")
    Hold.objects.create(
        shop=shop, unit=order.unit, order=order, finding=root, tag="T-1001", reason="fuel leak", placed_by=owner.user
    )
    seen = take_in_photo(
        shop=shop, by=technician, data=picture("leak")[1], name="leak.jpg", subject=order.subject, about=root.subject,
        moment="before", caption="Leak at the bend",
    )  # fmt: skip
    alone = sharpening(shop, owner, order, findings=[then.pk])
    two = [{"words": "Season service", "hours": D("0.8")}, {"words": "Dress bar", "hours": D("0.3")}]
    shared = season_service(shop, owner, order, labour=two)
    agreed(shop, owner, order)
    clocked(alone, technician, 31, ago=200)
    clocked(alone, technician, 10, ago=100)
    clocked(shared, technician, 50, ago=0)
    clocked(shared, owner, 20, ago=0)

    sheet = repair_order_sheet(RepairOrder.objects.get(pk=order.pk))

    assert (sheet.number, sheet.complaint, sheet.unit.serial) == (order.number, order.complaint, "KX 100-7")
    assert [(one.mark, one.measurement, one.because_of[:3]) for one in sheet.findings] == [
        ("F1", "1.9 mm", ""), ("F2", "", "F1:"),
    ]  # fmt: skip
    assert [(one.sha256, one.finding, one.moment, one.who) for one in sheet.photos] == [
        (seen.original.sha256, "F1", "before", technician.user.shown_name)
    ]
    assert [one.reason for one in sheet.holds] == ["T-1001: fuel leak"]
    work = [[(line.tenths, line.clocked_minutes, line.technician) for line in job.work] for job in sheet.jobs]
    mine, theirs = technician.user.shown_name, owner.user.shown_name
    both = f"{theirs} 0:20; {mine} 0:50"
    assert work == [[(4, 41, mine)], [(8, None, ""), (3, None, ""), (11, 70, both)]]
    assert [one.note for one in sheet.checks if one.result] == ["at the bend"]
    assert any(not one.result for one in sheet.checks)
    assert "fuel" in sheet.cautions
    assert "kickback" in sheet.cautions

    frozen = to_json(sheet)
    assert photos_on(frozen) == [seen.original.sha256]
    pdf = draw_sheet(shop, "repair_order", frozen).pdf
    text = text_of(pdf)
    for said in (order.number, "KX 100-7", "UNSAFE TO RUN", "Leak at the bend", "0:41", "0.8", "fuel on the housing"):
        assert said in text
    assert len(PdfReader(io.BytesIO(pdf)).pages[0].images) + sum(
        len(page.images) for page in PdfReader(io.BytesIO(pdf)).pages[1:]
    ) >= 1  # fmt: skip
    assert draw_sheet(shop, "repair_order", frozen).pdf == pdf


@pytest.mark.django_db
def test_each_request_is_a_paper_of_its_own(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    first = request_repair_order_paper(shop=shop, by=owner, order_id=order.pk)
    RepairOrder.objects.update(complaint="Now it does not start at all")
    second = request_repair_order_paper(shop=shop, by=owner, order_id=order.pk)
    assert first.pk != second.pk
    assert Document.objects.get(pk=first.pk).sheet["complaint"] == order.complaint
    assert second.sheet["complaint"] == "Now it does not start at all"


def test_the_kinds_are_registered_and_may_be_again() -> None:
    register_papers()
    assert [kind(name).title for name in ("repair_order", "estimate", "invoice")] == [
        "Repair order", "Estimate", "Invoice",
    ]  # fmt: skip


@pytest.mark.django_db(transaction=True)
def test_estimate_drawn_sent_and_answered_through_the_letter_that_went_out(
    shop: Shop, owner: Staff, order: RepairOrder, worker: Any, eventually: Callable[..., Any], settings: Any
) -> None:
    set_rates(shop)
    Customer.objects.update(email="imke@example.com")
    job = season_service(shop, owner, order)
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    sent = send_estimate(shop=shop, by=owner, estimate_id=estimate.pk)
    eventually(lambda: Letter.objects.filter(pk=sent.letter_id, state="done").exists())
    files = [path for path in Path(settings.LETTER_FOLDER).rglob("*") if path.is_file()]
    mail = email.message_from_bytes(files[0].read_bytes(), policy=policy.default)
    body = mail.get_body(("plain",))
    assert body is not None
    letter = Letter.objects.get(pk=sent.letter_id)
    assert token_in(letter) in body.get_content().replace("=\n", "")
    (paper,) = [part.get_content() for part in mail.iter_attachments()]
    text = text_of(paper)
    for said in (estimate.number, order.number, "Season service", "82.70", "7.25 %", "KX 100-7"):
        assert said in text
    assert "/api/v1/answer/" not in text
    token, answers = token_in(letter), [{"job": job.pk, "accepted": True}]
    answer_by_link(token=token, said_by="Imke", answers=answers, **shown_by_link(token))
    assert Estimate.objects.get().answers.get().accepted
    assert Job.objects.get().state == "agreed"
