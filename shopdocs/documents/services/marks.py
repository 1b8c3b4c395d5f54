"""Arrows, circles and a scale bar over a photo: kept beside the untouched original, drawn by the papers."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any
from uuid import UUID

from django.db import transaction

from shopdocs.documents.models import Photo
from shopdocs.documents.press.facts import PhotoMark
from shopdocs.documents.subjects import refuse_kept
from shopdocs.rest.refusals import Conflict, Missing, Problem, Refused
from shopdocs.shops.models import Shop, Staff
from shopdocs.shops.services import record_event, save_changes

KINDS = ("arrow", "circle", "scale")
MOST_MARKS = 12
PARTS = 10_000


@transaction.atomic
def change_photo(*, shop: Shop, by: Staff, pk: UUID, version: int, changes: dict[str, Any]) -> Photo:
    """Changes `caption` or `marks` of a photo; papers that were already made keep what they showed.

    Each mark: kind, x1, y1, x2, y2 in ten-thousandths of the upright picture, length ('12 mm') for the scale bar alone.
    Raises Refused with the path of each wrong mark, Conflict for a proof without a picture and where the room of its
    subject keeps it as it is, Stale.
    """
    photo = Photo.objects.for_shop(shop).select_for_update().filter(pk=pk).first()
    if photo is None:
        raise Missing("", "No such photo in your shop.", "Look up the order's photos.")
    refuse_kept(shop, photo.subject)
    if "marks" in changes:
        if photo.printable_id is None:
            raise Conflict("marks", "This is a PDF: nothing can be drawn over it.", "Add a photo of what it shows.")
        changes = {**changes, "marks": checked_marks(changes["marks"])}
    before = {name: getattr(photo, name) for name in changes}
    saved: Photo = save_changes(photo, version=version, changes=changes)
    record_event(
        shop=shop, subject=f"photo:{saved.pk}", verb="photo changed", by=by, words=", ".join(changes), facts=before
    )
    return saved


def checked_marks(given: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The marks as they are kept. Raises Refused naming each that cannot be drawn."""
    problems: list[Problem] = []
    if len(given) > MOST_MARKS:
        raise Refused("marks", f"{len(given)} marks are more than {MOST_MARKS}.", "Keep the few that show the fault.")
    for at, mark in enumerate(given):
        length, scale = mark.get("length", ""), mark["kind"] == "scale"
        if (mark["x1"], mark["y1"]) == (mark["x2"], mark["y2"]):
            problems.append(Problem(f"marks[{at}]", "It begins where it ends.", "Give two different points."))
        if scale and not length:
            problems.append(Problem(f"marks[{at}].length", "A scale bar says what it measures.", "Send '12 mm' or so."))
        if length and not scale:
            problems.append(Problem(f"marks[{at}].length", "Only a scale bar has a length.", "Leave it out."))
    if sum(mark["kind"] == "scale" for mark in given) > 1:
        problems.append(Problem("marks", "There are two scale bars.", "One is enough to judge the size."))
    if problems:
        raise Refused(problems=problems)
    return [asdict(PhotoMark(**{**mark, "length": mark.get("length", "")})) for mark in given]


def drawn_marks(photo: Photo) -> tuple[PhotoMark, ...]:
    """What a paper draws over this photo."""
    return tuple(PhotoMark(**mark) for mark in photo.marks)
