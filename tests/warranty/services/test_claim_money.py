"""What a claim asks for: shared steps once, the distributor's limits, the times side by side, the warranty's share alone."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from orders.models import Distributor, Job, JobLabour, JobPart, LabourOperation
from orders.models.catalogue import WorkStep
from orders.models.jobs import JobFee
from orders.services.answers import take_answers
from orders.services.estimates import issue_estimate
from tests.orders.back_kit import set_rates
from tests.warranty.scene import Scene
from warranty.models import Claim
from warranty.papers.claim import draw
from warranty.services.claim_answers import record_answer
from warranty.services.claim_beside import jobs_left_to, jobs_that_left
from warranty.services.claims import file_claim, job_to_claim, preview_claim
from warranty.services.papers import claim_sheet
from warranty.services.turn_overs import turn_over

pytestmark = pytest.mark.django_db
D = Decimal


def preview(scene: Scene) -> dict[str, Any]:
    return preview_claim(job=job_to_claim(shop=scene.shop, pk=scene.job.pk))


def test_shared_steps_are_asked_for_once_by_the_distributors_rounding(scene: Scene, stepped: Job) -> None:
    scene.terms()
    facts = preview(scene)
    assert (facts["labour"]["tenths"], facts["labour"]["amount"]) == (
        5,
        "31.25",
    )  # 27 minutes, half a tenth up; not 0.7 h
    assert sum(line["tenths"] for line in facts["labour"]["lines"]) == 5
    assert any("shared with the other work" in line["basis"] for line in facts["labour"]["lines"])
    scene.distributor.labour_rounding = "half_even"
    scene.distributor.save()
    assert preview(scene)["labour"]["tenths"] == 4


def test_what_came_back_unused_is_not_asked_for(scene: Scene, finished_job: Job) -> None:
    scene.terms()
    (line,) = preview(scene)["parts"]["lines"]
    part = JobPart.objects.get(pk=line["id"])
    JobPart.objects.filter(pk=part.pk).update(quantity=3)
    assert preview(scene)["parts"]["lines"][0]["amount"] == f"{3 * D(line['amount']):f}"
    JobFee.objects.create(
        shop=scene.shop, job=finished_job, kind="part", words="x", amount=0, returned=part, returned_quantity=2
    )
    (left,) = preview(scene)["parts"]["lines"]
    assert (left["quantity"], left["amount"]) == ("1", line["amount"])


def test_the_time_that_the_distributor_allowed_for_this_job_is_asked_for(scene: Scene, finished_job: Job) -> None:
    scene.terms(time_basis="allowed")
    Job.objects.filter(pk=finished_job.pk).update(allowed_hours=D("1.2"))
    facts = preview(scene)
    assert (facts["labour"]["tenths"], facts["labour"]["amount"], facts["not_known"]) == (12, "75.00", [])


def test_guide_allowed_and_clocked_time_stand_side_by_side(scene: Scene, finished_job: Job) -> None:
    scene.terms()
    Job.objects.filter(pk=finished_job.pk).update(allowed_hours=D("1.2"))
    facts = preview(scene)
    assert facts["times"] == {
        "guide": "1.5",
        "allowed": "1.2",
        "clocked": "1.4",
        "remarks": [
            "The payer allows 0.3 h less than the guide.",
            "The work took 0.2 h more than the payer allows.",
        ],
    }
    sheet = claim_sheet({**facts, "declared_by": "x"}, number="C-1", code="x")
    assert "guide 1.5 h, allowed 1.2 h, clocked 1.4 h" in sheet.time_basis


def test_diagnosis_is_asked_for_up_to_the_distributors_limit(scene: Scene, finished_job: Job) -> None:
    scene.terms(diagnosis_limit=D("0.3"))
    row = LabourOperation.objects.create(
        shop=scene.shop, code="DG", words="Find the fault", hours=D("0.5"), diagnosis=True
    )
    JobLabour.objects.create(
        shop=scene.shop, job=finished_job, operation=row, code="DG", words="Find the fault", hours=D("0.5")
    )
    facts = preview(scene)
    assert facts["labour"]["tenths"] == 15 + 3
    assert "0.3 h is the most" in facts["labour"]["lines"][-1]["basis"]


@pytest.mark.parametrize(
    ("shares", "payer_of", "labour", "parts"),
    [
        ([{"payer": "customer", "percent": "20"}, {"payer": "warranty"}], {}, "75.00", "51.19"),
        ([{"payer": "customer", "amount": "50.00"}, {"payer": "warranty"}], {}, "64.03", "43.71"),
        ([], {"labour": "customer"}, "0.00", "63.99"),
        ([], {"part": "customer"}, "93.75", "0.00"),
    ],
)
def test_only_the_warrantys_share_is_asked_for(
    scene: Scene, finished_job: Job, shares: list[Any], payer_of: dict[str, str], labour: str, parts: str
) -> None:
    """93.75 of labour and 63.99 of parts, 157.74 in all; a deductible of 50.00 leaves 107.74."""
    scene.terms()
    rows = [{"percent": None, "amount": None, **one} for one in shares]
    Job.objects.filter(pk=finished_job.pk).update(shares=rows, payer_of=payer_of)
    facts = preview(scene)
    assert (facts["labour"]["amount"], facts["parts"]["amount"]) == (labour, parts)
    assert D(facts["expected"]) == D(labour) + D(parts)
    assert facts["promise"].startswith("shared: ")


def test_a_share_of_what_is_not_known_is_not_known(scene: Scene, finished_job: Job) -> None:
    scene.terms(labour_rate=None)
    rows = [
        {"payer": "customer", "percent": None, "amount": "50.00"},
        {"payer": "warranty", "percent": None, "amount": None},
    ]
    Job.objects.filter(pk=finished_job.pk).update(shares=rows)
    facts = preview(scene)
    assert facts["labour"]["amount"] is None and facts["parts"]["amount"] is None and facts["expected"] is None


def file(scene: Scene, job: Job) -> Claim:
    return file_claim(shop=scene.shop, by=scene.owner, job=job.pk)


def of_job(scene: Scene, job: Job) -> dict[str, Any]:
    return preview_claim(job=job_to_claim(shop=scene.shop, pk=job.pk))["labour"]


def test_the_second_claim_leaves_out_what_the_first_has_asked_for(scene: Scene, two_jobs: list[Job]) -> None:
    first, second = two_jobs
    assert [of_job(scene, job)["tenths"] for job in two_jobs] == [3, 4]
    claim = file(scene, second)
    assert (claim.facts["labour"]["tenths"], claim.facts["labour"]["left_out"]) == (4, "")
    WorkStep.objects.filter(key="off").update(minutes=60)  # what was asked for stands
    left = of_job(scene, first)
    # 21 and 6 minutes: half a tenth up.
    assert (left["tenths"], left["amount"]) == (1, "6.25")
    assert left["left_out"] == f"1.0 h left out: cover off once, asked for with claim {claim.number}"
    sheet = claim_sheet(file(scene, first).facts, number="C-2", code="x")
    assert sheet.left_out == left["left_out"] and draw(sheet, {}).pdf


@pytest.mark.parametrize(
    ("changes", "tenths"),
    [
        ({"state": "closed"}, 3),  # closed without a credit: nothing came for it
        ({"labour_expected": D(0)}, 3),  # its term pays no labour
        ({"state": "answered"}, 1),
    ],
)
def test_only_what_was_asked_for_is_left_out(
    scene: Scene, two_jobs: list[Job], changes: dict[str, Any], tenths: int
) -> None:
    first, second = two_jobs
    claim = file(scene, second)
    Claim.objects.filter(pk=claim.pk).update(**changes)
    assert of_job(scene, first)["tenths"] == tenths


def test_a_claim_that_is_filed_again_asks_for_what_another_left_out_because_of_it(
    scene: Scene, two_jobs: list[Job]
) -> None:
    first, second = two_jobs
    refused = file(scene, first)
    assert file(scene, second).facts["labour"]["tenths"] == 2
    Claim.objects.filter(pk=refused.pk).update(state="closed")
    assert of_job(scene, first)["tenths"] == 3
    later = file(scene, first)
    # Closed too, the second leaves out what the first has asked for meanwhile.
    Claim.objects.filter(job=second).update(state="closed")
    assert of_job(scene, second)["left_out"].endswith(later.number)


def test_a_claim_that_shortens_the_bare_time_of_another_leaves_that_to_it(scene: Scene, two_jobs: list[Job]) -> None:
    first, second = two_jobs
    pair = [{"operation": "FILTER", "hours": "0.2"}]
    bare = LabourOperation.objects.create(shop=scene.shop, code="BARE", words="Tune", hours=D("0.8"), less_with=pair)
    first.labour.update(operation=bare, code="BARE", words="Tune", hours=D("0.8"))
    closed = file(scene, first)
    facts = file(scene, second).facts
    assert (
        facts["labour"]["left_out"]
        == f"0.2 h left out: Tune shorter beside FILTER, asked for with claim {closed.number}"
    )
    assert (facts["labour"]["tenths"], facts["labour_set"]["left_to"]) == (2, [closed.number])
    Claim.objects.filter(pk=closed.pk).update(state="closed")
    # Filed again it asks for all that the other left to it: together what the union comes to.
    assert of_job(scene, first)["tenths"] == 8


def test_claims_know_to_which_job_shared_work_was_left(scene: Scene, two_jobs: list[Job]) -> None:
    first, second = two_jobs
    carries, leaves = file(scene, first), file(scene, second)
    assert (jobs_left_to(leaves), jobs_that_left(leaves)) == ([first.pk], [])
    assert (jobs_left_to(carries), jobs_that_left(carries)) == ([], [second.pk])
    Claim.objects.filter(pk=carries.pk).update(state="closed")  # nothing came for it
    assert (jobs_left_to(leaves), jobs_that_left(carries)) == ([], [second.pk])


# The cover takes 2 tenths of the 5 that both take: the claim that was filed first asks for it.
@pytest.mark.parametrize(
    ("filed", "refused", "charged"), [((0, 1), 1, 2), ((1, 0), 0, 1), ((0, 1), 0, 3), ((1, 0), 1, 4)]
)
@pytest.mark.parametrize("grown", [False, True])
def test_the_customer_is_not_charged_what_the_warranty_pays_with_another_job(
    scene: Scene, two_jobs: list[Job], filed: tuple[int, int], refused: int, charged: int, grown: bool
) -> None:
    shop, by = scene.shop, scene.owner
    set_rates(shop)
    Job.objects.filter(order=scene.order).update(state="proposed")
    estimate = issue_estimate(shop=shop, by=by, order_id=scene.order.pk)
    assert [sum(line["tenths"] for line in job["labour"]) for job in estimate.facts["jobs"]] == [3, 2]
    choice = {"choice": "pay_up_to", "up_to": D("250.00")}
    take_answers(
        shop=shop, by=by, estimate_id=estimate.pk, channel="in_person", said_by="Wilma Orton", words="signed on paper",
        answers=[{"job": job.pk, "accepted": True, "if_refused": choice} for job in two_jobs],
    )  # fmt: skip
    Job.objects.filter(order=scene.order).update(state="done")
    more = [1] if grown else []  # by the shop's own rule, without a new answer
    for tenths in more:
        scene.shop.own_overrun_percent = 50
        scene.shop.save()
        JobLabour.objects.create(shop=shop, job=two_jobs[refused], words="Clean the bore", hours=D(tenths) / 10)
    claim = {at: file(scene, two_jobs[at]) for at in filed}[refused]
    record_answer(shop=shop, by=by, claim=claim, version=claim.version, outcome="refused", answered_on=scene.today)
    claim.refresh_from_db()
    made = turn_over(shop=shop, by=by, claim=claim, version=claim.version, to="customer", reason="wear")
    assert made.invoice is not None
    (billed,) = made.invoice.facts["jobs"]
    assert [line["tenths"] for line in billed["labour"]] == [charged, *more]


def test_another_distributor_and_a_job_that_is_shared_otherwise_are_asked_for_the_whole(
    scene: Scene, two_jobs: list[Job]
) -> None:
    first, second = two_jobs
    claim = file(scene, second)
    Job.objects.filter(pk=second.pk).update(payer_of={"labour": "customer"})
    assert of_job(scene, first)["tenths"] == 3
    Job.objects.filter(pk=second.pk).update(payer_of={})
    assert of_job(scene, first)["tenths"] == 1
    Claim.objects.filter(pk=claim.pk).update(distributor=Distributor.objects.create(shop=scene.shop, name="Elsewhere"))
    assert of_job(scene, first)["tenths"] == 3
