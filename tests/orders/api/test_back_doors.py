"""The back half over HTTP: one order from the first job to the last payment, and what each door refuses."""

from __future__ import annotations

import datetime as dt
import json
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from orders.models import (
    Answer,
    AnswerLink,
    Check,
    Customer,
    Estimate,
    Finding,
    Invoice,
    Job,
    JobLabour,
    JobPart,
    Payment,
    RepairOrder,
    TimeEntry,
)
from orders.models.jobs import JobFee
from orders.services.estimates import issue_estimate, send_estimate
from shopdocs.documents.models import Document, Letter
from shopdocs.shops.models import Shop, Staff
from tests.orders.back_kit import (
    CARD,
    PHONED,
    a_finding,
    agreed,
    another_order,
    answered,
    arrived_earlier,
    done,
    invoiced,
    season_service,
    set_rates,
    sharpening,
    shown_by_link,
    span,
    token_in,
)

pytestmark = pytest.mark.django_db
V1 = "/api/v1"


def post(client: APIClient, path: str, data: Any = None, code: int = 201) -> Any:
    answer = client.post(f"{V1}/{path}", data or {}, format="json")
    assert answer.status_code == code, answer.content
    return answer.json() if answer.content else None


def refused(answer: Any, code: int, field: str) -> dict[str, Any]:
    """The refusal as problem details: its first problem names field, problem and remedy."""
    assert answer.status_code == code, answer.content
    assert answer["Content-Type"] == "application/problem+json"
    body: dict[str, Any] = answer.json()
    assert field in [one["field"] for one in body["errors"]], body
    assert all(one["problem"] and one["remedy"] for one in body["errors"])
    return body


@pytest.fixture
def ready(shop: Shop, order: RepairOrder) -> RepairOrder:
    set_rates(shop)
    Customer.objects.update(email="imke@example.com")
    arrived_earlier(order)
    return RepairOrder.objects.get(pk=order.pk)


def test_from_the_first_job_to_the_last_payment(
    shop: Shop, ready: RepairOrder, owner: Staff, writer: Staff, technician: Staff, office: Staff, api: Any
) -> None:
    counter, bench, desk, customer = api(writer), api(technician), api(office), api(None)
    found = a_finding(shop, technician, ready)
    given = {
        "findings": [str(found.pk)],
        "labour": [{"words": "Replace fuel line", "hours": "0.6"}],
        "parts": [{"words": "Fuel line, by the foot", "quantity": "1.5", "unit_price": "2.355"}],
    }
    job = post(bench, f"orders/{ready.pk}/jobs/", given)
    assert (job["title"], job["guide_hours"]) == ("fuel line: cracked", "0.6")
    assert job["parts"][0]["unit_price"] == "2.355"
    extra = post(counter, f"orders/{ready.pk}/jobs/", {"title": "Sharpen chain"})
    extra = post(counter, f"jobs/{extra['id']}/labour/", {"words": "Sharpen", "hours": "0.4"})
    assert extra["labour"][0]["rate"] is None

    estimate = post(counter, f"orders/{ready.pk}/estimates/")
    # 0.6 h x 95.00 = 57.00; 1.5 x 2.355 = 3.53; 0.4 h x 95.00 = 38.00; 7.25 % of 3.53 = 0.26
    assert (estimate["edition"], estimate["customer_total"]) == (1, "98.79")
    sent = post(counter, f"estimates/{estimate['id']}/send/", code=200)
    token = token_in(Letter.objects.get(pk=sent["letter"]))

    page = customer.get(f"{V1}/answer/{token}/")
    assert page.status_code == 200
    assert page["Cache-Control"] == "no-store"
    assert page.json()["estimate"] == estimate["facts"] == Estimate.objects.get().facts
    answers = [{"job": job["id"], "accepted": True}, {"job": extra["id"], "accepted": False}]
    shown = page.json()
    said = {
        "said_by": "Imke Dorran", "answers": answers, "estimate_sha256": shown["estimate_sha256"],
        "consent": shown["estimate"]["consent"]["version"],
    }  # fmt: skip
    answered = post(customer, f"answer/{token}/", said, 200)
    assert answered["answered"] is True
    assert {one["job"]: one["accepted"] for one in answered["answers"]} == {job["id"]: True, extra["id"]: False}

    assert post(bench, f"jobs/{job['id']}/clock-in/")["ended_at"] is None
    TimeEntry.objects.update(started_at=span(25)["started_at"])
    assert post(bench, f"jobs/{job['id']}/clock-out/", {"note": "old line brittle"}, 200)["minutes"] == 25
    fitted = post(bench, f"job-parts/{job['parts'][0]['id']}/fit/", code=200)
    assert fitted["fitted_by"] == technician.user.shown_name
    finished = post(bench, f"jobs/{job['id']}/finish/", {"correction": "Line replaced.", "version": 1}, 200)
    assert (finished["state"], finished["clocked_minutes"]) == ("done", 25)
    assert post(counter, f"orders/{ready.pk}/finish/", code=200)["state"] == "finished"
    paper = post(counter, f"orders/{ready.pk}/papers/")
    assert (paper["kind"], paper["state"]) == ("repair_order", "waiting")
    for name in ("bench_copy", "repair_summary"):
        assert post(counter, f"orders/{ready.pk}/papers/", {"paper": name})["kind"] == name
    post(counter, f"orders/{ready.pk}/papers/", {"paper": "invoice"}, 400)

    invoice = post(desk, f"orders/{ready.pk}/invoices/", {"due_days": 14})
    assert (invoice["total"], invoice["paid"], invoice["balance"]) == ("60.79", "0.00", "60.79")
    assert post(desk, f"invoices/{invoice['id']}/send/", code=200)["letter"]
    paid = post(desk, f"invoices/{invoice['id']}/payments/", {"amount": "60.00", "means": "card"})
    assert (paid["paid"], paid["balance"]) == ("60.00", "0.79")
    listed = desk.get(f"{V1}/orders/{ready.pk}/invoices/").json()
    assert [one["number"] for one in listed["results"]] == [invoice["number"]]


BAD_JOBS: list[tuple[dict[str, Any], str]] = [
    ({"title": "x", "labour": [{"words": "w", "hours": "-0.1"}]}, "labour[0].hours"),
    ({"title": "x", "labour": [{"words": "w", "hours": "NaN"}]}, "labour[0].hours"),
    ({"title": "x", "labour": [{"words": "w", "hours": "25"}]}, "labour[0].hours"),
    ({"title": "x", "labour": [{"words": "w", "hours": "0.85"}]}, "labour[0].hours"),
    ({"title": "x", "labour": [{"words": "w", "hours": "an hour"}]}, "labour[0].hours"),
    ({"title": "x", "labour": [{"words": "w", "hours": True}]}, "labour[0].hours"),
    ({"title": "x", "labour": [{"code": "NO-SUCH"}]}, "labour[0].code"),
    ({"title": "x", "labour": [{"operation": "3f2d0b2e-4a0e-4a56-9d7a-0d6f7f3b6a11"}]}, "labour[0].operation"),
    ({"title": "x", "parts": [{"words": "w", "unit_price": "6.123456789"}]}, "parts[0].unit_price"),
    ({"title": "x", "parts": [{"words": "w", "unit_price": "1e400"}]}, "parts[0].unit_price"),
    ({"title": "x", "parts": [{"words": "w", "unit_price": "-1"}]}, "parts[0].unit_price"),
    ({"title": "x", "parts": [{"words": "w", "unit_price": "1", "quantity": "0"}]}, "parts[0].quantity"),
    ({"title": "x", "payer": "insurance"}, "payer"),
    ({"title": 5}, "title"),
    ({"title": "two\nlines"}, "title"),
    ({"title": "x", "complaint": "x" * 2_000_000}, "complaint"),
    ({"title": "x", "price": "1"}, "price"),
    ({}, "title"),
]


@pytest.mark.parametrize(("given", "field"), BAD_JOBS, ids=[f"{field}-{at}" for at, (_, field) in enumerate(BAD_JOBS)])
def test_a_bad_job_is_refused_whole(client: Any, ready: RepairOrder, given: dict[str, Any], field: str) -> None:
    refused(client.post(f"{V1}/orders/{ready.pk}/jobs/", given, format="json"), 400, field)
    assert not Job.objects.exists()
    assert not JobLabour.objects.exists()
    assert not JobPart.objects.exists()


def test_what_papers_cannot_print_is_said_where_it_is_typed_and_with_the_letter(
    ready: RepairOrder, writer: Staff, api: Any
) -> None:
    counter, told = api(writer), "Runic letter fehu feoh fe f (U+16A0)"
    person = counter.get(f"{V1}/customers/{ready.customer_id}/").json()
    assert person["cannot_print"] == []
    change = {"name": "Freya ᚠ", "version": person["version"]}
    person = counter.patch(f"{V1}/customers/{ready.customer_id}/", change, format="json").json()
    assert person["cannot_print"] == [f"{told} in name"]

    post(counter, f"orders/{ready.pk}/jobs/", {"title": "Sharpen 中"})
    job = Job.objects.get()
    post(counter, f"jobs/{job.pk}/labour/", {"words": "Sharpen", "hours": "0.4"})
    estimate = post(counter, f"orders/{ready.pk}/estimates/")
    assert estimate["cannot_print"] == [f"{told} in customer, name"], "before anybody sends it"
    sent = post(counter, f"estimates/{estimate['id']}/send/", code=200)
    assert sent["cannot_print"] == estimate["cannot_print"]
    paper = counter.get(f"{V1}/documents/{sent['document']}/").json()
    assert (paper["state"], paper["cannot_print"]) == ("waiting", sent["cannot_print"])
    letter = counter.get(f"{V1}/letters/{sent['letter']}/").json()
    assert letter["cannot_print"] == [f"{told} in Estimate E-1001, version 1, customer, name"]


def test_nan_in_the_json_itself_is_refused(client: Any, ready: RepairOrder) -> None:
    raw = '{"title": "x", "labour": [{"words": "w", "hours": NaN}]}'
    answer = client.post(f"{V1}/orders/{ready.pk}/jobs/", raw, content_type="application/json")
    assert answer.status_code == 400
    assert not Job.objects.exists()


def test_a_finding_of_another_order_is_refused(shop: Shop, owner: Staff, client: Any, ready: RepairOrder) -> None:
    foreign = a_finding(shop, owner, another_order(shop, owner, ready))
    given = {"title": "x", "findings": [str(foreign.pk)]}
    refused(client.post(f"{V1}/orders/{ready.pk}/jobs/", given, format="json"), 400, "findings[0]")
    assert not Job.objects.exists()


def test_two_people_saving_one_job(shop: Shop, owner: Staff, client: Any, ready: RepairOrder) -> None:
    job = season_service(shop, owner, ready)
    path = f"{V1}/jobs/{job.pk}/"
    first = client.patch(path, {"version": 1, "title": "Service"}, format="json")
    assert (first.status_code, first.json()["version"]) == (200, 2)
    body = refused(client.patch(path, {"version": 1, "title": "Mine"}, format="json"), 409, "version")
    assert (body["current_version"], body["changed"]) == (2, {"title": "Service"})
    refused(client.patch(path, {"title": "Mine"}, format="json"), 400, "version")
    assert Job.objects.get().title == "Service"


def test_a_finished_order_is_not_edited(shop: Shop, owner: Staff, client: Any, ready: RepairOrder) -> None:
    job = season_service(shop, owner, ready)
    line, part = job.labour.get(), job.parts.get()
    RepairOrder.objects.update(state="finished", finished_at=timezone.now())
    moments = {name: moment.isoformat() for name, moment in span(5).items()}
    for method, path, given in (
        ("post", f"orders/{ready.pk}/jobs/", {"title": "More"}),
        ("patch", f"jobs/{job.pk}/", {"version": 1, "title": "Other"}),
        ("post", f"jobs/{job.pk}/labour/", {"words": "w", "hours": "0.1"}),
        ("post", f"jobs/{job.pk}/parts/", {"words": "w", "unit_price": "1"}),
        ("post", f"jobs/{job.pk}/clock-in/", {}),
        ("post", f"jobs/{job.pk}/time/", moments),
        ("post", f"jobs/{job.pk}/strike/", {"reason": "r"}),
        ("post", f"jobs/{job.pk}/finish/", {"correction": "c", "version": 1}),
        ("patch", f"job-labour/{line.pk}/", {"version": 1, "hours": "0.1"}),
        ("delete", f"job-labour/{line.pk}/", {}),
        ("patch", f"job-parts/{part.pk}/", {"version": 1, "quantity": "9"}),
        ("delete", f"job-parts/{part.pk}/", {}),
        ("post", f"job-parts/{part.pk}/fit/", {}),
        ("post", f"orders/{ready.pk}/estimates/", {}),
        ("post", f"orders/{ready.pk}/finish/", {}),
    ):
        answer = getattr(client, method)(f"{V1}/{path}", given, format="json")
        refused(answer, 409, "order")
    assert (Job.objects.count(), JobLabour.objects.count(), JobPart.objects.count()) == (1, 1, 1)
    assert not TimeEntry.objects.exists()
    assert not Estimate.objects.exists()


def test_what_a_finished_order_has_sent_is_not_changed_behind_it(
    shop: Shop, owner: Staff, client: Any, ready: RepairOrder
) -> None:
    """Fees, time, what was found, said and answered: everything that a paper of it shows."""
    found = a_finding(shop, owner, ready)
    job, left = season_service(shop, owner, ready, findings=[found.pk]), sharpening(shop, owner, ready)
    fee = post(client, f"jobs/{job.pk}/fees/", {"kind": "disposal", "words": "Oil", "amount": "2"})["fees"][0]
    post(client, f"orders/{ready.pk}/checks/", {"point": "chain_and_bar", "result": "good"})
    estimate = issue_estimate(shop=shop, by=owner, order_id=ready.pk)
    sent = send_estimate(shop=shop, by=owner, estimate_id=estimate.pk)
    answered(shop, owner, estimate, {job.pk: True, left.pk: False})
    done(shop, owner, job)
    entry = job.time_entries.get()
    post(client, f"orders/{ready.pk}/finish/", code=200)
    token = token_in(sent.letter)
    said = [{"job": str(left.pk), "accepted": True}]
    phoned = {**PHONED, "called_at": timezone.now().isoformat(), "said_by": "Imke Dorran", "answers": said}
    by_link = {**shown_by_link(token), "said_by": "Imke Dorran", "answers": said}
    order_version = RepairOrder.objects.get(pk=ready.pk).version

    def kept() -> list[Any]:
        tables = (Job, JobLabour, JobPart, JobFee, TimeEntry, Finding, Check, Answer, Estimate, Letter)
        return [sorted(map(str, table.objects.values_list())) for table in tables]

    before = kept()
    for method, path, given in (
        ("patch", f"orders/{ready.pk}/", {"version": order_version, "complaint": "x"}),
        ("post", f"orders/{ready.pk}/findings/", {"component": "saw_chain", "condition": "dull"}),
        ("patch", f"findings/{found.pk}/", {"version": 1, "note": "x"}),
        ("post", f"orders/{ready.pk}/checks/", {"point": "chain_and_bar", "result": "found", "version": 1}),
        ("patch", f"jobs/{job.pk}/", {"version": 2, "correction": "x"}),
        ("post", f"jobs/{job.pk}/fees/", {"kind": "fee", "words": "w", "amount": "1"}),
        ("delete", f"job-fees/{fee['id']}/", {}),
        ("delete", f"time-entries/{entry.pk}/", {}),
        ("post", f"jobs/{left.pk}/propose-again/", {}),
        ("post", f"estimates/{estimate.pk}/send/", {}),
        ("post", f"estimates/{estimate.pk}/answers/", phoned),
        ("post", f"answer/{token}/", by_link),
    ):
        answer = getattr(client, method)(f"{V1}/{path}", given, format="json")
        assert answer.status_code == 409, (path, answer.content)
        assert all(one["problem"] and one["remedy"] for one in answer.json()["errors"])
    assert kept() == before


def test_two_people_finish_one_job(shop: Shop, owner: Staff, client: Any, ready: RepairOrder) -> None:
    job = sharpening(shop, owner, ready)
    agreed(shop, owner, ready)
    time = {name: moment.isoformat() for name, moment in span(5).items()}
    assert client.post(f"{V1}/jobs/{job.pk}/time/", time, format="json").status_code == 201
    finish = f"{V1}/jobs/{job.pk}/finish/"
    refused(client.post(finish, {"correction": "Sharpened."}, format="json"), 400, "version")
    refused(client.post(finish, {}, format="json"), 400, "version")
    theirs = {"version": 1, "correction": "Chain was worn out: not sharpened."}
    assert client.patch(f"{V1}/jobs/{job.pk}/", theirs, format="json").status_code == 200
    for mine in ({"version": 1}, {"version": 1, "correction": "Sharpened."}):
        stale = client.post(finish, mine, format="json")
        refused(stale, 409, "version")
        assert stale.json()["current_version"] == 2
        assert stale.json()["changed"]["correction"] == "Chain was worn out: not sharpened."
    assert Job.objects.get().state == "agreed"
    assert client.post(finish, {"version": 2}, format="json").json()["state"] == "done"
    again = client.post(finish, {"version": 2}, format="json")
    refused(again, 409, "version")
    assert again.json()["changed"]["state"] == "done"


def test_time_that_cannot_be(shop: Shop, owner: Staff, client: Any, ready: RepairOrder) -> None:
    job = season_service(shop, owner, ready)
    now = timezone.now()
    day = {"started_at": span(25 * 60 + 1)["started_at"].isoformat(), "ended_at": now.isoformat()}
    refused(client.post(f"{V1}/jobs/{job.pk}/time/", day, format="json"), 400, "ended_at")
    backwards = {"started_at": now.isoformat(), "ended_at": span(9)["started_at"].isoformat()}
    refused(client.post(f"{V1}/jobs/{job.pk}/time/", backwards, format="json"), 400, "ended_at")
    refused(client.post(f"{V1}/jobs/{job.pk}/time/", {"started_at": "noon"}, format="json"), 400, "started_at")
    assert not TimeEntry.objects.exists()


def sent_token(shop: Shop, by: Staff, order: RepairOrder) -> tuple[Estimate, str]:
    estimate = send_estimate(shop=shop, by=by, estimate_id=issue_estimate(shop=shop, by=by, order_id=order.pk).pk)
    assert estimate.letter is not None
    return estimate, token_in(estimate.letter)


def test_links_used_twice_replaced_expired_or_made_up(
    shop: Shop, owner: Staff, api: Any, client: Any, ready: RepairOrder
) -> None:
    job = season_service(shop, owner, ready)
    anybody = api(None)
    given = {"said_by": "Imke", "answers": [{"job": str(job.pk), "accepted": True}]}
    first, old = sent_token(shop, owner, ready)
    sharpening(shop, owner, ready)
    _, token = sent_token(shop, owner, ready)
    refused(anybody.get(f"{V1}/answer/{old}/"), 409, "token")
    refused(anybody.post(f"{V1}/answer/{old}/", given, format="json"), 409, "token")
    given |= shown_by_link(token)
    in_person = {**given, "channel": "in_person", "words": "on paper"}
    in_person = {name: value for name, value in in_person.items() if name != "estimate_sha256"}
    refused(client.post(f"{V1}/estimates/{first.pk}/answers/", in_person, format="json"), 409, "estimate")
    refused(anybody.post(f"{V1}/answer/{token}/", given, format="json"), 400, "answers")
    refused(anybody.get(f"{V1}/answer/{'A' * 43}/"), 404, "token")
    refused(anybody.post(f"{V1}/answer/{'A' * 43}/", given, format="json"), 404, "token")
    assert not Answer.objects.exists()
    both = {**given, "answers": [{"job": str(row.pk), "accepted": True} for row in Job.objects.all()]}
    post(anybody, f"answer/{token}/", both, 200)
    refused(anybody.post(f"{V1}/answer/{token}/", both, format="json"), 409, "token")
    assert Answer.objects.count() == 2
    AnswerLink.objects.update(used_at=None, expires_at=timezone.now())
    refused(anybody.get(f"{V1}/answer/{token}/"), 409, "token")


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"answers": [{"job": "JOB", "accepted": "yes"}]}, "answers[0].accepted"),
        ({"answers": [{"job": "JOB", "accepted": 1}]}, "answers[0].accepted"),
        ({"answers": [{"job": "1", "accepted": True}]}, "answers[0].job"),
        ({"answers": [{"job": "JOB"}]}, "answers[0].accepted"),
        ({"answers": {}}, "answers"),
        ({"answers": [{"job": "JOB", "accepted": True}], "said_by": ""}, "said_by"),
        ({"answers": [{"job": "JOB", "accepted": True}], "price": "1"}, "price"),
    ],
)
def test_a_link_takes_only_clear_answers(
    shop: Shop, owner: Staff, api: Any, ready: RepairOrder, given: dict[str, Any], field: str
) -> None:
    job = season_service(shop, owner, ready)
    _, token = sent_token(shop, owner, ready)
    filled = json.loads(json.dumps({"said_by": "Imke", **given}).replace("JOB", str(job.pk)))
    refused(api(None).post(f"{V1}/answer/{token}/", filled, format="json"), 400, field)
    assert not Answer.objects.exists()
    assert AnswerLink.objects.get().used_at is None


def test_another_shop_reaches_nothing(shop: Shop, other_shop: Shop, owner: Staff, api: Any, ready: RepairOrder) -> None:
    job = season_service(shop, owner, ready)
    estimate, token = sent_token(shop, owner, ready)
    stranger = api(Staff.objects.get(shop=other_shop))
    answers = {"channel": "in_person", "said_by": "I", "answers": [{"job": str(job.pk), "accepted": True}]}
    for method, path, given in (
        ("get", f"jobs/{job.pk}/", None),
        ("patch", f"jobs/{job.pk}/", {"version": 1, "title": "x"}),
        ("post", f"jobs/{job.pk}/labour/", {"words": "w", "hours": "0.1"}),
        ("post", f"jobs/{job.pk}/clock-in/", {}),
        ("post", f"job-parts/{job.parts.get().pk}/fit/", {}),
        ("delete", f"job-labour/{job.labour.get().pk}/", {}),
        ("get", f"orders/{ready.pk}/jobs/", None),
        ("post", f"orders/{ready.pk}/jobs/", {"title": "x"}),
        ("get", f"orders/{ready.pk}/estimates/", None),
        ("post", f"orders/{ready.pk}/estimates/", {}),
        ("get", f"estimates/{estimate.pk}/", None),
        ("post", f"estimates/{estimate.pk}/send/", {}),
        ("post", f"estimates/{estimate.pk}/answers/", answers),
        ("post", f"orders/{ready.pk}/invoices/", {}),
        ("post", f"orders/{ready.pk}/finish/", {}),
        ("post", f"orders/{ready.pk}/papers/", {}),
    ):
        answer = getattr(stranger, method)(f"{V1}/{path}", given, format="json")
        assert answer.status_code == 404, (path, answer.content)
    assert stranger.get(f"{V1}/estimates/").json()["results"] == []
    # The link is the customer's: whoever is signed in while using it is not recorded as staff.
    link = {"said_by": "Imke", "answers": answers["answers"], **shown_by_link(token)}
    assert stranger.post(f"{V1}/answer/{token}/", link, format="json").status_code == 200
    answer = Answer.objects.get()
    assert (answer.shop, answer.channel, answer.taken_by) == (shop, "link", None)


def test_roles(
    shop: Shop, owner: Staff, writer: Staff, technician: Staff, office: Staff, api: Any, ready: RepairOrder
) -> None:
    job = season_service(shop, owner, ready)
    estimate = issue_estimate(shop=shop, by=owner, order_id=ready.pk)
    for staff, path in (
        (technician, f"orders/{ready.pk}/estimates/"),
        (office, f"orders/{ready.pk}/estimates/"),
        (technician, f"estimates/{estimate.pk}/send/"),
        (technician, f"estimates/{estimate.pk}/answers/"),
        (technician, f"jobs/{job.pk}/strike/"),
        (technician, f"orders/{ready.pk}/invoices/"),
        (writer, f"jobs/{job.pk}/clock-in/"),
        (office, f"orders/{ready.pk}/jobs/"),
        (None, f"orders/{ready.pk}/jobs/"),
    ):
        answer = api(staff).post(f"{V1}/{path}", {}, format="json")
        assert answer.status_code == (403 if staff else 401), (path, answer.content)
    for staff in (writer, technician, office):
        assert api(staff).get(f"{V1}/estimates/{estimate.pk}/").status_code == 200


def test_an_invoice_is_made_once_and_keeps_no_card_number(
    shop: Shop, owner: Staff, client: Any, ready: RepairOrder
) -> None:
    season_service(shop, owner, ready)
    invoice = invoiced(shop, owner, ready)
    refused(client.post(f"{V1}/orders/{ready.pk}/invoices/", {}, format="json"), 409, "order")
    path = f"{V1}/invoices/{invoice.pk}/payments/"
    card = {"amount": "1.00", "means": "card", "reference": f"no. {CARD}"}
    refused(client.post(path, card, format="json"), 400, "reference")
    for amount in ("0", "-1", "NaN", "1.123456789", "lots", True, "82.701"):
        refused(client.post(path, {"amount": amount, "means": "cash"}, format="json"), 400, "amount")
    refused(client.post(path, {"amount": "82.71", "means": "cash"}, format="json"), 409, "amount")
    assert Invoice.objects.count() == 1
    assert not Payment.objects.exists()
    assert Document.objects.filter(kind="invoice").count() == 1


def test_lists_do_not_ask_once_a_row(
    shop: Shop, owner: Staff, client: Any, ready: RepairOrder, django_assert_max_num_queries: Any
) -> None:
    for _ in range(12):
        season_service(shop, owner, ready)
    issue_estimate(shop=shop, by=owner, order_id=ready.pk)
    with django_assert_max_num_queries(14):
        listed = client.get(f"{V1}/orders/{ready.pk}/jobs/").json()
    assert len(listed["results"]) == 12
    assert Decimal(listed["results"][0]["guide_hours"]) == Decimal("0.8")


HARD: list[tuple[str, Any]] = [
    ("title", "\ud800"), ("title", "a\x00b"), ("title", {}), ("title", None), ("payer", []), ("payer", {"a": 1}),
    ("findings", "x"), ("findings", [None]), ("findings", {"0": 1}), ("labour", [[]]), ("labour", ["x"]), ("parts", 7),
    ("complaint", ["x"]), ("labour", [{"words": "w", "hours": {"a": 1}}]), ("labour", [{"words": "w", "hours": "9" * 2000}]),
    ("parts", [{"words": "w", "unit_price": "1", "causal": "yes"}]), ("parts", [{"words": "w", "unit_price": []}]),
]  # fmt: skip


@pytest.mark.parametrize(("field", "value"), HARD, ids=[f"{field}-{at}" for at, (field, _) in enumerate(HARD)])
def test_json_of_any_shape_is_refused_and_never_breaks_the_door(
    client: Any, ready: RepairOrder, field: str, value: Any
) -> None:
    raw = json.dumps({"title": "x", field: value})
    answer = client.post(f"{V1}/orders/{ready.pk}/jobs/", raw, content_type="application/json")
    assert answer.status_code == 400, answer.content
    assert answer.json()["errors"]
    assert not Job.objects.exists()


@pytest.mark.parametrize(
    "moment",
    ["9999-12-31T23:59:59-12:00", "0001-01-01T00:00:00+12:00", "2026-02-30T10:00:00Z", 5, "", None, "2026-01-01"],
)
def test_moments_at_the_edge_of_the_calendar(
    shop: Shop, owner: Staff, client: Any, ready: RepairOrder, moment: Any
) -> None:
    job = season_service(shop, owner, ready)
    given = {"started_at": moment, "ended_at": timezone.now().isoformat()}
    answer = client.post(f"{V1}/jobs/{job.pk}/time/", given, format="json")
    assert answer.status_code == 400, answer.content
    given = {"ended_at": moment, "started_at": span(9)["started_at"].isoformat()}
    answer = client.post(f"{V1}/jobs/{job.pk}/time/", given, format="json")
    assert answer.status_code == 400, answer.content
    assert not TimeEntry.objects.exists()


@pytest.mark.parametrize(("door", "field"), [("time", "started_at"), ("time", "ended_at"), ("clock-out", "ended_at")])
def test_a_wall_clock_without_its_zone_is_no_moment(
    shop: Shop, owner: Staff, client: Any, ready: RepairOrder, door: str, field: str
) -> None:
    """Taken as UTC it would be hours off, silently."""
    job = season_service(shop, owner, ready)
    worked = span(30, ago=60)
    given = {name: moment.isoformat() for name, moment in worked.items()}
    if door == "clock-out":
        post(client, f"jobs/{job.pk}/clock-in/")
        TimeEntry.objects.update(started_at=worked["started_at"])
        del given["started_at"]
    path = f"jobs/{job.pk}/{door}/"
    bare = {**given, field: worked[field].replace(tzinfo=None).isoformat()}
    (told,) = refused(client.post(f"{V1}/{path}", bare, format="json"), 400, field)["errors"]
    assert "no time zone" in told["problem"] and "-06:00" in told["remedy"]
    assert not TimeEntry.objects.filter(ended_at__isnull=False).exists()
    central = worked[field].astimezone(dt.timezone(dt.timedelta(hours=-6))).isoformat()
    post(client, path, {**given, field: central}, 201 if door == "time" else 200)
    assert getattr(TimeEntry.objects.get(), field) == worked[field]


@pytest.mark.parametrize(
    "path", ["answer/%00/", "answer/%ED%A0%80/", "answer/..%2F..%2Fx/", "answer/" + "x" * 3000 + "/"]
)
def test_a_strange_secret_is_only_unknown(api: Any, db: None, path: str) -> None:
    assert api(None).get(f"{V1}/{path}").status_code == 404
