"""What distributors owe: claims in the books until money came or somebody settled them, on every day adding up."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from orders.models import Job
from orders.rules.receivables import Entry
from orders.services.receivables import PayerStanding, owed, receivables_on
from orders.services.statements import request_statement, statement_of
from shopdocs.documents.services.papers import draw_sheet
from tests.papers_reading import faults, words_of
from tests.warranty.scene import DAY, Scene
from warranty.models import Claim, TurnOver
from warranty.services.claim_answers import close_claim, record_answer, record_credit
from warranty.services.claims import file_claim

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def claim(scene: Scene, finished_job: Job) -> Claim:
    """Filed two days ago over 93.75 labour (1.5 h at 62.50) and 63.99 parts (90 % of 71.10): 157.74."""
    scene.terms()
    return file_claim(shop=scene.shop, by=scene.owner, job=finished_job.pk, filed_on=scene.today - 2 * DAY)


def fresh(claim: Claim) -> Claim:
    return Claim.objects.get(pk=claim.pk)


def answer(claim: Claim, outcome: str, labour: str | None = None, parts: str | None = None) -> Claim:
    return record_answer(
        shop=claim.shop, by=_owner(claim), claim=claim, version=fresh(claim).version, outcome=outcome,
        answered_on=claim.shop.today(), labour_approved=None if labour is None else D(labour),
        parts_approved=None if parts is None else D(parts),
    )  # fmt: skip


def credit(claim: Claim, amount: str) -> Claim:
    return record_credit(
        shop=claim.shop, by=_owner(claim), claim=claim, version=fresh(claim).version, amount=D(amount),
        received_on=claim.shop.today(), reference="CR-9",
    )  # fmt: skip


def _owner(claim: Claim) -> Any:
    return claim.shop.staff.get(user__username=f"owner-{claim.shop.slug}")


def standing(claim: Claim, day: dt.date | None = None) -> PayerStanding:
    """The distributor's, checked on the way: asked = paid + credited + written off + open, and ageing is what is open."""
    (one,) = receivables_on(owed(claim.shop), day or claim.shop.today())
    books = one.reconciled
    assert books.asked == books.paid + books.credited + books.written_off + books.open
    assert one.ageing.total == books.open
    assert (one.payer.kind, one.payer.name) == ("distributor", "Hadley Wholesale")
    return one


def test_a_filed_claim_is_owed_from_its_day(claim: Claim) -> None:
    assert receivables_on(owed(claim.shop), claim.filed_on - DAY) == []
    one = standing(claim, claim.filed_on)
    assert (one.reconciled.asked, one.reconciled.open, one.ageing.not_due) == (D("157.74"),) * 3
    assert claim.answer_due is not None
    assert standing(claim, claim.answer_due).ageing.not_due == D("157.74")
    assert standing(claim, claim.answer_due + DAY).ageing.to_30 == D("157.74")
    (row,) = owed(claim.shop)
    assert (row.item.number, row.known, row.due_known) == (claim.number, True, True)


def test_paid_in_full(claim: Claim) -> None:
    answer(claim, "in_full")
    assert standing(claim).reconciled.open == D("157.74")
    credit(claim, "100.00")
    credit(claim, "57.74")
    one = standing(claim)
    assert (one.reconciled.paid, one.reconciled.open, one.open) == (D("157.74"), D("0.00"), ())


def test_what_is_approved_beyond_what_was_asked_is_paid_with_it(claim: Claim) -> None:
    """One credit for both items of the claim: nothing stays overdue beside as much held, on no day."""
    answer(claim, "in_full", "100.00", "80.00")
    Claim.objects.filter(pk=claim.pk).update(answer_due=claim.shop.today() - DAY)
    assert (standing(claim).ageing.overdue, standing(claim).ageing.not_due) == (D("157.74"), D("22.26"))
    credit(claim, "170.00")
    assert standing(claim, claim.shop.today() + DAY).ageing.overdue == D("10.00")
    credit(claim, "10.00")
    credit(claim, "-30.00")
    one = standing(claim, claim.shop.today() + DAY)
    assert (one.ageing.overdue, one.ageing.held, one.reconciled.paid) == (D("30.00"), D(0), D("150.00"))
    credit(claim, "30.00")
    for days in range(-2, 3):
        one = standing(claim, claim.shop.today() + days * DAY)
        assert one.ageing.held == 0
    assert one.ageing.overdue == 0 and one.open == ()


def test_money_that_comes_after_the_close_takes_back_what_was_written_off(claim: Claim) -> None:
    today = claim.shop.today()
    close_claim(shop=claim.shop, by=_owner(claim), claim=claim, version=fresh(claim).version, note="nothing comes")
    Claim.objects.filter(pk=claim.pk).update(closed_on=today - DAY)
    credit(claim, "57.74")
    for day, paid, off in ((today - DAY, "0.00", "157.74"), (today, "57.74", "100.00")):
        one = standing(claim, day)
        assert (one.reconciled.paid, one.reconciled.written_off, one.reconciled.open) == (D(paid), D(off), D("0.00"))


def test_a_refusal_alone_changes_nothing_in_the_books(claim: Claim) -> None:
    answer(claim, "refused")
    assert standing(claim).reconciled.open == D("157.74")
    answer(claim, "in_part", "50.00", "20.00")
    credit(claim, "70.00")
    one = standing(claim)
    assert fresh(claim).state == "settled"
    assert (one.reconciled.paid, one.reconciled.open) == (D("70.00"), D("87.74"))


@pytest.mark.parametrize("to, what", [("goodwill", Entry.WRITE_OFF), ("customer", Entry.CREDIT)])
def test_a_spoken_turn_over_settles_the_rest(claim: Claim, to: str, what: Entry) -> None:
    answer(claim, "in_part", "50.00", "20.00")
    credit(claim, "70.00")
    TurnOver.objects.create(
        shop=claim.shop, claim=claim, to=to, amount=D("87.74"), turned_on=claim.shop.today(), reason="said so",
        by=_owner(claim).user,
    )  # fmt: skip
    one = standing(claim)
    gone = one.reconciled.written_off if what is Entry.WRITE_OFF else one.reconciled.credited
    assert (one.reconciled.paid, gone, one.reconciled.open) == (D("70.00"), D("87.74"), D("0.00"))
    assert standing(claim, claim.shop.today() - DAY).reconciled.open == D("157.74")


def test_closing_a_claim_ends_what_is_expected(claim: Claim) -> None:
    credit(claim, "40.00")
    close_claim(
        shop=claim.shop, by=_owner(claim), claim=claim, version=fresh(claim).version, note="they ask for it anew"
    )
    assert fresh(claim).closed_on == claim.shop.today()
    one = standing(claim)
    assert (one.reconciled.paid, one.reconciled.written_off, one.reconciled.open) == (
        D("40.00"),
        D("117.74"),
        D("0.00"),
    )


def test_more_approved_than_asked_is_asked_from_that_day(claim: Claim) -> None:
    answer(claim, "in_full", "100.00", "63.99")
    one = standing(claim)
    assert (one.reconciled.asked, one.reconciled.open) == (D("163.99"), D("163.99"))
    assert standing(claim, claim.shop.today() - DAY).reconciled.asked == D("157.74")
    credit(claim, "163.99")
    assert standing(claim).reconciled.open == 0


def test_a_claim_whose_amount_is_not_known_is_named_and_not_counted(scene: Scene, finished_job: Job) -> None:
    scene.terms(labour_rate=None)
    claim = file_claim(shop=scene.shop, by=scene.owner, job=finished_job.pk)
    assert claim.expected is None
    one = standing(claim)
    assert (one.reconciled.asked, one.ageing.total) == (0, 0)
    assert [row.item.number for row in one.unknown] == [claim.number]
    made = statement_of(shop=scene.shop, distributor=scene.distributor.pk)
    assert [row.item.number for row in made.unknown] == [claim.number]
    answer(claim, "in_part", "60.00", "0")
    one = standing(claim)
    assert (one.reconciled.asked, one.reconciled.open, one.unknown) == (D("60.00"), D("60.00"), ())


def test_the_shops_own_reasons_stay_off_the_distributors_statement(scene: Scene, claim: Claim) -> None:
    answer(claim, "refused")
    TurnOver.objects.create(
        shop=claim.shop, claim=claim, to="goodwill", amount=D("157.74"), turned_on=claim.shop.today(),
        reason="between us", by=_owner(claim).user,
    )  # fmt: skip
    made = statement_of(shop=scene.shop, distributor=scene.distributor.pk, since=claim.filed_on)
    assert [line.title for line in made.account.lines] == [f"Claim {claim.number}", "Taken as goodwill of the shop"]
    assert not [line for line in made.account.lines if "between us" in line.words]


def test_the_statement_of_a_distributor(scene: Scene, claim: Claim) -> None:
    answer(claim, "in_part", "50.00", "20.00")
    credit(claim, "70.00")
    document = request_statement(
        shop=scene.shop, by=scene.owner, distributor=scene.distributor.pk, since=claim.filed_on, until=scene.today
    )
    pdf = draw_sheet(scene.shop, "statement", document.sheet).pdf
    text = words_of(pdf)
    assert faults(pdf) == []
    for said in ("Hadley Wholesale", f"Claim {claim.number} 157.74 157.74", "Credit received", "CR-9", "70.00 87.74"):
        assert said in text, said
