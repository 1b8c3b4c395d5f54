"""Reading JSON strictly: no NaN, no infinity, no doubled key, nothing but UTF-8."""

import json
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser
from rest_framework.renderers import JSONRenderer

MAX_DEPTH = 40


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is not a JSON number")


def _no_double(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    seen: dict[str, Any] = {}
    for key, value in pairs:
        if key in seen:
            raise ValueError(f"the key {key!a} stands twice in one object")
        seen[key] = value
    return seen


def _whole(text: str) -> None:
    """Refuses half a character (a lone surrogate): no database keeps it and no answer could quote it."""
    try:
        text.encode()
    except UnicodeEncodeError:
        raise ValueError("a text holds half of a character (a lone surrogate)") from None


def _look_through(value: Any, level: int = 0) -> None:
    """Refuses what is too deep, and texts that are none."""
    if level > MAX_DEPTH:
        raise ValueError(f"more than {MAX_DEPTH} levels deep")
    if isinstance(value, str):
        _whole(value)
    elif isinstance(value, dict):
        for key, inner in value.items():
            _whole(key)
            _look_through(inner, level + 1)
    elif isinstance(value, list):
        for inner in value:
            _look_through(inner, level + 1)


class StrictJSONParser(BaseParser):
    media_type = "application/json"
    renderer_class = JSONRenderer

    def parse(self, stream: IO[bytes], media_type: str | None = None, parser_context: Any = None) -> Any:
        try:
            data = json.loads(stream.read().decode("utf-8"), parse_constant=_no_constant, object_pairs_hook=_no_double)
            _look_through(data)
        except RecursionError:
            raise ParseError("The JSON is nested too deeply.") from None
        except UnicodeDecodeError as error:
            raise ParseError(f"This is not JSON that can be read: byte {error.start} is not UTF-8.") from None
        except ValueError as error:
            raise ParseError(f"This is not JSON that can be read: {error}.") from None
        return data
