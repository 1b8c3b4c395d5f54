"""Sentences of the framework and of Python's reader of JSON, known again when they come out finished.

Neither keeps what it made a sentence of, so a door that speaks its reader's language finds that out here. A test has every
sentence that the customer's door can come to; one that is reworded by a new release stands there in English and fails.
"""

from __future__ import annotations

import re

from .refusals import Told

WITH_PLACES = (
    "'{input}' is none of the values known here: {known}.",
    "Ensure this field has no more than {max_length} characters.",
    "Ensure this field has no more than {max_length} elements.",
    "Ensure this value is less than or equal to {max_value}.",
    "Ensure this value is greater than or equal to {min_value}.",
    "Ensure that there are no more than {max_digits} digits in total.",
    "Ensure that there are no more than {max_decimal_places} decimal places.",
    "Ensure that there are no more than {max_whole_digits} digits before the decimal point.",
    'Expected a list of items but got type "{input_type}".',
    "Invalid data. Expected a dictionary, but got {datatype}.",
    'Method "{method}" not allowed.',
    'Unsupported media type "{media_type}" in request.',
    "This is not JSON that can be read: {problem}.",
    "{name} is not a JSON number",
    "the key {key} stands twice in one object",
    "more than {levels} levels deep",
    "byte {position} is not UTF-8",
    "{problem}: line {line} column {column} (char {position})",
)
PLAIN = (
    "This field is required.",
    "This field may not be null.",
    "This field may not be blank.",
    "Must be a valid boolean.",
    "Must be a valid UUID.",
    "Not a valid string.",
    "A valid number is required.",
    "String value too large.",
    "Null characters are not allowed.",
    "Could not satisfy the request Accept header.",
    "Expecting value",
    "Expecting property name enclosed in double quotes",
    "Expecting ':' delimiter",
    "Expecting ',' delimiter",
    "Unterminated string starting at",
    "Invalid control character at",
    "Invalid \\escape",
    "Invalid \\uXXXX escape",
    "Extra data",
)
"""Those without a place, which need no finding out: a language says them by their own text."""


def pattern_of(sentence: str) -> re.Pattern[str]:
    """What fits a sentence with anything in its places, each a group by its name."""
    parts = re.split(r"\{(\w+)\}", sentence)
    return re.compile(
        "".join(f"(?P<{part}>.*)" if at % 2 else re.escape(part) for at, part in enumerate(parts)), re.DOTALL
    )


PATTERNS = tuple((sentence, pattern_of(sentence)) for sentence in WITH_PLACES)


def known_again(text: str) -> str:
    """A finished sentence as the `Told` that it was made of; any other as it is."""
    for sentence, pattern in PATTERNS:
        if found := pattern.fullmatch(text):
            places: dict[str, str] = found.groupdict()
            if "problem" in places:
                inner = known_again(places["problem"])
                places["problem"] = inner if isinstance(inner, Told) else Told(inner)
            return Told(sentence, **places)
    return text
