"""The embedded default: a Celery worker and the sweep inside the one process, over the in-memory transport."""

from __future__ import annotations

import logging
import threading
from typing import Any

from django.conf import settings
from django.db import connections

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

    def start(self) -> None:
        self.worker.start()
        self.sweeper.start()

    def stop(self, timeout: float = 20) -> None:
        self.stopping.set()
        self.controller.stop(in_sighandler=False)
        self.worker.join(timeout)
        self.sweeper.join(timeout)

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
