"""What the customer is shown to decide by: reasons, photos, ways to choose from, and what the law wants on the paper."""

from __future__ import annotations

import hashlib
from decimal import Decimal
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from orders.models import Answer, Customer, Estimate, EstimateOption, Job, RepairOrder
from orders.services.estimates import issue_estimate, send_estimate
from orders.services.jobs import set_payer_basis
from orders.services.lines import add_part
from orders.services.order_sheet import repair_order_sheet
from orders.services.sheets import estimate_sheet
from shopdocs.documents.models import Document
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.press.values import sentence
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.documents.services.photos import take_in_photo
from shopdocs.shops.models import Shop, Staff
from tests.orders.api.test_answers import V1, by_link, fields, post
from tests.orders.back_kit import a_finding, another_order, season_service, set_rates, sharpening, shown_by_link
from tests.papers_reading import words_of
from tests.papers_samples import picture

pytestmark = pytest.mark.django_db
WEAR = {"labour": [{"words": "Fit bar", "hours": "0.2"}], "parts": [{"words": "Bar", "unit_price": "30.00"}]}


@pytest.fixture
def job(shop: Shop, owner: Staff, order: RepairOrder) -> Job:
    set_rates(shop)
    Customer.objects.update(email="imke@example.com")
    return season_service(shop, owner, order)


def paper(estimate: Estimate) -> str:
    assert estimate.document is not None
    return words_of(draw_sheet(estimate.shop, "estimate", estimate.document.sheet).pdf)


def test_a_job_tells_what_was_found_why_now_and_what_if_not(
    shop: Shop, other_shop: Shop, owner: Staff, technician: Staff, order: RepairOrder, client: Any, api: Any, job: Job
) -> None:
    found = a_finding(shop, owner, order, unsafe=True, note="wet at the bend")
    seen = take_in_photo(
        shop=shop, by=technician, data=picture("leak")[1], name="leak.jpg", subject=order.subject, about=found.subject,
        moment="before", caption="Leak at the bend",
    )  # fmt: skip
    other = take_in_photo(
        shop=shop, by=technician, data=picture("saw")[1], name="saw.jpg", subject=order.subject, moment="check_in"
    )
    told = {
        "why_now": "The hose is wet and sits beside the muffler.",
        "if_not": "Fuel may drip on the hot muffler and burn.",
    }
    made = post(api(technician), f"orders/{order.pk}/jobs/", {"findings": [str(found.pk)], **told}, 201)
    assert (made["why_now"], made["if_not"]) == (told["why_now"], told["if_not"])
    changed = post_patch(client, f"jobs/{made['id']}/", {"version": made["version"], "if_not": "It may burn."})
    assert changed["if_not"] == "It may burn."
    token = by_link(shop, owner, order)
    estimate = Estimate.objects.get()
    frozen = api(None).get(f"{V1}/answer/{token}/").json()["estimate"]["jobs"][1]
    assert (frozen["why_now"], frozen["if_not"], frozen["unsafe"]) == (told["why_now"], "It may burn.", True)
    assert [one["sha256"] for one in frozen["photos"]] == [seen.original.sha256]
    text = paper(estimate)
    for said in (
        "Why now",
        told["why_now"],
        "If it is not done",
        "It may burn.",
        "Leak at the bend",
        "wet at the bend",
    ):
        assert said in text, said
    assert "Do not run the machine like this." in text

    photo = api(None).get(f"{V1}/answer/{token}/photos/{seen.original.sha256}/")
    assert photo.status_code == 200 and photo["Cache-Control"] == "no-store"
    assert photo.content.startswith(b"\xff\xd8\xff")
    page = api(None).get(f"{V1}/answer/{token}/", headers={"Accept": "text/html"}).content.decode()
    for said in (f'src="photos/{seen.original.sha256}/"', "Do not run the machine like this.", "Leak at the bend"):
        assert said in page, said
    shown = {"Accept": "image/avif,image/webp,image/*,*/*;q=0.8"}  # as a browser asks for it
    assert api(None).get(f"{V1}/answer/{token}/photos/{seen.original.sha256}/", headers=shown).status_code == 200
    for wrong in (other.original.sha256, "0" * 64, "x"):
        assert api(None).get(f"{V1}/answer/{token}/photos/{wrong}/").status_code == 404
    assert api(None).get(f"{V1}/answer/{'A' * 43}/photos/{seen.original.sha256}/").status_code == 404


def post_patch(client: Any, path: str, data: Any) -> Any:
    answer = client.patch(f"{V1}/{path}", data, format="json")
    assert answer.status_code == 200, answer.content
    return answer.json()


@pytest.fixture
def ways(shop: Shop, owner: Staff, order: RepairOrder, job: Job, client: Any) -> dict[str, str]:
    """Repair (job 1), repair with the bar (jobs 1 and 2), or a new machine; job 3 belongs to none of them."""
    bar = post(client, f"orders/{order.pk}/jobs/", {"title": "Bar", **WEAR}, 201)
    sharpening(shop, owner, order)
    path = f"orders/{order.pk}/options/"
    given: list[dict[str, Any]] = [
        {"name": "Repair", "jobs": [str(job.pk)], "value_after": "120.00"},
        {
            "name": "Repair and bar",
            "kind": "repair_and_wear",
            "jobs": [str(job.pk), bar["id"]],
            "value_after": "150.00",
        },
        {"name": "New machine", "kind": "replace", "price_new": "399.00", "note": "We take the old one."},
    ]
    return {one["name"]: post(client, path, {"group": "The saw", **one}, 201)["id"] for one in given}


def test_ways_to_choose_from_are_frozen_priced_and_drawn(
    shop: Shop, owner: Staff, order: RepairOrder, ways: dict[str, str], client: Any
) -> None:
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    (group,) = estimate.facts["options"]
    told = {one["name"]: one for one in group["options"]}
    # 82.70 as ever; the bar 0.2 h x 95.00 + 30.00 = 49.00, 7.25 % of 30.00 + 6.25 = 2.63 in one sum: 133.88.
    assert {name: one["customer_total"] for name, one in told.items()} == {
        "Repair": "82.70", "Repair and bar": "133.88", "New machine": "0.00",
    }  # fmt: skip
    assert told["Repair and bar"]["numbers"] == [1, 2]
    assert (told["Repair"]["value_after"], told["New machine"]["price_new"]) == ("120.00", "399.00")
    assert told["Repair"]["price_new"] is None
    text = paper(estimate)
    for said in ("To choose from", "The saw", "133.88", "150.00", "399.00", "We take the old one.", "not known"):
        assert said in text, said
    # Withdrawn ones leave the next version; with one way left there is nothing to choose.
    post(client, f"options/{ways['New machine']}/withdraw/", {})
    assert fields(client, f"options/{ways['New machine']}/withdraw/", {}, 409) == ["request"]
    again = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert [one["name"] for one in again.facts["options"][0]["options"]] == ["Repair", "Repair and bar"]
    post(client, f"options/{ways['Repair']}/withdraw/", {})
    assert issue_estimate(shop=shop, by=owner, order_id=order.pk).facts["options"] == []


def test_a_job_belongs_to_one_choice(shop: Shop, owner: Staff, order: RepairOrder, client: Any, api: Any) -> None:
    set_rates(shop)
    Customer.objects.update(email="imke@example.com")
    first, other = season_service(shop, owner, order), sharpening(shop, owner, order)
    path = f"orders/{order.pk}/options/"
    with_it = post(client, path, {"group": "A", "name": "With", "jobs": [str(first.pk)]}, 201)["id"]
    post(client, path, {"group": "A", "name": "Without"}, 201)
    second = {"group": "B", "name": "Both", "jobs": [str(other.pk), str(first.pk)]}
    assert fields(client, path, second, 409) == ["jobs"]
    both = post(client, path, {**second, "jobs": [str(other.pk)]}, 201)["id"]
    alone = post(client, path, {"group": "B", "name": "Alone", "jobs": [str(other.pk)]}, 201)["id"]
    EstimateOption.objects.get(pk=both).jobs.add(first)  # as a version from before this was refused may hold it
    token = by_link(shop, owner, order)
    said = {"said_by": "Imke Dorran", "answers": [], **shown_by_link(token)}
    assert fields(api(None), f"answer/{token}/", {**said, "options": [with_it, alone]}, 400) == ["options"]
    assert fields(api(None), f"answer/{token}/", {**said, "options": [alone, with_it]}, 400) == ["options"]
    assert not Answer.objects.exists()
    post(api(None), f"answer/{token}/", {**said, "options": [with_it, both]})
    assert {job.state for job in Job.objects.all()} == {"agreed"}


def test_choosing_one_way_accepts_its_jobs_and_declines_the_others(
    shop: Shop, owner: Staff, order: RepairOrder, ways: dict[str, str], api: Any
) -> None:
    token = by_link(shop, owner, order)
    one, bar, alone = (str(job.pk) for job in Job.objects.order_by("number"))
    path, base = f"answer/{token}/", {"said_by": "Imke Dorran", **shown_by_link(token)}
    own = [{"job": alone, "accepted": True}]
    assert fields(api(None), path, {**base, "answers": own}, 400) == ["answers"]
    both = [ways["Repair"], ways["New machine"]]
    assert fields(api(None), path, {**base, "answers": own, "options": both}, 400) == ["options[1]"]
    assert fields(api(None), path, {**base, "answers": own, "options": [alone]}, 400) == ["options[0]"]
    singly = [*own, {"job": bar, "accepted": True}]
    assert fields(api(None), path, {**base, "answers": singly}, 400) == ["answers[1].job"]
    against = {**base, "answers": singly, "options": [ways["Repair"]]}
    assert fields(api(None), path, against, 400) == ["answers[1].accepted"]
    assert not Answer.objects.exists()
    post(api(None), path, {**base, "answers": own, "options": [ways["Repair"]]})
    assert [job.state for job in Job.objects.order_by("number")] == ["agreed", "declined", "agreed"]
    said = {str(row.job_id): row for row in Answer.objects.all()}
    assert str(said[one].option_id) == str(said[bar].option_id) == ways["Repair"] and said[alone].option_id is None
    assert said[one].agreed_words.startswith("I choose 'Repair' (The saw): only these of its jobs are to be done: 1.")
    assert "leave job 2, Bar" in said[bar].agreed_words


def test_a_new_machine_declines_every_job_of_the_choice(
    shop: Shop, owner: Staff, order: RepairOrder, ways: dict[str, str], client: Any
) -> None:
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    given = {
        "channel": "in_person", "said_by": "Imke", "words": "on paper", "answers": [], "options": [ways["New machine"]],
    }  # fmt: skip
    post(client, f"estimates/{estimate.pk}/answers/", given)
    assert [job.state for job in Job.objects.order_by("number")] == ["declined", "declined", "proposed"]
    assert fields(client, f"estimates/{estimate.pk}/answers/", given, 409) == ["answers[0].job", "answers[1].job"]


def test_ways_that_are_none_are_refused(
    shop: Shop, other_shop: Shop, owner: Staff, order: RepairOrder, ways: dict[str, str], client: Any, api: Any
) -> None:
    path = f"orders/{order.pk}/options/"
    foreign = season_service(shop, owner, another_order(shop, owner, order))
    good = {"group": "The saw", "name": "Else"}
    for changes, field in (
        ({"jobs": [str(foreign.pk)]}, "jobs"), ({"value_after": "-1"}, "value_after"), ({"price_new": "1e400"}, "price_new"),
        ({"price_new": "NaN"}, "price_new"), ({"kind": "burn"}, "kind"), ({"name": ""}, "name"), ({"more": 1}, "more"),
        ({"value_after": "1.001"}, "value_after"),
    ):  # fmt: skip
        assert fields(client, path, {**good, **changes}, 400)[0].startswith(field), changes
    assert fields(client, path, {**good, "name": "Repair"}, 409) == ["name"]
    stranger = api(Staff.objects.get(shop=other_shop))
    assert stranger.get(f"{V1}/{path}").status_code == 404
    assert stranger.post(f"{V1}/options/{ways['Repair']}/withdraw/").status_code == 404
    assert len(client.get(f"{V1}/{path}").json()["results"]) == 3


def test_what_the_law_wants_is_drawn_on_estimate_and_repair_order(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job
) -> None:
    Customer.objects.update(phone="555-0177")
    fresh = RepairOrder.objects.get(pk=order.pk)

    def repair_order() -> str:
        return words_of(draw_sheet(shop, "repair_order", to_json(repair_order_sheet(fresh))).pdf)

    # Ohio's form at first contact: before there is any estimate the cost is a line to fill in.
    first = repair_order()
    for said in ("By law", "Reasonably expected completion date", "in writing", "oral", "OAC 109:4-3-05", "555-0177"):
        assert said in first, said
    assert "Anticipated cost ____" in first
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    text = paper(estimate)
    assert "By law" in text and "Anticipated cost $82.70" in text and "10 % over the estimate" in text
    assert "Anticipated cost $82.70" in repair_order()
    # Minnesota and D.C. speak of the written estimate only; other states, and a crew's saw, are not bound.
    add_part(shop=shop, by=owner, job_id=job.pk, words="Fuel filter", unit_price=Decimal(20))  # Minnesota: above 100
    for region, estimate_says in (("MN", "Minn. Stat. 325F.56"), ("DC", "16 DCMR 633.2"), ("CA", ""), ("FL", "")):
        Shop.objects.update(region=region)
        fresh = RepairOrder.objects.get(pk=order.pk)
        text = paper(issue_estimate(shop=Shop.objects.get(pk=shop.pk), by=owner, order_id=order.pk))
        assert ("By law" in text) is bool(estimate_says) and estimate_says in text
        assert "By law" not in repair_order()
    Shop.objects.update(region="OH")
    Customer.objects.update(kind="crew")
    fresh = RepairOrder.objects.get(pk=order.pk)
    assert "By law" not in repair_order()


@pytest.mark.parametrize(("region", "names"), [("OH", 6), ("MN", 3), ("DC", 11)])
def test_what_the_law_wants_is_said_in_the_readers_language_and_tells_nothing_of_how_it_was_looked_up(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job, region: str, names: int
) -> None:
    Customer.objects.update(phone="555-0177", language="es")
    Shop.objects.update(region=region)
    add_part(shop=shop, by=owner, job_id=job.pk, words="Fuel filter", unit_price=Decimal(20))
    fresh = RepairOrder.objects.get(pk=order.pk)
    estimate = issue_estimate(shop=Shop.objects.get(pk=shop.pk), by=owner, order_id=order.pk)
    sheets = [repair_order_sheet(fresh), estimate_sheet(estimate.facts)]
    assert [len(sheet.legal) for sheet in sheets] == [region == "OH", 1]
    (law,) = sheets[1].legal
    assert len(law.fields) == names
    seen = estimate.facts["legal_fields"][0]
    assert seen["seen"].startswith("read") and "read" in seen["limit_seen"]
    for sheet in sheets:
        text = words_of(draw_sheet(shop, "estimate" if sheet is sheets[1] else "repair_order", to_json(sheet)).pdf)
        assert ("Según la ley" in text) is bool(sheet.legal)
        for told in ("(read", "summary", "summarised", "was seen", "over the estimate", "line by line"):
            assert told not in text, told
        listed = [one["name"] for one in seen["fields"] if not one.get("drawn")]
        for field, name in zip(sheet.legal[0].fields if sheet.legal else (), listed, strict=False):
            assert (field.name != name or field.name == "total") and sentence(field.name) in text
    assert law.limit.endswith(" % más que el presupuesto" if region != "DC" else "este presupuesto")


def test_the_photos_of_a_job_are_the_ones_drawn(
    shop: Shop, owner: Staff, technician: Staff, order: RepairOrder, job: Job
) -> None:
    found = a_finding(shop, owner, order)
    for at in range(5):
        take_in_photo(
            shop=shop, by=technician, data=picture(f"shot {at}")[1], name="p.jpg", subject=order.subject,
            about=found.subject, moment="before", caption=f"shot {at}",
        )  # fmt: skip
    job.findings.add(found)
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert [one["caption"] for one in estimate.facts["jobs"][0]["photos"]] == ["shot 0", "shot 1", "shot 2"]
    assert estimate.document is not None
    pdf = draw_sheet(shop, "estimate", estimate.document.sheet).pdf
    assert sum(len(page.images) for page in PdfReader(BytesIO(pdf)).pages) == 3
    assert (
        hashlib.sha256(pdf).digest()
        == hashlib.sha256(draw_sheet(shop, "estimate", estimate.document.sheet).pdf).digest()
    )


def test_warranty_jobs_ask_on_paper_what_happens_if_the_claim_is_refused(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job
) -> None:
    covered = season_service(shop, owner, order, title="Replace coil")
    set_payer_basis(job=covered, kind="decision", id="d-1", words="two-year promise", hash="0" * 64)
    sent = send_estimate(shop=shop, by=owner, estimate_id=issue_estimate(shop=shop, by=owner, order_id=order.pk).pk)
    text = paper(sent)
    assert text.count("what shall we do?") == 1
    assert "If the warranty does not pay for job 2" in text and "nothing of this job is ever charged to me" in text
    assert Document.objects.filter(kind="estimate").count() == 1
    assert Decimal(sent.facts["customer_total"]) == Decimal("82.70")
