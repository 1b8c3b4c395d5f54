"""What every serializer of ours does: refuse unknown fields, bound every text."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

from django.conf import settings
from django.utils import timezone
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail

from shopdocs.card_numbers import holds_card_number

IDENTIFIERS = frozenset(
    {
        "account", "approval", "campaigns_done", "code", "codes", "component", "components", "condition",
        "emission_family", "estimate_sha256", "includes", "key", "line", "model_name", "needs", "number", "operation",
        "parts", "password", "phone", "phone_number", "plans", "point", "postcode", "serial", "signs", "steps",
        "tax_certificate", "text", "undoes", "username", "with_parts",
    }
)  # fmt: skip
"""Fields for numbers and codes of other kinds (a file of known defects holds part numbers).

Every other typed text is looked at: a card number is never kept, wherever it is written by mistake.
"""
CARD_NUMBER = "This looks like a card number."
NOT_KNOWN = "This field is not known here."
MORE_LINES = "This is one line of text; it holds a line break or control character."
ODD_FIGURE = re.compile(r"[^ -~]|_|^ *\+|[0-9.][eE][-+0-9]")  # digits of other scripts, '1_0', '+1', '1e2'
WRITTEN_OTHERWISE = "A number is written in the digits 0 to 9 alone, without a plus sign, a line under or an exponent."


class Strict(serializers.Serializer[Any]):
    """A serializer for input: a field that it does not know is an error, not ignored; a wrong choice is told the right ones."""

    def get_fields(self) -> dict[str, serializers.Field[Any, Any, Any, Any]]:
        fields: dict[str, serializers.Field[Any, Any, Any, Any]] = super().get_fields()
        for field in fields.values():
            tell_choices(field)
        return fields

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, dict):
            unknown = sorted(set(data) - set(self.fields))
            if unknown:
                raise serializers.ValidationError(
                    {str(name)[:60]: [ErrorDetail(NOT_KNOWN, "unknown_field")] for name in unknown}
                )
            misspelt = {
                name: WRITTEN_OTHERWISE for name, field in self.fields.items() if oddly_written(field, data.get(name))
            }
            if misspelt:
                raise serializers.ValidationError(
                    {name: [ErrorDetail(problem, "digits")] for name, problem in misspelt.items()}
                )
        return super().to_internal_value(data)


def oddly_written(field: Any, value: Any) -> bool:
    """Whether a figure of this field, or of a list or record of figures, is written in a way that only Python would read."""
    child = getattr(field, "child", None)
    if child is not None:
        inside = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
        return any(oddly_written(child, one) for one in inside)
    if not isinstance(field, (serializers.DecimalField, serializers.IntegerField)):
        return False
    return isinstance(value, str) and ODD_FIGURE.search(value) is not None


def tell_choices(field: Any) -> None:
    """Makes a field with a fixed choice, or a list of them, name all of it where it refuses a value."""
    for one in (field, getattr(field, "child", None)):
        if isinstance(one, serializers.ChoiceField):
            known = ", ".join(str(value) for value in one.choices if value != "").replace("{", "{{").replace("}", "}}")
            one.error_messages["invalid_choice"] = f"'{{input!s:.60}}' is none of the values known here: {known}."


class Text(serializers.CharField):
    """Typed text of bounded length, without a card number. A number is not text: DRF would quietly turn 5 into '5'."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", settings.MAX_TEXT_CHARS)
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("invalid")
        text = super().to_internal_value(data)
        if self.told_name() not in IDENTIFIERS and holds_card_number(text):
            raise serializers.ValidationError(CARD_NUMBER, "card_number")
        return text

    def told_name(self) -> str:
        """The name under which the text is sent; that of the list where it is one of several."""
        named = self.field_name or getattr(self.parent, "field_name", "")
        return named or ""


class Line(Text):
    """A single line of text: names, numbers, titles."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 400)
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> str:
        text = super().to_internal_value(data)
        if any(ord(character) < 32 for character in text):
            raise serializers.ValidationError(MORE_LINES)
        return text


class Record(serializers.DictField):
    """A record whose keys another room checks. Every text in it, at any depth, is without a card number."""

    def to_internal_value(self, data: Any) -> Any:
        value = super().to_internal_value(data)
        for key in value:
            if _holds_card_number(value[key], key):
                raise serializers.ValidationError({key[:60]: [ErrorDetail(CARD_NUMBER, "card_number")]})
        return value


def _holds_card_number(value: Any, key: str) -> bool:
    if isinstance(value, dict):
        return any(_holds_card_number(one, str(name)) for name, one in value.items())
    if isinstance(value, list):
        return any(_holds_card_number(one, key) for one in value)
    return isinstance(value, str) and key not in IDENTIFIERS and holds_card_number(value)


class Amount(serializers.DecimalField):
    """Money as a decimal, at most 10 digits before the point. A float's noise is refused by the decimals limit."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_digits", 13)
        kwargs.setdefault("decimal_places", 3)
        kwargs.setdefault("min_value", 0)
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, bool):
            self.fail("invalid")
        return super().to_internal_value(data)


DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


class Day(serializers.DateField):
    """A calendar date, YYYY-MM-DD, between 1900 and 2200."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("input_formats", ["%Y-%m-%d"])
        super().__init__(**kwargs)

    def to_internal_value(self, value: Any) -> dt.date:
        try:
            day: dt.date = super().to_internal_value(value)
        except serializers.ValidationError:
            if isinstance(value, str) and DAY.fullmatch(value):
                raise serializers.ValidationError(f"The calendar has no day {value}.", "no_such_day") from None
            raise
        if not 1900 <= day.year <= 2200:
            raise serializers.ValidationError("The year is outside 1900 to 2200.")
        return day


class Moment(serializers.DateTimeField):
    """An instant, ISO 8601 with its offset from UTC or 'Z'. A bare wall clock is refused: nobody can tell whose it is."""

    def enforce_timezone(self, value: dt.datetime) -> dt.datetime:
        if timezone.is_naive(value):
            raise serializers.ValidationError("The moment says no time zone.", "no_zone")
        return super().enforce_timezone(value)
