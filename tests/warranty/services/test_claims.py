"""Filing a claim: what is asked, what is refused, and that nothing later changes what was asked."""

from __future__ import annotations

import datetime as dt
import json
import re
from decimal import Decimal
from typing import Any

import pytest

from orders.models import Distributor, Job
from shopdocs.documents.models import Document, Letter
from shopdocs.documents.press.sheets import to_json
from shopdocs.documents.press.values import day_words
from shopdocs.documents.press.words import words
from shopdocs.documents.services.papers import draw_sheet
from shopdocs.rest.refusals import Conflict, Missing, Refused
from shopdocs.shops.models import Event
from tests.warranty.scene import DAY, Scene, made_up_decision
from tests.warranty.services.test_decide import PROMISE
from warranty.models import Claim, CoverageDecision, PartsHold
from warranty.services.claims import file_claim, job_to_claim, preview_claim
from warranty.services.decide import decide_order, digest
from warranty.services.papers import claim_sheet
from warranty.services.terms import record_term

pytestmark = pytest.mark.django_db


def preview(scene: Scene, **given: Any) -> dict[str, Any]:
    return preview_claim(job=job_to_claim(shop=scene.shop, pk=scene.job.pk), **given)


def filed(scene: Scene, **given: Any) -> Claim:
    return file_claim(shop=scene.shop, by=scene.owner, job=scene.job.pk, **given)


def test_expected_money_follows_guide_time_and_list_price(scene: Scene, finished_job: Job) -> None:
    scene.terms()
    facts = preview(scene)
    assert (facts["labour"]["tenths"], facts["labour"]["amount"]) == (15, "93.75")  # 1.5 h x 62.50
    assert facts["parts"]["amount"] == "63.99"  # 90 % of 71.10
    assert facts["expected"] == "157.74"
    assert facts["not_known"] == []
    assert Claim.objects.for_shop(scene.shop).count() == 0


def test_clocked_time_is_counted_in_tenths_over_the_whole_job(scene: Scene, finished_job: Job) -> None:
    scene.terms(time_basis="clocked")
    facts = preview(scene)
    assert facts["labour"]["tenths"] == 14  # 85 minutes are 14.17 tenths
    assert facts["labour"]["amount"] == "87.50"


@pytest.mark.parametrize(
    ("given", "labour", "parts", "why"),
    [
        ({"labour_rate": None}, None, "63.99", "the distributor's labour rate is not recorded"),
        ({"time_basis": ""}, None, "63.99", "it is not recorded by which time the distributor pays"),
        ({"time_basis": "allowed"}, None, "63.99", "the distributor pays the time it allows, which is not known here"),
        (
            {"parts_percent": None},
            "93.75",
            None,
            "what part of the price the distributor pays for parts is not recorded",
        ),
        ({"parts_base": ""}, "93.75", None, "what part of the price the distributor pays for parts is not recorded"),
    ],
)
def test_a_missing_record_is_not_known_and_never_guessed(
    scene: Scene, finished_job: Job, given: dict[str, Any], labour: str | None, parts: str | None, why: str
) -> None:
    scene.terms(**given)
    facts = preview(scene)
    assert (facts["labour"]["amount"], facts["parts"]["amount"], facts["expected"]) == (labour, parts, None)
    assert facts["not_known"] == [why]


def test_cost_base_needs_the_cost(scene: Scene, finished_job: Job) -> None:
    scene.terms(parts_base="cost", parts_percent=Decimal(115))
    assert preview(scene)["parts"]["amount"] == "55.20"  # 115 % of 48.00
    finished_job.parts.update(unit_cost=None)
    facts = preview(scene)
    assert facts["parts"]["amount"] is None
    assert facts["not_known"] == ["the shop's cost of KL-30-1182 is not recorded"]


def test_labour_outside_the_guide_is_not_known_under_guide_time(scene: Scene, finished_job: Job) -> None:
    scene.terms()
    finished_job.labour.update(operation=None, code="")
    assert preview(scene)["labour"]["amount"] is None


def test_without_terms_nothing_is_known_but_the_claim_can_be_filed(scene: Scene, finished_job: Job) -> None:
    claim = filed(scene)
    assert (claim.expected, claim.deadline, claim.late, claim.answer_due) == (None, None, False, None)
    assert "not known" in claim.facts["deadline"]["words"]
    assert claim.letter.to_address == "desk@hadley.example"
    assert PartsHold.objects.for_shop(scene.shop).get().keep_until is None


@pytest.mark.parametrize(("days", "late"), [(2, False), (1, True), (3, False)])
def test_the_last_day_to_file_is_counted_from_the_repair(
    scene: Scene, finished_job: Job, days: int, late: bool
) -> None:
    scene.terms(filing_days=days)  # the repair was finished two days ago: with two days, today is the last day
    claim = filed(scene)
    assert claim.deadline == scene.today - 2 * DAY + days * DAY
    assert claim.late is late
    assert bool(claim.facts["deadline"]["late_words"]) is late
    assert ("after the last day" in claim.letter.body) is late


@pytest.mark.parametrize(("language", "told"), [("en", "finished"), ("es", "terminado el")])
def test_the_letter_writes_its_day_as_the_paper_does_and_in_its_language(
    scene: Scene, finished_job: Job, language: str, told: str
) -> None:
    scene.terms()
    scene.shop.language = language
    scene.shop.save()
    claim = filed(scene)
    assert f"{told} {day_words(claim.repaired_on, words(language))}" in claim.letter.body
    assert not re.search(r"\d{4}-\d{2}-\d{2}", claim.letter.body)
    assert ("Adjuntamos" in claim.letter.body) is (language == "es")


def test_terms_of_the_repair_day_apply_not_those_of_today(scene: Scene, finished_job: Job) -> None:
    scene.terms(labour_rate=Decimal("50"))
    scene.terms(labour_rate=Decimal("99"), starts_on=scene.today - DAY)
    assert preview(scene)["labour"]["amount"] == "75.00"


def test_filing_keeps_parts_requests_paper_and_letter(scene: Scene, finished_job: Job) -> None:
    scene.terms()
    scene.photo("before", about=scene.module.subject, caption="no spark")
    scene.photo("hour_meter", colour="red")
    scene.photo("serial_plate", colour="blue")
    claim = filed(scene, approval="AP-7")
    hold = PartsHold.objects.for_shop(scene.shop).get()
    assert (claim.number, claim.state, hold.keep_until) == ("C-1001", "filed", claim.filed_on + 60 * DAY)
    sheet = claim.document.sheet
    assert (sheet["number"], sheet["approval"], sheet["causal"]["held_as"]) == ("C-1001", "AP-7", hold.tag)
    assert [photo["shows"] for photo in sheet["photos"]] == ["serial plate", "hour meter", ""]
    assert [photo["caption"] for photo in sheet["photos"]] == ["Serial plate", "Hour meter", "no spark"]
    assert [photo["finding"] for photo in sheet["photos"]] == ["", "", "F1"]
    assert [photo["number"] for photo in sheet["photos"]] == [3, 2, 1], "as on the order's own papers"
    assert sheet["account"] == "A-4411"
    assert (sheet["labour_rate"], sheet["parts"][0]["each"], sheet["parts"][0]["quantity"]) == ("62.50", "71.10", "1")
    letter = claim.letter
    assert (letter.to_address, list(letter.documents.all())) == ("claims@hadley.example", [claim.document])
    assert "$157.74" in letter.body and "Hello Hadley" in letter.body and hold.tag in letter.body
    assert Event.objects.filter(shop=scene.shop, subject=claim.subject, verb="filed").count() == 1


def test_the_claim_tells_what_the_technician_found_and_whether_approval_was_wanted(
    scene: Scene, finished_job: Job
) -> None:
    scene.terms()
    scene.module.note = "No spark at a new plug with the stop lead off."
    scene.module.save()
    sheet = filed(scene).document.sheet
    (found,) = sheet["found"]
    assert found.startswith("F1 Ignition module") and found.endswith(f". {scene.module.note}") and "0.2" in found
    assert sheet["approval"] == "the maker asks for none"


def test_approval_that_was_not_given_is_not_said_to_be_needless(scene: Scene, finished_job: Job) -> None:
    scene.terms()
    for asked in (True, None):
        scene.maker.approval_before_work = asked
        scene.maker.save()
        facts = preview(scene)
        assert claim_sheet(facts | {"declared_by": ""}, number="C-1", code="c").approval == ""


def test_no_address_no_letter(scene: Scene, finished_job: Job) -> None:
    scene.terms(claims_email="")
    Distributor.objects.for_shop(scene.shop).update(email="")
    claim = filed(scene)
    assert claim.letter is None
    assert claim.document is not None


def test_assembly_distributor_comes_before_the_makers(scene: Scene, finished_job: Job) -> None:
    other = Distributor.objects.create(shop=scene.shop, name="Engine House")
    scene.engine.distributor = other
    scene.engine.save()
    assert preview(scene)["distributor"]["name"] == "Engine House"
    scene.engine.distributor = None
    scene.engine.save()
    assert preview(scene)["distributor"]["name"] == "Hadley Wholesale"
    scene.maker.distributor = None
    scene.maker.save()
    with pytest.raises(Conflict, match="No distributor is recorded for Korlind"):
        preview(scene)
    assert preview(scene, distributor=other)["distributor"]["name"] == "Engine House"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"state": "agreed"}, "not done"),
        ({"state": "done", "finished_at": None}, "not done"),
        ({"payer": "customer"}, "paid by customer"),
        ({"basis_id": ""}, "names no coverage decision"),
        ({"basis_kind": "something"}, "names no coverage decision"),
        ({"basis_hash": "0" * 64}, "not the one it was set from"),
    ],
)
def test_only_a_finished_warranty_job_is_claimed(
    scene: Scene, finished_job: Job, change: dict[str, Any], said: str
) -> None:
    if change.get("basis_id") == "":
        change = {"basis_id": str(scene.order.pk)}
    Job.objects.for_shop(scene.shop).filter(pk=finished_job.pk).update(**change)
    with pytest.raises(Conflict, match=said):
        filed(scene)
    assert not Claim.objects.for_shop(scene.shop).exists()
    assert not Document.objects.for_shop(scene.shop).exists()
    assert not Letter.objects.for_shop(scene.shop).exists()


def test_a_second_claim_is_refused_until_the_first_is_closed(scene: Scene, finished_job: Job) -> None:
    first = filed(scene)
    with pytest.raises(Conflict, match=first.number):
        filed(scene)
    first.state = Claim.State.CLOSED
    first.save()
    second = filed(scene)
    assert second.number == "C-1002"


def test_days_that_cannot_be(scene: Scene, finished_job: Job) -> None:
    with pytest.raises(Conflict, match="not come yet"):
        filed(scene, filed_on=scene.today + DAY)
    with pytest.raises(Conflict, match="before the repair"):
        filed(scene, filed_on=scene.today - 3 * DAY)
    assert filed(scene, filed_on=scene.today - DAY).filed_on == scene.today - DAY


def test_another_shops_records_are_not_there(scene: Scene, finished_job: Job, distant: Distributor) -> None:
    with pytest.raises(Refused, match="No such record in your shop") as refusal:
        filed(scene, distributor=distant.pk)
    assert refusal.value.problems[0].field == "distributor"
    with pytest.raises(Missing):
        file_claim(shop=distant.shop, by=scene.owner, job=finished_job.pk)


def test_nothing_later_changes_what_was_asked(scene: Scene, finished_job: Job) -> None:
    terms = scene.terms()
    scene.photo("serial_plate")
    claim = filed(scene)
    sheet, facts = claim.document.sheet, claim.facts
    pdf = draw_sheet(scene.shop, "claim", sheet).pdf
    for record, changes in (
        (terms, {"labour_rate": Decimal("1"), "parts_percent": Decimal(1), "filing_days": 1}),
        (scene.shop, {"name": "Other name", "currency_symbol": "?", "accent": "#000000", "paper": "a4"}),
        (scene.distributor, {"name": "Renamed", "account": "B-1", "street": "Elsewhere"}),
        (scene.maker, {"name": "Renamed maker"}),
        (scene.model, {"name": "Renamed model"}),
        (scene.customer, {"name": "Renamed owner"}),
        (scene.unit, {"serial": "OTHER", "purchased_on": dt.date(2001, 1, 1)}),
        (scene.part, {"list_price": Decimal("9"), "words": "Renamed part"}),
        (scene.module, {"cause": "impact", "note": "changed"}),
        (scene.owner.user, {"first_name": "Someone"}),
    ):
        type(record)._default_manager.filter(pk=record.pk).update(**changes)
    finished_job.labour.update(hours=Decimal("9.9"))
    finished_job.parts.update(unit_price=Decimal("1"), words="Renamed")
    again = Claim.objects.for_shop(scene.shop).get(pk=claim.pk)
    assert again.facts == facts
    assert again.document.sheet == sheet
    assert to_json(claim_sheet(again.facts, number=again.number, code=sheet["code"])) == sheet
    assert draw_sheet(again.document.shop, "claim", again.document.sheet).pdf == pdf
    assert str(again.expected) == "157.740"


def test_a_doubtful_decision_prints_its_answer(scene: Scene, finished_job: Job) -> None:
    doubtful = made_up_decision(scene, "cannot_say_yet")
    Job.objects.for_shop(scene.shop).filter(pk=finished_job.pk).update(
        basis_id=str(doubtful.pk), basis_hash=doubtful.sha256
    )
    assert filed(scene).document.sheet["answer"].startswith("Cannot say yet")


def promise(scene: Scene, **pays: Any) -> CoverageDecision:
    """Has the order decided by a maker's promise that pays so, and set as the ground of the finished job."""
    record_term(shop=scene.shop, by=scene.owner, term=PROMISE | {"pays": {"parts": True, "labour": True} | pays})
    row = decide_order(shop=scene.shop, by=scene.owner, order=scene.order)[0]
    record = json.loads(row.decision) | {"best_paid": "korlind-house"}
    row.decision = json.dumps(record)
    row.sha256 = digest(row.decision)
    row.save()
    Job.objects.for_shop(scene.shop).filter(pk=scene.job.pk).update(basis_id=str(row.pk), basis_hash=row.sha256)
    return row


@pytest.mark.parametrize(
    ("pays", "labour", "parts", "said"),
    [
        ({}, "93.75", "63.99", ""),
        ({"labour": False}, "0.00", "63.99", "the term pays no labour"),
        ({"parts": False}, "93.75", "0.00", "the term pays no parts"),
        ({"labour_percent": "50", "parts_percent": "50"}, "46.88", "32.00",
         "the term pays 50 % of labour; the term pays 50 % of parts"),
    ],
)  # fmt: skip
def test_only_what_the_term_pays_is_expected(
    scene: Scene, finished_job: Job, pays: dict[str, Any], labour: str, parts: str, said: str
) -> None:
    scene.terms()
    promise(scene, **pays)
    facts = preview(scene)
    assert (facts["labour"]["amount"], facts["parts"]["amount"], facts["promise"]) == (labour, parts, said)
    sheet = filed(scene).document.sheet
    assert sheet["time_basis"] == "; ".join(part for part in ("guide time", "guide 1.5 h, clocked 1.4 h", said) if part)


def test_approval_that_the_maker_asks_for_is_missed(scene: Scene, finished_job: Job) -> None:
    type(scene.maker).objects.filter(pk=scene.maker.pk).update(approval_before_work=True)
    assert "approval" in [one["code"] for one in preview(scene)["missing"]]
    assert "approval" not in [one["code"] for one in preview(scene, approval="AP-1")["missing"]]


def test_two_filings_in_one_moment_leave_one_claim(
    scene: Scene, finished_job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = filed(scene)
    with monkeypatch.context() as patched:
        patched.setattr("warranty.services.claims._nothing_filed", lambda job: None)
        with pytest.raises(Conflict, match="in the same moment"):
            filed(scene)
    assert Claim.objects.for_shop(scene.shop).get().pk == first.pk
    assert Document.objects.for_shop(scene.shop).count() == 1
    Claim.objects.for_shop(scene.shop).update(state="closed")
    assert filed(scene).number == "C-1002"
