"""Where a photo was taken and by which camera: never in what a customer gets, in a claim only when the shop says so."""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from PIL import Image
from rest_framework.test import APIClient

from orders.models import Job
from orders.services.papers import SHEETS, request_order_paper
from shopdocs.documents.models import Document, Photo
from shopdocs.documents.services.files import read_file
from shopdocs.documents.services.papers import draw, draw_sheet
from shopdocs.documents.services.photos import camera_told, take_in_photo
from shopdocs.shops.models import Staff
from tests.papers_reading import words_of
from tests.shopdocs.documents.photos.conftest import bench, camera_exif, encoded
from tests.warranty.scene import Scene
from warranty.models import Claim
from warranty.services.claims import file_claim, job_to_claim, preview_claim

pytestmark = pytest.mark.django_db
PLACE, SERIAL = "41.40837, -93.10321", "CAM-SECRET-4471"
HIDDEN = (b"41.40837", b"93.10321", b"SECRET", b"Exif\0\0", b"2026:04:17")
API = "/api/v1/shop/"
ROOT = Path(__file__).parents[3]


def shot(scene: Scene, exif: bytes | None = None, seed: int = 1, moment: str = "before") -> Photo:
    """A photo of a camera that writes down where it was and who it is."""
    data = encoded(bench(seed), "JPEG", exif=camera_exif() if exif is None else exif)
    return take_in_photo(
        shop=scene.shop, by=scene.owner, data=data, name="shot.jpg", subject=scene.order.subject,
        about=scene.module.subject, moment=moment, caption=f"View {seed}",
    )  # fmt: skip


def said(scene: Scene, client: APIClient, told: bool) -> None:
    version = client.get(API).json()["version"]
    answer = client.patch(API, {"version": version, "claim_camera_facts": told}, format="json")
    assert (answer.status_code, answer.json()["claim_camera_facts"]) == (200, told)
    scene.shop.refresh_from_db()


def filed(scene: Scene) -> Claim:
    return file_claim(shop=scene.shop, by=scene.owner, job=scene.job.pk)


def pdf_of(document: Document | None) -> bytes:
    assert document is not None
    draw(document.pk)
    return read_file(Document.objects.for_shop(document.shop).select_related("pdf").get(pk=document.pk).pdf)


def streams(pdf: bytes) -> Iterator[bytes]:
    """The file as it is, and every stream in it as it is and unpacked: pages, pictures, fonts, attachments, metadata."""
    yield pdf
    with pikepdf.open(io.BytesIO(pdf)) as document:
        for thing in document.objects:
            if isinstance(thing, pikepdf.Stream):
                yield thing.read_raw_bytes()
                if thing.get("/Subtype") != "/Image":
                    yield thing.read_bytes()


def pictures(pdf: bytes) -> list[Image.Image]:
    with pikepdf.open(io.BytesIO(pdf)) as document:
        raw = [
            thing.read_raw_bytes()
            for thing in document.objects
            if isinstance(thing, pikepdf.Stream) and thing.get("/Subtype") == "/Image"
        ]
    return [Image.open(io.BytesIO(one)) for one in raw]


def facts_of(pdf: bytes) -> Any:
    with pikepdf.open(io.BytesIO(pdf)) as document:
        return json.loads(document.attachments["facts.json"].get_file().read_bytes())["facts"]


def hides(pdf: bytes) -> bool:
    text = words_of(pdf)
    return not any(mark in one for one in streams(pdf) for mark in HIDDEN) and not any(
        mark.decode() in text for mark in HIDDEN
    )


def test_the_photo_is_one_that_gives_away_where_it_was(scene: Scene) -> None:
    photo = shot(scene)
    assert photo.has_gps
    original = read_file(photo.original)
    assert SERIAL.encode() in original and b"Exif\0" in original
    told = camera_told(photo)
    assert (told.place, told.serial) == (PLACE, SERIAL)


def test_a_claim_tells_nothing_of_it_unless_the_shop_says_so(scene: Scene, finished_job: Job) -> None:
    scene.terms()
    shot(scene)
    assert scene.shop.claim_camera_facts is False
    claim = filed(scene)
    pdf = pdf_of(claim.document)
    assert hides(pdf)
    (photo,) = facts_of(pdf)["photos"]
    assert (photo["place"], photo["camera"]) == ("", "")
    assert PLACE not in json.dumps(claim.facts) and SERIAL not in json.dumps(claim.facts)
    (picture,) = pictures(pdf)
    assert not picture.getexif() and "exif" not in picture.info
    assert "View 1" in words_of(pdf), "the photo itself is shown"


def test_a_claim_tells_it_when_the_shop_says_so(
    scene: Scene, finished_job: Job, api: Callable[[Staff | None], APIClient]
) -> None:
    scene.terms()
    shot(scene)
    shot(scene, exif=b"", seed=7, moment="after")
    said(scene, api(scene.owner), True)
    pdf = pdf_of(filed(scene).document)
    first, second = facts_of(pdf)["photos"]
    assert (first["place"], first["camera"]) == (PLACE, SERIAL)
    assert (second["place"], second["camera"]) == ("", "")
    text = words_of(pdf)
    assert text.count("By the camera") == 1
    assert f"By the camera: at {PLACE} · serial number {SERIAL}" in text
    assert "17 Apr 2026, 10:41" in text, "09:41:12 at five hours behind UTC, on the wall clock of New York"
    shown = pictures(pdf)
    assert len(shown) == 2 and not any(one.getexif() or "exif" in one.info for one in shown)
    assert b"LENS-SECRET" not in b"".join(streams(pdf))


def test_what_was_filed_stays_as_it_was_when_the_shop_changes_its_mind(
    scene: Scene, finished_job: Job, api: Callable[[Staff | None], APIClient]
) -> None:
    scene.terms()
    shot(scene)
    before = filed(scene)
    said(scene, api(scene.owner), True)
    assert hides(pdf_of(before.document))
    preview = preview_claim(job=job_to_claim(shop=scene.shop, pk=scene.job.pk))
    assert preview["photos"][0]["place"] == PLACE
    said(scene, api(scene.owner), False)
    preview = preview_claim(job=job_to_claim(shop=scene.shop, pk=scene.job.pk))
    assert "place" not in preview["photos"][0] and "camera" not in preview["photos"][0]


@pytest.mark.parametrize("paper", SHEETS)
def test_no_paper_of_an_order_tells_it_whatever_the_shop_says(
    scene: Scene, api: Callable[[Staff | None], APIClient], paper: str
) -> None:
    shot(scene)
    shot(scene, seed=9, moment="after")
    said(scene, api(scene.owner), True)
    document = request_order_paper(shop=scene.shop, by=scene.owner, order_id=scene.order.pk, paper=paper)
    pdf = draw_sheet(scene.shop, paper, document.sheet).pdf
    assert hides(pdf)
    assert not any(one.getexif() for one in pictures(pdf))


def test_only_the_claims_schema_has_a_place_for_it() -> None:
    with_place = [path.name for path in ROOT.glob("*/**/*.schema.json") if '"place"' in path.read_text()]
    assert with_place == ["claim.schema.json"]


def test_only_the_owner_says_so(scene: Scene, writer: Staff, api: Callable[[Staff | None], APIClient]) -> None:
    version = api(writer).get(API).json()["version"]
    answer = api(writer).patch(API, {"version": version, "claim_camera_facts": True}, format="json")
    assert answer.status_code == 403
    answer = api(scene.owner).patch(API, {"version": version, "claim_camera_facts": "perhaps"}, format="json")
    assert answer.status_code == 400
    assert [one["field"] for one in answer.json()["errors"]] == ["claim_camera_facts"]
    scene.shop.refresh_from_db()
    assert scene.shop.claim_camera_facts is False
