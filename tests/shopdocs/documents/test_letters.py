"""What a mail server may answer, and what becomes of the letter: failures at once, later, never."""

import smtplib
from collections.abc import Callable
from email import message_from_bytes, policy
from typing import Any

import pytest
from django.core.mail.backends.base import BaseEmailBackend
from django.utils import timezone

from shopdocs.documents.models import Letter
from shopdocs.documents.services import letters
from shopdocs.documents.tasks import send_letter
from shopdocs.rest.refusals import Conflict, Refused


class Server(BaseEmailBackend):
    """A mail server whose behaviour each test says."""

    opens: Callable[[], None] = staticmethod(lambda: None)
    takes: Callable[[], None] = staticmethod(lambda: None)
    taken: list[Any] = []

    def open(self) -> bool:
        type(self).opens()
        return True

    def send_messages(self, email_messages: Any) -> int:
        type(self).takes()
        type(self).taken += email_messages
        return len(email_messages)


def fails(error: Exception) -> Callable[[], None]:
    def raise_it() -> None:
        raise error

    return raise_it


@pytest.fixture(autouse=True)
def server(settings: Any, monkeypatch: pytest.MonkeyPatch) -> type[Server]:
    settings.EMAIL_BACKEND = f"{__name__}.Server" if "." in __name__ else "tests.shopdocs.documents.test_letters.Server"
    monkeypatch.setattr(letters, "get_connection", lambda: Server())
    monkeypatch.setattr(send_letter, "apply_async", lambda *a, **k: None)
    Server.opens = Server.takes = staticmethod(lambda: None)
    Server.taken = []
    return Server


@pytest.fixture
def letter(shop: Any) -> Letter:
    return letters.request_letter(
        shop=shop, kind="note", subject="order:1", to_address="pat@example.org", to_name="Pat, Ms. <x>", heading="Your\npaper",
        body="Hello <b>Pat</b>", documents=[],
    )  # fmt: skip


def after_an_attempt(letter: Letter) -> Letter:
    letters.send(letter.pk)
    letter.refresh_from_db()
    return letter


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("where", "error", "state"),
    [
        ("opens", ConnectionRefusedError("no server"), "waiting"),
        ("opens", TimeoutError("slow"), "waiting"),
        ("takes", smtplib.SMTPDataError(451, b"busy"), "waiting"),
        ("takes", smtplib.SMTPRecipientsRefused({"pat@example.org": (450, b"greylisted")}), "waiting"),
        ("takes", smtplib.SMTPDataError(554, b"spam"), "stopped"),
        ("takes", smtplib.SMTPRecipientsRefused({"pat@example.org": (550, b"unknown")}), "stopped"),
        ("takes", smtplib.SMTPServerDisconnected("lost in the middle"), "stopped"),
    ],
)
def test_a_refusal_is_tried_again_or_not_by_what_is_certain(
    server: Any, letter: Letter, where: str, error: Exception, state: str
) -> None:
    setattr(server, where, staticmethod(fails(error)))
    seen = after_an_attempt(letter)
    assert seen.state == state, seen.problem
    assert seen.problem
    if state == "waiting":
        assert seen.try_at > timezone.now() and not seen.handed_over
    if isinstance(error, smtplib.SMTPServerDisconnected):
        assert "may have gone out" in seen.problem
    setattr(server, where, staticmethod(lambda: None))
    Letter.objects.for_shop(letter.shop).update(try_at=timezone.now())
    assert after_an_attempt(letter).state == ("done" if state == "waiting" else "stopped")


@pytest.mark.django_db(transaction=True)
def test_a_person_may_send_a_stopped_letter_again_but_not_a_sent_one(server: Any, letter: Letter) -> None:
    server.takes = staticmethod(fails(smtplib.SMTPDataError(554, b"spam")))
    assert after_an_attempt(letter).state == "stopped"
    server.takes = staticmethod(lambda: None)
    letters.try_again(letter)
    assert after_an_attempt(letter).state == "done"
    assert len(server.taken) == 1
    with pytest.raises(Conflict):
        letters.try_again(letter)


@pytest.mark.django_db(transaction=True)
def test_typed_text_breaks_no_header(server: Any, letter: Letter) -> None:
    after_an_attempt(letter)
    sent = server.taken[0].message()
    assert sent["Subject"] == "Your paper"
    assert sent["To"] == '"Pat, Ms. <x>" <pat@example.org>'
    assert sent["Reply-To"] == "desk@willow.example"
    assert sent.get_content_type() == "text/plain", "typed text is never markup"


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    "heading",
    [
        "Reclamación de garantía C-1004: Northfell Forestal y Jardín TrailKeeper 2400",
        "Presupuesto E-1001 de Taller Río Seco, versión 2, y lo que la ley pide que se diga antes de empezar",
        "ใบเสนอราคาซ่อมเครื่องตัดหญ้าหมายเลข E-1001",
        "Invoice I-1001 from Willow Street Small Engines, for a chainsaw and a mower, with all that was agreed",
    ],
)
def test_a_subject_begins_on_the_line_of_its_name(server: Any, letter: Letter, heading: str) -> None:
    Letter.objects.for_shop(letter.shop).update(heading=heading)
    after_an_attempt(letter)
    raw = server.taken[0].message().as_bytes()
    lines = raw.split(b"\n\n")[0].split(b"\n")
    assert not [line for line in lines if not line.strip() or line.rstrip() == b"Subject:"]
    assert max(map(len, lines)) <= 998 and raw.count(b"Subject:") == 1
    assert message_from_bytes(raw, policy=policy.default)["Subject"] == heading


@pytest.mark.django_db
def test_an_address_that_is_none_is_refused_before_anything_is_written(shop: Any) -> None:
    with pytest.raises(Refused):
        letters.request_letter(
            shop=shop, kind="note", subject="order:1", to_address="pat", heading="x", body="y", documents=[]
        )
    assert not Letter.objects.for_shop(shop).exists()
