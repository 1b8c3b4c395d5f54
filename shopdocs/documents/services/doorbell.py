"""The doorbell: tells a worker that a row waits. Losing every ring loses nothing, the sweep rings again."""

from __future__ import annotations

import logging
from typing import Any

from django.db import transaction

log = logging.getLogger(__name__)


def ring_after_commit(task: Any, row_id: Any) -> None:
    """Rings once the row is truly there: the one place where anything is enqueued."""
    transaction.on_commit(lambda: ring(task, row_id))


def ring(task: Any, row_id: Any) -> None:
    """Rings now. A queue that does not answer is logged and left to the sweep: the row is the job."""
    try:
        task.apply_async(args=[str(row_id)], retry=False)
    except Exception as error:  # noqa: BLE001 - every broker has its own errors, and none may break the caller
        log.warning("the queue did not take %s %s (%s); the sweep will ring again", task.name, row_id, error)
