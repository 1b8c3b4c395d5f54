"""Tasks fetch by id, call one service, and end. Ringing twice, or after the work is done, changes nothing."""

from celery import shared_task

from .models import Document, Letter
from .services import attempts, letters, papers
from .services.doorbell import ring


@shared_task(name="documents.draw", acks_late=True, reject_on_worker_lost=True)
def draw_document(document_id: str) -> None:
    papers.draw(document_id)


@shared_task(name="documents.send", acks_late=True, reject_on_worker_lost=True)
def send_letter(letter_id: str) -> None:
    letters.send(letter_id)


@shared_task(name="documents.sweep", ignore_result=True, expires=60)
def sweep() -> int:
    """Rings for every row whose moment has come: what a lost queue or a killed worker left behind."""
    waiting = [(draw_document, row) for row in attempts.due(Document)] + [
        (send_letter, row) for row in attempts.due(Letter)
    ]
    for task, row in waiting:
        ring(task, row)
    return len(waiting)
