"""Letters: written down first, sent once, and kept byte for byte as they went out.

A worker that dies while the mail server holds the message cannot know whether it was taken. Such a letter is
stopped for a person to look at, never sent again by itself: two of the same letter are worse than a late one.
"""

from __future__ import annotations

import smtplib
from email.header import Header
from email.message import Message
from email.utils import formataddr, make_msgid, parseaddr
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.core.validators import validate_email
from django.utils import timezone

from shopdocs.documents.models import Document, Letter, StoredFile
from shopdocs.rest.refusals import Conflict, Refused
from shopdocs.shops.models import Shop, Staff

from . import attempts
from .attempts import Later, Never
from .doorbell import ring_after_commit
from .files import keep_file, read_file


def request_letter(
    *,
    shop: Shop,
    kind: str,
    subject: str,
    to_address: str,
    heading: str,
    body: str,
    documents: list[Document],
    enclosures: list[StoredFile] | None = None,
    to_name: str = "",
    by: Staff | None = None,
) -> Letter:
    """Records a letter with its papers, and files that go along as they came in. It leaves when every paper is drawn."""
    from shopdocs.documents.tasks import send_letter

    try:
        validate_email(to_address)
    except Exception as error:
        raise Refused(
            "email", f"'{to_address[:80]}' is not an e-mail address.", "Correct the address first."
        ) from error
    letter: Letter = Letter.objects.create(
        shop=shop,
        kind=kind,
        subject=subject,
        to_address=to_address,
        to_name=to_name,
        from_name=shop.name,
        reply_to=shop.email,
        heading=heading[:200],
        body=body,
        message_id=make_msgid(domain=urlsplit(settings.PUBLIC_URL).hostname or "localhost"),
        try_at=timezone.now(),
        by=by.user if by else None,
    )
    letter.documents.set(documents)
    letter.enclosures.set(enclosures or [])
    ring_after_commit(send_letter, letter.pk)
    return letter


class Mail(EmailMessage):
    """A message whose subject, where it goes beyond ASCII, begins on the line of its name.

    Folded without regard to the name before it, the first encoded word would not fit there: an empty first line, which
    some readers show as a space.
    """

    def message(self, **given: Any) -> Any:
        """The message for the wire, as Django makes it."""
        made = super().message(**given)
        if not self.subject.isascii():
            del made["Subject"]
            Message.__setitem__(made, "Subject", Header(str(self.subject), "utf-8", header_name="Subject"))
        return made


def message(letter: Letter) -> EmailMessage:
    """The letter as an e-mail; raises Later while one of its papers is not drawn yet."""
    sender = formataddr((letter.from_name, parseaddr(settings.LETTER_FROM)[1]))
    mail = Mail(
        subject=" ".join(letter.heading.split()),
        body=letter.body,
        from_email=sender,
        to=[formataddr((letter.to_name, letter.to_address))],
        reply_to=[letter.reply_to] if letter.reply_to else None,
        headers={"Message-ID": letter.message_id},
    )
    for document in letter.documents.order_by("created_at", "id").select_related("pdf"):
        if document.state == Document.State.STOPPED:
            raise Never(f"its paper {document.number} could not be drawn: {document.problem}")
        if document.pdf is None:
            raise Later(f"its paper {document.number} is not drawn yet")
        mail.attach(f"{document.kind}-{document.number}.pdf", read_file(document.pdf), "application/pdf")
    for number, file in enumerate(letter.enclosures.order_by("created_at", "id"), 1):
        ending = file.media_type.rsplit("/", 1)[-1]
        mail.attach(f"enclosure-{number}.{ending}", read_file(file), file.media_type)
    return mail


def send(letter_id: Any) -> None:
    """Carries out one attempt at sending. Safe to call any number of times."""
    waiting = Letter._default_manager.filter(pk=letter_id).first()
    if waiting is None or waiting.documents.filter(state__in=["waiting", "working"]).exists():
        return  # drawing the last paper rings again
    letter = attempts.claim(Letter, letter_id)
    if letter is None:
        return
    try:
        if letter.handed_over:
            raise Never(
                "a worker was lost while the mail server had this letter: it may have gone out. Ask the receiver."
            )
        data = _hand_over(letter)
    except Never as error:
        attempts.give_up_turn(letter, error, never=True)
    except Exception as error:  # noqa: BLE001 - whatever the mail server or disk says is recorded on the row
        attempts.give_up_turn(letter, error)
    else:
        kept = keep_file(shop=letter.shop, data=data, media_type="message/rfc822")
        attempts.finish(letter, sent_bytes=kept)


def _hand_over(letter: Letter) -> bytes:
    """Gives the message to the mail server and returns its bytes. Later and Never tell the failures apart."""
    mail = message(letter)
    built = mail.message()
    data: bytes = built.as_bytes()
    mail.message = lambda *args, **kwargs: built  # type: ignore[method-assign]
    connection = get_connection()
    connection.open()  # not reached: nothing was handed over, and the attempt may be repeated
    letters: Any = Letter._default_manager
    if not letters.filter(pk=letter.pk, lease=letter.lease).update(handed_over=True):
        connection.close()
        raise Later("another worker has this letter now")  # and what this one records about it counts for nothing
    try:
        connection.send_messages([mail])
    except smtplib.SMTPResponseException as error:
        _refused(letter, error.smtp_code, error)
    except smtplib.SMTPRecipientsRefused as error:
        _refused(letter, max(code for code, _ in error.recipients.values()), error)
    except Exception as error:
        raise Never(
            f"the connection broke while the mail server had this letter ({error}): it may have gone out."
        ) from error
    finally:
        connection.close()
    return data


def _refused(letter: Letter, code: int, error: Exception) -> None:
    """The server answered, so it is certain that it did not take the letter: 4xx is tried again, 5xx is not."""
    letters: Any = Letter._default_manager
    letters.filter(pk=letter.pk, lease=letter.lease).update(handed_over=False)
    raise (Later if 400 <= code < 500 else Never)(str(error)) from error


def try_again(letter: Letter) -> None:
    """A person has looked and asks for another attempt at a stopped letter."""
    from shopdocs.documents.tasks import send_letter

    if letter.state != Letter.State.STOPPED:
        raise Conflict("", f"This letter is {letter.get_state_display()}.", "Only a stopped letter is sent again.")
    Letter.objects.for_shop(letter.shop).filter(pk=letter.pk).update(
        state=Letter.State.WAITING, attempts=0, try_at=timezone.now(), problem="", handed_over=False
    )
    ring_after_commit(send_letter, letter.pk)
