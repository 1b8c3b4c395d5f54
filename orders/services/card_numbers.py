"""A card number is never kept, not even by mistake in a note. Serial and part numbers are not looked at."""

from __future__ import annotations

from shopdocs.card_numbers import holds_card_number
from shopdocs.rest.refusals import Problem, Refused


def refuse_card_number(field: str, text: str) -> None:
    """Refused naming `field` when the text holds what looks like a card number."""
    refuse_card_numbers(**{field: text})


def refuse_card_numbers(**texts: str | None) -> None:
    """Refused naming every field whose text holds what looks like a card number."""
    problems = [
        Problem(field, "This looks like a card number.", "Leave it out: card numbers are never kept here.")
        for field, text in texts.items()
        if text and holds_card_number(text)
    ]
    if problems:
        raise Refused(problems=problems)
