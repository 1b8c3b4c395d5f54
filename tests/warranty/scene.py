"""A small invented scene in records: a saw of an invented maker, its findings, and a finished warranty job."""

from __future__ import annotations

import datetime as dt
import io
import json
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from PIL import Image

from orders.models import (
    Assembly,
    Customer,
    Distributor,
    Finding,
    HourReading,
    Job,
    JobLabour,
    JobPart,
    LabourOperation,
    MachineModel,
    Maker,
    Part,
    PurchaseProof,
    RepairOrder,
    TimeEntry,
    Unit,
)  # fmt: skip
from orders.models.catalogue import WorkStep
from shopdocs.documents.services.photos import take_in_photo
from shopdocs.shops.models import Shop, Staff
from warranty.models import CoverageDecision, DecisionFacts, DistributorTerms
from warranty.services.decide import digest

DAY = dt.timedelta(days=1)


def picture(colour: str = "teal") -> bytes:
    """A JPEG with some texture, so that it is no flat field."""
    image = Image.effect_noise((320, 240), 60).convert("RGB")
    image.paste(colour, (0, 0, 160, 120))
    out = io.BytesIO()
    image.save(out, "JPEG")
    return out.getvalue()


@dataclass
class Scene:
    """The records, by name. `today` is the shop's day."""

    shop: Shop
    owner: Staff
    today: dt.date
    distributor: Distributor
    maker: Maker
    model: MachineModel
    customer: Customer
    unit: Unit
    engine: Assembly
    order: RepairOrder
    module: Finding
    job: Job
    part: Part

    def terms(self, **given: Any) -> DistributorTerms:
        """How the distributor pays since a month ago: guide time at 62.50, 90 % of list, 30 days to file."""
        facts: dict[str, Any] = {
            "starts_on": self.today - 30 * DAY, "labour_rate": Decimal("62.50"), "time_basis": "guide",
            "parts_percent": Decimal(90), "parts_base": "list", "filing_days": 30, "parts_hold_days": 60,
            "answer_days": 20, "claims_email": "claims@hadley.example", "source": "dealer letter, invented",
        }  # fmt: skip
        return DistributorTerms.objects.create(shop=self.shop, distributor=self.distributor, **(facts | given))

    def photo(self, moment: str, about: str = "", caption: str = "", colour: str = "teal") -> Any:
        return take_in_photo(
            shop=self.shop, by=self.owner, data=picture(colour), name="shot.jpg", subject=self.order.subject,
            about=about, moment=moment, caption=caption,
        )  # fmt: skip


@pytest.fixture
def scene(shop: Shop, owner: Staff) -> Scene:
    """A saw bought four months ago, checked in six days ago, ignition module dead by a defect."""
    today = shop.today()
    distributor = Distributor.objects.create(
        shop=shop, name="Hadley Wholesale", email="desk@hadley.example", phone="555-0177", street="9 Depot Row",
        city="Tarn", region="OH", postcode="43998", account="A-4411",
    )  # fmt: skip
    maker = Maker.objects.create(
        shop=shop, name="Korlind", authorised=True, approval_before_work=False, distributor=distributor
    )
    model = MachineModel.objects.create(
        shop=shop, maker=maker, name="KS 45", family="saw", power_source="two_stroke", hand_held=True,
        displacement_cc=Decimal("45.0"),
    )  # fmt: skip
    customer = Customer.objects.create(
        shop=shop, name="Wilma Orton", email="wilma@orton.example", street="3 Mill Lane", city="Tarn", region="OH"
    )
    unit = Unit.objects.create(
        shop=shop, model=model, owner=customer, serial="KL20-00417", build_date=today - 300 * DAY, has_hour_meter=False,
        use_class="residential", power_source="two_stroke", hand_held=True, sale_kind="new",
        purchased_on=today - 120 * DAY, delivered_on=today - 120 * DAY, use_region="OH", first_owner=True, modified=False,
    )  # fmt: skip
    PurchaseProof.objects.create(shop=shop, unit=unit, kind="receipt", shows_date=unit.purchased_on)
    engine = Assembly.objects.create(
        shop=shop, unit=unit, role="engine", maker=maker, label_read=True, emission_rule="part_1054",
        displacement_cc=Decimal("45.0"), label_hours=125, emission_family="KLX045",
    )  # fmt: skip
    order = RepairOrder.objects.create(
        shop=shop, number="RO-1", unit=unit, customer=customer, received_on=today - 6 * DAY,
        complaint="Dies when warm and will not start again.", taken_in_by=owner.user,
    )  # fmt: skip
    module = Finding.objects.create(
        shop=shop, order=order, number=1, component="ignition_module", condition="dead", cause="defect", assembly=engine,
        measured=Decimal("0.2"), measured_unit="kohm", by=owner.user, found_on=today - 5 * DAY,
    )  # fmt: skip
    job = Job.objects.create(
        shop=shop, order=order, number=1, title="Replace the ignition module", complaint="Dies when warm.",
        cause="Module fails when hot.", correction="Module replaced, gap set, ran 20 minutes.", state="agreed",
    )  # fmt: skip
    job.findings.add(module)
    part = Part.objects.create(
        shop=shop, number="KL-30-1182", words="Ignition module", maker=maker, component="ignition_module",
        list_price=Decimal("71.10"), cost=Decimal("48.00"),
    )  # fmt: skip
    return Scene(shop, owner, today, distributor, maker, model, customer, unit, engine, order, module, job, part)


def made_up_decision(scene: Scene, answer: str = "covered") -> CoverageDecision:
    """A decision as the engine freezes one, without asking it."""
    tried = {
        "term": "korlind-2y", "version": 1, "fingerprint": "f" * 64, "title": "Korlind two years", "giver": "maker",
        "giver_name": "Korlind", "outcome": "holds", "starts_on": "2026-01-01", "last_day": "2028-01-01",
        "anniversary_inside": True, "hours_limit": None, "hours_may_be_invoked": False, "pays": ["parts", "labour"],
        "source": "Korlind card", "edition": "1", "confidence": "invented", "confirm": "confirm",
        "steps": [
            {"rule": "cause", "outcome": "holds", "fact": "finding.cause", "of": "x", "value": "defect", "want": ["defect"],
             "source": "Korlind card, 2"},
        ],
    }  # fmt: skip
    text = json.dumps({
        "finding": str(scene.module.pk), "answer": answer, "by": ["korlind-2y"], "by_one_of": [],
        "best_for_customer": "korlind-2y", "best_paid": "korlind-2y", "tried": [tried],
    }, sort_keys=True)  # fmt: skip
    facts = DecisionFacts.objects.create(shop=scene.shop, order=scene.order, as_of=scene.today, facts={})
    return CoverageDecision.objects.create(
        shop=scene.shop,
        order=scene.order,
        finding=scene.module,
        as_of=scene.today,
        answer=answer,
        decision=text,
        sha256=digest(text),
        facts=facts,
        by=scene.owner.user,
    )


def finish(scene: Scene, days_ago: int = 2) -> Job:
    """The repair done: an hour and a half of guide time, 85 minutes on the clock, one part fitted."""
    job = scene.job
    noon = dt.datetime.combine(scene.today - days_ago * DAY, dt.time(12), tzinfo=scene.shop.zone)
    operation = LabourOperation.objects.create(
        shop=scene.shop, code="IGN-10", words="Ignition module, replace", family="saw", hours=Decimal("1.5")
    )
    JobLabour.objects.create(
        shop=scene.shop,
        job=job,
        operation=operation,
        code="IGN-10",
        words="Ignition module, replace",
        hours=Decimal("1.5"),
    )
    JobPart.objects.create(
        shop=scene.shop, job=job, part=scene.part, number=scene.part.number, words=scene.part.words, quantity=Decimal(1),
        unit_price=scene.part.list_price, unit_cost=scene.part.cost, causal=True, fitted_at=noon, fitted_by=scene.owner.user,
    )  # fmt: skip
    TimeEntry.objects.create(
        shop=scene.shop, job=job, technician=scene.owner.user, started_at=noon, ended_at=noon + dt.timedelta(minutes=85)
    )
    job.state, job.finished_at, job.finished_by = "done", noon + dt.timedelta(hours=2), scene.owner.user
    job.save()
    return job


@pytest.fixture
def finished_job(scene: Scene, monkeypatch: pytest.MonkeyPatch) -> Job:
    """The job done and paid by warranty on the ground of a made-up decision, which the records do not bear out."""
    monkeypatch.setattr("warranty.services.standing._against", lambda *given: iter(()))
    decision = made_up_decision(scene)
    job = finish(scene)
    job.payer, job.basis_kind, job.basis_id = "warranty", "coverage_decision", str(decision.pk)
    job.basis_words, job.basis_hash = "Covered by the Korlind two years", decision.sha256
    job.save()
    return job


@pytest.fixture
def stepped(scene: Scene, finished_job: Job) -> Job:
    """Two operations that share 'cover off': 15 and 21 minutes alone, 27 together."""
    shop = scene.shop
    for key, minutes, needs in (("off", 9, []), ("plug", 6, ["off"]), ("filter", 12, ["off"])):
        WorkStep.objects.create(
            shop=shop, key=key, words="cover off" if key == "off" else key, minutes=Decimal(minutes), needs=needs
        )
    finished_job.labour.all().delete()
    for code, hours, step in (("PLUG", "0.3", "plug"), ("FILTER", "0.4", "filter")):
        row = LabourOperation.objects.create(shop=shop, code=code, words=code, hours=Decimal(hours), steps=[step])
        JobLabour.objects.create(
            shop=shop, job=finished_job, operation=row, code=code, words=code, hours=Decimal(hours)
        )
    return finished_job


@pytest.fixture
def two_jobs(scene: Scene, stepped: Job) -> list[Job]:
    """The plug and the filter as a job each, both done and paid by warranty."""
    scene.terms()
    other: Job = Job.objects.get(pk=stepped.pk)
    other.pk, other._state.adding, other.number = uuid4(), True, 2
    other.save()
    stepped.labour.filter(code="FILTER").update(job=other)
    return [stepped, other]


@pytest.fixture
def distant(other_shop: Shop) -> Distributor:
    """A record of another shop."""
    return Distributor.objects.create(shop=other_shop, name="Elsewhere Supply")


def reading(scene: Scene, hours: str, **given: Any) -> HourReading:
    facts: dict[str, Any] = {"read_on": scene.today - 6 * DAY, "hours": Decimal(hours)}
    return HourReading.objects.create(shop=scene.shop, unit=scene.unit, **(facts | given))
