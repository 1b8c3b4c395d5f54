"""Principle 1: the row is the job, the queue a doorbell. Whatever is lost, the sweep rings again."""

import datetime as dt
import os
import subprocess
import sys
from dataclasses import dataclass
from email import message_from_bytes, policy
from pathlib import Path
from typing import Any

import pytest
from django.db import connection, transaction
from django.utils import timezone

from shopdocs.documents import kinds
from shopdocs.documents.models import Document, Letter, StoredFile
from shopdocs.documents.services import attempts, letters, papers
from shopdocs.documents.services.files import FileDamaged, keep_file, read_file
from shopdocs.documents.tasks import draw_document, send_letter, sweep


@dataclass(frozen=True)
class Sketch:
    pdf: bytes
    pages: int = 1
    replaced: tuple[str, ...] = ()


def _draw(sheet: dict[str, Any], pictures: Any) -> Sketch:
    if sheet.get("broken"):
        raise RuntimeError("the sheet cannot be drawn")
    return Sketch(b"%PDF-sketch " + sheet["text"].encode())


@pytest.fixture(autouse=True)
def sketch_kind(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(kinds._KINDS, "sketch", kinds.Kind("sketch", "Sketch", _draw, lambda sheet: ()))


def ask(shop: Any, **sheet: Any) -> Document:
    return papers.request_document(
        shop=shop, kind="sketch", subject="order:1", number="S-1", title="Sketch", sheet={"text": "hello", **sheet}
    )


def write(shop: Any, document: Document, **more: Any) -> Letter:
    return letters.request_letter(
        shop=shop, kind="note", subject="order:1", to_address="pat@example.org", heading="Your paper", body="Here it is.",
        documents=[document], **more,
    )  # fmt: skip


@pytest.mark.django_db(transaction=True)
def test_the_embedded_worker_draws_and_then_sends(shop: Any, worker: Any, eventually: Any, settings: Any) -> None:
    with transaction.atomic():
        document = ask(shop)
        letter = write(shop, document)
    eventually(lambda: Letter.objects.for_shop(shop).filter(state="done").exists())
    document.refresh_from_db()
    letter.refresh_from_db()
    assert document.state == "done" and read_file(document.pdf) == b"%PDF-sketch hello"
    sent = list(Path(settings.LETTER_FOLDER).glob("*.eml"))
    assert len(sent) == 1
    assert sent[0].read_bytes() == read_file(letter.sent_bytes)
    mail = message_from_bytes(sent[0].read_bytes(), policy=policy.default)
    assert mail["Message-ID"] == letter.message_id
    assert [part.get_content() for part in mail.iter_attachments()] == [b"%PDF-sketch hello"]


@pytest.mark.django_db(transaction=True)
def test_nothing_rings_when_the_transaction_fails(shop: Any, worker: Any) -> None:
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        ask(shop)
        raise ZeroDivisionError
    assert not Document.objects.for_shop(shop).exists()


@pytest.mark.django_db(transaction=True)
def test_a_lost_queue_loses_nothing(shop: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    rung: list[str] = []
    monkeypatch.setattr(
        draw_document, "apply_async", lambda *a, **k: (_ for _ in ()).throw(ConnectionError("no queue"))
    )
    document = ask(shop)  # the caller does not notice
    monkeypatch.setattr(draw_document, "apply_async", lambda args, **k: rung.append(args[0]))
    assert sweep() == 1
    assert rung == [str(document.pk)]


@pytest.mark.django_db(transaction=True)
def test_a_lost_bell_of_a_letter_is_rung_again_by_the_sweep(shop: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    rung: list[tuple[str, str]] = []
    for task in (draw_document, send_letter):
        monkeypatch.setattr(task, "apply_async", lambda *a, **k: None)
    document = ask(shop)
    letter = write(shop, document)
    for task in (draw_document, send_letter):
        monkeypatch.setattr(task, "apply_async", lambda args, name=task.name, **k: rung.append((name, args[0])))
    assert sweep() == 2
    assert sorted(rung) == [("documents.draw", str(document.pk)), ("documents.send", str(letter.pk))]


RINGS = """
import sys
{start}
from shopdocs.documents.tasks import draw_document, send_letter, sweep
from shopdocs.documents.services.doorbell import ring
print({{task.app.conf.broker_url for task in (draw_document, send_letter, sweep)}})
if "ring" in sys.argv:
    ring(draw_document, "no-such-row")
"""


@pytest.mark.parametrize(
    "start",
    [
        "import shopdocs.wsgi",
        "import os; os.environ.setdefault('DJANGO_SETTINGS_MODULE', 'shopdocs.settings'); import django; django.setup()",
    ],
    ids=["web", "command"],
)
def test_a_process_of_its_own_rings_at_the_queue_that_the_settings_name(
    start: str, tmp_path: Path, settings: Any, transactional_db: None
) -> None:
    """Here the app is loaded by the tests' own conftest; a web process has nobody else to load it."""
    queue = f"bell-{tmp_path.parent.name}-{tmp_path.name}"
    address = settings.REDIS_URL or "redis://127.0.0.1:1/9"
    variables = {"REDIS_URL": address, "QUEUE_NAME": queue, "VAR_DIR": str(tmp_path), "DATABASE_URL": ""}
    command = [sys.executable, "-c", RINGS.format(start=start), *(["ring"] if settings.REDIS_URL else [])]
    told = subprocess.run(
        command,
        cwd=Path(__file__).parents[1],
        env={**os.environ, **variables},
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert told.returncode == 0, told.stderr[-2000:]
    assert told.stdout.strip() == str({address})
    if settings.REDIS_URL:
        import redis

        bell = redis.Redis.from_url(settings.REDIS_URL)
        assert bell.llen(queue) == 1
        bell.delete(queue)


@pytest.mark.django_db(transaction=True)
def test_two_workers_draw_once_and_a_dead_one_is_replaced(shop: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(draw_document, "apply_async", lambda *a, **k: None)
    document = ask(shop)
    first = attempts.claim(Document, document.pk)
    assert first is not None
    assert attempts.claim(Document, document.pk) is None, "the row is another worker's"
    # The first worker dies here. When its lease has run out, the next one takes over ...
    Document.objects.for_shop(shop).update(try_at=timezone.now() - dt.timedelta(seconds=1))
    assert attempts.due(Document) == [document.pk]
    second = attempts.claim(Document, document.pk)
    assert second is not None and second.lease != first.lease
    # ... and should the first one wake up after all, it records nothing.
    pdf = keep_file(shop=shop, data=b"late", media_type="application/pdf")
    assert attempts.finish(first, pdf=pdf) is False
    assert attempts.finish(second, pdf=pdf) is True
    assert attempts.claim(Document, document.pk) is None, "done is an end"


@pytest.mark.django_db(transaction=True)
def test_a_worker_that_lost_its_turn_sends_nothing(shop: Any, settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(draw_document, "apply_async", lambda *a, **k: None)
    monkeypatch.setattr(send_letter, "apply_async", lambda *a, **k: None)
    document = ask(shop)
    letter = write(shop, document)
    papers.draw(document.pk)
    slow = attempts.claim(Letter, letter.pk)
    assert slow is not None
    assert attempts.take_over(Letter) == 1 and attempts.take_over(Document) == 0
    letters.send(letter.pk)  # another worker has taken it over and sends it
    with pytest.raises(attempts.Later):
        letters._hand_over(slow)
    assert len(list(Path(settings.LETTER_FOLDER).glob("*.eml"))) == 1, "one letter, not two"


@pytest.mark.django_db(transaction=True)
def test_a_paper_that_cannot_be_drawn_stops_and_says_why(
    shop: Any, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.MAX_ATTEMPTS = 2
    monkeypatch.setattr(draw_document, "apply_async", lambda *a, **k: None)
    monkeypatch.setattr(send_letter, "apply_async", lambda *a, **k: None)
    document = ask(shop, broken=True)
    letter = write(shop, document)
    papers.draw(document.pk)
    document.refresh_from_db()
    assert document.state == "waiting" and document.try_at > timezone.now(), "tried again, but not at once"
    papers.draw(document.pk)
    document.refresh_from_db()
    assert document.attempts == 1, "not before its time"
    Document.objects.for_shop(shop).update(try_at=timezone.now())
    papers.draw(document.pk)
    document.refresh_from_db()
    assert document.state == "stopped" and "cannot be drawn" in document.problem
    letters.send(letter.pk)
    letter.refresh_from_db()
    assert letter.state == "stopped" and "could not be drawn" in letter.problem
    assert not StoredFile.objects.for_shop(shop).exists()
    papers.try_again(document)
    document.refresh_from_db()
    assert (document.state, document.attempts) == ("waiting", 0)


@pytest.mark.django_db(transaction=True)
def test_a_letter_is_sent_once_however_often_the_bell_rings(
    shop: Any, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(draw_document, "apply_async", lambda *a, **k: None)
    monkeypatch.setattr(send_letter, "apply_async", lambda *a, **k: None)
    document = ask(shop)
    letter = write(shop, document)
    letters.send(letter.pk)
    letter.refresh_from_db()
    assert letter.attempts == 0, "it waits for its paper without spending an attempt"
    papers.draw(document.pk)
    for _ in range(3):
        letters.send(letter.pk)
    assert len(list(Path(settings.LETTER_FOLDER).glob("*.eml"))) == 1


@pytest.mark.django_db(transaction=True)
def test_a_letter_that_may_have_gone_out_is_never_sent_by_itself_again(
    shop: Any, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(send_letter, "apply_async", lambda *a, **k: None)
    monkeypatch.setattr(draw_document, "apply_async", lambda *a, **k: None)
    document = ask(shop)
    letter = write(shop, document)
    papers.draw(document.pk)
    # A worker was killed after the mail server got the message, before that was recorded.
    Letter.objects.for_shop(shop).update(state="working", handed_over=True, try_at=timezone.now())
    letters.send(letter.pk)
    letter.refresh_from_db()
    assert letter.state == "stopped" and "may have gone out" in letter.problem
    assert not list(Path(settings.LETTER_FOLDER).glob("*.eml"))


@pytest.mark.django_db(transaction=True)
def test_stored_bytes_that_changed_are_noticed(shop: Any) -> None:
    from django.core.files.base import ContentFile
    from django.core.files.storage import default_storage

    file = keep_file(shop=shop, data=b"as it was", media_type="text/plain")
    assert keep_file(shop=shop, data=b"as it was", media_type="text/plain") == file, "the same bytes are kept once"
    default_storage.delete(file.place)
    default_storage.save(file.place, ContentFile(b"as it was not"))
    with pytest.raises(FileDamaged):
        read_file(file)


@pytest.mark.django_db(transaction=True)
def test_the_sqlite_database_of_the_tests_is_a_file_in_wal_mode() -> None:
    if connection.vendor != "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("select current_setting('server_version_num')::int >= 120000")
            assert cursor.fetchone() == (True,)
        return
    with connection.cursor() as cursor:
        cursor.execute("pragma journal_mode")
        assert cursor.fetchone() == ("wal",)
        cursor.execute("pragma busy_timeout")
        assert cursor.fetchone() == (20000,)
    assert connection.transaction_mode == "IMMEDIATE"
    assert "memory" not in connection.settings_dict["NAME"] and Path(connection.settings_dict["NAME"]).is_file()
