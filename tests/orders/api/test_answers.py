"""The customer's word over HTTP: signed on a screen, by telephone, by the link; and what is kept of it."""

from __future__ import annotations

import datetime as dt
import hashlib
from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from pypdf import PdfReader

from orders.models import Answer, AnswerLink, Customer, Estimate, Job, RefusalChoice, RepairOrder, Signature
from orders.services.estimates import issue_estimate, send_estimate
from orders.services.jobs import set_payer_basis
from orders.services.kinds import photos_on
from shopdocs.documents.models import Document
from shopdocs.documents.photos.signature import drawn
from shopdocs.documents.services.files import read_file
from shopdocs.documents.services.papers import draw_sheet, sheet_digest
from shopdocs.shops.models import Shop, Staff
from tests.orders.back_kit import PHONED, another_order, season_service, set_rates, sharpening, shown_by_link, token_in
from tests.orders.conftest import checked_in
from tests.papers_reading import words_of

pytestmark = pytest.mark.django_db
V1 = "/api/v1"
STROKES = {"strokes": [[[20, 60], [90, 20], [160, 70], [280, 40]]], "width": 400, "height": 120}


def post(client: Any, path: str, data: Any, code: int = 200) -> Any:
    answer = client.post(f"{V1}/{path}", data, format="json")
    assert answer.status_code == code, answer.content
    return answer.json()


def fields(client: Any, path: str, data: Any, code: int) -> list[str]:
    """The fields that a refusal names; each says problem and remedy."""
    errors = post(client, path, data, code)["errors"]
    assert all(one["problem"] and one["remedy"] for one in errors)
    return [one["field"] for one in errors]


@pytest.fixture
def job(shop: Shop, owner: Staff, order: RepairOrder) -> Job:
    set_rates(shop)
    Customer.objects.update(email="imke@example.com")
    return season_service(shop, owner, order)


@pytest.fixture
def covered(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> Job:
    made = season_service(shop, owner, order, title="Replace coil")
    return set_payer_basis(job=made, kind="decision", id="d-1", words="two-year promise", hash="0" * 64)


def signature(client: Any, **changes: Any) -> dict[str, Any]:
    made: dict[str, Any] = post(
        client, "signatures/strokes/", {**STROKES, "signed_name": "Imke Dorran", **changes}, 201
    )
    return made


def png_form(data: bytes, name: str = "sign.png") -> dict[str, Any]:
    return {"file": SimpleUploadedFile(name, data), "signed_name": "Imke Dorran"}


def test_a_drawn_signature_is_kept_as_it_came_and_shown_again(shop: Shop, client: Any, api: Any) -> None:
    data = drawn([[(20, 60), (90, 20), (160, 70)]], width=400, height=120)
    answer = client.post(f"{V1}/signatures/", png_form(data), format="multipart")
    assert answer.status_code == 201, answer.content
    made = answer.json()
    assert (made["sha256"], made["size"]) == (hashlib.sha256(data).hexdigest(), len(data))
    assert client.get(f"{V1}/signatures/{made['id']}/file/").content == data
    assert read_file(Signature.objects.get().file) == data
    assert api(None).get(f"{V1}/signatures/{made['id']}/file/").status_code == 401


@pytest.mark.parametrize(
    ("data", "code"),
    [(b"\x89PNG\r\n\x1a\n" + b"0" * 1_000_000, 400), (b"\xff\xd8\xff", 400), (b"", 400), (b"0" * 50_000_000, 413)],
    ids=["over 1 MB", "a JPEG", "nothing", "50 MB"],
)
def test_what_is_no_signature_is_refused(client: Any, shop: Shop, data: bytes, code: int) -> None:
    answer = client.post(f"{V1}/signatures/", png_form(data), format="multipart")
    assert answer.status_code == code, answer.content
    assert answer.json()["errors"][0]["remedy"]
    assert not Signature.objects.exists()


def test_strokes_of_another_shape_are_refused(client: Any, shop: Shop) -> None:
    for field, value in (
        ("strokes", [[[1, 2, 3]]]), ("strokes", [[["a", 2]]]), ("strokes", "x"), ("strokes", [[[5, 5]]]), ("width", 0),
        ("height", 10**9), ("signed_name", " "),
    ):  # fmt: skip
        named = fields(client, "signatures/strokes/", {**STROKES, "signed_name": "I", field: value}, 400)
        assert named[0].startswith(field), (field, value, named)
    assert not Signature.objects.exists()


def test_signed_in_person_and_shown_on_a_copy_of_its_own(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job, client: Any
) -> None:
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    before = dict(Document.objects.get(pk=estimate.document_id).sheet)
    signed = signature(client)
    given = {
        "channel": "in_person", "said_by": "Imke Dorran", "signature": signed["id"],
        "answers": [{"job": str(job.pk), "accepted": True}],
    }  # fmt: skip
    told = post(client, f"estimates/{estimate.pk}/answers/", given)["answers"][0]
    assert told["signature"] == signed["id"]
    assert told["facts_sha256"] == sheet_digest(estimate.facts)
    assert told["agreed_words"] == estimate.facts["jobs"][0]["agree"]["accept"]
    assert "for $82.25 before tax, and not for more" in told["agreed_words"]
    used = client.get(f"{V1}/signatures/{signed['id']}/").json()
    assert used["used_for"] == estimate.subject and used["used_at"]

    copy = Document.objects.get(kind="estimate_answered")
    assert photos_on(copy.sheet) == [signed["sha256"]]
    drawn_copy = draw_sheet(shop, copy.kind, copy.sheet).pdf
    text = words_of(drawn_copy)
    for said in ("Answered estimate", "here in the shop", "Signature · Imke Dorran", told["agreed_words"], "accepted"):
        assert said in text, said
    assert Document.objects.get(pk=estimate.document_id).sheet == before  # the estimate stays as it was sent
    assert "Answer given" not in words_of(draw_sheet(shop, "estimate", before).pdf)


def test_a_signature_signs_one_thing_once_and_nothing_older_than_it(
    shop: Shop, other_shop: Shop, owner: Staff, order: RepairOrder, job: Job, client: Any, api: Any
) -> None:
    early = signature(client)
    other = sharpening(shop, owner, order)
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    path = f"estimates/{estimate.pk}/answers/"
    given: dict[str, Any] = {"channel": "in_person", "said_by": "Imke Dorran"}
    answer = {"answers": [{"job": str(job.pk), "accepted": True}]}
    assert fields(client, path, {**given, **answer}, 400) == ["signature"]
    assert fields(client, path, {**given, **answer, "signature": early["id"]}, 409) == ["signature"]
    theirs = signature(api(Staff.objects.get(shop=other_shop)))
    assert fields(client, path, {**given, **answer, "signature": theirs["id"]}, 400) == ["signature"]
    assert client.get(f"{V1}/signatures/{theirs['id']}/file/").status_code == 404
    ours = signature(client, signed_name=owner.user.shown_name)  # nobody who works here signs for the customer
    assert fields(client, path, {**given, **answer, "signature": ours["id"]}, 400) == ["signature"]
    assert Signature.objects.get(pk=ours["id"]).used_at is None
    signed = signature(client)
    # A refused answer uses nothing up.
    wrong = {"answers": [{"job": str(order.pk), "accepted": True}], "signature": signed["id"]}
    assert fields(client, path, {**given, **wrong}, 400) == ["answers[0].job"]
    post(client, path, {**given, **answer, "signature": signed["id"]})
    second = {"answers": [{"job": str(other.pk), "accepted": True}], "signature": signed["id"]}
    assert fields(client, path, {**given, **second}, 409) == ["signature"]
    assert Answer.objects.count() == 1


def test_by_telephone_over_http(shop: Shop, owner: Staff, order: RepairOrder, job: Job, client: Any) -> None:
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    path = f"estimates/{estimate.pk}/answers/"
    answers = {"said_by": "Imke Dorran", "answers": [{"job": str(job.pk), "accepted": True}]}
    assert fields(client, path, {"channel": "phone", **answers}, 400) == ["phone_number", "called_at", "read_back"]
    called = {**PHONED, "called_at": timezone.now().isoformat(), **answers}
    assert fields(client, path, {**called, "called_at": called["called_at"].partition("+")[0]}, 400) == ["called_at"]
    assert fields(client, path, {**called, "said_by": owner.user.shown_name}, 400) == ["said_by"]
    assert fields(client, path, {**called, "read_back": "yes"}, 400) == ["read_back"]
    consent = estimate.facts["consent"]["version"]
    assert fields(client, path, {**called, "consent": consent}, 400) == ["consent"]
    assert fields(client, path, {**called, "signature": signature(client)["id"]}, 400) == ["signature"]
    told = post(client, path, called)["answers"][0]
    assert (told["phone_number"], told["read_back"], told["signature"]) == ("555-0133", True, None)
    text = words_of(draw_sheet(shop, "estimate", Document.objects.get(kind="estimate_answered").sheet).pdf)
    assert "by telephone 555-0133" in text and "read back" in text


def by_link(shop: Shop, owner: Staff, order: RepairOrder) -> str:
    sent = send_estimate(shop=shop, by=owner, estimate_id=issue_estimate(shop=shop, by=owner, order_id=order.pk).pk)
    assert sent.letter is not None
    return token_in(sent.letter)


def test_the_link_says_what_it_agrees_to_and_keeps_it(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job, api: Any
) -> None:
    token = by_link(shop, owner, order)
    page = api(None).get(f"{V1}/answer/{token}/").json()
    frozen = page["estimate"]
    assert page["estimate_sha256"] == sheet_digest(frozen)
    for part in ("on paper from Willow Power Equipment", "take this back at any time", "PDF"):
        assert part in frozen["consent"]["words"]
    given: dict[str, Any] = {"said_by": "Imke Dorran", "answers": [{"job": str(job.pk), "accepted": True}]}
    path, shown = f"answer/{token}/", shown_by_link(token)
    assert fields(api(None), path, {**given, "consent": shown["consent"]}, 400) == ["estimate_sha256"]
    assert fields(api(None), path, {**given, **shown, "estimate_sha256": "0" * 64}, 400) == ["estimate_sha256"]
    assert fields(api(None), path, {**given, "estimate_sha256": shown["estimate_sha256"]}, 400) == ["consent"]
    assert fields(api(None), path, {**given, **shown, "consent": "1999-01"}, 400) == ["consent"]
    assert AnswerLink.objects.get().used_at is None
    done = post(api(None), path, {**given, **shown})
    answer = Answer.objects.get()
    assert done["answers"][0]["agreed_words"] == answer.agreed_words == frozen["jobs"][0]["agree"]["accept"]
    assert answer.facts_sha256 == page["estimate_sha256"]
    assert answer.consent_version == frozen["consent"]["version"]
    assert answer.consented_at == answer.at
    assert fields(api(None), path, {**given, **shown}, 409) == ["token"]


def test_a_link_answers_no_job_of_another_shop_or_order(
    shop: Shop, other_shop: Shop, owner: Staff, order: RepairOrder, job: Job, api: Any
) -> None:
    token = by_link(shop, owner, order)
    foreign = Job.objects.create(shop=other_shop, order=_order_of(other_shop), number=1, title="Theirs")
    elsewhere = season_service(shop, owner, another_order(shop, owner, order))
    for other in (foreign, elsewhere):
        answers = [{"job": str(job.pk), "accepted": True}, {"job": str(other.pk), "accepted": True}]
        given = {"said_by": "Imke", "answers": answers, **shown_by_link(token)}
        assert fields(api(None), f"answer/{token}/", given, 400) == ["answers[1].job"]
    assert not Answer.objects.exists()


def _order_of(shop: Shop) -> RepairOrder:
    return checked_in(shop, Staff.objects.get(shop=shop), serial="THEIRS 1", name="Somebody Else")


def test_what_happens_if_the_claim_is_refused_is_chosen_at_the_link(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job, covered: Job, api: Any
) -> None:
    token = by_link(shop, owner, order)
    frozen = api(None).get(f"{V1}/answer/{token}/").json()["estimate"]["jobs"]
    assert frozen[0]["if_refused"] is None
    assert set(frozen[1]["if_refused"]) == {"asked", "pay_up_to", "ask_me", "return_unrepaired", "none"}

    def said(**choices: Any) -> dict[str, Any]:
        answers = [
            {"job": str(job.pk), "accepted": True, **choices.get("own", {})},
            {"job": str(covered.pk), "accepted": choices.get("accepted", True), "if_refused": choices["theirs"]},
        ]
        return {"said_by": "Imke Dorran", "answers": answers, **shown_by_link(token)}

    path = f"answer/{token}/"
    up_to = {"choice": "pay_up_to", "up_to": "60.00"}
    assert fields(api(None), path, said(theirs={"choice": "pay_up_to"}), 400) == ["answers[1].if_refused.up_to"]
    assert fields(api(None), path, said(theirs={**up_to, "up_to": "0"}), 400) == ["answers[1].if_refused.up_to"]
    assert fields(api(None), path, said(theirs={**up_to, "choice": "ask_me"}), 400) == ["answers[1].if_refused.up_to"]
    assert fields(api(None), path, said(theirs={"choice": "whatever"}), 400) == ["answers[1].if_refused.choice"]
    assert fields(api(None), path, said(theirs=up_to, accepted=False), 400) == ["answers[1].if_refused"]
    assert fields(api(None), path, said(theirs=up_to, own={"if_refused": up_to}), 400) == ["answers[0].if_refused"]
    assert not RefusalChoice.objects.exists()
    post(api(None), path, said(theirs=up_to))
    chosen = RefusalChoice.objects.get()
    assert (chosen.job_id, chosen.choice, f"{chosen.up_to:.2f}", chosen.channel) == (
        covered.pk, "pay_up_to", "60.00", "link",
    )  # fmt: skip
    assert chosen.agreed_words.endswith("up to the amount that I enter here, tax included. $60.00")
    copy = Document.objects.get(kind="estimate_answered")
    assert chosen.agreed_words in words_of(draw_sheet(shop, copy.kind, copy.sheet).pdf)


def test_a_choice_is_taken_in_person_and_by_telephone_and_the_newest_counts(
    shop: Shop, other_shop: Shop, owner: Staff, order: RepairOrder, job: Job, covered: Job, client: Any, api: Any
) -> None:
    path = f"jobs/{covered.pk}/refusal-choices/"
    said = {"channel": "in_person", "said_by": "Imke Dorran", "choice": "ask_me"}
    assert fields(client, path, {**said, "words": "on paper"}, 409) == ["job"]
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    answers = [{"job": str(one.pk), "accepted": True} for one in (job, covered)]
    signed = {"channel": "in_person", "said_by": "Imke", "signature": signature(client)["id"]}
    post(client, f"estimates/{estimate.pk}/answers/", {**signed, "answers": answers})
    own = f"jobs/{job.pk}/refusal-choices/"
    assert fields(client, own, {**said, "words": "on paper"}, 409) == ["job"]
    assert fields(client, path, said, 400) == ["signature"]
    post(client, path, {**said, "signature": signature(client)["id"]}, 201)
    phoned = {**PHONED, "said_by": "Imke", "choice": "pay_up_to", "up_to": "40.00"}
    assert fields(client, path, phoned, 400) == ["called_at"]
    post(client, path, {**phoned, "called_at": timezone.now().isoformat()}, 201)
    listed = client.get(f"{V1}/{path}").json()
    assert [(one["choice"], one["up_to"]) for one in listed] == [("ask_me", None), ("pay_up_to", "40.00")]
    stranger = api(Staff.objects.get(shop=other_shop))
    assert stranger.get(f"{V1}/{path}").status_code == 404
    assert stranger.post(f"{V1}/{path}", phoned, format="json").status_code == 404


def test_an_expired_estimate_is_answered_in_no_way(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job, client: Any, api: Any
) -> None:
    token = by_link(shop, owner, order)
    shown = shown_by_link(token)
    Estimate.objects.update(valid_until=shop.today() - dt.timedelta(days=1))
    answers = [{"job": str(job.pk), "accepted": True}]
    phoned = {**PHONED, "called_at": timezone.now().isoformat(), "said_by": "Imke", "answers": answers}
    pk = Estimate.objects.get().pk
    assert fields(client, f"estimates/{pk}/answers/", phoned, 409) == ["estimate"]
    link = {"said_by": "Imke", "answers": answers, **shown}
    assert fields(api(None), f"answer/{token}/", link, 409) == ["estimate"]


def test_the_signature_on_paper_is_the_one_that_was_drawn(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job, client: Any
) -> None:
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    given = {
        "channel": "in_person", "said_by": "Imke", "signature": signature(client)["id"],
        "answers": [{"job": str(job.pk), "accepted": True}],
    }  # fmt: skip
    post(client, f"estimates/{estimate.pk}/answers/", given)
    copy = Document.objects.get(kind="estimate_answered")
    pages = PdfReader(BytesIO(draw_sheet(shop, copy.kind, copy.sheet).pdf)).pages
    (image,) = [image for page in pages for image in page.images]
    assert image.image is not None
    low, high = image.image.convert("L").getextrema()
    assert (low < 60, high > 200) == (True, True)  # ink on white


def test_the_repair_order_is_signed_on_a_copy_of_its_own(shop: Shop, order: RepairOrder, job: Job, client: Any) -> None:
    signed = signature(client)
    path = f"orders/{order.pk}/papers/"
    assert fields(client, path, {"paper": "bench_copy", "signature": signed["id"]}, 400) == ["signature"]
    plain = post(client, path, {}, 201)
    copy = post(client, path, {"signature": signed["id"]}, 201)
    assert (plain["kind"], copy["kind"]) == ("repair_order", "repair_order_signed")
    sheets = {row.kind: row.sheet for row in Document.objects.all()}
    assert photos_on(sheets["repair_order_signed"]) == [signed["sha256"]] and photos_on(sheets["repair_order"]) == []
    text = words_of(draw_sheet(shop, "repair_order_signed", sheets["repair_order_signed"]).pdf)
    assert "Signature · Imke Dorran," in text and "No work is done and nothing is charged" in text
    assert fields(client, path, {"signature": signed["id"]}, 409) == ["signature"]
