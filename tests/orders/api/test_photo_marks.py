"""Arrows, circles and a scale bar: kept beside the untouched picture, refused when they cannot be drawn, frozen in papers."""

from __future__ import annotations

from typing import Any

import pytest

from orders.models import RepairOrder
from orders.services.order_sheet import repair_order_sheet
from shopdocs.documents.models import Photo
from shopdocs.documents.press.sheets import to_json

from .test_photos import picture, send

pytestmark = pytest.mark.django_db
ARROW = {"kind": "arrow", "x1": 0, "y1": 10_000, "x2": 5000, "y2": 5000}
SCALE = {"kind": "scale", "x1": 1000, "y1": 9000, "x2": 4000, "y2": 9000, "length": "12 mm"}


@pytest.fixture
def photo(client: Any, order: RepairOrder) -> str:
    return str(send(client, order, picture(), caption="coil").json()["id"])


def mark(client: Any, photo: str, marks: Any, version: int = 1, **more: Any) -> Any:
    return client.patch(f"/api/v1/photos/{photo}/", {"version": version, "marks": marks, **more}, format="json")


def test_marks_are_kept_beside_the_original(client: Any, photo: str, order: RepairOrder) -> None:
    original = client.get(f"/api/v1/photos/{photo}/file/").content
    answer = mark(client, photo, [ARROW, SCALE], caption="coil, cracked")
    assert answer.status_code == 200, answer.json()
    assert answer.json()["marks"] == [{**ARROW, "length": ""}, SCALE]
    assert answer.json()["version"] == 2 and answer.json()["caption"] == "coil, cracked"
    assert client.get(f"/api/v1/photos/{photo}/file/").content == original == picture()
    (shown,) = to_json(repair_order_sheet(RepairOrder.objects.get(pk=order.pk)))["photos"]
    assert shown["marks"] == answer.json()["marks"]
    emptied = mark(client, photo, [], version=2)
    assert emptied.json().get("marks") == [], emptied.json()


@pytest.mark.parametrize(
    ("marks", "field"),
    [
        ([{**ARROW, "x1": 10_001}], "marks[0].x1"),
        ([{**ARROW, "y2": -1}], "marks[0].y2"),
        ([{**ARROW, "x1": "left"}], "marks[0].x1"),
        ([{**ARROW, "kind": "star"}], "marks[0].kind"),
        ([ARROW, {**ARROW, "x1": 5000, "y1": 5000}], "marks[1]"),
        ([{**ARROW, "length": "3 mm"}], "marks[0].length"),
        ([{**SCALE, "length": ""}], "marks[0].length"),
        ([{**SCALE, "length": "x" * 21}], "marks[0].length"),
        ([SCALE, {**SCALE, "y1": 100}], "marks"),
        ([ARROW] * 13, "marks"),
        ([{**ARROW, "colour": "red"}], "marks[0].colour"),
        ("arrow", "marks"),
    ],
)
def test_what_cannot_be_drawn_is_refused_by_its_path(client: Any, photo: str, marks: Any, field: str) -> None:
    answer = mark(client, photo, marks)
    assert answer.status_code == 400, answer.content
    told = {one["field"].replace(".0.", "[0].") for one in answer.json()["errors"]}
    assert any(one.startswith(field) for one in told), answer.json()
    assert all(one["problem"] and one["remedy"] for one in answer.json()["errors"])
    assert Photo.objects.get(pk=photo).marks == []


def test_two_people_drawing_and_nothing_to_draw(client: Any, photo: str) -> None:
    assert mark(client, photo, [ARROW]).status_code == 200
    stale = mark(client, photo, [SCALE])
    assert stale.status_code == 409 and "marks" in str(stale.json())
    assert client.patch(f"/api/v1/photos/{photo}/", {"version": 2}, format="json").status_code == 400


def test_another_shops_photo_and_a_pdf(client: Any, photo: str, strangers: dict[str, str]) -> None:
    assert mark(client, strangers["order"], [ARROW]).status_code == 404
    Photo.objects.filter(pk=photo).update(printable=None, kind="pdf")
    assert mark(client, photo, [ARROW]).status_code == 409


def test_photos_of_an_order_that_was_given_back_stay_as_they_are(
    client: Any, photo: str, order: RepairOrder, released: Any
) -> None:
    RepairOrder.objects.filter(pk=order.pk).update(state="finished")
    assert mark(client, photo, [ARROW], caption="coil, cracked").status_code == 200
    released(order)
    for change in ({"marks": []}, {"caption": "nothing to see"}):
        answer = client.patch(f"/api/v1/photos/{photo}/", {"version": 2, **change}, format="json")
        (told,) = answer.json()["errors"]
        assert answer.status_code == 409 and order.number in told["problem"] and told["remedy"]
    kept = Photo.objects.get(pk=photo)
    assert (kept.caption, kept.version, len(kept.marks)) == ("coil, cracked", 2, 1)
