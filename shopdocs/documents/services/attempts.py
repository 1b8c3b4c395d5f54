"""How a row is carried out once, by one worker at a time, however often the bell rings.

Claim under a lock and commit; act; record only if the turn is still ours. A worker killed in between leaves
a lease that runs out, and the sweep gives the row to another.
"""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any, TypeVar

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from shopdocs.documents.models import Attempted

Row = TypeVar("Row", bound=Attempted)
PAUSES = (5, 30, 120, 600, 1800, 3600, 7200)
"""Seconds before the next attempt; the last one repeats."""


class Later(Exception):
    """The attempt failed in a way that may pass: try again after a pause."""


class Never(Exception):
    """The attempt failed in a way that another attempt will not mend: a person must look."""


def claim(model: type[Row], row_id: Any) -> Row | None:
    """Takes the row's turn, or None when it is done, stopped, not due, or another worker's."""
    now = timezone.now()
    rows: Any = model._default_manager
    with transaction.atomic():
        row: Row | None = (
            rows.select_for_update(of=("self",))
            .filter(pk=row_id, state__in=[Attempted.State.WAITING, Attempted.State.WORKING], try_at__lte=now)
            .first()
        )
        if row is None:
            return None
        row.state = Attempted.State.WORKING
        row.attempts += 1
        row.lease = uuid.uuid4()
        row.try_at = now + dt.timedelta(seconds=settings.LEASE_SECONDS)
        row.save(update_fields=["state", "attempts", "lease", "try_at", "updated_at"])
    return row


def finish(row: Attempted, **facts: Any) -> bool:
    """Records success, if the turn is still ours. Returns whether it was."""
    return _record(row, state=Attempted.State.DONE, done_at=timezone.now(), problem="", **facts)


def give_up_turn(row: Attempted, error: Exception, *, never: bool = False) -> bool:
    """Records a failure: waiting for the next attempt, or stopped when there is no point in another."""
    words = f"{type(error).__name__}: {error}"[:2000]
    if never or row.attempts >= settings.MAX_ATTEMPTS:
        return _record(row, state=Attempted.State.STOPPED, problem=words)
    pause = PAUSES[min(row.attempts, len(PAUSES)) - 1]
    return _record(
        row, state=Attempted.State.WAITING, problem=words, try_at=timezone.now() + dt.timedelta(seconds=pause)
    )


def _record(row: Attempted, **facts: Any) -> bool:
    rows: Any = type(row)._default_manager
    return bool(rows.filter(pk=row.pk, lease=row.lease).update(**facts, lease=None, updated_at=timezone.now()))


def take_over(model: type[Attempted]) -> int:
    """Ends every running lease of `model` and returns how many. Only for whoever knows that their holders are dead."""
    rows: Any = model._default_manager
    held = rows.filter(state=Attempted.State.WORKING, try_at__gt=timezone.now())
    return int(held.update(try_at=timezone.now()))


def due(model: type[Attempted], limit: int = 500) -> list[Any]:
    """Ids of rows that wait or whose worker's lease has run out: what a sweep rings for."""
    rows: Any = model._default_manager
    waiting = rows.filter(state__in=[Attempted.State.WAITING, Attempted.State.WORKING], try_at__lte=timezone.now())
    return list(waiting.order_by("try_at", "id").values_list("pk", flat=True)[:limit])
