"""Every figure of a claim is found at how/, and what it lists there, hours included, is done again in fractions."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from orders.models import Distributor, Job, JobLabour, JobPart, LabourOperation, TimeEntry
from orders.models.jobs import JobFee
from shopdocs.money import Currency
from shopdocs.shops.models import Shop
from tests.orders.figures_kit import JPY, KWD, USD, every_figure, name_in_claim, name_in_statement
from tests.sums import done_again, value_of
from tests.warranty.scene import Scene
from warranty.models import Claim, DistributorTerms
from warranty.services import claim_facts
from warranty.services.claim_answers import record_answer, record_credit
from warranty.services.claims import file_claim
from warranty.services.decision_words import TermPays

pytestmark = pytest.mark.django_db
D = Decimal
ALL, SOME = TermPays(), TermPays(labour_percent=D("66.6"), parts_percent=D("33.3"), words="Korlind card, edition 1")
SHARES: list[tuple[list[dict[str, Any]], dict[str, str]]] = [
    ([], {}),
    ([{"payer": "customer", "percent": "20"}, {"payer": "warranty"}], {}),
    ([{"payer": "customer", "amount": "50"}, {"payer": "goodwill", "percent": "33.3"}, {"payer": "warranty"}], {}),
    ([{"payer": "customer", "amount": "50"}, {"payer": "warranty"}], {"part": "shop"}),
    ([], {"labour": "customer"}),
]
PAYS = [ALL, SOME, TermPays(labour=False), TermPays(parts=False)]
CASES = [
    ((USD, JPY, KWD)[at % 3], PAYS[pays], *SHARES[share])
    for at, (pays, share) in enumerate(
        [(0, 0), (1, 0), (2, 0), (3, 0), (1, 1), (0, 2), (1, 2), (2, 2), (1, 3), (3, 3), (0, 4)]
    )
]


@pytest.fixture
def client(scene: Scene, api: Any) -> Any:
    """The API as the owner uses it."""
    return api(scene.owner)


@pytest.fixture
def told(scene: Scene, client: Any) -> Callable[[Claim], dict[str, Decimal]]:
    """Walks every figure of a claim, as its door tells them."""

    def walk(claim: Claim) -> dict[str, Decimal]:
        listed = client.get(f"/api/v1/claims/{claim.pk}/how/").json()
        shop = Shop.objects.get(pk=scene.shop.pk)
        currency = Currency(shop.currency, shop.currency_decimals, shop.currency_symbol)
        found = every_figure(claim.facts, listed, currency, name_in_claim, least=5)
        hours = [line["tenths"] for line in claim.facts["labour"]["lines"]]
        names = [line["figure"] for line in claim.facts["labour"]["lines"]]
        assert [found[name] * 10 for name in names] == hours
        assert found["hours"] * 10 == claim.facts["labour"]["tenths"]
        return found

    return walk


def filed(scene: Scene, job: Job) -> Claim:
    return file_claim(shop=scene.shop, by=scene.owner, job=job.pk)


@pytest.mark.parametrize(("currency", "pays", "shares", "payer_of"), CASES)
def test_every_figure_of_a_claim_is_told_and_done_again(
    scene: Scene,
    stepped: Job,
    told: Callable[[Claim], dict[str, Decimal]],
    client: Any,
    monkeypatch: pytest.MonkeyPatch,
    currency: Currency,
    pays: TermPays,
    shares: list[Any],
    payer_of: dict[str, str],
) -> None:
    """27 minutes of two operations that share a step, diagnosis over the limit, two parts of which some came back."""
    monkeypatch.setattr(claim_facts, "term_pays", lambda decision: pays)
    scene.shop.currency, scene.shop.currency_decimals = currency.code, currency.decimals
    scene.shop.save()
    scene.distributor.labour_rounding = "half_even"
    scene.distributor.save()
    terms = scene.terms(diagnosis_limit=D("0.3"), labour_rate=D("62.5125"), parts_percent=D("87.25"))
    look = LabourOperation.objects.create(shop=scene.shop, code="DG", words="Look", hours=D("0.5"), diagnosis=True)
    JobLabour.objects.create(shop=scene.shop, job=stepped, operation=look, code="DG", words="Look", hours=D("0.5"))
    part = JobPart.objects.get(job=stepped)
    line = JobPart.objects.create(
        shop=scene.shop, job=stepped, words="Line", quantity=D("2.5"), unit_price=D("1.333"), fitted_at=part.fitted_at
    )
    JobFee.objects.create(
        shop=scene.shop, job=stepped, kind="part", words="x", amount=0, returned=line, returned_quantity=D("0.5")
    )
    rows = [{"percent": None, "amount": None, **one} for one in shares]
    Job.objects.filter(pk=stepped.pk).update(shares=rows, payer_of=payer_of)
    claim = filed(scene, stepped)
    found = told(claim)

    # The minutes and the limit, and what comes before any payer shares it, by nothing but the records.
    assert found["minutes"] == 9 + 6 + 12 + 30 and found["hours:together"] == D("1.0")  # 57 min: half to the even
    assert found["hours"] == D("0.8") and found[f"pieces:{line.pk}"] == 2
    cent = Fraction(1, 10**currency.decimals)
    whole = Fraction(8, 10) * Fraction("62.5125") * Fraction(pays.labour_percent or 100) / 100 if pays.labour else 0
    name = "whole:labour" if shares or payer_of else "labour"
    assert found[name] == (Fraction(whole) / cent + Fraction(1, 2)).__floor__() * cent
    names = {step.get("rule", "") for one in claim.facts["figures"] for step in one["steps"]}
    source = f"terms of Hadley Wholesale since {terms.starts_on}: dealer letter, invented"
    assert any(one.startswith(source) for one in names) == (pays.labour or pays.parts)
    assert "the rounding rule of Hadley Wholesale" in names
    assert any("Korlind card" in one for one in names) == (pays is SOME)

    scene.distributor.name = "Renamed"
    scene.distributor.save()
    DistributorTerms.objects.update(labour_rate=D(1), source="changed")
    assert told(claim) == found  # frozen

    if claim.labour_expected:
        claim.refresh_from_db()
        answered = record_answer(
            shop=scene.shop, by=scene.owner, claim=claim, version=claim.version, outcome="in_part",
            answered_on=scene.today, labour_approved=found["labour"], parts_approved=D(0),
        )  # fmt: skip
        record_credit(
            shop=scene.shop,
            by=scene.owner,
            claim=answered,
            version=answered.version,
            amount=currency.quantum,
            received_on=scene.today,
        )
        claim.refresh_from_db()
        now = told(claim)
        row = client.get(f"/api/v1/claims/{claim.pk}/").json()
        assert [D(row[one]) for one in ("approved", "credited", "owed")] == [
            now[one] for one in ("approved", "credited", "owed")
        ]
    path = f"/api/v1/distributors/{scene.distributor.pk}/statement/"
    every_figure(client.get(path).json(), client.get(f"{path}how/").json(), currency, name_in_statement, least=5)


def test_what_an_earlier_claim_asked_for_is_told_beside_it(
    scene: Scene, two_jobs: list[Job], told: Callable[[Claim], dict[str, Decimal]]
) -> None:
    first, second = two_jobs
    before = filed(scene, second)
    found = told(filed(scene, first))
    assert (found["minutes"], found["minutes:before"]) == (27, 21)
    assert (found["hours:together"], found["hours:before"], found["hours"]) == (D("0.5"), D("0.4"), D("0.1"))
    told(before)


@pytest.mark.parametrize(
    ("basis", "figure", "hours"), [("clocked", "hours:clocked", "1.9"), ("allowed", "hours:allowed", "1.2")]
)
def test_hours_by_the_clock_and_as_they_were_allowed(
    scene: Scene, finished_job: Job, told: Callable[[Claim], dict[str, Decimal]], basis: str, figure: str, hours: str
) -> None:
    scene.terms(time_basis=basis)
    Job.objects.filter(pk=finished_job.pk).update(allowed_hours=D("1.2"))
    entry = TimeEntry.objects.get(job=finished_job)
    start = entry.ended_at + dt.timedelta(minutes=5) if entry.ended_at else None
    TimeEntry.objects.create(
        shop=scene.shop, job=finished_job, technician=entry.technician, started_at=start,
        ended_at=start and start + dt.timedelta(minutes=26, seconds=7),
    )  # fmt: skip
    claim = filed(scene, finished_job)
    found = told(claim)
    assert found[figure] == found["hours"] == D(hours)
    if basis == "clocked":
        assert found["seconds"] == 85 * 60 + 26 * 60 + 7
        (step,) = next(one for one in claim.facts["figures"] if one["figure"] == figure)["steps"]
        assert value_of(step["working"]) == Fraction(found["seconds"]) / 3600


def test_what_is_not_known_is_no_figure_and_somebody_elses_unknown_is_none_of_it(
    scene: Scene, finished_job: Job, client: Any
) -> None:
    scene.terms(labour_rate=None)
    Job.objects.filter(pk=finished_job.pk).update(payer_of={"labour": "customer"})
    claim = filed(scene, finished_job)
    listed = client.get(f"/api/v1/claims/{claim.pk}/how/").json()
    found = done_again(listed, 2)
    assert (found["labour"], found["expected"]) == (0, found["parts"])
    Claim.objects.update(state="closed")
    Distributor.objects.update(labour_rounding="up")
    Job.objects.filter(pk=finished_job.pk).update(payer_of={"part": "customer"})
    claim = filed(scene, finished_job)
    found = done_again(client.get(f"/api/v1/claims/{claim.pk}/how/").json(), 2)
    assert found["parts"] == 0 and not {"labour", "line:labour", "expected"} & found.keys()


def test_a_claim_older_than_such_lists_is_told_out_of_its_facts(scene: Scene, finished_job: Job, client: Any) -> None:
    scene.terms()
    claim = filed(scene, finished_job)
    del claim.facts["figures"]
    claim.save()
    found = done_again(client.get(f"/api/v1/claims/{claim.pk}/how/").json(), 2)
    assert (found["labour"], found["parts"], found["expected"]) == (D("93.75"), D("63.99"), D("157.74"))
