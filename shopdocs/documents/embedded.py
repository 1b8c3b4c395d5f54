"""The embedded default: a Celery worker and the sweep inside the one process, over the in-memory transport.

The first process with a worker on an SQLite file is its only one: it holds a lock beside the file, which the kernel lets
go when the process dies, however it dies. Whoever gets that lock at start knows that a lease still running is a dead
process's, and takes the row over at once instead of waiting until the lease runs out.
"""

from __future__ import annotations

import fcntl
import logging
import threading
from pathlib import Path
from typing import IO, Any

from celery.platforms import EX_OK
from celery.worker import state
from django.conf import settings
from django.db import DatabaseError, connection, connections

log = logging.getLogger(__name__)
_lock = threading.Lock()
_running: EmbeddedWorker | None = None


class EmbeddedWorker:
    """A worker thread and a sweep thread. `start` returns at once; `stop` waits for the work in hand."""

    def __init__(self) -> None:
        from shopdocs.celery import app

        app.set_current()
        # Named here and not through autodiscovery: the first ring may come before the worker has imported it.
        self.controller: Any = app.WorkController(
            pool="solo",
            concurrency=1,
            loglevel="WARNING",
            quiet=True,
            without_heartbeat=True,
            without_mingle=True,
            without_gossip=True,
            hostname="embedded@localhost",
        )
        self.stopping = threading.Event()
        self.worker = threading.Thread(target=self._work, name="embedded-worker", daemon=True)
        self.sweeper = threading.Thread(target=self._sweep, name="embedded-sweep", daemon=True)
        self.alone: IO[str] | None = None

    def start(self) -> None:
        """Takes over what a dead process left, then works and sweeps."""
        if connection.vendor == "sqlite":  # a server database may have workers of which this machine knows nothing
            self.alone = sole_worker(Path(connection.settings_dict["NAME"]))
        if self.alone is not None:
            take_over_from_the_dead()
        self.worker.start()
        self.sweeper.start()

    def stop(self, timeout: float = 20) -> None:
        self.stopping.set()
        if settings.REDIS_URL:
            # Over Redis only the worker's own thread may close its connection: two readers of one socket share one answer,
            # and the second waits for ever. So it is asked to stop, and does so within its next second.
            state.should_stop = EX_OK  # type: ignore[assignment]
            self.worker.join(timeout)
            state.should_stop = None
        else:
            self.controller.stop(in_sighandler=False)
            self.worker.join(timeout)
        self.sweeper.join(timeout)
        if self.alone is not None:
            self.alone.close()

    def _work(self) -> None:
        try:
            self.controller.start()
        finally:
            connections.close_all()

    def _sweep(self) -> None:
        from shopdocs.documents.tasks import sweep

        while True:
            try:
                sweep()
            except Exception:
                log.exception("the sweep failed; it runs again in %s s", settings.SWEEP_SECONDS)
            finally:
                connections.close_all()
            if self.stopping.wait(settings.SWEEP_SECONDS):
                return


def sole_worker(database: Path) -> IO[str] | None:
    """The lock of the only worker on this SQLite file, held until closed; None while another process has it."""
    lock = Path(f"{database}.worker").open("w")  # noqa: SIM115 - held for as long as the worker lives
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        lock.close()
        return None
    return lock


def take_over_from_the_dead() -> None:
    """Makes every row that a dead process holds due now. A database without our tables yet holds none."""
    from shopdocs.documents.models import Document, Letter
    from shopdocs.documents.services import attempts

    try:
        left = attempts.take_over(Document) + attempts.take_over(Letter)
    except DatabaseError as error:
        log.warning("could not look for rows of a dead worker (%s); their leases run out by themselves", error)
        return
    if left:
        log.warning("took over %s from a worker that died", f"{left} row" + "s" * (left > 1))


def start_embedded_worker() -> EmbeddedWorker | None:
    """Starts the worker once per process, where settings ask for it; later calls change nothing."""
    global _running
    if not settings.EMBEDDED_WORKER:
        return None
    with _lock:
        if _running is None:
            _running = EmbeddedWorker()
            _running.start()
    return _running


def stop_embedded_worker() -> None:
    """Stops it after the work in hand; does nothing when it does not run."""
    global _running
    with _lock:
        if _running is not None:
            _running.stop()
            _running = None
