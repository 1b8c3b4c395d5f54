"""What papers cannot print of a record, told with the record itself: before its letter goes out, and where the words are typed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from shopdocs.documents.press.unprintable import cannot_print


@extend_schema_field(serializers.ListField(child=serializers.CharField()))
class CannotPrint(serializers.Field[list[str], Any, list[str], Any]):
    """A sentence for each character of a record that papers show as '?'; an empty list where all of it prints.

    `of`: the texts of the record, as `cannot_print` takes them.
    """

    def __init__(self, of: Callable[[Any], Any]) -> None:
        super().__init__(
            read_only=True,
            source="*",
            help_text="Characters that papers cannot print, each with its place: there they show '?'. Empty: all of it prints.",
        )
        self._of = of

    def to_representation(self, value: Any) -> list[str]:
        return cannot_print(self._of(value))


def typed(*names: str) -> CannotPrint:
    """For a record that people fill in: these of its fields."""
    return CannotPrint(lambda record: {name: getattr(record, name) for name in names})


def of_paper() -> CannotPrint:
    """For a record with a paper of its own: what the paper was asked to show; nothing before it is asked for."""
    return CannotPrint(lambda record: record.document.sheet if record.document else None)
