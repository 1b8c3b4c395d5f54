"""The link of an estimate's letter in a browser: a page that says what it agrees to, a form, and every refusal as a page."""

from __future__ import annotations

import datetime as dt
import re
from html import unescape
from typing import Any
from urllib.parse import urlencode

import pytest
from django.utils import timezone

from orders.models import Answer, AnswerLink, Customer, EstimateOption, Job, RefusalChoice, RepairOrder
from orders.services.estimates import issue_estimate, send_estimate
from orders.services.jobs import set_payer_basis
from orders.services.options import add_option
from shopdocs.shops.models import Shop, Staff
from tests.left_in_english import left_in_english
from tests.orders.back_kit import season_service, set_rates, sharpening, token_in

pytestmark = pytest.mark.django_db
BROWSER = {"Accept": "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"}
HOSTILE = "<script>alert(1)</script> & 'Sons'"


@pytest.fixture
def jobs(shop: Shop, owner: Staff, order: RepairOrder) -> list[Job]:
    """A job of the customer's, and one that the warranty is to pay."""
    set_rates(shop)
    Customer.objects.update(email="imke@example.com")
    covered = season_service(shop, owner, order, title="Replace coil")
    set_payer_basis(job=covered, kind="decision", id="d-1", words="two-year promise", hash="0" * 64)
    return [sharpening(shop, owner, order), Job.objects.get(pk=covered.pk)]


@pytest.fixture
def address(shop: Shop, owner: Staff, order: RepairOrder, jobs: list[Job]) -> str:
    return sent(shop, owner, order)


def sent(shop: Shop, owner: Staff, order: RepairOrder) -> str:
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    made = send_estimate(shop=shop, by=owner, estimate_id=estimate.pk)
    assert made.letter is not None
    return f"/api/v1/answer/{token_in(made.letter)}/"


def look(api: Any, address: str, code: int = 200, **headers: str) -> str:
    answer = api(None).get(address, headers={**BROWSER, **headers})
    assert (answer.status_code, answer["Content-Type"]) == (code, "text/html; charset=utf-8"), answer.content
    assert answer["Cache-Control"] == "no-store" and answer["Referrer-Policy"] == "no-referrer"
    assert "default-src 'none'" in answer["Content-Security-Policy"]
    return str(answer.content.decode())


def give(api: Any, address: str, fields: dict[str, str], code: int = 200) -> str:
    answer = api(None).post(
        address, urlencode(fields), content_type="application/x-www-form-urlencoded", headers=BROWSER
    )
    assert (answer.status_code, answer["Content-Type"]) == (code, "text/html; charset=utf-8"), answer.content
    return str(answer.content.decode())


def filled(page: str, jobs: list[Job], **changes: str) -> dict[str, str]:
    """The form as a customer fills it in who accepts everything; hidden fields and the consent as the page has them."""
    hidden = dict(re.findall(r'name="(estimate_sha256|consent)" value="([^"]+)"', page))
    fields = {"said_by": "Imke Dorran", **hidden, **{f"job:{job.pk}": "yes" for job in jobs}} | changes
    return {name: value for name, value in fields.items() if value != "-"}


def text_of(page: str) -> str:
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.partition("</style>")[2])))


def test_the_page_says_what_is_agreed_to_and_takes_the_whole_answer(
    api: Any, jobs: list[Job], address: str, order: RepairOrder
) -> None:
    page = look(api, address)
    text = text_of(page)
    facts = api(None).get(address).json()["estimate"]
    for job in facts["jobs"]:
        assert job["agree"]["accept"] in text and job["agree"]["decline"] in text
    for said in (facts["consent"]["words"], facts["agreement"], order.complaint, f"${facts['customer_total']}"):
        assert said in text
    covered = jobs[1]
    fields = filled(page, jobs) | {
        f"refused:{covered.pk}": "pay_up_to",
        f"upto:{covered.pk}": " 50.00 ",
        "words": "Call first.",
    }
    done = text_of(give(api, address, fields))
    answers = Answer.objects.order_by("job__number")
    assert [(one.accepted, one.said_by, one.words) for one in answers] == [(True, "Imke Dorran", "Call first.")] * 2
    assert all(one.agreed_words in done for one in answers) and all(one.consent_version for one in answers)
    assert [(one.choice, str(one.up_to)) for one in RefusalChoice.objects.all()] == [("pay_up_to", "50.000")]
    assert all(
        one.agreed_words in text_of(look(api, address)) for one in answers
    )  # opened again, it shows what was said


def test_a_refused_form_keeps_what_was_typed_and_records_nothing(api: Any, jobs: list[Job], address: str) -> None:
    page = look(api, address)
    mine, covered = jobs
    fields = filled(page, jobs, words=HOSTILE, said_by=HOSTILE) | {
        f"job:{mine.pk}": "no", f"refused:{covered.pk}": "pay_up_to", f"upto:{covered.pk}": "fifty",
    }  # fmt: skip
    again = give(api, address, fields, 400)
    assert not Answer.objects.exists() and "Nothing is recorded yet" in again
    assert "<script>" not in again and text_of(again).count(HOSTILE) == 1  # in the text box; the name is an attribute
    assert 'value="&lt;script&gt;alert(1)' in again and 'value="fifty"' in again
    assert re.search(rf'name="job:{mine.pk}" value="no" required checked', again)
    assert re.search(rf'name="job:{covered.pk}" value="yes" required checked', again)
    assert 'value="pay_up_to" checked' in again
    section = again.partition(f'id="job-{covered.number}"')[2].partition("</section>")[0]
    assert 'role="alert"' in section  # beside its job too
    for change, told in (
        ({f"job:{mine.pk}": "-"}, f"No answer for job {mine.number}."), ({"said_by": " "}, "blank"), ({"consent": "-"}, "electronic"),
        ({"estimate_sha256": "0" * 64}, "Another text"), ({"foreign": "1"}, "not known"), ({f"job:{'0' * 8}": "yes"}, "valid UUID"),
    ):  # fmt: skip
        assert told.lower() in text_of(give(api, address, filled(page, jobs, **change), 400)).lower(), told
    assert not Answer.objects.exists() and AnswerLink.objects.get().used_at is None
    give(api, address, filled(page, jobs))
    assert Answer.objects.count() == 2


def test_ways_to_choose_from_are_picked_and_their_jobs_are_not_asked_one_by_one(
    shop: Shop, owner: Staff, api: Any, order: RepairOrder, jobs: list[Job]
) -> None:
    for name, some in (("Sharpen", [jobs[0].pk]), ("Leave it", [])):
        add_option(shop=shop, by=owner, order_id=order.pk, group="Chain", name=name, jobs=some)
    address = sent(shop, owner, order)
    page = look(api, address)
    assert f'name="job:{jobs[0].pk}"' not in page and "under 'Chain'" in unescape(page)
    fields = filled(page, jobs[1:])
    assert "No answer for job 2" in text_of(give(api, address, fields, 400))
    way = EstimateOption.objects.get(name="Leave it")
    done = text_of(give(api, address, fields | {"option:Chain": str(way.pk)}))
    assert "I choose 'Leave it'" in done
    assert [one.accepted for one in Answer.objects.order_by("job__number")] == [True, False]


def test_each_dead_link_is_a_page_that_shows_nothing_of_the_estimate(
    shop: Shop, owner: Staff, api: Any, order: RepairOrder, jobs: list[Job], address: str
) -> None:
    page = look(api, address)
    unknown = look(api, "/api/v1/answer/none-such/", 404)
    link = AnswerLink.objects.get()
    AnswerLink.objects.update(expires_at=timezone.now() - dt.timedelta(seconds=1))
    expired = look(api, address, 409)
    AnswerLink.objects.update(expires_at=link.expires_at)
    season_service(shop, owner, order, title="One more")
    issue_estimate(shop=shop, by=owner, order_id=order.pk)
    replaced, late = look(api, address, 409), give(api, address, filled(page, jobs), 409)
    for one, said in (
        (unknown, "not known"),
        (expired, "has expired"),
        (replaced, "newer version"),
        (late, "newer version"),
    ):
        assert said in text_of(one) and "<form" not in one
        assert not any(word in one for word in ("Sharpen", "Replace coil", "Imke", order.complaint))
    assert not Answer.objects.exists()


def test_an_answer_is_taken_once(api: Any, jobs: list[Job], address: str) -> None:
    page = look(api, address)
    give(api, address, filled(page, jobs))
    again = give(api, address, filled(page, jobs), 409)
    assert "used already" in text_of(again) and "<form" not in again
    assert Answer.objects.count() == 2


def test_programs_get_json_as_ever_and_a_form_without_a_browser_too(api: Any, jobs: list[Job], address: str) -> None:
    for accepted in ({}, {"Accept": "*/*"}, {"Accept": "application/json"}):
        answer = api(None).get(address, headers=accepted)
        assert (answer.status_code, answer["Content-Type"]) == (200, "application/json"), accepted
        refused = api(None).post(address, {}, format="json", headers=accepted)
        assert (refused.status_code, refused["Content-Type"]) == (400, "application/problem+json")
    alone = api(None).get(address, headers={"Accept": "text/html"})
    assert alone.status_code == 200 and alone["Content-Type"] == "text/html; charset=utf-8"


def test_a_form_that_is_none_is_refused_as_a_page(api: Any, jobs: list[Job], address: str) -> None:
    for body in (b"\xff\xfe=%ff", b"&".join(b"a%d=1" % at for at in range(2000)), b"words=" + b"x" * 3000):
        answer = api(None).post(address, body, content_type="application/x-www-form-urlencoded", headers=BROWSER)
        assert answer.status_code == 400 and "<form" in answer.content.decode(), body[:20]
    assert not Answer.objects.exists()


def test_the_page_of_a_spanish_customer_is_spanish_throughout(
    shop: Shop, owner: Staff, api: Any, order: RepairOrder, jobs: list[Job]
) -> None:
    Customer.objects.update(language="es")
    order.customer.refresh_from_db()
    Job.objects.update(title="Afilar", why_now="Pronto.", if_not="Se detiene.")
    RepairOrder.objects.update(complaint="No arranca.")
    address = sent(shop, owner, RepairOrder.objects.get(pk=order.pk))
    page = look(api, address)
    assert '<html lang="es">' in page
    refused = give(api, address, filled(page, jobs, said_by=" "), 400)
    done = give(api, address, filled(page, jobs))
    for one in (page, refused, done):
        assert left_in_english(text_of(one)) == []
    assert "ya se usó" in text_of(give(api, address, filled(page, jobs), 409))
