"""The photo door of an order: real pictures in, everything else out, and nothing kept of what was refused."""

from __future__ import annotations

import random
import struct
import zlib
from io import BytesIO
from pathlib import Path
from typing import Any

import piexif
import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from PIL import Image

from orders.models import RepairOrder
from shopdocs.documents.models import Document, Photo, StoredFile
from shopdocs.shops.models import Event

pytestmark = pytest.mark.django_db


def picture(form: str = "JPEG", seed: int = 1, **options: Any) -> bytes:
    rng, out = random.Random(seed), BytesIO()
    Image.frombytes("RGB", (32, 24), rng.randbytes(2304)).resize((320, 240)).save(out, form, **options)
    return out.getvalue()


def send(client: Any, order: RepairOrder, data: bytes | None, name: str = "plate.jpg", **fields: Any) -> Any:
    form = {"moment": "before", **fields}
    if data is not None:
        form["file"] = SimpleUploadedFile(name, data)
    return client.post(f"/api/v1/orders/{order.pk}/photos/", form, format="multipart")


def problem(answer: Any, status: int, field: str) -> dict[str, str]:
    assert answer.status_code == status, answer.content[:400]
    found = [one for one in answer.json()["errors"] if one["field"] == field]
    assert found and found[0]["problem"] and found[0]["remedy"], answer.json()
    assert not Photo.objects.exists() and not StoredFile.objects.exists()
    assert not [path for path in Path(default_storage.location).rglob("*") if path.is_file()]  # type: ignore[attr-defined]
    return dict(found[0])


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_what_kind_it_is_is_told_by_its_content(client: Any, order: RepairOrder, form: str) -> None:
    answer = send(client, order, picture(form), name="photo.heic", caption="bar nose")
    assert answer.status_code == 201, answer.json()
    body = answer.json()
    assert body["kind"] == form.lower() and (body["width"], body["height"]) == (320, 240)
    assert body["subject"] == f"order:{order.pk}" and body["about"] == ""
    assert [row["id"] for row in client.get(f"/api/v1/orders/{order.pk}/").json()["photos"]] == [body["id"]]


def test_a_photo_about_a_finding_with_the_cameras_clock(client: Any, order: RepairOrder) -> None:
    finding = client.post(
        f"/api/v1/orders/{order.pk}/findings/", {"component": "saw_chain", "condition": "dull"}, format="json"
    ).json()
    exif = piexif.dump({"Exif": {piexif.ExifIFD.DateTimeOriginal: b"2026:04:17 09:41:12"}})
    answer = send(client, order, picture(exif=exif), finding=finding["id"])
    assert answer.json()["about"] == f"finding:{finding['id']}"
    assert answer.json()["taken_at"].startswith("2026-04-17T13:41:12")  # the shop's wall clock, in UTC


def test_not_a_picture(client: Any, order: RepairOrder) -> None:
    assert "ZIP" in problem(send(client, order, b"PK\x03\x04" + b"x" * 99), 400, "file")["problem"]
    assert "empty" in problem(send(client, order, b""), 400, "file")["problem"]
    assert "PDF" in problem(send(client, order, b"%PDF-1.7\n"), 400, "file")["problem"]
    problem(send(client, order, picture()[:900]), 400, "file")
    problem(send(client, order, None), 400, "file")


@pytest.mark.parametrize("size", [(1, 1), (32, 24), (199, 150)])
def test_a_picture_that_shows_nothing(client: Any, order: RepairOrder, size: tuple[int, int]) -> None:
    out = BytesIO()
    Image.new("RGB", size, "white").save(out, "PNG")
    refused = problem(send(client, order, out.getvalue(), name="dot.png"), 400, "file")
    assert f"{size[0]} x {size[1]}" in refused["problem"] and "200" in refused["remedy"]


def test_two_hundred_megapixels(client: Any, order: RepairOrder) -> None:
    out = BytesIO()
    Image.new("1", (20_000, 10_000)).save(out, "PNG")
    assert "20000 x 10000" in problem(send(client, order, out.getvalue(), name="wide.png"), 400, "file")["problem"]


def test_fields_are_checked_before_the_file_is_kept(client: Any, order: RepairOrder, strangers: dict[str, str]) -> None:
    problem(send(client, order, picture(), moment="someday"), 400, "moment")
    problem(send(client, order, picture(), moment="proof"), 400, "moment")
    problem(send(client, order, picture(), colour="red"), 400, "colour")
    problem(send(client, order, picture(), caption="x" * 500), 400, "caption")
    problem(send(client, order, picture(), finding="first"), 400, "finding")
    problem(send(client, order, picture(), finding=strangers["order"]), 400, "finding")


def test_json_is_not_a_form(client: Any, order: RepairOrder) -> None:
    problem(client.post(f"/api/v1/orders/{order.pk}/photos/", {"moment": "before"}, format="json"), 415, "Content-Type")


def test_another_shops_order_takes_no_photo(client: Any, order: RepairOrder, strangers: dict[str, str]) -> None:
    theirs = RepairOrder.objects.get(pk=strangers["order"])
    problem(send(client, theirs, picture()), 404, "id")


def test_a_finished_order_takes_photos_until_the_unit_leaves(client: Any, order: RepairOrder, released: Any) -> None:
    RepairOrder.objects.filter(pk=order.pk).update(state="finished")
    assert send(client, order, picture(), moment="after").status_code == 201
    released(order)
    answer = send(client, order, picture(seed=2), moment="after")
    assert answer.status_code == 409 and Photo.objects.count() == 1


@pytest.mark.parametrize("moment", ["check_in", "before", "serial_plate", "hour_meter", "label"])
def test_a_finished_order_takes_photos_of_after_the_repair_alone(client: Any, order: RepairOrder, moment: str) -> None:
    RepairOrder.objects.filter(pk=order.pk).update(state="finished", finished_at=timezone.now())
    assert "'after'" in problem(send(client, order, picture(), moment=moment), 409, "moment")["remedy"]


def test_a_photo_that_came_after_the_end_is_told_apart_and_stands_on_no_paper_made_before(
    client: Any, order: RepairOrder
) -> None:
    early = send(client, order, picture(), caption="worn bar").json()
    RepairOrder.objects.filter(pk=order.pk).update(state="finished", finished_at=timezone.now())
    made = client.post(f"/api/v1/orders/{order.pk}/papers/", {}, format="json")
    assert made.status_code == 201, made.content
    before = {row.pk: (row.sheet, row.sheet_sha256) for row in Document.objects.all()}
    late = send(client, order, picture(seed=2), moment="after", caption="new bar").json()
    assert (early["after_finish"], late["after_finish"], late["moment"]) == (False, True, "after")
    shown = client.get(f"/api/v1/orders/{order.pk}/").json()["photos"]
    assert [(row["id"], row["after_finish"]) for row in shown] == [(early["id"], False), (late["id"], True)]
    event = Event.objects.get(verb="photo added")
    assert event.subject == order.subject and event.facts == {"photo": late["id"], "moment": "after"}
    assert event.words == "after the work was finished: new bar"
    assert before and {row.pk: (row.sheet, row.sheet_sha256) for row in Document.objects.all()} == before
    client.post(f"/api/v1/orders/{order.pk}/papers/", {}, format="json")
    newest = Document.objects.filter(kind="repair_order").latest("created_at")
    assert [(p["caption"], p["moment"]) for p in newest.sheet["photos"]] == [
        ("worn bar", "before"),
        ("new bar", "after"),
    ]


def test_the_office_reads_and_does_not_photograph(api: Any, office: Any, technician: Any, order: RepairOrder) -> None:
    assert send(api(office), order, picture()).status_code == 403
    assert send(api(technician), order, picture()).status_code == 201
    assert len(api(office).get(f"/api/v1/orders/{order.pk}/photos/").json()) == 1


def test_a_finding_of_another_order_is_not_shown_here(
    client: Any, order: RepairOrder, released: Any, visit: dict[str, Any]
) -> None:
    body = {"component": "saw_chain", "condition": "dull"}
    elsewhere = client.post(f"/api/v1/orders/{order.pk}/findings/", body, format="json").json()["id"]
    released(order)
    again = {"customer": str(order.customer_id), "unit": str(order.unit_id), "complaint": "Dull again"}
    second = RepairOrder.objects.get(pk=client.post("/api/v1/check-in/", again, format="json").json()["id"])
    assert "another order" in problem(send(client, second, picture(), finding=elsewhere), 400, "finding")["problem"]


def test_soft_warnings_while_the_machine_is_on_the_bench(client: Any, order: RepairOrder) -> None:
    finding = client.post(
        f"/api/v1/orders/{order.pk}/findings/", {"component": "saw_chain", "condition": "dull"}, format="json"
    ).json()

    def lacks() -> list[str]:
        return [one["code"] for one in client.get(f"/api/v1/orders/{order.pk}/").json()["photos_missing"]]

    assert lacks() == ["no_serial_plate", "no_hour_meter", "no_photo_of_finding"]
    old = piexif.dump({"Exif": {piexif.ExifIFD.DateTimeOriginal: b"2001:04:17 09:41:12"}})
    sent = send(client, order, picture(exif=old), finding=finding["id"]).json()
    assert {"taken_before_purchase", "taken_before_visit"} & {one["code"] for one in sent["warnings"]}
    assert send(client, order, picture(seed=3), moment="serial_plate").json()["warnings"] == [
        one for one in sent["warnings"] if not one["code"].startswith("taken_")
    ]
    assert lacks() == ["no_hour_meter"]


@pytest.mark.parametrize("size", [(1, 200), (40, 1201), (50_000_000, 1)])
def test_a_strip_is_refused_before_it_is_decoded(client: Any, order: RepairOrder, size: tuple[int, int]) -> None:
    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", *size, 8, 0, 0, 0, 0))
    data = b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(bytes(1000))) + chunk(b"IEND", b"")
    refused = problem(send(client, order, data, name="strip.png"), 400, "file")
    assert f"strip of {size[0]} x {size[1]}" in refused["problem"] and "30 times" in refused["remedy"]


def test_a_panorama_is_taken_in(client: Any, order: RepairOrder) -> None:
    out = BytesIO()
    Image.new("RGB", (1200, 40), "grey").save(out, "PNG")
    assert send(client, order, out.getvalue(), name="fence.png").status_code == 201


@pytest.mark.parametrize(
    ("told", "offset"),
    [(b"0001:01:01 00:00:00", b"+14:00"), (b"9999:12:31 23:59:59", b"-14:00"), (b"9999:12:31 23:59:59", None)],
)
def test_a_camera_clock_at_the_end_of_the_calendar_tells_no_time(
    client: Any, order: RepairOrder, told: bytes, offset: bytes | None
) -> None:
    times = {piexif.ExifIFD.DateTimeOriginal: told} | ({0x9011: offset} if offset else {})
    answer = send(client, order, picture(exif=piexif.dump({"Exif": times})))
    assert answer.status_code == 201 and answer.json()["taken_at"] is None


def test_a_photo_that_was_broken_off_is_refused_and_not_kept(client: Any, order: RepairOrder) -> None:
    data = picture()
    broken_off = data[: len(data) // 2] + b"\xff\xd9"
    assert "cut off" in problem(send(client, order, broken_off), 400, "file")["problem"]
