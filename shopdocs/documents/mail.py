"""The embedded default's mail: every letter becomes one .eml file in a folder, as a mail server would get it."""

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend


class FolderBackend(BaseEmailBackend):
    """Writes LETTER_FOLDER/<message id>.eml, complete or not at all."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.folder = Path(settings.LETTER_FOLDER)

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        self.folder.mkdir(parents=True, exist_ok=True)
        for mail in email_messages:
            name = "".join(c if c.isalnum() or c in ".-" else "_" for c in mail.extra_headers["Message-ID"].strip("<>"))
            half = self.folder / f".{name}.{os.getpid()}"
            half.write_bytes(mail.message().as_bytes())
            half.replace(self.folder / f"{name}.eml")
        return len(email_messages)
