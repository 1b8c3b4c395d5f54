"""Before a machine leaves: safety notes that must be signed; and machines that stay: reminders and storage, over HTTP."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from fractions import Fraction
from io import BytesIO
from typing import Any

import pytest
from django.utils import timezone
from pypdf import PdfReader

from orders.models import Customer, Hold, Invoice, Job, RepairOrder, SafetyNote, Signature
from orders.services.estimates import issue_estimate
from orders.services.finishing import finish_order
from orders.services.invoices import issue_invoice
from orders.services.order_sheet import repair_order_sheet
from orders.services.splits import set_split
from shopdocs.documents.models import Document, Letter
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.shops.models import Shop, Staff, TaxRate
from tests.orders.api.test_answers import V1, fields, post, signature
from tests.orders.back_kit import (
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
)
from tests.orders.figures_kit import USD, every_figure
from tests.orders.rules.test_pricing_anew import nearest
from tests.papers_reading import words_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def declined(shop: Shop, owner: Staff, order: RepairOrder) -> Job:
    """A job for a leak, declined; another one done; the order finished and its hold released."""
    set_rates(shop)
    arrived_earlier(order)
    found = a_finding(shop, owner, order, unsafe=True, note="drips")
    leak = season_service(shop, owner, order, title="Fuel line", findings=[found.pk], if_not="It may burn.")
    chain = sharpening(shop, owner, order)
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    answered(shop, owner, estimate, {leak.pk: False, chain.pk: True})
    done(shop, owner, Job.objects.get(pk=chain.pk))
    finish_order(shop=shop, by=owner, order_id=order.pk)
    Hold.objects.update(released_at=timezone.now())
    return Job.objects.get(pk=leak.pk)


def test_a_declined_unsafe_job_is_signed_off_before_the_machine_leaves(
    shop: Shop, owner: Staff, order: RepairOrder, declined: Job, client: Any
) -> None:
    back, path = f"orders/{order.pk}/give-back/", f"jobs/{declined.pk}/safety-note/"
    assert fields(client, back, {"given_to": "Imke Dorran"}, 409) == ["safety_note"]
    told = client.get(f"{V1}/{path}").json()
    assert told["needed"] is True and told["signed_at"] is None
    for said in ("Fuel line: cracked", "drips", "It may burn.", "not safe to run", "job 1, Fuel line"):
        assert said in told["words"], said
    assert fields(client, path, {"signed_name": "Imke Dorran"}, 400) == ["signature"]
    assert fields(client, path, {"signed_name": owner.user.shown_name, "kept": "folder 3"}, 400) == ["signed_name"]
    assert fields(client, back, {"given_to": "Imke Dorran"}, 409) == ["safety_note"]
    drawn = signature(client)
    note = post(client, path, {"signed_name": "Imke Dorran", "signature": drawn["id"]}, 201)
    assert (note["needed"], note["signed_name"], note["signature"]) == (False, "Imke Dorran", drawn["id"])
    assert note["words"] == told["words"] == SafetyNote.objects.get().words
    assert fields(client, path, {"signed_name": "Imke Dorran", "kept": "folder 3"}, 409) == ["job"]
    (line,) = [job for job in repair_order_sheet(RepairOrder.objects.get(pk=order.pk)).jobs if job.safety]
    assert "not safe to run" in line.safety and "Signed: Imke Dorran" in line.safety
    sheet = to_json(repair_order_sheet(RepairOrder.objects.get(pk=order.pk)))
    pdf = draw_sheet(shop, "repair_order", sheet).pdf
    (page,) = [page for page in PdfReader(BytesIO(pdf)).pages if "Imke Dorran, " in page.extract_text() and page.images]
    assert "Signature · Imke Dorran" in page.extract_text()
    ((alone,),) = [[job for job in sheet["jobs"] if job["safety_signed"]]]
    assert alone["safety_signed"]["sha256"] == Signature.objects.get(pk=drawn["id"]).file.sha256
    post(client, back, {"given_to": "Imke Dorran"})


@pytest.mark.parametrize("worse", ["condition", "if_not"])
def test_a_danger_that_was_not_told_yet_is_signed_anew(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any, worse: str
) -> None:
    """The machine leaves on words that name the danger as it is, not on those that were signed before it grew."""
    set_rates(shop)
    found = a_finding(shop, owner, order, unsafe=True, note="drips")
    leak = season_service(shop, owner, order, title="Fuel line", findings=[found.pk], if_not="It may burn.")
    answered(shop, owner, issue_estimate(shop=shop, by=owner, order_id=order.pk), {leak.pk: False})
    path, back = f"jobs/{leak.pk}/safety-note/", f"orders/{order.pk}/give-back/"
    signed = {"signed_name": "Imke Dorran", "kept": "folder 3"}
    post(client, path, signed, 201)
    if worse == "condition":
        client.patch(f"{V1}/findings/{found.pk}/", {"version": found.version, "condition": "broken"}, format="json")
    else:
        post(client, f"jobs/{leak.pk}/propose-again/", {})
        changed = {"version": Job.objects.get(pk=leak.pk).version, "if_not": "The tank may burst."}
        client.patch(f"{V1}/jobs/{leak.pk}/", changed, format="json")
        answered(shop, owner, issue_estimate(shop=shop, by=owner, order_id=order.pk), {leak.pk: False})
    finish_order(shop=shop, by=owner, order_id=order.pk)
    Hold.objects.update(released_at=timezone.now())
    told = client.get(f"{V1}/{path}").json()
    assert told["needed"] is True and told["signed_at"] is None
    assert ("Fuel line: broken" if worse == "condition" else "The tank may burst.") in told["words"]
    assert fields(client, back, {"given_to": "Imke Dorran"}, 409) == ["safety_note"]
    sheet = repair_order_sheet(RepairOrder.objects.get(pk=order.pk))
    assert [job.safety for job in sheet.jobs] == [""]
    post(client, path, {**signed, "kept": "folder 4"}, 201)
    assert fields(client, path, signed, 409) == ["job"]
    assert SafetyNote.objects.count() == 2  # what was signed before stays
    (job,) = repair_order_sheet(RepairOrder.objects.get(pk=order.pk)).jobs
    assert "(folder 4)" in job.safety and "(folder 3)" not in job.safety
    post(client, back, {"given_to": "Imke Dorran"})


@pytest.mark.parametrize("again", [False, True])
def test_a_declined_unsafe_job_that_is_struck_is_signed_off_all_the_same(
    shop: Shop, owner: Staff, order: RepairOrder, client: Any, again: bool
) -> None:
    set_rates(shop)
    found = a_finding(shop, owner, order, unsafe=True)
    leak = season_service(shop, owner, order, title="Fuel line", findings=[found.pk])
    other = season_service(shop, owner, order, title="Never answered", findings=[found.pk], share_findings=True)
    answered(shop, owner, issue_estimate(shop=shop, by=owner, order_id=order.pk), {leak.pk: False})
    if again:
        post(client, f"jobs/{leak.pk}/propose-again/", {"share_findings": True})
    for job in (leak, other):
        post(client, f"jobs/{job.pk}/strike/", {"reason": "not wanted"})
    finish_order(shop=shop, by=owner, order_id=order.pk)
    Hold.objects.update(released_at=timezone.now())
    back, note = f"orders/{order.pk}/give-back/", {"signed_name": "Imke Dorran", "kept": "folder 3"}
    assert fields(client, back, {"given_to": "Imke Dorran"}, 409) == ["safety_note"]
    assert fields(client, f"jobs/{other.pk}/safety-note/", note, 409) == ["job"]  # nobody declined it
    post(client, f"jobs/{leak.pk}/safety-note/", note, 201)
    told = [job.safety for job in repair_order_sheet(RepairOrder.objects.get(pk=order.pk)).jobs]
    assert "not safe to run" in told[0] and told[1] == ""
    post(client, back, {"given_to": "Imke Dorran"})


def test_other_jobs_need_no_safety_note(
    shop: Shop, other_shop: Shop, owner: Staff, order: RepairOrder, declined: Job, client: Any, api: Any
) -> None:
    chain = Job.objects.get(number=2)
    assert client.get(f"{V1}/jobs/{chain.pk}/safety-note/").json()["needed"] is False
    given = {"signed_name": "Imke Dorran", "kept": "folder 3"}
    assert fields(client, f"jobs/{chain.pk}/safety-note/", given, 409) == ["job"]
    stranger = api(Staff.objects.get(shop=other_shop))
    assert stranger.post(f"{V1}/jobs/{declined.pk}/safety-note/", given, format="json").status_code == 404
    # What another job has mended leaves nothing to sign.
    chain.findings.add(*declined.findings.all())
    assert client.get(f"{V1}/jobs/{declined.pk}/safety-note/").json()["needed"] is False
    post(client, f"orders/{order.pk}/give-back/", {"given_to": "Imke Dorran"})


@pytest.fixture
def storage(shop: Shop, client: Any) -> None:
    """Ten days free, then 2.50 a day, and only after notice: set at the shop's own door."""
    set_rates(shop)
    Customer.objects.update(email="imke@example.com")
    terms = {"version": shop.version, "storage_free_days": 10, "storage_per_day": "2.50", "own_overrun_percent": "0"}
    told = client.patch(f"{V1}/shop/", terms, format="json").json()
    assert (told["storage_free_days"], told["storage_per_day"], told["storage_after_notice"]) == (10, "2.500", True)


def finished_days_ago(order: RepairOrder, days: int) -> None:
    by_the_wall = timezone.now().astimezone(order.shop.zone) - dt.timedelta(
        days=days
    )  # whatever the clocks did between
    RepairOrder.objects.filter(pk=order.pk).update(finished_at=by_the_wall)


def told_days_ago(days: int) -> None:
    Letter.objects.filter(kind="pickup_reminder").update(state="done", done_at=timezone.now() - dt.timedelta(days=days))


def test_reminded_then_charged_by_an_act_and_never_by_itself(
    shop: Shop, owner: Staff, order: RepairOrder, storage: None, client: Any
) -> None:
    season_service(shop, owner, RepairOrder.objects.get(pk=order.pk))
    invoiced(Shop.objects.get(pk=shop.pk), owner, RepairOrder.objects.get(pk=order.pk))
    finished_days_ago(order, 30)
    TaxRate.objects.create(
        shop=shop, name="Fee tax", percent=Decimal("10"), on_kinds=["fee"], on_payers=["customer"],
        starts_on=dt.date(2020, 1, 1),
    )  # fmt: skip
    (one,) = client.get(f"{V1}/not-picked-up/").json()
    assert (one["number"], one["days"], one["notices"], one["storage"]["days"]) == (order.number, 30, [], 0)
    assert "No notice was given" in one["storage"]["why"]
    assert "set by the law of OH, US" in one["law"] and "ask a lawyer" in one["law"]
    charge = f"orders/{order.pk}/storage-charge/"
    assert fields(client, charge, {"note": "long enough"}, 409) == ["storage"]
    post(client, f"orders/{order.pk}/pickup-reminder/", {})
    letter = Letter.objects.get(kind="pickup_reminder")
    for said in ("Imke Dorran", order.number, "$2.50 a day", "no notice of a lien", "Willow Power Equipment"):
        assert said in letter.body, said
    assert client.get(f"{V1}/not-picked-up/").json()[0]["notices"] == []  # it has not gone out yet
    told_days_ago(4)
    (one,) = client.get(f"{V1}/not-picked-up/").json()
    assert (one["storage"]["days"], one["storage"]["amount"]) == (4, "10.00")
    assert Invoice.objects.count() == 1  # nothing was charged by looking
    assert fields(client, charge, {"note": " "}, 400) == ["note"]
    bill = post(client, charge, {"note": "told on the day, not fetched"}, 201)
    assert bill["total"] == "11.00"
    paper = Document.objects.filter(kind="invoice").latest("created_at")
    text = words_of(draw_sheet(shop, "invoice", paper.sheet).pdf)
    assert "Storage, 4 days from" in text and "as our estimate said" in text and "11.00" in text
    # Each day is billed once, and the order's own invoice stays the order's own.
    assert fields(client, charge, {"note": "again"}, 409) == ["storage"]
    assert fields(client, f"orders/{order.pk}/invoices/", {}, 409) == ["order"]


def test_storage_of_parts_of_a_cent_is_told_and_done_again_on_every_bill(
    shop: Shop, owner: Staff, order: RepairOrder, storage: None, client: Any
) -> None:
    """A day at 2.333: all days are rounded once, so 4 days are 9.33, and a fifth billed later is 11.67 - 9.33."""
    Shop.objects.update(storage_per_day=Decimal("2.333"), storage_after_notice=False)
    fresh, mine = Shop.objects.get(pk=shop.pk), RepairOrder.objects.get(pk=order.pk)
    season_service(fresh, owner, mine)
    invoiced(fresh, owner, mine)
    TaxRate.objects.create(
        shop=shop, name="Fee tax", percent=Decimal("7.125"), on_kinds=["fee"], on_payers=["customer"],
        starts_on=dt.date(2020, 1, 1),
    )  # fmt: skip
    before = 0
    for until in (4, 5, 12):
        finished_days_ago(order, 10 + until)
        for earlier in Invoice.objects.filter(facts__has_key="storage"):  # what was billed has aged with the work
            earlier.facts["storage"]["until"] = str(shop.today() - dt.timedelta(days=until - before))
            earlier.save()
        bill = post(client, f"orders/{order.pk}/storage-charge/", {"note": "not fetched"}, 201)
        net = nearest(Fraction("233.3") * until) - nearest(Fraction("233.3") * before)
        total = Decimal(net + nearest(Fraction(net * 7125, 100_000))) / 100
        told = client.get(f"{V1}/invoices/{bill['id']}/how/").json()
        facts = Invoice.objects.get(pk=bill["id"]).facts
        every_figure(facts, told, USD, least=10)
        assert (facts["net"], facts["total"]) == (f"{Decimal(net) / 100:.2f}", f"{total:.2f}"), until
        before = until


def test_told_by_telephone_is_notice_too(
    shop: Shop, owner: Staff, order: RepairOrder, storage: None, client: Any
) -> None:
    season_service(shop, owner, RepairOrder.objects.get(pk=order.pk))
    invoiced(Shop.objects.get(pk=shop.pk), owner, RepairOrder.objects.get(pk=order.pk))
    finished_days_ago(order, 30)
    path = f"orders/{order.pk}/pickup-told/"
    assert fields(client, path, {"channel": "phone", "said_by": "Imke"}, 400) == [
        "phone_number",
        "called_at",
        "read_back",
    ]
    called = {**PHONED, "said_by": "Imke Dorran", "called_at": timezone.now().isoformat()}
    stands = post(client, path, called)
    assert stands["notices"] == [str(shop.today())]
    assert stands["storage"]["days"] == 0 and "Nothing is charged before" in stands["storage"]["why"]


def test_what_was_not_told_beforehand_is_not_charged(shop: Shop, owner: Staff, order: RepairOrder, client: Any) -> None:
    set_rates(shop)
    season_service(shop, owner, order)
    invoiced(shop, owner, order)
    finished_days_ago(order, 90)
    # Terms that come after the answer were never agreed to.
    Shop.objects.update(storage_free_days=1, storage_per_day=Decimal("9.00"), storage_after_notice=False)
    (one,) = client.get(f"{V1}/not-picked-up/").json()
    assert (one["days"], one["storage"]["days"]) == (90, 0)
    assert "No storage terms were told" in one["storage"]["why"]
    assert fields(client, f"orders/{order.pk}/storage-charge/", {"note": "x"}, 409) == ["storage"]


def test_storage_waits_for_the_works_own_invoice(
    shop: Shop, owner: Staff, order: RepairOrder, storage: None, client: Any
) -> None:
    Shop.objects.update(storage_after_notice=False)
    fresh, mine = Shop.objects.get(pk=shop.pk), RepairOrder.objects.get(pk=order.pk)
    job = season_service(fresh, owner, mine)
    arrived_earlier(mine)
    estimate = agreed(fresh, owner, mine)
    assert estimate.document is not None
    text = words_of(draw_sheet(fresh, "estimate", estimate.document.sheet).pdf)
    assert "costs $2.50 of storage a day, later than 10 days after the work is finished" in text
    done(fresh, owner, Job.objects.get(pk=job.pk))
    finish_order(shop=fresh, by=owner, order_id=order.pk)
    finished_days_ago(order, 12)
    charge = f"orders/{order.pk}/storage-charge/"
    assert fields(client, charge, {"note": "x"}, 409) == ["order"]
    issue_invoice(shop=fresh, by=owner, order_id=order.pk)
    assert post(client, charge, {"note": "x"}, 201)["total"] == "5.00"


@pytest.mark.parametrize(
    "who",
    [
        {"shares": [{"payer": "customer", "amount": Decimal("30.00")}, {"payer": "goodwill"}]},
        {"payer_of": {"part": "customer"}},
    ],
)
def test_storage_waits_for_the_customers_share_of_the_work_too(
    shop: Shop, owner: Staff, order: RepairOrder, storage: None, client: Any, who: dict[str, Any]
) -> None:
    Shop.objects.update(storage_after_notice=False)
    fresh, mine = Shop.objects.get(pk=shop.pk), RepairOrder.objects.get(pk=order.pk)
    job = season_service(fresh, owner, mine, payer="goodwill")
    set_split(shop=fresh, by=owner, job_id=job.pk, version=job.version, **who)
    arrived_earlier(mine)
    agreed(fresh, owner, mine)
    done(fresh, owner, Job.objects.get(pk=job.pk))
    finish_order(shop=fresh, by=owner, order_id=order.pk)
    finished_days_ago(order, 12)
    charge = f"orders/{order.pk}/storage-charge/"
    assert fields(client, charge, {"note": "x"}, 409) == ["order"]
    assert not Invoice.objects.exists()
    issue_invoice(shop=fresh, by=owner, order_id=order.pk)
    assert post(client, charge, {"note": "x"}, 201)["total"] == "5.00"


def test_a_deposit_counts_on_a_bill_that_is_storage_alone(
    shop: Shop, owner: Staff, order: RepairOrder, storage: None, client: Any
) -> None:
    Shop.objects.update(storage_after_notice=False)
    fresh, mine = Shop.objects.get(pk=shop.pk), RepairOrder.objects.get(pk=order.pk)
    post(client, f"orders/{order.pk}/deposits/", {"amount": "8.00", "means": "cash"}, 201)
    job = season_service(fresh, owner, mine, payer="goodwill")
    arrived_earlier(mine)
    agreed(fresh, owner, mine)
    done(fresh, owner, Job.objects.get(pk=job.pk))
    finish_order(shop=fresh, by=owner, order_id=order.pk)
    finished_days_ago(order, 12)
    bill = post(client, f"orders/{order.pk}/storage-charge/", {"note": "x"}, 201)
    shown = client.get(f"{V1}/invoices/{bill['id']}/").json()
    assert (shown["total"], shown["paid"], shown["balance"], shown["facts"]["due"]) == (
        "5.00",
        "8.00",
        "-3.00",
        "-3.00",
    )
    back = {"amount": "3.00", "means": "cash", "why": "more than storage came to"}
    assert post(client, f"invoices/{bill['id']}/refunds/", back, 201)["balance"] == "0.00"


def test_only_finished_machines_of_the_own_shop_wait(
    shop: Shop, other_shop: Shop, owner: Staff, order: RepairOrder, client: Any, api: Any
) -> None:
    another_order(shop, owner, order)
    assert client.get(f"{V1}/not-picked-up/").json() == []
    for path in ("pickup-reminder", "pickup-told", "storage-charge"):
        body = {"note": "x"} if path == "storage-charge" else {}
        body = {"channel": "in_person", "said_by": "I", "words": "here"} if path == "pickup-told" else body
        assert fields(client, f"orders/{order.pk}/{path}/", body, 409) == ["state"]
        stranger = api(Staff.objects.get(shop=other_shop))
        assert stranger.post(f"{V1}/orders/{order.pk}/{path}/", body, format="json").status_code == 404
    for terms in ({"storage_per_day": "-1"}, {"storage_free_days": -1}, {"storage_per_day": "NaN"}):
        assert client.patch(f"{V1}/shop/", {"version": shop.version, **terms}, format="json").status_code == 400
