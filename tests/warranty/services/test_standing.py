"""A ground that fell: no claim is filed and no estimate frozen on a decision that a newer one, or the records, contradict."""

from __future__ import annotations

from typing import Any

import pytest

from orders.models import Assembly, Finding, Job, Maker, Unit
from orders.services.estimates import issue_estimate
from shopdocs.rest.refusals import Conflict
from tests.orders.back_kit import set_rates
from tests.warranty.scene import DAY, Scene, finish
from warranty.models import Claim
from warranty.services.basis import set_job_payer_from_decision
from warranty.services.circumstances import record_circumstances
from warranty.services.claims import file_claim
from warranty.services.decide import decide_order

pytestmark = pytest.mark.django_db


@pytest.fixture
def covered(scene: Scene) -> Scene:
    """The module's fault decided as covered by federal law, the job set to warranty by it, and the repair done."""
    scene.terms()
    settled: dict[str, Any] = {"findings": {str(scene.module.pk): {"stands_alone": True}}}
    record_circumstances(shop=scene.shop, by=scene.owner, order=scene.order, version=0, changes=settled)
    (decision,) = decide_order(shop=scene.shop, by=scene.owner, order=scene.order)
    assert decision.answer == "covered"
    set_job_payer_from_decision(shop=scene.shop, by=scene.owner, job=scene.job, decision=decision)
    scene.job.refresh_from_db()
    return scene


def file(scene: Scene) -> Claim:
    return file_claim(shop=scene.shop, by=scene.owner, job=scene.job.pk)


def out_of_time(scene: Scene) -> None:
    Unit.objects.update(purchased_on=scene.today - 3000 * DAY, delivered_on=None, build_date=scene.today - 3100 * DAY)
    scene.unit.proofs.update(shows_date=scene.today - 3000 * DAY)


def abused(scene: Scene) -> None:
    Finding.objects.update(cause="impact")


def no_engine_of_that_law(scene: Scene) -> None:
    Assembly.objects.update(emission_rule="none")


@pytest.mark.parametrize("change", [out_of_time, abused, no_engine_of_that_law])
def test_records_that_contradict_the_ground(covered: Scene, change: Any) -> None:
    change(covered)
    set_rates(covered.shop)
    with pytest.raises(Conflict, match="what is recorded now says") as early:
        issue_estimate(shop=covered.shop, by=covered.owner, order_id=covered.order.pk)
    assert "jobs/{id}/basis/" in early.value.problems[0].remedy
    finish(covered)
    with pytest.raises(Conflict, match="what is recorded now says"):
        file(covered)
    assert not Claim.objects.exists()


def test_a_newer_decision_that_is_against_it(covered: Scene) -> None:
    finish(covered)
    abused(covered)
    decide_order(shop=covered.shop, by=covered.owner, order=covered.order)
    Finding.objects.update(cause="defect")
    with pytest.raises(Conflict, match="was decided again"):
        file(covered)
    decide_order(shop=covered.shop, by=covered.owner, order=covered.order)
    assert file(covered).number == "C-1001"


def test_a_ground_that_moved_is_decided_anew_and_then_claimed_on_the_newest(covered: Scene) -> None:
    finish(covered)
    day = covered.today - 100 * DAY
    Unit.objects.update(purchased_on=day, delivered_on=day)
    covered.unit.proofs.update(shows_date=day)
    with pytest.raises(Conflict, match="the records have changed since"):
        file(covered)
    (anew,) = decide_order(shop=covered.shop, by=covered.owner, order=covered.order)
    assert file(covered).decision == anew


def test_what_does_not_touch_the_ground_is_no_hindrance(covered: Scene) -> None:
    finish(covered)
    Finding.objects.update(note="seen again, the same")
    decide_order(shop=covered.shop, by=covered.owner, order=covered.order)
    assert file(covered).facts["decision"]["answer"] == "covered"
    assert Job.objects.get().payer == "warranty"


def test_a_shop_that_is_not_authorised_needs_an_approval(covered: Scene) -> None:
    finish(covered)
    Maker.objects.update(authorised=False)
    (anew,) = decide_order(shop=covered.shop, by=covered.owner, order=covered.order)
    assert anew.answer == "covered"
    with pytest.raises(Conflict, match="not authorised by Korlind"):
        file(covered)
    claim = file_claim(shop=covered.shop, by=covered.owner, job=covered.job.pk, approval="AP-77, by telephone")
    assert claim.facts["approval"] == "AP-77, by telephone"
