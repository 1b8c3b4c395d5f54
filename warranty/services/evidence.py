"""The proof that a claim carries: photos in the order a distributor reads them, and what a thin claim lacks."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from orders.models import Finding, Job, PurchaseProof
from shopdocs.documents.models import Photo
from shopdocs.documents.press.values import moment_words, sentence
from shopdocs.documents.press.words import Say
from shopdocs.documents.services.photos import camera_told

MOMENT_WORDS = {
    "check_in": "check-in", "before": "before", "after": "after", "serial_plate": "check-in", "hour_meter": "check-in",
    "label": "check-in", "proof": "check-in",
}  # fmt: skip
SHOWS = {"serial_plate": "serial plate", "hour_meter": "hour meter", "label": "emission label"}
PLATES = ("serial_plate", "hour_meter", "label")
RANK = {"serial_plate": 0, "hour_meter": 1, "label": 2, "before": 3, "check_in": 3, "after": 4, "proof": 5}
TIMES = {
    "": "{moment}", "original": "{moment}", "digitized": "{moment} (digitized)", "changed": "{moment} (file changed)",
    "none": "{moment} (taken in)",
}  # fmt: skip
"""How a claim words the time of a photo, by the clock that told it; those of before that was kept are the camera's own."""


@dataclass(frozen=True)
class Lack:
    """One thing that a claim lacks: a code for programs, words and the remedy for people."""

    code: str
    words: str
    remedy: str


def job_findings(job: Job) -> list[Finding]:
    """The findings of the job by number."""
    return sorted(job.findings.all(), key=lambda finding: finding.number)


def photos_of(job: Job) -> list[Photo]:
    """Every photo and proof of the job's order and unit, oldest first."""
    unit = job.order.unit
    rows = Photo.objects.for_shop(job.shop).filter(subject__in=[job.order.subject, f"unit:{unit.pk}"])
    proofs = [proof.photo for proof in unit.proofs.all() if proof.photo is not None]
    found = {photo.pk: photo for photo in (*rows.select_related("original", "by"), *proofs)}
    return sorted(found.values(), key=lambda photo: (photo.created_at, str(photo.pk)))


def enclosed_proofs(job: Job) -> list[PurchaseProof]:
    """Proofs of purchase that no page can show, oldest first: they are enclosed with the claim as they came in."""
    proofs = (
        proof for proof in job.order.unit.proofs.all() if proof.photo is not None and proof.photo.printable_id is None
    )
    return sorted(proofs, key=lambda proof: (proof.created_at, str(proof.pk)))


def claim_photos(job: Job, say: Say) -> list[dict[str, Any]]:
    """What the claim shows, frozen: plate and meter first, then finding by finding, the causal first, each before and after
    the repair, then the job and the machine as a whole, the proof last.

    A PDF proof cannot be shown on a page: it goes along with the letter (`enclosed_proofs`). A photo about another
    job's finding is left out; of the others every one is shown, however many there are.
    """
    findings = job_findings(job)
    marks = {finding.subject: f"F{finding.number}" for finding in findings}
    causal_first = sorted(findings, key=lambda finding: (finding.caused_by_id is not None, finding.number))
    things = [*(finding.subject for finding in causal_first), job.subject]
    proofs = {proof.photo_id for proof in job.order.unit.proofs.all()}
    mine = {*marks, job.subject, "", job.order.subject, f"unit:{job.order.unit_id}"}

    def wanted(photo: Photo) -> bool:
        if photo.printable_id is None:
            return False
        return photo.moment in PLATES or photo.pk in proofs or photo.about in mine

    def place(photo: Photo) -> tuple[bool, bool, int, int, dt.datetime]:
        thing = things.index(photo.about) if photo.about in things else len(things)
        plate = photo.moment in PLATES
        return not plate, photo.moment == "proof", 0 if plate else thing, RANK[photo.moment], photo.created_at

    chosen = sorted((photo for photo in photos_of(job) if wanted(photo)), key=place)
    told = _camera if job.shop.claim_camera_facts else _nothing
    numbers = _numbers(job)
    return [_frozen(photo, numbers[photo.pk], marks, job, say) | told(photo) for photo in chosen]


def _numbers(job: Job) -> dict[Any, int]:
    """Each picture has the number that it has on the order's own papers; pictures of the machine come after them."""
    shown = [photo for photo in photos_of(job) if photo.printable_id is not None]
    shown.sort(
        key=lambda photo: photo.subject != job.order.subject
    )  # stable: within both in the order in which they came
    return {photo.pk: number for number, photo in enumerate(shown, 1)}


def _nothing(photo: Photo) -> dict[str, str]:
    return {}


def _camera(photo: Photo) -> dict[str, str]:
    """Where the photo was taken and by which camera, out of the original: it stands nowhere else."""
    told = camera_told(photo)
    return {"place": told.place, "camera": told.serial}


def _frozen(photo: Photo, number: int, marks: dict[str, str], job: Job, say: Say) -> dict[str, Any]:
    when = moment_words(job.shop.local(photo.taken_at or photo.created_at), say)
    return {
        "sha256": photo.original.sha256,
        "number": number,
        "caption": photo.caption or sentence(say(photo.get_moment_display())),
        "who": photo.by.shown_name if photo.by else "",
        "when": say(TIMES[photo.taken_from if photo.taken_at else "none"]).format(moment=when),
        "moment": MOMENT_WORDS[photo.moment],
        "shows": SHOWS.get(photo.moment, ""),
        "finding": marks.get(photo.about, ""),
        "marks": photo.marks,
    }


def missing_for_claim(*, job: Job) -> list[Lack]:
    """What a distributor usually asks for and this job does not show yet (common practice, no source)."""
    unit = job.order.unit
    moments = {photo.moment for photo in photos_of(job)}
    findings = job_findings(job)
    lacks = []
    if "serial_plate" not in moments:
        lacks.append(
            Lack(
                "serial_plate_photo",
                "No photo of the serial plate.",
                "Photograph the plate so that the number can be read.",
            )
        )
    if unit.has_hour_meter is not False and "hour_meter" not in moments:
        words = (
            "No photo of the hour meter."
            if unit.has_hour_meter
            else "No photo of an hour meter, and it is not recorded whether there is one."
        )
        lacks.append(Lack("hour_meter_photo", words, "Photograph the meter, or record that the unit has none."))
    if not unit.proofs.all():
        lacks.append(
            Lack("proof_of_purchase", "No proof of purchase.", "Ask the owner for the receipt or the registration.")
        )
    if not any(part.causal for part in job.parts.all()):
        lacks.append(
            Lack("causal_part", "No part is marked as the one that failed first.", "Mark the causal part on the job.")
        )
    if not _has_before(job, findings):
        lacks.append(
            Lack("before_photo", "No photo from before the repair.", "Photograph the failed part, if it is still here.")
        )
    if not any(finding.measured is not None for finding in findings):
        lacks.append(
            Lack(
                "measurement",
                "No finding of this job carries a measurement.",
                "Measure the failed part and record it with its unit.",
            )
        )
    return lacks


def _has_before(job: Job, findings: list[Finding]) -> bool:
    about = {finding.subject for finding in findings}
    for photo in photos_of(job):
        if photo.moment == "before" or (photo.moment == "check_in" and photo.about in about):
            return True
    return False
