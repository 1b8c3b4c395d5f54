"""The demo after a hard death: what a killed process held is taken over at once, and a wait is never silent."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from shopdocs.demo import floor
from shopdocs.documents import embedded

ROOT = Path(__file__).resolve().parents[3]
DIES = """
import os, signal, sys
import django
django.setup()
from django.core.management import call_command
from shopdocs.demo import story, visits
from shopdocs.documents.models import Document
from shopdocs.documents.services import papers
from shopdocs.shops.models import Shop

story.MONTH = visits.MONTH[:1]
call_command("demo", stop=True)

def killed(*args):
    os.kill(os.getpid(), signal.SIGKILL)

papers.draw_sheet = killed
shop = Shop.objects.get(slug="demo")
first = Document.objects.for_shop(shop).first()
again = papers.request_document(
    shop=shop, kind=first.kind, subject=first.subject, number="AGAIN-1", title=first.title, sheet=first.sheet
)
papers.draw(again.pk)
"""


def test_a_demo_killed_between_request_and_drawing_restarts_at_once(tmp_path: Path) -> None:
    places = {
        "VAR_DIR": str(tmp_path / "var"), "DJANGO_SETTINGS_MODULE": "shopdocs.settings",
        "DATABASE_URL": "", "REDIS_URL": "", "STORAGE_URL": "", "EMAIL_URL": "",
        "LEASE_SECONDS": "3600",  # whoever waited for the lease would not be done in this test's 300 s
    }  # fmt: skip
    run: dict[str, Any] = {"cwd": ROOT, "env": {**os.environ, **places}, "capture_output": True, "text": True}
    first = subprocess.run([sys.executable, "-c", DIES], **run, timeout=300)
    assert first.returncode == -signal.SIGKILL, first.stderr[-2000:]
    assert not list((tmp_path / "var/demo/papers").glob("AGAIN-1-*.pdf"))

    second = subprocess.run([sys.executable, "manage.py", "demo", "--stop"], **run, timeout=300)
    assert second.returncode == 0, second.stderr[-2000:]
    (drawn,) = (tmp_path / "var/demo/papers").glob("AGAIN-1-*.pdf")
    assert drawn.read_bytes().startswith(b"%PDF")
    assert "took over 1 row from a worker that died" in second.stderr


def test_a_wait_says_what_for_and_how_long_at_most(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(floor, "SILENCE", 0.05)
    answers = iter([None, None, None, None, None, None, "paper"])
    assert floor.patiently(lambda: next(answers), "one paper", 135) == "paper"
    assert capsys.readouterr().err == "Waiting for one paper: 135 s more at most.\n"
    assert floor.patiently(lambda: "paper", "one paper") == "paper"
    assert capsys.readouterr().err == "", "what comes at once needs no words"


def test_a_second_process_on_the_same_file_takes_nothing_over(tmp_path: Path) -> None:
    """Two can hold a worker on one SQLite file: the second one finds the lock taken, and leases decide."""
    first = embedded.sole_worker(tmp_path / "shop.sqlite3")
    assert first is not None
    assert embedded.sole_worker(tmp_path / "shop.sqlite3") is None
    first.close()
    third = embedded.sole_worker(tmp_path / "shop.sqlite3")
    assert third is not None
    third.close()
