"""What a claims clerk would doubt about a picture, said while the machine is still on the bench (common practice, no source).

Soft: nothing is refused for it. A camera's clock may be wrong, and a customer may bring a picture of an earlier day.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

BEFORE = frozenset({"check_in", "before"})
AHEAD = dt.timedelta(hours=1)


@dataclass(frozen=True)
class PictureDoubt:
    """A code for programs, and the doubt in words with what to do about it."""

    code: str
    words: str


def doubts(
    *,
    moment: str,
    taken_at: dt.datetime | None,
    now: dt.datetime,
    zone: dt.tzinfo,
    received_on: dt.date,
    bought_on: dt.date | None = None,
    repaired_at: dt.datetime | None = None,
) -> tuple[PictureDoubt, ...]:
    """Doubts about when a picture was taken. `repaired_at`: when the first job was done; None: none is.

    All moments are aware; days are those of `zone`. Without a camera's clock nothing is doubted.
    """
    if taken_at is None:
        return ()
    day = taken_at.astimezone(zone).date()
    found = []
    if taken_at > now + AHEAD:
        found.append(PictureDoubt("camera_clock_ahead", f"The camera says {day}, which has not come: set its clock."))
    if bought_on is not None and day < bought_on:
        words = f"Taken on {day}, before the machine was bought ({bought_on}): it cannot show this fault. Take another."
        found.append(PictureDoubt("taken_before_purchase", words))
    elif day < received_on:
        words = f"Taken on {day}, before the machine came in ({received_on}): say in the caption who took it, or take another."
        found.append(PictureDoubt("taken_before_visit", words))
    if moment in BEFORE and repaired_at is not None and taken_at > repaired_at:
        when = repaired_at.astimezone(zone).date()
        words = f"Said to be from before the repair, but taken after a job was done on {when}: correct what it shows."
        found.append(PictureDoubt("taken_after_repair", words))
    return tuple(found)


@dataclass(frozen=True)
class Shown:
    """A finding for `missing`: its number, and whether a photo is about it."""

    number: int
    has_photo: bool


def missing(
    moments: Iterable[str], *, has_serial: bool, has_hour_meter: bool | None, findings: Iterable[Shown] = ()
) -> tuple[PictureDoubt, ...]:
    """Pictures that a claim will want and that can only be taken while the machine is here."""
    seen = set(moments)
    found = []
    if has_serial and "serial_plate" not in seen:
        found.append(
            PictureDoubt("no_serial_plate", "No photo of the serial plate yet: photograph it so that it can be read.")
        )
    if has_hour_meter is not False and "hour_meter" not in seen:
        what = "No photo of the hour meter yet: photograph its reading."
        if has_hour_meter is None:
            what = "No photo of an hour meter yet: photograph it, or record that there is none."
        found.append(PictureDoubt("no_hour_meter", what))
    for finding in findings:
        if not finding.has_photo:
            words = f"Finding {finding.number} has no photo yet: take one before the part is changed."
            found.append(PictureDoubt("no_photo_of_finding", words))
    return tuple(found)
