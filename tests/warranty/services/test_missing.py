"""What a thin claim lacks, each thing by itself."""

from __future__ import annotations

from decimal import Decimal

import pytest

from orders.models import Job, PurchaseProof
from orders.services.findings import create_finding
from shopdocs.documents.models import Photo
from shopdocs.documents.press.words import words
from tests.warranty.scene import Scene
from warranty.services.claims import job_to_claim
from warranty.services.evidence import claim_photos, missing_for_claim

pytestmark = pytest.mark.django_db


def codes(scene: Scene) -> list[str]:
    lacks = missing_for_claim(job=job_to_claim(shop=scene.shop, pk=scene.job.pk))
    assert all(lack.words and lack.remedy for lack in lacks)
    return [lack.code for lack in lacks]


def test_a_bare_claim_lacks_everything(scene: Scene) -> None:
    PurchaseProof.objects.for_shop(scene.shop).delete()
    scene.module.measured, scene.module.measured_unit = None, ""
    scene.module.save()
    type(scene.unit).objects.filter(pk=scene.unit.pk).update(has_hour_meter=None)
    assert codes(scene) == [
        "serial_plate_photo", "hour_meter_photo", "proof_of_purchase", "causal_part", "before_photo", "measurement",
    ]  # fmt: skip


def test_each_proof_takes_its_own_lack_away(scene: Scene, finished_job: Job) -> None:
    type(scene.unit).objects.filter(pk=scene.unit.pk).update(has_hour_meter=True)
    assert codes(scene) == ["serial_plate_photo", "hour_meter_photo", "before_photo"]
    scene.photo("serial_plate")
    assert codes(scene) == ["hour_meter_photo", "before_photo"]
    scene.photo("hour_meter", colour="red")
    assert codes(scene) == ["before_photo"]
    scene.photo("check_in", colour="blue")  # of no finding: shows no failed part
    assert codes(scene) == ["before_photo"]
    scene.photo("check_in", about=scene.module.subject, colour="green")
    assert codes(scene) == []
    finished_job.parts.update(causal=False)
    assert codes(scene) == ["causal_part"]


def test_no_meter_no_photo_of_it(scene: Scene, finished_job: Job) -> None:
    assert scene.unit.has_hour_meter is False
    assert "hour_meter_photo" not in codes(scene)
    assert finished_job.parts.get().quantity == Decimal(1)


def test_a_claim_says_which_clock_told_the_time_of_a_photo(scene: Scene, finished_job: Job) -> None:
    photo = scene.photo("before", about=scene.module.subject)
    said = {"original": "", "": "", "digitized": "digitized)", "changed": "file changed)", "none": "taken in)"}
    for taken_from, behind in said.items():
        known = taken_from != "none"
        Photo.objects.for_shop(scene.shop).update(
            taken_at=photo.created_at if known else None, taken_from=taken_from if known else ""
        )
        (shown,) = claim_photos(job_to_claim(shop=scene.shop, pk=scene.job.pk), words("en"))
        assert shown["when"].partition(" (")[2] == behind, taken_from


def test_a_claim_shows_every_photo_however_many_there_are(scene: Scene, finished_job: Job) -> None:
    one = scene.photo("before", about=scene.module.subject, caption="View 1")
    given = {"shop": scene.shop, "subject": one.subject, "about": one.about, "by": one.by, "moment": one.moment}
    files = {"original": one.original, "printable": one.printable, "small": one.small}
    Photo.objects.bulk_create(Photo(**given, **files, kind="jpeg", caption=f"View {n}") for n in range(2, 81))
    shown = claim_photos(job_to_claim(shop=scene.shop, pk=scene.job.pk), words("en"))
    assert {photo["caption"] for photo in shown} == {f"View {n}" for n in range(1, 81)}
    assert sorted(photo["number"] for photo in shown) == list(range(1, 81))


def test_before_and_after_of_one_finding_stand_together_the_causal_finding_first(
    scene: Scene, finished_job: Job
) -> None:
    other = create_finding(
        shop=scene.shop, by=scene.owner, order_id=scene.order.pk,
        facts={"component": "saw_chain", "condition": "dull", "cause": "wear", "caused_by": scene.module.pk},
    )  # fmt: skip
    finished_job.findings.add(other)
    for moment, about in (
        ("after", other), ("check_in", None), ("before", other), ("after", scene.module), ("before", scene.module),
        ("serial_plate", None),
    ):  # fmt: skip
        scene.photo(moment, about=about.subject if about else "", caption=f"{moment} {about.number if about else 0}")
    shown = claim_photos(job_to_claim(shop=scene.shop, pk=scene.job.pk), words("en"))
    first, second = scene.module.number, other.number
    assert [photo["caption"] for photo in shown] == [
        "serial_plate 0", f"before {first}", f"after {first}", f"before {second}", f"after {second}", "check_in 0",
    ]  # fmt: skip
