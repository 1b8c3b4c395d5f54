"""What the demo leaves in a folder: the papers and letters as the API gives them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings

from .client import Person
from .floor import V1, patiently
from .progress import Teller, progress

SHOWN = ("repair_order", "estimate", "claim", "invoice")


def everything(person: Person, path: str, **query: Any) -> list[dict[str, Any]]:
    """All rows of a list, page after page."""
    rows: list[dict[str, Any]] = []
    page = 1
    while True:
        answer = person.get(path, page=page, page_size=200, **query)
        rows += answer["results"]
        if not answer["next"]:
            return rows
        page += 1


def all_drawn(person: Person) -> bool:
    waiting = [d for d in everything(person, f"{V1}/documents/") if d["state"] in ("waiting", "working")]
    unsent = [d for d in everything(person, f"{V1}/letters/") if d["state"] in ("waiting", "working")]
    return not waiting and not unsent


def longest_wait() -> float:
    """Seconds after which a row is surely done: a dead worker's lease, the sweep that finds it, and the work itself."""
    return float(settings.LEASE_SECONDS + settings.SWEEP_SECONDS + 45)


def save_papers(person: Person, folder: Path) -> tuple[list[Path], int]:
    """Writes every drawn paper and sent letter; gives the four papers of the main job and the number of letters."""
    patiently(lambda: all_drawn(person), "papers and letters that a worker still has", longest_wait())
    documents, sent = everything(person, f"{V1}/documents/"), everything(person, f"{V1}/letters/")
    with progress(len(documents) + len(sent), "Saving papers and letters") as tell:
        first = _save_documents(person, documents, folder / "papers", tell)
        _save_letters(person, sent, folder / "letters", tell)
    main = folder / "the-main-job"
    main.mkdir(exist_ok=True)
    shown = []
    for kind in SHOWN:
        copy = main / f"{kind.replace('_', '-')}.pdf"
        copy.write_bytes(first[kind].read_bytes())
        shown.append(copy)
    return shown, len(sent)


def _save_documents(person: Person, rows: list[dict[str, Any]], folder: Path, tell: Teller) -> dict[str, Path]:
    """Writes each paper and gives the first of each kind."""
    folder.mkdir(parents=True, exist_ok=True)
    first: dict[str, Path] = {}
    for document in reversed(rows):
        if document["state"] != "done":
            raise RuntimeError(f"{document['title']} was not drawn: {document['problem']}")
        file = folder / f"{document['number']}-{document['kind']}-{document['sheet_sha256'][:6]}.pdf"
        file.write_bytes(person.download(f"{V1}/documents/{document['id']}/pdf/"))
        first.setdefault(document["kind"], file)
        tell(document["title"])
    return first


def _save_letters(person: Person, rows: list[dict[str, Any]], folder: Path, tell: Teller) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for letter in rows:
        (folder / f"{letter['created_at'][:10]}-{letter['kind']}-{letter['id'][:8]}.eml").write_bytes(
            person.download(f"{V1}/letters/{letter['id']}/message/")
        )
        tell(f"letter: {letter['kind']}")
