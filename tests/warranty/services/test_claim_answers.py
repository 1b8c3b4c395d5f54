"""What comes back for a claim: answers and credits, the state that follows, and that nobody else is made to pay."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from orders.models import Job
from shopdocs.rest.refusals import Conflict, Refused
from tests.warranty.scene import DAY, Scene
from warranty.models import Claim, ClaimAnswer, Credit
from warranty.services.claim_answers import close_claim, overdue, record_answer, record_credit, standing
from warranty.services.claims import file_claim
from warranty.services.parts_holds import release_parts_hold

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def claim(scene: Scene, finished_job: Job) -> Claim:
    """Asked: labour 93.75, parts 63.99, together 157.74."""
    scene.terms()
    return file_claim(shop=scene.shop, by=scene.owner, job=finished_job.pk)


def answer(
    scene: Scene, claim: Claim, outcome: str, labour: str | None = None, parts: str | None = None, **more: Any
) -> Claim:
    amounts = {"labour_approved": labour, "parts_approved": parts}
    given = {name: D(value) for name, value in amounts.items() if value is not None}
    facts: dict[str, Any] = {"version": claim.version, "answered_on": scene.today}
    return record_answer(shop=scene.shop, by=scene.owner, claim=claim, outcome=outcome, **(facts | given | more))


def credit(scene: Scene, claim: Claim, amount: str, **more: Any) -> Claim:
    facts: dict[str, Any] = {"version": claim.version, "received_on": scene.today}
    return record_credit(shop=scene.shop, by=scene.owner, claim=claim, amount=D(amount), **(facts | more))


def test_in_full_takes_what_was_asked_and_credits_settle_it(scene: Scene, claim: Claim) -> None:
    claim = answer(scene, claim, "in_full")
    assert (claim.state, standing(claim).approved) == ("answered", D("157.740"))
    claim = credit(scene, claim, "100.00")
    assert (claim.state, standing(claim).owed) == ("answered", D("57.740"))
    claim = credit(scene, claim, "57.74")
    assert (claim.state, standing(claim).owed) == ("settled", D(0))
    assert Credit.objects.for_shop(scene.shop).count() == 2


def test_in_part_owes_what_was_approved(scene: Scene, claim: Claim) -> None:
    claim = answer(scene, claim, "in_part", "60.00", "63.99")
    assert standing(claim).owed == D("123.99")


def test_more_asked_approves_nothing_yet(scene: Scene, claim: Claim) -> None:
    claim = answer(scene, claim, "more_asked", words="send the plate")
    assert (claim.state, standing(claim)) == ("filed", standing(claim))
    assert standing(claim).approved is None
    with pytest.raises(Refused, match="approves nothing yet"):
        answer(scene, claim, "more_asked", "1")


def test_a_refusal_moves_no_money_to_the_customer(scene: Scene, claim: Claim) -> None:
    claim = answer(scene, claim, "refused", words="abuse, they say")
    job = Job.objects.for_shop(scene.shop).get(pk=claim.job_id)
    assert (job.payer, job.basis_kind, claim.state) == ("warranty", "coverage_decision", "answered")
    assert (standing(claim).approved, standing(claim).owed) == (D(0), D(0))
    closed = close_claim(shop=scene.shop, by=scene.owner, claim=claim, version=claim.version, note="shop bears it")
    assert Job.objects.for_shop(scene.shop).get(pk=claim.job_id).payer == "warranty"
    with pytest.raises(Conflict, match="closed"):
        answer(scene, closed, "in_full")


def test_the_newest_answer_decides_and_the_older_stays(scene: Scene, claim: Claim) -> None:
    claim = answer(scene, claim, "refused")
    claim = answer(scene, claim, "in_part", "93.75", "0", words="after our letter")
    claim = answer(scene, claim, "more_asked")
    assert standing(claim).approved == D("93.75")
    assert [row.outcome for row in claim.answers.all()] == ["refused", "in_part", "more_asked"]


@pytest.mark.parametrize(
    ("outcome", "labour", "parts", "said"),
    [
        ("in_part", "937.51", "0", "over 10 times"),
        ("in_part", "0", "640.00", "over 10 times"),
        ("in_part", "0", "0", "Nothing was approved"),
        ("in_part", "10.00", None, "not known"),
        ("in_part", "10.001", "0", "finer"),
        ("in_full", "93.75", "60.00", "less than was asked"),
        ("refused", "10.00", None, "approves nothing"),
    ],
)
def test_amounts_that_do_not_fit(
    scene: Scene, claim: Claim, outcome: str, labour: str, parts: str | None, said: str
) -> None:
    with pytest.raises(Refused, match=said):
        answer(scene, claim, outcome, labour, parts)
    assert not ClaimAnswer.objects.for_shop(scene.shop).exists()


def test_more_than_asked_may_be_approved_up_to_ten_times(scene: Scene, claim: Claim) -> None:
    claim = answer(scene, claim, "in_part", "937.50", "63.99")
    assert standing(claim).approved == D("1001.49")


def test_in_full_of_an_unknown_sum_needs_the_amounts(scene: Scene, finished_job: Job) -> None:
    claim = file_claim(shop=scene.shop, by=scene.owner, job=finished_job.pk)
    with pytest.raises(Refused, match="not known"):
        answer(scene, claim, "in_full")
    assert standing(answer(scene, claim, "in_full", "90", "60")).approved == D(150)


@pytest.mark.parametrize("days", [1, -10])
def test_days_that_cannot_be(scene: Scene, claim: Claim, days: int) -> None:
    with pytest.raises(Refused):
        answer(scene, claim, "in_full", answered_on=scene.today + days * DAY)
    with pytest.raises(Refused):
        credit(scene, claim, "5", received_on=scene.today + days * DAY)
    assert not ClaimAnswer.objects.for_shop(scene.shop).exists()
    assert not Credit.objects.for_shop(scene.shop).exists()


def test_credits_never_pass_what_was_approved(scene: Scene, claim: Claim) -> None:
    with pytest.raises(Refused, match="over 10 times"):
        credit(scene, claim, "1577.41")
    claim = answer(scene, claim, "in_part", "60.00", "40.00")
    with pytest.raises(Refused, match=r"come to \$100\.01, over the \$100\.00 approved"):
        credit(scene, claim, "100.01")
    for amount, said in (("0", "of nothing"), ("5.001", "finer"), ("-5.00", r"more than the \$0\.00 that came")):
        with pytest.raises(Refused, match=said):
            credit(scene, claim, amount)
    assert not Credit.objects.for_shop(scene.shop).exists()
    assert credit(scene, claim, "100").state == "settled"


def test_money_that_the_distributor_took_back_is_owed_again(scene: Scene, claim: Claim) -> None:
    claim = credit(scene, answer(scene, claim, "in_full"), "157.74")
    with pytest.raises(Refused, match=r"\$157\.75 is more than the \$157\.74 that came"):
        credit(scene, claim, "-157.75")
    claim = credit(scene, claim, "-57.74")
    assert (claim.state, standing(claim).credited, standing(claim).owed) == ("answered", D("100.00"), D("57.74"))
    assert credit(scene, claim, "57.74").state == "settled"


def test_money_that_comes_late_is_recorded_on_the_closed_claim(scene: Scene, claim: Claim) -> None:
    closed = close_claim(shop=scene.shop, by=scene.owner, claim=claim, version=claim.version, note="nothing comes")
    with pytest.raises(Refused, match=r"\$157\.75, over the \$157\.74 of the claim"):
        credit(scene, closed, "157.75")
    late = credit(scene, closed, "150")
    assert (late.state, standing(late).credited) == ("closed", D("150"))
    with pytest.raises(Conflict, match="is closed"):
        credit(scene, late, "-10")


def test_money_for_a_job_that_was_claimed_anew_goes_on_the_new_claim(scene: Scene, claim: Claim) -> None:
    closed = close_claim(shop=scene.shop, by=scene.owner, claim=claim, version=claim.version, note="they ask for more")
    anew = file_claim(shop=scene.shop, by=scene.owner, job=claim.job_id)
    with pytest.raises(Conflict, match=f"claimed anew as {anew.number}"):
        credit(scene, closed, "10")


def test_money_may_come_before_the_answer(scene: Scene, claim: Claim) -> None:
    claim = credit(scene, claim, "157.74")
    assert (claim.state, standing(claim).owed) == ("filed", None)
    assert answer(scene, claim, "in_full").state == "settled"


def test_a_stale_save_is_refused(scene: Scene, claim: Claim) -> None:
    answer(scene, claim, "in_part", "10", "10")
    with pytest.raises(Conflict, match="at version 2"):
        answer(scene, claim, "in_full")
    with pytest.raises(Conflict, match="at version 2"):
        credit(scene, claim, "5")
    with pytest.raises(Conflict, match="at version 2"):
        close_claim(shop=scene.shop, by=scene.owner, claim=claim, version=1, note="x")


def test_a_settled_claim_is_not_closed(scene: Scene, claim: Claim) -> None:
    claim = credit(scene, answer(scene, claim, "in_full"), "157.74")
    with pytest.raises(Conflict, match="settled"):
        close_claim(shop=scene.shop, by=scene.owner, claim=claim, version=claim.version, note="x")


def test_an_answer_is_overdue_only_after_its_day(scene: Scene, claim: Claim) -> None:
    assert claim.answer_due == scene.today + 20 * DAY
    assert not overdue(claim, scene.today + 20 * DAY)
    assert overdue(claim, scene.today + 21 * DAY)
    assert not overdue(answer(scene, claim, "refused"), scene.today + 21 * DAY)


def test_a_hold_ends_once_with_a_note(scene: Scene, claim: Claim) -> None:
    hold = claim.parts_holds.get()
    with pytest.raises(Refused, match="not come yet"):
        release_parts_hold(
            shop=scene.shop, by=scene.owner, hold=hold, version=1, note="back", released_on=scene.today + DAY
        )
    done = release_parts_hold(shop=scene.shop, by=scene.owner, hold=hold, version=1, note="sent back, parcel 7")
    assert (done.released_on, done.released_note) == (scene.today, "sent back, parcel 7")
    with pytest.raises(Conflict, match="was released"):
        release_parts_hold(shop=scene.shop, by=scene.owner, hold=hold, version=2, note="again")
