"""The demo's database: every migration that is missing, each told as it is done."""

from __future__ import annotations

from typing import Any

from django.core.management import call_command
from django.core.management.commands.migrate import Command as Migrate
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from .progress import Teller, progress


class _Telling(Migrate):
    """Django's own `migrate`, which tells every migration that is done."""

    def __init__(self, tell: Teller) -> None:
        super().__init__()
        self.tell = tell

    def migration_progress_callback(self, action: str, migration: Any = None, fake: bool = False) -> None:
        if action == "apply_success":
            self.tell(f"{migration.app_label} {migration.name}")


def prepare_database() -> None:
    """Brings the database up to date; on a fresh one that takes a while, so every step is told."""
    executor = MigrationExecutor(connection)
    missing = executor.migration_plan(executor.loader.graph.leaf_nodes())
    with progress(len(missing) + 1, "Preparing the database") as tell:
        call_command(_Telling(tell), verbosity=0)
        tell("up to date")
