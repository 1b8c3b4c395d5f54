"""One machine with a finished warranty job, made directly from records."""

from __future__ import annotations

from tests.warranty.scene import distant, finished_job, scene, stepped, two_jobs  # noqa: F401
