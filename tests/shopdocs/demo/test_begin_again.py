"""A month that broke in the middle is begun again beside whatever is there; what goes wrong is named for what it is."""

from __future__ import annotations

import errno
import os
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from shopdocs.demo import papers, serving, story, world
from shopdocs.demo.serving import PortRefused, served
from shopdocs.shops.models import Shop, Staff, User

ROOT = Path(__file__).resolve().parents[3]
BREAKS = """
import django
django.setup()
from django.core.management import call_command
from shopdocs.demo import story, visits

def breaks(floor):
    "The lights go out."
    raise SystemExit("broken off")

story.MONTH = (visits.MONTH[0], (1, breaks)) if {broken} else visits.MONTH[:1]
call_command("demo", stop=True)
"""
COUNTS = (
    "from orders.models import RepairOrder; from shopdocs.shops.models import Staff; "
    "print([(s, RepairOrder.objects.filter(shop__slug=s).count(), Staff.objects.filter(shop__slug=s).count()) "
    "for s in ('real', 'demo', 'demo-2', 'demo-3')])"
)


def test_a_month_broken_in_the_middle_is_begun_again_and_a_real_shop_is_untouched(tmp_path: Path) -> None:
    places = {
        "VAR_DIR": str(tmp_path / "var"), "DJANGO_SETTINGS_MODULE": "shopdocs.settings",
        "DATABASE_URL": "", "REDIS_URL": "", "STORAGE_URL": "", "EMAIL_URL": "",
    }  # fmt: skip

    def run(*arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, *arguments], cwd=ROOT, env={**os.environ, **places}, capture_output=True, text=True,
            timeout=400, stdin=subprocess.DEVNULL,
        )  # fmt: skip

    first = run("-c", BREAKS.format(broken=True))
    assert first.returncode == 1 and "broken off" in first.stderr, first.stderr[-2000:]
    assert "Preparing the database: 1 of " in first.stderr and ": shops 0" in first.stderr
    opened = run("manage.py", "open_shop", "real", "--name", "A Real Shop", "--owner", "anna")
    assert opened.returncode == 0, opened.stderr
    kept = {path: path.read_bytes() for path in (tmp_path / "var/files").rglob("*") if path.is_file()}

    second = run("-c", BREAKS.format(broken=False))
    assert second.returncode == 0, second.stderr[-2000:]
    assert "a new demo shop 'demo-2' opens beside it" in second.stdout and "ottilie-2" in second.stdout
    assert "emove" not in second.stdout + second.stderr
    assert "Saving papers and letters: 1 of " in second.stderr
    assert (tmp_path / "var/demo/the-main-job/claim.pdf").exists()
    assert all(path.read_bytes() == data for path, data in kept.items()) and kept

    third = run("-c", BREAKS.format(broken=False))
    assert third.returncode == 0 and "nothing is played twice" in third.stdout, third.stderr[-2000:]
    assert "ottilie-2" in third.stdout
    counts = run("manage.py", "shell", "-v", "0", "-c", COUNTS).stdout
    assert "[('real', 0, 1), ('demo', 1, 4), ('demo-2', 1, 4), ('demo-3', 0, 0)]" in counts


@pytest.mark.django_db
def test_a_name_that_a_real_shop_uses_is_left_to_it() -> None:
    assert story.free_mark() == "" and story.played_mark() is None
    User.objects.create(username="bram")
    assert story.free_mark() == "-2"
    made = story.open_the_shop("-2")
    assert made.slug == "demo-2"
    assert sorted(Staff.objects.filter(shop=made).values_list("user__username", flat=True)) == sorted(
        f"{member.username}-2" for member in world.PEOPLE
    )
    assert story.free_mark() == "-3" and story.played_mark() is None


@pytest.mark.django_db
def test_the_shop_opens_whole_or_not_at_all() -> None:
    User.objects.create(username="ruth")
    with pytest.raises(Exception, match="username"):
        story.open_the_shop()
    assert not Shop.objects.exists() and list(User.objects.values_list("username", flat=True)) == ["ruth"]


def test_a_taken_port_is_told_as_that_and_other_trouble_is_not(monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        port = holder.getsockname()[1]
        with pytest.raises(PortRefused, match=f"Port {port} is taken"), served(port):
            pass
    with pytest.raises(PortRefused, match="99999 is no port"), served(99999):
        pass

    def full(*args: Any) -> None:
        raise OSError(errno.EMFILE, "Too many open files")

    monkeypatch.setattr(serving, "_Server", full)
    with pytest.raises(OSError, match="Too many open files"), served(0):
        pass


@pytest.mark.django_db(transaction=True)
def test_a_full_disk_is_not_told_as_a_taken_port(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def full(*args: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(story, "played_mark", lambda: "")
    monkeypatch.setattr(story, "visitor", lambda *args: None)
    monkeypatch.setattr(papers, "save_papers", full)
    monkeypatch.setattr("shopdocs.demo.management.commands.demo.start_embedded_worker", lambda: None)
    with pytest.raises(OSError, match="No space left on device"):
        call_command("demo", stop=True, folder=tmp_path / "out")
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(CommandError, match="Choose another with --folder"):
        call_command("demo", stop=True, folder=tmp_path / "file")
