"""Estimates: priced to the cent, frozen for good, replaced by versions, answered job by job and once."""

from __future__ import annotations

import copy
import datetime as dt
import hashlib
import json
from decimal import Decimal
from typing import Any
from uuid import UUID

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from orders.models import Answer, AnswerLink, Customer, Estimate, Job, MachineModel, Maker, Part, RepairOrder, Unit
from orders.services import answers as answers_service
from orders.services import priced
from orders.services.answers import take_answers
from orders.services.bench import fit_part, strike_job
from orders.services.estimates import issue_estimate, send_estimate
from orders.services.jobs import change_job, propose_again, set_payer_basis
from orders.services.lines import add_part
from orders.services.links import open_link, refuse_dead, spoken_at
from orders.services.sheets import estimate_sheet
from shopdocs.documents.models import Document, Letter
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.rest import refusals
from shopdocs.rest.refusals import Conflict, Missing, Refused
from shopdocs.shops.models import LabourRate, NumberSeries, Shop, Staff, TaxRate
from tests.left_in_english import left_in_english
from tests.orders.back_kit import (
    CARD,
    PHONED,
    a_finding,
    agreed,
    another_order,
    answered,
    season_service,
    set_rates,
    sharpening,
    shown_by_link,
    token_in,
)

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def rated(shop: Shop) -> None:
    set_rates(shop)


@pytest.fixture
def job(shop: Shop, owner: Staff, order: RepairOrder, rated: None) -> Job:
    Customer.objects.update(email="imke@example.com")
    return season_service(shop, owner, order)


def sent(shop: Shop, by: Staff, order: RepairOrder) -> tuple[Estimate, str]:
    """A new version, sent; with the secret out of its letter."""
    estimate = send_estimate(shop=shop, by=by, estimate_id=issue_estimate(shop=shop, by=by, order_id=order.pk).pk)
    assert estimate.letter is not None
    return estimate, token_in(estimate.letter)


def answer_by_link(*, token: str, **given: Any) -> AnswerLink:
    """The customer's answer, naming what was shown (nothing, where the link shows nothing)."""
    try:
        shown: dict[str, str] = shown_by_link(token)
    except Missing:
        shown = {}
    return answers_service.answer_by_link(token=token, **{**shown, **given})


def state(job: Job) -> str:
    return str(Job.objects.get(pk=job.pk).state)


def test_prices_by_payer_with_tax(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    covered = season_service(shop, owner, order, title="Replace coil")
    set_payer_basis(job=covered, kind="decision", id="d-1", words="two-year promise", hash="0" * 64)
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    facts = estimate.facts
    # 0.8 h x 95.00 = 76.00; 6.25 x 7.25 % = 0.453125 -> 0.45. Warranty: 0.8 h x 80.00 + 6.25, untaxed.
    assert [(p["payer"], p["net"], p["tax"], p["total"]) for p in facts["payers"]] == [
        ("customer", "82.25", "0.45", "82.70"),
        ("warranty", "70.25", "0.00", "70.25"),
    ]
    assert (estimate.number, estimate.edition) == ("E-1001", 1)
    assert (estimate.total, estimate.customer_total) == (D("152.95"), D("82.70"))
    assert [one["id"] for one in facts["jobs"]] == [str(job.pk), str(covered.pk)]
    assert facts["customer_taxes"][0]["base"] == "6.25"
    assert any("before rounding" in step["text"] for step in facts["how"])


def test_an_exempt_customer_pays_no_tax(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    Customer.objects.update(tax_exempt=True)
    assert issue_estimate(shop=shop, by=owner, order_id=order.pk).customer_total == D("82.25")


def test_without_a_labour_rate_nothing_is_issued_and_no_number_is_used(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job
) -> None:
    LabourRate.objects.all().delete()
    with pytest.raises(Refused) as refusal:
        issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert refusal.value.problems[0].field == "labour_rate"
    assert not Estimate.objects.exists()
    assert not NumberSeries.objects.filter(name="estimate").exists()


def test_an_order_without_jobs_has_no_estimate(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    with pytest.raises(Conflict, match="No job"):
        issue_estimate(shop=shop, by=owner, order_id=order.pk)


def test_a_change_makes_version_2_of_the_same_number(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    first = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    add_part(shop=shop, by=owner, job_id=job.pk, words="Filter", unit_price=D("3.00"))
    second = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    first.refresh_from_db()
    assert (second.number, second.edition, first.replaced_by) == (first.number, 2, second)
    with pytest.raises(Conflict, match="replaced"):
        answered(shop, owner, first, {job.pk: True})
    with pytest.raises(Conflict, match="replaced"):
        send_estimate(shop=shop, by=owner, estimate_id=first.pk)
    other = another_order(shop, owner, order)
    season_service(shop, owner, other)
    assert issue_estimate(shop=shop, by=owner, order_id=other.pk).number == "E-1002"


def everything_changes(shop: Shop) -> None:
    """Every rate, tax, name, term and price the estimate was made of becomes another one."""
    LabourRate.objects.update(per_hour=D("123.45"))
    TaxRate.objects.update(percent=D("9.99"), name="Another tax")
    Shop.objects.update(name="Renamed", street="Elsewhere 1", accent="#000000", paper="a4", currency_symbol="?")
    Customer.objects.update(name="Renamed", street="Elsewhere 2", tax_exempt=True)
    Maker.objects.update(name="Renamed")
    MachineModel.objects.update(name="Renamed", family="mower")
    Unit.objects.update(serial="X", use_class="rental")
    Part.objects.update(list_price=D("999"), words="Renamed")
    Job.objects.update(title="Renamed", payer="shop", basis_words="changed")
    for line in ("labour", "parts"):
        Job._meta.get_field(line).related_model.objects.update(words="Renamed")
    RepairOrder.objects.update(complaint="changed")


def test_after_issue_nothing_changes_facts_sheet_or_paper(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job
) -> None:
    a_finding(shop, owner, order)
    part = Part.objects.create(shop=shop, number="P-1", words="Filter", list_price=D("12.345"))
    add_part(shop=shop, by=owner, job_id=job.pk, part=part.pk)
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert estimate.document is not None
    facts, sheet = copy.deepcopy(estimate.facts), copy.deepcopy(estimate.document.sheet)
    drawn = draw_sheet(shop, "estimate", sheet)
    everything_changes(shop)
    later = Estimate.objects.get(pk=estimate.pk)
    assert later.facts == facts
    assert later.total == estimate.total
    assert to_json(estimate_sheet(later.facts)) == sheet == Document.objects.get(pk=estimate.document_id).sheet
    again = draw_sheet(Shop.objects.get(), "estimate", to_json(estimate_sheet(later.facts)))
    assert again.pdf == drawn.pdf
    # The control: a new version is made of the new facts, so the changes above were real ones.
    assert issue_estimate(shop=Shop.objects.get(), by=owner, order_id=order.pk).facts["customer"]["name"] == "Renamed"


def test_only_the_letter_holds_the_secret(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    estimate, token = sent(shop, owner, order)
    link = AnswerLink.objects.get()
    assert link.token_sha256 == hashlib.sha256(token.encode()).hexdigest()
    assert len(token) == 43  # 32 random bytes in base64 without padding (RFC 4648, section 5)
    stored = json.dumps([estimate.facts, estimate.document.sheet if estimate.document else {}])
    assert token not in stored
    letter = estimate.letter
    assert letter is not None
    assert letter.to_address == "imke@example.com"
    for said in ("Imke Dorran", shop.name, order.number, estimate.number, f"/api/v1/answer/{token}/", "works until"):
        assert said in letter.body
    assert list(letter.documents.all()) == [estimate.document]


def test_a_customer_without_address_gets_no_letter(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    Customer.objects.update(email="")
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    with pytest.raises(Refused) as refusal:
        send_estimate(shop=shop, by=owner, estimate_id=estimate.pk)
    assert refusal.value.problems[0].field == "email"
    assert not AnswerLink.objects.exists()
    assert send_estimate(shop=shop, by=owner, estimate_id=estimate.pk, email="a@example.com").letter is not None


def test_answers_by_link_job_by_job_once(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    other = sharpening(shop, owner, order)
    _, token = sent(shop, owner, order)
    assert open_link(token=token).opened_at is not None
    say, strange = {"job": job.pk, "accepted": True}, {"job": UUID(int=7), "accepted": True}
    with pytest.raises(Refused, match="not on the estimate"):  # told before the one that is left out
        answer_by_link(token=token, said_by="Imke", answers=[say, strange])
    with pytest.raises(Refused, match="answered twice"):
        answer_by_link(token=token, said_by="Imke", answers=[say, say])
    with pytest.raises(Refused, match="No answer for job 2"):
        answer_by_link(token=token, said_by="Imke", answers=[{"job": job.pk, "accepted": True}])
    both = [{"job": job.pk, "accepted": True}, {"job": other.pk, "accepted": False}]
    with pytest.raises(Refused, match="card number"):
        answer_by_link(token=token, said_by="Imke", answers=both, words=f"Please charge {CARD}")
    answer_by_link(token=token, said_by="Imke Dorran", answers=both)
    assert (state(job), state(other)) == ("agreed", "declined")
    answer = Answer.objects.get(job=job)
    assert (answer.channel, answer.said_by, answer.taken_by) == ("link", "Imke Dorran", None)
    with pytest.raises(Conflict, match="used already"):
        answer_by_link(token=token, said_by="Imke", answers=[{**one, "accepted": False} for one in both])
    assert state(job) == "agreed"
    assert Answer.objects.count() == 2
    assert open_link(token=token).used_at is not None  # what was answered can still be read


def test_a_link_to_a_replaced_version_is_dead(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    _, old = sent(shop, owner, order)
    season_service(shop, owner, order, title="Replace coil")
    _, new = sent(shop, owner, order)
    for dead in (lambda: open_link(token=old), lambda: answer_by_link(token=old, said_by="I", answers=[])):
        with pytest.raises(Conflict, match="newer version"):
            dead()
    assert open_link(token=new).estimate.edition == 2
    assert state(job) == "proposed"


def test_the_link_of_a_replaced_version_says_whether_the_newer_one_was_sent(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job
) -> None:
    _, old = sent(shop, owner, order)
    season_service(shop, owner, order, title="Replace coil")
    newer = issue_estimate(shop=shop, by=owner, order_id=order.pk)

    def told() -> tuple[str, str]:
        with pytest.raises(Conflict) as refused:
            open_link(token=old)
        with pytest.raises(Conflict) as same:
            answer_by_link(token=old, said_by="Imke", answers=[])
        (one,) = refused.value.problems
        assert same.value.problems == [one] and "version 2" in one.problem
        return one.problem, one.remedy

    problem, remedy = told()
    assert "has made" in problem and "not sent it yet" in problem and "Wait for its letter" in remedy
    letter = send_estimate(shop=shop, by=owner, estimate_id=newer.pk).letter
    assert letter is not None
    problem, remedy = told()
    assert "is sending" in problem and "has sent" not in problem
    Letter.objects.for_shop(shop).filter(pk=letter.pk).update(state="done")
    problem, remedy = told()
    assert "has sent" in problem and "Open the link in its letter" in remedy


def test_a_link_that_cannot_be_used_says_so_in_the_customers_language(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job
) -> None:
    Customer.objects.update(language="es-MX")
    other = sharpening(shop, owner, order)
    _, token = sent(shop, owner, RepairOrder.objects.get(pk=order.pk))
    one = [{"job": job.pk, "accepted": True}]
    both = [*one, {"job": other.pk, "accepted": False}]

    def told(answers: list[dict[str, object]]) -> str:
        with pytest.raises(Refused) as refused:
            answer_by_link(token=token, said_by="Imke", answers=answers)
        (problem,), say = refused.value.problems, spoken_at(token)
        spoken = refusals.said(problem.problem, say)
        assert left_in_english(f"{spoken} {refusals.said(problem.remedy, say)}") == []
        return spoken

    assert told(one) == "Falta la respuesta al trabajo 2."
    RepairOrder.objects.update(state="finished")
    assert told(both) == f"La orden de reparación {order.number} está cerrada; sus trabajos quedan como están."
    RepairOrder.objects.update(state="open")
    answer_by_link(token=token, said_by="Imke", answers=both)
    RepairOrder.objects.update(state="finished")
    assert told(both) == "Este enlace ya se usó; su respuesta está registrada."
    AnswerLink.objects.update(used_at=None, expires_at=timezone.now())
    assert told(both) == "Este enlace ha caducado."
    Customer.objects.update(language="")
    RepairOrder.objects.update(state="open")
    newer = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert "no la ha enviado" in told(both)
    letter = send_estimate(shop=shop, by=owner, estimate_id=newer.pk).letter
    assert letter is not None and "está enviando una versión más nueva" in told(both)
    Letter.objects.for_shop(shop).filter(pk=letter.pk).update(state="done")
    assert "ha enviado una versión más nueva de este presupuesto, la versión 2." in told(both)


def test_sending_again_makes_the_first_link_useless(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    estimate, first = sent(shop, owner, order)
    again = send_estimate(shop=shop, by=owner, estimate_id=estimate.pk)
    with pytest.raises(Conflict, match="expired"):
        open_link(token=first)
    assert again.letter is not None
    assert open_link(token=token_in(again.letter)).estimate == estimate


def test_expired_and_unknown_links(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    _, token = sent(shop, owner, order)
    answer = [{"job": job.pk, "accepted": True}]
    for unknown in (token[:-1], token + "x", "", "ü" * 40):
        with pytest.raises(Missing):
            answer_by_link(token=unknown, said_by="Imke", answers=answer)
    AnswerLink.objects.update(expires_at=timezone.now())
    for use in (lambda: open_link(token=token), lambda: answer_by_link(token=token, said_by="I", answers=answer)):
        with pytest.raises(Conflict, match="expired"):
            use()
    assert state(job) == "proposed"


@pytest.mark.parametrize("whose", ["shop", "staff"])
def test_the_customers_link_is_not_sent_to_the_shop_itself(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job, whose: str
) -> None:
    owner.user.email = "ottilie@willow.example"
    owner.user.save()
    address = {"shop": shop.email, "staff": "Ottilie@Willow.example"}[whose]
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    with pytest.raises(Refused, match="address of the shop"):
        send_estimate(shop=shop, by=owner, estimate_id=estimate.pk, email=address)
    assert not AnswerLink.objects.exists()
    Customer.objects.update(email=address)  # who works here may bring a machine too
    send_estimate(shop=shop, by=owner, estimate_id=estimate.pk)
    assert AnswerLink.objects.count() == 1


def test_a_used_link_shows_the_answer_until_it_ends_and_no_longer(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job
) -> None:
    _, token = sent(shop, owner, order)
    answer = {"said_by": "Imke", "answers": [{"job": job.pk, "accepted": True}], **shown_by_link(token)}
    answer_by_link(token=token, **answer)
    assert open_link(token=token).used_at is not None
    AnswerLink.objects.update(expires_at=timezone.now())
    with pytest.raises(Conflict, match="expired"):
        open_link(token=token)
    with pytest.raises(Conflict, match="your answer is recorded"):
        answer_by_link(token=token, **answer)


def test_at_the_instant_of_its_end_a_link_is_dead(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent(shop, owner, order)
    link = AnswerLink.objects.select_related("estimate").get()
    monkeypatch.setattr("orders.services.links.timezone.now", lambda: link.expires_at - dt.timedelta(microseconds=1))
    refuse_dead(link)
    monkeypatch.setattr("orders.services.links.timezone.now", lambda: link.expires_at)
    with pytest.raises(Conflict, match="expired"):
        refuse_dead(link)


def test_a_link_ends_with_the_estimates_last_day(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    Shop.objects.update(estimate_days=2)
    fresh = Shop.objects.get()
    estimate, _ = sent(fresh, owner, order)
    last = dt.datetime.combine(estimate.valid_until + dt.timedelta(days=1), dt.time(), tzinfo=fresh.zone)
    assert AnswerLink.objects.get().expires_at == last
    Shop.objects.update(estimate_days=30)  # as many days as the link has: it works all of the last one
    sharpening(shop, owner, order)
    estimate, _ = sent(Shop.objects.get(), owner, RepairOrder.objects.get(pk=order.pk))
    last = dt.datetime.combine(estimate.valid_until + dt.timedelta(days=1), dt.time(), tzinfo=fresh.zone)
    assert AnswerLink.objects.get(estimate=estimate).expires_at == last
    Estimate.objects.update(valid_until=fresh.today() - dt.timedelta(days=1))
    with pytest.raises(Conflict, match="has expired"):
        answered(fresh, owner, estimate, {job.pk: True})


def test_by_telephone_the_record_is_needed(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    given: dict[str, Any] = {
        "shop": shop, "by": owner, "estimate_id": estimate.pk, "said_by": "Imke",
        "answers": [{"job": job.pk, "accepted": True}],
    }  # fmt: skip
    now = timezone.now()
    with pytest.raises(Refused) as refusal:
        take_answers(channel="phone", words="called 555-0133, read back", **given)
    assert [one.field for one in refusal.value.problems] == ["phone_number", "called_at", "read_back"]
    call = {**PHONED, "called_at": now}
    for field, value, words in (
        ("read_back", False, "needs its record"),
        ("phone_number", "x12", "no telephone number"),
        ("phone_number", "1" * 16, "no telephone number"),
        ("called_at", now + dt.timedelta(minutes=5), "in the future"),
        ("called_at", estimate.created_at - dt.timedelta(minutes=5), "before there was anything"),
    ):
        with pytest.raises(Refused, match=words):
            take_answers(**{**call, field: value}, **given)
    with pytest.raises(Refused, match="not how staff"):
        take_answers(channel="link", **given)
    with pytest.raises(Refused, match="belongs to an answer by telephone"):
        take_answers(**{**call, "channel": "in_person"}, **given)
    take_answers(**call, **given)
    answer = Answer.objects.get()
    assert (answer.taken_by, answer.phone_number, answer.called_at, answer.read_back) == (
        owner.user, "555-0133", now, True,
    )  # fmt: skip
    with pytest.raises(Conflict, match="answered on this version"):
        take_answers(channel="in_person", words="signed on paper", **given)


def test_answers_that_do_not_fit_change_nothing(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    late = sharpening(shop, owner, order)
    foreign = season_service(shop, owner, another_order(shop, owner, order))
    for wrong in (late, foreign):
        with pytest.raises(Refused, match="not on the estimate"):
            answered(shop, owner, estimate, {job.pk: True, wrong.pk: True})
    twice = [{"job": job.pk, "accepted": True}] * 2
    with pytest.raises(Refused, match="answered twice"):
        take_answers(
            shop=shop,
            by=owner,
            estimate_id=estimate.pk,
            channel="in_person",
            said_by="I",
            words="on paper",
            answers=twice,
        )
    assert not Answer.objects.exists()
    assert state(job) == "proposed"


def test_what_was_changed_since_cannot_be_accepted(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    other = sharpening(shop, owner, order)
    _, token = sent(shop, owner, order)
    add_part(shop=shop, by=owner, job_id=job.pk, words="Filter", unit_price=D("3.00"))
    both = [{"job": job.pk, "accepted": True}, {"job": other.pk, "accepted": True}]
    with pytest.raises(Conflict, match="changed since"):
        answer_by_link(token=token, said_by="Imke", answers=both)
    assert state(other) == "proposed"
    assert AnswerLink.objects.get().used_at is None
    strike_job(shop=shop, by=owner, job_id=job.pk, reason="not needed")
    with pytest.raises(Conflict, match="struck"):
        answer_by_link(token=token, said_by="Imke", answers=both)
    answer_by_link(token=token, said_by="Imke", answers=both[1:])
    assert (state(job), state(other)) == ("struck", "agreed")


def test_an_agreed_job_may_be_left_out_of_the_next_answer(
    shop: Shop, owner: Staff, order: RepairOrder, job: Job
) -> None:
    agreed(shop, owner, order)
    fit_part(shop=shop, by=owner, part_id=job.parts.get().pk)
    other = sharpening(shop, owner, order)
    _, token = sent(shop, owner, order)
    with pytest.raises(Conflict, match="a part is fitted"):
        both = [{"job": job.pk, "accepted": False}, {"job": other.pk, "accepted": True}]
        answer_by_link(token=token, said_by="Imke", answers=both)
    answer_by_link(token=token, said_by="Imke", answers=[{"job": other.pk, "accepted": True}])
    assert (state(job), state(other)) == ("agreed", "agreed")


def test_a_declined_job_comes_back_only_on_purpose(shop: Shop, owner: Staff, order: RepairOrder, job: Job) -> None:
    other = sharpening(shop, owner, order)
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    answered(shop, owner, estimate, {job.pk: False, other.pk: True})
    second = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert [one["id"] for one in second.facts["jobs"]] == [str(other.pk)]
    with pytest.raises(Conflict, match="Job 2 is agreed"):
        propose_again(shop=shop, by=owner, job_id=other.pk)
    assert change_job(shop=shop, by=owner, job_id=job.pk, version=1, changes={"cause": "worn"}).state == "declined"
    propose_again(shop=shop, by=owner, job_id=job.pk)
    third = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert [one["id"] for one in third.facts["jobs"]] == [str(job.pk), str(other.pk)]
    answered(shop, owner, third, {job.pk: True})
    assert (
        change_job(shop=shop, by=owner, job_id=job.pk, version=3, changes={"correction": "new plug"}).state == "agreed"
    )


def test_another_shops_staff_reach_nothing(
    shop: Shop, other_shop: Shop, owner: Staff, order: RepairOrder, job: Job
) -> None:
    estimate = issue_estimate(shop=shop, by=owner, order_id=order.pk)
    stranger = Staff.objects.get(shop=other_shop)
    for forbidden in (
        lambda: answered(other_shop, stranger, estimate, {job.pk: True}),
        lambda: send_estimate(shop=other_shop, by=stranger, estimate_id=estimate.pk),
        lambda: issue_estimate(shop=other_shop, by=stranger, order_id=order.pk),
    ):
        with pytest.raises(Missing):
            forbidden()
    assert state(job) == "proposed"


LINES = st.lists(st.tuples(st.integers(1, 240), st.decimals("0", "200", places=2)), max_size=4)
PARTS = st.lists(st.tuples(st.decimals("0.001", "50", places=3), st.decimals("0", "900", places=3)), max_size=4)
PAYERS = st.sampled_from(["customer", "warranty", "shop", "goodwill"])
TAXES = st.lists(
    st.tuples(
        st.decimals("0", "15", places=3), st.sets(st.sampled_from(["labour", "part"])),
        st.sets(st.sampled_from(["customer", "warranty", "shop"])),
    ),
    max_size=3,
)  # fmt: skip


MONEY = {"code": "USD", "symbol": "$", "tax_basis": "invoice"}


def as_facts(jobs: Any) -> list[dict[str, Any]]:
    """Random jobs as an estimate's facts hold them, still without amounts."""
    return [
        {
            "id": str(index), "title": f"Job {index}", "payer": payer,
            "labour": [
                {"id": f"{index}l{i}", "code": "", "words": "work", "tenths": tenths, "rate": f"{rate:f}"}
                for i, (tenths, rate) in enumerate(labour)
            ],
            "parts": [
                {"id": f"{index}p{i}", "number": "", "words": "part", "quantity": f"{count:f}", "unit_price": f"{each:f}"}
                for i, (count, each) in enumerate(parts)
            ],
        }
        for index, (payer, labour, parts) in enumerate(jobs)
    ]  # fmt: skip


def as_rates(taxes: Any) -> list[dict[str, Any]]:
    return [
        {"name": f"tax {i}", "percent": f"{percent:f}", "on_kinds": sorted(kinds), "on_payers": sorted(payers)}
        for i, (percent, kinds, payers) in enumerate(taxes)
    ]


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(PAYERS, LINES, PARTS), max_size=5), TAXES, st.sampled_from([0, 2, 3]), st.booleans())
def test_payers_and_lines_make_the_whole(jobs: Any, taxes: Any, decimals: int, exempt: bool) -> None:
    facts = as_facts(jobs)
    money = {**MONEY, "decimals": decimals}
    totals = priced.price(facts, as_rates(taxes), money, exempt=exempt, on=dt.date(2026, 1, 1))

    def sum_of(name: str, rows: list[dict[str, Any]]) -> Decimal:
        return sum((D(row[name]) for row in rows), D(0))

    lines = [line for job in facts for line in (*job["labour"], *job["parts"])]
    assert sum_of("total", totals["payers"]) == D(totals["total"]) == D(totals["net"]) + D(totals["tax"])
    assert sum_of("net", facts) == sum_of("amount", lines) == sum_of("net", totals["payers"]) == D(totals["net"])
    for one in totals["payers"]:
        assert sum_of("amount", one["taxes"]) == D(one["tax"])
        assert sum_of("net", [job for job in facts if job["payer"] == one["payer"]]) == D(one["net"])
    if exempt:
        assert D(totals["customer_tax"]) == 0


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(PAYERS, LINES, PARTS), min_size=1, max_size=4), TAXES, st.booleans(), st.data())
def test_what_is_left_undone_never_makes_the_bill_higher(jobs: Any, taxes: Any, by_line: bool, data: Any) -> None:
    money = {**MONEY, "decimals": 2, "tax_basis": "item" if by_line else "invoice"}
    agreed_to, done = as_facts(jobs), as_facts(jobs)
    for job in done:
        job["labour"] = [line for line in job["labour"] if data.draw(st.booleans())]
        for line in job["labour"]:
            line["tenths"] = data.draw(st.integers(1, line["tenths"]))
        job["parts"] = [line for line in job["parts"] if data.draw(st.booleans())]
    rates, day = as_rates(taxes), dt.date(2026, 1, 1)
    most = priced.price(agreed_to, rates, money, exempt=False, on=day)
    bill = priced.price(done, rates, money, exempt=False, on=day)
    assert D(bill["customer_total"]) <= D(most["customer_total"])
    assert D(bill["total"]) <= D(most["total"])


def test_the_unit_is_read_once_for_all_jobs_of_an_order(shop: Shop, owner: Staff, order: RepairOrder) -> None:
    set_rates(shop)
    for _ in range(3):
        season_service(shop, owner, order)
    with CaptureQueriesContext(connection) as asked:
        issue_estimate(shop=shop, by=owner, order_id=order.pk)
    assert sum('FROM "orders_machinemodel"' in one["sql"] for one in asked.captured_queries) == 1
